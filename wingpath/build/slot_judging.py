"""Slots under judgement: whether their beads fuse, and whether their ribs reach the far skin."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wingpath.build.gaps import GapTable
from wingpath.build.layers import Layers
from wingpath.build.limits import Limits
from wingpath.build.runs import Reporter
from wingpath.core.arrays import BoolArray, FloatArray, IntArray

__all__ = ["judge_slots"]

LOOSE_BEADS = 2.0
"""A slot that ends farther than this from the skin leaves its rib loose: the two beads do not meet it."""

LOOSE_SLACK = 1.02
"""Two per cent for rounding and straightening."""

AGAIN_MM = 1.25
"""Within this height a gap that stays open is measured again [mm]."""

AGAIN_LEAN = 2.5
"""How far aside its inner end may lie then, over the height: a rib at 60 degrees under a sloping skin."""


def judge_slots(
    report: Reporter,
    gaps: GapTable,
    limits: Limits,
    *,
    strict: bool,
    excuse: Callable[[float, float], str | None] | None,
    narrow: Callable[[float, float], bool] | None = None,
) -> FloatArray:
    """Report open slots and loose ribs.

    Parameters
    ----------
    report : Reporter
        Where findings go.
    gaps : GapTable
        The measured gaps of the layers that were looked at.
    limits : Limits
        What they are held against.
    strict : bool
        Whether they are errors or warnings.
    excuse : callable, optional
        Tells for a slot's inner end (x, z) why the design itself stops it there, or None.
    narrow : callable, optional
        Tells whether a slot of the design, narrow enough to fuse, stands at (x, z).

    Returns
    -------
    ndarray, shape (n,)
        Length of open slots on each layer [mm].
    """
    layers = report.layers
    count = len(layers)
    place = np.column_stack([gaps.x_mm, gaps.y_mm])
    wide = _lasting(layers, gaps, ~limits.fuse(gaps.width_mm))
    if narrow is not None:
        for row in np.flatnonzero(wide):
            wide[row] = not narrow(float(gaps.x_mm[row]), float(layers.z_mm[gaps.layer[row]]))
    measured = np.zeros(count)
    np.add.at(measured, gaps.layer[wide], gaps.length_mm[wide])
    # layers between two that were looked at have the shape of the one below
    holder = gaps.probed[np.maximum(np.searchsorted(gaps.probed, np.arange(count), side="right") - 1, 0)]
    open_slot = measured[holder]
    worst, at = _worst_by_layer(count, gaps.layer[wide], gaps.width_mm[wide], place[wide])
    speak = report.error if strict else report.warning
    speak(
        "open-slot",
        open_slot > 0,
        found=worst[holder],
        limit=limits.bond_mm,
        at=at[holder],
        message="the beads beside a slot are {found:.3f} mm apart and do not fuse",
        remedy=f"make slots at most {limits.bond_mm:.3f} mm wide, or print hotter or with more flow",
    )
    limit = LOOSE_BEADS * layers.bead_mm
    loose = np.flatnonzero(np.nan_to_num(gaps.neck_mm) > limit * LOOSE_SLACK)
    # a gap shallower than that is a groove in the skin and no rib
    loose = loose[gaps.length_mm[loose] > limit]
    if excuse is None:
        # nobody tells what a stranger meant, but two slots in line leave a window on purpose
        faced = loose[np.isfinite(gaps.facing_mm[loose])]
        loose = loose[~np.isfinite(gaps.facing_mm[loose])]
        apart, at = _worst_by_layer(count, gaps.layer[faced], gaps.facing_mm[faced], place[faced])
        report.note(
            "rib-window",
            apart[holder] > 0,
            found=apart[holder],
            limit=limit,
            at=at[holder],
            message="slots from both skins end up to {found:.1f} mm apart, as in ribs with windows",
            remedy=f"for a rib without windows let them end at most {limit:.2f} mm apart",
        )
    reasons: dict[str | None, list[int]] = {}
    for row in loose:
        z = float(layers.z_mm[gaps.layer[row]])
        why = excuse(float(gaps.x_mm[row]), z) if excuse is not None else None
        reasons.setdefault(why, []).append(int(row))
    for why, rows in sorted(reasons.items(), key=lambda item: item[0] or ""):
        worst, at = _worst_by_layer(count, gaps.layer[rows], gaps.neck_mm[rows], place[rows])
        if why is None:
            speak(
                "loose-rib",
                worst[holder] > 0,
                found=worst[holder],
                limit=limit,
                at=at[holder],
                message="a slot ends {found:.2f} mm from the nearest skin, so its rib touches nothing",
                remedy=f"let the slot end between {layers.bead_mm:.2f} and {limit:.2f} mm from the skin",
            )
        else:
            report.note(
                "loose-rib",
                worst[holder] > 0,
                found=worst[holder],
                limit=limit,
                at=at[holder],
                message=f"ribs {why} and do not reach the far skin there",
                remedy="intended: ribs rise no faster than the wall below carries them; windows stay open",
            )
    return open_slot


def _lasting(layers: Layers, gaps: GapTable, wide: BoolArray) -> BoolArray:
    """Leave out gaps that are wide for a layer or two only, as where two slots cross.

    The beads above and below hold such a place. Every gap is looked at once a millimetre at least, so
    one that stays wide is seen again, no farther aside than a rib leans.
    """
    rows = np.flatnonzero(wide)
    lasting = wide.copy()
    if len(layers) * layers.layer_mm < 2.0 * AGAIN_MM:
        return lasting
    apart = max(2, int(np.ceil(layers.bead_mm / layers.layer_mm)))
    window = int(np.ceil(AGAIN_MM / layers.layer_mm)) + 1
    number = gaps.layer[rows]
    for row in rows:
        near = rows[
            np.searchsorted(number, gaps.layer[row] - window) : np.searchsorted(
                number, gaps.layer[row] + window, side="right"
            )
        ]
        rise = np.abs(gaps.layer[near] - gaps.layer[row])
        aside = np.hypot(gaps.x_mm[near] - gaps.x_mm[row], gaps.y_mm[near] - gaps.y_mm[row])
        reach = AGAIN_LEAN * rise * layers.layer_mm + layers.bead_mm
        lasting[row] = bool(np.any((rise >= apart) & (aside <= reach)))
    return lasting


def _worst_by_layer(
    count: int, layer: IntArray, value: FloatArray, place: FloatArray
) -> tuple[FloatArray, FloatArray]:
    worst, at = np.zeros(count), np.full((count, 2), np.nan)
    order = np.argsort(value, kind="stable")
    worst[layer[order]] = value[order]
    at[layer[order]] = place[order]
    return worst, at
