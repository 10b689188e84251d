"""Which parts get a program, and what the report says of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from programs import (
    ROUND_MM,
    Program,
    job_of,
    program_of,
)
from shapes import BEAD_MM, layers_of, prism
from tiny_wing import (
    DENSITY,
    FILAMENT_AREA,
    TINY,
    Build,
    tiny,
)

from wingpath import WingBuild, build_document, write_build
from wingpath.build.continuity import judge_layers
from wingpath.io.gcode import gcode_chunks, write_gcode
from wingpath.pipeline.tracing import trace_part
from wingpath.pipeline.writing import gcode_job

# --- files, and parts without a path -----------------------------------------------------------------


def test_every_part_and_hand_gets_its_file(small_build: WingBuild, tmp_path: Path) -> None:
    files = write_build(small_build, tmp_path / "out")
    names = sorted(path.name for path in files if path.suffix == ".gcode")
    assert names == [f"panel-{n}-{hand}.gcode" for n in (1, 2) for hand in ("left", "right")]
    for number in (0, 1):
        for hand in ("left", "right"):
            path = tmp_path / "out" / f"panel-{number + 1}-{hand}.gcode"
            job = job_of(small_build, number, hand)
            assert path.read_bytes() == "".join(gcode_chunks(job)).encode("ascii")
            assert write_gcode(tmp_path / "again.gcode", job) == path.stat().st_size
    document = build_document(small_build, spec_name="small")
    assert set(names) <= {name for panel in document["panels"] for name in panel["files"]}
    assert document["printing"]["files"] == 4
    seconds = sum(panel.path.time_s for panel in small_build.panels if panel.path is not None)
    assert document["printing"]["print_time_s"] == pytest.approx(2.0 * seconds, abs=0.1)


def test_the_report_and_the_file_agree(
    small_build: WingBuild, small_programs: dict[tuple[int, str], Program]
) -> None:
    document = build_document(small_build, spec_name="small")
    for number, panel in enumerate(document["panels"]):
        program, said = small_programs[number, "left"], panel["printing"]
        assert said["moves"] == len(program.line)
        assert said["style"] == "helical"
        assert said["flat_layers"] == 3
        assert said["filament_mm"] == pytest.approx(program.filament_mm.sum(), abs=1e-4)
        assert said["extruded_mass_g"] == pytest.approx(
            program.filament_mm.sum() * FILAMENT_AREA * DENSITY / 1000.0, abs=1e-4
        )
        assert said["spool_share"] == pytest.approx(said["extruded_mass_g"] / 750.0, abs=1e-4)
        assert said["lead_in_mm"] == pytest.approx(
            program.length_mm[program.layer == -2].sum(), abs=4.0 * ROUND_MM
        )
        assert said["brim_path_mm"] == pytest.approx(program.length_mm[program.layer == -1].sum(), rel=1e-4)
        assert said["slowest_mm_s"] == pytest.approx(program.speed_mm_s.min(), abs=0.01)
        assert said["fastest_mm_s"] == pytest.approx(program.speed_mm_s.max(), abs=0.01)
        assert said["first_temperature_c"] == 230.0
        assert said["first_flow"] == 0.5


def no_path(build: WingBuild) -> str:
    """Return what is said about the one part without a path."""
    (finding,) = [finding for finding in build.findings if finding.code == "no-path"]
    assert finding.severity == "note"
    assert finding.panel == "panel-1"
    assert build.parts[0].path is None
    assert gcode_job(build, build.parts[0], "left") is None
    return finding.message


def test_a_part_too_big_for_the_bed_gets_no_file(built: Build, tmp_path: Path) -> None:
    # 40 mm of chord do not fit onto 24 x 24 mm, not even crosswise
    build = built(tiny(printer={"bed_x_mm": 40.0, "bed_y_mm": 40.0, "margin_mm": 8.0}))
    assert "too-big" in no_path(build)
    files = write_build(build, tmp_path / "out")
    assert {path.name for path in files} == {
        *(f"panel-1-{hand}.{ending}" for hand in ("left", "right") for ending in ("stl", "3mf")),
        *("layers.csv", "report.json", "report.html", "drawing.pdf"),
    }
    document = build_document(build, spec_name="tiny")
    assert not any(name.endswith("gcode") for name in document["panels"][0]["files"])
    assert document["panels"][0]["printing"] is None
    assert document["printing"]["files"] == 0


def test_a_part_too_high_gets_no_file_and_the_others_do(built: Build, tmp_path: Path) -> None:
    data = tiny(printer={"height_mm": 40.0}, panels={"joints_mm": [41.0]})
    data["station"] = [TINY["station"][0], {**TINY["station"][1], "span_mm": 52.0}]
    build = built(data)
    assert "too-big" in no_path(build)
    names = {path.name for path in write_build(build, tmp_path / "out") if path.suffix == ".gcode"}
    assert names == {"panel-2-left.gcode", "panel-2-right.gcode"}


SECOND: dict[str, tuple[shapely.Geometry, str]] = {
    "a tube": (shapely.box(0, 0, 30, 10) - shapely.box(4, 4, 26, 6), "second-contour"),
    "two posts": (shapely.box(0, 0, 10, 10) | shapely.box(15, 0, 25, 10), "second-contour"),
    # a waist of half a bead
    "a waist": (
        shapely.box(0, 0, 10, 10) | shapely.box(9, 4.9, 16, 5.1) | shapely.box(15, 0, 25, 10),
        "pinch",
    ),
}


@pytest.mark.parametrize("name", SECOND)
def test_a_part_of_more_than_one_ring_has_no_path(built: Build, tmp_path: Path, name: str) -> None:
    region, code = SECOND[name]
    build = built(TINY)
    judged = judge_layers(layers_of(prism(region, 3.0)), build.design.limits, strict=True)
    path, found = trace_part(build.design.print_setup, judged, judged.findings)
    assert path is None
    assert [finding.code for finding in found] == ["no-path"]
    assert code in found[0].message
    # even if nobody had found anything, there is no loop to follow
    unsaid, (warned,) = trace_part(build.design.print_setup, judged, ())
    assert unsaid is None
    # an error that stands beside it is alarm enough; without one it is told aloud
    assert (found[0].severity, warned.severity) == ("note", "warning")
    part = replace(build.panels[0], path=path, findings=found)
    files = write_build(replace(build, panels=(part,)), tmp_path / "out")
    assert not [path for path in files if path.suffix == ".gcode"]


def test_one_ring_has_a_path_beside_the_others(built: Build) -> None:
    """The counterpart of the refusals above: the same plain solid in one piece."""
    build = built(TINY)
    judged = judge_layers(layers_of(prism(shapely.box(0, 0, 30, 10), 3.0)), build.design.limits, strict=True)
    path, found = trace_part(build.design.print_setup, judged, judged.findings)
    assert path is not None
    assert "no-path" not in [finding.code for finding in found]


def test_a_bed_too_small_for_the_brim_gets_a_narrower_one(built: Build) -> None:
    small = {"bed_x_mm": 48.0, "bed_y_mm": 40.0, "margin_mm": 3.0, "bed_origin": "centre"}
    build = built(tiny(printer=small, print={"brim_mm": 8.0}))
    (finding,) = [finding for finding in build.findings if finding.code == "brim-cut"]
    assert finding.severity == "warning"
    assert finding.limit == 8.0
    assert finding.found is not None
    assert finding.found < 8.0
    for hand in ("left", "right"):
        program = program_of(build, 0, hand)
        assert program.header["brim"].startswith(f"{finding.found:.1f} mm")
        reach = np.abs(program.points[:, :2]).max(axis=0)
        # half a bead inside the margins
        assert np.all(reach <= np.array([21.0, 17.0]) - 0.5 * BEAD_MM + ROUND_MM + 1e-3)
