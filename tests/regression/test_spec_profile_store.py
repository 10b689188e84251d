"""Finding profiles by name and by path, and staying inside the spec's folder."""

import math
import shutil
from pathlib import Path

import pytest

import wingpath.io.profile_store as store
from wingpath.core.errors import FileAccessError, SpecError
from wingpath.io.profile_store import (
    PROFILE_KINDS,
    dump_filament,
    list_profiles,
    load_airfoil,
    load_filament,
    load_printer,
    load_tube,
    profiles_folder,
    resolve_inside,
)
from wingpath.io.spec_toml import parse_toml
from wingpath.model.printer_blocks import NAMED_VALUES, block_values, fill_block
from wingpath.model.profiles import (
    FilamentProfile,
    profile_from_dict,
    with_filament_overrides,
    with_printer_overrides,
    with_tube_overrides,
)
from wingpath.model.spec_fittings import TubeSpec
from wingpath.model.spec_printing import FilamentRef, PrinterRef, PrintSpec


@pytest.mark.parametrize("kind", PROFILE_KINDS)
def test_every_kind_is_listed_in_order(kind: store.ProfileKind) -> None:
    names = [entry.name for entry in list_profiles(kind)]
    assert names == sorted(names)
    if kind != "airfoils":
        assert len(names) >= 3


def test_unknown_names_show_the_nearest() -> None:
    with pytest.raises(SpecError, match=r'printer.profile: got "bed_220".*Did you mean bed-220'):
        load_printer("bed_220")
    with pytest.raises(SpecError, match=r"filament.profile.*foaming-pla, .*Did you mean foaming-pla"):
        load_filament("foam-pla")
    with pytest.raises(SpecError, match=r"tube\[1\].material.*Did you mean pultruded-carbon"):
        load_tube("pultruded carbon", key="tube[1].material")


