"""Placed outlines and the ruled wing between them, in closed form."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from outside import AIRFOILS, Source

from wingpath import design_wing, naca_airfoil, spec_from_dict
from wingpath.geometry.outline import lower_surface, place_outline, surface_chains, upper_surface
from wingpath.model.wing import POINTS_PER_SIDE, Wing

ROUNDING = 1e-9

SLANT = 1.001
"""Length over height of an edge that leans by up to 2.5 degrees."""

DIAMOND = np.array([[0.0, 0.0], [0.5, -0.1], [1.0, 0.0], [1.0, 0.02], [0.5, 0.1]])
"""A section of five points: nose, lower side, both corners of the trailing edge, upper side."""


def wing_of(*stations: dict[str, Any], **tables: Any) -> Wing:
    return design_wing(spec_from_dict({"station": list(stations), **tables})).wing


@pytest.mark.parametrize("twist", [-12.0, 0.0, 7.5])
def test_twist_turns_about_the_quarter_chord(twist: float) -> None:
    turn = math.radians(twist)
    placed = place_outline(DIAMOND, chord_mm=200.0, leading_edge_mm=30.0, twist_deg=twist)
    hinge = np.array([80.0, 0.0])
    # a point on the chord line at distance d behind the hinge sinks by d sin(twist) when the nose rises
    assert placed[0] == pytest.approx(hinge + 50.0 * np.array([-math.cos(turn), math.sin(turn)]))
    assert placed[2] == pytest.approx(hinge + 150.0 * np.array([math.cos(turn), -math.sin(turn)]))
    # a point 20 mm below half chord: 50 behind the hinge
    along, across = 50.0, -20.0
    turned_x = along * math.cos(turn) + across * math.sin(turn)
    turned_y = -along * math.sin(turn) + across * math.cos(turn)
    assert placed[1] == pytest.approx(hinge + np.array([turned_x, turned_y]))
    # turning changes no distance: the section keeps its area
    assert shapely.Polygon(placed).area == pytest.approx(200.0**2 * shapely.Polygon(DIAMOND).area)


def test_nose_up_is_positive() -> None:
    placed = place_outline(DIAMOND, chord_mm=100.0, leading_edge_mm=0.0, twist_deg=3.0)
    assert placed[0, 1] > 0.0 > placed[2, 1]


def test_surfaces_run_from_nose_to_trailing_edge() -> None:
    assert lower_surface(DIAMOND).tolist() == [[0.0, 0.0], [0.5, -0.1], [1.0, 0.0]]
    assert upper_surface(DIAMOND).tolist() == [[0.0, 0.0], [0.5, 0.1], [1.0, 0.02]]
    assert lower_surface(np.stack([DIAMOND, 2 * DIAMOND])).shape == (2, 3, 2)
    assert upper_surface(np.stack([DIAMOND, 2 * DIAMOND]))[1].tolist() == [[0, 0], [1.0, 0.2], [2.0, 0.04]]


@pytest.mark.parametrize("turn", range(5))
def test_a_ring_is_split_at_its_ends_wherever_it_starts(turn: int) -> None:
    ring = np.array([[0.0, 0.0], [3.0, -1.0], [5.0, 0.2], [4.0, 1.0], [1.0, 1.0]])
    lower, upper = surface_chains(np.roll(ring, turn, axis=0))
    assert lower.tolist() == [[0.0, 0.0], [3.0, -1.0], [5.0, 0.2]]
    assert upper.tolist() == [[0.0, 0.0], [1.0, 1.0], [4.0, 1.0], [5.0, 0.2]]


def test_planform_area_is_the_sum_of_trapezoids() -> None:
    wing = wing_of(
        {"span_mm": 0.0, "chord_mm": 200.0},
        {"span_mm": 300.0, "chord_mm": 160.0, "leading_edge_mm": 20.0},
        {"span_mm": 500.0, "chord_mm": 90.0, "leading_edge_mm": 60.0},
    )
    assert wing.area_mm2 == pytest.approx(300.0 * 180.0 + 200.0 * 125.0, rel=ROUNDING)
    assert wing.semi_span_mm == 500.0
    assert wing.chord_mm([0.0, 150.0, 400.0]) == pytest.approx([200.0, 180.0, 125.0])
    assert wing.leading_edge_mm([0.0, 150.0, 400.0]) == pytest.approx([0.0, 10.0, 40.0])


def test_points_on_the_chord_follow_sweep_taper_and_twist() -> None:
    wing = wing_of(
        {"span_mm": 0.0, "chord_mm": 200.0, "twist_deg": 2.0},
        {"span_mm": 400.0, "chord_mm": 120.0, "leading_edge_mm": 50.0, "twist_deg": -3.0},
    )
    # the quarter chord is the hinge of the twist: it stays on y = 0 and runs straight
    quarter = wing.chord_point_mm(0.25, [0.0, 100.0, 400.0])
    assert quarter == pytest.approx(np.array([[50.0, 0.0], [57.5, 0.0], [80.0, 0.0]]))
    root = wing.chord_point_mm(0.6, 0.0)[0]
    tip = wing.chord_point_mm([0.6], [400.0])[0]
    two, three = math.radians(2.0), math.radians(-3.0)
    assert root == pytest.approx([50.0 + 70.0 * math.cos(two), -70.0 * math.sin(two)])
    assert tip == pytest.approx([80.0 + 42.0 * math.cos(three), -42.0 * math.sin(three)])
    # ruled: half way lies on the straight line between the two
    assert wing.chord_point_mm(0.6, 200.0)[0] == pytest.approx(0.5 * (root + tip))


def test_the_loft_is_ruled_between_points_of_equal_number() -> None:
    wing = wing_of(
        {"span_mm": 0.0, "chord_mm": 100.0, "airfoil": "naca2412"},
        {"span_mm": 80.0, "chord_mm": 60.0, "airfoil": "naca0009", "twist_deg": 4.0},
        {"span_mm": 100.0, "chord_mm": 50.0, "airfoil": "naca0009"},
    )
    low, middle, high = wing.loops([0.0, 20.0, 80.0])
    assert middle == pytest.approx(0.75 * low + 0.25 * high, abs=ROUNDING)
    assert low.shape == (2 * POINTS_PER_SIDE - 1, 2)
    for loop in wing.loops(np.linspace(0.0, 100.0, 9)):
        assert shapely.LinearRing(loop).is_ccw
        assert shapely.Polygon(loop).is_valid


@pytest.mark.parametrize("airfoil", ["naca0006", "naca2412", "naca6409", "naca23012", "reflex-8", "flat-10"])
@pytest.mark.parametrize("chord", [40.0, 300.0])
@pytest.mark.parametrize("least", [0.4, 1.3])
def test_the_trailing_edge_is_as_thick_as_the_spec_says(airfoil: str, chord: float, least: float) -> None:
    station = {"chord_mm": chord, "airfoil": airfoil, "twist_deg": 3.0}
    wing = wing_of(
        {"span_mm": 0.0, **station}, {"span_mm": 50.0, **station}, wing={"trailing_edge_mm": least}
    )
    outline = wing.stations[0].outline
    thick = float(np.linalg.norm(upper_surface(outline)[-1] - lower_surface(outline)[-1]))
    assert thick >= least - ROUNDING
    # and no thicker than needed, unless the airfoil is blunt by itself (up to 1 per cent of the chord);
    # SLANT: the edge of a cambered section is cut square to its mean line, and its height is what is set
    assert thick <= max(least, 0.01 * chord) * SLANT


def test_the_trailing_edge_is_two_beads_when_the_spec_is_silent() -> None:
    wing = wing_of(
        {"span_mm": 0.0, "chord_mm": 100.0}, {"span_mm": 50.0, "chord_mm": 100.0}, print={"bead_mm": 0.6}
    )
    outline = wing.stations[1].outline
    assert np.linalg.norm(upper_surface(outline)[-1] - lower_surface(outline)[-1]) == pytest.approx(
        1.2, rel=SLANT - 1.0
    )


def test_a_station_is_as_thick_as_its_section() -> None:
    # opening the trailing edge to 0.2 mm lies within the blunt edge of 0.252 mm
    wing = wing_of(
        {"span_mm": 0.0, "chord_mm": 100.0, "airfoil": "naca0012"},
        {"span_mm": 50.0, "chord_mm": 100.0, "airfoil": "naca0012"},
        wing={"trailing_edge_mm": 0.2},
    )
    AIRFOILS.check(
        "Thickness of a station with NACA 0012, chord 100 mm",
        source=Source(
            "worked again", "NACA Report 460", "NACA Report 460 (1933), equation of the thickness form"
        ),
        expected=12.0034,
        got=wing.stations[0].thickness_mm,
        abs=0.01,
        because="points of the outline",
        unit="mm",
    )


def test_an_outline_of_the_wing_is_the_airfoil_scaled() -> None:
    wing = wing_of(
        {"span_mm": 0.0, "chord_mm": 150.0, "airfoil": "naca4412"},
        {"span_mm": 50.0, "chord_mm": 150.0, "airfoil": "naca4412"},
        wing={"trailing_edge_mm": 0.3},
    )
    section = shapely.Polygon(naca_airfoil("4412").sampled(POINTS_PER_SIDE).loop * 150.0)
    # the blunt edge of the section is 0.38 mm already, so nothing was opened
    assert shapely.Polygon(wing.stations[0].outline).symmetric_difference(section).area < 1e-3 * section.area
