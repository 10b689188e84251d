"""Time the whole build of the README's wing, its memory, and its layers against another way of slicing.

Run from the repository root::

    python benchmarks/bench_build.py
    python benchmarks/bench_build.py --spec examples/fescue-340/spec.toml --planes 20

Compared is what both give: the regions of all layers, by `trimesh.section_multiplane` with `polygons_full`
on the same mesh and planes (a subset, because it is slow) and by `layers_of_mesh`, which makes the paths too.
Nothing here passes or fails; times depend on the machine, ratios less so.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import wingpath
from wingpath.build.layers import layers_of_mesh

ROOT = Path(__file__).parents[1]


def peak_mb() -> float:
    """Return the greatest resident memory of this process so far [MB]."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1e3


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--spec", type=Path, default=ROOT / "examples/osier-1240/spec.toml")
    parser.add_argument("--planes", type=int, default=60, help="planes a panel for the other way")
    parser.add_argument("--repeats", type=int, default=3, help="builds; the fastest counts")
    chosen = parser.parse_args()

    rows: list[tuple[str, str]] = []
    times, cpu = [], []
    for _ in range(chosen.repeats):
        wall, used = time.perf_counter(), time.process_time()
        build = wingpath.build_wing(chosen.spec)
        with tempfile.TemporaryDirectory() as folder:
            wingpath.write_build(build, Path(folder) / "out")
        times.append(time.perf_counter() - wall)
        cpu.append(time.process_time() - used)
    count = sum(len(panel.continuity.layers) for panel in build.panels)
    rows.append(("layers of all panels", f"{count}"))
    rows.append((f"build and write, fastest of {chosen.repeats}", f"{min(times):.1f} s"))
    rows.append(("the same, processor time", f"{min(cpu):.1f} s"))
    rows.append(("peak memory", f"{peak_mb():.0f} MB"))

    import trimesh

    ours = theirs = 0.0
    for panel in build.panels:
        layers = panel.continuity.layers
        begin = time.perf_counter()
        layers_of_mesh(panel.solid.mesh, layer_mm=layers.layer_mm, bead_mm=layers.bead_mm)
        ours += (time.perf_counter() - begin) / len(layers)
        picked = layers.z_mm[np.linspace(0, len(layers) - 1, chosen.planes).astype(int)]
        mesh = trimesh.Trimesh(panel.solid.mesh.vertices, panel.solid.mesh.faces, process=False)
        begin = time.perf_counter()
        for section in mesh.section_multiplane(np.zeros(3), np.array([0.0, 0.0, 1.0]), picked):
            if section is not None:
                _ = section.polygons_full
        theirs += (time.perf_counter() - begin) / len(picked)
    panels = len(build.panels)
    rows.append(("regions and paths of a layer", f"{1e3 * ours / panels:.2f} ms"))
    rows.append(
        (f"regions by trimesh, {chosen.planes} planes a panel", f"{1e3 * theirs / panels:.2f} ms a layer")
    )
    rows.append(("ratio", f"{theirs / ours:.0f} times"))
    width = max(len(name) for name, _ in rows)
    print(f"{build.design.spec.name}, {panels} panels, hands: {' and '.join(build.hands)}")
    for name, value in rows:
        print(f"{name:<{width}}  {value:>18}")


if __name__ == "__main__":
    main()
