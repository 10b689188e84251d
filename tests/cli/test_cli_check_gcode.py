"""`wingpath check` of G-code: statuses, the document, pictures, the bed, and files that are no program."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import trimesh
from PIL import Image

PNG = b"\x89PNG\r\n\x1a\n"

HEAD = "; a test\nG90\nM83\nG1 X50 Y50 Z0.2\n"
"""Four lines; the first bead stands in line 5."""


def loops(count: int, aside: float = 0.0) -> str:
    """Return loops of 40 x 20 mm, one above the other, as one bead."""
    lines = []
    for n in range(1, count + 1):
        x, y, z = 50.0 + aside, 50.0, 0.2 * n
        for to_x, to_y in ((x + 40, y), (x + 40, y + 20), (x, y + 20), (x, y)):
            lines.append(f"G1 X{to_x:g} Y{to_y:g} Z{z:.1f} E1")
    return "\n".join(lines) + "\n"


PROGRAMS = {
    "clean": HEAD + loops(3) + "G0 Z30\nM84 X Y E\n",
    "travel": HEAD + loops(1) + "G0 X60 Y60\nG1 X90 Y70 E1\n",
    "back": HEAD + loops(1) + "G1 E-0.8\nG1 E0.8\n" + loops(1).replace("0.2", "0.4"),
    "thin": HEAD + loops(1) + "G1 X90 E0.05\nG1 X50 E1\n",
    "odd": HEAD + "G1 X60 E1\nwhat is this\nG1 X70 E1\n",
    "wide": HEAD + loops(1, aside=150.0),
    "nothing": "; only\n; remarks\n",
}


@pytest.fixture(scope="session")
def programs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Programs that show one thing each."""
    folder = tmp_path_factory.mktemp("programs")
    found = {}
    for name, text in PROGRAMS.items():
        found[name] = folder / f"{name}.gcode"
        found[name].write_text(text)
    return found


