"""Copies of the files that a spec names: a spec written elsewhere, with them beside it, works."""

import os
from pathlib import Path
from typing import Any

import pytest

from wingpath.core.errors import AirfoilFileError, FileAccessError, InputError, SpecError
from wingpath.io.airfoil_rows import MAX_BYTES
from wingpath.io.profile_store import load_airfoil, load_filament, load_printer, load_tube, profiles_folder
from wingpath.io.spec_companions import companions
from wingpath.io.spec_editing import edited_spec
from wingpath.io.spec_toml import MOST_BYTES, load_spec

STORE = profiles_folder()
OTHER = (STORE / "airfoils" / "naca0012.dat").read_bytes()
SECTION = (STORE / "airfoils" / "flat-10.dat").read_bytes()
FILAMENT = (STORE / "filaments" / "pla.toml").read_bytes()
PRINTER = (STORE / "printers" / "bed-180.toml").read_bytes()
TUBE = (STORE / "tubes" / "steel-wire.toml").read_bytes()

SPEC = """\
# Täl
name = "Täl"

[[station]]
span_mm = 0
chord_mm = 180
airfoil = "sections/wüst.dat"   # own
[[station]]
span_mm = 200
chord_mm = 160
airfoil = 'old\\wüst.DAT'
[[station]]
span_mm = 450
chord_mm = 120
airfoil = "./sections/../sections/wüst.dat"

[[tube]]
outer_mm = 3.0
to_mm = 300.0
chord_fraction = 0.3
material = "mine/lightest.toml"

[filament]
profile = "mine.toml"

[printer]
profile = "mine/mine.toml"
"""


def put(folder: Path, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "home"
    put(
        folder,
        {
            "spec.toml": SPEC.encode(),
            "sections/wüst.dat": SECTION,
            "old/wüst.DAT": OTHER,
            "mine/lightest.toml": TUBE,
            "mine.toml": FILAMENT,
            "mine/mine.toml": PRINTER,
        },
    )
    return folder


def stations(*names: str) -> dict[str, Any]:
    return {"station": [{"airfoil": name} for name in names]}


def test_a_spec_with_its_copies_works_in_another_folder(home: Path, tmp_path: Path) -> None:
    spec = load_spec(home / "spec.toml")
    data = spec.model_dump(by_alias=True, exclude_none=True)
    files, changes = companions(data, home, reserved=["Lightest.toml"])
    assert files == {
        "wüst.dat": SECTION,
        "wüst-2.DAT": OTHER,
        "lightest-2.toml": TUBE,
        "mine.toml": FILAMENT,
        "mine-2.toml": PRINTER,
    }
    assert changes == {
        "station[0].airfoil": "wüst.dat",
        "station[1].airfoil": "wüst-2.DAT",
        "station[2].airfoil": "wüst.dat",
        "tube[0].material": "lightest-2.toml",
        "printer.profile": "mine-2.toml",
    }
    away = tmp_path / "away"
    put(away, {**files, "lightest.toml": edited_spec(SPEC, changes).encode()})
    moved = load_spec(away / "lightest.toml")
    for old, new in zip(spec.stations, moved.stations, strict=True):
        one, other = load_airfoil(old.airfoil, base_dir=home), load_airfoil(new.airfoil, base_dir=away)
        assert one.name == other.name
    for load, old, new in (
        (load_tube, spec.tubes[0].material, moved.tubes[0].material),
        (load_filament, spec.filament.profile, moved.filament.profile),
        (load_printer, spec.printer.profile, moved.printer.profile),
    ):
        assert load(old, base_dir=home) == load(new, base_dir=away)


def test_names_are_no_files(tmp_path: Path) -> None:
    data = {
        **stations("naca2412", "NACA 2412", "2412", "FLAT-10", "reflex-8"),
        "tube": [{"material": "steel-wire"}, {"outer_mm": 3}],
        "filament": {"profile": "pla"},
        "printer": {"bed_x_mm": 200},
    }
    assert companions(data, tmp_path) == ({}, {})
    assert companions(stations("nonsense", "mine.txt"), tmp_path) == ({}, {})
    assert companions({}, tmp_path) == ({}, {})


@pytest.mark.parametrize(
    "text", ["nonsense", "mine.txt", "mine.dat", "a/mine", "a\\mine", "flat-10.dat", "2412.dat"]
)
def test_what_is_taken_for_a_path_is_what_the_loader_takes_for_one(tmp_path: Path, text: str) -> None:
    put(tmp_path, {text.replace("\\", "/"): b"no section"})
    try:
        load_airfoil(text, base_dir=tmp_path)
    except AirfoilFileError:
        is_path = True
    except SpecError:
        is_path = False
    assert bool(companions(stations(text), tmp_path)[0]) == is_path


@pytest.mark.parametrize(
    "text", ["sub/mine", "sub/2412", "sub/my.txt", "sub/naca0012", "sub/c:mine.dat", "sub/.dat"]
)
def test_the_name_of_a_copy_is_a_path_too(tmp_path: Path, text: str) -> None:
    put(tmp_path, {text: SECTION})
    files, changes = companions(stations(text), tmp_path)
    away = tmp_path / "away"
    put(away, files)
    (name,) = files
    assert changes == {"station[0].airfoil": name}
    assert load_airfoil(name, base_dir=away).name == load_airfoil(text, base_dir=tmp_path).name


def test_numbered_names_do_not_meet_others(tmp_path: Path) -> None:
    names = ["a/m.dat", "m-2.dat", "b/M.dat", "c/m.dat"]
    put(tmp_path, dict.fromkeys(names, SECTION))
    files, changes = companions(stations(*names), tmp_path, reserved=("M-4.DAT",))
    assert list(files) == ["m.dat", "m-2.dat", "M-3.dat", "m-5.dat"]
    assert changes == {f"station[{i}].airfoil": name for i, name in enumerate(files) if i != 1}


def test_files_that_are_missing_or_too_large(tmp_path: Path) -> None:
    with pytest.raises(FileAccessError, match=r"none\.dat: there is no such file; station\[0\]\.airfoil"):
        companions(stations("none.dat"), tmp_path)
    (tmp_path / "dir.dat").mkdir()
    with pytest.raises(FileAccessError, match="this is not a file"):
        companions(stations("dir.dat"), tmp_path)
    put(tmp_path, {"big.dat": b"0" * (MAX_BYTES + 1), "big.toml": b"#" * (MOST_BYTES + 1)})
    with pytest.raises(InputError, match=r"got more than 2 MB; allowed: at most 2 MB; station\[0\]"):
        companions(stations("big.dat"), tmp_path)
    with pytest.raises(InputError, match=r"at most 1 MB; filament\.profile"):
        companions({"filament": {"profile": "big.toml"}}, tmp_path)
    put(tmp_path, {"big.dat": b"0" * MAX_BYTES})
    assert len(companions(stations("big.dat"), tmp_path)[0]["big.dat"]) == MAX_BYTES


def test_paths_out_of_the_folder_are_refused(home: Path) -> None:
    inner = home / "mine"
    for text in ("../mine.toml", "/etc/x.toml", "C:\\x.toml", "a\0.toml"):
        with pytest.raises(SpecError, match=r"tube\[0\]\.material"):
            companions({"tube": [{"material": text}]}, inner)
    os.symlink(home / "mine.toml", inner / "link.toml")
    with pytest.raises(SpecError, match="leads out of the folder"):
        companions({"printer": {"profile": "link.toml"}}, inner)
