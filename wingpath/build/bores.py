"""Bores: printed tubes that a bought tube slides into, each joined to the lower skin by one slit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from wingpath.build.kernel import loft
from wingpath.build.slots import OVERRUN_MM, Slot
from wingpath.build.surfaces import RoundWall, SurfaceNumbers
from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import DesignError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.outline import Section, surface_chains

__all__ = ["SEED_RADIUS_MM", "Bore", "bore_mesh", "bore_slit"]

BORE_SIDES = 96
"""Flats of a bore. They lie outside the circle (tube fits); corners stand out by 0.003 mm at 10 mm."""

SLOWEST_CONE = 0.25
"""A cone widens at least this fast, or a leaning bore would begin far inboard."""

SEED_RADIUS_MM = 0.02
"""Radius with which a bore that begins in mid span starts its cone [mm]."""

SLIT_SAMPLES = 60
"""Samples along a slit: it is straight, so these only keep its facets short."""

SLIT_REACH_MM = 60.0
"""The slit of a bore that begins in mid span is sought this far inboard: thicker than any half section
in the range of chords [mm]."""


@dataclass(frozen=True, eq=False)
class Bore:
    """A round or rectangular hole along a straight axis.

    Parameters
    ----------
    kind : {"tube", "tab", "duct", "pin"}
        What goes into it.
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
    box_mm : tuple of float, optional
        Half width along the chord and half height of a rectangular hole, clearance included; the radius
        is then the larger of the two [mm].
    sprout_mm : float
        Where its slit leaves the skin at the soonest, if it begins in mid span [mm].
    """

    kind: Literal["tube", "tab", "duct", "pin"]
    name: str
    radius_mm: float
    neck_mm: float
    from_mm: float
    to_mm: float
    start: FloatArray
    end: FloatArray
    box_mm: tuple[float, float] | None = None
    sprout_mm: float = -np.inf

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", frozen_floats(self.start, (2,), name="start"))
        object.__setattr__(self, "end", frozen_floats(self.end, (2,), name="end"))

    @cached_property
    def direction(self) -> FloatArray:
        """Unit vector along the axis, outboard, shape (3,)."""
        along = np.array([*(self.end - self.start), self.to_mm - self.from_mm])
        return np.asarray(along / np.linalg.norm(along))

    @property
    def stretch(self) -> float:
        """How much longer than wide its ellipse inside a layer is: 1 over the cosine of its tilt."""
        return float(1.0 / self.direction[2])

    @property
    def half_width_mm(self) -> float:
        """Half its size along the chord inside a layer [mm]."""
        half = self.radius_mm if self.box_mm is None else self.box_mm[0]
        return half * self.stretch

    @property
    def half_height_mm(self) -> float:
        """Half its size across the chord inside a layer [mm]."""
        half = self.radius_mm if self.box_mm is None else self.box_mm[1]
        return half * self.stretch

    @property
    def size_text(self) -> str:
        """Its size in words for messages."""
        if self.box_mm is None:
            return f"{2 * self.radius_mm:.2f} mm"
        return f"{2 * self.box_mm[0]:.2f} x {2 * self.box_mm[1]:.2f} mm"

    @property
    def stages_mm(self) -> tuple[float, ...]:
        """Sizes at which a hole that begins in mid span changes how it grows, up to its full one [mm]."""
        return (self.radius_mm,) if self.box_mm is None else tuple(sorted(set(self.box_mm)))

    @property
    def seed_mm(self) -> float:
        """Where its cone begins: one radius before its full width [mm]."""
        return self.from_mm - self.radius_mm * self.stretch / self.rate

    @property
    def rate(self) -> float:
        """How fast the cone widens with height: what the lean of its axis leaves of 45 degrees."""
        lean = float(np.hypot(self.direction[0], self.direction[1]) / self.direction[2])
        return max(SLOWEST_CONE, 1.0 - lean)

    def centre_mm(self, z_mm: FloatArray | float) -> FloatArray:
        """Return the axis at `z_mm`, shape (..., 2) [mm]."""
        share = (np.asarray(z_mm, float) - self.from_mm) / (self.to_mm - self.from_mm)
        return np.asarray(self.start + share[..., None] * (self.end - self.start))

    def x_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return x of the axis at places along the span [mm]."""
        return np.asarray(self.centre_mm(z_mm)[..., 0])

    def slit_x_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return x of its slit along the span: under its lowest point inside each layer [mm].

        That lies a little beside the axis where a round hole leans both aft and up. A slit under the axis
        would cut a splinter off there when the floor of a bay passes.
        """
        if self.box_mm is not None:
            return self.x_mm(z_mm)
        ring = self.ring(self.radius_mm)
        aside = float(ring[np.argmin(ring[:, 1]), 0])
        full = self.radius_mm * self.stretch
        grown = np.clip((np.asarray(z_mm) - self.seed_mm) * self.rate / full, 0.0, 1.0)
        return self.x_mm(z_mm) + aside * grown

    def radius_at_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return the greatest half width inside the layer at `z_mm`; 0 where there is no bore [mm]."""
        full = self.radius_mm * self.stretch
        grown = np.clip((z_mm - self.seed_mm) * self.rate, 0.0, full)
        return np.where((z_mm >= self.seed_mm) & (z_mm <= self.to_mm), grown, 0.0)

    def limit_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot must not pass: one neck under the bore; infinite beside it [mm]."""
        away = self._away_mm(x_mm, z_mm)
        return np.where(np.isnan(away), np.inf, self.centre_mm(z_mm)[..., 1] - away)

    def roof_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot from above must stay above: one neck over it; minus infinite beside it [mm]."""
        away = self._away_mm(x_mm, z_mm)
        return np.where(np.isnan(away), -np.inf, self.centre_mm(z_mm)[..., 1] + away)

    def _away_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Return how far from the axis slots stay, up or down; NaN beside the bore and its neck [mm]."""
        size = self.radius_at_mm(z_mm)
        there = size > 0.0
        aside = np.abs(x_mm - self.centre_mm(z_mm)[..., 0])
        if self.box_mm is None:
            reach = np.where(there, size + self.neck_mm, 0.0)
            away = np.sqrt(np.maximum(reach**2 - aside**2, 0.0))
        else:
            reach = np.where(there, np.minimum(size, self.half_width_mm) + self.neck_mm, 0.0)
            away = np.minimum(size, self.half_height_mm) + self.neck_mm
        return np.where(aside < reach, away, np.nan)

    def ring(self, radius_mm: float) -> FloatArray:
        """Return the section inside a layer about the axis, shape (k, 2), counter-clockwise [mm].

        The outline lies square to the axis; each of its points is moved along the axis into the layer.
        `radius_mm` below the full radius gives the section of the beginning cone.
        """
        axis = self.direction
        first = np.cross([0.0, 1.0, 0.0], axis)
        first /= np.linalg.norm(first)
        second = np.cross(axis, first)
        if self.box_mm is not None:
            wide, high = (min(half, radius_mm) for half in self.box_mm)
            across = np.array([-wide, wide, wide, -wide])[:, None] * first
            corners = across + np.array([-high, -high, high, high])[:, None] * second
            return np.asarray((corners - corners[:, 2:] / axis[2] * axis)[:, :2])
        angle = np.linspace(0.0, 2.0 * np.pi, BORE_SIDES, endpoint=False)
        outside = radius_mm / np.cos(np.pi / BORE_SIDES)
        circle = outside * (np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second)
        return np.asarray((circle - circle[:, 2:] / axis[2] * axis)[:, :2])


def bore_mesh(bore: Bore, *, start_mm: float, end_mm: float, numbers: SurfaceNumbers) -> Mesh | None:
    """Return the hole of a bore inside the panel from `start_mm` to `end_mm`; None outside it."""
    if bore.to_mm <= start_mm or bore.seed_mm >= end_mm:
        return None
    first = max(bore.seed_mm, start_mm - OVERRUN_MM)
    last = bore.to_mm if bore.to_mm < end_mm else end_mm + OVERRUN_MM
    if start_mm <= 0.0 and bore.from_mm <= 0.0:
        # on the bed nothing has to grow
        heights, sizes = [start_mm - OVERRUN_MM, last], [bore.radius_mm] * 2
    else:
        stages = [bore.seed_mm + size * bore.stretch / bore.rate for size in bore.stages_mm]
        heights = [first, *(z for z in stages if first < z < last), last]
        sizes = [
            float(np.clip((z - bore.seed_mm) * bore.rate / bore.stretch, SEED_RADIUS_MM, bore.radius_mm))
            for z in heights
        ]
    rings = np.stack([bore.centre_mm(z) + bore.ring(size) for z, size in zip(heights, sizes, strict=True)])
    flats = rings.shape[1]
    sides = np.empty((len(heights) - 1, flats), dtype=np.int64)
    for row in range(len(sides)):
        kind = "wall" if sizes[row] >= bore.radius_mm else f"cone {row}"
        if bore.box_mm is None:
            sides[row] = numbers.new(f"{bore.name} {kind}", _wall(bore, heights, sizes, row))
        else:
            sides[row] = [numbers.new(f"{bore.name} {kind} {flat}") for flat in range(flats)]
    bottom, top = numbers.new(f"{bore.name} start"), numbers.new(f"{bore.name} end")
    return loft(rings, np.array(heights), sides=sides, bottom=bottom, top=top, name=bore.name)


def _wall(bore: Bore, heights: list[float], sizes: list[float], row: int) -> RoundWall:
    near, far = (bore.centre_mm(z) for z in heights[row : row + 2])
    return RoundWall(near, far, heights[row], heights[row + 1], sizes[row], sizes[row + 1])


def bore_slit(
    bore: Bore,
    section: Section,
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
        skins = [surface_chains(section(float(at))) for at in growing]
        place = bore.x_mm(growing)
        under = np.array([np.interp(x, *low.T) for x, (low, _) in zip(place, skins, strict=True)])
        over = np.array([np.interp(x, *high.T) for x, (_, high) in zip(place, skins, strict=True)])
        # it begins where the line of growth leaves the skin
        first = int(np.max(np.flatnonzero(height < under), initial=0))
        _refuse_low_skin(bore, growing[first:], (over - height)[first:])
        full = np.linspace(seed, last, SLIT_SAMPLES)
        z = np.concatenate([growing[first:-1], full])
        top = np.concatenate([height[first:-1], bore.centre_mm(full)[:, 1]])
        trimmed = ((float(z[0]), float(min(seed + bore.radius_mm, last)), "rise where they begin"),)
    if z[0] <= start_mm:
        z, top = np.concatenate([[start_mm - OVERRUN_MM], z]), np.concatenate([[top[0]], top])
    if bore.to_mm >= end_mm:
        z, top = np.concatenate([z, [end_mm + OVERRUN_MM]]), np.concatenate([top, [top[-1]]])
    return Slot(f"slit of {bore.name}", "web", z, bore.slit_x_mm(z), top, trimmed)


def _refuse_low_skin(bore: Bore, z_mm: FloatArray, room_mm: FloatArray) -> None:
    """Raise when the slit that grows towards a bore comes too close to the upper skin."""
    worst = int(np.argmin(room_mm))
    if room_mm[worst] >= bore.neck_mm:
        return
    raise DesignError(
        (bore.name, f"the section at span {z_mm[worst]:.1f} mm"),
        f"the slit that grows up to its bore before span {bore.from_mm:.0f} mm comes too close to the upper "
        f"skin there: it needs {bore.neck_mm:.2f} mm and has "
        f"{max(room_mm[worst], 0.0):.2f} mm",
        "Begin it elsewhere along the span, let it lean less, or move it to where the section is thicker",
    )
