"""`wingpath tune` as it is used: the table, the coupon, and the way back from measurements to a wing."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from simulated_coupons import Hidden, file_of, measured
from wings import SMALL_WING

from wingpath.io.spec_toml import dump_toml

WIDEST = 80


def written(path: Path, **changes: Any) -> Path:
    """Write a file of measurements that an honest builder might have filled in."""
    data = file_of(measured(Hidden(), None) | changes.pop("coupon", {}), **changes)
    path.write_text(dump_toml(data), encoding="utf-8")
    return path


def test_the_table(cli: Any) -> None:
    ran = cli("tune")
    assert ran.status == 0
    assert ran.err == ""
    assert "foaming-pla at 230 °C, flow 0.5: grows 2.44 times, fills 122 per cent." in ran.out
    row = next(line for line in ran.out.splitlines() if line.startswith("0.4 <"))
    assert row.split() == [
        "0.4",
        "<",
        "0.45",
        "0.25",
        "0.020",
        "0.099",
        "0.060",
        "0.77",
        "1.53",
        "44",
        "%",
        "81",
    ]
    assert len([line for line in ran.out.splitlines() if re.match(r"0\.\d+ ", line)]) == 6
    for word in ("pinches off", "flow x foaming - 1 >= gap", "45 deg 44 %", "proof-loaded", "1 note,"):
        assert word in ran.out
    assert max(map(len, ran.out.splitlines())) <= WIDEST


def test_one_document(cli: Any) -> None:
    ran = cli("tune", "--json", "--nozzle-mm", "0.6", "--temperature-c", "240", "--flow", "0.42")
    document = ran.document
    window = document["window"]
    assert (window["nozzle_mm"], window["bead_mm"], window["layer_mm"]) == (0.6, 0.68, 0.35)
    assert window["widest_slot_mm"] == pytest.approx(0.68 * (0.42 * 2.77 - 1.0), abs=1e-4)
    assert window["least_slot_mm"] <= window["suggested_slot_mm"] <= window["widest_slot_mm"]
    assert [row["nozzle_mm"] for row in document["nozzles"]] == [0.25, 0.3, 0.4, 0.5, 0.6, 0.8]
    assert document["overhangs"][1]["lean_deg"] == 45.0
    assert document["bands"]["calibrated"] is False
    assert document["coupon"] is None
    assert {"findings", "cautions", "counts"} <= set(document)


@pytest.mark.parametrize("spelling", ["--nozzle", "--bead", "--layer", "--temperature"])
def test_units_may_be_left_out_of_options(cli: Any, spelling: str) -> None:
    value = {"--nozzle": "0.5", "--bead": "0.5", "--layer": "0.2", "--temperature": "225"}[spelling]
    whole = f"{spelling}-{'c' if spelling == '--temperature' else 'mm'}"
    short, long = (cli("tune", "--json", word, value).document for word in (spelling, whole))
    assert short == long


def test_an_empty_window_is_a_warning(cli: Any) -> None:
    ran = cli("tune", "--flow", "0.4")
    assert ran.status == 0
    assert "WARNING no-window" in ran.out
    assert "set flow to 0.43 at 230" in ran.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--bead-mm", "3"), "--bead-mm: got 3; allowed: a number from 0.2 to 1.2 mm"),
        (("--nozzle-mm", "0.05"), "--nozzle-mm"),
        (("--layer-mm", "0.4"), "--layer-mm: got 0.4 mm; allowed: at most 0.8 of the bead width"),
        (("--flow", "2"), "--flow"),
        (("--temperature-c", "290"), "--temperature-c: got 290 °C; allowed: 190 to 270"),
        (("--filament", ""), "--filament"),
        (("--filament", "nylon"), "--filament"),
        (("--printer", "bed-1"), "--printer"),
        (("--resolution-mm", "2"), "--resolution-mm"),
        (("--tube-mm", "6"), "--tube-mm: got without -o"),
        (("--temperatures", "220"), "--temperatures: got without -o"),
        (("--picture", "window.gif"), "--picture"),
        (("--read", "m.toml", "--flow", "0.5"), "--flow: got together with --read"),
        (("--bead-mm", "nan"), "--bead-mm"),
    ],
)
def test_wrong_options(cli: Any, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    ran = cli("tune", *words)
    assert ran.status == 2
    assert said in ran.err
    assert ran.out == ""
    assert "Traceback" not in ran.err


def test_the_coupons_files(cli: Any, coupon_folder: Path) -> None:
    names = sorted(path.name for path in coupon_folder.iterdir())
    assert names == [
        *(f"coupon-{t}.gcode" for t in (220, 225, 230, 240)),
        "coupon.3mf",
        "coupon.stl",
        "measurements.toml",
        "sheet.html",
    ]
    checked = cli("check", coupon_folder / "coupon.stl")
    assert checked.status == 0
    assert "Every layer is one closed bead" in checked.out
    programs = cli(
        "check", *(coupon_folder / f"coupon-{t}.gcode" for t in (220, 225, 230, 240)), "--printer", "bed-220"
    )
    assert programs.status == 0
    assert programs.out.count("One bead without a break") == 4
    head = (coupon_folder / "coupon-230.gcode").read_text().split("G21")[0]
    for word in ("slots 0.03 to 0.18 mm", "flow: 0.5", "caution: Never leave a printer alone", "230 C"):
        assert word in head


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


def test_the_sheet_needs_nothing_from_outside_and_names_every_key(coupon_folder: Path) -> None:
    text = (coupon_folder / "sheet.html").read_text(encoding="utf-8")
    page = _Page()
    page.feed(text)
    assert not [tag for tag, _ in page.tags if tag in ("script", "link", "img", "iframe")]
    assert not [a for _, attrs in page.tags for a in attrs if a in ("src", "href")]
    template = (coupon_folder / "measurements.toml").read_text(encoding="utf-8")
    for key in re.findall(r"^# (\w+) = ", template, re.MULTILINE):
        assert key in text
    drawings = re.findall(r"<svg.*?</svg>\n", text, re.DOTALL)
    assert len(drawings) == 3
    for drawing in drawings:
        assert ElementTree.fromstring(drawing).tag.endswith("svg")
    for word in ("230 °C", "ventilate", "proof-loaded", "0.03, 0.06, 0.09", "tune --read measurements.toml"):
        assert word in text


def test_filled_in_readings_are_never_written_over(cli: Any, tmp_path: Path) -> None:
    folder = tmp_path / "coupon"
    assert cli("tune", "-o", folder, "--temperatures", "none").status == 0
    assert cli("tune", "-o", folder, "--temperatures", "none").status == 2
    again = cli("tune", "-o", folder, "--temperatures", "none", "--force")
    assert again.status == 0
    file = folder / "measurements.toml"
    file.write_text(file.read_text().replace("# mass_g = 0.00", "mass_g = 2.51", 1))
    ran = cli("tune", "-o", folder, "--temperatures", "none", "--force")
    assert ran.status == 2
    assert "holds readings" in ran.err
    assert "mass_g = 2.51" in file.read_text()


def test_temperatures_that_are_asked_for(cli: Any, tmp_path: Path) -> None:
    ran = cli("tune", "-o", tmp_path / "c", "--temperatures", "215,245", "--json")
    prints = ran.document["coupon"]["prints"]
    assert [one["temperature_c"] for one in prints] == [230.0, 215.0, 245.0]
    assert prints[0]["flow"] == 0.5
    assert prints[1]["flow"] > 0.5 > prints[2]["flow"]
    odd = cli("tune", "-o", tmp_path / "d", "--temperatures", "warm")
    assert odd.status == 2
    assert "--temperatures: got 'warm'" in odd.err
    assert not (tmp_path / "d").exists()


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_picture(cli: Any, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"window.{ending}"
    assert cli("tune", "--picture", path).status == 0
    data = path.read_bytes()
    if ending == "png":
        assert data.startswith(b"\x89PNG")
        return
    root = ElementTree.fromstring(data)
    groups = [g for g in root.iter() if g.get("class") == "window"]
    assert [g.get("data-nozzle-mm") for g in groups] == ["0.25", "0.3", "0.4", "0.5", "0.6", "0.8"]
    assert groups[2].get("data-widest-mm") == "0.0990"
    # the last line of the captions keeps a line's height off the lower edge
    last = max(float(text.get("y", "nan")) for text in root.iter() if text.tag.endswith("text"))
    assert last <= float(root.get("viewBox", "").split()[3]) - 16.0
    assert cli("tune", "--picture", path).status == 2


def test_the_way_back(cli: Any, tmp_path: Path) -> None:
    path = written(tmp_path / "measurements.toml")
    ran = cli("tune", "--read", path)
    assert ran.status == 0
    profile = tmp_path / "white-spool.toml"
    assert profile.is_file()
    assert max(map(len, ran.out.splitlines())) <= max(WIDEST, len(str(path)) + 60)
    for word in ("measured", "assumed: judgement", "before 9 %", "white-spool.toml", "proof-loaded"):
        assert word in ran.out
    again = cli("tune", "--read", path)
    assert again.status == 2
    assert "exists" in again.err
    assert cli("tune", "--read", path, "--force").status == 0
    # tune, build and the coupon take it
    tuned = cli("tune", "--filament", profile, "--json").document
    assert tuned["calibrated"] is True
    assert tuned["temperature_c"] == 230.0
    assert tuned["window"]["foaming_ratio"] == 2.35
    assert tuned["bands"]["printed_mass_share"] < 0.03
    spec = tmp_path / "wing.toml"
    data = SMALL_WING | {"filament": {"profile": "white-spool.toml"}, "slots": {"width_mm": 0.04}}
    spec.write_text(dump_toml(data))
    built = cli("build", spec, "--json").document
    assert built["print"]["calibrated"] is True
    assert built["bands"]["printed_mass_share"] == pytest.approx(tuned["bands"]["printed_mass_share"])
    assert "uncalibrated" not in {finding["code"] for finding in built["findings"]}


def test_a_coupon_from_a_profile_by_path_names_that_profile(cli: Any, tmp_path: Path) -> None:
    cli("tune", "--read", written(tmp_path / "measurements.toml"))
    ran = cli(
        "tune",
        "--filament",
        tmp_path / "white-spool.toml",
        "-o",
        tmp_path / "again",
        "--temperatures",
        "none",
    )
    assert ran.status == 0
    file = tmp_path / "again" / "measurements.toml"
    assert 'base_profile = "../white-spool.toml"' in file.read_text()
    file.write_text(file.read_text().replace("# mass_g = 0.00", "mass_g = 2.51", 1))
    assert cli("tune", "--read", file).status == 0


def test_one_document_of_what_was_read(cli: Any, tmp_path: Path) -> None:
    ran = cli("tune", "--read", written(tmp_path / "m.toml"), "-o", tmp_path / "mine.toml", "--json")
    document = ran.document
    assert document["profile"] == str(tmp_path / "mine.toml")
    assert document["values"]["density_g_cm3"]["kind"] == "measured"
    assert document["values"]["strength_mpa"]["kind"] == "memory"
    low, high = (document["values"]["e_modulus_mpa"][end] for end in ("low", "high"))
    assert low < document["values"]["e_modulus_mpa"]["value"] < high
    assert document["coupons"][0]["strip_modulus_mpa"]["value"] == pytest.approx(520.0, rel=1e-4)
    assert document["calibrated"] is True


def test_contradictions_end_with_1_and_write_nothing(cli: Any, tmp_path: Path) -> None:
    path = written(tmp_path / "m.toml", coupon={"wall_mm": [0.54, 0.54, 5.0]})
    ran = cli("tune", "--read", path)
    assert ran.status == 1
    assert "ERROR disagreement" in ran.out
    assert "coupon[0].wall_mm[0] and coupon[0].wall_mm[2]" in " ".join(ran.out.split())
    assert "No profile was written" in ran.out
    assert not (tmp_path / "white-spool.toml").exists()
    document = cli("tune", "--read", path, "--json").document
    assert document["profile"] is None
    assert document["counts"]["error"] >= 1


@pytest.mark.parametrize(
    ("text", "status", "said"),
    [
        ("", 2, "coupon: got nothing"),
        ("name = [", 2, "broken TOML"),
        ("nonsense = 1", 2, "nonsense"),
        (None, 3, "there is no such file"),
    ],
)
def test_files_that_are_none(cli: Any, tmp_path: Path, text: str | None, status: int, said: str) -> None:
    path = tmp_path / "m.toml"
    if text is not None:
        path.write_text(text)
    ran = cli("tune", "--read", path)
    assert ran.status == status
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_the_profile_goes_nowhere_else(cli: Any, tmp_path: Path) -> None:
    path = written(tmp_path / "white-spool.toml")
    before = path.read_bytes()
    assert cli("tune", "--read", path, "--force").status == 2
    assert cli("tune", "--read", path, "-o", tmp_path / "profile.txt").status == 2
    assert cli("tune", "--read", path, "-o", tmp_path / "no" / "where.toml").status == 3
    assert path.read_bytes() == before
    unknown = written(tmp_path / "m.toml", base_profile="nylon")
    ran = cli("tune", "--read", unknown)
    assert ran.status == 2
    assert "base_profile" in ran.err


def test_json_and_messages_do_not_mix(cli: Any, tmp_path: Path) -> None:
    ran = cli("tune", "-o", tmp_path / "c", "--json")
    document = json.loads(ran.out)
    assert document["coupon"]["proven"] is True
    assert len(document["coupon"]["files"]) == 8
    assert "writing files" in ran.err


@pytest.mark.parametrize("name", ["sheet.html", "measurements.toml", "coupon-999.gcode"])
def test_folders_in_the_way_are_never_lost(cli: Any, tmp_path: Path, name: str) -> None:
    folder = tmp_path / "k"
    (folder / name).mkdir(parents=True)
    (folder / name / "mine.txt").write_text("mine")
    ran = cli("tune", "-o", folder, "--force", "--temperatures", "none")
    assert (folder / name / "mine.txt").read_text() == "mine"
    # a folder with the name of a file that is not written is simply left alone
    assert ran.status == (0 if name == "coupon-999.gcode" else 2)


def test_a_link_that_leads_nowhere_is_in_the_way_too(cli: Any, tmp_path: Path) -> None:
    link = tmp_path / "d.toml"
    link.symlink_to(tmp_path / "nowhere.toml")
    path = written(tmp_path / "m.toml")
    assert cli("tune", "--read", path, "-o", link).status == 2
    assert link.is_symlink()


def test_nothing_that_a_terminal_would_obey_is_shown(cli: Any, tmp_path: Path) -> None:
    ran = cli("tune", "--filament", "\x1b[31mred")
    assert ran.status == 2
    assert "\x1b" not in ran.err
    odd = tmp_path / "a\x1b[31m.toml"
    odd.write_text("name = 1\x07")
    ran = cli("tune", "--read", odd)
    assert ran.status == 2
    assert not any(sign in ran.err for sign in "\x1b\x07")


def test_a_shipped_name_and_foreign_heat_are_refused_by_key(cli: Any, tmp_path: Path) -> None:
    ran = cli("tune", "--read", written(tmp_path / "a.toml", name="foaming-pla"))
    assert ran.status == 2
    assert "name: got" in ran.err
    ran = cli("tune", "--read", written(tmp_path / "b.toml", coupon={"temperature_c": 300.0}))
    assert ran.status == 2
    assert "coupon[0].temperature_c: got 300 °C; allowed: 190 to 270 °C" in ran.err


def test_tune_says_when_a_calibration_does_not_hold(cli: Any, tmp_path: Path) -> None:
    cli("tune", "--read", written(tmp_path / "m.toml"))
    ran = cli("tune", "--filament", tmp_path / "white-spool.toml", "--temperature-c", "245", "--flow", "0.42")
    assert "WARNING off-calibration" in ran.out
    assert "temperature_c is 245 °C, and the filament was measured at 230 °C" in " ".join(ran.out.split())


def test_the_resolution_of_another_program_counts(cli: Any) -> None:
    document = cli("tune", "--resolution-mm", "0.03", "--json").document
    assert document["window"]["least_slot_mm"] == pytest.approx(0.06)
    assert {row["least_slot_mm"] for row in document["nozzles"]} == {0.06}


@pytest.mark.parametrize(
    "key", ["wall_mm = [0.5]", "slot_fused = 2", "  bore_slide = 3", "strip_height_mm = 12.0"]
)
def test_any_reading_keeps_a_file(cli: Any, tmp_path: Path, key: str) -> None:
    folder = tmp_path / "c"
    cli("tune", "-o", folder, "--temperatures", "none")
    file = folder / "measurements.toml"
    file.write_text(file.read_text().replace("# mass_g = 0.00", f"{key}\n#", 1))
    before = file.read_text()
    ran = cli("tune", "-o", folder, "--temperatures", "none", "--force")
    assert ran.status == 2
    assert key.split()[0] in ran.err
    assert file.read_text() == before
    file.write_text("[[coupon]\nmass_g = 2")
    assert cli("tune", "-o", folder, "--temperatures", "none", "--force").status == 2
