"""What is said about printing a part: each finding just over its limit and just not."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wingpath import Finding, WingBuild
from wingpath.build.toolpath import LEAD_IN

Builder = Callable[[dict[str, Any]], WingBuild]


def wing(**tables: Any) -> dict[str, Any]:
    """Return a plain open wing of 150 mm chord and 40 mm span; further keys are tables."""
    data: dict[str, Any] = {
        "station": [
            {"span_mm": 0.0, "chord_mm": 150.0, "airfoil": "naca0012"},
            {"span_mm": 40.0, "chord_mm": 150.0, "airfoil": "naca0012"},
        ],
        "wing": {"tip": "open", "hand": "left"},
        "ribs": {"run": "none"},
        "panels": {"joints_mm": []},
    }
    return {**data, **tables}


def found(build: WingBuild, code: str) -> list[Finding]:
    return [finding for finding in build.findings if finding.code == code]


def test_a_brim_is_cut_to_what_the_bed_holds(built: Builder) -> None:
    # 150 mm of chord on 154 x 34 usable mm: 2 mm for a brim on each side, and no room to turn
    narrow = {"bed_x_mm": 160.0, "bed_y_mm": 40.0, "margin_mm": 3.0}
    cut = built(wing(printer=narrow, print={"brim_mm": 6.0}))
    (finding,) = found(cut, "brim-cut")
    assert (finding.severity, finding.found, finding.limit) == ("warning", 1.5, 6.0)
    path = cut.panels[0].path
    assert path is not None
    assert path.brim_mm == 1.5
    assert path.place.over_mm < 1e-3
    whole = built(wing(printer=narrow, print={"brim_mm": 1.5}))
    assert found(whole, "brim-cut") == []


def test_a_wide_part_is_turned_for_its_brim_and_its_first_line(built: Builder) -> None:
    build = built(wing(printer={"bed_x_mm": 165.0, "bed_y_mm": 165.0}, print={"brim_mm": 8.0}))
    path = build.panels[0].path
    assert path is not None
    assert found(build, "brim-cut") == []
    # 166 mm with the brim on 155 usable ones
    assert path.place.turn_deg >= 20.0
    tool = path.toolpath
    assert tool.length_mm[tool.layer == LEAD_IN].sum() >= 20.0
    reach = np.abs(path.place.on_bed(tool.points[:, :2])).max(axis=0)
    assert np.all(reach <= 0.5 * 155.0 - 0.5 * 0.45 + 5e-3)
    assert build.panels[0].bed.turn_deg == 0.0


def test_a_part_is_turned_on_until_the_nozzle_can_be_filled_beside_it(built: Builder) -> None:
    # 154 mm with the brim on 155 usable ones: it fits as it is, but there is no room at its ends
    build = built(wing(printer={"bed_x_mm": 165.0, "bed_y_mm": 165.0}, print={"brim_mm": 2.0}))
    path = build.panels[0].path
    assert path is not None
    tool = path.toolpath
    assert tool.length_mm[tool.layer == LEAD_IN].sum() >= 20.0
    assert path.place.turn_deg > 0.0


def test_a_bed_without_room_to_fill_the_nozzle(built: Builder) -> None:
    # 153 x 21 mm with the brim, on a strip of 153.5 x 22 mm
    strip = {"bed_x_mm": 171.5, "bed_y_mm": 40.0, "margin_mm": 9.0}
    build = built(wing(printer=strip, print={"brim_mm": 1.5}))
    (finding,) = found(build, "short-lead-in")
    assert finding.severity == "note"
    assert finding.found is not None
    assert finding.found < 10.0
    assert found(built(wing(print={"brim_mm": 1.5})), "short-lead-in") == []


def test_a_part_that_is_high_for_its_foot(built: Builder) -> None:
    # 12 per cent of 150 mm: 18 mm wide, over ten times lower than 181 mm high
    tall = [
        {"span_mm": 0.0, "chord_mm": 150.0, "airfoil": "naca0012"},
        {"span_mm": 185.0, "chord_mm": 150.0, "airfoil": "naca0012"},
    ]
    slender = built(wing(station=tall, print={"brim_mm": 0.0}))
    (finding,) = found(slender, "slender")
    assert finding.severity == "note"
    assert finding.found == pytest.approx(185.0 / 18.0, rel=0.01)
    assert found(built(wing(station=tall, print={"brim_mm": 1.0})), "slender") == []


def test_a_bead_that_is_not_filled_says_which_flow_would_do(built: Builder) -> None:
    # the abrupt foaming filament grows 1.29 times at 210 degrees
    thin = built(wing(print={"temperature_c": 210.0, "flow": 0.7}))
    (finding,) = found(thin, "underfilled")
    assert finding.found == pytest.approx(0.7 * 1.29)
    flow = re.search(r"print\.flow to (\d\.\d+)", finding.remedy)
    assert flow is not None
    mended = built(wing(print={"temperature_c": 210.0, "flow": float(flow[1])}))
    assert found(mended, "underfilled") == []


def test_layers_that_are_over_too_soon(built: Builder) -> None:
    small = [
        {"span_mm": 0.0, "chord_mm": 25.0, "airfoil": "naca0015"},
        {"span_mm": 10.0, "chord_mm": 25.0, "airfoil": "naca0015"},
    ]
    # 50 mm of loop take 5 s at 10 mm/s
    short = built(wing(station=small))
    (finding,) = found(short, "short-layer")
    assert finding.layers == (1, 40)
    path = short.panels[0].path
    assert path is not None
    assert path.toolpath.speed_mm_s[path.toolpath.of_part] == pytest.approx(10.0)
    assert found(built(wing(station=small, filament={"least_layer_s": 4.5})), "short-layer") == []


def test_layers_that_the_nozzle_cannot_feed(built: Builder) -> None:
    slow = built(wing(print={"speed_mm_s": 100.0, "flow": 0.5}, filament={"melt_rate_mm3_s": 2.0}))
    (finding,) = found(slow, "slowed")
    path = slow.panels[0].path
    assert path is not None
    tool = path.toolpath
    assert (tool.area_mm2 * tool.flow * tool.speed_mm_s).max() <= 2.0 * (1.0 + 1e-9)
    assert finding.found is not None
    # at flow 0.5 a millimetre takes 0.05 mm3 and, where a helix begins, a quarter more
    assert 30.0 < finding.found < 40.0
    assert found(built(wing(print={"speed_mm_s": 30.0})), "slowed") == []


def test_no_path_without_a_place_for_it(built: Builder) -> None:
    build = built(wing(printer={"bed_x_mm": 100.0, "bed_y_mm": 100.0}))
    (finding,) = found(build, "no-path")
    # the error stands beside it: no second alarm for the same
    assert finding.severity == "note"
    assert [one.severity for one in build.findings if one.code == "too-big"] == ["error"]
    assert "too-big" in finding.message
    assert build.panels[0].path is None
