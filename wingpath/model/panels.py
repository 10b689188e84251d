"""Panels: how a half wing is split so that every piece fits the printer."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely

from wingpath.core.arrays import FloatArray
from wingpath.model.profiles import PrinterProfile
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing

__all__ = ["AwkwardPlace", "BedPlace", "PanelRange", "awkward_places", "place_on_bed", "plan_panels"]

JOINT_GRID_MM = 5.0
"""Joints chosen by the program lie on multiples of this, so that a builder can measure them [mm]."""

END_CLEAR_MM = 15.0
"""A joint keeps this far from where a tube or web ends: both are weak places [mm]."""

LEAST_PANEL_MM = 10.0
"""Shortest panel that is worth printing [mm]."""

TURN_STEP_DEG = 1.0
"""Steps in which a footprint is turned on the bed [deg]."""


@dataclass(frozen=True, slots=True)
class PanelRange:
    """One printed piece's stretch of span; panels are counted from 1 at the root."""

    number: int
    start_mm: float
    end_mm: float
    kind: str = "panel"

    @property
    def name(self) -> str:
        """Name used in files and findings."""
        return f"{self.kind}-{self.number}"

    @property
    def height_mm(self) -> float:
        """Height of the print [mm]."""
        return self.end_mm - self.start_mm


@dataclass(frozen=True, slots=True)
class AwkwardPlace:
    """A stretch of span where a joint is better not put, and why."""

    from_mm: float
    to_mm: float
    name: str


@dataclass(frozen=True, slots=True)
class BedPlace:
    """How a footprint lies on the bed.

    Parameters
    ----------
    turn_deg : float
        Turn about the build direction that makes it fit, or that comes closest [deg].
    size_x_mm, size_y_mm : float
        Its size after the turn [mm].
    over_mm : float
        By how much it is too large for the usable bed; 0 when it fits [mm].
    middle_x_mm, middle_y_mm : float
        Middle of the turned footprint, which is put on the middle of the bed [mm].
    """

    turn_deg: float
    size_x_mm: float
    size_y_mm: float
    over_mm: float
    middle_x_mm: float = 0.0
    middle_y_mm: float = 0.0

    def room(self, printer: PrinterProfile) -> FloatArray:
        """Return the corners of the bed inside its margins, in the frame of the part, shape (4, 2) [mm]."""
        half = 0.5 * np.array([printer.usable_x_mm, printer.usable_y_mm])
        corners = half * [[-1, -1], [1, -1], [1, 1], [-1, 1]] + [self.middle_x_mm, self.middle_y_mm]
        turn = np.deg2rad(self.turn_deg)
        cosine, sine = np.cos(turn), np.sin(turn)
        return np.asarray(corners @ np.array([[cosine, -sine], [sine, cosine]]))

    def on_bed(self, points: FloatArray) -> FloatArray:
        """Return points of the part, shape (n, 2), from the middle of the bed [mm]."""
        turn = np.deg2rad(self.turn_deg)
        cosine, sine = np.cos(turn), np.sin(turn)
        rotation = np.array([[cosine, sine], [-sine, cosine]])
        return np.asarray(points @ rotation - [self.middle_x_mm, self.middle_y_mm])


def place_on_bed(points: FloatArray, printer: PrinterProfile, *, from_deg: float = 0.0) -> BedPlace:
    """Turn a footprint on the bed until it fits, the least turn first.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Points of the footprint [mm].
    printer : PrinterProfile
        The printer; its margin stays free all round.
    from_deg : float
        Turn to begin with [deg].
    """
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))
    turns = np.deg2rad(from_deg + np.arange(0.0, 180.0, TURN_STEP_DEG))
    cosine, sine = np.cos(turns)[:, None], np.sin(turns)[:, None]
    x, y = cosine * hull[:, 0] - sine * hull[:, 1], sine * hull[:, 0] + cosine * hull[:, 1]
    wide, deep = np.ptp(x, axis=1), np.ptp(y, axis=1)
    room = (printer.bed_x_mm - 2 * printer.margin_mm, printer.bed_y_mm - 2 * printer.margin_mm)
    over = np.maximum(np.maximum(wide - room[0], deep - room[1]), 0.0)
    best = int(np.argmin(over))
    middle = [0.5 * float(axis[best].min() + axis[best].max()) for axis in (x, y)]
    return BedPlace(
        float(np.rad2deg(turns[best])), float(wide[best]), float(deep[best]), float(over[best]), *middle
    )


