"""Time the commands on the examples with this tree and with an earlier one, in turns.

Run from the repository root of a clone that has its history::

    python benchmarks/bench_states.py
    python benchmarks/bench_states.py --earlier 9f6a0eb --repeats 5 --wings osier-1240

Both trees get the same files: the spec of the earlier tree, and the mesh that it builds. Compared is the
processor's time of the whole process, interpreter and imports included, and what a clock shows; the ratio is
that of the pairs, its median told. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parents[1]

FIRST = "9f6a0eb"
"""The state before anybody had looked for what costs most."""

LIBRARY = "wingpath/report/web/library.txt"
"""Made when the package is installed; not kept with the sources."""


def tree_of(revision: str, folder: Path) -> Path:
    """Unpack a revision into a folder, and return the folder."""
    folder.mkdir(parents=True)
    packed = subprocess.run(["git", "archive", revision], cwd=ROOT, check=True, capture_output=True)
    subprocess.run(["tar", "-x", "-C", str(folder)], input=packed.stdout, check=True)
    shutil.copy(ROOT / LIBRARY, folder / LIBRARY)
    return folder


def timed(tree: Path, words: Sequence[str], where: Path) -> tuple[float, float]:
    """Run a command of a tree; return its processor time and its time by the clock [s]."""
    code = "import sys; from wingpath.cli.app import main; sys.exit(main())"
    before, clock = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=where,
        env={**os.environ, "PYTHONPATH": str(tree), "OPENBLAS_NUM_THREADS": "1"},
        check=True,
        capture_output=True,
    )
    clock = time.perf_counter() - clock
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime, clock


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--earlier", default=FIRST, help="revision to compare with")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--wings", nargs="+", default=["osier-1240", "teasel-920", "fescue-340"])
    chosen = parser.parse_args()
    print(f"{'':32}{'earlier':>9}{'now':>9}{'ratio':>8}{'by the clock':>15}")
    with tempfile.TemporaryDirectory() as home:
        earlier = tree_of(chosen.earlier, Path(home) / "earlier")
        for wing in chosen.wings:
            spec = earlier / "examples" / wing / "spec.toml"
            built = Path(home) / wing
            commands = {
                "build": ("build", str(spec), "-o", str(built), "--force", "--no-strength"),
                "check": ("check", str(built / "panel-1-left.stl")),
                "assess": ("assess", str(spec)),
            }
            for name, words in commands.items():
                pairs = [
                    (timed(earlier, words, built.parent), timed(ROOT, words, built.parent))
                    for _ in range(chosen.repeats)
                ]
                old, new = (statistics.median(pair[side][0] for pair in pairs) for side in (0, 1))
                ratio, clock = (
                    statistics.median(pair[1][kind] / pair[0][kind] for pair in pairs) for kind in (0, 1)
                )
                print(f"{wing + ', ' + name:32}{old:8.2f}s{new:8.2f}s{ratio:8.2f}{clock:15.2f}", flush=True)


if __name__ == "__main__":
    main()
