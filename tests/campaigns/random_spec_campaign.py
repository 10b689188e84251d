"""Ten thousand random specs: each is proven or refused with reasons, and nothing else.

Run from the repository root; a case that fails is written as a spec, and belongs into
``tests/fixtures/corpus`` when it is mended::

    python tests/campaigns/random_spec_campaign.py --cases 10000 --processes 2 -o build-out/random-specs
"""

from __future__ import annotations

import argparse
import contextlib
import json
import multiprocessing
import signal
import sys
import time
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "invariants")]

from hypothesis import HealthCheck, Phase, given, seed, settings  # noqa: E402
from hypothesis import strategies as st  # noqa: E402
from shapes import skin_lean  # noqa: E402
from test_random_fittings import fitted_wings  # noqa: E402
from test_random_windows import windowed  # noqa: E402
from test_random_wings import wings  # noqa: E402
from wild_specs import wild_wings  # noqa: E402

CHUNK = 50
"""Cases that are drawn at once, from one seed; every fourth chunk is of the same kind."""

KINDS: tuple[tuple[str, Any], ...] = (
    ("plain", wings),
    ("fitted", fitted_wings),
    ("wild", wild_wings),
    ("windows", windowed),
)

UNASKED = frozenset({"airborne", "long-step"})
"""Errors of a build that nobody asked for, unless the skin itself hangs."""

STEEP = 0.95
"""A skin that leans by more than this tangent hangs [1]."""

PASSED = ("proven", "proven, a limit broken")

LONGEST_S = 120.0
"""A case that takes longer hangs, for all a builder can tell [s]."""

ASSESSED = 20
"""Every so many cases, the wing is assessed and reported on as well."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one case; one that failed carries its data."""

    number: int
    kind: str
    what: str
    detail: str
    seconds: float
    peak_mb: float
    data: str = ""


