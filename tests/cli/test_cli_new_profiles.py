"""`wingpath new` and `wingpath profiles`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

KINDS = ("airfoils", "printers", "filaments", "tubes")


@pytest.mark.slow
def test_the_starter_builds_clean(cli: Any, tmp_path: Path) -> None:
    spec = tmp_path / "wing.toml"
    ran = cli("new", spec)
    assert ran.status == 0
    assert f"wingpath build {spec}" in ran.out
    built = cli("build", spec, "--json")
    assert built.status == 0
    assert built.document["proven"] is True
    assert built.document["counts"]["error"] == built.document["counts"]["warning"] == 0


def test_new_writes_wing_toml_here(cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli("new").status == 0
    assert (tmp_path / "wing.toml").is_file()


def test_new_overwrites_only_with_force(cli: Any, tmp_path: Path) -> None:
    spec = tmp_path / "wing.toml"
    spec.write_text("mine")
    ran = cli("new", spec)
    assert ran.status == 2
    assert ran.out == ""
    assert "--force" in ran.err
    assert spec.read_text() == "mine"
    assert cli("new", spec, "--force").status == 0
    assert spec.read_text() != "mine"


def test_new_in_json(cli: Any, tmp_path: Path) -> None:
    ran = cli("new", tmp_path / "wing.toml", "--json")
    assert ran.status == 0
    assert ran.document["file"] == str(tmp_path / "wing.toml")
    assert ran.err == ""


def test_new_where_it_cannot_be(cli: Any, tmp_path: Path) -> None:
    assert cli("new", tmp_path).status == 2
    assert cli("new", tmp_path / "nowhere" / "wing.toml").status == 3
    assert cli("new", tmp_path / "a", "b").status == 2
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", KINDS)
def test_profiles_of_one_kind_have_titles_and_sources(cli: Any, kind: str) -> None:
    ran = cli("profiles", kind, "--json")
    assert ran.status == 0
    assert ran.err == ""
    entries = ran.document[kind]
    assert set(ran.document) & set(KINDS) == {kind}
    assert len({entry["name"] for entry in entries}) == len(entries) >= 3
    for entry in entries:
        assert len(entry["title"]) > 5, entry
        assert len(entry["source"]) > 10, entry
        assert not entry["title"].startswith("#"), entry


def test_profiles_lists_every_kind_for_people(cli: Any) -> None:
    ran = cli("profiles")
    assert ran.status == 0
    lines = ran.out.splitlines()
    for kind in KINDS:
        assert f"{kind}:" in lines
    names = {"naca2412", "bed-220", "foaming-pla", "pultruded-carbon"}
    assert names <= {line.strip() for line in lines}
    assert all(len(line) <= 80 for line in lines)
    everything = json.loads(cli("profiles", "--json").out)
    assert ran.out.count("Source: ") == sum(len(everything[kind]) for kind in KINDS)


def test_a_kind_that_does_not_exist(cli: Any) -> None:
    ran = cli("profiles", "propellers")
    assert ran.status == 2
    assert ran.out == ""
    assert "airfoils" in ran.err
