"""Campaigns: thousands of mutated files, each judged in a long-lived process that is watched.

A campaign gives two functions of its module: ``make_case(seed, number)``, which always gives the same case,
and ``judge(case, folder)``, which says how it went. Cases run one after the other in a worker with a bound on
its memory and an alarm; a worker that dies or hangs is replaced, and the case is a failure. Files are watched
by Python's audit events (PEP 578): whatever a case opens outside of its folder, or its libraries open,
is a failure too.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import multiprocessing
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]

SEED = 1
"""Of the runs that are quoted, and of the slices that the tests run."""

ALARM = 12.0
"""The alarm rings when a case takes this much longer than it may, on the clock of a busy machine."""

MEGABYTE = 1 << 20

CANARY = b"nobody may read this\n"
"""Contents of the files that lie beside a case's folder."""


@dataclass(frozen=True, slots=True)
class Case:
    """What a campaign tries: some files in a folder, and what its judge wants to know of them.

    `words` say what was done; those before a colon are the kind that the summary counts.
    """

    number: int
    words: str
    files: Mapping[str, bytes]
    data: Any = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a case went: "judged" or "refused", what was wrong with that, and the files that may be new."""

    kind: str
    faults: tuple[str, ...] = ()
    written: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a case may cost: time [s], resident memory over the worker's own [MB], address space [MB].

    The time is the least of clock and processor time, so that a busy machine makes no failures; the alarm
    rings at twelve times as much on the clock.
    """

    seconds: float = 10.0
    peak_mb: float = 500.0
    address_mb: float = 1500.0


@dataclass(slots=True)
class Result:
    """What the worker says about one case."""

    number: int
    words: str
    kind: str
    faults: list[str]
    seconds: float = 0.0
    peak_mb: float = 0.0


MakeCase = Callable[[int, int], Case]
Judge = Callable[[Case, Path], Outcome]


class Overrun(BaseException):
    """The alarm rang; no handler of the program may catch it."""


def rng_of(campaign: str, seed: int, number: int) -> random.Random:
    """Return the source of chance of one case, the same on every machine."""
    return random.Random(f"{campaign} {seed} {number}")


# --- the worker ---------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Watch:
    """Notes what is touched outside of the case's folder while it is on."""

    folder: str = ""
    touched: list[str] = field(default_factory=list)
    readable: tuple[str, ...] = ()

    def event(self, name: str, args: tuple[Any, ...]) -> None:
        if not self.folder:
            return
        if name == "open":
            path, mode, flags = args
            writes = bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC)) or (
                isinstance(mode, str) and not mode.startswith("r")
            )
            self.look(path, writes=writes)
        elif name in (
            "os.mkdir",
            "os.remove",
            "os.rmdir",
            "os.truncate",
            "os.chmod",
            "os.listdir",
            "os.scandir",
        ):
            self.look(args[0], writes=name not in ("os.listdir", "os.scandir"))
        elif name in ("os.rename", "os.link", "os.symlink"):
            self.look(args[0], writes=True)
            self.look(args[1], writes=True)
        elif name in ("socket.connect", "socket.getaddrinfo", "subprocess.Popen", "os.system", "os.exec"):
            self.touched.append(f"{name} {args[1:]!r:.80}")

    def look(self, path: Any, *, writes: bool) -> None:
        if isinstance(path, int) or path is None:
            return
        whole = os.path.normpath(os.path.join(self.folder, os.fsdecode(path)))
        inside = f"{whole}/".startswith(f"{self.folder}/")
        if not inside and (writes or not f"{whole}/".startswith(self.readable)):
            self.touched.append(f"{'wrote' if writes else 'read'} {os.fsdecode(path)!r:.120}")


_WATCH = _Watch()


