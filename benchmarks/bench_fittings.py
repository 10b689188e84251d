"""Time the build of a wing with all its fittings against the same wing with its tube and web alone.

Run from the repository root::

    python benchmarks/bench_fittings.py
    python benchmarks/bench_fittings.py --spec examples/teasel-920/spec.toml

Both builds take turns, so that what else the machine does meets both; the fastest of each counts. The parts
that come with fittings (control surfaces, covers) are built and written too: they belong to the cost.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import wingpath

ROOT = Path(__file__).parents[1]

WITHOUT = ("tabs", "ducts", "servo_bays", "plate_bays", "ailerons", "pins")
"""Tables that the bare wing goes without."""


def once(spec: wingpath.Spec) -> tuple[float, float]:
    """Return wall and processor time of one build with writing [s]."""
    wall, used = time.perf_counter(), time.process_time()
    build = wingpath.build_wing(spec)
    with tempfile.TemporaryDirectory() as folder:
        wingpath.write_build(build, Path(folder) / "out")
    return time.perf_counter() - wall, time.process_time() - used


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--spec", type=Path, default=ROOT / "examples/osier-1240/spec.toml")
    parser.add_argument("--repeats", type=int, default=4, help="builds of each")
    chosen = parser.parse_args()
    full = wingpath.load_spec(chosen.spec)
    bare = full.model_copy(update=dict.fromkeys(WITHOUT, ()))
    times: dict[str, list[tuple[float, float]]] = {"bare": [], "full": []}
    for _ in range(chosen.repeats):
        times["bare"].append(once(bare))
        times["full"].append(once(full))
    best = {name: [min(column) for column in zip(*rows, strict=True)] for name, rows in times.items()}
    for name, (wall, used) in best.items():
        print(f"{name}: {wall:5.1f} s, processor time {used:5.1f} s")
    print(f"grows by {100 * (best['full'][0] / best['bare'][0] - 1):.0f} per cent, ", end="")
    print(f"in processor time by {100 * (best['full'][1] / best['bare'][1] - 1):.0f} per cent")


if __name__ == "__main__":
    main()
