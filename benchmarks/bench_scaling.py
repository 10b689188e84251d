"""Does the cost of judging a mesh grow in proportion to its layers, and to its triangles?

Run from the repository root::

    python benchmarks/bench_scaling.py
    python benchmarks/bench_scaling.py --layers 200 1000 4000 --triangles 10000 640000

A slotted panel is read, looked at, cut and judged as `check` does: longer and longer, which gives more and
more layers, then with more and more triangles for the same layers. Through the times a straight line is
fitted, with what it misses, and a power of the size: 1 is in proportion, less means that something does not
grow at all. A region of each layer by trimesh and shapely, on few planes, stands beside them. Nothing here
passes or fails.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import trimesh

sys.path[:0] = [str(Path(__file__).parent)]

from bench_slicing import panel  # noqa: E402

from wingpath.geometry.mesh import Mesh  # noqa: E402
from wingpath.io.stl import write_stl  # noqa: E402
from wingpath.pipeline.checking import check_mesh  # noqa: E402

BEAD_MM, LAYER_MM = 0.45, 0.25

PLANES = 40
"""Planes on which the other way is timed; it takes as long on each."""

BASE = 4_000
"""Triangles, about, of the panel whose outline has `RING` points."""

RING = 150


def panel_of(triangles: int, span_mm: float) -> Mesh:
    """Return a panel of about so many triangles: the plain one, with every triangle cut into four."""
    times = max(0, int(np.floor(np.log(triangles / BASE) / np.log(4.0) + 0.1)))
    mesh = panel(max(24, round(RING * triangles / (BASE * 4**times))), span_mm=span_mm)
    for _ in range(times):
        mesh = Mesh(*trimesh.remesh.subdivide(mesh.vertices, mesh.faces))
    return mesh


def by_trimesh_ms(mesh: Mesh, *, planes: int = PLANES) -> float:
    """Return what the regions of a layer take by trimesh and shapely [ms]."""
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    low, high = mesh.bounds[:, 2]
    z = low + (np.arange(planes) + 0.5) * (high - low) / planes
    begin = time.perf_counter()
    for section in shape.section_multiplane([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], z):
        if section is not None:
            _ = section.polygons_full
    return 1e3 * (time.perf_counter() - begin) / planes


def judged_s(path: Path, layers: int, repeats: int) -> float:
    """Return the shortest of several times of judging a mesh in so many layers [s]."""
    best = np.inf
    for _ in range(repeats):
        begin = time.perf_counter()
        found = check_mesh(path, bead_mm=BEAD_MM, layer_mm=LAYER_MM)
        best = min(best, time.perf_counter() - begin)
        assert abs(len(found.continuity.layers) - layers) <= 1
    return best


def told(sizes: list[int], seconds: list[float], what: str) -> None:
    """Print the fits through some times."""
    n, t = np.asarray(sizes, float), np.asarray(seconds)
    # relative: the smallest counts as much as the largest
    weights = 1.0 / t
    slope, start = np.polyfit(n, t, 1, w=weights)
    missed = np.abs(start + slope * n - t) / t
    power = np.polyfit(np.log(n), np.log(t), 1)[0]
    print(f"\n{start:.2f} s + {1e3 * slope:.4g} ms for each {what}")
    print(f"missed by {100 * missed.max():.0f} per cent at most")
    print(f"as a power of their number: {power:.2f}\n")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--layers", type=int, nargs="+", default=[200, 500, 1000, 2000, 4000])
    parser.add_argument(
        "--triangles", type=int, nargs="+", default=[10_000, 40_000, 160_000, 640_000, 2_500_000, 5_000_000]
    )
    parser.add_argument("--repeats", type=int, default=2)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        path = Path(home) / "panel.stl"
        print(f"{'layers':>10}{'triangles':>11}{'s':>9}{'ms a layer':>12}")
        taken = []
        for layers in chosen.layers:
            mesh = panel(span_mm=LAYER_MM * layers)
            write_stl(path, mesh, title="panel")
            taken.append(judged_s(path, layers, chosen.repeats))
            each = 1e3 * taken[-1] / layers
            print(f"{layers:10d}{len(mesh.faces):11d}{taken[-1]:9.2f}{each:12.2f}", flush=True)
        told(chosen.layers, taken, "layer")

        layers = chosen.layers[0]
        print(
            f"{layers} layers\n{'triangles':>10}{'s':>9}{'us each':>12}{'MB':>7}{'trimesh, ms a layer':>21}"
        )
        sizes, taken = [], []
        for wanted in chosen.triangles:
            mesh = panel_of(wanted, LAYER_MM * layers)
            write_stl(path, mesh, title="panel")
            sizes.append(len(mesh.faces))
            other = by_trimesh_ms(mesh, planes=4 if sizes[-1] > 1e6 else PLANES)
            del mesh
            taken.append(judged_s(path, layers, 1 if sizes[-1] > 1e6 else chosen.repeats))
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            memory = peak / (1e6 if sys.platform == "darwin" else 1e3)
            each = 1e6 * taken[-1] / sizes[-1]
            print(f"{sizes[-1]:10d}{taken[-1]:9.2f}{each:12.2f}{memory:7.0f}{other:21.1f}", flush=True)
        told(sizes, taken, "triangle")


if __name__ == "__main__":
    main()
