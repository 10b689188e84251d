"""The shell of a half wing: skins, walls and tubes over the triangulated planform."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.errors import InputError
from wingpath.structure.columns import ColumnNodes, Fusion, bead_groups
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform_mesh import PlanformMesh
from wingpath.structure.shell_frames import TriangleFrames
from wingpath.structure.shell_model import BeamRun, ShellModel
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.walls import Pocket, TubeLine, WallLine

__all__ = ["LOWER", "ROWS", "UPPER", "WingShell", "wing_shell"]

UPPER, LOWER = -1, -2
"""Owners of the triangles of the skins; walls have their number."""

ROWS = 2
"""Rows of elements over the height of a wall: 4 changed deflection by 0.1 and buckling by 0.5 per cent."""

LEAST_THICKNESS_MM = 1.0
"""Skins stay this far apart under a pocket [mm]."""

LEAST_AREA_MM2 = 1e-4
"""A triangle smaller than this carries nothing [mm2]."""


@dataclass(frozen=True, slots=True, eq=False)
class WingShell:
    """A shell with what its triangles and nodes belong to.

    Parameters
    ----------
    model : ShellModel
        Nodes, triangles, tubes.
    owner : ndarray of int, shape (m,)
        :data:`UPPER`, :data:`LOWER` or the number of the wall.
    walls : tuple of WallLine
        The walls.
    root : ndarray of int
        Nodes of skins and walls at the root.
    tip_ring : ndarray of int
        Nodes round the tip: the upper skin aft, the lower skin back.
    end_mm : float
        Span of the tip [mm].
    centre_mm : ndarray, shape (m, 3)
        Middles of the triangles [mm]; worked out.
    """

    model: ShellModel
    owner: IntArray
    walls: tuple[WallLine, ...]
    root: IntArray
    tip_ring: IntArray
    end_mm: float
    centre_mm: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        frames = self.model.frames
        object.__setattr__(self, "owner", frozen_ints(self.owner, (len(frames),), name="owner"))
        for name in ("root", "tip_ring"):
            object.__setattr__(self, name, frozen_ints(getattr(self, name), (None,), name=name))
        centre = frames.points_mm[frames.triangles].mean(axis=1)
        object.__setattr__(self, "centre_mm", frozen_floats(centre, (None, 3), name="centre_mm"))

    @property
    def skin(self) -> BoolArray:
        """Which triangles are skin, shape (m,)."""
        return np.asarray(self.owner < 0)

    @property
    def freedoms(self) -> int:
        """Number of freedoms of the nodes in use."""
        return 6 * len(np.unique(self.model.frames.triangles))

    @property
    def wall_mass_g(self) -> float:
        """Mass of skins and walls [g]: area times thickness times density, without tubes and glue."""
        volume = float((self.model.frames.area_mm2 * self.model.thickness_mm).sum())
        return volume * self.model.material.density_g_cm3 / 1000.0

    def supports(self, root: Literal["clamped", "held"]) -> BoolArray:
        """Return the freedoms that the root holds, shape (n, 6).

        Parameters
        ----------
        root : {"clamped", "held"}
            ``clamped``: skins glued all round. ``held``: skins kept from moving aft and up, as by a tongue
            and the side of the fuselage, but free to lift off it; the tubes are clamped either way.
        """
        fixed = np.zeros((self.model.nodes, 6), bool)
        if root == "clamped":
            fixed[self.root] = True
        else:
            fixed[self.root, :2] = True
        for beam in self.model.beams:
            if abs(self.model.frames.points_mm[beam.nodes[0], 2]) < 1e-6:
                fixed[beam.nodes[0]] = True
        return fixed

    def with_material(self, material: WallMaterial) -> WingShell:
        """Return the same shell of another material."""
        model = ShellModel(self.model.frames, self.model.thickness_mm, material, self.model.beams)
        return WingShell(model, self.owner, self.walls, self.root, self.tip_ring, self.end_mm)


def wing_shell(
    skins: SkinSurfaces,
    plan: PlanformMesh,
    walls: Sequence[WallLine],
    *,
    material: WallMaterial,
    skin_mm: float,
    cap_mm: float,
    tubes: Sequence[TubeLine] = (),
    pockets: Sequence[Pocket] = (),
    fusion: Fusion | None = None,
    rows: int = ROWS,
    stub_mm: float | None = None,
) -> WingShell:
    """Put skins, walls and tubes on the points of a planform.

    Parameters
    ----------
    skins, plan, walls
        Surfaces, triangulated planform and the walls that it was made with, in the same order.
    material : WallMaterial
        Of all walls.
    skin_mm, cap_mm : float
        Thickness of the skins and of the wall that closes the tip, 0 for an open one [mm].
    tubes : sequence of TubeLine
        Tubes; the slit of each is the wall of its name.
    pockets : sequence of Pocket
        Where a skin is pressed in.
    fusion : Fusion, optional
        How far the beads beside slots are fused; left out: all along.
    rows : int
        Rows of elements over the height of a wall.
    stub_mm : float, optional
        Depth of the stubs that windows in ribs leave on both skins; there are four rows then, the outer ones
        as deep as stubs, or three eighths of the height where that is less [mm].

    Raises
    ------
    InputError
        When stubs have no depth.
    """
    if stub_mm is not None and not stub_mm > 0.0:
        raise InputError(f"stubs: got {stub_mm:g} mm; allowed: over 0. Give the depth that windows leave")
    upper, lower = _heights(skins, plan, pockets)
    lines = [*walls]
    chains = [*plan.lines]
    if cap_mm > 0.0:
        ends = skins.x_of_mm(np.array([0.0, 1.0]), np.full(2, skins.end_mm))
        lines.append(WallLine("tip", "cap", np.full(2, skins.end_mm), ends, cap_mm))
        chains.append(plan.tip)
    nodes = ColumnNodes(plan, skins, upper=upper, lower=lower, rows=rows, stub_mm=stub_mm)
    for tube in tubes:
        for number, wall in enumerate(lines):
            if wall.name == tube.name:
                nodes.hold_axis(chains[number], tube)
    standing = [nodes.standing(wall, chain) for wall, chain in zip(lines, chains, strict=True)]
    nodes.part(bead_groups(plan, lines, chains, standing, fusion), chains, standing)
    kept = plan.triangles[plan.inside]
    numbers = np.flatnonzero(plan.inside)
    sheets = [nodes.many(kept, nodes.rows, numbers)[:, ::-1], nodes.many(kept, 0, numbers)]
    triangles, owner, thickness = [*sheets], [np.full(len(kept), UPPER), np.full(len(kept), LOWER)], []
    thickness += [np.full(len(kept), skin_mm)] * 2
    for number, (wall, chain, rows_up) in enumerate(zip(lines, chains, standing, strict=True)):
        for corners, share in nodes.wall(wall, chain, rows_up):
            triangles.append(corners)
            owner.append(np.full(len(corners), number))
            thickness.append(np.full(len(corners), share * wall.thickness_mm))
    points = nodes.points_mm
    corner = np.concatenate(triangles)
    owners, thick = np.concatenate(owner), np.concatenate(thickness)
    area = 0.5 * np.linalg.norm(
        np.cross(points[corner[:, 1]] - points[corner[:, 0]], points[corner[:, 2]] - points[corner[:, 0]]),
        axis=1,
    )
    good = area > LEAST_AREA_MM2
    good[good] = _hanging_on(points, corner[good])
    beams = tuple(
        BeamRun(
            tube.name,
            nodes.axis(chains[number]),
            tube.ea_n,
            tube.ei_x_n_mm2,
            tube.ei_y_n_mm2,
            tube.gj_n_mm2,
        )
        for tube in tubes
        for number, wall in enumerate(lines)
        if wall.name == tube.name and len(chains[number]) > 1
    )
    points = nodes.points_mm
    model = ShellModel(TriangleFrames(points, corner[good]), thick[good], material, beams)
    at_root = np.zeros(len(points), bool)
    at_root[np.unique(corner[good])] = True
    at_root &= np.abs(points[:, 2]) < 1e-6
    return WingShell(
        model,
        owners[good],
        tuple(lines),
        np.flatnonzero(at_root),
        nodes.ring(plan.tip),
        skins.end_mm,
    )


def _hanging_on(points: FloatArray, corner: IntArray) -> BoolArray:
    """Return which triangles hang together with the root; what does not would float."""
    links = np.concatenate([corner[:, [0, 1]], corner[:, [1, 2]]])
    graph = sparse.coo_matrix((np.ones(len(links)), links.T), shape=(len(points), len(points)))
    _, group = connected_components(graph, directed=False)
    at_root = np.unique(group[corner[np.abs(points[corner, 2]) < 1e-6]])
    return np.asarray(np.isin(group[corner[:, 0]], at_root))


def _heights(
    skins: SkinSurfaces, plan: PlanformMesh, pockets: Sequence[Pocket]
) -> tuple[FloatArray, FloatArray]:
    """Return the heights of both skins at the points of the plan, pockets pressed in [mm]."""
    upper, lower = skins.heights_mm(plan.fraction, plan.z_mm)
    x = skins.x_of_mm(plan.fraction, plan.z_mm)
    for pocket in pockets:
        outside = np.maximum(np.maximum(pocket.from_mm - plan.z_mm, plan.z_mm - pocket.to_mm), 0.0)
        near = (x >= pocket.fore_mm) & (x <= pocket.aft_mm)
        if pocket.side == "lower":
            floor = np.minimum(pocket.floor_mm - outside, upper - LEAST_THICKNESS_MM)
            lower = np.where(near, np.maximum(lower, floor), lower)
        else:
            floor = np.maximum(pocket.floor_mm + outside, lower + LEAST_THICKNESS_MM)
            upper = np.where(near, np.minimum(upper, floor), upper)
    joined = np.zeros(len(x), bool)
    joined[plan.front] = joined[plan.rear] = True
    middle = 0.5 * (upper + lower)
    return np.where(joined, middle, upper), np.where(joined, middle, lower)
