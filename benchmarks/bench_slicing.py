"""Time the slicer on a panel-like mesh against other ways of cutting a mesh into layers.

Run from the repository root::

    python benchmarks/bench_slicing.py                                    # the usual panel, 960 planes
    python benchmarks/bench_slicing.py --ring 160 --slots 8 --planes 100  # a small one
    python benchmarks/bench_slicing.py --refine 2 --no-others             # 16 times the triangles

The mesh is a tapered loft of a teardrop outline, cut with thin slanted slots and a bore with its slit.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections.abc import Callable

import manifold3d
import numpy as np
import shapely
import trimesh

from wingpath.build.slicing import slice_mesh
from wingpath.geometry.mesh import Mesh

SPAN_MM = 240.0
CHORDS_MM = (220.0, 170.0)
SWEEP_MM = 40.0
SLOT_MM = 0.06
PITCH_MM = 37.0
SKIN_MM = 0.77
BORE_MM = 10.3


def teardrop(points: int) -> tuple[np.ndarray, np.ndarray]:
    """Return x and y of a counter-clockwise teardrop ring on unit chord, with a blunt end."""
    side = points // 2
    u = np.linspace(0.0, 1.0, side + 1)
    x = 0.5 * (1.0 - np.cos(np.pi * u))
    half = 0.15 * np.sqrt(x) * (1.0 - x) + 0.0025 * x
    x = np.concatenate([x[::-1], x[1:]])
    y = np.concatenate([half[::-1] + 0.03, -half[1:] + 0.03])
    return x, y


def lofted(
    points: int, stations: int, *, span_mm: float, top_mm: float = 0.0, bottom_mm: float = 0.0
) -> manifold3d.Manifold:
    """Return the loft of the teardrop; its upper side moved by `top_mm`, its lower by `bottom_mm`."""
    x, y = teardrop(points)
    n = len(x)
    rings = []
    for v in np.linspace(0.0, 1.0, stations):
        chord = (1.0 - v) * CHORDS_MM[0] + v * CHORDS_MM[1]
        shift = np.where(np.arange(n) < points // 2 + 1, top_mm, bottom_mm)
        turn = np.radians(-1.5 * v)
        px, py = chord * x, chord * y + shift
        rings.append(
            np.column_stack(
                [
                    px * np.cos(turn) - py * np.sin(turn) + SWEEP_MM * v,
                    px * np.sin(turn) + py * np.cos(turn),
                    np.full(n, span_mm * v),
                ]
            )
        )
    vertices = np.concatenate(rings)
    low = np.arange(n)
    faces = []
    for k in range(stations - 1):
        a, b = low + k * n, np.roll(low, -1) + k * n
        faces += [np.column_stack([a, b, b + n]), np.column_stack([a, b + n, a + n])]
    lid = np.asarray(manifold3d.triangulate([rings[0][:, :2]]))
    faces += [lid[:, ::-1], lid + (stations - 1) * n]
    mesh = manifold3d.Mesh64(vertices, np.concatenate(faces).astype(np.uint64))
    return manifold3d.Manifold(mesh)


def panel(
    points: int = 640, slots: int | None = None, stations: int = 3, *, span_mm: float = SPAN_MM
) -> Mesh:
    """Return a slotted panel; about 45,000 triangles as it stands. A longer one has as many more slots."""
    slots = round((CHORDS_MM[0] + 2.0 * span_mm) / PITCH_MM) + 1 if slots is None else slots
    body = lofted(points, stations, span_mm=span_mm)
    limit = lofted(points, stations, span_mm=span_mm, top_mm=-SKIN_MM, bottom_mm=-60.0)
    prisms = []
    for sign in (1.0, -1.0):
        for x0 in np.linspace(-span_mm, CHORDS_MM[0] + span_mm, slots):
            quad = [[0, 0], [SLOT_MM, 0], [SLOT_MM + sign * span_mm, span_mm], [sign * span_mm, span_mm]]
            prism = manifold3d.CrossSection([np.array(quad)]).extrude(140.0).rotate([90.0, 0.0, 0.0])
            prisms.append(prism.translate([x0, 70.0, 0.0]))
    window = manifold3d.Manifold.cube([150.0, 200.0, span_mm + 2.0]).translate([22.0, -100.0, -1.0])
    cut = manifold3d.Manifold.batch_boolean(prisms, manifold3d.OpType.Add) ^ limit ^ window
    bore = manifold3d.Manifold.cylinder(span_mm + 2.0, BORE_MM / 2, BORE_MM / 2, 96).translate(
        [75.0, 7.0, -1.0]
    )
    around = manifold3d.Manifold.cylinder(
        span_mm + 2.0, BORE_MM / 2 + SKIN_MM, BORE_MM / 2 + SKIN_MM, 96
    ).translate([75.0, 7.0, -1.0])
    above = manifold3d.Manifold.cube([BORE_MM + 2 * SKIN_MM, 60.0, span_mm + 2.0]).translate(
        [75.0 - BORE_MM / 2 - SKIN_MM, 7.0, -1.0]
    )
    slit = manifold3d.Manifold.cube([SLOT_MM, 60.0, span_mm + 2.0]).translate([75.0, -53.0, -1.0])
    solid = body - (cut - (around + above) + bore + slit)
    data = solid.to_mesh64()
    return Mesh(np.asarray(data.vert_properties)[:, :3], np.asarray(data.tri_verts).astype(np.int64))


def timed(work: Callable[[], object], repeats: int) -> float:
    """Return the shortest of several times of some work [s]."""
    best = float("inf")
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begin)
    return best


def heights(mesh: Mesh, planes: int) -> np.ndarray:
    low, high = mesh.bounds[:, 2]
    return low + (np.arange(planes) + 0.5) * (high - low) / planes


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--ring", type=int, default=640, help="points of the outline")
    parser.add_argument("--slots", type=int, help="slots in each of the two directions")
    parser.add_argument("--stations", type=int, default=3, help="outlines along the span")
    parser.add_argument("--refine", type=int, default=0, help="times that every triangle is cut into four")
    parser.add_argument("--planes", type=int, default=960)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--no-others", action="store_true", help="time our own slicer only")
    parser.add_argument("--least-ratio", type=float, default=0.0, help="fail below this ratio to trimesh")
    options = parser.parse_args()

    mesh = panel(options.ring, options.slots, options.stations)
    for _ in range(options.refine):
        mesh = Mesh(*trimesh.remesh.subdivide(mesh.vertices, mesh.faces))
    z = heights(mesh, options.planes)
    cut = slice_mesh(mesh, z)
    print(
        f"{len(mesh.faces)} triangles, {options.planes} planes, {len(cut.points)} points in chains, "
        f"{int(cut.loops_per_plane.max())} loop(s) on a plane at most"
    )
    ours = timed(lambda: slice_mesh(mesh, z), options.repeats)
    print(f"{'slicer':44}{'s':>9}{'ms a layer':>12}{'times ours':>12}")

    def row(name: str, seconds: float) -> None:
        print(f"{name:44}{seconds:9.3f}{1e3 * seconds / options.planes:12.3f}{seconds / ours:12.1f}")

    row("slice_mesh, to regions", ours)
    if not options.no_others:
        areas = slice_mesh(mesh, z, simplify_mm=0.0).areas_mm2

        def with_trimesh() -> np.ndarray:
            shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
            sections = shape.section_multiplane([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], z)
            return np.array([sum(polygon.area for polygon in section.polygons_full) for section in sections])

        def with_manifold() -> np.ndarray:
            solid = manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64)))
            sections = [solid.slice(height) for height in z]
            regions = [shapely.Polygon(section.to_polygons()[0]) for section in sections]
            return shapely.area(regions)

        for name, work in (
            ("manifold3d slice, to polygons", with_manifold),
            ("trimesh section_multiplane + polygons_full", with_trimesh),
        ):
            others: list[np.ndarray] = []
            seconds = timed(lambda work=work, others=others: others.append(work()), 1)
            row(name, seconds)
            print(f"{'':6}largest difference in area {np.abs(others[0] - areas).max():.2e} mm2")
        if seconds / ours < options.least_ratio:
            raise SystemExit(
                f"only {seconds / ours:.1f} times faster than trimesh, {options.least_ratio} wanted"
            )

    print(f"\n{'planes':>8}{'s':>9}{'ms a layer':>12}")
    for planes in (200, 500, 1000, 2000, 4000):
        if planes <= 5 * options.planes:
            some = heights(mesh, planes)
            seconds = timed(lambda some=some: slice_mesh(mesh, some), options.repeats)
            print(f"{planes:8d}{seconds:9.3f}{1e3 * seconds / planes:12.3f}")
    print(f"\nlargest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