@pytest.fixture(scope="session")
def box(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A mesh that prints in one bead."""
    path = tmp_path_factory.mktemp("box") / "box.stl"
    trimesh.creation.box((20.0, 10.0, 2.0)).export(path)
    return path


@pytest.mark.parametrize(
    ("name", "status", "codes"),
    [
        ("clean", 0, []),
        ("thin", 1, ["extrusion-gap"]),
        ("odd", 0, ["odd-line"]),
        ("wide", 0, []),
        ("travel", 1, ["travel"]),
        ("back", 1, ["retraction"]),
        ("nothing", 1, ["extrusion-gap"]),
    ],
)
def test_statuses_and_codes(
    cli: Any, programs: dict[str, Path], name: str, status: int, codes: list[str]
) -> None:
    ran = cli("check", programs[name], "--json")
    assert ran.status == status
    assert [finding["code"] for finding in ran.document["findings"]] == codes
    assert ran.document["counts"]["error"] == status


def test_the_document(cli: Any, programs: dict[str, Path]) -> None:
    ran = cli("check", programs["travel"], "--json")
    document = ran.document
    assert document["document"] == "wingpath check"
    assert document["meshes"] == []
    (program,) = document["programs"]
    assert program == {
        "file": str(programs["travel"]),
        "unbroken": False,
        "lines": 10,
        "moves": 7,
        "bead_moves": 5,
        "path_m": pytest.approx(0.12 + 0.0316, abs=5e-5),
        "filament_mm": 5.0,
        "low_mm": [50.0, 50.0, 0.2],
        "high_mm": [90.0, 70.0, 0.2],
        "travels": 1,
        "retractions": 0,
    }
    (finding,) = document["findings"]
    assert (finding["code"], finding["severity"], finding["line"]) == ("travel", "error", 9)
    assert (finding["x_mm"], finding["y_mm"], finding["z_mm"]) == (50.0, 50.0, 0.2)
    assert finding["panel"] == "travel.gcode"
    assert finding["layers"] is None
    assert finding["found"] == pytest.approx(200.0**0.5, abs=5e-5)
    assert document["cautions"]


def test_people_read_it(cli: Any, programs: dict[str, Path]) -> None:
    clean = cli("check", programs["clean"])
    assert clean.status == 0
    # three loops of 120 mm, a millimetre of filament for each side
    assert f"{programs['clean']}: 18 lines, path of 40.0 x 20.0 x 0.4 mm." in clean.out
    assert "Sizes and lengths are of all that is laid, brim and first line included." in clean.out
    assert "One bead without a break, 0.36 m, 0.01 m of filament." in clean.out
    assert "ERROR" not in clean.out
    travel = cli("check", programs["travel"])
    assert "Not one bead: 0.15 m of bead in all" in travel.out
    assert "ERROR travel (travel.gcode, line 9, at z 0.2 x 50.0 y 50.0 mm)" in travel.out
    assert "One bead" not in travel.out
    assert "travels 14.14 mm" in travel.out
    nothing = cli("check", programs["nothing"])
    assert "ERROR extrusion-gap (nothing.gcode)" in nothing.out


@pytest.mark.parametrize("name", PROGRAMS)
def test_lines_of_80_columns(cli: Any, programs: dict[str, Path], name: str) -> None:
    ran = cli("check", programs[name], "--printer", "bed-180")
    folder = str(programs[name].parent)
    assert max(map(len, ran.out.replace(folder, "").splitlines())) <= 80


def test_many_findings_stay_short(cli: Any, tmp_path: Path) -> None:
    path = tmp_path / "many.gcode"
    jumping = "".join(
        f"G1 X{n} E1\nG0 X{n} Y{n % 7 + 1}\nG0 X{n} Y0\nG92 X{n}\nwhat is this?\n" for n in range(1, 401)
    )
    path.write_text(HEAD.replace("X50 Y50", "X0 Y0") + jumping + "G1 X900 E500\n")
    ran = cli("check", path)
    assert ran.status == 1
    assert len(ran.out.splitlines()) < 150
    assert max(map(len, ran.out.replace(str(tmp_path), "").splitlines())) <= 80
    document = cli("check", path, "--json").document
    assert document["programs"][0]["travels"] == 800
    assert len(document["findings"]) == 75


def test_numbers_beyond_every_machine_are_shown_in_80_columns(cli: Any, tmp_path: Path) -> None:
    path = tmp_path / "huge.gcode"
    path.write_text(
        HEAD + f"G1 X1 E{'9' * 9000}\nG1 Z99999 E1\nG1 X-99999 Y-99999 E-9999999\nG1 X5 E9999999\n"
    )
    ran = cli("check", path, "--printer", "bed-180")
    assert ran.status == 1
    assert "Traceback" not in ran.err
    assert max(map(len, ran.out.replace(str(tmp_path), "").splitlines())) <= 80
    assert "Infinity" not in cli("check", path, "--json").out


# --- pictures and tables -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["clean", "travel", "back", "odd"])
def test_a_picture_of_the_path(cli: Any, programs: dict[str, Path], tmp_path: Path, name: str) -> None:
    picture = tmp_path / "path.PNG"
    plain = cli("check", programs[name])
    ran = cli("check", programs[name], "--picture", picture)
    assert (ran.status, ran.out) == (plain.status, plain.out)
    data = picture.read_bytes()
    assert data.startswith(PNG)
    with Image.open(io.BytesIO(data)) as image:
        image.load()
        assert image.width == 1500


def test_the_picture_shows_the_travel(cli: Any, programs: dict[str, Path], tmp_path: Path) -> None:
    """Travels are red; a clean path has no red in it."""
    red = {}
    for name in ("clean", "travel"):
        cli("check", programs[name], "--picture", tmp_path / f"{name}.png")
        with Image.open(tmp_path / f"{name}.png") as image:
            counts = image.convert("RGB").getcolors(1 << 24) or []
        red[name] = sum(count for count, (r, g, b) in counts if r > 150 and g < 80 and b < 80)
    assert red["clean"] == 0
    assert red["travel"] > 100


def test_the_picture_is_of_the_first_program_with_a_break(
    cli: Any, programs: dict[str, Path], tmp_path: Path
) -> None:
    alone, among = tmp_path / "alone.png", tmp_path / "among.png"
    cli("check", programs["travel"], "--picture", alone)
    ran = cli("check", programs["clean"], programs["travel"], programs["back"], "--picture", among)
    assert ran.status == 1
    assert among.read_bytes() == alone.read_bytes()


@pytest.mark.parametrize("name", ["path.svg", "path.SVG", "path.jpg", "path"])
def test_programs_are_drawn_as_png_only(
    cli: Any, programs: dict[str, Path], tmp_path: Path, name: str
) -> None:
    ran = cli("check", programs["clean"], "--picture", tmp_path / name)
    assert ran.status == 2
    assert ran.out == ""
    assert name in ran.err
    assert ".png" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_a_program_without_a_bead_has_no_picture(cli: Any, programs: dict[str, Path], tmp_path: Path) -> None:
    ran = cli("check", programs["nothing"], "--picture", tmp_path / "path.png")
    assert ran.status == 2
    assert "nothing to draw" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_the_layer_table_is_for_meshes(
    cli: Any, programs: dict[str, Path], box: Path, tmp_path: Path
) -> None:
    table = tmp_path / "layers.csv"
    ran = cli("check", programs["clean"], "--csv", table)
    assert ran.status == 2
    assert "--csv" in ran.err
    assert "with a mesh" in ran.err
    assert not table.exists()
    assert cli("check", programs["clean"], box, "--csv", table).status == 0
    # 2 mm in layers of 0.25 mm, and a line of names
    assert len(table.read_text().splitlines()) == 9


def test_nothing_is_overwritten_without_force(cli: Any, programs: dict[str, Path], tmp_path: Path) -> None:
    target = tmp_path / "mine.png"
    target.write_text("mine")
    ran = cli("check", programs["travel"], "--picture", target)
    assert ran.status == 2
    assert ran.out == ""
    assert "--force" in ran.err
    assert target.read_text() == "mine"
    # that is found before anything is read
    assert cli("check", tmp_path / "nowhere.gcode", "--picture", target).status == 2
    assert cli("check", programs["travel"], "--picture", target, "--force").status == 1
    assert target.read_bytes().startswith(PNG)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.png"]


def test_the_program_itself_is_never_the_picture(cli: Any, tmp_path: Path) -> None:
    both = tmp_path / "both.png.gcode"
    both.write_text(PROGRAMS["clean"])
    link = tmp_path / "link.png"
    link.symlink_to(both)
    ran = cli("check", both, "--picture", link, "--force")
    assert ran.status == 2
    assert "another name" in ran.err
    assert both.read_text() == PROGRAMS["clean"]


# --- the printer ---------------------------------------------------------------------------------------


def test_a_bed_that_is_too_small(cli: Any, programs: dict[str, Path]) -> None:
    # 200 to 240 mm across
    assert cli("check", programs["wide"], "--printer", "bed-256").status == 0
    ran = cli("check", programs["wide"], "--printer", "bed-220", "--json")
    assert ran.status == 1
    assert [(f["code"], f["line"], f["found"]) for f in ran.document["findings"]] == [
        ("off-bed", 5, 20.0),
        ("off-bed", 6, 20.0),
    ]
    # it is one bead all the same, and says so
    assert ran.document["programs"][0]["unbroken"] is True
    shown = cli("check", programs["wide"], "--printer", "bed-220").out
    assert "One bead without a break" in shown
    assert "ERROR off-bed (wide.gcode, line 5, at z 0.2 x 50.0 y 50.0 mm)" in shown


def test_an_unknown_printer(cli: Any, programs: dict[str, Path]) -> None:
    ran = cli("check", programs["clean"], "--printer", "bed-221")
    assert ran.status == 2
    assert ran.out == ""
    assert "--printer" in ran.err
    assert "bed-220" in ran.err


def test_a_printer_is_for_programs(cli: Any, programs: dict[str, Path], box: Path) -> None:
    ran = cli("check", box, "--printer", "bed-220")
    assert ran.status == 2
    assert "with G-code" in ran.err
    assert cli("check", box, programs["clean"], "--printer", "bed-220").status == 0


# --- meshes beside programs ----------------------------------------------------------------------------


def test_meshes_and_programs_together(cli: Any, programs: dict[str, Path], box: Path) -> None:
    ran = cli("check", programs["travel"], box, programs["clean"], "--json")
    assert ran.status == 1
    document = ran.document
    assert [mesh["file"] for mesh in document["meshes"]] == [str(box)]
    assert [Path(one["file"]).name for one in document["programs"]] == ["travel.gcode", "clean.gcode"]
    assert [one["unbroken"] for one in document["programs"]] == [False, True]
    shown = cli("check", programs["travel"], box, programs["clean"])
    assert shown.out.count("Every layer is one closed bead") == 1
    assert shown.out.count("One bead without a break") == 1
    assert max(map(len, shown.out.replace(str(box.parents[1]), "").splitlines())) <= 80


def test_one_bad_file_stops_before_anything_is_shown(
    cli: Any, programs: dict[str, Path], box: Path, tmp_path: Path
) -> None:
    for bad in (programs["nothing"].with_name("nowhere.gcode"), tmp_path / "nowhere.stl"):
        ran = cli("check", programs["clean"], box, bad, "--picture", tmp_path / "a.png")
        assert ran.status == 3
        assert ran.out == ""
        assert bad.name in ran.err
    assert list(tmp_path.iterdir()) == []


def test_our_own_programs_are_clean(cli: Any, small: Any) -> None:
    files = sorted(small.folder.glob("*.gcode"))
    assert len(files) == 4
    ran = cli("check", *files, "--json")
    assert ran.status == 0
    assert ran.document["findings"] == []
    assert [one["unbroken"] for one in ran.document["programs"]] == [True] * 4
    panels = [panel["path_m"] for panel in small.ran.document["panels"] for _ in ("left", "right")]
    for one, path in zip(ran.document["programs"], panels, strict=True):
        # the program also holds the brim and the line that fills the nozzle
        assert path < one["path_m"] < 1.5 * path


def test_a_travel_put_into_our_own_program_is_found(cli: Any, small: Any, tmp_path: Path) -> None:
    lines = (small.folder / "panel-1-left.gcode").read_text().splitlines()
    beads = [n for n, line in enumerate(lines) if line.startswith("G1 X") and " E" in line]
    broken = beads[len(beads) // 2]
    words = [word for word in lines[broken].split() if not word.startswith("E")]
    lines[broken] = " ".join(words)
    path = tmp_path / "broken.gcode"
    path.write_text("\n".join(lines))
    ran = cli("check", path, "--json")
    assert ran.status == 1
    assert [(f["code"], f["line"]) for f in ran.document["findings"]] == [("travel", broken + 1)]


# --- files that are no program -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty; give a file that holds G-code"),
        (bytes(range(256)) * 9, "line 1: got a zero byte"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "got a zero byte"),
        (b"G1 X1\n" + b"1" * 20_000, "line 2: got more than 10000 characters"),
        ("G1 X1\n".encode("utf-16"), "got a zero byte"),
    ],
)
def test_what_is_no_program_gets_one_clear_line(cli: Any, tmp_path: Path, data: bytes, words: str) -> None:
    path = tmp_path / "rubbish.gcode"
    path.write_bytes(data)
    ran = cli("check", path, "--json")
    assert ran.status == 2
    assert ran.out == ""
    last = ran.err.strip().splitlines()[-1]
    assert last.startswith("wingpath: ")
    assert "rubbish.gcode" in last
    assert words in last
    assert "Traceback" not in ran.err


@pytest.mark.parametrize(
    "data",
    [
        b"solid box\n facet normal 0 0 1\n outer loop\n vertex 0 0 0\n vertex 1 0 0\n",
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        b"Dear sir or madam,\nplease find attached\n",
        b"\xff\xfe\xfd\n\x80\x81\n",
    ],
)
def test_other_text_lays_no_filament(cli: Any, tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "text.gcode"
    path.write_bytes(data)
    ran = cli("check", path)
    assert ran.status == 1
    assert "no move of this file lays filament" in ran.out
    assert "check that it is G-code" in ran.out
    assert "One bead" not in ran.out


def test_a_mesh_by_the_name_of_a_program(cli: Any, box: Path, tmp_path: Path) -> None:
    path = tmp_path / "mesh.gcode"
    path.write_bytes(box.read_bytes())
    ran = cli("check", path)
    assert ran.status == 2
    assert "is it G-code?" in ran.err


@pytest.mark.parametrize("name", ["program.stl", "program.obj", "program.3mf"])
def test_a_program_by_the_name_of_a_mesh(cli: Any, tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text(PROGRAMS["clean"])
    ran = cli("check", path)
    assert ran.status == 2
    assert ran.out == ""
    assert name in ran.err.strip().splitlines()[-1]
    assert "Traceback" not in ran.err


def test_missing_files_and_folders(cli: Any, tmp_path: Path) -> None:
    (tmp_path / "folder.gcode").mkdir()
    for name in ("nowhere.gcode", "folder.gcode"):
        ran = cli("check", tmp_path / name)
        assert ran.status == 3
        assert ran.out == ""
        assert name in ran.err
        assert "Traceback" not in ran.err


def test_escapes_of_a_file_do_not_reach_the_terminal(cli: Any, tmp_path: Path) -> None:
    path = tmp_path / "red.gcode"
    path.write_bytes(HEAD.encode() + b"\x1b]0;title\x07 \x1b[2J\n\x9b31m\nG1 X60 E1\n")
    ran = cli("check", path)
    assert "odd-line (red.gcode, line 5)" in ran.out
    assert all(sign.isprintable() or sign == "\n" for sign in ran.out)


def test_a_name_that_is_not_utf_8(programs: dict[str, Path], tmp_path: Path) -> None:
    """As a process, whose words are bytes."""
    name = os.fsencode(tmp_path) + b"/w\xefng.gcode"
    with open(name, "w") as stream:
        stream.write(PROGRAMS["travel"])
    start = "from wingpath.cli.app import main; main()"
    for words in (["--json"], ["--picture", str(tmp_path / "a.png")]):
        ran = subprocess.run(
            [sys.executable, "-c", start, "check", name, *words], capture_output=True, timeout=120
        )
        assert ran.returncode == 1, ran.stderr
        assert b"travel" in ran.stdout
        assert b"Traceback" not in ran.stderr


# --- many bytes ----------------------------------------------------------------------------------------


def test_memory_stays_bounded(tmp_path: Path) -> None:
    """Many blank lines and a remark of thirty megabytes take no more memory than an empty program."""
    code = (
        "import resource, sys\n"
        "from wingpath.cli.app import main\n"
        "try:\n    main()\n"
        "finally:\n    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)\n"
    )
    most = {}
    for name, filler in (("small", b"\n"), ("large", b"\n" * 300_000 + b";" + b"x" * 30_000_000 + b"\n")):
        path = tmp_path / f"{name}.gcode"
        path.write_bytes(PROGRAMS["clean"].encode() + filler)
        ran = subprocess.run(
            [sys.executable, "-c", code, "check", str(path)], capture_output=True, text=True, timeout=300
        )
        assert ran.returncode == 0, ran.stderr
        most[name] = int(ran.stderr.split()[-1])
    # kilobytes; the file itself is 30 MB
    assert most["large"] < most["small"] + 10_000
