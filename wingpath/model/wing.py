"""The wing: stations with placed outlines, and the ruled surface between them.

Frame (also the print frame of the left panel): x aft from the root leading edge, y up, z outboard.
The right half wing is the mirror image y -> -y of the print frame.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import DesignError
from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.outline import lower_surface, place_outline, upper_surface
from wingpath.model.spec import Spec

__all__ = ["POINTS_PER_SIDE", "Station", "Wing", "wing_from_spec"]

POINTS_PER_SIDE = 161
"""Points on each surface of an outline: chord error 0.002 mm on a 200 mm chord."""

RINGS_PER_DEG = 8.0
"""Mesh rings for each degree of twist between stations, so that facets follow the ruled surface."""

RINGS_FOR_CHANGE = 12
"""Mesh rings between stations whose sections differ in shape."""


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    """A section of the wing.

    Parameters
    ----------
    span_mm, chord_mm, leading_edge_mm, twist_deg : float
        As in the spec [mm, deg].
    airfoil : str
        Name of the airfoil.
    outline : ndarray, shape (2 n - 1, 2)
        The placed outline with its trailing edge opened [mm].
    """

    span_mm: float
    chord_mm: float
    leading_edge_mm: float
    twist_deg: float
    airfoil: str
    outline: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", frozen_floats(self.outline, (None, 2), name="outline"))

    @property
    def thickness_mm(self) -> float:
        """Greatest distance between equal stations of the upper and lower surface [mm]."""
        gap = upper_surface(self.outline) - lower_surface(self.outline)
        return float(np.hypot(gap[:, 0], gap[:, 1]).max())


@dataclass(frozen=True, slots=True, eq=False)
class Wing:
    """A half wing: two or more stations, root first, joined by ruled surfaces."""

    stations: tuple[Station, ...]
    name: str = "wing"
    _spans: FloatArray = field(init=False, repr=False)
    _outlines: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        # sections are asked for thousands of times
        spans = [station.span_mm for station in self.stations]
        object.__setattr__(self, "_spans", frozen_floats(spans, (None,), name="span_mm"))
        outlines = np.stack([station.outline for station in self.stations])
        object.__setattr__(self, "_outlines", frozen_floats(outlines, outlines.shape, name="outlines"))

    @property
    def semi_span_mm(self) -> float:
        """Span of the half wing [mm]."""
        return self.stations[-1].span_mm

    @property
    def station_spans_mm(self) -> FloatArray:
        """Places of the stations [mm]."""
        return self._spans

    @property
    def area_mm2(self) -> float:
        """Planform area of the half wing, straight between stations [mm2]."""
        return float(np.trapezoid([s.chord_mm for s in self.stations], self.station_spans_mm))

    def loops(self, z_mm: ArrayLike) -> FloatArray:
        """Return the outlines at heights `z_mm`, shape (k, 2 n - 1, 2) [mm].

        Points of equal number on neighbouring stations are joined by straight lines.
        """
        z = np.atleast_1d(np.asarray(z_mm, float))
        spans, outlines = self._spans, self._outlines
        part = np.clip(np.searchsorted(spans, z, side="right") - 1, 0, len(spans) - 2)
        share = ((z - spans[part]) / (spans[part + 1] - spans[part]))[:, None, None]
        blend: FloatArray = outlines[part] * (1.0 - share) + outlines[part + 1] * share
        return blend

    def loop(self, z_mm: float) -> FloatArray:
        """Return the outline at one height, shape (2 n - 1, 2) [mm]: :meth:`loops` without its arrays."""
        spans, outlines = self._spans, self._outlines
        part = min(max(int(spans.searchsorted(z_mm, side="right")) - 1, 0), len(spans) - 2)
        share = float((z_mm - spans[part]) / (spans[part + 1] - spans[part]))
        return np.asarray(outlines[part] * (1.0 - share) + outlines[part + 1] * share)

    def chord_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return the chord at `z_mm` [mm]."""
        chords = [s.chord_mm for s in self.stations]
        return np.asarray(np.interp(np.asarray(z_mm, float), self.station_spans_mm, chords))

    def leading_edge_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return how far aft the leading edge lies at `z_mm`, before the twist [mm]."""
        edges = [s.leading_edge_mm for s in self.stations]
        return np.asarray(np.interp(np.asarray(z_mm, float), self.station_spans_mm, edges))

    def chord_point_mm(self, fraction: ArrayLike, z_mm: ArrayLike) -> FloatArray:
        """Return the point on the chord line at a chord fraction, shape (k, 2) [mm].

        Straight between stations, like every other line of the ruled surface.
        """
        z = np.atleast_1d(np.asarray(z_mm, float))
        share = np.broadcast_to(np.asarray(fraction, float), z.shape)
        chords = np.array([s.chord_mm for s in self.stations])
        twist = np.deg2rad([s.twist_deg for s in self.stations])
        hinge = np.array([s.leading_edge_mm for s in self.stations]) + 0.25 * chords
        spans = self.station_spans_mm
        x = np.interp(z, spans, hinge) + (share - 0.25) * np.interp(z, spans, chords * np.cos(twist))
        y = -(share - 0.25) * np.interp(z, spans, chords * np.sin(twist))
        return np.column_stack([x, y])

    def ring_heights_mm(self, start_mm: float, end_mm: float) -> FloatArray:
        """Return the heights at which the mesh of a stretch of wing needs a ring [mm].

        Both ends, every station between them, and more where twist or a change of airfoil warps the
        surface, so that facets stay close to it.
        """
        heights = {start_mm, end_mm}
        for inner, outer in zip(self.stations, self.stations[1:], strict=False):
            count = 1 + int(np.ceil(RINGS_PER_DEG * abs(outer.twist_deg - inner.twist_deg)))
            if inner.airfoil != outer.airfoil:
                count = max(count, RINGS_FOR_CHANGE)
            rings = np.linspace(inner.span_mm, outer.span_mm, count + 1)
            heights.update(float(z) for z in rings if start_mm < z < end_mm)
        ordered = np.array(sorted(heights))
        # rings closer than this would make needle triangles and say nothing
        keep = np.concatenate([[True], np.diff(ordered) > 1e-3])
        if not keep[-1]:
            keep[-1], keep[-2] = True, False
        return np.asarray(ordered[keep])


def wing_from_spec(spec: Spec, find_airfoil: Callable[[str], Airfoil]) -> Wing:
    """Place the airfoils of a spec at their stations.

    Parameters
    ----------
    spec : Spec
        The validated spec.
    find_airfoil : callable
        Gives the airfoil for a name; the caller decides where airfoils come from.

    Raises
    ------
    DesignError
        When twist turns a section so far that a vertical cut no longer meets it once.
    """
    stations = []
    for number, given in enumerate(spec.stations):
        airfoil = find_airfoil(given.airfoil).sampled(POINTS_PER_SIDE)
        opened = airfoil.with_trailing_edge(spec.trailing_edge_mm / given.chord_mm)
        outline = place_outline(
            opened.loop,
            chord_mm=given.chord_mm,
            leading_edge_mm=given.leading_edge_mm,
            twist_deg=given.twist_deg,
        )
        _refuse_folded(outline, number, given.airfoil, given.chord_mm)
        stations.append(
            Station(
                span_mm=given.span_mm,
                chord_mm=given.chord_mm,
                leading_edge_mm=given.leading_edge_mm,
                twist_deg=given.twist_deg,
                airfoil=given.airfoil,
                outline=outline,
            )
        )
    return Wing(stations=tuple(stations), name=spec.name)


FOLD_SHARE = 0.003
"""How far x may run backwards along a turned surface, in chords: the round of a nose does that much."""


def _refuse_folded(outline: FloatArray, number: int, airfoil: str, chord_mm: float) -> None:
    for surface in (lower_surface(outline), upper_surface(outline)):
        x = surface[np.argmin(surface[:, 0]) :, 0]
        back = float((np.maximum.accumulate(x) - x).max())
        if back > FOLD_SHARE * chord_mm:
            raise DesignError(
                (f"station[{number}].twist_deg", f"station[{number}].airfoil ({airfoil})"),
                f"the turned section doubles back by {back:.1f} mm, so slots that run straight down "
                "would cut it twice",
                "Use less twist there",
            )
