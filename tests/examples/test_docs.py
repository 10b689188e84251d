"""Every table that the documents show is one that builds clean, on one and the same short wing."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from wingpath import build_wing, spec_from_dict
from wingpath.model.spec_lighten import FreedomSpec, TargetsSpec

DOCS = Path(__file__).parents[2] / "docs"

WING = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 160.0, "airfoil": "naca2414"},
        {"span_mm": 120.0, "chord_mm": 150.0, "leading_edge_mm": 4.0, "airfoil": "naca2414"},
    ],
    "ribs": {"pitch_mm": 28.0},
    "panels": {"joints_mm": [100.0]},
}
"""Small enough to build in a second, thick enough for what the tables ask."""

PRINTING = re.findall(
    r"```toml\n(.*?)```", (DOCS / "printing.md").read_text(encoding="utf-8"), flags=re.DOTALL
)

TABLES = re.findall(r"```toml\n(.*?)```", (DOCS / "fittings.md").read_text(encoding="utf-8"), flags=re.DOTALL)

LIGHTENING = re.findall(
    r"```toml\n(.*?)```", (DOCS / "lightening.md").read_text(encoding="utf-8"), flags=re.DOTALL
)

PICTURES = sorted(
    {name for page in DOCS.glob("*.md") for name in re.findall(r"\]\((pictures/.*?)\)", page.read_text())}
)


@pytest.mark.parametrize("table", TABLES, ids=[re.sub(r"[^a-z_]", "", text.split()[0]) for text in TABLES])
def test_a_table_of_the_documents_builds_clean(table: str) -> None:
    build = build_wing(spec_from_dict({**WING, **tomllib.loads(table)}))
    assert build.proven
    assert [str(one) for one in build.findings if one.severity != "note"] == []
    # and what it asks for is there: every table adds a void, but the tip, which shrinks the wing
    assert (
        build.design.voids.bores
        or build.design.voids.bays
        or build.design.voids.ailerons
        or build.design.body.cap
    )


@pytest.mark.parametrize("table", PRINTING, ids=["path", "brim", "foam"])
def test_what_the_documents_say_about_printing_can_be_set(table: str) -> None:
    build = build_wing(spec_from_dict({**WING, **tomllib.loads(table)}))
    assert all(part.path is not None for part in build.parts)
    assert [str(one) for one in build.findings if one.severity != "note"] == []


def test_targets_and_freedom_of_the_documents_can_be_set() -> None:
    told: dict[str, set[str]] = {}
    for text in LIGHTENING:
        tables = tomllib.loads(text)
        spec = spec_from_dict({**{key: value for key, value in WING.items() if key != "ribs"}, **tables})
        for name in ("targets", "freedom"):
            told.setdefault(name, set()).update(tables.get(name, {}))
        if "ribs" in tables:
            assert build_wing(spec).proven
    # every key is shown, or named in the text
    text = (DOCS / "lightening.md").read_text(encoding="utf-8")
    assert told["targets"] == set(TargetsSpec.model_fields)
    assert all(key in told["freedom"] or key in text for key in set(FreedomSpec.model_fields))


def test_there_is_a_table_for_every_fitting() -> None:
    keys = {key for text in TABLES for key in tomllib.loads(text)}
    assert keys >= {"tube", "tab", "servo_bay", "duct", "plate_bay", "pin", "aileron", "wing"}


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_of_the_documents_is_there(name: str) -> None:
    assert (DOCS / name).read_bytes().startswith(b"\x89PNG")
