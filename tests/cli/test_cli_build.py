"""`wingpath build`: files, documents, exit statuses, and input that is wrong."""

from __future__ import annotations

import csv
import html
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

FILES = {
    *(
        f"panel-{n}-{hand}.{end}"
        for n in (1, 2)
        for hand in ("left", "right")
        for end in ("stl", "3mf", "gcode")
    ),
    "layers.csv",
    "report.json",
    "report.html",
    "drawing.pdf",
}

CONTRACT_COLUMNS = [
    "panel",
    "layer",
    "z_mm",
    "contours",
    "rings",
    "path_mm",
    "open_slot_mm",
    "airborne_mm",
    "step_mm",
    "verdict",
]

FINDING_KEYS = {
    *("code", "severity", "panel", "layers", "z_mm", "x_mm", "y_mm"),
    *("found", "limit", "message", "remedy"),
}


def test_a_clean_wing_ends_with_0_and_writes_the_files_of_the_contract(small: Any) -> None:
    assert small.ran.status == 0
    assert {path.name for path in small.folder.iterdir()} == FILES


def test_json_is_one_document_and_messages_go_to_stderr(small: Any) -> None:
    document = small.ran.document
    assert document["document"] == "wingpath build"
    assert document["counts"] == {"error": 0, "warning": 0, "note": len(document["findings"])}
    assert set(document["files"]) == FILES
    assert "building: 100 %" in small.ran.err


def test_progress_never_runs_backwards(small: Any) -> None:
    shares = [int(line.split("%")[0].split(":")[1]) for line in small.ran.err.splitlines()]
    assert shares == sorted(shares)
    assert len(shares) > 4


def test_the_written_report_is_the_document_of_stdout(small: Any) -> None:
    report = json.loads((small.folder / "report.json").read_text())
    shown = small.ran.document
    assert {key: shown[key] for key in report} == report
    assert set(shown) - set(report) == {"folder", "files"}


def test_report_has_its_keys(small: Any) -> None:
    report = small.ran.document
    assert {"name", "verdict", "proven", "counts", "wing", "ribs", "fittings", "print", "panels"} <= set(
        report
    )
    assert {"half_wing", "findings", "cautions", "spec", "wingpath_version", "format"} <= set(report)
    assert report["proven"] is True
    for panel in report["panels"]:
        assert {"panel", "layers", "path_m", "printed_mass_g", "footprint_mm", "files"} <= set(panel)
        assert set(panel["files"]) <= FILES
    for finding in report["findings"]:
        assert set(finding) >= FINDING_KEYS
        assert finding["severity"] in ("error", "warning", "note")
        assert finding["message"]
        assert finding["remedy"]


