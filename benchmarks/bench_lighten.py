"""How quickly layouts are guessed and judged, and what pruning by guesses saves.

Run from the repository root::

    python benchmarks/bench_lighten.py              # the reduced search of the tests
    python benchmarks/bench_lighten.py --seeds 1 2 3

The same search twice in one run: with guesses that leave out candidates, and without, when every layout that
the optimiser proposes is built and solved. One process; each search starts from nothing.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from lightened import EDGE_MM, REDUCED  # noqa: E402

from wingpath.io.spec_toml import dump_toml  # noqa: E402
from wingpath.lighten.judging import Job, guess_candidate, judge_candidate  # noqa: E402
from wingpath.lighten.lightening import Lightening, lighten_wing  # noqa: E402
from wingpath.lighten.searching import SearchSettings  # noqa: E402

REPEATS = 5
POOL, BATCH = 24, 4


def rates() -> tuple[float, float]:
    """Return guesses and judgements a second, of the drawn wing."""
    job = Job(REDUCED, (), str(ROOT), EDGE_MM)
    found = []
    for look in (guess_candidate, judge_candidate):
        look(job)
        began = time.perf_counter()
        for _ in range(REPEATS):
            look(job)
        found.append(REPEATS / (time.perf_counter() - began))
    return found[0], found[1]


def judged_until(one: Lightening, mass_g: float) -> int | None:
    """Return how many wings were judged until one as light as that was found; None: it never was."""
    for number, judgement in enumerate(one.found.judged.values(), start=1):
        measures = judgement.measures
        if measures is not None and measures.mass_g <= mass_g and one.found.targets.met(measures):
            return number
    return None


def main() -> None:
    """Print the rates and, for every seed, the cost of the same result with and without pruning."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    seeds = parser.parse_args().seeds
    guesses, judgements = rates()
    print(f"{guesses:.1f} guesses and {judgements:.2f} judgements a second, one process")
    with tempfile.TemporaryDirectory() as folder:
        spec = Path(folder) / "wing.toml"
        spec.write_text(dump_toml(REDUCED), encoding="utf-8")
        for seed in seeds:
            runs = []
            for prune in (True, False):
                settings = SearchSettings(
                    judged=20 if prune else 200, pool=POOL, batch=BATCH, seed=seed, prune=prune, patience=3
                )
                began = time.perf_counter()
                one = lighten_wing(spec, settings=settings, edge_mm=EDGE_MM)
                runs.append((one, time.perf_counter() - began))
            best = runs[0][0].best
            assert best is not None
            for (one, seconds), words in zip(runs, ("with guesses", "without"), strict=True):
                reached = judged_until(one, best.mass_g)
                print(
                    f"seed {seed}, {words}: {best.mass_g:.3f} g reached after {reached} judged, "
                    f"{one.found.counts.judged} in all, {seconds:.1f} s"
                )
            print(f"    {runs[1][1] / runs[0][1]:.1f} times as long without")


if __name__ == "__main__":
    main()
