"""Places that take no files or give none: full disks, closed streams, odd paths, two at once."""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fault_kills import CASES, Case, Stage, set_stage
from fault_runs import START, TINY, Ran, clean_end, contents, leavings, run_fork

FULL_SIZES_KB = (8, 40, 100, 200, 300, 400, 600, 1000, 1500, 2500)
"""Of a disk that fills while a command writes; the tiny wing's files take about a megabyte."""

HANGS_S = 60.0


def places(base: Path, wanted: set[str]) -> dict[str, Any]:
    """Try each kind of place."""
    told = {}
    for name, look in KINDS.items():
        if wanted and name not in wanted:
            continue
        began = time.monotonic()
        home = base / name
        home.mkdir(parents=True)
        tries, defects = look(home)
        told[name] = {"tries": tries, "seconds": round(time.monotonic() - began), "defects": defects}
        print(f"{name}: {tries} tries", *defects, sep="\n  ", file=sys.stderr, flush=True)
    return told


@contextmanager
def mounted(place: Path, options: str) -> Iterator[bool]:
    """Mount a small disk in memory; tell whether that could be done."""
    place.mkdir(parents=True, exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)]
    done = shutil.which("mount") is not None and subprocess.run(command, capture_output=True).returncode == 0
    try:
        yield done
    finally:
        if done:
            subprocess.run(["umount", "-l", str(place)], capture_output=True, check=True)


def _unharmed(stage: Stage, work: Path, ran: Ran, words: tuple[str, ...]) -> list[str]:
    """Say what is wrong after a run that could not write, or just could."""
    wrong = clean_end(ran, allowed={stage.case.status, 3})
    for output in stage.case.outputs:
        got, before, after = (contents(one / output) for one in (work, stage.start, stage.done))
        # of two outputs the first may be there
        if got not in (before, after):
            wrong.append(f"{output} is neither as before nor as after")
    if ran.status == 3:
        missing = [word for word in words if word not in ran.err]
        wrong += [f"does not say {word!r}: {ran.err[-200:]!r}" for word in missing]
        if not any(output in ran.err for output in stage.case.outputs):
            wrong.append(f"names no output: {ran.err[-200:]!r}")
    return wrong + [f"left behind {one}" for one in leavings(work)]


def full_disks(home: Path) -> tuple[int, list[str]]:
    """Run every case on disks of many sizes, and with a limit on the size of a file."""
    tries, defects = 0, []
    for count, case in enumerate(CASES):
        stage = set_stage(case, home / f"case-{count}")
        needed = sum(path.stat().st_size for path in stage.start.rglob("*") if path.is_file()) // 1024
        for size in FULL_SIZES_KB:
            place = home / f"disk-{count}-{size}"
            with mounted(place, f"size={needed + 48 + size}k") as done:
                if not done:
                    break
                work = place / "work"
                shutil.copytree(stage.start, work)
                ran = run_fork(stage.words(), work=work, told=home / "told")
                tries += 1
                wrong = _unharmed(stage, work, ran, ("disk is full",))
            defects += [f"{case.name} on {size} kB: {one}" for one in wrong]
        for limit in (0, 1000, 20_000, 100_000):
            work = home / f"limit-{count}-{limit}"
            shutil.copytree(stage.start, work)

            def limited(limit: int = limit) -> None:
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

            ran = run_fork(stage.words(), work=work, arm=limited)
            tries += 1
            if limit or ran.status != 0:
                # its messages are cut off too where nothing may be written at all
                words = ("too large",) if limit >= 1000 else ()
                wrong = [one for one in _unharmed(stage, work, ran, words) if limit or "names no" not in one]
                defects += [f"{case.name}, files up to {limit}: {one}" for one in wrong]
    return tries, defects


