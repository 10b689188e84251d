"""`wingpath build --picture DIR`, and what the terminal says about printing."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from wings import SMALL, TOO_HIGH

NAMES = {
    *(f"panel-{n}-{end}" for n in (1, 2) for end in ("path.png", "layer.png", "layer.svg")),
    *("planform.png", "planform.svg", "panels.png", "along-the-span.png", "along-the-span.svg"),
}


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SMALL)
    return path


def test_pictures_of_every_part_are_drawn(cli: Any, spec: Path, tmp_path: Path) -> None:
    ran = cli("build", spec, "-o", tmp_path / "out", "--picture", tmp_path / "pictures")
    assert ran.status == 0
    assert {path.name for path in (tmp_path / "pictures").iterdir()} == NAMES
    for path in (tmp_path / "pictures").iterdir():
        assert path.read_bytes().startswith(b"\x89PNG" if path.suffix == ".png" else b"<svg ")
    assert f"Drew {len(NAMES)} pictures into" in ran.out
    assert {path.suffix for path in (tmp_path / "out").iterdir()} == {
        ".stl",
        ".3mf",
        ".gcode",
        ".csv",
        ".json",
        ".html",
        ".pdf",
    }


def test_without_strength_there_are_no_diagrams(cli: Any, spec: Path, tmp_path: Path) -> None:
    ran = cli("build", spec, "-o", tmp_path / "out", "--picture", tmp_path / "pictures", "--no-strength")
    assert ran.status == 0
    drawn = {path.name for path in (tmp_path / "pictures").iterdir()}
    assert drawn == {name for name in NAMES if not name.startswith("along")}


def test_pictures_in_the_way_stop_the_build_before_it_begins(cli: Any, spec: Path, tmp_path: Path) -> None:
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "mine.txt").write_text("mine")
    ran = cli("build", spec, "-o", tmp_path / "out", "--picture", tmp_path / "pictures")
    assert ran.status == 2
    assert not (tmp_path / "out").exists()
    forced = cli("build", spec, "-o", tmp_path / "out", "--picture", tmp_path / "pictures", "--force")
    assert forced.status == 0
    assert (tmp_path / "pictures" / "mine.txt").read_text() == "mine"
    assert {path.name for path in (tmp_path / "pictures").iterdir()} == {*NAMES, "mine.txt"}


def test_pictures_need_a_folder_of_their_own(cli: Any, spec: Path, tmp_path: Path) -> None:
    ran = cli("build", spec, "-o", tmp_path / "out", "--picture", tmp_path / "out")
    assert ran.status == 2
    assert "--picture" in ran.err
    assert not (tmp_path / "out").exists()


def test_the_terminal_tells_time_filament_and_cost(cli: Any, spec: Path, tmp_path: Path) -> None:
    spec.write_text(SMALL + "[filament]\nprice_per_kg = 40.0\n")
    out = " ".join(cli("build", spec, "-o", tmp_path / "out").out.split())
    said = re.search(
        r"All 4 G-code files: (\d+) h of printing .* or (\d+) g of filament .*, (\d+\.\d\d) at", out
    )
    assert said is not None
    assert float(said[3]) == pytest.approx(40.0 * float(said[2]) / 1000.0, abs=0.03)


def test_a_wing_without_a_path_says_so(cli: Any, spec: Path, tmp_path: Path) -> None:
    spec.write_text(TOO_HIGH)
    ran = cli("build", spec, "-o", tmp_path / "out")
    assert ran.status == 1
    assert "No G-code: no part fits the printer." in ran.out
    assert "turned already" not in ran.out
    assert not list((tmp_path / "out").glob("*.gcode"))
