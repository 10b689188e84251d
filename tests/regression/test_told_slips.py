"""What a message says to the slips that builders make: commas, quotes, units, words of the hobby."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from wingpath.core.errors import FileAccessError, MeshFileError, SpecError
from wingpath.io.mesh_files import read_mesh
from wingpath.io.profile_store import load_airfoil, load_filament
from wingpath.io.spec_toml import parse_toml, read_toml_text
from wingpath.model.measurements import measurements_from_dict
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.design import design_wing


def told(data: dict[str, Any]) -> str:
    with pytest.raises(SpecError) as caught:
        spec_from_dict(data)
    return str(caught.value)


def two_stations(**root: Any) -> list[dict[str, Any]]:
    return [{"span_mm": 0, "chord_mm": 180, **root}, {"span_mm": 300, "chord_mm": 140}]


@pytest.mark.parametrize(
    ("line", "lesson"),
    [
        ("chord_mm = 180,5", "Write the number with a point: 180.5"),
        ("twist_deg = -1,25 # down", "Write the number with a point: 1.25"),
        ("name = Moth", 'Put text in quotes: "Moth"'),
        ("airfoil = naca2412", 'Put text in quotes: "naca2412"'),
        ("hand = left # one", 'Put text in quotes: "left"'),
    ],
)
def test_a_comma_and_missing_quotes(line: str, lesson: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_toml(f"a = 1\n{line}\n")
    assert lesson in str(caught.value)
    assert f"The line reads: {line}" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "lesson"),
    [
        ("a = 1\nb = 2\na = 3\n", "a stands twice, first in line 1"),
        ("[w]\nchord_mm = 2\n\nchord_mm = 3", "chord_mm stands twice, first in line 2"),
        ("[wing]\nx = 1\n[wing]\ny = 2\n", "The table wing begins in line 1 already"),
        ("[[tube]]\nx = 1\n[tube]\n", "The table tube begins in line 1 already"),
    ],
)
def test_what_stands_twice(text: str, lesson: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_toml(text)
    assert lesson in str(caught.value)


def test_a_key_of_another_table_is_not_said_to_stand_twice() -> None:
    with pytest.raises(SpecError) as caught:
        parse_toml("a = 1\n[x]\nb.c = 1\nb = 2\n")
    assert "stands twice" not in str(caught.value)


@pytest.mark.parametrize("line", ["a = [1, 2", "a = 1 2", "a = true false", "= 3"])
def test_other_broken_lines_get_no_wrong_lesson(line: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_toml(line)
    assert "Write the number" not in str(caught.value)
    assert "Put text" not in str(caught.value)


@pytest.mark.parametrize(
    ("chord", "hint"),
    [
        (0.18, "Lengths are in millimetres: 0.18 metres are 180"),
        (7.0, "Lengths are in millimetres: 7 cm are 70 or 7 inches are 177.8"),
        (17.5, "Lengths are in millimetres: 17.5 cm are 175 or 17.5 inches are 444.5"),
    ],
)
def test_other_units(chord: float, hint: str) -> None:
    assert hint in told({"station": two_stations(chord_mm=chord)})


@pytest.mark.parametrize("chord", [-3.0, 0.0, 5000.0, 1e-5])
def test_a_length_that_is_wrong_in_every_unit_gets_no_hint(chord: float) -> None:
    assert "Lengths are in" not in told({"station": two_stations(chord_mm=chord)})


@pytest.mark.parametrize(("mass", "hint"), [(0.55, "Masses are in grams: 0.55 kg are 550"), (1e-6, "")])
def test_kilograms(mass: float, hint: str) -> None:
    words = told({"station": two_stations(), "aircraft": {"all_up_mass_g": mass}})
    assert hint in words
    assert ("Masses are in grams" in words) == bool(hint)


def test_per_cent() -> None:
    tube = {"outer_mm": 6.0, "to_mm": 200.0, "chord_fraction": 30}
    assert "30 per cent are 0.3" in told({"station": two_stations(), "tube": [tube]})
    assert "per cent are" not in told({"station": two_stations(), "tube": [{**tube, "chord_fraction": -0.3}]})


@pytest.mark.parametrize(
    ("data", "hint"),
    [
        ({"flap": [{"from_mm": 1}]}, "[[aileron]]"),
        ({"Flaps": [{"from_mm": 1}]}, "[[aileron]]"),
        ({"elevon": {}}, "[[aileron]]"),
        ({"spar": {}}, "A bought spar is a [[tube]], a printed one a [[spar_web]]"),
        ({"servo": {}}, "[[servo_bay]]"),
        ({"wing": {"dihedral_deg": 3}}, "Half wings are drawn flat"),
        ({"wing": {"sweep": 3}}, "leading_edge_mm"),
        ({"wing": {"washout": 3}}, "twist_deg"),
    ],
)
def test_words_of_the_hobby(data: dict[str, Any], hint: str) -> None:
    assert hint in told({"station": two_stations(), **data})


@pytest.mark.parametrize("name", ["LW-PLA", "lw pla", "light weight", "FoamingPLA", "aero"])
def test_a_filament_that_foams_is_not_taken_for_plain_pla(name: str) -> None:
    with pytest.raises(SpecError, match=r"Did you mean foaming-pla or foaming-pla-gentle\?"):
        load_filament(name)


def test_another_filament_gets_the_nearest_name() -> None:
    with pytest.raises(SpecError, match=r"Did you mean pla\?"):
        load_filament("plaa")


def test_a_list_and_a_name_of_measurements() -> None:
    with pytest.raises(SpecError) as caught:
        measurements_from_dict({"name": "My White LW", "wall": [{"wall_mm": 0.55}]}, source="m.toml")
    assert 'For example "my-white-lw"' in str(caught.value)


def test_the_file_of_a_spec_is_named_with_what_it_names(tmp_path: Path) -> None:
    path = tmp_path / "moth.toml"
    text = "[[station]]\nspan_mm=0\nchord_mm=100\n[[station]]\nspan_mm=40\nchord_mm=90\n"
    for more, words in (
        ('[printer]\nprofile = "bed-9"\n', "printer.profile"),
        ("[print]\ntemperature_c = 290\n", "print.temperature_c"),
        ('[[tube]]\nouter_mm=3\nto_mm=30\nchord_fraction=0.3\nmaterial="tin"\n', "tube[0].material"),
    ):
        path.write_text(text + more, encoding="utf-8")
        with pytest.raises(SpecError) as caught:
            design_wing(path)
        assert str(caught.value).startswith(f"{path}: 1 problem\n  {words}: got")


def test_a_profile_names_the_key_that_names_it(tmp_path: Path) -> None:
    (tmp_path / "p.toml").write_text("name = 3\n", encoding="utf-8")
    with pytest.raises(SpecError, match=r"p\.toml, named by filament\.profile: \d+ problems"):
        load_filament("p.toml", base_dir=tmp_path)
    with pytest.raises(FileAccessError, match=r"none\.toml: .*; filament\.profile names it"):
        load_filament("none.toml", base_dir=tmp_path)
    with pytest.raises(FileAccessError, match=r"check the name and the folder; station\.airfoil names it"):
        load_airfoil("none.dat", base_dir=tmp_path)


def test_what_is_allowed_is_told_once_when_it_is_long() -> None:
    message = told({"station": two_stations(), "a1": 1, "b2": 2})
    assert message.count("the keys format, name") == 1
    assert "b2: got an unknown key; allowed: as above" in message


@pytest.mark.parametrize("sign", ["\u202e", "\u2066", "\u200f", "\x1b"])
def test_text_that_turns_a_terminal_round_is_refused(sign: str) -> None:
    assert "without control characters" in told({"station": two_stations(), "name": f"a{sign}b"})


def test_a_mesh_in_place_of_a_spec_and_a_spec_in_place_of_a_mesh(tmp_path: Path) -> None:
    small, large = tmp_path / "panel.stl", tmp_path / "panel-2.STL"
    small.write_bytes(b"\x80" * 84)
    large.write_bytes(b"solid " * 200_000)
    for mesh in (small, large):
        with pytest.raises(SpecError, match="`wingpath check` judges meshes"):
            read_toml_text(mesh)
    spec = tmp_path / "wing.toml"
    spec.write_text("[wing]\n")
    with pytest.raises(MeshFileError, match="`wingpath build` makes the part"):
        read_mesh(spec)
