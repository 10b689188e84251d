"""Running `wingpath` so that something can be done to it: in forks that can be killed at any step."""

from __future__ import annotations

import hashlib
import os
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

TINY = """\
name = "Sedge 8"
[[station]]
span_mm = 0
chord_mm = 40
airfoil = "naca2412"
[[station]]
span_mm = 8
chord_mm = 38
airfoil = "naca2412"
[ribs]
run = "none"
[wing]
tip = "open"
[panels]
joints_mm = []
"""
"""A wing of 32 plain loops: builds in a second."""

MARK = ".wingpath-part-"

STEPS = {"os.rename", "os.mkdir", "os.rmdir", "os.remove", "os.chmod", "os.truncate", "shutil.rmtree"}
"""What Python tells of itself when names on the disk change; files that are opened to write come on top."""

START = "from wingpath.cli.app import main; main()"


@dataclass(frozen=True)
class Ran:
    """How a run ended: exit status, or less the number of the signal that killed it."""

    status: int
    out: str
    err: str
    seconds: float


def _writes(event: str, given: tuple[Any, ...]) -> bool:
    if event in STEPS:
        return True
    return event == "open" and isinstance(given[0], str | bytes) and bool(int(given[2] or 0) & os.O_CREAT)


def strike_at(step: int, number: int) -> Callable[[], None]:
    """Return what sends this process a signal just before its n-th change on the disk."""

    def arm() -> None:
        count = 0

        def hook(event: str, given: tuple[Any, ...]) -> None:
            nonlocal count
            if _writes(event, given):
                count += 1
                if count == step:
                    os.kill(os.getpid(), number)

        sys.addaudithook(hook)

    return arm


def run_fork(
    words: Sequence[str],
    *,
    work: Path,
    arm: Callable[[], None] | None = None,
    kill: tuple[float, int] | None = None,
    told: Path | None = None,
    most_s: float = 120.0,
) -> Ran:
    """Run the command line in a fork of this process, which has everything loaded.

    Parameters
    ----------
    words : sequence of str
        The command.
    work : Path
        The folder to run in.
    arm : callable, optional
        Done in the fork before the command.
    kill : (float, int), optional
        How long after the command has begun [s] which signal is sent.
    told : Path, optional
        Where its output is kept; by default beside the folder.
    most_s : float
        A run that takes longer hangs: it is killed, and -9 is its status.
    """
    told = told or work.parent / f"{work.name}.told"
    told.mkdir(exist_ok=True)
    ready, tell = os.pipe()
    child = os.fork()
    if child == 0:
        _command(words, work, told, arm, tell)
    os.close(tell)
    os.read(ready, 1)
    os.close(ready)
    began = time.monotonic()
    sent = False
    while True:
        ended, state = os.waitpid(child, os.WNOHANG)
        if ended:
            break
        after = time.monotonic() - began
        if kill is not None and not sent and after >= kill[0]:
            os.kill(child, kill[1])
            sent = True
        if after > most_s:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.002)
    status = os.waitstatus_to_exitcode(state)
    out, err = ((told / name).read_text(errors="replace") for name in ("out", "err"))
    return Ran(status, out, err, time.monotonic() - began)


def _command(words: Sequence[str], work: Path, told: Path, arm: Callable[[], None] | None, tell: int) -> None:
    status = 70
    try:
        os.chdir(work)
        for number, name in ((1, "out"), (2, "err")):
            handle = os.open(told / name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
            os.dup2(handle, number)
            os.close(handle)
        sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115
        sys.stderr = open(2, "w", closefd=False)  # noqa: SIM115
        for number in (signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        sys.argv = ["wingpath", *words]
        from wingpath.cli.app import main

        if arm is not None:
            arm()
        os.close(tell)
        main()
        status = 0
    except SystemExit as end:
        status = int(end.code or 0)
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


def contents(place: Path) -> dict[str, str]:
    """Return digests of a file, or of all files in a folder, by name; nothing for what is not there."""
    if place.is_file():
        return {"": _digest(place)}
    if not place.is_dir():
        return {}
    return {
        str(path.relative_to(place)): _digest(path) for path in sorted(place.rglob("*")) if path.is_file()
    }


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:16]


def leavings(folder: Path) -> list[str]:
    """Return what a run has not cleared away, wherever it lies."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob(f"{MARK}*"))


def clean_end(ran: Ran, *, allowed: set[int]) -> list[str]:
    """Say what is wrong with how a command ended."""
    wrong = []
    if ran.status not in allowed:
        wrong.append(f"status {ran.status}, not {sorted(allowed)}: {ran.err[-300:]!r}")
    if "Traceback" in ran.err or "Traceback" in ran.out:
        wrong.append(f"a traceback: {ran.err[-600:]!r}")
    if "a fault of wingpath" in ran.err:
        wrong.append(f"called a fault of its own: {ran.err[-300:]!r}")
    return wrong
