"""Areas and outlines of layers against an independent slicer: the section functions of trimesh."""

from __future__ import annotations

import functools

import numpy as np
import shapely
import trimesh
from outside import SLICERS, Source

from wingpath.build.slicing import slice_mesh
from wingpath.geometry.mesh import Mesh

TRIMESH = Source(
    "library", "trimesh", "trimesh, an open library of meshes (MIT): its section functions, with shapely"
)


def _tilted(shape: trimesh.Trimesh, seed: int) -> trimesh.Trimesh:
    turn = trimesh.transformations.random_rotation_matrix(np.random.default_rng(seed).random(3))
    return shape.copy().apply_transform(turn)


SHAPES = {
    "box": _tilted(trimesh.creation.box((10.0, 20.0, 30.0)), 1),
    "sphere": _tilted(trimesh.creation.icosphere(subdivisions=4, radius=12.0), 2),
    "torus": _tilted(trimesh.creation.torus(20.0, 6.0, major_sections=60, minor_sections=40), 3),
    "pipe": _tilted(trimesh.creation.annulus(r_min=4.0, r_max=9.0, height=25.0, sections=50), 4),
    "cone": _tilted(trimesh.creation.cone(radius=8.0, height=30.0, sections=70), 5),
    "capsule": _tilted(trimesh.creation.capsule(height=20.0, radius=5.0, count=[20, 20]), 6),
}


def test_layers_agree_with_trimesh() -> None:
    areas, lengths, labels = [], [], []
    for name, shape in SHAPES.items():
        cuts = slices_of(shape)
        areas += [area for area, _ in cuts]
        lengths += [length for _, length in cuts]
        labels += [name] * len(cuts)
    for quantity, pairs, share in (("area", areas, 1e-7), ("outline", lengths, 1e-6)):
        wanted, got = np.array(pairs).T
        SLICERS.check(
            f"Slices of tilted boxes, balls, rings, pipes, cones and capsules: {quantity} over theirs",
            source=TRIMESH,
            expected=wanted,
            got=got,
            rel=share,
            because="rounding, and corners that are joined",
            labels=labels,
            ratio=True,
        )


Pair = tuple[float, float]


def slices_of(shape: trimesh.Trimesh) -> list[tuple[Pair, Pair]]:
    """Return theirs and ours of each cut, area and outline."""
    low, high = shape.bounds[:, 2]
    z = low + (np.arange(24) + 0.5) * (high - low) / 24
    mine = slice_mesh(Mesh(shape.vertices, shape.faces), z, simplify_mm=0.0)
    sections = shape.section_multiplane([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], z)
    found = []
    for index, section in enumerate(sections):
        # Their loops, counted in and out in turn: no hole of these shapes holds an island.
        theirs = functools.reduce(shapely.symmetric_difference, section.polygons_closed)
        # Their section lies in a frame of its own.
        theirs = shapely.transform(
            theirs,
            lambda p, s=section: trimesh.transform_points(
                np.column_stack([p, np.zeros(len(p))]), s.metadata["to_3D"]
            )[:, :2],
        )
        region = mine.regions[index]
        found.append(((theirs.area, region.area), (theirs.length, region.length)))
        assert shapely.area(shapely.symmetric_difference(region, theirs)) < 1e-6 * region.area
        holes = sum(len(part.interiors) for part in shapely.get_parts(theirs))
        assert sum(len(part.interiors) for part in shapely.get_parts(region)) == holes
    return found
