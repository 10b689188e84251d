"""Bores: printed tubes that a bought tube slides into, each joined to the lower skin by one slit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from wingpath.build.kernel import loft
from wingpath.build.slots import OVERRUN_MM, Slot
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import DesignError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.outline import surface_chains
from wingpath.model.ribs import RibPlane
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing

__all__ = ["Bore", "bore_mesh", "bore_slit", "bores_from_spec", "refuse_close_bores"]

BORE_SIDES = 96
"""Flats of a bore. They lie outside the circle (tube fits); corners stand out by 0.003 mm at 10 mm."""

SEED_RADIUS_MM = 0.02
"""Radius with which a bore that begins in mid span starts its cone [mm]."""

CHECK_STEP_MM = 2.0
"""Walls of a bore are checked at this distance along the span [mm]."""

SLIT_SAMPLES = 60
"""Samples along a slit: it is straight, so these only keep its facets short."""

SLIT_REACH_MM = 60.0
"""The slit of a bore that begins in mid span is sought this far inboard: thicker than any half section
in the range of chords [mm]."""

LEAST_SLIT_GAP_BEADS = 2.0
"""A web beside a slit needs two beads between them, as two webs do."""

LONGEST_CROSSING_MM = 6.0
"""A web may cross a slit if they are closer than that over no more than this stretch of span [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Bore:
    """A round hole along a straight axis.

    Parameters
    ----------
    name : str
        Key path, for example ``tube[0]``.
    radius_mm : float
        Radius square to the axis, clearance included [mm].
    neck_mm : float
        Solid to keep round it [mm].
    from_mm, to_mm : float
        Span over which it has its full radius [mm].
    start, end : ndarray, shape (2,)
        Its axis at both ends (x, y) [mm].
    """

    name: str
    radius_mm: float
    neck_mm: float
    from_mm: float
    to_mm: float
    start: FloatArray
    end: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", frozen_floats(self.start, (2,), name="start"))
        object.__setattr__(self, "end", frozen_floats(self.end, (2,), name="end"))

    @property
    def direction(self) -> FloatArray:
        """Unit vector along the axis, outboard, shape (3,)."""
        along = np.array([*(self.end - self.start), self.to_mm - self.from_mm])
        return np.asarray(along / np.linalg.norm(along))

    @property
    def stretch(self) -> float:
        """How much longer than wide its ellipse inside a layer is: 1 over the cosine of its tilt."""
        return float(1.0 / self.direction[2])

    @property
    def seed_mm(self) -> float:
        """Where its cone begins: one radius before its full width [mm]."""
        return self.from_mm - self.radius_mm * self.stretch

    def centre_mm(self, z_mm: FloatArray | float) -> FloatArray:
        """Return the axis at `z_mm`, shape (..., 2) [mm]."""
        share = (np.asarray(z_mm, float) - self.from_mm) / (self.to_mm - self.from_mm)
        return np.asarray(self.start + share[..., None] * (self.end - self.start))

    def radius_at_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return the greatest half width inside the layer at `z_mm`; 0 where there is no bore [mm]."""
        full = self.radius_mm * self.stretch
        grown = np.clip(z_mm - self.seed_mm, 0.0, full)
        return np.where((z_mm >= self.seed_mm) & (z_mm <= self.to_mm), grown, 0.0)

    def limit_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot must not pass: one neck under the bore; infinite beside it [mm]."""
        radius = self.radius_at_mm(z_mm)
        reach = np.where(radius > 0.0, radius + self.neck_mm, 0.0)
        centre = self.centre_mm(z_mm)
        aside = x_mm - centre[..., 0]
        below = centre[..., 1] - np.sqrt(np.maximum(reach**2 - aside**2, 0.0))
        return np.where(np.abs(aside) < reach, below, np.inf)

    def ring(self, radius_mm: float) -> FloatArray:
        """Return the section inside a layer about the axis, shape (BORE_SIDES, 2) [mm].

        The circle lies square to the axis; each of its points is moved along the axis into the layer.
        """
        angle = np.linspace(0.0, 2.0 * np.pi, BORE_SIDES, endpoint=False)
        outside = radius_mm / np.cos(np.pi / BORE_SIDES)
        axis = self.direction
        first = np.cross([0.0, 1.0, 0.0], axis)
        first /= np.linalg.norm(first)
        second = np.cross(axis, first)
        circle = outside * (np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second)
        return np.asarray((circle - circle[:, 2:] / axis[2] * axis)[:, :2])


def bores_from_spec(spec: Spec, wing: Wing, section: Callable[[float], FloatArray]) -> tuple[Bore, ...]:
    """Return the bores of the round tubes of a spec.

    Parameters
    ----------
    spec, wing
        What the maker describes.
    section : callable
        Ring of the whole half wing at a height [mm].

    Raises
    ------
    DesignError
        When a bore does not leave one neck of solid to the skin all along.
    """
    bores = []
    for number, tube in enumerate(spec.tubes):
        fractions = np.array([tube.chord_fraction, tube.end_fraction])
        ends = np.array([tube.from_mm, tube.to_mm])
        x = wing.chord_point_mm(fractions, ends)[:, 0]
        y = _middle_heights(section, x, ends)
        bore = Bore(
            name=f"tube[{number}]",
            radius_mm=0.5 * (tube.outer_mm + tube.clearance_mm),
            neck_mm=spec.neck_mm,
            from_mm=tube.from_mm,
            to_mm=tube.to_mm,
            start=np.array([x[0], y[0]]),
            end=np.array([x[1], y[1]]),
        )
        _refuse_thin_walls(bore, wing, section)
        bores.append(bore)
    return tuple(bores)


def _middle_heights(section: Callable[[float], FloatArray], x: FloatArray, z: FloatArray) -> FloatArray:
    """Heights at both ends of a straight line that keeps as far from both skins as it can.

    Derived here: of all straight lines the one whose least distance to either skin, measured along y,
    is greatest, found as a linear programme in its two end heights and that distance.
    """
    from scipy.optimize import linprog

    stations = np.linspace(z[0], z[1], 25)
    share = (stations - z[0]) / (z[1] - z[0])
    places = x[0] + share * (x[1] - x[0])
    low, high = np.empty(len(stations)), np.empty(len(stations))
    for k, (height, place) in enumerate(zip(stations, places, strict=True)):
        under, over = surface_chains(section(float(height)))
        low[k], high[k] = np.interp(place, *under.T), np.interp(place, *over.T)
    middle = 0.5 * (low + high)
    tilt = middle[0] + share * (middle[-1] - middle[0])
    room = np.minimum(high - tilt, tilt - low)
    if np.all(room >= 0.98 * 0.5 * (high - low)):
        return middle[[0, -1]]
    ones = np.ones(len(stations))
    above = np.column_stack([1 - share, share, ones])
    under_rows = np.column_stack([share - 1, -share, ones])
    best = linprog(
        [0.0, 0.0, -1.0],
        A_ub=np.vstack([above, under_rows]),
        b_ub=np.concatenate([high, -low]),
        bounds=[(None, None)] * 3,
    )
    return np.asarray(best.x, float)[:2]


def _refuse_thin_walls(bore: Bore, wing: Wing, section: Callable[[float], FloatArray]) -> None:
    count = max(3, int(np.ceil((bore.to_mm - bore.from_mm) / CHECK_STEP_MM)))
    heights = np.linspace(bore.from_mm, bore.to_mm, count)
    spare = np.empty(count)
    for k, z in enumerate(heights):
        ring = section(float(z))
        point = shapely.Point(bore.centre_mm(float(z)))
        body = shapely.Polygon(ring) if len(ring) >= 3 else shapely.Polygon()
        distance = body.exterior.distance(point) if body.contains(point) else 0.0
        spare[k] = distance - bore.radius_mm * bore.stretch - bore.neck_mm
    if spare.min() >= 0.0:
        return
    worst = int(np.argmin(spare))
    station = int(np.argmin(np.abs(wing.station_spans_mm - heights[worst])))
    short = -2.0 * float(spare[worst])
    remedy = f"Make it thinner by {short + 0.01:.2f} mm"
    good = np.flatnonzero(spare >= 0.0)
    if len(good) and good[0] == 0:
        until = heights[np.argmax(spare < 0.0) - 1]
        remedy += f", or end it at to_mm = {np.floor(until):.0f}"
    remedy += ", or move it to where the section is thicker"
    raise DesignError(
        (bore.name, f"station[{station}]"),
        f"a bore of {2 * bore.radius_mm:.2f} mm leaves too little wall at span {heights[worst]:.0f} mm: "
        f"it needs {bore.neck_mm:.2f} mm to the skin all round and has "
        f"{max(spare[worst] + bore.neck_mm, 0.0):.2f} mm",
        remedy,
    )


def refuse_close_bores(bores: Sequence[Bore], webs: Sequence[RibPlane], *, bead_mm: float) -> None:
    """Raise when a bore comes too close to another, or a web runs along its slit.

    Raises
    ------
    DesignError
        Naming both.
    """
    for one, other in combinations(bores, 2):
        start = max(one.seed_mm, other.seed_mm, 0.0)
        end = min(one.to_mm, other.to_mm)
        if end <= start:
            continue
        z = np.linspace(start, end, 200)
        aside = np.abs(one.centre_mm(z)[:, 0] - other.centre_mm(z)[:, 0])
        needed = one.radius_mm * one.stretch + other.radius_mm * other.stretch + one.neck_mm
        worst = int(np.argmin(aside))
        if aside[worst] < needed:
            raise DesignError(
                (one.name, other.name),
                f"their bores are {aside[worst]:.1f} mm apart along the chord at span {z[worst]:.0f} mm and "
                f"need {needed:.1f} mm, so that each keeps its own wall and its own slit",
                f"Move one of them by {needed - aside[worst]:.1f} mm along the chord",
            )
    least = LEAST_SLIT_GAP_BEADS * bead_mm
    for bore in bores:
        for web in webs:
            start = max(bore.seed_mm, float(web.knots_z_mm[0]), 0.0)
            end = min(bore.to_mm, float(web.knots_z_mm[-1]))
            if end <= start:
                continue
            z = np.linspace(start, end, 500)
            apart = np.abs(bore.centre_mm(z)[:, 0] - web.x_mm(z))
            close = float((apart < least).mean()) * (end - start)
            if close > LONGEST_CROSSING_MM:
                raise DesignError(
                    (bore.name, web.name),
                    f"the web runs along the slit of the bore, closer than two beads ({least:.2f} mm) "
                    f"over {close:.0f} mm of span, where the bore already makes a web of its own",
                    f"Move the web by {least - apart.min() + 0.05:.2f} mm along the chord, "
                    "or end one where the other begins",
                )


def bore_mesh(bore: Bore, *, start_mm: float, end_mm: float, numbers: SurfaceNumbers) -> Mesh | None:
    """Return the hole of a bore inside the panel from `start_mm` to `end_mm`; None outside it."""
    first = max(bore.seed_mm, start_mm - OVERRUN_MM)
    last = bore.to_mm if bore.to_mm < end_mm else end_mm + OVERRUN_MM
    if bore.to_mm <= start_mm or bore.seed_mm >= end_mm:
        return None
    full = bore.from_mm
    heights = [first, *([full] if first < full < last else []), last]
    grown = [max(SEED_RADIUS_MM, min(bore.radius_mm, (z - bore.seed_mm) / bore.stretch)) for z in heights]
    if start_mm <= 0.0 and bore.from_mm <= 0.0:
        # on the bed nothing has to grow
        heights, grown = [start_mm - OVERRUN_MM, last], [bore.radius_mm] * 2
    rings = np.stack([bore.centre_mm(z) + bore.ring(r) for z, r in zip(heights, grown, strict=True)])
    side = numbers.new(f"{bore.name} wall")
    cone = numbers.new(f"{bore.name} cone")
    sides = np.full((len(heights) - 1, BORE_SIDES), side)
    if len(heights) == 3:
        sides[0] = cone
    bottom, top = numbers.new(f"{bore.name} start"), numbers.new(f"{bore.name} end")
    return loft(rings, np.array(heights), sides=sides, bottom=bottom, top=top, name=bore.name)


def bore_slit(
    bore: Bore,
    section: Callable[[float], FloatArray],
    *,
    start_mm: float,
    end_mm: float,
    rise: float,
) -> Slot | None:
    """Return the slit that joins a bore to the lower skin inside a panel; None outside it.

    On the bed it has its full height at once. A bore that begins in mid span has its slit grow up from
    the skin first, and then opens as a cone from the slit's upper edge.
    """
    seed = bore.seed_mm
    if bore.to_mm <= start_mm or seed >= end_mm:
        return None
    on_bed = seed <= start_mm or (start_mm <= 0.0 and bore.from_mm <= 0.0)
    last = min(bore.to_mm, end_mm)
    trimmed: tuple[tuple[float, float, str], ...] = ()
    if on_bed:
        z = np.linspace(start_mm, last, SLIT_SAMPLES)
        top = bore.centre_mm(z)[:, 1]
    else:
        growing = np.linspace(max(start_mm, seed - SLIT_REACH_MM), seed, SLIT_SAMPLES)
        height = bore.centre_mm(seed)[1] - rise * (seed - growing)
        skin = np.array(
            [_skin_below(section(float(at)), float(bore.centre_mm(float(at))[0])) for at in growing]
        )
        # it begins where the line of growth leaves the skin
        first = int(np.max(np.flatnonzero(height < skin), initial=0))
        full = np.linspace(seed, last, SLIT_SAMPLES)
        z = np.concatenate([growing[first:-1], full])
        top = np.concatenate([height[first:-1], bore.centre_mm(full)[:, 1]])
        trimmed = ((float(z[0]), float(min(seed + bore.radius_mm, last)), "rise where they begin"),)
    if z[0] <= start_mm:
        z, top = np.concatenate([[start_mm - OVERRUN_MM], z]), np.concatenate([[top[0]], top])
    if bore.to_mm >= end_mm:
        z, top = np.concatenate([z, [end_mm + OVERRUN_MM]]), np.concatenate([top, [top[-1]]])
    return Slot(f"slit of {bore.name}", "web", z, bore.centre_mm(z)[:, 0], top, trimmed)


def _skin_below(ring: FloatArray, x_mm: float) -> float:
    under, _ = surface_chains(ring)
    return float(np.interp(x_mm, under[:, 0], under[:, 1]))