def test_a_profile_beside_the_spec(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    text = dump_filament(load_filament("foaming-pla")).replace('name = "foaming-pla"', 'name = "mine"')
    (tmp_path / "sub" / "mine.toml").write_text(text)
    assert load_filament("sub/mine.toml", base_dir=tmp_path).name == "mine"
    assert load_filament("sub\\mine.toml", base_dir=tmp_path).name == "mine"
    assert load_filament(str(tmp_path / "sub" / "mine.toml"), allow_outside=True).name == "mine"
    with pytest.raises(FileAccessError, match="no such file"):
        load_filament("other.toml", base_dir=tmp_path)


def test_a_wrong_profile_names_its_file_and_every_key(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('name = "mine"\nbed_x_mm = "220"\nbed_w_mm = 3\n')
    with pytest.raises(SpecError) as caught:
        load_printer("mine.toml", base_dir=tmp_path)
    assert "mine.toml" in caught.value.source
    keys = {problem.key: problem for problem in caught.value.problems}
    assert set(keys) == {"bed_x_mm", "bed_w_mm", "bed_y_mm", "height_mm", "title", "source"}
    assert keys["bed_w_mm"].hint.startswith("Did you mean `bed_")


@pytest.mark.parametrize(
    "path",
    [
        *("../a.toml", "x/../../a.toml", "/etc/a.toml", "..\\a.toml", "\\a.toml"),
        *("C:\\a.toml", "C:a.toml", "\\\\host\\share\\a.toml"),
    ],
)
def test_paths_that_leave_the_folder_are_refused(tmp_path: Path, path: str) -> None:
    with pytest.raises(SpecError, match=r"printer\.profile: .*allowed: paths inside the folder of the spec"):
        load_printer(path, base_dir=tmp_path)


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    inside, outside = tmp_path / "inside", tmp_path / "outside.toml"
    inside.mkdir()
    outside.write_text("a = 1")
    try:
        (inside / "link.toml").symlink_to(outside)
    except OSError:
        (inside / "link.toml").write_text("no links on this file system")
        return
    with pytest.raises(SpecError, match="leads out of the folder"):
        resolve_inside("link.toml", base_dir=inside, key="printer.profile")
    allowed = resolve_inside("link.toml", base_dir=inside, key="k", allow_outside=True)
    assert allowed == outside.resolve()


def test_paths_inside_the_folder(tmp_path: Path) -> None:
    for text in ("a.dat", "x/a.dat", "x\\a.dat", "./a.dat", "x/../a.dat"):
        assert resolve_inside(text, base_dir=tmp_path, key="k").is_relative_to(tmp_path.resolve())
    with pytest.raises(SpecError, match="absolute path"):
        resolve_inside(str(tmp_path / "a.dat"), base_dir=tmp_path, key="k")
    with pytest.raises(SpecError, match="null character"):
        resolve_inside("a\0.dat", base_dir=tmp_path, key="k")


def test_profiles_inside_an_installed_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the wheel the profiles lie in the package; in a checkout beside it."""
    shipped = profiles_folder()
    package = tmp_path / "site" / "wingpath"
    (package / "io").mkdir(parents=True)
    monkeypatch.setattr(store, "__file__", str(package / "io" / "profile_store.py"))
    with pytest.raises(FileAccessError, match="install wingpath again"):
        profiles_folder()
    shutil.copytree(shipped, tmp_path / "site" / "profiles")
    assert profiles_folder() == tmp_path / "site" / "profiles"
    shutil.copytree(shipped, package / "profiles")
    assert profiles_folder() == package / "profiles"
    assert load_printer("bed-220").bed_y_mm == 220.0


def test_overrides_win_and_say_so() -> None:
    printer = load_printer("bed-220")
    assert with_printer_overrides(printer, PrinterRef()) is printer
    changed = with_printer_overrides(printer, PrinterRef(height_mm=180, arcs=True))
    assert (changed.height_mm, changed.arcs, changed.bed_x_mm) == (180.0, True, 220.0)
    source = changed.source_of("height_mm")
    assert source is not None
    assert "[printer] of the spec" in source.note
    filament = with_filament_overrides(load_filament("pla"), FilamentRef(density_g_cm3=1.3))
    assert filament.density_g_cm3 == 1.3
    material = load_tube("pultruded-carbon")
    tube = TubeSpec(outer_mm=6, to_mm=300, chord_fraction=0.3, e_modulus_mpa=90_000)
    assert with_tube_overrides(material, tube).e_modulus_mpa == 90_000.0
    assert with_tube_overrides(material, tube).g_modulus_mpa == material.g_modulus_mpa


def test_overrides_that_contradict_the_profile() -> None:
    with pytest.raises(SpecError, match=r"margin_mm: got 60 mm; allowed: less than half .*50 mm here"):
        with_printer_overrides(load_printer("bed-220"), PrinterRef(bed_x_mm=100, margin_mm=60))
    with pytest.raises(SpecError, match=r"start_block: got \{nozle_mm\}; allowed: the names"):
        with_printer_overrides(load_printer("bed-220"), PrinterRef(start_block="M104 S{nozle_mm}"))
    with pytest.raises(SpecError, match="temperature_min_c and temperature_max_c"):
        with_filament_overrides(load_filament("pla"), FilamentRef(temperature_min_c=235))


def test_blocks_are_filled_with_values() -> None:
    printer = with_printer_overrides(load_printer("bed-220"), PrinterRef(bed_origin="centre"))
    values = block_values(printer, load_filament("pla"), PrintSpec(temperature_c=212.5))
    assert set(values) == set(NAMED_VALUES)
    assert (values["prime_start_x_mm"], values["prime_y_mm"]) == (-105.0, -107.5)
    assert values["fan_pwm"] == 128.0
    assert fill_block("M109 S{temperature_c} ; {bead_mm}", values) == "M109 S212.5 ; 0.45"
    with pytest.raises(SpecError, match="speed"):
        fill_block("{speed}", values)
    for block in (printer.start_block, printer.end_block):
        assert "{" not in fill_block(block, values)


def test_filament_reads_back_as_the_same() -> None:
    profile = load_filament("foaming-pla-gentle")
    again = profile_from_dict(FilamentProfile, parse_toml(dump_filament(profile)), source="again")
    assert again == profile


def test_profile_contradictions() -> None:
    data = parse_toml(dump_filament(load_filament("foaming-pla")))
    data["foaming"][3]["temperature_c"] = 210.0
    data["temperature_max_c"] = 190.0
    data["sources"]["density"] = {"kind": "memory", "note": "?"}
    data["sources"]["poisson"]["high"] = 0.3
    with pytest.raises(SpecError) as caught:
        profile_from_dict(FilamentProfile, data, source="bad")
    assert {problem.key for problem in caught.value.problems} == {
        "foaming[3].temperature_c",
        "temperature_min_c and temperature_max_c",
        "sources.density",
        "sources.poisson and poisson",
    }


@pytest.mark.parametrize("name", ["naca2412", "NACA 2412", "2412", "naca23012"])
def test_airfoils_by_designation(name: str) -> None:
    load_airfoil(name)


def test_a_designation_without_a_section(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match=r"station\[0\]\.airfoil: got .*naca2599"):
        load_airfoil("naca2599", key="station[0].airfoil")


def coordinates(thickness: float) -> str:
    """An ellipse with a sharp tail, one loop from the trailing edge over the top."""
    x = [(1 + math.cos(math.pi * i / 40)) / 2 for i in range(81)]
    sign = [1] * 41 + [-1] * 40
    points = [f"{a:.6f} {s * thickness * math.sqrt(a) * (1 - a):.6f}\n" for a, s in zip(x, sign, strict=True)]
    return "Own section\n" + "".join(points)


def test_airfoils_by_path(tmp_path: Path) -> None:
    (tmp_path / "mine.dat").write_text(coordinates(0.15))
    assert load_airfoil("mine.dat", base_dir=tmp_path) is not None
    with pytest.raises(SpecError, match="leads out of the folder"):
        load_airfoil("../mine.dat", base_dir=tmp_path)
    with pytest.raises(FileAccessError, match=r"none\.dat: .*; station\[2\]\.airfoil names it"):
        load_airfoil("none.dat", base_dir=tmp_path, key="station[2].airfoil")
    with pytest.raises(SpecError, match=r"station\[1\]\.airfoil: got \"clarck\".*designation, or the path"):
        load_airfoil("clarck", base_dir=tmp_path, key="station[1].airfoil")


def test_shipped_airfoils_come_before_designations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "profiles"
    (folder / "airfoils").mkdir(parents=True)
    (folder / "airfoils" / "naca2412.dat").write_text(coordinates(0.3))
    (folder / "airfoils" / "own.dat").write_text(coordinates(0.15))
    (folder / "airfoils" / "index.toml").write_text(
        '[[airfoil]]\nname = "own"\ntitle = "thin"\nuse = "tests"\nsource = "drawn for this test"\n'
    )
    designed = load_airfoil("naca2412")
    monkeypatch.setattr(store, "profiles_folder", lambda: folder)
    entries = list_profiles("airfoils")
    assert [(entry.name, entry.title, entry.source) for entry in entries] == [
        ("naca2412", "naca2412", "not in the index"),
        ("own", "thin; tests", "drawn for this test"),
    ]
    assert load_airfoil("NACA2412").name != designed.name
    assert load_airfoil("own") is not None


def test_shipped_airfoils_load() -> None:
    for entry in list_profiles("airfoils"):
        assert load_airfoil(entry.name) is not None
        assert entry.title
