"""The shell of a small wing with two runs of ribs and a spar, and loads on it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from shell_panels import Panel

from wingpath.core.arrays import FloatArray
from wingpath.structure.columns import Fusion
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform_mesh import PlanformMesh, planform_mesh
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.walls import CutOut, Pocket, TubeLine, WallLine
from wingpath.structure.wing_shell import wing_shell

END_MM, FRONT_MM, REAR_MM = 90.0, (0.0, 12.0), (60.0, 52.0)
"""A small wing: span, and x of its edges at root and tip [mm]."""

PRINTED = WallMaterial(900.0, 600.0, 0.3, 0.7)

EDGE_MM = 6.0


def skins(*, camber: float = 0.04, thick: float = 0.14) -> SkinSurfaces:
    """Return the small wing's skins: parabolic camber, and a round nose on a straight taper."""
    share = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 41)))
    half = 1.1 * thick * np.sqrt(share) * (1.0 - share) + 0.02 * thick * share * (1.0 - share)
    mean = 4.0 * camber * share * (1.0 - share)
    z = np.linspace(0.0, END_MM, 4)
    front, rear = (np.interp(z, [0.0, END_MM], side) for side in (FRONT_MM, REAR_MM))
    length = (rear - front)[:, None]
    return SkinSurfaces(z, share, front, rear, length * (mean + half), length * (mean - half))


def line(name: str, kind: str, *ends: tuple[float, float]) -> WallLine:
    """Return a wall through places (x, z)."""
    x, z = np.transpose(ends)
    return WallLine(name, kind, z, x, 0.8)  # type: ignore[arg-type]


RIBS = (
    line("aft 0", "aft", (4.0, 0.0), (50.0, 46.0)),
    line("aft 1", "aft", (12.0, 30.0), (50.0, 68.0)),
    line("forward 0", "forward", (46.0, 4.0), (14.0, 72.0)),
    line("spar", "web", (20.0, 0.0), (24.0, 90.0)),
)


def built(
    walls: Sequence[WallLine] = RIBS,
    *,
    surfaces: SkinSurfaces | None = None,
    cut_outs: Sequence[CutOut] = (),
    pockets: Sequence[Pocket] = (),
    tubes: Sequence[TubeLine] = (),
    fusion: Fusion | None = None,
    cap_mm: float = 0.8,
    edge_mm: float = EDGE_MM,
    material: WallMaterial = PRINTED,
    stub_mm: float | None = None,
) -> tuple[PlanformMesh, Panel]:
    surfaces = surfaces or skins()
    plan = planform_mesh(surfaces, walls, cut_outs, edge_mm=edge_mm)
    shell = wing_shell(
        surfaces,
        plan,
        walls,
        material=material,
        skin_mm=0.4,
        cap_mm=cap_mm,
        pockets=pockets,
        tubes=tubes,
        fusion=fusion,
        stub_mm=stub_mm,
    )
    return plan, Panel(shell, shell.model.held(shell.supports("clamped")))


@cache
def wing() -> Panel:
    """Return the small wing with two runs of ribs and a spar."""
    return built()[1]


def strips(seed: int = 0) -> StripLoads:
    """Return loads of all kinds, up and down."""
    rng = np.random.default_rng(seed)
    edges = np.array([0.0, 25.0, 48.0, 70.0, END_MM])
    z = edges[:-1] + rng.uniform(0.1, 0.9, 4) * np.diff(edges)
    return StripLoads(
        edges,
        rng.uniform(-2, 4, 4),
        z,
        rng.uniform(10, 40, 4),
        rng.uniform(-30, 30, 4),
        rng.uniform(-9, 9, 4),
    )


def lift() -> StripLoads:
    edges = np.linspace(0.0, END_MM, 5)
    return StripLoads(edges, np.array([2.0, 1.8, 1.5, 1.0]), edges[:-1] + 11.0, np.full(4, 18.0), np.zeros(4))


def moments(place: FloatArray, force: FloatArray) -> FloatArray:
    """Return the sum of forces and of their moments about the origin, shape (6,)."""
    return np.concatenate(
        [force[:, :3].sum(axis=0), (np.cross(place, force[:, :3]) + force[:, 3:]).sum(axis=0)]
    )
