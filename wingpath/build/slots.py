"""Slots: how high each rib plane is cut, and the thin prism that cuts it.

Inside its own plane a slot is a profile: the height it reaches at each z. It is the lowest of three
lines: the ceiling (one neck under the far skin), the underside of every closed fitting with its neck,
and what the wall below can carry: a rib rises no faster than the overhang limit from the rib or the
skin below it. That last line takes care of every birth in mid-air at once: at a leading or trailing
edge, behind a fitting, at the end of a thin stretch, and where a spar web begins in mid span.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
import shapely

from wingpath.build.ceiling import Ceiling
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, runs_of
from wingpath.geometry.mesh import Mesh
from wingpath.model.ribs import RibPlane

__all__ = ["LEAST_DEPTH_BEADS", "Keepout", "Slot", "slot_mesh", "slots_of_planes"]

LEAST_DEPTH_BEADS = 1.5
"""A slot shallower than this is not worth having: its beads would be part of the skin."""

NOTCH_BEADS = 0.3
"""Where the profile is lower than this it does not cut at all: a scratch in the skin helps nobody."""

PROFILE_TOLERANCE_MM = 0.01
"""A profile may be straightened by this much: a thirtieth of what the neck leaves to spare [mm]."""

SAMPLE_MM = 0.11
"""Distance of profile samples along z [mm]: half a usual layer, as a ceiling may fall steeply to an end, but
no even share of one, or corners of profiles would lie just where layers are cut."""

OVERRUN_MM = 1.0
"""Slots run past both ends of a panel by this much, so that they are cut clean through [mm]."""

LEAST_STRIP_BEADS = 1.1
"""A strip between two slots holds a bead when it is wider than this many beads."""

LONG_CROSSING_MM = 4.0
"""A crossing that takes longer than this leaves a hole instead of a node [mm]: ribs at 45 degrees cross a
web within three millimetres with the widest bead."""

CROWD_REACHES = 2.0
"""Three slots meet at one place when the third passes the crossing of two within this many strips."""

NEAR_Z_MM, NEAR_X_MM = 0.5, 0.3
"""A gap this close to a slot of the design is that slot [mm]: a layer or two, half a bead."""

TRIM_MM = 0.05
"""A profile this much under its ceiling counts as trimmed [mm]."""


class Keepout(Protocol):
    """A closed fitting that slots must stay below."""

    @property
    def name(self) -> str:
        """Key path for messages."""
        ...

    def limit_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot must not pass at points of the planform; infinite where there is none."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """One slot of a panel, over one unbroken stretch of height.

    Parameters
    ----------
    name, run
        Of its rib plane.
    z_mm, x_mm, top_mm : ndarray, shape (k,)
        Trace and profile, straight between the samples [mm].
    trimmed_z_mm : tuple of (float, float, str)
        Stretches of height where it does not reach its ceiling, and why.
    """

    name: str
    run: Literal["aft", "forward", "web"]
    z_mm: FloatArray
    x_mm: FloatArray
    top_mm: FloatArray
    trimmed_z_mm: tuple[tuple[float, float, str], ...] = ()

    def __post_init__(self) -> None:
        for field in ("z_mm", "x_mm", "top_mm"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), (None,), name=field))

    def reason_at(self, x_mm: float, z_mm: float) -> str | None:
        """Return why the slot stops short at a place of the planform; None where it does not."""
        for first, last, why in self.trimmed_z_mm:
            if first - NEAR_Z_MM <= z_mm <= last + NEAR_Z_MM:
                here = float(np.interp(z_mm, self.z_mm, self.x_mm))
                if abs(here - x_mm) < NEAR_X_MM:
                    return why
        return None


def slots_of_planes(
    planes: Sequence[RibPlane],
    ceiling: Ceiling,
    keepouts: Sequence[Keepout],
    *,
    leaders: Sequence[Slot] = (),
    growing: Sequence[Slot] = (),
    start_mm: float,
    end_mm: float,
    bead_mm: float,
    width_mm: float,
    rise: float,
) -> tuple[Slot, ...]:
    """Work out the slots of one panel.

    Parameters
    ----------
    planes : sequence of RibPlane
        Rib and web planes of the wing.
    ceiling : Ceiling
        Of the panel.
    keepouts : sequence of Keepout
        Closed fittings of the panel.
    leaders : sequence of Slot
        Slits of those fittings and walls of cut-outs; a rib makes way for one that runs beside it for
        long.
    growing : sequence of Slot
        Walls that grow sideways from layer to layer; ribs and webs keep clear of them altogether, or the
        wall would jump ahead where the rib leaves it.
    start_mm, end_mm : float
        The panel along the span; at its start everything stands on the bed [mm].
    bead_mm, width_mm : float
        Bead width, slot width along x [mm].
    rise : float
        Steepest growth, height over height of layers: tan of the overhang limit.
    """
    if not planes:
        return ()
    knots = [z for plane in planes for z in plane.knots_z_mm if start_mm < z < end_mm]
    steps = max(2, int(np.ceil((end_mm - start_mm) / SAMPLE_MM)))
    z = np.unique(np.concatenate([np.linspace(start_mm, end_mm, steps + 1), knots]))
    x = np.stack([plane.x_mm(z) for plane in planes])
    heights = np.broadcast_to(z, x.shape)
    sides = [ceiling.at(x + shift, heights) for shift in (-0.5 * width_mm, 0.0, 0.5 * width_mm)]
    top = np.min([side[0] for side in sides], axis=0)
    low = sides[1][1]
    with np.errstate(invalid="ignore"):
        stands = top - low >= LEAST_DEPTH_BEADS * bead_mm
    for row, plane in enumerate(planes):
        if plane.run == "web":
            stands[row] &= (z >= plane.knots_z_mm[0]) & (z <= plane.knots_z_mm[-1])
    reach = width_mm + LEAST_STRIP_BEADS * bead_mm
    webs = [_line(plane.knots_z_mm, plane.knots_x_mm, z) for plane in planes if plane.run == "web"]
    ribs = np.array([plane.run != "web" for plane in planes])
    beside = [*webs, *(_line(leader.z_mm, leader.x_mm, z) for leader in leaders)]
    stands[ribs] &= ~_close_to(beside, x[ribs], z, reach, longest_mm=LONG_CROSSING_MM)
    stands &= ~_crowded([plane.run for plane in planes], x, beside, reach)
    walls = [_line(wall.z_mm, wall.x_mm, z) for wall in growing]
    stands &= ~_close_to(walls, x, z, reach, longest_mm=0.0)
    top, low = np.nan_to_num(top), np.nan_to_num(low)
    limit, owner = _limits(keepouts, x, heights)
    allowed = np.minimum(top, limit)
    grown = _grown(allowed, low, stands, z, rise)
    cut = np.where(grown - low < NOTCH_BEADS * bead_mm, low - NOTCH_BEADS * bead_mm, grown)
    slots: list[Slot] = []
    for row, plane in enumerate(planes):
        for first, last in _stretches(stands[row]):
            part = slice(first, last + 1)
            if last - first < 2 or (cut[row, part] - low[row, part]).max() < LEAST_DEPTH_BEADS * bead_mm:
                continue
            trimmed = _trimmed(
                z[part],
                (top - grown)[row, part] > TRIM_MM,
                (limit < top)[row, part],
                owner[row, part],
                keepouts,
            )
            slots.append(
                _straightened(
                    plane,
                    z[part],
                    cut[row, part],
                    on_bed=first == 0,
                    through=last == len(z) - 1,
                    trimmed=trimmed,
                )
            )
    return tuple(slots)


def _line(knots_z: FloatArray, knots_x: FloatArray, z: FloatArray) -> FloatArray:
    """Trace from above at heights `z`; NaN beyond its ends."""
    inside = (z >= knots_z[0]) & (z <= knots_z[-1])
    return np.where(inside, np.interp(z, knots_z, knots_x), np.nan)


def _close_to(
    lines: Sequence[FloatArray], x: FloatArray, z: FloatArray, reach: float, *, longest_mm: float
) -> BoolArray:
    """Where ribs run beside a line, closer than one bead fits between, for longer than a crossing takes.

    A quick crossing is left alone: the strip between the two is lost for a layer or two and lies on its
    neighbours when it comes back. Along a slow one the rib ends and grows again on the other side.
    """
    close = np.zeros(x.shape, bool)
    for line in lines:
        for row in range(len(x)):
            for first, last in _stretches(np.abs(x[row] - line) < reach):
                if z[last] - z[first] >= longest_mm:
                    close[row, first : last + 1] = True
    return close


def _crowded(runs: Sequence[str], x: FloatArray, lines: Sequence[FloatArray], reach: float) -> BoolArray:
    """Where a forward rib meets an aft one right at a web or a slit: the forward one makes way.

    Two slots that cross leave their outer beads to carry the strip that comes back. Three at one place
    leave too few, so one of them ends below the place and grows again above it.
    """
    crowded = np.zeros(x.shape, bool)
    aft = [row for row, run in enumerate(runs) if run == "aft"]
    for forward in (row for row, run in enumerate(runs) if run == "forward"):
        for other in aft:
            apart = np.abs(x[forward] - x[other])
            node = int(np.argmin(apart))
            if apart[node] > reach:
                continue
            near = [abs(line[node] - x[forward, node]) < CROWD_REACHES * reach for line in lines]
            if any(near):
                crowded[forward] |= apart < 2 * CROWD_REACHES * reach
    return crowded


def _limits(keepouts: Sequence[Keepout], x: FloatArray, z: FloatArray) -> tuple[FloatArray, IntArray]:
    limit = np.full(x.shape, np.inf)
    owner = np.full(x.shape, -1, dtype=np.int64)
    for number, keepout in enumerate(keepouts):
        own = keepout.limit_mm(x, z)
        # a straight line from the last sample beside a fitting to the first one under it would cut
        # the fitting's side, so the step down is taken one sample early
        wide = own.copy()
        free = np.isinf(own)
        wide[:, 1:] = np.where(free[:, 1:], np.minimum(wide[:, 1:], own[:, :-1]), wide[:, 1:])
        wide[:, :-1] = np.where(free[:, :-1], np.minimum(wide[:, :-1], own[:, 1:]), wide[:, :-1])
        owner = np.where(wide < limit, number, owner)
        limit = np.minimum(limit, wide)
    return limit, owner


def _grown(
    allowed: FloatArray,
    low: FloatArray,
    stands: BoolArray,
    z: FloatArray,
    rise: float,
) -> FloatArray:
    """Let each profile rise no faster than the wall below can carry."""
    grown = np.empty_like(allowed)
    grown[:, 0] = allowed[:, 0]
    for k in range(1, len(z)):
        below = np.where(stands[:, k - 1], np.maximum(grown[:, k - 1], low[:, k]), low[:, k])
        grown[:, k] = np.minimum(allowed[:, k], below + rise * (z[k] - z[k - 1]))
    return grown


def _stretches(mask: BoolArray) -> list[tuple[int, int]]:
    """First and last index of every run of True."""
    begins, ends = runs_of(mask)
    return [(a, b - 1) for a, b in zip(begins.tolist(), ends.tolist(), strict=True)]


def _trimmed(
    z: FloatArray,
    short: BoolArray,
    below: BoolArray,
    owner: IntArray,
    keepouts: Sequence[Keepout],
) -> tuple[tuple[float, float, str], ...]:
    stretches = []
    for first, last in _stretches(short):
        owners = {int(o) for o in owner[first : last + 1][below[first : last + 1]] if o >= 0}
        names = ", ".join(keepouts[o].name for o in sorted(owners))
        why = f"pass below {names} or grow back beside it" if names else "rise where they begin"
        stretches.append((float(z[first]), float(z[last]), why))
    return tuple(stretches)


def _straightened(
    plane: RibPlane,
    z: FloatArray,
    top: FloatArray,
    *,
    on_bed: bool,
    through: bool,
    trimmed: tuple[tuple[float, float, str], ...],
) -> Slot:
    """Drop samples that lie on a line, keep the plane's knots, run past the panel's ends."""
    breaks = [0, *(int(np.searchsorted(z, knot)) for knot in plane.knots_z_mm[1:-1]), len(z) - 1]
    bounds = sorted({b for b in breaks if 0 <= b < len(z)})
    keep: list[int] = [bounds[0]]
    for first, last in itertools.pairwise(bounds):
        line = shapely.linestrings(np.column_stack([z[first : last + 1], top[first : last + 1]]))
        kept = shapely.get_coordinates(shapely.simplify(line, PROFILE_TOLERANCE_MM))[1:, 0]
        keep.extend(int(i) for i in np.searchsorted(z, kept))
    zs, tops = z[keep], top[keep]
    if on_bed:
        zs, tops = np.concatenate([[zs[0] - OVERRUN_MM], zs]), np.concatenate([[tops[0]], tops])
    if through:
        zs, tops = np.concatenate([zs, [zs[-1] + OVERRUN_MM]]), np.concatenate([tops, [tops[-1]]])
    return Slot(plane.name, plane.run, zs, plane.x_mm(zs), tops, trimmed)


def slot_mesh(slot: Slot, *, width_mm: float, bottom_mm: float, numbers: SurfaceNumbers) -> Mesh:
    """Return the prism that cuts a slot, from `bottom_mm` (below the wing) up to its profile."""
    count = len(slot.z_mm)
    corners = np.empty((count, 4, 3))
    # fore bottom, aft bottom, aft top, fore top: counter-clockwise seen from the tip
    for place, (side, high) in enumerate(((-1, False), (1, False), (1, True), (-1, True))):
        corners[:, place, 0] = slot.x_mm + side * 0.5 * width_mm
        corners[:, place, 1] = np.maximum(slot.top_mm, bottom_mm + 0.1) if high else bottom_mm
        corners[:, place, 2] = slot.z_mm
    faces: list[tuple[int, ...]] = []
    surfaces: list[int] = []
    slopes = np.diff(slot.x_mm) / np.diff(slot.z_mm)
    walls: dict[tuple[int, float], int] = {}
    for side in range(4):
        ahead = (side + 1) % 4
        for k in range(count - 1):
            a, b = 4 * k + side, 4 * k + ahead
            faces += [(a, b, b + 4), (a, b + 4, a + 4)]
            if side == 2:
                number = numbers.new(f"{slot.name} end {k}")
            else:
                key = (side, round(float(slopes[k]), 9))
                if key not in walls:
                    walls[key] = numbers.new(f"{slot.name} {('floor', 'aft wall', '', 'fore wall')[side]}")
                number = walls[key]
            surfaces += [number, number]
    for ring, order in ((0, ((0, 2, 1), (0, 3, 2))), (count - 1, ((0, 1, 2), (0, 2, 3)))):
        number = numbers.new(f"{slot.name} {'start' if ring == 0 else 'stop'}")
        faces += [tuple(4 * ring + corner for corner in triangle) for triangle in order]
        surfaces += [number, number]
    return Mesh(corners.reshape(-1, 3), np.array(faces), np.array(surfaces), slot.name)
