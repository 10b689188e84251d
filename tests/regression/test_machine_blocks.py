"""Where the blocks before and after a print take the nozzle, and that they are shown."""

from __future__ import annotations

from typing import Any

import pytest
from tiny_wing import Build, tiny

from wingpath import build_wing, spec_from_dict
from wingpath.io.profile_store import list_profiles
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page

TOP_MM = 8.0
"""Height of the tiny wing."""


def strays(built: Build, **printer: Any) -> list[tuple[str, str, float | None]]:
    found = [one for one in built(tiny(printer=printer)).findings if one.code == "block-off-bed"]
    return [(one.severity, one.message, one.found) for one in found]


@pytest.mark.parametrize(
    ("line", "severity", "words", "value"),
    [
        ("G28\nG1 X-12 Y5", "warning", "line 2 of printer.start_block takes the nozzle to X = -12", -12),
        ("G0 X500", "warning", "from 0 to 220 mm", 500),
        ("G90 G1 Y-3", "warning", "Y = -3.00", -3),
        ("G1 Z251", "warning", "from 0 to 250 mm", 251),
        ("G1 Z-0.5", "error", "into the bed", -0.5),
        ("G91\nG1 Z-0.5", "error", "line 2 of", -0.5),
        ("G91\nG1 X-200", "warning", "X = -90.00", -90),
        ("g1x-12", "warning", "X = -12.00", -12),
        ("N5 G1 X-12*33", "warning", "line 1 of", -12),
        ("G1 X200 Y100\nG2 X200 Y100 I30 J0", "warning", "X = 260.00", 260),
        ("G1 X-12\nG1 X-30\nG1 X-13", "warning", "nozzle to X = -30.00", -30),
    ],
)  # fmt: skip
def test_a_start_block_that_leaves_the_bed_is_told_by_its_line(
    built: Build, line: str, severity: str, words: str, value: float
) -> None:
    (told,) = strays(built, start_block=line, height_mm=250.0)
    assert told[0] == severity
    assert words in told[1]
    assert told[2] == pytest.approx(value)


def test_other_lines_are_counted(built: Build) -> None:
    assert strays(built, start_block="G1 X-12\nG1 X-30\nG1 X-13")[0][1].endswith("so do 2 other lines")
    assert strays(built, start_block="G1 X-12\nG1 X-30")[0][1].endswith("so does 1 other line")
    # a line that only moves up is not to blame for where the one before it went
    assert "other line" not in strays(built, start_block="G1 X-12\nG1 Z5")[0][1]


def test_an_end_block_begins_at_the_top_of_the_part(built: Build) -> None:
    assert strays(built, end_block="G91\nG1 Z-5", height_mm=50.0) == []
    (down,) = strays(built, end_block="G91\nG1 Z-9", height_mm=50.0)
    assert down[0] == "error"
    assert "printer.end_block" in down[1]
    assert down[2] == pytest.approx(TOP_MM - 9.0)
    limits = [
        one.limit
        for block in ("G91\nG1 Z-9", "G91\nG1 Z45", "G1 X-0.06", "G1 Y220.06")
        for one in built(tiny(printer={"end_block": block, "height_mm": 50.0})).findings
        if one.code == "block-off-bed"
    ]
    assert limits == [0.0, 50.0, 0.0, 220.0]
    (up,) = strays(built, end_block="G91\nG1 Z45", height_mm=50.0)
    assert up[2] == pytest.approx(TOP_MM + 45.0)


@pytest.mark.parametrize(
    "block",
    [
        "",
        "G28",
        "; G1 X-50",
        "M117 G1 X-50",
        "G1 X0 Y220 Z0",
        "G1 X-0.04",
        "G4 P500\nM84",
        "G1 X{prime_start_x_mm} Y{prime_y_mm} Z{layer_mm}",
    ],
)
def test_blocks_that_stay_on_the_bed_are_not_questioned(built: Build, block: str) -> None:
    assert strays(built, start_block=block, end_block=block) == []


def test_a_bed_counted_from_its_middle(built: Build) -> None:
    assert strays(built, start_block="G1 X-110 Y-110", bed_origin="centre") == []
    assert strays(built, start_block="G1 X112", bed_origin="centre")[0][2] == pytest.approx(112.0)


@pytest.mark.parametrize("name", [entry.name for entry in list_profiles("printers")])
def test_the_shipped_blocks_stay_on_their_beds(name: str) -> None:
    build = build_wing(spec_from_dict(tiny(printer={"profile": name})))
    assert "block-off-bed" not in {finding.code for finding in build.findings}


def test_the_blocks_are_shown_as_they_are_sent_without_markup(built: Build) -> None:
    start = "G21\nM109 S{temperature_c}\n; <b>bold</b> <script>alert(1)</script>"
    build = built(tiny(printer={"start_block": start, "end_block": "G1 Z{end_z_mm}"}))
    document = report_document(build, spec_name="tiny.toml", why_not="not asked")
    assert document["printing"]["start_block"] == start.replace("{temperature_c}", "230")
    assert document["printing"]["end_block"] == "G1 Z13"
    page = build_page(build, document)
    assert "M109 S230\n; &lt;b&gt;bold&lt;/b&gt; &lt;script&gt;alert(1)&lt;/script&gt;</pre>" in page
    assert "G1 Z13</pre>" in page
    assert "alert(1)</script>" not in page


def test_a_printer_without_blocks_shows_none(built: Build) -> None:
    build = built(tiny(printer={"start_block": "", "end_block": ""}))
    page = build_page(build, report_document(build, spec_name="tiny.toml", why_not="not asked"))
    assert "sent before and after" not in page


def test_the_end_block_is_followed_from_the_highest_part(built: Build) -> None:
    stations = [{"span_mm": z, "chord_mm": 40.0, "airfoil": "naca2412"} for z in (0.0, 24.0)]
    data = tiny(printer={"end_block": "G91\nG1 Z36", "height_mm": 50.0})
    # parts of 8 and 16 mm
    build = built({**data, "station": stations, "panels": {"joints_mm": [8.0]}})
    (one,) = [finding for finding in build.findings if finding.code == "block-off-bed"]
    assert one.found == pytest.approx(52.0)