def test_layer_table_has_the_columns_of_the_contract_and_a_row_a_layer(small: Any) -> None:
    with (small.folder / "layers.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert list(rows[0])[: len(CONTRACT_COLUMNS)] == CONTRACT_COLUMNS
    assert [row["panel"] for row in rows] == ["panel-1"] * 80 + ["panel-2"] * 80
    assert [int(row["layer"]) for row in rows] == [*range(1, 81), *range(1, 81)]
    assert float(rows[0]["z_mm"]) == pytest.approx(0.125)
    assert {row["contours"] for row in rows} == {"1"} == {row["rings"] for row in rows}
    assert {row["verdict"] for row in rows} == {"ok"}
    total = sum(float(row["path_mm"]) for row in rows)
    assert total / 1000.0 == pytest.approx(small.ran.document["half_wing"]["path_m"], abs=1e-3)


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_right_is_the_mirror_image_of_left(small: Any, ending: str) -> None:
    for number in (1, 2):
        left, right = (
            trimesh.load(small.folder / f"panel-{number}-{hand}.{ending}", force="mesh")
            for hand in ("left", "right")
        )
        assert left.bounds[0, 2] == pytest.approx(0.0, abs=1e-6)
        assert right.volume == pytest.approx(left.volume, rel=1e-6)
        assert right.volume > 0.0
        mirrored = np.unique(np.round(right.vertices * (1, -1, 1), 4), axis=0)
        assert mirrored == pytest.approx(np.unique(np.round(left.vertices, 4), axis=0), abs=2e-4)


def test_left_hand_has_the_camber_up_and_the_nose_forward(small: Any) -> None:
    """x aft, y up, z outboard are right-handed for the left wing: aft x up = left (triple product)."""
    left = trimesh.load(small.folder / "panel-1-left.stl")
    aft, up, outboard = np.eye(3)
    assert np.dot(np.cross(aft, up), outboard) > 0.0
    # a cambered section stands out farther above its chord than below it
    assert left.bounds[1, 1] > -left.bounds[0, 1]
    # the nose, at x = 0, is the blunt end
    points = left.vertices[left.vertices[:, 2] < 0.01]
    nose, tail = points[points[:, 0] < 6.0], points[points[:, 0] > 54.0]
    assert np.ptp(nose[:, 1]) > 2.0 * np.ptp(tail[:, 1])


def test_people_read_the_verdict_the_table_and_the_caution(cli: Any, small: Any, tmp_path: Path) -> None:
    ran = cli("build", small.spec, "-o", tmp_path / "again", "--notes")
    assert ran.status == 0
    assert "each one closed bead" in ran.out
    assert "panel-2" in ran.out
    assert "Estimates until proof-loaded" in ran.out
    assert "NOTE uncalibrated" in ran.out
    assert max(map(len, ran.out.replace(str(tmp_path), "").splitlines())) <= 80


FITTED = """
[[station]]
span_mm = 0
chord_mm = 160
airfoil = "naca2414"
[[station]]
span_mm = 140
chord_mm = 160
airfoil = "naca2414"
[wing]
tip = "open"
[ribs]
run = "none"
[panels]
joints_mm = [120]
[[tab]]
thickness_mm = 3
width_mm = 18
depth_mm = 25
chord_fraction = 0.6
hole_mm = 3
hole_from_root_mm = 10
[[aileron]]
from_mm = 48
to_mm = 72
hinge_fraction = 0.75
up_deg = 25
down_deg = 15
horn_mm = 60
"""


def test_people_read_where_to_drill_to_hinge_and_to_glue(cli: Any, spec_file: Any, tmp_path: Path) -> None:
    ran = cli("build", spec_file(FITTED), "-o", tmp_path / "out", "--no-strength")
    assert ran.status == 0
    said = html.unescape((tmp_path / "out" / "report.html").read_text(encoding="utf-8"))
    report = json.loads((tmp_path / "out" / "report.json").read_text())["fittings"]
    (surface,), (joint,) = report["control_surfaces"], report["joints"]
    free = (surface["free_up_deg"], surface["free_down_deg"])
    # the wedge leans back by the wanted travel and the gap lets it go farther
    assert free[0] > 25.0
    assert free[1] > 15.0
    assert (
        f"turns {free[0]:.0f} deg up and {free[1]:.0f} deg down before it touches (wanted 25 and 15)" in said
    )
    # the hinge lies at 120 mm, the horn one gap of a millimetre behind it
    assert "horn at span 60, 121.0 mm behind the root's leading edge" in said
    assert "tab[0]: drill 3 mm at 10 mm from the root, 96.0 mm behind the root's leading edge" in said
    # once round the section, which is 14 per cent thick: a little over two chords, less the bead's corners
    assert 2.0 * 160.0 < joint["glue_line_mm"] < 2.2 * 160.0
    assert joint["glue_area_mm2"] == pytest.approx(0.45 * joint["glue_line_mm"], rel=1e-4)
    assert f"Joint at 120 mm: glue line {joint['glue_line_mm']:.0f} mm long" in said


def test_notes_are_counted_unless_asked_for(cli: Any, small: Any, tmp_path: Path) -> None:
    ran = cli("build", small.spec, "-o", tmp_path / "again")
    assert "notes, shown with --notes" in ran.out
    assert "NOTE" not in ran.out


def test_an_error_is_written_all_the_same_and_ends_with_1(
    cli: Any, spec_file: Any, too_high_spec: str, tmp_path: Path
) -> None:
    ran = cli("build", spec_file(too_high_spec), "-o", tmp_path / "out")
    assert ran.status == 1
    assert "do not print this wing as it is" in ran.out
    assert "ERROR too-big (panel-1" in ran.out
    assert "What to do" in ran.out
    assert (tmp_path / "out" / "panel-1-left.stl").is_file()


def test_an_error_in_json(cli: Any, spec_file: Any, too_high_spec: str, tmp_path: Path) -> None:
    ran = cli("build", spec_file(too_high_spec), "-o", tmp_path / "out", "--json")
    assert ran.status == 1
    (finding,) = [f for f in ran.document["findings"] if f["severity"] == "error"]
    assert finding["code"] == "too-big"
    assert finding["found"] == pytest.approx(45.0)
    assert finding["limit"] == pytest.approx(40.0)
    assert ran.document["counts"]["error"] == 1


@pytest.mark.parametrize("hand", ["left", "right"])
def test_one_hand_only(cli: Any, spec_file: Any, small_spec: str, tmp_path: Path, hand: str) -> None:
    ran = cli("build", spec_file(f'{small_spec}\n[wing]\nhand = "{hand}"\n'), "-o", tmp_path / "out")
    assert ran.status == 0
    stems = {path.stem for path in (tmp_path / "out").glob("*.stl")}
    assert stems == {f"panel-1-{hand}", f"panel-2-{hand}"}


def test_the_folder_is_named_like_the_spec_by_default(small: Any) -> None:
    assert small.folder == small.spec.with_suffix("")
    assert small.ran.document["folder"] == str(small.folder)


# ------------------------------------------------------------------ input that is wrong


def refused(ran: Any, status: int, *words: str) -> None:
    """Nothing on stdout, one message on stderr, no traceback."""
    assert ran.status == status, ran.err
    assert ran.out == ""
    assert "Traceback" not in ran.err
    for word in words:
        assert word in ran.err


def test_a_missing_spec(cli: Any, tmp_path: Path) -> None:
    refused(cli("build", tmp_path / "nowhere.toml"), 3, "nowhere.toml", "no such file")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_as_spec(cli: Any, tmp_path: Path) -> None:
    refused(cli("build", tmp_path), 3, "not a file")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("this is no TOML at all", ("line 1",)),
        ("[[station]\nspan_mm = 0", ("line 1",)),
        ("", ("station",)),
        ("name = 5", ("name", "got 5", "station")),
    ],
)
def test_rubbish(cli: Any, spec_file: Any, text: str, words: tuple[str, ...], tmp_path: Path) -> None:
    refused(cli("build", spec_file(text), "--json"), 2, "wing.toml", *words)
    assert [path.name for path in tmp_path.iterdir()] == ["wing.toml"]