def read_only_disks(home: Path) -> tuple[int, list[str]]:
    """Run every case on a disk that may only be read."""
    tries, defects = 0, []
    for count, case in enumerate(CASES):
        stage = set_stage(case, home / f"case-{count}")
        place = home / f"disk-{count}"
        with mounted(place, "size=40m") as done:
            if not done:
                break
            shutil.copytree(stage.start, place / "work")
            subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
            ran = run_fork(stage.words(), work=place / "work", told=home / "told")
            tries += 1
            wrong = clean_end(ran, allowed={3}) + _unharmed(stage, place / "work", ran, ("Read-only",))
        defects += [f"{case.name}: {one}" for one in wrong]
    return tries, defects


def _process(work: Path, *words: str, **more: Any) -> Ran:
    given = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **more}
    try:
        ran = subprocess.run(
            [sys.executable, "-c", START, *words], cwd=work, timeout=HANGS_S, text=True, **given
        )
    except subprocess.TimeoutExpired:
        return Ran(-9, "", "hangs", HANGS_S)
    return Ran(ran.returncode, ran.stdout or "", ran.stderr or "", 0.0)


def streams(home: Path) -> tuple[int, list[str]]:
    """Close streams, fill them, leave them."""
    (home / "tiny.toml").write_text(TINY)
    tries, defects = 0, []
    commands = {
        "build": ("build", "tiny.toml", "-o", "out", "--no-strength", "--force", "--json"),
        "tune": ("tune",),
        "profiles": ("profiles",),
        "new": ("new", "w.toml", "--force"),
        "wrong": ("build", "nowhere.toml"),
    }
    shells = {
        ">&-": {0: 3}, "2>&-": {}, ">&- 2>&-": {0: 3}, "<&- >&- 2>&-": {0: 3}, ">/dev/full": {0: 3},
        "2>/dev/full": {}, ">/dev/full 2>&1": {0: 3}, "2>&1 | head -c 1 >/dev/null": {0: None},
        "2>&1 >/dev/null | true": {},
    }  # fmt: skip
    for name, words in commands.items():
        for shell, instead in shells.items():
            line = f'"$PYTHON" -c "$START" {" ".join(words)} {shell}'
            wrapped = f"set -o pipefail; {line}; echo status ${{PIPESTATUS[0]}} >&9"
            with (home / "status").open("w+") as kept:
                os.dup2(kept.fileno(), 9)
                ran = subprocess.run(
                    ["bash", "-c", wrapped],
                    cwd=home,
                    env={**os.environ, "PYTHON": sys.executable, "START": START},
                    pass_fds=(9,),
                    capture_output=True,
                    text=True,
                    timeout=HANGS_S,
                )
                os.close(9)
                kept.seek(0)
                status = int(kept.read().split()[-1])
            tries += 1
            usual = 3 if name == "wrong" else 0
            wanted = instead.get(usual, usual)
            if wanted is not None and status != wanted:
                defects.append(f"{name} {shell}: status {status}, not {wanted}: {ran.stderr[-200:]!r}")
            if "Traceback" in ran.stderr + ran.stdout or "Exception ignored" in ran.stderr:
                defects.append(f"{name} {shell}: {ran.stderr[-300:]!r}")
            if "2>&-" in shell and ">&- " not in shell and name == "build":
                json.loads(ran.stdout)
    return tries, defects


