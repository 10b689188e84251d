"""The harness itself: it has to see whatever may go wrong in a case, and go on after it."""

from __future__ import annotations

import os
import re
import signal
import warnings
from collections.abc import Callable
from pathlib import Path

from harness import Bounds, Case, Outcome, run_cases


def well(folder: Path) -> Outcome:
    assert (folder / "a.txt").read_bytes() == b"a"
    return Outcome("judged")


def refused(_folder: Path) -> Outcome:
    return Outcome("refused", ("said so",))


def wrong(_folder: Path) -> Outcome:
    raise ValueError("wrong")


def warned(_folder: Path) -> Outcome:
    warnings.warn("take care", RuntimeWarning, stacklevel=1)
    return Outcome("judged")


def dead(_folder: Path) -> Outcome:
    os.kill(os.getpid(), signal.SIGKILL)
    return Outcome("judged")


def late(_folder: Path) -> Outcome:
    try:
        while True:
            pass
    except Exception:
        return Outcome("judged")


def large(_folder: Path) -> Outcome:
    return Outcome("judged", (f"{len(b'x' * 80_000_000)} bytes held",))


def greedy(_folder: Path) -> Outcome:
    return Outcome("judged", (f"{len(b'x' * 1_000_000_000)} bytes held",))


def nosy(folder: Path) -> Outcome:
    (folder / "../canary.txt").read_bytes()
    return Outcome("judged")


def stray(folder: Path) -> Outcome:
    (folder.parent / "new.txt").write_bytes(b"")
    return Outcome("judged")


def untidy(folder: Path) -> Outcome:
    (folder / "b.txt").write_bytes(b"")
    (folder / "wanted.txt").write_bytes(b"")
    return Outcome("judged", written=frozenset({"wanted.txt"}))


CASES: list[tuple[Callable[[Path], Outcome], str]] = [
    (well, ""),
    (refused, "said so"),
    (wrong, "ValueError: wrong"),
    (warned, "RuntimeWarning: take care"),
    (dead, "died with status -9"),
    (well, ""),
    (late, "took longer than 2.4 s"),
    (large, "took 7[67] MB"),
    (greedy, "MemoryError"),
    (nosy, "read '.*canary.txt'"),
    (stray, "wrote '.*new.txt'"),
    (untidy, "'in/b.txt' was changed, made or removed"),
    (well, ""),
]

BOUNDS = Bounds(seconds=0.2, peak_mb=50.0, address_mb=500.0)


def make_case(_seed: int, number: int) -> Case:
    return Case(number, f"{CASES[number][0].__name__}: {number}", {"a.txt": b"a"})


def judge(case: Case, folder: Path) -> Outcome:
    return CASES[case.number][0](folder)


def test_every_kind_of_trouble_is_seen_and_the_rest_goes_on() -> None:
    summary = run_cases(make_case, judge, name="harness", numbers=range(len(CASES)), bounds=BOUNDS)
    found = {one["case"]: "\n".join(one["faults"]) for one in summary["failures"]}
    for number, (what, fault) in enumerate(CASES):
        if fault:
            assert re.search(fault, found[number]), what.__name__
        else:
            assert number not in found
    assert summary["cases"] == len(CASES)
    assert summary["refused"] == 1
    # one died
    assert summary["workers"] == 2
    assert "wanted" not in found[11]
    assert summary["tried"]["well"] == 3


def test_a_fault_is_told_as_it_is_found() -> None:
    told: list[str] = []
    run_cases(make_case, judge, name="harness", numbers=[1], bounds=BOUNDS, tell=told.append)
    assert told == ["harness case 1 (refused: 1): said so"]