def test_bytes_that_are_no_text(cli: Any, tmp_path: Path) -> None:
    (tmp_path / "wing.toml").write_bytes(b"\xff\xfe\x00\x81" * 9)
    refused(cli("build", tmp_path / "wing.toml"), 2, "UTF-8")


def test_an_unknown_key_names_the_nearest(cli: Any, spec_file: Any, small_spec: str) -> None:
    ran = cli("build", spec_file(small_spec.replace("pitch_mm", "ptich_mm")))
    refused(ran, 2, "ribs.ptich_mm", "pitch_mm")
    assert "Did you mean" in ran.err or "nearest" in ran.err or "pitch_mm" in ran.err.split("ptich_mm", 1)[1]


def test_all_problems_are_told_at_once(cli: Any, spec_file: Any) -> None:
    text = """
    [[station]]
    span_mm = 0
    chord_mm = "wide"
    [[station]]
    span_mm = 40
    chord_mm = -3
    [ribs]
    run = "sideways"
    [slots]
    neck_mm = 0.3
    [nonsense]
    """
    ran = cli("build", spec_file(text))
    refused(ran, 2, "station[0].chord_mm", "station[1].chord_mm", "ribs.run", "nonsense")
    assert ran.err.count("got ") >= 4
    assert ran.err.count("allowed: ") >= 4


def test_what_cannot_be_printed_names_both_culprits(cli: Any, spec_file: Any, small_spec: str) -> None:
    tube = "\n[[tube]]\nouter_mm = 6\nfrom_mm = 0\nto_mm = 30\nchord_fraction = 0.3\n"
    refused(cli("build", spec_file(small_spec + tube)), 2, "tube[0]", "station[", "mm")


def test_an_airfoil_that_does_not_exist(cli: Any, spec_file: Any, small_spec: str) -> None:
    ran = cli("build", spec_file(small_spec.replace("naca2412", "naca2421x")))
    assert ran.status in (2, 3)
    refused(ran, ran.status, "station[0].airfoil", "naca2421x")


def test_wrong_usage(cli: Any, small: Any) -> None:
    refused(cli("build"), 2, "Missing argument")
    refused(cli("build", small.spec, "--frobnicate"), 2, "--frobnicate")
    refused(cli("frobnicate"), 2, "frobnicate")


def test_a_fault_of_our_own_is_one_line_and_no_documented_status(
    cli: Any, small: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def broken(*_a: object, **_k: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.delenv("WINGPATH_TRACEBACK", raising=False)
    monkeypatch.setattr("wingpath.pipeline.design.design_wing", broken)
    ran = cli("build", small.spec, "-o", tmp_path / "x")
    refused(ran, 70, "a fault of wingpath itself", "ZeroDivisionError", "report it")
    assert len(ran.err.strip().splitlines()) == 1
    assert not math.isnan(ran.status)
