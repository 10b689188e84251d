"""Running the command line inside this process, on a wing that takes a second."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from command_line import Ran, run_command
from wings import SMALL, TOO_HIGH

import wingpath


@pytest.fixture
def cli() -> Callable[..., Ran]:
    """Run `wingpath` with some words."""
    return run_command


@pytest.fixture(scope="session")
def session_cli() -> Callable[..., Ran]:
    """Run `wingpath` with some words, for fixtures that last longer than a test."""
    return run_command


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
    ran = run_command("build", spec, "--json")
    return SmallWing(spec, base / "small", ran)


@pytest.fixture(scope="session")
def coupon_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the coupon by the command line once a session. Read only."""
    folder = tmp_path_factory.mktemp("tune") / "coupon"
    assert run_command("tune", "-o", folder).status == 0
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