def _status(key: str) -> float:
    """Return a line of the process's own status file [MB]."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(f"{key}:"):
            return float(line.split()[1]) / 1024.0
    return 0.0


def _ring(_signal: int, _frame: Any) -> None:
    raise Overrun


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def _one(make_case: MakeCase, judge: Judge, seed: int, number: int, home: Path, bounds: Bounds) -> Result:
    case = make_case(seed, number)
    folder = home / f"case-{number}" / "in"
    folder.mkdir(parents=True)
    for name in ("canary.txt", "canary.toml", "canary.dat", "canary.stl"):
        (folder.parent / name).write_bytes(CANARY)
    for name, data in case.files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    outside = _contents(folder.parent)
    os.chdir(folder)
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")
    base = _status("VmRSS")
    _WATCH.touched = []
    begin, busy = time.monotonic(), time.process_time()
    try:
        signal.setitimer(signal.ITIMER_REAL, ALARM * bounds.seconds)
        _WATCH.folder = str(folder)
        outcome = judge(case, folder)
    except Overrun:
        outcome = Outcome("failed", (f"took longer than {ALARM * bounds.seconds:g} s",))
    except BaseException as error:
        where = traceback.extract_tb(error.__traceback__)[-3:]
        places = ", ".join(f"{Path(one.filename).name}:{one.lineno}" for one in where)
        outcome = Outcome("failed", (f"{type(error).__name__}: {error!s:.300} ({places})",))
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        _WATCH.folder = ""
    seconds = min(time.monotonic() - begin, time.process_time() - busy)
    peak = max(0.0, _status("VmHWM") - base)
    faults = [*outcome.faults, *dict.fromkeys(_WATCH.touched)]
    after = _contents(folder.parent)
    allowed = {f"in/{name}" for name in outcome.written}
    changed = {name for name in {*outside, *after} if outside.get(name) != after.get(name)} - allowed
    faults += [f"the file {name!r} was changed, made or removed" for name in sorted(changed)]
    if seconds > bounds.seconds:
        faults.append(f"took {seconds:.1f} s")
    if peak > bounds.peak_mb:
        faults.append(f"took {peak:.0f} MB")
    os.chdir(home)
    shutil.rmtree(folder.parent)
    return Result(number, case.words, outcome.kind, faults, seconds, peak)


def _work(pipe: Connection, make_case: MakeCase, judge: Judge, seed: int, home: str, bounds: Bounds) -> None:
    """Answer numbers with results until the pipe is closed."""
    os.environ["WINGPATH_TRACEBACK"] = "1"
    os.environ["OMP_NUM_THREADS"] = "1"
    warnings.simplefilter("error")
    homes = [sys.prefix, sys.base_prefix, str(ROOT / "wingpath"), str(ROOT / "profiles"), *sys.path]
    _WATCH.readable = (
        *(os.path.realpath(one) + "/" for one in homes if one and os.path.isdir(one)),
        *("/dev/null/", "/usr/share/zoneinfo/", "/etc/localtime/", "/proc/", "/sys/"),
    )
    sys.addaudithook(_WATCH.event)
    signal.signal(signal.SIGALRM, _ring)
    # what the program loads when it is first used is no cost of any case
    with contextlib.suppress(BaseException):
        _one(make_case, judge, seed, 0, Path(home) / "first", bounds)
    grown = int((_status("VmSize") + bounds.address_mb) * MEGABYTE)
    resource.setrlimit(resource.RLIMIT_AS, (grown, grown))
    pipe.send("ready")
    with contextlib.suppress(EOFError, KeyboardInterrupt):
        while True:
            number = pipe.recv()
            pipe.send(_one(make_case, judge, seed, number, Path(home), bounds))


# --- the runner ---------------------------------------------------------------------------------------------


class _Workers:
    """One worker at a time, started when it is needed."""

    def __init__(self, make_case: MakeCase, judge: Judge, seed: int, bounds: Bounds) -> None:
        self.what = make_case, judge, seed
        self.bounds = bounds
        self.started = 0
        self.process: Any = None
        self.home = ""

    def start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.home = tempfile.mkdtemp(prefix="campaign-")
        self.process = context.Process(
            target=_work, args=(theirs, *self.what, os.path.realpath(self.home), self.bounds), daemon=True
        )
        self.process.start()
        theirs.close()
        self.started += 1
        if not self.pipe.poll(120.0):
            raise RuntimeError("the worker does not start")
        self.pipe.recv()

    def stop(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.join()
            self.process.close()
            self.pipe.close()
            self.process = None
            shutil.rmtree(self.home, ignore_errors=True)

    def ask(self, number: int) -> Result:
        if self.process is None:
            self.start()
        fault = "hangs, the alarm unheard"
        try:
            self.pipe.send(number)
            if self.pipe.poll(1.5 * ALARM * self.bounds.seconds + 30.0):
                return self.pipe.recv()  # type: ignore[no-any-return]
        except (EOFError, ConnectionError):
            self.process.join(5.0)
            fault = f"the worker died with status {self.process.exitcode}"
        self.stop()
        make_case, _, seed = self.what
        return Result(number, make_case(seed, number).words, "failed", [fault])


def run_cases(
    make_case: MakeCase,
    judge: Judge,
    *,
    name: str,
    numbers: Iterable[int],
    seed: int = SEED,
    bounds: Bounds | None = None,
    tell: Callable[[str], None] = lambda _words: None,
) -> dict[str, Any]:
    """Run cases and return a summary that JSON can hold.

    Parameters
    ----------
    make_case, judge : callable
        Functions at the top of a module, so that another process finds them.
    name : str
        Of the campaign.
    numbers : iterable of int
        Which cases.
    seed : int
        With the number it says what a case is.
    bounds : Bounds, optional
        What a case may cost.
    tell : callable
        Told of progress and of failures as they are found.
    """
    workers = _Workers(make_case, judge, seed, bounds or Bounds())
    results: list[Result] = []
    begin = time.monotonic()
    wanted = list(numbers)
    try:
        for done, number in enumerate(wanted, start=1):
            result = workers.ask(number)
            results.append(result)
            for fault in result.faults:
                tell(f"{name} case {number} ({result.words}): {fault}")
            if done % 100 == 0:
                tell(f"{name}: {done} of {len(wanted)}, {time.monotonic() - begin:.0f} s")
    finally:
        workers.stop()
    return _summary(name, seed, results, workers.started, time.monotonic() - begin)


def _summary(name: str, seed: int, results: list[Result], workers: int, seconds: float) -> dict[str, Any]:
    slowest = max(results, key=lambda one: one.seconds)
    largest = max(results, key=lambda one: one.peak_mb)
    kinds = Counter(one.kind for one in results)
    return {
        "campaign": name,
        "seed": seed,
        "cases": len(results),
        "judged": kinds["judged"],
        "refused": kinds["refused"],
        "worst_s": round(slowest.seconds, 3),
        "worst_s_case": slowest.number,
        "worst_peak_mb": round(largest.peak_mb, 1),
        "worst_peak_mb_case": largest.number,
        "workers": workers,
        "took_s": round(seconds, 1),
        "failures": [
            {"case": one.number, "words": one.words, "faults": one.faults} for one in results if one.faults
        ],
        "tried": dict(sorted(Counter(one.words.partition(":")[0] for one in results).items())),
    }


def campaign_main(make_case: MakeCase, judge: Judge, *, name: str, cases: int) -> None:
    """Run a campaign as a script; ends with 1 when there were failures."""
    parser = argparse.ArgumentParser(description=f"Campaign {name}: {cases} cases by default.")
    parser.add_argument("--cases", type=int, default=cases, help="how many")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--first", type=int, default=0, help="number of the first")
    parser.add_argument("--only", type=int, help="run this case alone")
    parser.add_argument("--keep", type=Path, help="with --only: leave the case's files in this folder")
    parser.add_argument("--summary", type=Path, help="write the summary to this file")
    asked = parser.parse_args()
    numbers = range(asked.first, asked.first + asked.cases) if asked.only is None else [asked.only]
    if asked.keep is not None and asked.only is not None:
        case = make_case(asked.seed, asked.only)
        print(case.words, case.data)
        for file, data in case.files.items():
            (asked.keep / file).parent.mkdir(parents=True, exist_ok=True)
            (asked.keep / file).write_bytes(data)
    summary = run_cases(
        make_case,
        judge,
        name=name,
        numbers=numbers,
        seed=asked.seed,
        tell=lambda words: print(words, file=sys.stderr, flush=True),
    )
    text = json.dumps(summary, indent=2)
    print(text)
    if asked.summary is not None:
        asked.summary.write_text(text + "\n")
    sys.exit(1 if summary["failures"] else 0)