def awkward_places(spec: Spec) -> tuple[AwkwardPlace, ...]:
    """Return the stretches of span where a joint would meet a fitting's end or cut a fitting."""
    places = []
    for number, tube in enumerate(spec.tubes):
        for end in (tube.from_mm, tube.to_mm):
            places.append(AwkwardPlace(end - END_CLEAR_MM, end + END_CLEAR_MM, f"tube[{number}]"))
    for number, web in enumerate(spec.spar_webs):
        ends = [web.from_mm] if web.to_mm is None else [web.from_mm, web.to_mm]
        for place in ends:
            places.append(AwkwardPlace(place - END_CLEAR_MM, place + END_CLEAR_MM, f"spar_web[{number}]"))
    for number, tab in enumerate(spec.tabs):
        places.append(AwkwardPlace(-1.0, tab.depth_mm + END_CLEAR_MM, f"tab[{number}]"))
    for number, duct in enumerate(spec.ducts):
        places.append(AwkwardPlace(duct.to_mm - END_CLEAR_MM, duct.to_mm + END_CLEAR_MM, f"duct[{number}]"))
    for kind, bays in (("servo_bay", spec.servo_bays), ("plate_bay", spec.plate_bays)):
        for number, bay in enumerate(bays):
            slope = bay.depth_mm + END_CLEAR_MM
            end = bay.span_mm + bay.length_mm + slope
            places.append(AwkwardPlace(bay.span_mm - slope, end, f"{kind}[{number}]"))
    for number, aileron in enumerate(spec.ailerons):
        places.append(AwkwardPlace(aileron.from_mm - 1.0, aileron.to_mm + 1.0, f"aileron[{number}]"))
    return tuple(place for place in places if place.to_mm > 0.0 and place.from_mm < spec.semi_span_mm)


def plan_panels(
    spec: Spec, wing: Wing, printer: PrinterProfile, *, tip_base_mm: float
) -> tuple[PanelRange, ...]:
    """Split a half wing into panels.

    The joints that the spec gives are taken as they are. Otherwise: the fewest panels that fit, of
    nearly equal length, joints clear of fittings' ends where that is possible.

    Parameters
    ----------
    spec, wing, printer
        What is split, and for which printer.
    tip_base_mm : float
        Where a closed tip begins; no joint is put beyond it [mm].
    """
    if spec.panels.joints_mm is not None:
        return _ranges([0.0, *spec.panels.joints_mm, wing.semi_span_mm])
    span = wing.semi_span_mm

    @cache
    def fits(start: float, end: float) -> bool:
        if end - start > printer.height_mm:
            return False
        heights = [start, *(z for z in wing.station_spans_mm if start < z < end), end]
        points = wing.loops(heights)[:, ::8].reshape(-1, 2)
        return place_on_bed(points, printer).over_mm <= 0.0

    last_joint = min(tip_base_mm, span) - LEAST_PANEL_MM
    grid = [z for z in np.arange(JOINT_GRID_MM, span, JOINT_GRID_MM) if LEAST_PANEL_MM <= z <= last_joint]
    candidates = [0.0, *(float(z) for z in grid), span]
    footprint_fits = all(fits(a, b) for a, b in itertools.pairwise(candidates) if b - a <= printer.height_mm)
    good = fits if footprint_fits else (lambda start, end: end - start <= printer.height_mm)
    joints = _best_joints(candidates, good, awkward_places(spec))
    return _ranges(joints if joints is not None else [0.0, span])


def _ranges(bounds: Sequence[float]) -> tuple[PanelRange, ...]:
    return tuple(
        PanelRange(number, float(a), float(b))
        for number, (a, b) in enumerate(itertools.pairwise(bounds), start=1)
    )


def _best_joints(
    candidates: Sequence[float],
    fits: Callable[[float, float], bool],
    awkward: Sequence[AwkwardPlace],
) -> list[float] | None:
    """Fewest panels first, then joints in good places, then equal lengths."""
    span = candidates[-1]
    reach: list[int] = []
    for index, start in enumerate(candidates):
        low, high = index, len(candidates) - 1
        while low < high:
            middle = (low + high + 1) // 2
            if fits(start, candidates[middle]):
                low = middle
            else:
                high = middle - 1
        reach.append(low)
    count, at = 0, 0
    while at < len(candidates) - 1:
        if reach[at] == at:
            return None
        at, count = reach[at], count + 1
    wanted = span / count
    best: dict[int, tuple[float, list[float]]] = {0: (0.0, [0.0])}
    for _ in range(count):
        following: dict[int, tuple[float, list[float]]] = {}
        for index, (cost, bounds) in best.items():
            for ahead in range(index + 1, reach[index] + 1):
                place = candidates[ahead]
                uneven = ((place - bounds[-1]) / wanted - 1.0) ** 2
                bad = sum(a.from_mm < place < a.to_mm for a in awkward) if place < span else 0
                total = cost + uneven + 10.0 * bad
                if ahead not in following or total < following[ahead][0]:
                    following[ahead] = (total, [*bounds, place])
        best = following
    end = len(candidates) - 1
    return best[end][1] if end in best else None
