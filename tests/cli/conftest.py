"""Running the command line inside this process, on a wing that takes a second."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from wings import SMALL, TOO_HIGH

import wingpath
from wingpath.cli.app import main


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """Standard output as the one JSON document it has to be."""
        document: dict[str, Any] = json.loads(self.out)
        return document


def run_main(*words: str | Path) -> Ran:
    out, err = io.StringIO(), io.StringIO()
    before = sys.argv
    sys.argv = ["wingpath", *map(str, words)]
    status: Any = 0
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as end:
        status = end.code
    finally:
        sys.argv = before
    return Ran(int(status or 0), out.getvalue(), err.getvalue())


@pytest.fixture
def cli() -> Callable[..., Ran]:
    """Run `wingpath` with some words."""
    return run_main


@pytest.fixture(scope="session")
def session_cli() -> Callable[..., Ran]:
    """Run `wingpath` with some words, for fixtures that last longer than a test."""
    return run_main


@dataclass(frozen=True)
class SmallWing:
    """A spec, the folder it was built into, and how that went. Read only."""

    spec: Path
    folder: Path
    ran: Ran


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> SmallWing:
    """Build the small wing by the command line once a session."""
    base = tmp_path_factory.mktemp("small")
    spec = base / "small.toml"
    spec.write_text(SMALL)
    ran = run_main("build", spec, "--json")
    return SmallWing(spec, base / "small", ran)


@pytest.fixture(scope="session")
def coupon_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the coupon by the command line once a session. Read only."""
    folder = tmp_path_factory.mktemp("tune") / "coupon"
    assert run_main("tune", "-o", folder).status == 0
    return folder


@pytest.fixture(scope="session")
def cli_build(small: SmallWing) -> wingpath.WingBuild:
    """The small wing as values."""
    return wingpath.build_wing(small.spec)


@pytest.fixture
def spec_file(tmp_path: Path) -> Callable[[str], Path]:
    """Write a spec of one's own."""

    def write(text: str) -> Path:
        path = tmp_path / "wing.toml"
        path.write_text(text)
        return path

    return write


@pytest.fixture
def small_spec() -> str:
    """Text of a clean spec."""
    return SMALL


@pytest.fixture
def too_high_spec() -> str:
    """Text of a spec that builds with one error."""
    return TOO_HIGH
