"""Toolpath: one bead from the lead-in to the top of a part, move by move."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wingpath.build.bead import bead_area_mm2
from wingpath.build.brim import Brim
from wingpath.build.loops import Loops
from wingpath.build.path_heights import PathHeights
from wingpath.build.path_rates import PathRates
from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, frozen_ints

__all__ = ["BRIM", "LEAD_IN", "Toolpath", "toolpath_from_loops"]

LEAD_IN, BRIM = -2, -1
"""Numbers of the moves that belong to no layer."""

RISE_BEADS = 1.0
"""A step up is made over the first bead width of a loop, so that the nozzle never stands still."""

SHORTEST_MOVE_MM = 1.5e-3
"""Two points nearer than this are one: written to a micrometre they may be the same place, where the nozzle
would stand still and extrude [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Toolpath:
    """One unbroken run of moves, all of which extrude.

    Parameters
    ----------
    name : str
        The part.
    bead_mm, layer_mm : float
        Bead width and layer height [mm].
    points : ndarray, shape (n + 1, 3)
        Places of the nozzle in the frame of the part, z above the bed [mm].
    layer : ndarray of int, shape (n,)
        Layer of each move, from 0; :data:`BRIM` and :data:`LEAD_IN` before.
    area_mm2 : ndarray, shape (n,)
        Nominal section of the bead on each move, by its height there [mm2].
    flow : ndarray, shape (n,)
        Extruded over nominal volume.
    speed_mm_s : ndarray, shape (n,)
        Wanted speed [mm/s].
    temperature_c : ndarray, shape (k,)
        Temperature of each layer [°C].
    helical_from : int
        First layer on which the nozzle rises all the time; k when there is none.
    length_mm : ndarray, shape (n,)
        Length of each move seen from above [mm]; worked out from the points.
    """

    name: str
    bead_mm: float
    layer_mm: float
    points: FloatArray
    layer: IntArray
    area_mm2: FloatArray
    flow: FloatArray
    speed_mm_s: FloatArray
    temperature_c: FloatArray
    helical_from: int
    length_mm: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        count = len(self.points) - 1
        object.__setattr__(self, "points", frozen_floats(self.points, (count + 1, 3), name="points"))
        object.__setattr__(self, "layer", frozen_ints(self.layer, (count,), name="layer"))
        for name in ("area_mm2", "flow", "speed_mm_s"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))
        temperature = frozen_floats(self.temperature_c, (None,), name="temperature_c")
        object.__setattr__(self, "temperature_c", temperature)
        way = np.diff(self.points[:, :2], axis=0)
        length = frozen_floats(np.hypot(way[:, 0], way[:, 1]), (count,), name="length_mm")
        object.__setattr__(self, "length_mm", length)

    def __len__(self) -> int:
        return len(self.layer)

    @property
    def volume_mm3(self) -> FloatArray:
        """Filament that goes into each move, before it foams, shape (n,) [mm3]."""
        return np.asarray(self.area_mm2 * self.flow * self.length_mm)

    @property
    def of_part(self) -> BoolArray:
        """Which moves are part of what is printed, without brim and lead-in, shape (n,)."""
        return np.asarray(self.layer >= 0)


