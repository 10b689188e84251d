"""Whatever wing, bed and settings: one bead from first to last, on the bed, on the proven layers."""

from __future__ import annotations

import os
import re
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, note, settings
from hypothesis import strategies as st

from wingpath import InputError, build_wing, spec_from_dict
from wingpath.io.gcode import gcode_chunks
from wingpath.io.spec_toml import dump_spec
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.writing import gcode_job

EXAMPLES = 200 if os.environ.get("HYPOTHESIS_PROFILE") == "thorough" else 14
"""Each example is a build of half a second to a second, and its files are read."""

DIGIT_MM = 1e-3
"""Places are written to a micrometre."""

BED_SLACK_MM = 5e-3
"""A part is placed to a micrometre, and its outline was straightened by 0.003 mm."""


def number(low: float, high: float, digits: int = 2) -> st.SearchStrategy[float]:
    return st.integers(0, 1000).map(lambda step: round(low + (high - low) * step / 1000, digits))


@st.composite
def printed_wings(draw: st.DrawFn) -> dict[str, Any]:
    span, chord = draw(number(12.0, 60.0)), draw(number(50.0, 190.0))
    bead = draw(number(0.36, 0.8))
    sweep = draw(number(-0.5, 0.6))
    arcs, helical = draw(st.booleans()), draw(st.booleans())
    temperature = draw(st.integers(205, 255))
    bed = draw(st.integers(215, 420))
    data: dict[str, Any] = {
        "station": [
            {"span_mm": 0.0, "chord_mm": chord, "airfoil": "naca2412"},
            {
                "span_mm": span,
                "chord_mm": round(chord * draw(number(0.6, 1.0)), 2),
                "leading_edge_mm": round(sweep * span, 2),
                "airfoil": draw(st.sampled_from(["naca0012", "naca4415", "naca23012"])),
            },
        ],
        "wing": {"tip": draw(st.sampled_from(["open", "closed"]))},
        "ribs": {"run": draw(st.sampled_from(["both", "aft", "none"])), "pitch_mm": draw(number(25.0, 50.0))},
        "slots": {"width_mm": round(0.1 * bead, 3)},
        "panels": {"joints_mm": []},
        "print": {
            "bead_mm": bead,
            "layer_mm": round(bead * draw(number(0.4, 0.75)), 3),
            "style": "helical" if helical else "stepped",
            "flat_layers": draw(st.integers(1, 6)),
            "path_tolerance_mm": draw(st.sampled_from([0.005, 0.02, 0.05])),
            "brim_mm": draw(st.sampled_from([None, 0.0, 1.0, 5.0, 20.0])),
            "brim_gap_mm": draw(st.sampled_from([0.0, 0.0, 0.15])),
            "speed_mm_s": draw(number(10.0, 120.0)),
            "temperature_c": float(temperature),
            "unfoamed_mm": draw(st.sampled_from([0.0, 0.0, 1.0, 5.0])),
            "flow": draw(number(0.45, 0.9)),
        },
        "printer": {
            "bed_x_mm": float(bed),
            "bed_y_mm": float(draw(st.integers(215, 420))),
            "height_mm": 80.0,
            "bed_origin": draw(st.sampled_from(["corner", "centre"])),
            "filament_by_move": draw(st.booleans()),
            "arcs": arcs,
            "filament_diameter_mm": draw(st.sampled_from([1.75, 2.85])),
        },
    }
    if draw(st.booleans()):
        data["tube"] = [{"outer_mm": 4.0, "to_mm": span, "chord_fraction": 0.3}]
    return data


def built_or_refused(data: dict[str, Any]) -> WingBuild | None:
    if "tube" not in data:
        return build_wing(spec_from_dict(data))
    # a tube in a thin wing is refused with words, which is another test's matter
    try:
        return build_wing(spec_from_dict(data))
    except InputError:
        return None


WORDS = re.compile(r"([XYZEIJF])(-?\d+\.?\d*)")


