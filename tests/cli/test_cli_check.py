"""`wingpath check`: any mesh, every option, and files that are no mesh."""

from __future__ import annotations

import csv
import errno
import os
import re
from pathlib import Path
from typing import Any

import pytest
import trimesh

PNG = b"\x89PNG\r\n\x1a\n"

BY_DESIGN = {"loose-rib", "thin-lost"}
"""`build` knows that a rib which is growing does not reach the far skin yet and that a closed tip ends
thin, and only notes it; a mesh alone does not tell, so `check` warns."""


def warnings_of(document: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in document["findings"] if finding["severity"] == "warning"}


@pytest.fixture(scope="session")
def meshes(small: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """One written panel in every format, and meshes that do not print."""
    folder = tmp_path_factory.mktemp("meshes")
    binary = small.folder / "panel-1-left.stl"
    panel = trimesh.load(binary)
    found = {"binary": binary, "3mf": small.folder / "panel-1-left.3mf"}
    for name, kind in (("text", "stl_ascii"), ("obj", "obj")):
        found[name] = folder / f"panel.{'stl' if kind == 'stl_ascii' else kind}"
        panel.export(found[name], file_type=kind)
    tube = trimesh.creation.annulus(r_min=4.0, r_max=9.0, height=5.0)
    tube.export(folder / "tube.stl")
    found["tube"] = folder / "tube.stl"
    inches = panel.copy()
    inches.apply_scale(1.0 / 25.4)
    inches.export(folder / "inches.stl")
    found["inches"] = folder / "inches.stl"
    lying = panel.copy()
    # z up becomes x up: y takes the place of x, z that of y
    lying.vertices = lying.vertices[:, [2, 0, 1]]
    lying.export(folder / "lying.stl")
    found["lying"] = folder / "lying.stl"
    open_box = trimesh.creation.box((20.0, 10.0, 5.0))
    open_box.update_faces([face != 0 for face in range(len(open_box.faces))])
    open_box.export(folder / "open.stl")
    found["open"] = folder / "open.stl"
    return found


@pytest.mark.parametrize("kind", ["binary", "text", "3mf", "obj"])
def test_our_own_panel_is_clean_in_every_format(
    cli: Any, meshes: dict[str, Path], small: Any, kind: str
) -> None:
    ran = cli("check", meshes[kind], "--json")
    assert ran.status == 0
    document = ran.document
    assert document["counts"]["error"] == 0
    assert warnings_of(document) <= BY_DESIGN
    (mesh,) = document["meshes"]
    panel = small.ran.document["panels"][0]
    assert mesh["proven"] is True
    assert mesh["layers"] == mesh["layers_of_one_bead"] == panel["layers"] == 80
    assert mesh["path_m"] == pytest.approx(panel["path_m"], rel=1e-3)
    assert mesh["volume_mm3"] == pytest.approx(panel["solid_volume_mm3"], rel=1e-4)
    assert mesh["open_edges"] == 0
    assert mesh["bodies"] == 1


def test_every_written_panel_is_clean(cli: Any, small: Any) -> None:
    files = sorted(small.folder.glob("panel-*.stl"))
    assert len(files) == 4
    ran = cli("check", *files, "--json")
    assert ran.status == 0
    document = ran.document
    assert [mesh["proven"] for mesh in document["meshes"]] == [True] * 4
    assert warnings_of(document) <= BY_DESIGN
    # no warning where build has nothing to note
    noted = {(f["panel"], f["code"]) for f in small.ran.document["findings"]}
    warned = {(f["panel"][:7], f["code"]) for f in document["findings"] if f["severity"] == "warning"}
    assert warned <= noted


def test_people_read_a_line_a_mesh(cli: Any, small: Any) -> None:
    ran = cli("check", small.folder / "panel-1-left.stl", small.folder / "panel-1-right.stl")
    assert ran.status == 0
    assert ran.out.count("Every layer is one closed bead") == 2
    assert "ERROR" not in ran.out


def test_a_hole_is_an_error_and_ends_with_1(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["tube"])
    assert ran.status == 1
    assert "0 of 20 layers are one closed bead" in ran.out
    assert "ERROR second-contour (tube.stl, layers 1 to 20" in ran.out


def test_findings_have_the_keys_of_the_contract(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["tube"], "--json")
    assert ran.status == 1
    (finding,) = [f for f in ran.document["findings"] if f["severity"] == "error"]
    assert finding["code"] == "second-contour"
    assert finding["panel"] == "tube.stl"
    assert finding["layers"] == [1, 20]
    assert finding["found"] == 2.0
    assert finding["limit"] == 1.0
    assert all(isinstance(finding[axis], float) for axis in ("z_mm", "x_mm", "y_mm"))
    assert finding["message"]
    assert finding["remedy"]


def test_several_meshes_stand_in_one_document(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["binary"], meshes["tube"], "--json")
    assert ran.status == 1
    document = ran.document
    assert [Path(mesh["file"]).name for mesh in document["meshes"]] == ["panel-1-left.stl", "tube.stl"]
    assert [mesh["proven"] for mesh in document["meshes"]] == [True, False]
    assert {finding["panel"] for finding in document["findings"] if finding["severity"] == "error"} == {
        "tube.stl"
    }


def test_an_open_mesh_is_judged_where_it_can_be(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["open"], "--json")
    assert ran.status == 1
    assert "open-mesh" in {finding["code"] for finding in ran.document["findings"]}
    assert ran.document["meshes"][0]["proven"] is False
    assert ran.document["meshes"][0]["open_edges"] == 3


def test_scale_brings_inches_back(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["inches"], "--scale", "25.4", "--json")
    assert ran.status == 0
    assert ran.document["meshes"][0]["layers"] == 80
    assert ran.document["meshes"][0]["size_mm"][2] == pytest.approx(20.0, abs=1e-3)


def test_up_turns_a_lying_panel(cli: Any, meshes: dict[str, Path]) -> None:
    upright = cli("check", meshes["lying"], "--up", "x", "--json")
    assert upright.status == 0
    assert upright.document["meshes"][0]["layers"] == 80
    lying = cli("check", meshes["lying"], "--json")
    assert lying.document["meshes"][0]["layers"] != 80


def test_layer_and_bead_are_options(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["binary"], "--layer-mm", "0.2", "--bead-mm", "0.4", "--json")
    (mesh,) = ran.document["meshes"]
    assert (mesh["layers"], mesh["layer_mm"], mesh["bead_mm"]) == (100, 0.2, 0.4)


def test_slots_stay_open_when_the_bead_bridges_nothing(cli: Any, meshes: dict[str, Path]) -> None:
    ran = cli("check", meshes["binary"], "--slot-bond-mm", "0.02", "--json")
    assert ran.status == 0
    codes = {(finding["code"], finding["severity"]) for finding in ran.document["findings"]}
    assert ("open-slot", "warning") in codes


def test_csv_holds_a_row_a_layer(cli: Any, meshes: dict[str, Path], tmp_path: Path) -> None:
    ran = cli("check", meshes["tube"], "--csv", tmp_path / "layers.csv")
    assert ran.status == 1
    with (tmp_path / "layers.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 20
    assert rows[0]["contours"] == "2"
    assert {row["verdict"] for row in rows} == {"second-contour"}


@pytest.mark.parametrize(("ending", "start"), [("png", PNG), ("svg", b"<"), ("SVG", b"<")])
def test_picture_of_the_worst_layer(
    cli: Any, meshes: dict[str, Path], tmp_path: Path, ending: str, start: bytes
) -> None:
    picture = tmp_path / f"worst.{ending}"
    assert cli("check", meshes["tube"], "--picture", picture).status == 1
    data = picture.read_bytes()
    assert data.startswith(start)
    assert len(data) > 1000


def test_other_pictures_are_refused_before_anything_is_read(cli: Any, tmp_path: Path) -> None:
    ran = cli("check", tmp_path / "nowhere.stl", "--picture", tmp_path / "worst.jpg")
    assert ran.status == 2
    assert ".png or .svg" in ran.err


@pytest.mark.parametrize("option", ["--csv", "--picture"])
def test_files_are_not_overwritten_without_force(
    cli: Any, meshes: dict[str, Path], tmp_path: Path, option: str
) -> None:
    target = tmp_path / "mine.svg"
    target.write_text("mine")
    ran = cli("check", meshes["tube"], option, target)
    assert ran.status == 2
    assert "--force" in ran.err
    assert target.read_text() == "mine"
    assert cli("check", meshes["tube"], option, target, "--force").status == 1
    assert target.read_bytes() != b"mine"


def test_one_name_for_two_files_is_refused(cli: Any, meshes: dict[str, Path], tmp_path: Path) -> None:
    both = tmp_path / "both.png"
    ran = cli("check", meshes["tube"], "--csv", both, "--picture", both)
    assert ran.status == 2
    assert "another name" in ran.err
    before = meshes["tube"].read_bytes()
    ran = cli("check", meshes["tube"], "--csv", meshes["tube"], "--force")
    assert ran.status == 2
    assert meshes["tube"].read_bytes() == before


def test_a_folder_that_does_not_exist(cli: Any, meshes: dict[str, Path], tmp_path: Path) -> None:
    ran = cli("check", meshes["tube"], "--csv", tmp_path / "nowhere" / "layers.csv")
    assert ran.status == 3
    assert ran.out == ""
    assert "layers.csv" in ran.err


def test_a_failing_picture_leaves_no_table(
    cli: Any, meshes: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_a: object, **_k: object) -> bytes:
        raise ValueError("cannot draw")

    monkeypatch.setattr("wingpath.pipeline.drawing.worst_layer_picture", broken)
    ran = cli("check", meshes["tube"], "--csv", tmp_path / "a.csv", "--picture", tmp_path / "a.png")
    assert ran.status == 70
    assert list(tmp_path.iterdir()) == []


def test_a_failing_write_leaves_nothing_half_written(
    cli: Any, meshes: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_a: object, **_k: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "a.csv").write_text("mine")
    monkeypatch.setattr("wingpath.io.output_folder.os.replace", full)
    ran = cli("check", meshes["tube"], "--csv", tmp_path / "a.csv", "--force")
    assert ran.status == 3
    assert "No space left" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]
    assert (tmp_path / "a.csv").read_text() == "mine"


@pytest.mark.parametrize(
    ("name", "data", "word"),
    [
        ("empty.stl", b"", "empty"),
        ("rubbish.stl", bytes(range(256)) * 9, "rubbish.stl"),
        ("text.stl", b"Dear sir or madam,\nplease find attached\n", "text.stl"),
        ("rubbish.3mf", b"no zip", "rubbish.3mf"),
        ("cut.3mf", b"PK\x03\x04 and then nothing", "cut.3mf"),
        ("rubbish.obj", b"\x00\x01\x02\x03", "rubbish.obj"),
        ("text.obj", b"o nothing\n", "text.obj"),
    ],
)
def test_what_is_no_mesh_gets_one_clear_line(
    cli: Any, tmp_path: Path, name: str, data: bytes, word: str
) -> None:
    (tmp_path / name).write_bytes(data)
    ran = cli("check", tmp_path / name, "--json")
    assert ran.status == 2
    assert ran.out == ""
    last = ran.err.strip().splitlines()[-1]
    assert last.startswith("wingpath: ")
    assert word in last
    assert "Traceback" not in ran.err


@pytest.mark.parametrize("kind", ["binary", "text", "3mf"])
def test_a_file_that_was_cut_off(cli: Any, meshes: dict[str, Path], tmp_path: Path, kind: str) -> None:
    whole = meshes[kind].read_bytes()
    cut = tmp_path / f"cut{meshes[kind].suffix}"
    cut.write_bytes(whole[: len(whole) // 2 + 7])
    ran = cli("check", cut)
    assert ran.status in (2, 3)
    assert ran.out == ""
    assert "cut" in ran.err.strip().splitlines()[-1]
    assert "Traceback" not in ran.err


def test_a_missing_file_and_a_folder(cli: Any, tmp_path: Path) -> None:
    assert cli("check", tmp_path / "nowhere.stl").status == 3
    assert cli("check", tmp_path).status == 3


def test_one_bad_file_of_two_stops_before_anything_is_shown(
    cli: Any, meshes: dict[str, Path], tmp_path: Path
) -> None:
    ran = cli("check", meshes["tube"], tmp_path / "nowhere.stl", "--csv", tmp_path / "a.csv")
    assert ran.status == 3
    assert ran.out == ""
    assert not (tmp_path / "a.csv").exists()


@pytest.mark.parametrize(
    "words",
    [
        ("--bead-mm", "9"),
        ("--layer-mm", "0"),
        ("--layer-mm", "0.6", "--bead-mm", "0.4"),
        ("--scale", "0"),
        ("--scale", "nan"),
        ("--bead-mm", "nan"),
        ("--layer-mm", "nan"),
        ("--slot-bond-mm", "nan"),
        ("--up", "w"),
        ("--slot-bond-mm", "-1"),
        ("--bead-mm", "thick"),
    ],
)
def test_values_that_are_not_allowed(cli: Any, meshes: dict[str, Path], words: tuple[str, ...]) -> None:
    ran = cli("check", meshes["tube"], *words)
    assert ran.status == 2, ran
    assert ran.out == ""
    assert "Traceback" not in ran.err


def test_a_part_lower_than_a_layer(cli: Any, tmp_path: Path) -> None:
    trimesh.creation.box((20.0, 10.0, 0.05)).export(tmp_path / "flat.stl")
    ran = cli("check", tmp_path / "flat.stl")
    assert ran.status == 2
    assert "--scale" in ran.err


def test_many_alike_are_counted_and_the_worst_are_told() -> None:
    from wingpath.cli.console import MOST_ALIKE, finding_lines
    from wingpath.core.findings import Finding

    depths = [2.0, 9.0, 3.0, 8.0, 7.0, 1.0]
    found = [
        Finding("loose-rib", "warning", f"ends {depth} mm off", "", panel="a", layers=(k, k), found=depth)
        for k, depth in enumerate(depths, start=1)
    ]
    found.append(Finding("open-slot", "warning", "is open", "", panel="a", layers=(9, 9), found=0.1))
    text = "\n".join(finding_lines(found, notes=False))
    told = [float(depth) for depth in re.findall(r"ends ([\d.]+) mm off", text)]
    assert told == [9.0, 8.0, 7.0]
    assert len(told) == MOST_ALIKE
    assert "... and 3 more warnings loose-rib in a, all in --json" in text
    assert "open-slot" in text
