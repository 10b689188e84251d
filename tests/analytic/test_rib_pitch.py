"""Ribs whose pitch varies along the span, held against closed forms worked out by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from wingpath.model.ribs import RibPlane, rib_planes
from wingpath.model.spec import Spec, spec_from_dict
from wingpath.model.wing import Wing
from wingpath.pipeline.design import design_wing

Pairs = Sequence[Sequence[float]]

PLACE_MM = 1e-6
"""Closed form against closed form: only rounding lies between them [mm]."""

SPACING_SHARE = 0.04
"""The pitch changes by up to 7 per cent from one rib to the next, and half of that is the most by which a
spacing can differ from the pitch in its middle."""

SPAN_MM = 400.0
CHORD_MM = 160.0

RECTANGLE: list[dict[str, float]] = [
    {"span_mm": 0.0, "chord_mm": CHORD_MM},
    {"span_mm": SPAN_MM, "chord_mm": CHORD_MM},
]

SWEPT: list[dict[str, float]] = [
    {"span_mm": 0.0, "chord_mm": 200.0},
    {"span_mm": 250.0, "chord_mm": 170.0, "leading_edge_mm": 40.0},
    {"span_mm": 600.0, "chord_mm": 110.0, "leading_edge_mm": 130.0, "twist_deg": -2.0},
]
"""Tapered, swept by up to 11 degrees at mid chord, with a bend and twist."""


def designed(stations: list[dict[str, float]], ribs: dict[str, Any]) -> tuple[Spec, Wing]:
    spec = spec_from_dict({"station": stations, "ribs": ribs})
    return spec, design_wing(spec).wing


def planes(stations: list[dict[str, float]], **ribs: Any) -> list[RibPlane]:
    return list(rib_planes(*designed(stations, ribs)))


def roots(found: Sequence[RibPlane], run: str) -> np.ndarray:
    return np.array([float(plane.x_mm(0.0)) for plane in found if plane.run == run])


@pytest.mark.parametrize("angle", [30.0, 45.0])
@pytest.mark.parametrize(
    "pairs",
    [
        [[0.0, 27.0], [600.0, 27.0]],
        [[100.0, 27.0], [130.0, 27.0], [5000.0, 27.0]],
        [[0.0, 27.0], [700.0, 27.0], [800.0, 60.0]],
    ],
)
def test_pairs_of_one_pitch_give_the_planes_of_that_pitch(pairs: Pairs, angle: float) -> None:
    """Also where another pitch is named only beyond the tip. Equal to the last digit."""
    plain = planes(SWEPT, pitch_mm=27.0, angle_deg=angle)
    paired = planes(SWEPT, pitch_along_mm=pairs, angle_deg=angle)
    assert [plane.name for plane in paired] == [plane.name for plane in plain]
    for one, other in zip(paired, plain, strict=True):
        np.testing.assert_array_equal(one.knots_x_mm, other.knots_x_mm)
        np.testing.assert_array_equal(one.knots_z_mm, other.knots_z_mm)


def test_one_pitch_is_where_it_always_was() -> None:
    """The rule in so many words: i pitch for the aft run, (i + 1/2) pitch for the forward run, no gap."""
    found = planes(SWEPT, pitch_mm=30.0)
    for run, offset in (("aft", 0.0), ("forward", 15.0)):
        x = roots(found, run)
        numbers = np.round((x - offset) / 30.0)
        np.testing.assert_array_equal(x, offset + 30.0 * numbers)
        np.testing.assert_array_equal(np.diff(numbers), 1.0)


def test_nearly_one_pitch_is_nearly_the_same() -> None:
    """The closed form for pitches that vary runs into the rule for one pitch."""
    plain = planes(SWEPT, pitch_mm=27.0)
    paired = planes(SWEPT, pitch_along_mm=[[0.0, 27.0], [600.0, 27.0 * (1.0 + 1e-12)]])
    for run in ("aft", "forward"):
        np.testing.assert_allclose(roots(paired, run), roots(plain, run), atol=PLACE_MM)


def by_hand(number: float, lean: float, inner: float, outer: float) -> float:
    """Root coordinate of rib `number` on the rectangular wing with a pitch straight from root to tip.

    Mid chord is at ``x = c / 2``, so the rib that crosses it at z meets the root at ``u = c / 2 - z lean``
    and the pitch is ``p = inner + k (c / 2 - u)`` with ``k = (outer - inner) / (span lean)``. Then
    ``dN = du / p`` gives ``N = -ln(p(u) / p(u = 0)) / k`` wherever u = 0 lies on the wing, which holds
    for the aft run. For the forward run (lean < 0) u = 0 lies inboard of the root, where the pitch is
    `inner`: N at ``u = c / 2`` is ``c / 2 / inner``, and the logarithm goes on from there.
    """
    half = 0.5 * CHORD_MM
    k = (outer - inner) / (SPAN_MM * lean)
    if lean > 0.0:
        tip, at_nose = half - SPAN_MM * lean, inner + k * half
        least = -math.log(outer / at_nose) / k
        most = -math.log(inner / at_nose) / k
        if number < least:
            return tip + (number - least) * outer
        if number > most:
            return half + (number - most) * inner
        return half - (at_nose * math.exp(-k * number) - inner) / k
    least, tip = half / inner, half - SPAN_MM * lean
    most = least - math.log(outer / inner) / k
    if number < least:
        return number * inner
    if number > most:
        return tip + (number - most) * outer
    return half - inner * (math.exp(-k * (number - least)) - 1.0) / k


@pytest.mark.parametrize(("inner", "outer"), [(16.0, 48.0), (40.0, 18.0), (5.0, 500.0), (20.0, 20.001)])
@pytest.mark.parametrize("angle", [25.0, 45.0, 58.0])
def test_straight_pitch_on_a_rectangular_wing(inner: float, outer: float, angle: float) -> None:
    spec, wing = designed(RECTANGLE, {"pitch_along_mm": [[0.0, inner], [SPAN_MM, outer]], "angle_deg": angle})
    found = rib_planes(spec, wing)
    nose, tail = wing.stations[0].outline[:, 0].min(), wing.stations[0].outline[:, 0].max()
    slope = math.tan(math.radians(angle))
    for run, lean, offset in (("aft", slope, 0.0), ("forward", -slope, 0.5)):
        x = roots(found, run)
        # the row has no gap: rib by rib the next number, beginning with the one that fits best
        start = min(range(-2000, 2000), key=lambda i: abs(by_hand(i + offset, lean, inner, outer) - x[0]))
        expected = [by_hand(start + i + offset, lean, inner, outer) for i in range(len(x))]
        np.testing.assert_allclose(x, expected, atol=PLACE_MM)
        # and it reaches from the nose to the tail, all along the span
        reach = [nose - max(0.0, lean * SPAN_MM), tail - min(0.0, lean * SPAN_MM)]
        assert x[0] <= reach[0] < x[1]
        assert x[-2] < reach[1] <= x[-1]


def test_a_sudden_change_of_pitch_is_as_exact() -> None:
    """Forward run, 10 mm up to span 200 and 100 mm from span 200.001 on: whole pitches by plain counting.

    Mid chord is at x = 80 and the lean is 45 degrees, so up to u = 280 there are 28 ribs' worth of 10 mm.
    In the thousandth of a millimetre between lies no rib. Rib 27.5 is at 275 and the next one half a pitch
    of 100 mm beyond 280.
    """
    pairs = [[0.0, 10.0], [200.0, 10.0], [200.001, 100.0], [400.0, 100.0]]
    x = roots(planes(RECTANGLE, pitch_along_mm=pairs, run="forward"), "forward")
    inner = x[x < 280.0]
    np.testing.assert_allclose(inner[inner > 0.0], np.arange(5.0, 276.0, 10.0), atol=PLACE_MM)
    # the change itself is worth ln(10) / 90 thousandths of a rib, at 100 mm a rib under 0.003 mm
    np.testing.assert_allclose(x[x > 280.0], [330.0, 430.0, 530.0, 630.0], atol=0.003)


@pytest.mark.parametrize("run", ["aft", "forward"])
@pytest.mark.parametrize(
    "pairs",
    [[[0.0, 14.0], [600.0, 38.0]], [[50.0, 30.0], [200.0, 22.0], [350.0, 24.0], [900.0, 12.0]]],
)
def test_spacing_where_ribs_cross_mid_chord_is_the_pitch_there(run: str, pairs: Pairs) -> None:
    """Measured on the wing: neighbours, each followed to where it crosses mid chord."""
    spec, wing = designed(SWEPT, {"pitch_along_mm": pairs, "run": run})
    z = np.linspace(0.0, 600.0, 60001)
    middle = wing.chord_point_mm(0.5, z)[:, 0]
    crossed = []
    for plane in rib_planes(spec, wing):
        aside = plane.x_mm(z) - middle
        if aside[0] * aside[-1] < 0.0:
            crossed.append((float(plane.x_mm(0.0)), float(z[np.argmin(np.abs(aside))])))
    assert len(crossed) > 15
    for (one, here), (other, there) in pairwise(crossed):
        pitch = np.interp(0.5 * (here + there), *np.array(pairs).T)
        assert other - one == pytest.approx(pitch, rel=SPACING_SHARE)


def test_ribs_are_closer_where_the_pitch_is_less() -> None:
    """More ribs of either run cross mid chord on the inner half than on the outer one, by 2 to 1 and more."""
    spec, wing = designed(RECTANGLE, {"pitch_along_mm": [[0.0, 15.0], [SPAN_MM, 45.0]]})
    for run in ("aft", "forward"):
        inner, outer = (
            sum(
                (plane.x_mm(start) - 0.5 * CHORD_MM) * (plane.x_mm(end) - 0.5 * CHORD_MM) < 0.0
                for plane in rib_planes(spec, wing)
                if plane.run == run
            )
            for start, end in ((0.0, 200.0), (200.0, 400.0))
        )
        # ln(30 / 15) against ln(45 / 30) of 400 / 30 ribs: 9.2 and 5.4
        assert abs(inner - 9.2) < 1.0
        assert abs(outer - 5.4) < 1.0


def test_pitch_at_a_place() -> None:
    spec = spec_from_dict(
        {"station": RECTANGLE, "ribs": {"pitch_along_mm": [[100.0, 20.0], [300.0, 40.0], [310.0, 30.0]]}}
    )
    np.testing.assert_allclose(
        spec.ribs.pitch_at_mm([0.0, 100.0, 150.0, 300.0, 305.0, 310.0, 900.0]),
        [20.0, 20.0, 25.0, 40.0, 35.0, 30.0, 30.0],
    )
    assert spec.least_pitch_mm == 20.0
    # pairs beyond the tip count as far as the tip
    tip = spec.semi_span_mm
    far = spec_from_dict({"station": RECTANGLE, "ribs": {"pitch_along_mm": [[0.0, 40.0], [2.0 * tip, 10.0]]}})
    assert far.least_pitch_mm == pytest.approx(25.0)
    plain = spec_from_dict({"station": RECTANGLE, "ribs": {"pitch_mm": 33.0}})
    assert float(plain.ribs.pitch_at_mm(120.0)) == plain.least_pitch_mm == 33.0


def test_pitch_between_pairs_that_nearly_coincide() -> None:
    """The slope between them has no bound, the pitch has."""
    pairs = [[0.0, 5.0], [2.0**-1022, 9.0], [300.0, 9.0]]
    ribs = spec_from_dict({"station": RECTANGLE, "ribs": {"pitch_along_mm": pairs}}).ribs
    np.testing.assert_array_equal(ribs.pitch_at_mm([0.0, 2.0**-1023, 2.0**-1022, 1.0]), [5.0, 7.0, 9.0, 9.0])
