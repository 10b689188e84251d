"""Time the shell of a wing against its number of freedoms, and against the beam preview.

Run from the repository root::

    python benchmarks/shell_cost.py                       # edges of 14, 10, 7 and 5 mm
    python benchmarks/shell_cost.py --edges 14 10 7 5 3.5
    python benchmarks/shell_cost.py --weld 18             # slots fused every 18 mm only

The panel is the one of the tests: 500 mm, two runs of ribs. Each size runs in a process of its own, so that
its peak memory is its own; libraries alone take some 100 MB of it. Seconds are of the processor, on one
thread, so that what else the machine does counts less.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from shell_panels import (  # noqa: E402
    CROSSED_DEG,
    PRINT,
    SKIN_MM,
    UNIT_TORQUE_N_MM,
    WALL_MM,
    panel_loads,
    panel_skins,
    rib_run,
)

from wingpath.structure.beam import beam_of_wing, solve_beam, tip_twist_deg_per_n_m  # noqa: E402
from wingpath.structure.buckling import buckling_modes  # noqa: E402
from wingpath.structure.columns import Fusion  # noqa: E402
from wingpath.structure.planform_mesh import planform_mesh  # noqa: E402
from wingpath.structure.shell_loads import skin_loads, tip_torque  # noqa: E402
from wingpath.structure.wing_section import ThinWing  # noqa: E402
from wingpath.structure.wing_shell import wing_shell  # noqa: E402

EDGES_MM = (14.0, 10.0, 7.0, 5.0)

STEPS = ("mesh", "stiffness", "factor", "two loads", "three bucklings")

Result = TypeVar("Result")


def one_size(edge_mm: float, weld_mm: float | None) -> dict[str, float]:
    """Return the seconds of the processor of each step, the freedoms and the peak memory [MB]."""
    found: dict[str, float] = {}

    def timed(step: str, work: Callable[[], Result]) -> Result:
        start = time.process_time()
        result = work()
        found[step] = time.process_time() - start
        return result

    skins = panel_skins()
    walls = [rib for angle in CROSSED_DEG for rib in rib_run(angle)]

    def meshed() -> object:
        plan = planform_mesh(skins, walls, edge_mm=edge_mm)
        fusion = None if weld_mm is None else Fusion(weld_mm)
        return wing_shell(skins, plan, walls, material=PRINT, skin_mm=SKIN_MM, cap_mm=WALL_MM, fusion=fusion)

    shell = timed("mesh", meshed)
    held = shell.model.held(shell.supports("clamped"))
    timed("stiffness", lambda: held.stiffness)
    timed("factor", lambda: held.solver)
    loads = [skin_loads(shell, panel_loads()), tip_torque(shell, UNIT_TORQUE_N_MM)]
    lifted, turned = timed("two loads", lambda: [held.displacement(load) for load in loads])
    cases = ((lifted, False), (turned, False), (turned, True))
    timed("three bucklings", lambda: [buckling_modes(held, u, reverse=back) for u, back in cases])
    found["freedoms"] = len(held.free)
    found["memory"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return found


def preview_s() -> float:
    """Return the seconds that deflection and twist take by the beam, fastest of three."""
    best = np.inf
    loads = panel_loads()
    for _ in range(3):
        start = time.process_time()
        walls = tuple(rib for angle in CROSSED_DEG for rib in rib_run(angle))
        beam = beam_of_wing(ThinWing(panel_skins(), PRINT, SKIN_MM, walls))
        solve_beam(beam, z_mm=loads.z_mm, x_mm=loads.x_mm, force_n=loads.force_n, torque_n_mm=0.0)
        tip_twist_deg_per_n_m(beam)
        best = min(best, time.process_time() - start)
    return best


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--edges", type=float, nargs="+", default=EDGES_MM, help="lengths of edges [mm]")
    parser.add_argument("--weld", type=float, help="distance of welds along slots [mm]; default: all fused")
    parser.add_argument("--one", type=float, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one is not None:
        print(json.dumps(one_size(given.one, given.weld)))
        return
    sizes = []
    for edge in given.edges:
        command = [sys.executable, __file__, "--one", str(edge)]
        command += [] if given.weld is None else ["--weld", str(given.weld)]
        alone = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        run = subprocess.run(command, check=True, capture_output=True, text=True, env=alone)
        sizes.append(json.loads(run.stdout))
    first = sum(sizes[0][step] for step in STEPS)
    print(f"{'edge':>6} {'freedoms':>9} " + " ".join(f"{step:>16}" for step in STEPS))
    for edge, size in zip(given.edges, sizes, strict=True):
        total = sum(size[step] for step in STEPS)
        cells = " ".join(f"{size[step]:9.2f} {size[step] / sizes[0][step]:5.1f}x" for step in STEPS)
        print(
            f"{edge:6g} {size['freedoms']:9.0f} {cells}  all {total:.1f} s {total / first:.1f}x, "
            f"{size['memory']:.0f} MB"
        )
    if len(sizes) > 1:
        freedoms = np.log([size["freedoms"] for size in sizes])
        for step in (*STEPS, None):
            seconds = [sum(size[s] for s in (STEPS if step is None else (step,))) for size in sizes]
            power = np.polyfit(freedoms, np.log(seconds), 1)[0]
            print(f"{step or 'all'}: grows with freedoms to the {power:.2f}")
    quick = preview_s()
    print(
        f"beam preview: {quick:.3f} s; the shell takes "
        + ", ".join(f"{sum(size[s] for s in STEPS) / quick:.0f}" for size in sizes)
        + " times as long"
    )


if __name__ == "__main__":
    main()
