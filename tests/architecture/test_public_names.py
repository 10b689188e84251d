"""Names that scripts rely on: what is promised is there, and what is there is promised."""

from __future__ import annotations

import ast
import importlib
from pathlib import Path

import pytest

import wingpath

HOME = Path(wingpath.__file__).parent
MODULES = sorted(HOME.rglob("*.py"))

DOTTED = [
    ".".join(("wingpath", *path.relative_to(HOME).with_suffix("").parts)).removesuffix(".__init__")
    for path in MODULES
]

BARE = {
    "wingpath.core",
    "wingpath.geometry",
    "wingpath.model",
    "wingpath.build",
    "wingpath.io",
    "wingpath.structure",
}
BARE |= {
    "wingpath.pipeline",
    "wingpath.report",
    "wingpath.tune",
    "wingpath.lighten",
    "wingpath.cli",
    "wingpath.cli.commands",
}
"""Rooms whose own file holds a sentence and nothing else."""


@pytest.mark.parametrize("name", wingpath.__all__)
def test_every_public_name_can_be_had(name: str) -> None:
    assert getattr(wingpath, name) is not None


def test_the_public_names_are_sorted_complete_and_listed() -> None:
    assert wingpath.__all__ == sorted(wingpath.__all__)
    assert dir(wingpath) == wingpath.__all__
    # what type checkers see is what users get
    tree = ast.parse((HOME / "__init__.py").read_text(encoding="utf-8"))
    typed = {
        alias.asname
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("wingpath.")
        for alias in node.names
    } - {None}
    assert typed | {"__version__"} == set(wingpath.__all__)


def test_a_name_that_does_not_exist_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'wings'"):
        _ = wingpath.wings  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", [name for name in DOTTED if name not in BARE])
def test_every_module_says_what_it_offers(name: str) -> None:
    module = importlib.import_module(name)
    assert isinstance(module.__all__, list)
    for public in module.__all__:
        assert hasattr(module, public)


@pytest.mark.parametrize("name", [name for name in DOTTED if name not in BARE])
def test_every_public_thing_has_a_docstring(name: str) -> None:
    module = importlib.import_module(name)
    assert module.__doc__
    for public in module.__all__:
        thing = getattr(module, public)
        if callable(thing) and getattr(thing, "__module__", "") == name:
            assert thing.__doc__, public