def environments(home: Path) -> tuple[int, list[str]]:
    """Run where usual folders and settings are missing."""
    (home / "tiny.toml").write_text(TINY)
    tries, defects = 0, []
    plain = {
        key: value for key, value in os.environ.items() if key not in ("HOME", "LANG", "LC_ALL", "TMPDIR")
    }
    for changes in (
        {"TMPDIR": "/nowhere"}, {"TMPDIR": "/proc"}, {"HOME": "/nowhere"}, {"HOME": "/proc"}, {},
        {"LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"PYTHONIOENCODING": "ascii"}, {"LC_ALL": "xx_YY.nonsense"},
    ):  # fmt: skip
        for words in (
            ("build", "tiny.toml", "-o", "o\u00fct", "--no-strength", "--force", "--picture", "pics"),
            ("tune", "-o", "coupon", "--temperatures", "none", "--force"),
            ("lighten", "tiny.toml", "--judged", "1", "--pool", "4", "--processes", "2", "--force"),
        ):
            ran = _process(home, *words, env={**plain, **changes})
            tries += 1
            defects += [f"{words[0]} with {changes}: {one}" for one in clean_end(ran, allowed={0, 1})]
    defects += [f"left behind {one}" for one in leavings(home)]
    return tries, defects


def paths(home: Path) -> tuple[int, list[str]]:
    """Write to odd places and read from odd places."""
    tries, defects = 0, []
    (home / "tiny.toml").write_text(TINY)
    (home / "file").write_text("a file")
    (home / "real").mkdir()
    (home / "loop").symlink_to("loop")
    (home / "dangling").symlink_to("nowhere")
    (home / "link").symlink_to("real")
    os.mkfifo(home / "pipe.toml")
    os.mkfifo(home / "pipe.dat")
    os.mkfifo(home / "pipe.stl")
    os.mkfifo(home / "pipe.gcode")
    (home / "dir.toml").mkdir()
    for name, key in (("by-pipe", "pipe.dat"), ("by-folder", "real/x.dat"), ("by-device", "/dev/zero")):
        (home / f"{name}.toml").write_text(TINY.replace('"naca2412"', f'"{key}"'))
    bad = os.fsdecode(b"not-utf8-\xff")
    outs = {
        "file": {2}, "file/deeper": {3}, "dangling": {2}, "loop": {2, 3}, "link": {2}, ".": {2}, "/": {2},
        "x" * 300: {3}, "y" * 250: {0}, bad: {0}, "a/b/../c": {0}, "/proc/x": {3}, "/dev/null": {2},
        "real/": {0},
    }  # fmt: skip
    before = contents(home / "file")
    for place, allowed in outs.items():
        for command in (
            ("build", "tiny.toml", "--no-strength", "-o", place, "--force"),
            ("tune", "--temperatures", "none", "-o", place, "--force"),
        ):
            ran = run_fork(command, work=home)
            tries += 1
            defects += [f"{command[0]} -o {place[:30]!r}: {one}" for one in clean_end(ran, allowed=allowed)]
    for words, allowed in (
        (("build", "pipe.toml"), {3}), (("build", "by-pipe.toml"), {2, 3}),
        (("build", "by-folder.toml"), {3}),
        (("build", "by-device.toml"), {2, 3}), (("build", "dir.toml"), {3}), (("check", "pipe.stl"), {3}),
        (("check", "pipe.gcode"), {3}), (("check", "/dev/zero"), {3}), (("assess", "pipe.toml"), {3}),
        (("tune", "--read", "pipe.toml"), {3}), (("lighten", "pipe.toml"), {3}), (("new", "pipe.toml"), {2}),
        (("new", bad + ".toml"), {0}), (("new", "dangling"), {2}), (("new", "real"), {2}),
    ):  # fmt: skip
        ran = run_fork(words, work=home, most_s=HANGS_S)
        tries += 1
        defects += [f"{' '.join(map(repr, words))}: {one}" for one in clean_end(ran, allowed=allowed)]
    if contents(home / "file") != before:
        defects.append("a file in the way was changed")
    defects += [f"left behind {one}" for one in leavings(home)]
    return tries, defects


def vanishing(home: Path) -> tuple[int, list[str]]:
    """Take inputs away, or cut them short, while a command is reading them."""
    tries, defects = 0, []
    run_fork(["build", "tiny.toml", "-o", "b"], work=_with_spec(home / "make"))
    for step in range(1, 12):
        for deed in ("gone", "empty", "folder"):
            for words in (("build", "wing.toml", "--no-strength"), ("check", "p.stl"), ("check", "p.gcode")):
                work = _with_spec(home / f"{step}-{deed}-{words[-1]}")
                for ending in ("stl", "gcode"):
                    shutil.copy(home / "make" / "b" / f"panel-1-left.{ending}", work / f"p.{ending}")
                target = work / (words[1] if words[0] == "check" else "foil.dat")
                ran = run_fork(words, work=work, arm=_spoil(target, deed, step))
                tries += 1
                wrong = clean_end(ran, allowed={0, 1, 2, 3}) + [f"left {one}" for one in leavings(work)]
                defects += [f"{words[:2]}, {target.name} {deed} at {step}: {one}" for one in wrong]
                shutil.rmtree(work)
    return tries, defects


def _with_spec(work: Path) -> Path:
    work.mkdir()
    (work / "tiny.toml").write_text(TINY)
    (work / "wing.toml").write_text(TINY.replace('"naca2412"', '"foil.dat"'))
    from wingpath.io.profile_store import profiles_folder

    shutil.copy(next((profiles_folder() / "airfoils").glob("*.dat")), work / "foil.dat")
    return work


def _spoil(target: Path, deed: str, step: int) -> Callable[[], None]:
    """Return what spoils a file just before the n-th file is opened."""

    def arm() -> None:
        count = 0

        def hook(event: str, given: tuple[Any, ...]) -> None:
            nonlocal count
            if event == "open" and str(given[0]).startswith(str(target.parent)):
                count += 1
                if count == step and target.is_file():
                    target.unlink()
                    if deed == "empty":
                        os.close(os.open(target, os.O_CREAT | os.O_WRONLY))
                    elif deed == "folder":
                        target.mkdir()

        sys.addaudithook(hook)

    return arm


def at_once(home: Path) -> tuple[int, list[str]]:
    """Run the same command twice at once."""
    tries, defects = 0, []
    wanted = {"build": {0, 2}, "build --force": {0}, "tune --read": {0, 2}, "new": {0, 2}, "new --force": {0}}
    for case in CASES:
        if case.name not in wanted:
            continue
        stage = set_stage(case, home / case.name.replace(" ", ""))
        for count in range(6):
            work = home / f"{case.name.replace(' ', '')}-{count}"
            shutil.copytree(stage.start, work)
            if case.name == "tune --read":
                (work / "mine.toml").unlink()
            words = list(case.words) if case.name == "tune --read" else stage.words()
            runs = _both(words, work, gap_s=0.02 * count * stage.seconds)
            tries += 1
            wrong = [one for ran in runs for one in clean_end(ran, allowed=wanted[case.name])]
            if not any(ran.status == 0 for ran in runs):
                wrong.append("neither came through")
            if wanted[case.name] == {0, 2} and all(ran.status == 0 for ran in runs):
                wrong.append("both wrote, though --force was not given")
            for output in case.outputs:
                if contents(work / output) != contents(stage.done / output):
                    wrong.append(f"{output} is not whole")
            wrong += [f"left behind {one}" for one in leavings(work)]
            defects += [f"{case.name} twice: {one}" for one in wrong]
    return tries, defects


def _both(words: list[str], work: Path, *, gap_s: float) -> list[Ran]:
    started = []
    for _ in range(2):
        started.append(
            subprocess.Popen(
                [sys.executable, "-c", START, *words],
                cwd=work,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
        )
        time.sleep(gap_s)
    runs = []
    for one in started:
        out, err = one.communicate(timeout=600)
        runs.append(Ran(one.returncode, out, err, 0.0))
    return runs


KINDS: dict[str, Callable[[Path], tuple[int, list[str]]]] = {
    "full_disks": full_disks,
    "read_only_disks": read_only_disks,
    "streams": streams,
    "environments": environments,
    "paths": paths,
    "vanishing": vanishing,
    "at_once": at_once,
}

__all__ = ["KINDS", "Case", "places"]