def chunk(index: int, *, base_seed: int) -> list[dict[str, Any]]:
    """Return the cases of one chunk; the same for the same index and seed in a fresh process.

    The library also draws constants that it finds in the modules that are loaded.
    """
    strategy: st.SearchStrategy[dict[str, Any]] = KINDS[index % len(KINDS)][1]()
    cases: list[dict[str, Any]] = []

    @seed(base_seed * 1_000_003 + index)
    @settings(
        max_examples=CHUNK,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(strategy)
    def draw(data: dict[str, Any]) -> None:
        cases.append(data)

    draw()
    # the library stops early when it has run out of new examples
    return [cases[k % len(cases)] for k in range(CHUNK)]


class TookTooLongError(Exception):
    """A case ran into the time limit."""


def judged(number: int, data: dict[str, Any], kind: str) -> Outcome:
    """Build one case and say what came of it."""
    _reset_peak()
    start = time.perf_counter()
    signal.signal(signal.SIGALRM, _too_long)
    signal.setitimer(signal.ITIMER_REAL, LONGEST_S)
    try:
        what, detail = _built(data, assess=number % ASSESSED == 0)
    except TookTooLongError:
        what, detail = "hung", f"over {LONGEST_S:g} s"
    except BaseException as error:
        what, detail = "crashed", f"{type(error).__name__}: {error}"[:2000]
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    outcome = Outcome(number, kind, what, detail, round(time.perf_counter() - start, 3), _peak_mb())
    return outcome if passed(outcome) else replace(outcome, data=json.dumps(data))


def _too_long(*_: object) -> None:
    raise TookTooLongError


def _built(data: dict[str, Any], *, assess: bool) -> tuple[str, str]:
    from test_random_fittings import judge

    from wingpath import InputError, SpecError, build_wing, spec_from_dict
    from wingpath.pipeline.report_document import report_document, strength_of
    from wingpath.pipeline.report_page import build_page

    try:
        build = build_wing(spec_from_dict(data))
    except InputError as error:
        told = str(error)
        if len(told) < 40 or not any(letter.isdigit() for letter in told):
            return "refused without reason", told
        return ("refused: contradiction" if isinstance(error, SpecError) else "refused: no room"), told
    if not build.proven:
        return "not proven", "\n".join(judge(build))[:2000]
    errors = {finding.code for finding in build.findings if finding.severity == "error"}
    unasked = errors & UNASKED if skin_lean(build.design.wing) <= STEEP else set()
    if unasked:
        return "proven, but in the air", "\n".join(judge(build))[:2000]
    if assess:
        assessed, why_not = strength_of(build)
        document = report_document(build, spec_name="x.toml", assessed=assessed, why_not=why_not)
        build_page(build, document, assessed)
    return ("proven, a limit broken" if errors else "proven"), " ".join(sorted(errors))


def _reset_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def _peak_mb() -> float:
    try:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return round(next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024.0, 1)


def _work(task: tuple[int, int, int]) -> list[Outcome]:
    index, count, base_seed = task
    warnings.simplefilter("error")
    kind = KINDS[index % len(KINDS)][0]
    cases = chunk(index, base_seed=base_seed)[:count]
    return [judged(index * CHUNK + k, data, kind) for k, data in enumerate(cases)]


def outcomes(*, cases: int, first: int = 0, base_seed: int, processes: int) -> Iterator[Outcome]:
    """Run cases from the chunk that holds the `first` on, and yield what came of each."""
    tasks = [
        (index, min(CHUNK, cases - index * CHUNK), base_seed)
        for index in range(first // CHUNK, -(-cases // CHUNK))
    ]
    context = multiprocessing.get_context("spawn")
    # a process of its own for each chunk, so that it can be drawn again
    with context.Pool(processes, maxtasksperchild=1) as pool:
        for found in pool.imap_unordered(_work, tasks):
            yield from found


def main() -> int:
    """Run the campaign; 1 if a case was neither proven nor refused."""
    from tqdm import tqdm

    from wingpath.io.spec_toml import dump_toml

    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0, help="go on from this case")
    parser.add_argument("--seed", type=int, default=9)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--summary", type=Path, help="write the summary to this file")
    parser.add_argument("-o", "--output", type=Path, default=Path("build-out/random-specs"))
    wishes = parser.parse_args()
    wishes.output.mkdir(parents=True, exist_ok=True)
    bad: list[Outcome] = []
    journal = wishes.output / "outcomes.jsonl"
    found: list[Outcome] = []
    if wishes.first and journal.exists():
        told = [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
        found = [Outcome(**row) for row in told if row["number"] < wishes.first]
    with journal.open("a", encoding="utf-8") as log:
        run = outcomes(
            cases=wishes.cases, first=wishes.first, base_seed=wishes.seed, processes=wishes.processes
        )
        for one in tqdm(run, total=wishes.cases - wishes.first, unit="wing"):
            found.append(one)
            log.write(json.dumps(asdict(one)) + "\n")
            log.flush()
            if not passed(one):
                bad.append(one)
                path = wishes.output / f"case-{one.number}.toml"
                path.write_text(dump_toml(json.loads(one.data)), encoding="utf-8")
                print(f"{one.number} {one.what}: {one.detail[:300]}", file=sys.stderr)
    text = json.dumps(summary(found, seed=wishes.seed), indent=2)
    print(text)
    if wishes.summary is not None:
        wishes.summary.write_text(text + "\n", encoding="utf-8")
    return 1 if bad else 0


def passed(one: Outcome) -> bool:
    """Return whether a wing was proven or refused with reasons."""
    return one.what in PASSED or one.what.startswith("refused: ")


def summary(found: list[Outcome], *, seed: int) -> dict[str, Any]:
    """Return a summary with the keys of the other campaigns' (see ``harness.py``)."""
    slowest, largest = max(found, key=lambda o: o.seconds), max(found, key=lambda o: o.peak_mb)
    refused = sum(one.what.startswith("refused: ") for one in found)
    proven = sum(one.what in PASSED for one in found)
    return {
        "campaign": "random specs",
        "seed": seed,
        "cases": len(found),
        "judged": proven,
        "refused": refused,
        "worst_s": slowest.seconds,
        "worst_s_case": slowest.number,
        "worst_peak_mb": largest.peak_mb,
        "worst_peak_mb_case": largest.number,
        "failures": [asdict(one) for one in found if not passed(one)],
        "tried": dict(sorted(Counter(f"{one.kind}: {one.what}" for one in found).items())),
    }


if __name__ == "__main__":
    sys.exit(main())
