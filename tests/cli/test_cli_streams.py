"""The program as a process: what it loads, closed pipes, interrupts."""

from __future__ import annotations

import errno
import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from wingpath.cli.console import show
from wingpath.core.errors import FileAccessError

START = "from wingpath.cli.app import main; main()"

LISTEN = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
"""Background jobs of a shell are started deaf to interrupts, and so would be what they start."""

HEAVY = ("numpy", "scipy", "shapely", "manifold3d", "mapbox_earcut", "trimesh", "PIL", "rich")
"""Libraries that take long to load. Typer itself loads pydantic when it describes one command."""


def process(*words: str, code: str = START, **more: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, timeout=120, **more
    )


@pytest.mark.parametrize(
    "words", [("--version",), ("--help",), ("build", "--help"), ("check", "--help"), ("new", "--help"), ()]
)
def test_help_and_version_load_no_heavy_library(words: tuple[str, ...]) -> None:
    code = f"import sys\ntry:\n    {START}\nfinally:\n    print(*sys.modules, file=sys.stderr, sep='\\n')"
    ran = process(*words, code=code)
    loaded = set(ran.stderr.split())
    assert "wingpath.cli.app" in loaded
    assert loaded.isdisjoint(HEAVY)
    if "build" not in words and "check" not in words and "new" not in words:
        assert "pydantic" not in loaded


def test_importing_the_package_loads_no_heavy_library() -> None:
    ran = process(code="import sys, wingpath; print(*sys.modules)")
    assert set(ran.stdout.split()).isdisjoint(HEAVY)


def test_version() -> None:
    from wingpath import __version__

    ran = process("--version")
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, f"wingpath {__version__}\n", "")


def test_the_package_runs_as_a_module() -> None:
    words = [sys.executable, "-m", "wingpath", "check"]
    ran = subprocess.run(words, capture_output=True, text=True, timeout=120)
    assert ran.returncode == 2
    assert "Usage: python -m wingpath check" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_help_names_commands_and_exit_statuses() -> None:
    ran = process("--help")
    assert ran.returncode == 0
    for word in ("new", "build", "check", "tune", "profiles", "Exit status"):
        assert word in ran.stdout
    assert "..." not in ran.stdout.replace("[ARGS]...", "")


def test_the_whole_way_as_a_process(small: Any, tmp_path: Path) -> None:
    ran = process("build", str(small.spec), "-o", str(tmp_path / "out"), "--json")
    assert ran.returncode == 0
    assert json.loads(ran.stdout)["proven"] is True
    assert "Traceback" not in ran.stderr
    bad = process("check", str(tmp_path / "nowhere.stl"))
    assert (bad.returncode, bad.stdout) == (3, "")


def test_a_terminal_that_knows_ascii_only(small: Any, tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    ran = process("profiles", env=environment)
    assert ran.returncode == 0
    assert ran.stderr == ""


@pytest.mark.parametrize("words", [("profiles",), ("profiles", "--json")])
def test_a_reader_that_leaves_gets_no_complaint(words: tuple[str, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        ran = subprocess.run(
            [sys.executable, "-c", START, *words],
            stdout=writing,
            stderr=subprocess.PIPE,
            text=True,
            timeout=120,
        )
    finally:
        os.close(writing)
    assert ran.stderr == ""
    assert ran.returncode == 3


def test_an_interrupt_ends_quietly(tmp_path: Path) -> None:
    spec = tmp_path / "long.toml"
    spec.write_text("[[station]]\nspan_mm = 0\nchord_mm = 300\n[[station]]\nspan_mm = 1200\nchord_mm = 300\n")
    running = subprocess.Popen(
        [sys.executable, "-u", "-c", f"{LISTEN}; {START}", "build", str(spec)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert running.stderr is not None
    first = running.stderr.readline()
    running.send_signal(signal.SIGINT)
    out, rest = running.communicate(timeout=60)
    assert first.startswith("building:")
    assert running.returncode == 130
    assert out == ""
    assert "Traceback" not in rest
    assert "wingpath: stopped" in rest
    assert [path.name for path in tmp_path.iterdir()] == ["long.toml"]


def test_a_stdout_that_takes_nothing_is_no_fault_of_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full(io.StringIO):
        def write(self, text: str) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        def fileno(self) -> int:
            return null

    null = os.open(os.devnull, os.O_WRONLY)
    monkeypatch.setattr("sys.stdout", Full())
    with pytest.raises(FileAccessError, match="the result cannot be shown"):
        show("anything")
    os.close(null)
