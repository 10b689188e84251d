"""`wingpath build`: the report page, strength in it, and the browser."""

from __future__ import annotations

import json
import webbrowser
from pathlib import Path
from typing import Any

import pytest
from wings import SMALL

FLOWN = SMALL + "[aircraft]\nall_up_mass_g = 60.0\nload_factor = 4.0\nmax_speed_m_s = 15.0\n"

TOO_HEAVY = FLOWN.replace("60.0", "40000.0")
"""An aircraft of 40 kg on a wing of two hand's breadths: it prints, and does not bear it."""


def test_strength_and_its_findings_are_in_the_report(cli: Any, spec_file: Any, tmp_path: Path) -> None:
    ran = cli("build", spec_file(FLOWN), "-o", tmp_path / "out")
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert ran.status == 0
    assert report["strength"]["margins"]
    assert report["strength_missing"] is None
    assert report["spanwise"]["margin"] is not None
    assert f"By estimate {report['strength']['mass_g']:.1f} g" in " ".join(ran.out.split())
    codes = {finding["code"] for finding in report["findings"]}
    assert "unknown-fusion" in codes
    assert len(report["findings"]) == len({json.dumps(one) for one in report["findings"]})
    assert "By estimate:" in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def test_the_numbers_are_those_of_assess(cli: Any, spec_file: Any, tmp_path: Path) -> None:
    spec = spec_file(FLOWN)
    cli("build", spec, "-o", tmp_path / "out")
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    (wing,) = cli("assess", spec, "--json").document["wings"]
    told = dict(report["strength"])
    assert told.pop("verdict")
    assert told == {key: wing[key] for key in told}
    assert set(wing) - set(told) == {"spec", "name", "filament", "counts", "findings"}


def test_a_wing_that_breaks_ends_with_1(cli: Any, spec_file: Any, tmp_path: Path) -> None:
    ran = cli("build", spec_file(TOO_HEAVY), "-o", tmp_path / "out")
    assert ran.status == 1
    said = " ".join(ran.out.split())
    assert "do not fly this wing as it is" in said
    assert "ERROR broken-margin" in said
    assert "Next: do what stands under ERROR" in said
    assert (tmp_path / "out" / "panel-1-left.gcode").exists()


def test_strength_can_be_left_out(cli: Any, spec_file: Any, tmp_path: Path) -> None:
    ran = cli("build", spec_file(TOO_HEAVY), "-o", tmp_path / "out", "--no-strength")
    assert ran.status == 0
    assert "Stiffness and strength: left out with --no-strength." in ran.out
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert report["strength"] is None
    assert report["strength_missing"] == "left out with --no-strength"


def test_open_shows_the_page_that_was_written(
    cli: Any, spec_file: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda url: shown.append(url) or True)
    ran = cli("build", spec_file(SMALL), "-o", tmp_path / "out", "--no-strength", "--open")
    assert ran.status == 0
    assert shown == [(tmp_path / "out" / "report.html").as_uri()]


def test_a_machine_without_a_browser_says_where_the_page_is(
    cli: Any, spec_file: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(webbrowser, "open", lambda url: False)
    ran = cli("build", spec_file(SMALL), "-o", tmp_path / "out", "--no-strength", "--open", "--json")
    assert ran.status == 0
    assert "open this file yourself" in ran.err
    assert "report.html" in ran.err
    assert ran.document["proven"] is True


def test_lines_stay_within_eighty_columns(
    cli: Any, spec_file: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = cli("build", spec_file(FLOWN), "-o", "out", "--notes")
    assert max(len(line) for line in ran.out.splitlines()) <= 80
