"""Edges that lean, ribs far apart, beads that suit no nozzle, neighbours on one hinge line, cut-off files."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tiny_wing import Build, text_of, tiny

from wingpath import DesignError, build_wing, check_program, spec_from_dict
from wingpath.core.findings import Finding
from wingpath.pipeline.design import design_wing
from wingpath.pipeline.shape_findings import edge_leans_deg, shape_findings


def wing(lead_mm: float, tip_mm: float, **tables: Any) -> dict[str, Any]:
    """A panel of 40 mm whose edges move by what is given."""
    return {
        "station": [
            {"span_mm": 0.0, "chord_mm": 100.0},
            {"span_mm": 40.0, "chord_mm": tip_mm, "leading_edge_mm": lead_mm},
        ],
        "ribs": {"run": "none"},
        "wing": {"tip": "open"},
        **tables,
    }


def found(data: dict[str, Any], code: str) -> list[Finding]:
    return [one for one in shape_findings(design_wing(spec_from_dict(data))) if one.code == code]


@pytest.mark.parametrize(
    ("lead", "tip", "lean", "edge"),
    [
        (40.0 * np.tan(np.deg2rad(53.0)), 60.0, 53.0, "leading"),
        (-40.0 * np.tan(np.deg2rad(50.0)), 120.0, 50.0, "leading"),
        (0.0, 100.0 - 40.0 * np.tan(np.deg2rad(52.0)), 52.0, "trailing"),
    ],
)
def test_an_edge_that_leans_too_far_is_told(lead: float, tip: float, lean: float, edge: str) -> None:
    (one,) = found(wing(lead, tip), "leaning-edge")
    assert one.found == pytest.approx(lean, abs=0.1)
    assert (
        f"the {edge} edge itself leans by {lean:.0f} degrees between station[0] and station[1]" in one.message
    )
    # what to do helps, with a millimetre for rounding
    less = float(re.search(r"by (\d+) mm at", one.remedy)[1]) + 1.0  # type: ignore[index]
    better = wing(lead - np.sign(lead) * less, tip + np.sign(lead) * less) if lead else wing(lead, tip + less)
    assert found(better, "leaning-edge") == []


def test_the_worst_stretch_is_named_with_what_it_leans_too_much() -> None:
    # 30 mm aft over 20 mm of span, where 45 degrees are 20
    data = {
        **wing(0.0, 100.0),
        "station": [
            {"span_mm": 0.0, "chord_mm": 100.0},
            {"span_mm": 20.0, "chord_mm": 100.0, "leading_edge_mm": 4.0},
            {"span_mm": 40.0, "chord_mm": 70.0, "leading_edge_mm": 34.0},
            {"span_mm": 60.0, "chord_mm": 66.0, "leading_edge_mm": 36.0},
        ],
    }
    (one,) = found(data, "leaning-edge")
    assert "between station[1] and station[2]" in one.message
    assert one.found == pytest.approx(np.rad2deg(np.arctan(1.5)))
    assert one.z_mm == 20.0
    assert "by 10 mm at station[2]" in one.remedy


def test_edges_within_the_limit_are_not(built: Build) -> None:
    assert found(wing(20.0, 60.0), "leaning-edge") == []
    assert found(wing(41.0, 60.0, filament={"overhang_limit_deg": 60.0}), "leaning-edge") == []


def test_leans_are_angles_of_the_edges() -> None:
    lead, trail = edge_leans_deg(design_wing(spec_from_dict(wing(40.0, 60.0))).wing)
    assert lead == pytest.approx([45.0])
    assert trail == pytest.approx([0.0], abs=1e-9)


@pytest.mark.parametrize(("pitch", "count"), [(51.0, 1), (50.0, 0), (30.0, 0)])
def test_ribs_far_apart_are_told(pitch: float, count: int) -> None:
    data = wing(0.0, 100.0, ribs={"run": "both", "pitch_mm": pitch})
    assert len(found(data, "wide-pitch")) == count
    assert all(one.limit == 50.0 for one in found(data, "wide-pitch"))
    assert found({**data, "ribs": {"run": "none", "pitch_mm": pitch}}, "wide-pitch") == []


def test_only_the_inner_half_counts_where_the_chord_gets_small() -> None:
    # 80 mm of chord half way out, 74 at two thirds, 60 at the tip
    data = wing(0.0, 60.0, ribs={"run": "both", "pitch_mm": 39.0})
    assert found(data, "wide-pitch") == []
    assert len(found({**data, "ribs": {"run": "both", "pitch_mm": 41.0}}, "wide-pitch")) == 1


@pytest.mark.parametrize(("nozzle", "beads"), [(0.6, ["0.68"]), (0.4, []), (0.2, ["0.23"])])
def test_a_bead_that_suits_no_nozzle_is_told(nozzle: float, beads: list[str]) -> None:
    told = found(wing(0.0, 100.0, printer={"nozzle_mm": nozzle}), "odd-bead")
    assert [one.remedy for one in told] == [f"use a bead of {bead} mm, or another nozzle" for bead in beads]


FLAPPED: dict[str, Any] = {
    "station": [{"span_mm": 0.0, "chord_mm": 120.0}, {"span_mm": 300.0, "chord_mm": 100.0}],
    "ribs": {"run": "none"},
    "panels": {"joints_mm": []},
}


def flapped(first: tuple[float, float], second: tuple[float, float]) -> dict[str, Any]:
    rows = [{"from_mm": a, "to_mm": b, "hinge_fraction": 0.75} for a, b in (first, second)]
    return {**FLAPPED, "aileron": rows}


@pytest.mark.parametrize("swap", [False, True])
def test_neighbours_on_one_hinge_line_that_meet_are_refused_and_the_remedy_helps(swap: bool) -> None:
    spans = [(40.0, 140.0), (142.0, 250.0)]
    names = ["aileron[0]", "aileron[1]"]
    if swap:
        spans.reverse()
        names.reverse()
    with pytest.raises(DesignError, match="both bays widen by 45 degrees") as caught:
        design_wing(spec_from_dict(flapped(*spans)))
    assert list(caught.value.culprits) == names
    assert "with 2 mm between their hinges" in str(caught.value)
    begin = re.search(r"begin at from_mm = (\d+)", str(caught.value))
    end = re.search(r"end at to_mm = (\d+)", str(caught.value))
    assert begin
    assert end
    for inner, outer in (
        ((40.0, 140.0), (float(begin[1]), 250.0)),
        ((40.0, float(end[1])), (142.0, 250.0)),
    ):
        design = design_wing(spec_from_dict(flapped(inner, outer)))
        z = np.arange(0.0, 300.0, 0.25)
        edge = np.array([design.body.section(float(at))[:, 0].max() for at in z])
        cut = [edge > one.wall_mm(z) for one in design.voids.ailerons]
        assert not np.any(cut[0] & cut[1])


def test_neighbours_may_come_as_close_as_two_beads() -> None:
    def lacking(gap_mm: float) -> bool:
        try:
            design_wing(spec_from_dict(flapped((40.0, 110.0), (110.0 + gap_mm, 250.0))))
        except DesignError:
            return True
        return False

    gaps = np.arange(50.0, 60.0, 0.125)
    least = float(gaps[np.argmin([lacking(float(gap)) for gap in gaps])])
    design = design_wing(spec_from_dict(flapped((40.0, 110.0), (110.0 + least, 250.0))))
    inner, outer = design.voids.ailerons
    z = np.arange(0.0, 300.0, 0.05)
    edge = np.array([design.body.section(float(at))[:, 0].max() for at in z])
    between = z[edge > outer.wall_mm(z)].min() - z[edge > inner.wall_mm(z)].max()
    # two beads, and the steps in which ends are sought
    assert 0.9 - 0.1 <= between <= 0.9 + 0.8


def test_a_remedy_that_leaves_nothing_of_a_surface_is_not_told() -> None:
    with pytest.raises(DesignError, match="both bays widen") as caught:
        design_wing(spec_from_dict(flapped((40.0, 110.0), (112.0, 220.0))))
    assert "begin at from_mm" in str(caught.value)
    assert "end at to_mm" not in str(caught.value)
    with pytest.raises(DesignError, match=r"Keep them apart: make one surface of the two\.$"):
        design_wing(spec_from_dict(flapped((40.0, 110.0), (112.0, 170.0))))


def test_an_aileron_too_high_is_told_to_be_shorter(built: Build) -> None:
    data = {
        **FLAPPED,
        "station": [{"span_mm": 0.0, "chord_mm": 100.0}, {"span_mm": 120.0, "chord_mm": 100.0}],
        "panels": {"joints_mm": [60.0]},
        "aileron": [{"from_mm": 30.0, "to_mm": 90.0, "hinge_fraction": 0.8}],
        "printer": {"height_mm": 65.0},
        "print": {"layer_mm": 0.4, "bead_mm": 0.6},
    }
    (one,) = [f for f in build_wing(spec_from_dict(data)).findings if f.code == "too-big"]
    assert one.panel == "aileron-1"
    assert "shorter with aileron[0].from_mm and to_mm" in one.remedy
    assert "joints_mm" not in one.remedy
    # the profile's title speaks of its own height
    assert "300 mm high" not in one.message
    assert "height_mm 65" in one.message


def test_a_program_that_was_cut_off_is_told(built: Build, tmp_path: Path) -> None:
    text = text_of(built(tiny()))
    lines = text.splitlines(keepends=True)
    (tmp_path / "whole.gcode").write_text(text, encoding="utf-8")
    assert "cut-short" not in {one.code for one in check_program(tmp_path / "whole.gcode").findings}
    (tmp_path / "cut.gcode").write_text("".join(lines[: len(lines) // 2]), encoding="utf-8")
    judged = check_program(tmp_path / "cut.gcode")
    (one,) = [finding for finding in judged.findings if finding.code == "cut-short"]
    assert one.severity == "error"
    assert one.line == len(lines) // 2
    assert not judged.unbroken


HEAVY = {"all_up_mass_g": 500.0, "max_speed_m_s": 25.0}


@pytest.mark.parametrize(
    ("root", "tip", "mass", "words"),
    [
        (22.5, 150.0, None, "the chord grows from 22.5 mm at the root to 150 mm at the tip"),
        (60.0, 149.0, None, ""),
        (100.0, 100.0, 1.0, "1.25 g/dm2, and models have 1.5 to 300"),
        (100.0, 100.0, 2.0, ""),
        (100.0, 100.0, 230.0, ""),
        (22.0, 22.0, 550.0, "3125.00 g/dm2, and models have 1.5 to 300"),
    ],
)
def test_sizes_that_look_like_another_unit(root: float, tip: float, mass: float | None, words: str) -> None:
    data = wing(0.0, tip)
    data["station"][0]["chord_mm"] = root
    if mass is not None:
        data["aircraft"] = {**HEAVY, "all_up_mass_g": mass}
    told = found(data, "odd-size")
    assert [words in one.message for one in told] == ([True] if words else [])
    assert all(one.severity == "warning" for one in told)
    assert all("centimetres" in one.remedy or "1 cm is 10" in one.remedy for one in told)


def test_a_panel_that_is_hardly_more_than_its_glue() -> None:
    data = {**wing(0.0, 100.0), "panels": {"joints_mm": [20.0, 20.5]}}
    (one,) = found(data, "low-panel")
    assert "from span 20 to 20.5 mm is 0.5 mm high" in one.message
    assert one.panel == "panel-2"
    assert found({**data, "panels": {"joints_mm": [20.0, 25.0]}}, "low-panel") == []


LEAD_WING: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 180.0, "airfoil": "naca2415"},
        {"span_mm": 240.0, "chord_mm": 150.0, "airfoil": "naca2415"},
    ],
    "servo_bay": [
        {"span_mm": 120.0, "length_mm": 22.0, "width_mm": 12.0, "depth_mm": 9.0, "chord_fraction": 0.4}
    ],
    "wing": {"tip": "open"},
}


@pytest.mark.parametrize(
    ("duct", "blind"),
    [
        ({"to_mm": 120.0, "chord_fraction": 0.4}, False),
        ({"to_mm": 60.0, "chord_fraction": 0.4}, True),
        ({"to_mm": 200.0, "chord_fraction": 0.6}, True),
        (None, False),
    ],
)
def test_a_duct_that_leads_to_no_servo(duct: dict[str, float] | None, blind: bool) -> None:
    ducts = [] if duct is None else [{"diameter_mm": 5.0, **duct}]
    told = found({**LEAD_WING, "duct": ducts}, "blind-duct")
    assert len(told) == blind
    for one in told:
        assert "no duct leads into servo_bay[0]" in one.message
        # what to do helps
        to, fraction = re.search(r"to_mm = ([\d.]+) with chord_fraction_end = ([\d.]+)", one.remedy).groups()  # type: ignore[union-attr]
        better = {**ducts[0], "to_mm": float(to), "chord_fraction_end": float(fraction)}
        assert found({**LEAD_WING, "duct": [better]}, "blind-duct") == []


def test_a_second_bay_may_have_the_only_duct() -> None:
    bays = [LEAD_WING["servo_bay"][0], {**LEAD_WING["servo_bay"][0], "span_mm": 180.0, "chord_fraction": 0.6}]
    duct = {"diameter_mm": 5.0, "to_mm": 120.0, "chord_fraction": 0.4}
    (one,) = found({**LEAD_WING, "servo_bay": bays, "duct": [duct]}, "blind-duct")
    assert "servo_bay[1]" in one.message


@pytest.mark.parametrize("to_mm", [190.0, 188.0, 180.0])
def test_an_aileron_that_reaches_into_the_closing_tip_is_told_where_to_end(to_mm: float) -> None:
    data: dict[str, Any] = {
        "station": [
            {"span_mm": 0.0, "chord_mm": 150.0, "airfoil": "naca0010"},
            {"span_mm": 190.0, "chord_mm": 130.0, "airfoil": "naca0010"},
        ],
        "wing": {"tip": "closed"},
        "aileron": [{"from_mm": 60.0, "to_mm": to_mm, "hinge_fraction": 0.75}],
    }
    with pytest.raises(DesignError) as refused:
        design_wing(spec_from_dict(data))
    text = str(refused.value)
    assert ("the tip begins to close at" in text) == (to_mm > 185.0)
    end = float(re.search(r"Let it end at to_mm = (\d+)", text)[1])  # type: ignore[index]
    data["aileron"][0]["to_mm"] = end
    assert design_wing(spec_from_dict(data)).voids.ailerons
