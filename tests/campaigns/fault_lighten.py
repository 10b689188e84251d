"""Searches that are killed again and again: workers end with them, and the journal can be gone on with."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from fault_runs import START, TINY, Ran, clean_end, contents, leavings, run_fork

ENDS_WITHIN_S = 10.0
"""Workers look twice a second; a busy machine and a solver in the midst of a factoring take longer [s]."""

SEARCH = ("--judged", "2", "--pool", "4", "--processes", "2", "--edge-mm", "20", "-o", "lighter")

RESULTS = ("lightest.toml", "front.csv", "judged.csv")
"""What has to come out the same, however often a search was stopped."""


def children_of(owner: int) -> dict[int, str]:
    """Return the processes that one has started, and those that these have, with when they began."""
    rows = {}
    for entry in os.listdir("/proc"):
        if entry.isdigit():
            try:
                words = Path("/proc", entry, "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if words[0] != "Z":
                rows[int(entry)] = (int(words[1]), words[19])
    found, known = {}, {owner}
    while True:
        more = {pid for pid, (parent, _) in rows.items() if parent in known} - known
        if not more:
            return found
        known |= more
        found |= {pid: rows[pid][1] for pid in more}


def alive(processes: dict[int, str]) -> list[int]:
    """Return those that are still running; a number may have been given to another process meanwhile."""
    found = []
    for pid, began in processes.items():
        try:
            words = Path("/proc", str(pid), "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if words[0] != "Z" and words[19] == began:
            found.append(pid)
    return found


def wait_gone(processes: dict[int, str], most_s: float = ENDS_WITHIN_S) -> tuple[list[int], float]:
    """Wait until all of them have ended; return those that have not, and how long it took [s]."""
    began = time.monotonic()
    while (left := alive(processes)) and time.monotonic() - began < most_s:
        time.sleep(0.05)
    return left, time.monotonic() - began


def searched(work: Path, *more: str) -> subprocess.Popen[str]:
    """Start a search as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", START, "lighten", "tiny.toml", *SEARCH, *more],
        cwd=work,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def lighten_kills(base: Path, tries: int, seed: int) -> dict[str, Any]:
    """Kill one search over and over, go on with it each time, and hold its end against one left alone."""
    random_ = random.Random(f"{seed} lighten")
    work, alone = base / "work", base / "alone"
    defects: list[str] = []
    slowest = kills = 0.0
    for folder in (work, alone):
        folder.mkdir(parents=True)
        (folder / "tiny.toml").write_text(TINY)
    began = time.monotonic()
    out, err = searched(alone).communicate(timeout=600)
    whole_s = time.monotonic() - began
    more: tuple[str, ...] = ()
    for count in range(tries):
        number = (signal.SIGKILL, signal.SIGTERM, signal.SIGKILL, signal.SIGINT, signal.SIGHUP)[count % 5]
        told = f"lighten, try {count}, {number.name}"
        running = searched(work, *more)
        until = time.monotonic() + random_.uniform(0.1, 0.5) * whole_s
        workers: dict[int, str] = {}
        while running.poll() is None and time.monotonic() < until:
            time.sleep(0.05)
        if running.poll() is None:
            workers = children_of(running.pid)
            if count % 2 and number != signal.SIGKILL:
                # as a terminal or a service manager does: to all of them
                os.killpg(running.pid, number)
            else:
                running.send_signal(number)
            kills += 1
        out, err = running.communicate(timeout=120)
        ran = Ran(running.returncode, out, err, 0.0)
        allowed = {0, -number if number == signal.SIGKILL else 128 + number}
        defects += [f"{told}: {one}" for one in clean_end(ran, allowed=allowed)]
        left, seconds = wait_gone(workers)
        slowest = max(slowest, seconds)
        defects += [f"{told}: process {pid} is left behind" for pid in left]
        if running.returncode == 0:
            # this one is through: hold it against the one left alone, and begin another
            defects += _unlike(work, alone)
            shutil.rmtree(work / "lighter")
            more = ()
        journal = work / "lighter" / "evaluations.jsonl"
        if journal.is_file():
            more = ("--resume",)
            if random_.random() < 0.5:
                # as a machine that stops in the middle of a line would leave it
                with journal.open("r+b") as stream:
                    stream.truncate(max(0, journal.stat().st_size - random_.randrange(1, 200)))
    out, err = searched(work, *more).communicate(timeout=600)
    if "Traceback" in err:
        defects.append(f"lighten, the last one: {err[-400:]}")
    defects += _unlike(work, alone)
    defects += [f"lighten: left behind {one}" for one in leavings(work)]
    defects += replaced(work)
    row = {"kills": int(kills), "workers_gone_within_s": round(slowest, 1), "whole_s": round(whole_s, 1)}
    return {"lighten": {**row, "defects": defects}}


def _unlike(work: Path, alone: Path) -> list[str]:
    return [
        f"lighten: {name} is not that of a search left alone"
        for name in RESULTS
        if contents(work / "lighter" / name) != contents(alone / "lighter" / name)
    ]


def replaced(work: Path) -> list[str]:
    """Begin a search anew over a finished one and stop it: the earlier journal has to be there."""
    before = contents(work / "lighter" / "evaluations.jsonl")
    running = searched(work, "--force")
    later = work / "lighter" / "evaluations-before.jsonl"
    until = time.monotonic() + 120.0
    while not later.is_file() and running.poll() is None and time.monotonic() < until:
        time.sleep(0.02)
    second = run_fork(["lighten", "tiny.toml", *SEARCH, "--force"], work=work)
    wrong = [f"a second search: {one}" for one in clean_end(second, allowed={2})]
    workers = children_of(running.pid)
    running.kill()
    running.communicate()
    wait_gone(workers)
    if contents(later) != before:
        wrong.append("a search that replaces another one and is killed loses its journal")
    return wrong
