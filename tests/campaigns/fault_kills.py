"""Runs that are killed: at every change that they make on the disk, and at random moments."""

from __future__ import annotations

import random
import shutil
import signal
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fault_runs import TINY, Ran, clean_end, contents, leavings, run_fork, strike_at

GENTLE = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
SHELL = 128

STARTS_S = 0.05
"""Until then a signal may find a command that has not begun to listen [s]."""


@dataclass(frozen=True)
class Case:
    """A command whose outputs are files or folders.

    Parameters
    ----------
    name : str
        What it is called in the summary.
    words : tuple of str
        The command.
    outputs : tuple of str
        What it writes.
    earlier : bool
        Whether an earlier run's outputs, of another wing, are there with files of the user among them.
    """

    name: str
    words: tuple[str, ...]
    outputs: tuple[str, ...]
    earlier: bool = False
    status: int = 0


PLAIN = ("--no-strength",)

CASES = (
    Case("build", ("build", "tiny.toml", "-o", "out", *PLAIN), ("out",)),
    Case("build --force", ("build", "tiny.toml", "-o", "out", *PLAIN), ("out",), earlier=True),
    Case(
        "build --picture --force",
        ("build", "tiny.toml", "-o", "out", *PLAIN, "--picture", "pics"),
        ("out", "pics"),
        earlier=True,
    ),
    Case(
        "build --step --force", ("build", "tiny.toml", "-o", "out", *PLAIN, "--step"), ("out",), earlier=True
    ),
    Case("tune -o", ("tune", "-o", "coupon", "--temperatures", "none"), ("coupon",)),
    Case("tune -o --force", ("tune", "-o", "coupon", "--temperatures", "none"), ("coupon",), earlier=True),
    Case("tune --picture", ("tune", "--picture", "windows.svg"), ("windows.svg",), earlier=True),
    Case("tune --read", ("tune", "--read", "filled.toml", "-o", "mine.toml"), ("mine.toml",), earlier=True),
    Case("new", ("new", "wing.toml"), ("wing.toml",)),
    Case("new --force", ("new", "wing.toml"), ("wing.toml",), earlier=True),
    Case(
        "check --csv --picture",
        ("check", "panel.stl", "--csv", "t.csv", "--picture", "t.png"),
        ("t.csv", "t.png"),
        earlier=True,
    ),
    Case(
        "assess --proof", ("assess", "flown.toml", "--edge-mm", "20", "--proof", "p.html"), ("p.html",), True
    ),
)


@dataclass
class Stage:
    """A case with its folders: how it begins, and what a run that nobody disturbs makes of that."""

    case: Case
    start: Path
    done: Path
    seconds: float
    runs: int = 0
    defects: list[str] = field(default_factory=list)
    hidden: int = 0
    longest_s: float = 0.0

    def words(self) -> list[str]:
        return [*self.case.words, *(["--force"] if self.case.earlier else [])]


def set_stage(case: Case, base: Path) -> Stage:
    """Make the folders of a case.

    Raises
    ------
    RuntimeError
        When the undisturbed run does not end as it has to.
    """
    start, done = base / "start", base / "done"
    start.mkdir(parents=True)
    (start / "tiny.toml").write_text(TINY)
    (start / "flown.toml").write_text(TINY + FLOWN)
    _measurements(start / "filled.toml")
    if case.name.startswith("check"):
        ran = run_fork(["build", "tiny.toml", "-o", "b", *PLAIN], work=start)
        shutil.copy(start / "b" / "panel-1-left.stl", start / "panel.stl")
        shutil.rmtree(start / "b")
    if case.earlier:
        _earlier(case, start)
    shutil.copytree(start, done)
    stage = Stage(case, start, done, 0.0)
    ran = run_fork(stage.words(), work=done)
    if ran.status != case.status or leavings(done):
        raise RuntimeError(f"{case.name}: {ran}")
    stage.seconds = ran.seconds
    return stage


FLOWN = """\
[aircraft]
all_up_mass_g = 60
load_factor = 4
max_speed_m_s = 12
"""


def _measurements(path: Path) -> None:
    from simulated_coupons import Hidden, file_of, measured

    from wingpath.io.spec_toml import dump_toml

    path.write_text(dump_toml(file_of(measured(Hidden(), None))), encoding="utf-8")