def toolpath_from_loops(
    name: str,
    loops: Loops,
    heights: PathHeights,
    rates: PathRates,
    *,
    brim: Brim,
    lead: FloatArray,
    bead_mm: float,
    layer_mm: float,
) -> Toolpath:
    """Join the lead-in, the brim and the loops of all layers into one run of moves.

    Parameters
    ----------
    name : str
        The part.
    loops : Loops
        One closed loop a layer.
    heights : PathHeights
        How high the nozzle is along each loop.
    rates : PathRates
        Speed, flow and temperature of each layer.
    brim : Brim
        The spiral before the first loop; it may be empty.
    lead : ndarray, shape (k, 2)
        Points of the straight run before the brim; may be empty [mm].
    bead_mm, layer_mm : float
        Bead width and layer height [mm].

    Notes
    -----
    The nominal section of a bead is :func:`wingpath.build.bead.bead_area_mm2`; where the bead is higher or
    lower than a layer, at both ends of a helix, the section goes with its height.
    """
    area = bead_area_mm2(bead_mm=bead_mm, layer_mm=layer_mm)
    flat, first = _with_rises(loops, heights, RISE_BEADS * bead_mm)
    owner = np.repeat(np.arange(len(loops)), np.diff(first))
    along, length = _along(flat, first, owner)
    share = along / np.maximum(length, SHORTEST_MOVE_MM)[owner]
    z, thick = heights.at(owner, share, rise_share=_rise_share(RISE_BEADS * bead_mm, length))
    before = np.concatenate([lead, brim.points])
    points = np.column_stack([np.concatenate([before, flat]), np.append(np.full(len(before), layer_mm), z)])
    thickness = np.append(np.full(len(before), layer_mm), thick)
    layer = np.concatenate([np.full(len(lead), LEAD_IN), np.full(len(brim.points), BRIM), owner])
    # a move belongs to where it leads; the step from the lead-in to the brim belongs to the lead-in
    of_move = layer[1:].copy()
    of_move[: len(lead)] = LEAD_IN
    section = area * 0.5 * (thickness[1:] + thickness[:-1]) / layer_mm
    moved = np.hypot(np.diff(points[:, 0]), np.diff(points[:, 1])) > SHORTEST_MOVE_MM
    points, of_move, section = points[np.append(True, moved)], of_move[moved], section[moved]
    row = np.maximum(of_move, 0)
    return Toolpath(
        name=name,
        bead_mm=bead_mm,
        layer_mm=layer_mm,
        points=points,
        layer=of_move,
        area_mm2=section,
        flow=np.where(of_move == LEAD_IN, rates.lead_in_flow, rates.flow[row]),
        speed_mm_s=np.where(
            of_move == LEAD_IN,
            rates.lead_in_speed_mm_s,
            np.where(of_move == BRIM, rates.brim_speed_mm_s, rates.speed_mm_s[row]),
        ),
        temperature_c=rates.temperature_c,
        helical_from=heights.helical_from,
    )


def _along(points: FloatArray, first: IntArray, owner: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the length from the start of its loop to every point, and the length of every loop."""
    step = np.append(0.0, np.hypot(np.diff(points[:, 0]), np.diff(points[:, 1])))
    step[first[:-1]] = 0.0
    total = np.cumsum(step)
    base = total[first[:-1]]
    return total - base[owner], total[first[1:] - 1] - base


def _rise_share(rise_mm: float, length: FloatArray) -> FloatArray:
    """Return the share of each loop over which it climbs from the layer below, a quarter at most."""
    return np.minimum(0.25, rise_mm / np.maximum(length, SHORTEST_MOVE_MM))


def _with_rises(loops: Loops, heights: PathHeights, rise_mm: float) -> tuple[FloatArray, IntArray]:
    """Insert the point where a loop that steps up has arrived at its own height."""
    points, first = loops.points, loops.first
    owner = np.repeat(np.arange(len(loops)), np.diff(first))
    along, length = _along(points, first, owner)
    rows = np.flatnonzero(heights.step_mm > 0.0)
    if not len(rows):
        return points, first
    total = np.append(0.0, np.cumsum(length))[:-1]
    wanted = total[rows] + (_rise_share(rise_mm, length) * length)[rows]
    every = total[owner] + along
    after = np.searchsorted(every, wanted, side="left")
    low, high = every[after - 1], every[after]
    part = ((wanted - low) / np.maximum(high - low, SHORTEST_MOVE_MM))[:, None]
    fresh = points[after - 1] + part * (points[after] - points[after - 1])
    added = np.zeros(len(first), np.int64)
    added[1:] = np.cumsum(np.bincount(rows, minlength=len(loops)))
    return np.insert(points, after, fresh, axis=0), first + added
