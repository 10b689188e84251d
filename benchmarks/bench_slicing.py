"""Time the slicer on a panel-like mesh against other ways of cutting a mesh into layers.

Run from the repository root::

    python benchmarks/bench_slicing.py                       # table for the usual panel
    python benchmarks/bench_slicing.py --planes 200 --ring 160 --quick

The mesh is a tapered loft of a teardrop outline, cut with thin slanted slots and a bore with its slit.
"""

from __future__ import annotations

import argparse
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
SKIN_MM = 0.77
BORE_MM = 10.3


def teardrop(points: int, *, top_mm: float = 0.0, bottom_mm: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Return x and y of a counter-clockwise teardrop ring on unit chord, with a blunt end."""
    side = points // 2
    u = np.linspace(0.0, 1.0, side + 1)
    x = 0.5 * (1.0 - np.cos(np.pi * u))
    half = 0.15 * np.sqrt(x) * (1.0 - x) + 0.0025 * x
    x = np.concatenate([x[::-1], x[1:]])
    y = np.concatenate([half[::-1] + 0.03, -half[1:] + 0.03])
    return x, y


def lofted(points: int, stations: int, *, top_mm: float = 0.0, bottom_mm: float = 0.0) -> manifold3d.Manifold:
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
                    np.full(n, SPAN_MM * v),
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


def panel(points: int = 640, slots: int = 20, stations: int = 3) -> Mesh:
    """Return a slotted panel; about 45,000 triangles as it stands."""
    body = lofted(points, stations)
    limit = lofted(points, stations, top_mm=-SKIN_MM, bottom_mm=-60.0)
    prisms = []
    for sign in (1.0, -1.0):
        for x0 in np.linspace(-SPAN_MM, CHORDS_MM[0] + SPAN_MM, slots):
            quad = np.array(
                [[0, 0], [SLOT_MM, 0], [SLOT_MM + sign * SPAN_MM, SPAN_MM], [sign * SPAN_MM, SPAN_MM]]
            ) + [x0 if sign > 0 else x0, 0.0]
            prism = manifold3d.CrossSection([quad]).extrude(140.0).rotate([90.0, 0.0, 0.0])
            prisms.append(prism.translate([0.0, 70.0, 0.0]))
    window = manifold3d.Manifold.cube([150.0, 200.0, SPAN_MM + 2.0]).translate([22.0, -100.0, -1.0])
    cut = manifold3d.Manifold.batch_boolean(prisms, manifold3d.OpType.Add) ^ limit ^ window
    bore = manifold3d.Manifold.cylinder(SPAN_MM + 2.0, BORE_MM / 2, BORE_MM / 2, 96).translate(
        [75.0, 7.0, -1.0]
    )
    around = manifold3d.Manifold.cylinder(
        SPAN_MM + 2.0, BORE_MM / 2 + SKIN_MM, BORE_MM / 2 + SKIN_MM, 96
    ).translate([75.0, 7.0, -1.0])
    above = manifold3d.Manifold.cube([BORE_MM + 2 * SKIN_MM, 60.0, SPAN_MM + 2.0]).translate(
        [75.0 - BORE_MM / 2 - SKIN_MM, 7.0, -1.0]
    )
    slit = manifold3d.Manifold.cube([SLOT_MM, 60.0, SPAN_MM + 2.0]).translate([75.0, -53.0, -1.0])
    solid = body - (cut - (around + above) + bore + slit)
    data = solid.to_mesh64()
    return Mesh(np.asarray(data.vert_properties)[:, :3], np.asarray(data.tri_verts).astype(np.int64))
