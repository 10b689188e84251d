"""How high each rib plane is cut: the profiles of a panel's slots.

A profile is the lowest of three lines: the ceiling (one neck under the far skin), the underside of every
closed fitting with its neck, and what the wall below can carry: a rib rises no faster than the overhang
limit from the rib or the skin below it. That last line takes care of every birth in mid-air at once: at a
leading or trailing edge, behind a fitting, at the end of a thin stretch, and where a spar web begins in mid
span.

With lightening windows ribs and webs are cut from both skins wherever the section is thick enough: both slots
end half a neck from the middle, or one neck from a fitting, and in windows the slots of ribs draw back to
stubs. Where a slot goes depends on the place alone and not on the plane, so two that cross end at the same
height.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import shapely

from wingpath.build.ceiling import Ceiling
from wingpath.build.slot_crossings import (
    LEAST_STRIP_BEADS,
    LONG_CROSSING_MM,
    close_to,
    crowded_at,
    inclusive_runs,
)
from wingpath.build.slots import LEAST_DEPTH_BEADS, OVERRUN_MM, Slot
from wingpath.core.arrays import BoolArray, FloatArray, IntArray
from wingpath.core.tolerances import GEOMETRY_EPS_MM
from wingpath.model.ribs import RibPlane
from wingpath.model.windows import Windows, crossing_distance_mm

__all__ = ["WINDOW_REASON", "Keepout", "slots_of_planes"]

NOTCH_BEADS = 0.3
"""Where the profile is lower than this it does not cut at all: a scratch in the skin helps nobody."""

PROFILE_TOLERANCE_MM = 0.01
"""A profile may be straightened by this much: a thirtieth of what the neck leaves to spare [mm]."""

SAMPLE_MM = 0.11
"""Distance of profile samples along z [mm]: half a usual layer, as a ceiling may fall steeply to an end, but
no even share of one, or corners of profiles would lie just where layers are cut."""

TRIM_MM = 0.05
"""A profile this much under its ceiling counts as trimmed [mm]."""

WINDOW_REASON = "leave a lightening window"
"""Why a slot with a window stops short, as findings say it after "ribs"."""

HANDOVER_REASON = "go over from slots in both skins to one"
"""Why a slot stops half way up where the slot from the other skin has to end."""


class _Named(Protocol):
    @property
    def name(self) -> str:
        """Key path for messages."""
        ...


class Keepout(_Named, Protocol):
    """A fitting that slots must stay below, and those from the upper skin above."""

    def limit_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot must not pass at points of the planform; infinite where there is none."""
        ...

    def roof_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot from the upper skin must stay above; minus infinite where there is none."""
        ...


def slots_of_planes(
    planes: Sequence[RibPlane],
    ceiling: Ceiling,
    keepouts: Sequence[Keepout],
    *,
    leaders: Sequence[Slot] = (),
    slits: Sequence[Slot] = (),
    growing: Sequence[Slot] = (),
    fore_walls: Sequence[Slot] = (),
    aft_walls: Sequence[Slot] = (),
    receding: Sequence[Slot] = (),
    start_mm: float,
    end_mm: float,
    bead_mm: float,
    width_mm: float,
    rise: float,
    crossing_mm: float = np.inf,
    windows: Windows | None = None,
) -> tuple[Slot, ...]:
    """Work out the slots of one panel.

    Parameters
    ----------
    planes : sequence of RibPlane
        Rib and web planes of the wing.
    ceiling : Ceiling
        Of the panel.
    keepouts : sequence of Keepout
        Fittings of the panel.
    leaders : sequence of Slot
        Walls of cut-outs; a rib makes way for one that runs beside it for long.
    slits : sequence of Slot
        Slits of those fittings; ribs make way for them in the same way, and slots from above stay above them.
    growing : sequence of Slot
        Walls that grow sideways from layer to layer; ribs and webs keep clear of them altogether, or the
        wall would jump ahead where the rib leaves it.
    fore_walls, aft_walls : sequence of Slot
        Upright walls of cut-outs that begin, or end, there: with solid before or behind them only. Ribs cross
        them as they please, but not two of them right beside one.
    receding : sequence of Slot
        Upright walls with nothing aft of them that lean aft so fast that a strip between them and a forward
        rib would come back beside every bead below; forward ribs begin clear of them.
    start_mm, end_mm : float
        The panel along the span; at its start everything stands on the bed [mm].
    bead_mm, width_mm : float
        Bead width, slot width along x [mm].
    rise : float
        Steepest growth, height over height of layers: tan of the overhang limit.
    crossing_mm : float
        Widest slot that may cross another [mm]; wider ones make way for each other.
    windows : Windows, optional
        Lightening windows of the ribs; left out: slots come from the lower skin only.
    """
    if not planes:
        return ()
    knots = [z for plane in planes for z in plane.knots_z_mm if start_mm < z < end_mm]
    steps = max(2, int(np.ceil((end_mm - start_mm) / SAMPLE_MM)))
    z = _heights(np.linspace(start_mm, end_mm, steps + 1), knots)
    x = np.stack([plane.x_mm(z) for plane in planes])
    heights = np.broadcast_to(z, x.shape)
    shifts = (-0.5 * width_mm, 0.0, 0.5 * width_mm)
    sides = [ceiling.at(x + shift, heights) for shift in shifts]
    top = np.min([side.top_mm for side in sides], axis=0)
    low, high = sides[1].low_mm, sides[1].high_mm
    with np.errstate(invalid="ignore"):
        stands = top - low >= LEAST_DEPTH_BEADS * bead_mm
    for row, plane in enumerate(planes):
        if plane.run == "web":
            stands[row] &= (z >= plane.knots_z_mm[0]) & (z <= plane.knots_z_mm[-1])
    reach = width_mm + LEAST_STRIP_BEADS * bead_mm
    webs = [_line(plane.knots_z_mm, plane.knots_x_mm, z) for plane in planes if plane.run == "web"]
    ribs = np.array([plane.run != "web" for plane in planes])
    beside = [*webs, *(_line(leader.z_mm, leader.x_mm, z) for leader in (*leaders, *slits))]
    cross = width_mm <= crossing_mm
    longest = LONG_CROSSING_MM if cross else 0.0
    stands[ribs] &= ~close_to(beside, x[ribs], z, reach, longest_mm=longest)
    sided = [(1.0, wall) for wall in fore_walls] + [(-1.0, wall) for wall in aft_walls]
    stands &= ~crowded_at(
        [plane.run for plane in planes],
        x,
        lines=beside,
        walls=[(side, _line(wall.z_mm, wall.x_mm, z)) for side, wall in sided],
        bead_mm=bead_mm,
        width_mm=width_mm,
        everywhere=not cross,
    )
    walls = [_line(wall.z_mm, wall.x_mm, z) for wall in growing]
    stands &= ~close_to(walls, x, z, reach, longest_mm=0.0)
    forward = np.array([plane.run == "forward" for plane in planes])
    walls = [_line(wall.z_mm, wall.x_mm, z) for wall in receding]
    stands[forward] &= ~close_to(walls, x[forward], z, reach, longest_mm=0.0)
    top, low, high = np.nan_to_num(top), np.nan_to_num(low), np.nan_to_num(high)
    limit, owner = _limits([keepout.limit_mm(x, heights) for keepout in keepouts], x.shape)
    goal, allowed = top, np.minimum(top, limit)
    reasons: list[tuple[BoolArray, str]] = []
    slots: list[Slot] = []
    cutter = _Cutter(planes, z, rise=rise, bead_mm=bead_mm)
    neck = np.full(x.shape, ceiling.neck_mm)
    if windows is not None:
        half_neck = 0.5 * ceiling.neck_mm
        middle = 0.5 * (low + high)
        apart = width_mm + ceiling.neck_mm
        places = _Places(ceiling, [_line(wall.z_mm, wall.x_mm, z) for wall in leaders], windows)
        split = places.split(x, heights, apart)
        # a rib by itself may go over at once; beside another the two would meet
        away = np.all([places.split(x + shift, heights, apart) for shift in (-apart, apart)], axis=0)
        both = split & (away | _alone(x, stands, 2.0 * apart))
        depth = windows.depth_mm(crossing_distance_mm(planes, z), np.maximum(middle - half_neck - low, 0.0))
        whole = middle - half_neck
        drawn_back = np.where(split, low + depth, top)
        windowed = (split & (whole - drawn_back > TRIM_MM), WINDOW_REASON)
        roofs = [-keepout.roof_mm(x, heights) for keepout in keepouts]
        roofs += [-_over(slit, x, z, apart) - ceiling.neck_mm for slit in slits]
        floor, under = _limits(roofs, x.shape)
        over = cutter.slots(
            -(middle + half_neck),
            np.minimum(depth - high, floor),
            -high,
            stands & both,
            half_neck * np.ones(x.shape),
            reasons=[windowed],
            owners=(floor < -(middle + half_neck), under, [*keepouts, *slits]),
        )
        slots = [_turned(slot) for slot in over]
        # a stretch too short for a slot from above has none
        met = both & _covered([plane.name for plane in planes], slots, z)
        goal = np.where(met, whole, top)
        neck = np.where(split, half_neck, neck)
        allowed = np.minimum(drawn_back, limit)
        reasons = [windowed, (split & ~met, HANDOVER_REASON)]
    stopped = (limit < goal, owner, keepouts)
    below = cutter.slots(goal, allowed, low, stands, neck, reasons=reasons, owners=stopped)
    return (*below, *slots)


def _line(knots_z: FloatArray, knots_x: FloatArray, z: FloatArray) -> FloatArray:
    """Trace from above at heights `z`; NaN beyond its ends."""
    inside = (z >= knots_z[0]) & (z <= knots_z[-1])
    return np.where(inside, np.interp(z, knots_z, knots_x), np.nan)


def _covered(names: Sequence[str], slots: Sequence[Slot], z: FloatArray) -> BoolArray:
    """Return where planes of these names have one of the slots."""
    covered = np.zeros((len(names), len(z)), bool)
    for slot in slots:
        covered[names.index(slot.name)] |= (z >= slot.z_mm[0]) & (z <= slot.z_mm[-1])
    return covered


def _alone(x: FloatArray, stands: BoolArray, apart: float) -> BoolArray:
    """Return where no other plane stands within a distance."""
    lines = np.where(stands, x, np.inf)
    alone = np.empty(x.shape, bool)
    for row in range(len(x)):
        others = np.abs(np.delete(lines, row, axis=0) - x[row])
        alone[row] = np.all(others >= apart, axis=0)
    return alone


def _over(slit: Slot, x: FloatArray, z: FloatArray, apart: float) -> FloatArray:
    """Height of a slit's end under places that are close to it; minus infinite elsewhere."""
    near = np.abs(x - _line(slit.z_mm, slit.x_mm, z)) < apart
    return np.where(near, np.interp(z, slit.z_mm, slit.inner_mm), -np.inf)