def moves_of(text: str) -> np.ndarray:
    """Read a program that this project wrote: x, y, z reached and filament pushed, a row a move."""
    place = {"X": np.nan, "Y": np.nan, "Z": np.nan}
    relative, counted = True, 0.0
    rows = []
    for line in text.splitlines():
        words = dict(WORDS.findall(line.split(";")[0]))
        if line in ("M82", "M83"):
            relative = line == "M83"
        elif line == "G92 E0":
            counted = 0.0
        elif re.match(r"G[0-3] ", line):
            place |= {axis: float(words[axis]) for axis in "XYZ" if axis in words}
            pushed = float(words.get("E", 0.0 if relative else counted))
            rows.append((*place.values(), pushed if relative else pushed - counted))
            counted = counted if relative else pushed
    return np.array(rows)


def program(build: WingBuild, part: PanelResult, hand: str) -> np.ndarray:
    job = gcode_job(build, part, hand)
    assert job is not None
    return moves_of("".join(gcode_chunks(job)))


@settings(max_examples=EXAMPLES)
@given(printed_wings())
def test_one_bead_on_the_bed(data: dict[str, Any]) -> None:
    build = built_or_refused(data)
    if build is None:
        return
    note(dump_spec(build.design.spec))
    printer, print_ = build.design.printer, build.design.spec.print
    for part in build.parts:
        stopped = {f.code for f in part.findings} & {"second-contour", "pinch", "too-big", "empty-layer"}
        if part.path is None:
            assert stopped
            continue
        assert not stopped
        half = 0.5 * print_.bead_mm
        middle = np.array(printer.centre_mm)
        usable = 0.5 * np.array([printer.usable_x_mm, printer.usable_y_mm])
        sides = []
        for hand in ("left", "right"):
            moves = program(build, part, hand)
            fed = np.flatnonzero(moves[:, 3] > 0.0)
            bead = moves[fed[0] : fed[-1] + 1]
            assert np.all(bead[:, 3] > 0.0)
            assert np.diff(bead[:, 2]).min() >= 0.0
            assert np.all(np.abs(bead[:, :2] - middle) + half <= usable + BED_SLACK_MM)
            assert bead[-1, 2] == pytest.approx(len(part.continuity.layers) * print_.layer_mm, abs=DIGIT_MM)
            assert bead[:, 3].sum() == pytest.approx(part.path.filament_mm, rel=1e-5)
            sides.append(bead)
        across = sides[0] * [1.0, -1.0, 1.0, 1.0] + [0.0, 2.0 * middle[1], 0.0, 0.0]
        assert sides[1] == pytest.approx(across, abs=2.0 * DIGIT_MM)


@settings(max_examples=EXAMPLES)
@given(printed_wings())
def test_the_path_is_the_proven_one(data: dict[str, Any]) -> None:
    build = built_or_refused(data)
    if build is None:
        return
    note(dump_spec(build.design.spec))
    print_ = build.design.spec.print
    for part in build.parts:
        if part.path is None:
            continue
        tool, layers = part.path.toolpath, part.continuity.layers
        assert part.path.tolerance_mm <= print_.path_tolerance_mm
        for layer in np.unique(np.linspace(0, len(layers) - 1, 7).astype(int)).tolist():
            rows = np.flatnonzero(tool.layer == layer)
            loop = shapely.LineString(tool.points[rows[0] : rows[-1] + 2, :2])
            ring = layers.paths[layer].exterior
            # it starts where the layers said it would, after a step from the layer below
            begin = tool.points[rows[0] : rows[0] + 2, :2]
            assert np.linalg.norm(begin - part.continuity.starts[layer], axis=1).min() <= 2.0 * DIGIT_MM
            # the loop may begin with that step, which is shorter than a bead
            away = shapely.distance(shapely.points(tool.points[rows[0] + 1 : rows[-1] + 2, :2]), ring)
            assert away.max() <= part.path.tolerance_mm + 1e-6
            spots = shapely.line_interpolate_point(ring, np.linspace(0.0, ring.length, 400))
            assert shapely.distance(spots, loop).max() <= part.path.tolerance_mm + 1e-6
        # from loop to loop the nozzle steps by less than the width of its bead
        assert part.continuity.step_mm.max() < print_.bead_mm
        fastest = tool.length_mm / tool.speed_mm_s
        assert np.all(part.path.seconds >= fastest * (1.0 - 1e-9))
        cap = build.design.filament.melt_rate_mm3_s
        assert np.all(tool.area_mm2 * tool.flow * tool.speed_mm_s <= cap * (1.0 + 1e-9))
