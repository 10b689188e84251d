"""The shipped airfoils: every file loads, is in range, and is what its equation gives."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from wingpath.geometry.mean_lines import section
from wingpath.io.airfoil_dat import airfoil_text, read_airfoil

FOLDER = Path(__file__).resolve().parents[2] / "profiles" / "airfoils"
INDEX = tomllib.loads((FOLDER / "index.toml").read_text("utf-8"))["airfoil"]


def test_index_and_folder_agree():
    files = [entry["file"] for entry in INDEX]
    assert sorted(files) == sorted(path.name for path in FOLDER.glob("*.dat"))
    assert len(set(files)) == len(files) >= 10
    assert [entry["name"] for entry in INDEX] == [Path(name).stem for name in files]


@pytest.mark.parametrize("entry", INDEX, ids=lambda entry: entry["name"])
class TestEach:
    def test_is_documented(self, entry):
        assert set(entry) == {"name", "file", "title", "use", "thickness_percent", "source", "assumed"}
        for key in ("title", "use", "source", "assumed"):
            assert 5 < len(entry[key]) < 110
        assert re.search(r"NACA Report \d+ \(\d{4}\)", entry["source"])

    def test_is_made_from_its_equation(self, entry):
        # the recipe of the folder's README
        notes = (
            entry["title"],
            *(f"{key.capitalize()}: {entry[key]}" for key in ("use", "source", "assumed")),
        )
        text = airfoil_text(section(entry["name"], points_per_side=81), notes=notes)
        assert (FOLDER / entry["file"]).read_text("utf-8") == text

    def test_meets_the_equation(self, entry):
        airfoil, fine = read_airfoil(FOLDER / entry["file"]).sampled(), section(entry["name"]).sampled()
        assert airfoil.loop == pytest.approx(fine.loop, abs=1e-5)

    def test_is_in_range(self, entry):
        airfoil = read_airfoil(FOLDER / entry["file"])
        assert 100.0 * airfoil.thickness == pytest.approx(entry["thickness_percent"], abs=0.05)
        assert 0.001 < airfoil.trailing_edge_gap < 0.004
        assert airfoil.nose == pytest.approx([0.0, 0.0], abs=0.007)
        middle = 0.5 * (airfoil.upper[-1] + airfoil.lower[-1])
        assert middle == pytest.approx([1.0, 0.0], abs=1e-6)
        depth = airfoil.sampled().upper[1:, 1] - np.interp(
            airfoil.sampled().upper[1:, 0], *airfoil.sampled().lower.T
        )
        assert depth.min() > 0.0


def test_readme_recipe_is_the_one_tested():
    readme = (FOLDER / "README.md").read_text("utf-8")
    recipe = re.search(r"```python\n(.*?)```", readme, re.DOTALL)
    assert recipe is not None
    compile(recipe[1], "README.md", "exec")
    assert 'section(entry["name"], points_per_side=81), notes=notes' in recipe[1]