def _heights(evenly: FloatArray, knots: Sequence[float]) -> FloatArray:
    """Return the heights at which profiles are sampled: knots as they are, and others apart from them.

    What is straightened later must not have pieces next to no length: their slope would overflow.
    """
    kept = np.unique(np.asarray(knots, dtype=np.float64))
    kept = kept[np.diff(kept, prepend=-np.inf) > GEOMETRY_EPS_MM]
    if len(kept):
        after = np.searchsorted(kept, evenly)
        apart = np.minimum(
            np.abs(evenly - kept[np.maximum(after - 1, 0)]),
            np.abs(evenly - kept[np.minimum(after, len(kept) - 1)]),
        )
        evenly = evenly[apart > GEOMETRY_EPS_MM]
    return np.union1d(evenly, kept)


def _limits(heights: Sequence[FloatArray], shape: tuple[int, ...]) -> tuple[FloatArray, IntArray]:
    """Return the lowest of a few limits, and the number of the one that it is."""
    limit = np.full(shape, np.inf)
    owner = np.full(shape, -1, dtype=np.int64)
    for number, own in enumerate(heights):
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


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where slots come from both skins."""

    ceiling: Ceiling
    walls: Sequence[FloatArray]
    windows: Windows

    def split(self, x: FloatArray, z: FloatArray, apart: float) -> BoolArray:
        """Return where the section is thick enough and no wall of a cut-out is near."""
        here = self.ceiling.at(x, z)
        with np.errstate(invalid="ignore"):
            free = here.high_mm - here.low_mm >= self.windows.least_thickness_mm(self.ceiling.neck_mm)
            for line in self.walls:
                free &= ~(np.abs(x - line) < apart)
        return np.asarray(free)


@dataclass(frozen=True, slots=True, eq=False)
class _Cutter:
    """Turns profiles into slots; heights may be turned upside down."""

    planes: Sequence[RibPlane]
    z: FloatArray
    rise: float
    bead_mm: float

    def slots(
        self,
        goal: FloatArray,
        allowed: FloatArray,
        low: FloatArray,
        stands: BoolArray,
        neck: FloatArray,
        *,
        reasons: Sequence[tuple[BoolArray, str]],
        owners: tuple[BoolArray, IntArray, Sequence[_Named]] | None = None,
    ) -> list[Slot]:
        """Return a slot for every stretch over which a plane is cut.

        Parameters
        ----------
        goal, allowed, low : ndarray, shape (planes, k)
            Heights that slots would reach if nothing stopped them, that they may reach, of their skin [mm].
        stands : ndarray of bool
            Where there may be slots.
        neck : ndarray
            Solid left where they reach their goal [mm].
        reasons : sequence of (ndarray of bool, str)
            Where something by design keeps them from their goal, and what; the first one counts.
        owners : tuple, optional
            Where a fitting does, the number of the fitting, the fittings.
        """
        z, bead_mm = self.z, self.bead_mm
        grown = _grown(allowed, low, stands, z, self.rise)
        cut = np.where(grown - low < NOTCH_BEADS * bead_mm, low - NOTCH_BEADS * bead_mm, grown)
        short = goal - grown > TRIM_MM
        found: list[Slot] = []
        for row, plane in enumerate(self.planes):
            for first, last in inclusive_runs(stands[row]):
                part = slice(first, last + 1)
                if last - first < 2 or (cut[row, part] - low[row, part]).max() < LEAST_DEPTH_BEADS * bead_mm:
                    continue
                trimmed: list[tuple[float, float, str]] = []
                left = short[row, part].copy()
                for mask, why in reasons:
                    own = left & mask[row, part]
                    trimmed += [(float(z[part][a]), float(z[part][b]), why) for a, b in inclusive_runs(own)]
                    left &= ~own
                trimmed += _stopped(z[part], left, owners, row, part)
                found.append(
                    _straightened(
                        plane,
                        z[part],
                        cut[row, part],
                        neck[row, part],
                        on_bed=first == 0,
                        through=last == len(z) - 1,
                        trimmed=tuple(sorted(trimmed)),
                    )
                )
        return found


def _stopped(
    z: FloatArray,
    short: BoolArray,
    owners: tuple[BoolArray, IntArray, Sequence[_Named]] | None,
    row: int,
    part: slice,
) -> list[tuple[float, float, str]]:
    stretches = []
    for first, last in inclusive_runs(short):
        names = ""
        if owners is not None:
            below, owner, keepouts = owners[0][row, part], owners[1][row, part], owners[2]
            stretch = slice(first, last + 1)
            numbers = {int(o) for o in owner[stretch][below[stretch]] if o >= 0}
            names = ", ".join(keepouts[o].name for o in sorted(numbers))
        why = f"make way for {names} or grow back beside it" if names else "rise where they begin"
        stretches.append((float(z[first]), float(z[last]), why))
    return stretches


def _turned(slot: Slot) -> Slot:
    """Return a slot that was worked out upside down as one from the upper skin."""
    return replace(slot, inner_mm=-slot.inner_mm, side="upper")


def _straightened(
    plane: RibPlane,
    z: FloatArray,
    top: FloatArray,
    neck: FloatArray,
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
    if on_bed:
        keep = [keep[0], *keep]
    if through:
        keep = [*keep, keep[-1]]
    zs = z[keep]
    zs[0] -= OVERRUN_MM if on_bed else 0.0
    zs[-1] += OVERRUN_MM if through else 0.0
    return Slot(plane.name, plane.run, zs, plane.x_mm(zs), top[keep], trimmed, neck_mm=neck[keep])
