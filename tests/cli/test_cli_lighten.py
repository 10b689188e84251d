"""`wingpath lighten`: folders, files, exit statuses, words."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from lightened import REDUCED

from wingpath.io.spec_toml import dump_toml

Run = Callable[..., Any]

QUICK = ("--judged", "5", "--pool", "8", "--batch", "3", "--processes", "1", "--edge-mm", "6")
FILES = {"lightest.toml", "front.csv", "judged.csv", "front.png", "front.svg", "report.json"}


@pytest.fixture(scope="module")
def lightened(session_cli: Run, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Any]:
    """Search once by the command line. Read only."""
    folder = tmp_path_factory.mktemp("lighten")
    spec = folder / "sedge.toml"
    spec.write_text(dump_toml(REDUCED))
    return folder, session_cli("lighten", spec, *QUICK)


def test_it_writes_a_spec_tables_pictures_and_a_report(lightened: tuple[Path, Any]) -> None:
    folder, ran = lightened
    assert ran.status == 0, ran.err
    out = folder / "sedge-lighter"
    assert {path.name for path in out.iterdir()} == {*FILES, "evaluations.jsonl"}
    report = json.loads((out / "report.json").read_text())
    assert set(report["files"]) == FILES
    assert report["lightest"]["mass_g"] < report["drawn"]["mass_g"]
    with (out / "front.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    assert any(row["mark"] == "lightest" for row in rows)
    assert any(row["mark"] == "drawn" for row in rows)
    changed = tomllib.loads((out / "lightest.toml").read_text())
    assert changed["station"] == tomllib.loads((folder / "sedge.toml").read_text())["station"]
    assert (out / "front.png").read_bytes()[:4] == b"\x89PNG"


def test_it_fits_the_screen_and_says_what_to_do_next(lightened: tuple[Path, Any]) -> None:
    _, ran = lightened
    # names of folders are not broken
    wide = [line for line in ran.out.splitlines() if len(line) > 80 and "/" not in line]
    assert not wide
    for words in ("as drawn", "lightest", "asked", "bought", "Estimates until proof-loaded", "Next: "):
        assert words in ran.out
    assert "left" in ran.err
    assert "Traceback" not in ran.err


def test_an_earlier_search_is_gone_on_with_or_replaced_when_asked(
    lightened: tuple[Path, Any], cli: Run
) -> None:
    folder, _ = lightened
    spec, out = folder / "sedge.toml", folder / "sedge-lighter"
    refused = cli("lighten", spec, *QUICK)
    assert refused.status == 2
    assert "--resume" in refused.err
    assert "--force" in refused.err
    before = (out / "report.json").read_text()
    resumed = cli("lighten", spec, *QUICK, "--resume", "--json")
    assert resumed.status == 0
    assert (out / "report.json").read_text() == before
    assert resumed.document["folder"] == str(out)
    assert {key: value for key, value in resumed.document.items() if key != "folder"} == json.loads(before)


def test_what_cannot_be_asked(cli: Run, tmp_path: Path) -> None:
    spec = tmp_path / "sedge.toml"
    spec.write_text(dump_toml(REDUCED))
    for words, said in (
        (("--force", "--resume"), "--force: got together with --resume"),
        (("--resume",), "holds no evaluations.jsonl"),
        (("--engine", "ray"), "--engine: got 'ray'"),
    ):
        ran = cli("lighten", spec, *words)
        assert ran.status == 2
        assert said in ran.err
        assert not (tmp_path / "sedge-lighter").exists()
    assert cli("lighten", tmp_path / "none.toml").status == 3
    spec.write_text(dump_toml({**REDUCED, "freedom": {"pitch_mm": [40.0, 20.0]}}))
    assert "freedom.pitch_mm: got [40, 20]" in cli("lighten", spec, "-o", tmp_path / "b").err
    spec.write_text(dump_toml({**REDUCED, "targets": {"twist_deg_per_n_m": -1.0}}))
    assert not (tmp_path / "b").exists()
    ran = cli("lighten", spec, "-o", tmp_path / "c")
    assert "targets.twist_deg_per_n_m: got -1" in ran.err
    assert not (tmp_path / "c").exists()


def test_targets_that_nothing_meets_end_with_1_and_the_nearest(cli: Run, tmp_path: Path) -> None:
    spec = tmp_path / "sedge.toml"
    spec.write_text(dump_toml({**REDUCED, "targets": {"twist_deg_per_n_m": 0.05}}))
    ran = cli("lighten", spec, *QUICK, "-o", tmp_path / "out")
    assert ran.status == 1
    assert "no layout that was built meets the targets" in ran.out
    assert "Near misses" in ran.out
    assert not (tmp_path / "out" / "lightest.toml").exists()
    assert (tmp_path / "out" / "judged.csv").is_file()


def test_files_that_the_spec_names_lie_beside_the_lightest(cli: Run, tmp_path: Path) -> None:
    (tmp_path / "foils").mkdir()
    shipped = Path(__file__).parents[2] / "profiles" / "airfoils" / "flat-12.dat"
    (tmp_path / "foils" / "own.dat").write_bytes(shipped.read_bytes())
    stations = [{**station, "airfoil": "foils/own.dat"} for station in REDUCED["station"]]
    spec = tmp_path / "sedge.toml"
    easy = {"twist_deg_per_n_m": 9.0, "buckling_torque_n_m": 0.3}
    spec.write_text(dump_toml({**REDUCED, "station": stations, "targets": easy}))
    ran = cli("lighten", spec, *QUICK, "-o", tmp_path / "out")
    assert ran.status == 0, ran.err
    assert (tmp_path / "out" / "own.dat").read_bytes() == (tmp_path / "foils" / "own.dat").read_bytes()
    again = cli("assess", tmp_path / "out" / "lightest.toml", "--preview")
    assert again.status == 0, again.err


def test_an_interrupt_keeps_the_best(tmp_path: Path) -> None:
    spec = tmp_path / "sedge.toml"
    spec.write_text(dump_toml(REDUCED))
    words = ["lighten", str(spec), "--judged", "500", "--processes", "1", "--edge-mm", "6"]
    code = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    code += "from wingpath.cli.app import main; main()"
    running = subprocess.Popen(
        [sys.executable, "-c", code, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    journal = tmp_path / "sedge-lighter" / "evaluations.jsonl"
    deadline = time.monotonic() + 300.0
    while time.monotonic() < deadline and running.poll() is None:
        if journal.is_file() and journal.read_text().count('"judged"') >= 4:
            break
        time.sleep(0.2)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=300)
    assert running.returncode == 130, err
    assert "Traceback" not in err
    assert "Stopped early" in out
    assert (tmp_path / "sedge-lighter" / "judged.csv").is_file()
    assert json.loads((tmp_path / "sedge-lighter" / "report.json").read_text())["stopped"] is True