def _earlier(case: Case, start: Path) -> None:
    """Put the outputs of another run there, and files of a user."""
    for name in case.outputs:
        place = start / name
        if "." in name:
            place.write_text("earlier")
            continue
        place.mkdir()
        ours = {
            "out": ("panel-1-left.stl", "panel-9-left.gcode", "report.json", "layers.csv"),
            "pics": ("planform.png", "panel-9-path.png"),
            "coupon": ("coupon.stl", "coupon-215.gcode", "sheet.html"),
        }[name]
        for one in (*ours, "my notes.txt"):
            (place / one).write_text(f"earlier {one}")
        (place / "photos").mkdir()
        (place / "photos" / "maiden.jpg").write_bytes(b"\xff\xd8")


def strike(stage: Stage, work: Path, number: int, **how: Any) -> Ran:
    """Run a case, strike it, look at what is there, run it again, look once more."""
    shutil.copytree(stage.start, work)
    ran = run_fork(stage.words(), work=work, **how)
    stage.runs += 1
    name = signal.Signals(number).name
    told = f"{stage.case.name}, {name} {how.get('kill') or ''}"
    allowed = {stage.case.status, -number if number == signal.SIGKILL else SHELL + number}
    if ran.seconds < STARTS_S or all(
        contents(work / one) == contents(stage.done / one) for one in stage.case.outputs
    ):
        # before the command listens to signals, and when it has done all and is leaving
        allowed.add(-number)
    wrong = clean_end(ran, allowed=allowed)
    wrong += _state(stage, work, killed=number == signal.SIGKILL)
    again = run_fork([*stage.case.words, "--force"], work=work)
    wrong += [f"then: {one}" for one in clean_end(again, allowed={stage.case.status})]
    for output in stage.case.outputs:
        if contents(work / output) != contents(stage.done / output):
            wrong.append(f"then: {output} holds {sorted(contents(work / output))}")
    wrong += [f"then: left behind {one}" for one in leavings(work)]
    stage.defects += [f"{told}: {one}" for one in wrong]
    stage.longest_s = max(stage.longest_s, again.seconds)
    shutil.rmtree(work)
    return ran


def _state(stage: Stage, work: Path, *, killed: bool) -> list[str]:
    wrong = []
    for output in stage.case.outputs:
        got, before, after = (contents(one / output) for one in (work, stage.start, stage.done))
        if got in (before, after):
            continue
        strangers = {name: digest for name, digest in after.items() if before.get(name) == digest}
        plain = {name: digest for name, digest in after.items() if name not in strangers}
        if killed and plain.items() <= got.items() <= after.items():
            # between the moment in which the folders change places and that in which a user's files come over
            stage.hidden += 1
            continue
        wrong.append(f"{output} is neither as before nor as after: {sorted(got)}")
    if not killed:
        wrong += [f"left behind {one}" for one in leavings(work)]
    for path in stage.start.iterdir():
        if path.name not in stage.case.outputs and contents(path) != contents(work / path.name):
            wrong.append(f"{path.name} was changed")
    return wrong


def kill_at_steps(stage: Stage, base: Path, *, stride: int) -> int:
    """Strike at each change on the disk until a run comes through, and gently at some; return how many."""
    step = 0
    while True:
        step += 1
        ran = strike(stage, base / f"kill-{step}", signal.SIGKILL, arm=strike_at(step, signal.SIGKILL))
        if ran.status != -signal.SIGKILL:
            break
    for count, at in enumerate(range(1, step, stride)):
        number = GENTLE[count % len(GENTLE)]
        strike(stage, base / f"gentle-{at}", number, arm=strike_at(at, number))
    return step - 1


def kill_at_random(stage: Stage, base: Path, tries: int, random_: random.Random) -> None:
    """Strike at random moments, half of them in the last quarter, where files are written."""
    for count in range(tries):
        number = random_.choice((signal.SIGKILL, *GENTLE))
        low = 0.75 if count % 2 else 0.0
        after = stage.seconds * random_.uniform(low, 1.05)
        strike(stage, base / f"time-{count}", number, kill=(after, number))
