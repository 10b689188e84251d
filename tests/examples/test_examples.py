"""Every example builds clean, gives its expected values, and is one contour a layer by other people's code.

The independent checks read the STL that was written with trimesh and use shapely on its sections; nothing
of our slicing or judging is in them.
"""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from built_examples import EXAMPLES, NAMES, Built
from outside import SLICERS, Source

import wingpath
from wingpath.pipeline.comparing import ROWS
from wingpath.pipeline.weighing import weigh_wing

TRIMESH = Source(
    "library",
    "trimesh and shapely",
    "trimesh, an open library of meshes (MIT), and shapely, of plane geometry (BSD), on the written files",
)

CUTS = 15
"""Random heights at which each panel is cut."""


def expectations(name: str) -> list[dict[str, Any]]:
    table = tomllib.loads((EXAMPLES / name / "expected.toml").read_text())
    rows: list[dict[str, Any]] = table["expected"]
    return rows


def value_at(document: Any, key: str) -> Any:
    for part in key.split("."):
        document = document[int(part)] if isinstance(document, list) else document[part]
    return document


of_each = pytest.mark.parametrize("name", NAMES)

pytestmark = pytest.mark.slow


def sections(built: Built, seed: int) -> list[tuple[Any, float, list[shapely.Polygon]]]:
    """Cut every written left-hand STL with trimesh: panel, height, polygons."""
    rng = np.random.default_rng(seed)
    found = []
    for panel in built.build.panels:
        mesh = trimesh.load(built.folder / f"{panel.name}-left.stl")
        top = mesh.bounds[1, 2]
        # the last half layer is not printed
        for z in rng.uniform(0.05, top - 0.25, CUTS):
            path = mesh.section(plane_origin=[0.0, 0.0, z], plane_normal=[0.0, 0.0, 1.0])
            flat, _ = path.to_2D(to_2D=np.array(np.eye(4)) + _down(z))
            found.append((panel, float(z), list(flat.polygons_full)))
    return found


def _down(z: float) -> np.ndarray:
    shift = np.zeros((4, 4))
    shift[2, 3] = -z
    return shift


@of_each
def test_three_examples_differ(name: str) -> None:
    assert len(NAMES) == 3
    assert {path.name for path in (EXAMPLES / name).iterdir() if path.is_file()} >= {
        "README.md",
        "expected.toml",
        "spec.toml",
    }


@of_each
def test_the_build_has_the_expected_values(name: str, example: Callable[[str], Built]) -> None:
    document = example(name).document
    wrong = [
        f"{row['key']}: {value_at(document, row['key'])}, expected {row['value']} +- {row['tolerance']}"
        for row in expectations(name)
        if not abs(value_at(document, row["key"]) - row["value"]) <= row["tolerance"]
    ]
    assert not wrong, "\n".join(wrong)
    assert all(row["why"] and row["evidence"] in ("by hand", "earlier run") for row in expectations(name))


@of_each
def test_the_build_is_proven_and_clean(name: str, example: Callable[[str], Built]) -> None:
    build = example(name).build
    assert build.proven
    assert [f for f in build.findings if f.severity != "note"] == []


@of_each
def test_trimesh_counts_one_contour_at_random_heights(name: str, example: Callable[[str], Built]) -> None:
    with SLICERS.rule(
        "Written files of every example: contours at random heights",
        source=TRIMESH,
        expected="one at each of 15 heights a panel",
    ):
        for panel, z, polygons in sections(example(name), seed=1):
            rings = [len(polygon.interiors) + 1 for polygon in polygons]
            assert rings == [1], f"{panel.name} at {z:.3f} mm: {rings}"


@of_each
def test_shapely_offsets_each_section_to_one_ring(name: str, example: Callable[[str], Built]) -> None:
    got = example(name)
    bead = got.build.design.spec.bead_mm
    with SLICERS.rule(
        "Written files of every example: sections moved in by half a bead",
        source=TRIMESH,
        expected="one ring at each of 15 heights a panel",
    ):
        for panel, z, polygons in sections(got, seed=2):
            path = polygons[0].buffer(-0.5 * bead, join_style="round")
            assert path.geom_type == "Polygon", f"{panel.name} at {z:.3f} mm"
            assert not path.interiors, f"{panel.name} at {z:.3f} mm"


@of_each
def test_areas_and_path_agree_with_trimesh(name: str, example: Callable[[str], Built]) -> None:
    got = example(name)
    bead, layer = got.build.design.spec.bead_mm, got.build.design.spec.print.layer_mm
    areas, paths = [], []
    for panel in got.build.panels:
        layers = panel.continuity.layers
        mesh = trimesh.load(got.folder / f"{panel.name}-left.stl")
        picked = np.linspace(2, len(layers) - 3, CUTS).astype(int)
        for index in picked:
            z = (index + 0.5) * layer
            path = mesh.section(plane_origin=[0.0, 0.0, z], plane_normal=[0.0, 0.0, 1.0])
            flat, _ = path.to_2D(to_2D=np.array(np.eye(4)) + _down(z))
            (polygon,) = flat.polygons_full
            areas.append((polygon.area, layers.area_mm2[index], 0.003 * polygon.length))
            bead_path = polygon.buffer(-0.5 * bead, join_style="round")
            paths.append((bead_path.length, layers.path_mm[index]))
    theirs, ours, allowed = np.array(areas).T
    SLICERS.check(
        f"Written files of {name}: area of a layer over theirs",
        source=TRIMESH,
        expected=theirs,
        got=ours,
        abs=allowed,
        because="borders of layers are straightened",
        ratio=True,
        or_more="0.003 mm of its border",
    )
    theirs, ours = np.array(paths).T
    SLICERS.check(
        f"Written files of {name}: path of a layer over theirs",
        source=TRIMESH,
        expected=theirs,
        got=ours,
        rel=0.002,
        because="straightened borders",
        ratio=True,
    )


