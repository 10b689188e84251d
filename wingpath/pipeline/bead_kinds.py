"""What the bead of a part is laid for: skin, ribs, webs along the span, walls of fittings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wingpath.build.bays import Bay
from wingpath.build.bores import Bore
from wingpath.build.slots import Slot
from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats

__all__ = ["BEAD_KINDS", "bead_kinds"]

BEAD_KINDS = ("skin", "ribs", "webs", "fittings")
"""What a move is laid for, by its number. Walls that close a wing before a control surface are skin."""

SKIN, RIBS, WEBS, FITTINGS = range(4)

REACH_BEADS = 0.75
"""A move belongs to a wall when its middle lies within this many beads of it: the bead runs half a bead
beside the wall, and the next one begins a whole bead farther."""

SLIT_NAME = "slit of "
"""How the names of slits begin, which join a bore to the skin."""


def bead_kinds(
    middles_mm: FloatArray,
    *,
    slots: Sequence[Slot],
    bores: Sequence[Bore] = (),
    bays: Sequence[Bay] = (),
    bead_mm: float,
    slot_mm: float,
) -> IntArray:
    """Return what each move is laid for.

    Parameters
    ----------
    middles_mm : ndarray, shape (n, 3)
        Middles of the moves in wing coordinates, z being the height at which their layer was cut [mm].
    slots : sequence of Slot
        Slots and slits of the part.
    bores, bays : sequence
        Fittings of the part.
    bead_mm, slot_mm : float
        Width of the bead and of a slot inside a layer [mm].

    Returns
    -------
    ndarray of int, shape (n,)
        Numbers into :data:`BEAD_KINDS`. Of several slots within reach the nearest counts; a fitting goes
        before all slots.
    """
    middles = frozen_floats(middles_mm, (None, 3), name="middles_mm")
    order = np.argsort(middles[:, 2], kind="stable")
    x, y, z = middles[order].T
    reach = REACH_BEADS * bead_mm
    kinds = np.full(len(x), SKIN)
    nearest = np.full(len(x), 0.5 * slot_mm + reach)
    for slot in slots:
        rows = _between(z, slot.z_mm[0], slot.z_mm[-1])
        away = np.abs(x[rows] - np.interp(z[rows], slot.z_mm, slot.x_mm))
        inner = np.interp(z[rows], slot.z_mm, slot.inner_mm)
        beside = y[rows] < inner + reach if slot.side == "lower" else y[rows] > inner - reach
        on = (away < nearest[rows]) & beside
        nearest[rows] = np.where(on, away, nearest[rows])
        kinds[rows] = np.where(on, _kind_of(slot), kinds[rows])
    for bore in bores:
        rows = _between(z, bore.seed_mm, bore.to_mm)
        on = _round_bore(bore, x[rows], y[rows], z[rows], reach)
        kinds[rows] = np.where(on, FITTINGS, kinds[rows])
    for bay in bays:
        rows = _between(z, *bay.reach_mm)
        on = _in_bay(bay, x[rows], y[rows], z[rows], reach)
        kinds[rows] = np.where(on, FITTINGS, kinds[rows])
    found = np.empty_like(kinds)
    found[order] = kinds
    return found


def _between(z: FloatArray, low: float, high: float) -> slice:
    first, last = np.searchsorted(z, [low, high], side="left")
    return slice(int(first), int(last))


def _kind_of(slot: Slot) -> int:
    if slot.name.startswith(SLIT_NAME):
        return FITTINGS
    return WEBS if slot.run == "web" else RIBS


def _round_bore(bore: Bore, x: FloatArray, y: FloatArray, z: FloatArray, reach: float) -> BoolArray:
    centre = bore.centre_mm(z)
    aside, above = np.abs(x - centre[:, 0]), np.abs(y - centre[:, 1])
    size = bore.radius_at_mm(z)
    if bore.box_mm is None:
        return np.asarray(np.hypot(aside, above) < size + reach)
    wide, high = np.minimum(size, bore.half_width_mm), np.minimum(size, bore.half_height_mm)
    return np.asarray((aside < wide + reach) & (above < high + reach))


def _in_bay(bay: Bay, x: FloatArray, y: FloatArray, z: FloatArray, reach: float) -> BoolArray:
    floor = bay.floor_at_mm(z)
    inside = y < floor + reach if bay.side == "lower" else y > floor - reach
    return np.asarray(inside & (x > bay.fore_mm - reach) & (x < bay.aft_mm + reach))
