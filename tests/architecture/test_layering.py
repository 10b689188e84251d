"""Rooms are stacked, files are short, and only io touches files."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import wingpath

HOME = Path(wingpath.__file__).parent
ROOT = HOME.parent
MODULES = sorted(HOME.rglob("*.py"))

LONGEST_FILE = 500
"""Lines: one file, one noun. A longer one holds two."""


def test_the_import_contracts_hold() -> None:
    script = Path(sys.executable).parent / "lint-imports"
    run = subprocess.run([script, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout[-3000:] + run.stderr[-1000:]
    assert "0 broken" in run.stdout


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(HOME)))
def test_no_file_is_longer_than_it_should_be(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


def imported(path: Path) -> set[str]:
    """Return the top names of everything that a file imports, inside functions too."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


TERMINAL = {"typer", "rich", "click"}
OPENERS = {"open", "read_text", "write_text", "read_bytes", "write_bytes", "mkdir", "unlink", "rename"}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(HOME)))
def test_only_the_command_line_knows_the_terminal_and_only_io_opens_files(path: Path) -> None:
    room = path.relative_to(HOME).parts[0]
    if room != "cli":
        assert {name.split(".")[0] for name in imported(path)}.isdisjoint(TERMINAL)
    if room not in ("io", "cli"):
        called = {
            node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute)
        }
        assert called.isdisjoint(OPENERS)


def test_nothing_prints_but_the_command_line() -> None:
    for path in MODULES:
        if path.relative_to(HOME).parts[0] == "cli":
            continue
        calls = [
            node
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
        ]
        assert not calls, path


def test_importing_the_package_loads_no_geometry() -> None:
    heavy = "numpy", "scipy", "shapely", "manifold3d", "trimesh", "pydantic", "typer", "rich"
    code = f"import sys, wingpath; print([m for m in {heavy!r} if m in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_checking_a_mesh_loads_nothing_that_builds_or_draws() -> None:
    heavy = "wingpath.pipeline.building", "wingpath.pipeline.drawing", "PIL", "scipy.optimize", "trimesh"
    code = (
        "import sys, wingpath.pipeline.checking, wingpath.pipeline.checked_document; "
        f"print([m for m in {heavy!r} if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
