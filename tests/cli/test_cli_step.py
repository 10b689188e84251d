"""`wingpath build --step --step-parts`: what is written, what is told, what another build replaces."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cad_reading import product_names, read_step, solids_in, valid
from test_cli_build import FILES

from wingpath.io.build_output import is_output_name


@pytest.fixture(scope="module")
def stepped(tmp_path_factory: pytest.TempPathFactory, session_cli: Callable[..., Any], small: Any) -> Any:
    """Build the small wing with both files; the folder and what the command did."""
    folder = tmp_path_factory.mktemp("step") / "wing"
    return folder, session_cli("build", small.spec, "-o", folder, "--step", "--step-parts", "--json")


def test_both_files_are_written_beside_the_others(stepped: Any) -> None:
    folder, ran = stepped
    assert ran.status == 0
    assert {path.name for path in folder.iterdir()} == FILES | {"wing.step", "wing-parts.step"}
    assert set(ran.document["files"]) == FILES | {"wing.step", "wing-parts.step"}
    shape = read_step(folder / "wing.step")
    assert valid(shape)
    assert len(solids_in(shape)) == 4
    wanted = {f"panel-{n}-{hand}" for n in (1, 2) for hand in ("left", "right")}
    assert set(product_names(folder / "wing.step")) == {"Small", *wanted}
    assert valid(read_step(folder / "wing-parts.step"))


def test_the_report_says_what_is_exact_and_how_close_it_is(stepped: Any) -> None:
    folder, _ = stepped
    report = json.loads((folder / "report.json").read_text())
    step = report["step"]
    assert step["files"] == ["wing-parts.step", "wing.step"]
    assert [part["name"] for part in step["parts"]] == ["panel-1", "panel-2"]
    for part, panel in zip(step["parts"], report["panels"], strict=True):
        assert part["exact"] is True
        assert part["reason"] is None
        assert part["mesh_volume_mm3"] == pytest.approx(panel["solid_volume_mm3"], abs=1e-3)
        assert part["volume_mm3"] == pytest.approx(part["mesh_volume_mm3"], rel=2e-4)
    assert [part["facets_of"] for part in step["parts"]] == [[], ["tip cap"]]
    assert "panel-1 outer body" in {piece["name"] for piece in step["pieces"]}
    assert [f["panel"] for f in report["findings"] if f["code"] == "step-facets"] == ["panel-2"]


def test_progress_shows_the_solids_and_never_runs_backwards(stepped: Any) -> None:
    _, ran = stepped
    shares = [int(line.split("%")[0].split(":")[1]) for line in ran.err.splitlines()]
    assert shares == sorted(shares)
    assert "solid for CAD" in ran.err


def test_without_the_options_the_report_holds_null(small: Any) -> None:
    assert small.ran.document["step"] is None


def test_force_takes_files_of_an_earlier_build_away_and_leaves_others(
    stepped: Any, cli: Callable[..., Any], small: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "wing"
    folder.mkdir()
    for name in ("wing.step", "wing-parts.step", "mine.step"):
        (folder / name).write_text("old")
    ran = cli("build", small.spec, "-o", folder, "--force", "--step")
    assert ran.status == 0
    assert "wing.step: 2 of 2 solids are exact; see report.json." in ran.out
    assert {path.name for path in folder.glob("*.step")} == {"wing.step", "mine.step"}
    assert cli("build", small.spec, "-o", folder, "--force").status == 0
    assert {path.name for path in folder.glob("*.step")} == {"mine.step"}
    assert is_output_name("wing.step")
    assert is_output_name("wing-parts.step")
    assert not is_output_name("wing-parts2.step")