@of_each
def test_layer_areas_add_up_to_the_volume(name: str, example: Callable[[str], Built]) -> None:
    got = example(name)
    volumes = []
    with SLICERS.rule(
        "Written files of every example: panels", source=TRIMESH, expected="one closed solid each"
    ):
        for panel in got.build.panels:
            mesh = trimesh.load(got.folder / f"{panel.name}-left.stl")
            assert mesh.is_watertight
            assert mesh.body_count == 1
            volumes.append((mesh.volume, panel.continuity.layers.volume_mm3))
    theirs, ours = np.array(volumes).T
    SLICERS.check(
        f"Written files of {name}: layers of a panel added up over its volume",
        source=TRIMESH,
        expected=theirs,
        got=ours,
        rel=2e-3,
        because="layers stand for the solid between them",
        ratio=True,
    )


@of_each
def test_hands_are_mirror_images(name: str, example: Callable[[str], Built]) -> None:
    got = example(name)
    for panel in got.build.panels:
        left, right = (trimesh.load(got.folder / f"{panel.name}-{hand}.stl") for hand in ("left", "right"))
        assert left.volume > 0.0
        assert right.volume == pytest.approx(left.volume, rel=1e-9)
        assert right.bounds[:, 1] == pytest.approx(-left.bounds[::-1, 1], abs=1e-5)


@of_each
def test_the_readme_names_the_wing_and_the_command(name: str) -> None:
    text = (EXAMPLES / name / "README.md").read_text()
    assert wingpath.load_spec(EXAMPLES / name / "spec.toml").name in text
    assert f"wingpath build examples/{name}/spec.toml" in text
    assert len(text.splitlines()) <= 30


README = (EXAMPLES.parent / "README.md").read_text(encoding="utf-8")


def block(language: str, *, number: int = 0) -> str:
    """Return a block of a language in the README."""
    return str(re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)[number])


def test_the_readme_shows_what_the_demo_says(example: Callable[[str], Built]) -> None:
    document = example("osier-1240").document
    shown = block("text")
    assert " ".join(shown.split()).startswith(f"{document['name']}: {document['verdict']}.")
    for panel in document["panels"]:
        row = next(line.split() for line in shown.splitlines() if line.startswith(panel["panel"]))
        assert row[3] == f"{panel['layers']}"
        assert float(row[6]) == pytest.approx(panel["path_m"], rel=0.01)
        assert float(row[7]) == pytest.approx(panel["printed_mass_g"], rel=0.01)
        assert float(row[8]) == pytest.approx(panel["printing"]["print_time_s"] / 3600.0, abs=0.06)
    printing = document["printing"]
    grams = re.search(r"(\d+) m or (\d+) g of", shown)
    assert grams is not None
    assert float(grams[1]) == pytest.approx(printing["filament_m"], abs=0.6)
    assert float(grams[2]) == pytest.approx(printing["extruded_mass_g"], abs=0.6)


def test_the_readme_compares_wings_by_the_rows_and_sums_of_the_tool(example: Callable[[str], Built]) -> None:
    """The stiffness of three wings takes too long to be reckoned here; what can be checked at once is."""
    titles = [f"{kind.title}, {kind.unit}" if kind.unit else kind.title for kind in ROWS]
    (shown,) = [text for text in re.findall(r"```console\n(.*?)```", README, re.DOTALL) if "assess" in text]
    lines = shown.splitlines()[1:]
    assert lines[0].split()[-3:] == ["both-runs", "one-run", "no-ribs"]
    rows = [line for line in lines[2:] if line != "..."]
    assert len(rows) > 6
    for row in rows:
        title = next(title for title in titles if row.startswith(title))
        values = [float(value) for value in re.findall(r"\*?(-?[\d.]+)(?= |$)", row[len(title) :])]
        shares = [float(share) for share in re.findall(r"([+-]\d+)%", row)]
        assert row.count("*") == 1
        if title != titles[-1]:
            assert len(values) == 3
            assert len(shares) == 2
            for value, share in zip(values[1:], shares, strict=True):
                assert 100.0 * (value / values[0] - 1.0) == pytest.approx(share, abs=1.2)
    mass = float(rows[0].split()[-5])
    assert mass == pytest.approx(weigh_wing(example("osier-1240").build).mass_g, abs=0.6)


def test_the_spec_in_the_readme_builds_clean(tmp_path: Path) -> None:
    (tmp_path / "wing.toml").write_text(block("toml"))
    build = wingpath.build_wing(tmp_path / "wing.toml")
    assert build.proven
    assert {finding.severity for finding in build.findings} <= {"note"}


def test_the_script_in_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "examples").mkdir()
    shutil.copytree(EXAMPLES / "fescue-340", tmp_path / "examples" / "fescue-340")
    monkeypatch.chdir(tmp_path)
    exec(compile(block("python"), "README.md", "exec"), {})
    assert "panel-1 680 layers, 17" in capsys.readouterr().out
    assert (tmp_path / "build-out" / "from-python" / "layers.csv").is_file()


def test_links_and_pictures_of_the_documents_exist() -> None:
    for document in (EXAMPLES.parent / "README.md", EXAMPLES.parent / "DEVELOPERS.md"):
        for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", document.read_text(encoding="utf-8")):
            assert (EXAMPLES.parent / target).exists(), target
    pictures = list((EXAMPLES.parent / "docs" / "pictures").glob("*.png"))
    assert {"layer.png", "panel.png"} <= {picture.name for picture in pictures}
    assert all(picture.stat().st_size < 300_000 for picture in pictures)
