"""Time what writing G-code adds to the build of the README's wing, with its memory and size.

Run from the repository root::

    python benchmarks/bench_programs.py

Tracing is part of building, writing of saving: both are timed by themselves, each the fastest of some turns,
and held against the time of the build that they add to.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path

import wingpath
from wingpath.io.gcode import write_gcode
from wingpath.pipeline.tracing import trace_part
from wingpath.pipeline.writing import gcode_job

ROOT = Path(__file__).parents[1]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--spec", type=Path, default=ROOT / "examples/osier-1240/spec.toml")
    parser.add_argument("--repeats", type=int, default=3)
    chosen = parser.parse_args()
    begin = time.perf_counter()
    build = wingpath.build_wing(chosen.spec)
    whole = time.perf_counter() - begin
    adds = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for part in build.parts:
            tracing, writing, size = [], [], 0
            for _ in range(chosen.repeats):
                begin = time.perf_counter()
                trace_part(build.design.print_setup, part.continuity, part.findings)
                traced = time.perf_counter()
                size = sum(
                    write_gcode(Path(folder) / f"{hand}.gcode", job)
                    for hand in build.hands
                    if (job := gcode_job(build, part, hand)) is not None
                )
                tracing.append(traced - begin)
                writing.append(time.perf_counter() - traced)
            if part.path is None:
                continue
            metres = len(build.hands) * float(part.path.toolpath.length_mm.sum()) / 1000.0
            adds += min(tracing) + min(writing)
            print(
                f"{part.name}: path {min(tracing):.2f} s, {len(build.hands)} files {min(writing):.2f} s, "
                f"{len(part.path.toolpath)} moves, {size / metres / 1000.0:.1f} kB a metre of path"
            )
    print(f"in all {adds:.1f} s on a build of {whole:.1f} s: {100.0 * adds / whole:.0f} per cent")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0:.0f} MB")


if __name__ == "__main__":
    main()
