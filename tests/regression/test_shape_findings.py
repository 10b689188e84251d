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
