"""`wingpath assess` as it is used: one wing, several, the quick look, the page to print, and refusals."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from assessed import SHORT_WING

from wingpath.io.spec_toml import dump_toml

WIDEST, SCREEN = 80, 44
"""Columns and rows of what a terminal shows at once."""

COARSE = ("--edge-mm", "6")


def written(folder: Path, name: str = "sedge.toml", **tables: Any) -> Path:
    path = folder / name
    path.write_text(dump_toml({**SHORT_WING, **tables}), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory, session_cli: Any) -> tuple[Path, Any, Path]:
    """Assess one wing with its page and the JSON document once."""

    folder = tmp_path_factory.mktemp("assess")
    spec, page = written(folder), folder / "proof.html"
    return spec, session_cli("assess", spec, *COARSE, "--json", "--proof", page), page


def test_json_is_one_document_with_the_promised_keys(one: tuple[Path, Any, Path]) -> None:
    spec, ran, page = one
    assert ran.status == 0
    document = ran.document
    assert document["document"] == "wingpath assess"
    assert document["proof_page"] == str(page)
    assert [wing["spec"] for wing in document["wings"]] == [str(spec)]
    wing = document["wings"][0]
    assert wing["mass_g"] > wing["printed_mass_g"] > 0.0
    assert any("proof-load" in caution for caution in document["cautions"])
    assert any("airworthiness" in caution for caution in document["cautions"])
    assert "assessing: 100 %" in ran.err


def test_the_page_is_there_and_holds_the_weights(one: tuple[Path, Any, Path]) -> None:
    _, ran, page = one
    text = page.read_text(encoding="utf-8")
    assert "Sedge 180" in text
    assert "<html" in text
    assert text.count("<tr") > len(ran.document["wings"][0]["proof_loading"]["steps"])


def test_one_screen_for_people(cli: Any, tmp_path: Path) -> None:
    ran = cli("assess", written(tmp_path), *COARSE)
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert max(len(line) for line in lines) <= WIDEST
    assert len(lines) <= SCREEN
    assert lines[0].startswith("Sedge 180: all ")
    for words in (
        *("mass of a half wing, g", "twist per N m at the tip, deg", "it wrinkles at", "judgement"),
        *("tube bending at the root", "more, all greater", "--details"),
        *("proof-load before flight", "--proof FILE.html", "notes, shown with --notes"),
    ):
        assert words in ran.out, words
    margins = one_of(ran.out, r"and (\d+) more, all greater")
    more = cli("assess", written(tmp_path), *COARSE, "--details")
    assert max(len(line) for line in more.out.splitlines()) <= WIDEST
    for words in ("partly fused", "no ribs", "at 50 °C", "common practice, no source", "Printed: skin"):
        assert words in more.out, words
    table = more.out[more.out.index("margin at 1.5") :].split("\n\n")[0].splitlines()[2:]
    assert len(table) == 4 + int(margins)
    values = [float(line.split()[-2].replace("over", "99")) for line in table if "over 99" not in line]
    assert values == sorted(values)


def one_of(text: str, pattern: str) -> str:
    (found,) = re.findall(pattern, text)
    return str(found)


def test_several_side_by_side(cli: Any, tmp_path: Path) -> None:
    first = written(tmp_path, "both.toml")
    second = written(tmp_path, "aft.toml", ribs={"run": "aft", "pitch_mm": 24.0})
    ran = cli("assess", first, second, *COARSE)
    assert ran.status == 0
    assert max(len(line) for line in ran.out.splitlines()) <= WIDEST
    head = ran.out.splitlines()[0].split()
    assert head[-2:] == ["both", "aft"]
    mass = next(line for line in ran.out.splitlines() if line.startswith("mass of a half wing"))
    assert "*" in mass.split()[-2]
    assert mass.endswith("%")
    assert "aft against both: ribs.run is aft instead of both." in ran.out.replace("\n    ", " ")
    document = cli("assess", first, second, *COARSE, "--json").document
    changes = document["comparison"]["changes"]
    assert changes == [{"spec": "aft", "keys": [{"key": "ribs.run", "first": "both", "here": "aft"}]}]
    best = {row["key"]: row["best"] for row in document["comparison"]["rows"]}
    assert best["mass_g"] == "aft"
    assert best["buckling_torque_n_m.nose_down"] == "both"


def test_a_quick_look_builds_nothing(cli: Any, tmp_path: Path) -> None:
    spec = written(tmp_path)
    ran = cli("assess", "--preview", spec)
    assert ran.status == 0
    assert ran.err == ""
    assert "NOTE preview" in ran.out
    wing = cli("assess", "--preview", "--json", spec).document["wings"][0]
    assert wing["preview"] is True
    assert wing["twist_deg_per_n_m"] > 0.0
    assert wing["first_buckling_load_factor"] is None
    assert [path.name for path in tmp_path.iterdir()] == ["sedge.toml"]


def test_the_quick_look_is_near_the_shell(cli: Any, one: tuple[Path, Any, Path]) -> None:
    spec, ran, _ = one
    quick, whole = cli("assess", "--preview", "--json", spec).document["wings"][0], ran.document["wings"][0]
    for key, share in (("mass_g", 0.12), ("twist_deg_per_n_m", 0.25), ("root_bending_n_mm", 1e-3)):
        assert quick[key] == pytest.approx(whole[key], rel=share), key


def test_a_broken_margin_gives_status_one(cli: Any, tmp_path: Path) -> None:
    spec = written(tmp_path, aircraft={"all_up_mass_g": 4000.0, "load_factor": 10.0})
    ran = cli("assess", spec, *COARSE)
    assert ran.status == 1
    assert "ERROR broken-margin" in ran.out
    assert "margins broken" in ran.out.splitlines()[0] + ran.out.splitlines()[1]


def test_refusals(cli: Any, tmp_path: Path) -> None:
    spec = written(tmp_path)
    taken = tmp_path / "taken.html"
    taken.write_text("mine", encoding="utf-8")
    for words, status, said in (
        (["assess"], 2, "SPEC"),
        (["assess", tmp_path / "none.toml"], 3, "none.toml"),
        (["assess", spec, spec, "--proof", tmp_path / "p.html"], 2, "allowed: with one"),
        (["assess", spec, "--proof", tmp_path / "p.pdf"], 2, "ends in .html"),
        (["assess", spec, "--preview", "--proof", tmp_path / "p.html"], 2, "--preview"),
        (["assess", spec, "--preview", "--edge-mm", "5"], 2, "--preview"),
        (["assess", spec, "--edge-mm", "0"], 2, "edge-mm"),
        # some versions of the library that reads options pass it on
        (["assess", spec, "--edge-mm", "nan"], 2, "edge"),
        (["lighten", spec, "--edge-mm", "nan", "-o", tmp_path / "lighter"], 2, "edge"),
        (["assess", spec, "--proof", taken], 2, "taken.html"),
    ):
        ran = cli(*words)
        assert ran.status == status, words
        assert said in ran.err, words
        assert ran.out == ""
        assert "Traceback" not in ran.err
    assert taken.read_text(encoding="utf-8") == "mine"


def test_a_wrong_second_spec_is_told_before_anything_is_built(cli: Any, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("[ribs]\npitch_mm = -3\n", encoding="utf-8")
    ran = cli("assess", written(tmp_path), wrong)
    assert ran.status == 2
    assert "ribs.pitch_mm" in ran.err
    assert "assessing" not in ran.err


def test_without_an_aircraft_there_is_no_page_and_that_is_said_at_once(cli: Any, tmp_path: Path) -> None:
    spec = tmp_path / "bare.toml"
    bare = {key: value for key, value in SHORT_WING.items() if key != "aircraft"}
    spec.write_text(dump_toml(bare), encoding="utf-8")
    page = tmp_path / "proof.html"
    ran = cli("assess", spec, *COARSE, "--proof", page, "--json")
    assert ran.status == 2
    assert "without [aircraft]" in ran.err
    assert "assessing" not in ran.err
    assert not page.exists()


def test_a_page_that_cannot_be_planned_is_not_passed_over(cli: Any, tmp_path: Path) -> None:
    spec, page = (
        written(tmp_path, aircraft={"all_up_mass_g": 17.0, "load_factor": 2.0}),
        tmp_path / "proof.html",
    )
    ran = cli("assess", spec, *COARSE, "--proof", page, "--json")
    assert ran.status == 1
    assert "no plan of a proof loading to write, because" in ran.err
    assert json.loads(ran.out)["proof_page"] is None
    assert not page.exists()
