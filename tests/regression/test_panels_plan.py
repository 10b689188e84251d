"""How a half wing is split: fewest panels that fit, joints in good places, given joints kept."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from wingpath import design_wing, spec_from_dict
from wingpath.io.profile_store import load_printer
from wingpath.model.panels import place_on_bed, plan_panels
from wingpath.pipeline.design import WingDesign


def design(span: float, *, chord: float = 100.0, sweep: float = 0.0, **tables: Any) -> WingDesign:
    data = {
        "station": [
            {"span_mm": 0.0, "chord_mm": chord, "airfoil": "naca2412"},
            {"span_mm": span, "chord_mm": chord, "leading_edge_mm": sweep, "airfoil": "naca2412"},
        ],
        "wing": {"tip": "open"},
        **tables,
    }
    return design_wing(spec_from_dict(data))


def joints(made: WingDesign) -> list[float]:
    return [panel.start_mm for panel in made.panels[1:]]


@pytest.mark.parametrize(
    ("span", "count"), [(100.0, 1), (300.0, 1), (300.1, 2), (600.0, 2), (601.0, 3), (900.0, 3), (1000.0, 4)]
)
def test_as_few_panels_as_fit_the_height(span: float, count: int) -> None:
    made = design(span)
    assert made.printer.height_mm == 300.0
    assert len(made.panels) == count
    assert all(panel.height_mm <= 300.0 for panel in made.panels)


def test_panels_follow_each_other_from_root_to_tip() -> None:
    made = design(1000.0)
    assert [panel.number for panel in made.panels] == [1, 2, 3, 4]
    assert [panel.name for panel in made.panels] == ["panel-1", "panel-2", "panel-3", "panel-4"]
    assert made.panels[0].start_mm == 0.0
    assert made.panels[-1].end_mm == 1000.0
    for inner, outer in itertools.pairwise(made.panels):
        assert inner.end_mm == outer.start_mm


def test_panels_are_about_equally_long() -> None:
    # joints lie on multiples of 5 mm, so that a builder can measure them
    assert joints(design(500.0)) == [250.0]
    assert joints(design(840.0)) == [280.0, 560.0]
    lengths = [panel.height_mm for panel in design(800.0).panels]
    assert max(lengths) - min(lengths) <= 10.0


@pytest.mark.parametrize("end", [240.0, 250.0, 262.0])
def test_joints_keep_away_from_the_end_of_a_tube(end: float) -> None:
    made = design(500.0, tube=[{"outer_mm": 5.0, "to_mm": end, "chord_fraction": 0.3}])
    (joint,) = joints(made)
    assert abs(joint - end) >= 15.0
    # and go no farther than they must
    assert abs(joint - 250.0) <= 15.0 + abs(end - 250.0) + 5.0


def test_joints_keep_away_from_both_ends_of_a_web_that_has_two() -> None:
    made = design(500.0, spar_web=[{"chord_fraction": 0.5, "from_mm": 245.0, "to_mm": 280.0}])
    (joint,) = joints(made)
    assert min(abs(joint - 245.0), abs(joint - 280.0)) >= 15.0
    # a web that runs to the tip has no end to keep away from but its first
    assert joints(design(500.0, spar_web=[{"chord_fraction": 0.5, "from_mm": 0.0}])) == [250.0]


def test_one_panel_less_is_worth_a_joint_at_a_bad_place() -> None:
    # two panels leave the joint between 290 and 300 mm only, at the end of the tube
    made = design(590.0, tube=[{"outer_mm": 5.0, "to_mm": 295.0, "chord_fraction": 0.3}])
    assert len(made.panels) == 2


@pytest.mark.parametrize("given", [[], [123.4], [30.0, 47.5, 290.0]])
def test_given_joints_are_kept_as_they_are(given: list[float]) -> None:
    assert joints(design(400.0, panels={"joints_mm": given})) == given


def test_a_closed_tip_is_never_cut() -> None:
    made = design(500.0)
    assert joints(made) == [250.0]
    # the joint would lie in the middle; a tip that begins before moves it inboard, 10 mm clear of it
    for base in (240.0, 215.0):
        panels = plan_panels(made.spec, made.wing, made.printer, tip_base_mm=base)
        assert panels[1].start_mm == base - 10.0
    assert plan_panels(made.spec, made.wing, made.printer, tip_base_mm=260.0)[1].start_mm == 250.0


def test_sweep_splits_a_wing_whose_footprint_would_not_fit() -> None:
    # unswept one panel; swept by 250 mm the footprint of the whole is 350 mm long
    assert len(design(290.0).panels) == 1
    made = design(290.0, sweep=250.0)
    assert len(made.panels) > 1
    for panel in made.panels:
        points = made.wing.loops([panel.start_mm, panel.end_mm]).reshape(-1, 2)
        assert place_on_bed(points, made.printer).over_mm == 0.0
    longer = design(290.0, sweep=250.0, panels={"joints_mm": joints(made)[1:]})
    first = longer.panels[0]
    points = longer.wing.loops([first.start_mm, first.end_mm]).reshape(-1, 2)
    assert place_on_bed(points, longer.printer).over_mm > 0.0


def test_a_chord_that_never_fits_is_still_split_by_height() -> None:
    assert [panel.height_mm for panel in design(600.0, chord=500.0).panels] == [300.0, 300.0]


# --- the bed -------------------------------------------------------------------------------------------


BED = load_printer("bed-220")
ROOM = 210.0
"""Bed of 220 mm less 5 mm margin on both sides [mm]."""


def rectangle(long: float, wide: float) -> np.ndarray:
    return np.array([[0.0, 0.0], [long, 0.0], [long, wide], [0.0, wide]])


def test_a_footprint_that_fits_is_not_turned() -> None:
    place = place_on_bed(rectangle(ROOM, ROOM), BED)
    assert (place.turn_deg, place.over_mm) == (0.0, 0.0)
    assert (place.size_x_mm, place.size_y_mm) == (pytest.approx(ROOM), pytest.approx(ROOM))


@pytest.mark.parametrize("long", [212.0, 250.0, 270.0])
def test_a_long_footprint_is_turned_until_it_fits(long: float) -> None:
    place = place_on_bed(rectangle(long, 20.0), BED)
    turn = np.deg2rad(place.turn_deg)
    assert place.over_mm == 0.0
    assert 0.0 < place.turn_deg <= 45.0
    # the size of a turned rectangle: l cos t + w sin t by l sin t + w cos t
    assert place.size_x_mm == pytest.approx(long * np.cos(turn) + 20.0 * np.sin(turn))
    assert place.size_y_mm == pytest.approx(long * np.sin(turn) + 20.0 * np.cos(turn))
    # one degree less does not fit
    less = turn - np.deg2rad(1.0)
    assert long * np.cos(less) + 20.0 * np.sin(less) > ROOM


def test_the_longest_strip_lies_across_the_corners() -> None:
    # at 45 degrees (long + 20) / sqrt 2 = 210
    limit = ROOM * np.sqrt(2.0) - 20.0
    assert place_on_bed(rectangle(limit - 0.01, 20.0), BED).over_mm == 0.0
    over = place_on_bed(rectangle(limit + 3.0, 20.0), BED)
    assert over.turn_deg == 45.0
    assert over.over_mm == pytest.approx(3.0 / np.sqrt(2.0))


@pytest.mark.parametrize("from_deg", [0.0, 37.0])
def test_a_place_on_the_bed_leads_there_and_back(from_deg: float) -> None:
    """A bar of 150 x 10 mm with a corner at (20, 5), on a bed of 140 x 140 mm inside its margins."""
    printer = load_printer("bed-220").model_copy(update={"bed_x_mm": 150.0, "bed_y_mm": 150.0})
    bar = np.array([[20.0, 5.0], [170.0, 5.0], [170.0, 15.0], [20.0, 15.0]])
    place = place_on_bed(bar, printer, from_deg=from_deg)
    assert place.over_mm == 0.0
    assert place.turn_deg >= max(from_deg, 20.0)
    laid = place.on_bed(bar)
    assert np.linalg.norm(laid[1] - laid[0]) == pytest.approx(150.0)
    assert laid.min(axis=0) == pytest.approx(-laid.max(axis=0), abs=1e-9)
    assert np.ptp(laid, axis=0) == pytest.approx([place.size_x_mm, place.size_y_mm])
    assert np.abs(laid).max() <= 70.0
    # turned anticlockwise: the far end of the bar lies higher
    assert laid[1, 1] > laid[0, 1]
    corners = place.on_bed(place.room(printer))
    assert corners == pytest.approx(np.array([[-70.0, -70.0], [70.0, -70.0], [70.0, 70.0], [-70.0, 70.0]]))
