"""Shells that several tests solve: plain sheets, boxes, and the panel of the project's shell computations."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray, IntArray
from wingpath.geometry.naca import naca_ordinates
from wingpath.structure.buckling import buckling_modes
from wingpath.structure.columns import Fusion
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform_mesh import planform_mesh
from wingpath.structure.shell_frames import TriangleFrames
from wingpath.structure.shell_loads import SectionMotion, section_motion, skin_loads, tip_torque
from wingpath.structure.shell_model import HeldShell, ShellModel
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.walls import TubeLine, WallLine
from wingpath.structure.wing_shell import WingShell, wing_shell

# Plain sheets


@dataclass(frozen=True)
class Sheet:
    """A grid of squares, each cut into two triangles along alternating diagonals.

    `number` tells the node at each place of the grid; in a tube the last column is the first again.
    """

    points_mm: FloatArray
    triangles: IntArray
    number: IntArray

    def shell(self, thickness_mm: float, e_mpa: float, poisson: float) -> ShellModel:
        """Return the sheet as a shell of one thickness and an isotropic material."""
        thickness = np.full(len(self.triangles), thickness_mm)
        material = WallMaterial(e_mpa, e_mpa, poisson, 1.0)
        return ShellModel(TriangleFrames(self.points_mm, self.triangles), thickness, material)

    def holding(self, *held: tuple[IntArray, Sequence[int]]) -> BoolArray:
        """Return the freedoms held: for each set of nodes the listed ones of its six."""
        fixed = np.zeros((len(self.points_mm), 6), bool)
        for nodes, freedoms in held:
            fixed[np.ravel(nodes)[:, None], list(freedoms)] = True
        return fixed

    def edge_load(self, nodes: IntArray, flow: Sequence[float]) -> FloatArray:
        """Return nodal forces of an even line load along a row of nodes [N/mm]."""
        place = self.points_mm[nodes]
        length = np.linalg.norm(np.diff(place, axis=0), axis=1)
        share = 0.5 * (np.append(length, 0.0) + np.append(0.0, length))
        found = np.zeros((len(self.points_mm), 6))
        found[nodes, :3] = share[:, None] * np.asarray(flow, float)
        return found

    def surface_load(self, pressure: Sequence[float]) -> FloatArray:
        """Return nodal forces of a load on each unit of area [MPa]."""
        area = TriangleFrames(self.points_mm, self.triangles).area_mm2
        on_node = np.bincount(self.triangles.ravel(), np.repeat(area / 3.0, 3), len(self.points_mm))
        found = np.zeros((len(self.points_mm), 6))
        found[:, :3] = on_node[:, None] * np.asarray(pressure, float)
        return found


def sheet(
    rows: int,
    columns: int,
    place: Callable[[FloatArray, FloatArray], Sequence[FloatArray]],
    *,
    closed: bool = False,
) -> Sheet:
    """Return a sheet over the unit square, `place` telling where its points lie in space.

    `closed` joins its last column to the first.
    """
    across = columns if closed else columns + 1
    i, j = np.divmod(np.arange((rows + 1) * across), across)
    points = np.column_stack(place(i / rows, j / columns))
    number = np.arange(len(points)).reshape(rows + 1, across)
    if closed:
        number = np.column_stack([number, number[:, 0]])
    triangles = []
    for r in range(rows):
        for c in range(columns):
            a, b, d, e = number[r, c], number[r + 1, c], number[r + 1, c + 1], number[r, c + 1]
            triangles += [(a, b, d), (a, d, e)] if (r + c) % 2 else [(a, b, e), (b, d, e)]
    return Sheet(points, np.array(triangles), number)


def box_sheet(lengthwise: int, wide: int, high: int, *, size_mm: Sequence[float]) -> Sheet:
    """Return a tube of rectangular section along z, open at both ends; `size_mm` is width, height, length."""
    b, h, length = size_mm
    u, v = np.linspace(-b / 2, b / 2, wide + 1)[:-1], np.linspace(-h / 2, h / 2, high + 1)[:-1]
    x = np.concatenate([u, np.full(high, b / 2), -u, np.full(high, -b / 2)])
    y = np.concatenate([np.full(wide, -h / 2), v, np.full(wide, h / 2), -v])
    around = 2 * (wide + high)

    def place(s: FloatArray, t: FloatArray) -> Sequence[FloatArray]:
        column = np.rint(t * around).astype(int)
        return x[column], y[column], s * length

    return sheet(lengthwise, around, place, closed=True)


# The panel on which the project's shell computations were made: semi-span 500 mm, chord 220 to 140 mm about
# a straight line at 30 per cent, NACA 2412 closed behind, skins 0.45, walls 0.9, 800 MPa, Poisson 0.3.

SPAN_MM, ROOT_MM, TIP_MM = 500.0, 220.0, 140.0
SKIN_MM, WALL_MM = 0.45, 0.9
PRINT = WallMaterial(800.0, 800.0, 0.3, 0.75)

FIRST, LAST = 0.025, 0.94
"""Fractions of the chord between which ribs stand."""

LIFT_N = 4.905
"""On the half wing, 1 g of a model of 1 kg [N]."""

TUBE_TO_MM = 250.0
"""The tube, 10 mm outside and 8 mm inside, of 120 GPa, ends here [mm]."""

CROSSED_DEG = (45.0, -45.0)
"""Two runs of ribs."""

UNIT_TORQUE_N_MM = 1000.0
"""1 N m."""


def chord_mm(z_mm: FloatArray | float) -> FloatArray:
    """Return the chord at a place along the span."""
    return np.asarray(ROOT_MM + (TIP_MM - ROOT_MM) * np.asarray(z_mm, float) / SPAN_MM)


@cache
def panel_skins() -> SkinSurfaces:
    """Return the panel's skins."""
    share = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 161)))
    sides = []
    for side in naca_ordinates("2412", share, closed=True):
        order = np.argsort(side[:, 0])
        sides.append(np.interp(share, side[order, 0], side[order, 1]))
    z = np.linspace(0.0, SPAN_MM, 26)
    c = chord_mm(z)
    return SkinSurfaces(z, share, -0.3 * c, 0.7 * c, np.outer(c, sides[0]), np.outer(c, sides[1]))


def rib_run(angle_deg: float, pitch_mm: float = 30.0) -> tuple[WallLine, ...]:
    """Return a run of ribs; the middle between two of them passes through the origin."""
    slope, found = math.tan(math.radians(angle_deg)), []
    z = np.linspace(0.0, SPAN_MM, 4001)
    for k in range(-60, 61):
        x = (k + 0.5) * pitch_mm / math.cos(math.radians(angle_deg)) + slope * z
        share = 0.3 + x / chord_mm(z)
        kept = np.flatnonzero((share >= FIRST) & (share <= LAST))
        if len(kept) >= 20:
            ends = kept[[0, -1]]
            kind = "aft" if angle_deg > 0 else "forward"
            found.append(WallLine(f"{kind} {k}", kind, z[ends], x[ends], WALL_MM))
    return tuple(found)


def web(name: str, to_mm: float = SPAN_MM) -> WallLine:
    """Return a wall along the line at 30 per cent."""
    return WallLine(name, "web", np.array([0.0, to_mm]), np.zeros(2), WALL_MM)


def tube_line(name: str = "tube") -> TubeLine:
    """Return the tube in the middle of the panel's height."""
    second, area = math.pi / 64.0 * (10.0**4 - 8.0**4), math.pi / 4.0 * (10.0**2 - 8.0**2)
    ends = [np.array([0.0, float(np.mean(panel_skins().heights_mm(0.3, z))), z]) for z in (0.0, TUBE_TO_MM)]
    e = 120000.0
    # as in the computations: the shear modulus of pultruded carbon is a twenty-fifth of its modulus
    return TubeLine(name, ends[0], ends[1], e * area, e * second, e * second, 0.04 * e * 2.0 * second)


def panel_loads(count: int = 36) -> StripLoads:
    """Return the lift of 1 g by Schrenk at a quarter of the chord."""
    edges = np.linspace(0.0, SPAN_MM, count + 1)
    fine = edges[:-1, None] + (np.arange(400) + 0.5) / 400 * np.diff(edges)[:, None]
    straight = chord_mm(fine) / chord_mm(fine).mean()
    lift = straight + 4.0 / math.pi * np.sqrt(1.0 - (fine / SPAN_MM) ** 2)
    force = lift.sum(axis=1)
    z = (lift * fine).sum(axis=1) / force
    return StripLoads(edges, LIFT_N * force / force.sum(), z, -0.05 * chord_mm(z), np.zeros(count))


@dataclass(frozen=True)
class Panel:
    """The panel with what stands in it, held at its root."""

    shell: WingShell
    held: HeldShell

    @property
    def lifted(self) -> FloatArray:
        """Displacements under 1 g of lift."""
        return self.held.displacement(skin_loads(self.shell, panel_loads()))

    @property
    def turned(self) -> FloatArray:
        """Displacements under 1 N m nose up at the tip."""
        return self.held.displacement(tip_torque(self.shell, UNIT_TORQUE_N_MM))

    def tip(self, displacement: FloatArray) -> SectionMotion:
        """Return the motion of the tip, the deflection at the line of 30 per cent."""
        return section_motion(self.shell, displacement, self.shell.tip_ring, x_mm=0.0)

    def factor(self, displacement: FloatArray, *, reverse: bool = False) -> float:
        """Return the lowest multiple of a load at which walls buckle."""
        return buckling_modes(self.held, displacement, reverse=reverse)[0].factor


def panel(
    angles_deg: Sequence[float] = (),
    *,
    pitch_mm: float = 30.0,
    spar: bool = False,
    tube: bool = False,
    cap_mm: float = WALL_MM,
    weld_mm: float | None = None,
    edge_mm: float,
    rows: int = 2,
    material: WallMaterial = PRINT,
) -> Panel:
    """Return the panel; `weld_mm` is the distance of welds along slots, none: fused all along."""
    walls = [rib for angle in angles_deg for rib in rib_run(angle, pitch_mm)]
    walls += [web("spar")] if spar else []
    walls += [web("tube", TUBE_TO_MM)] if tube else []
    skins = panel_skins()
    shell = wing_shell(
        skins,
        planform_mesh(skins, walls, edge_mm=edge_mm),
        walls,
        material=material,
        skin_mm=SKIN_MM,
        cap_mm=cap_mm,
        tubes=(tube_line(),) if tube else (),
        fusion=None if weld_mm is None else Fusion(weld_mm),
        rows=rows,
    )
    return Panel(shell, shell.model.held(shell.supports("clamped")))
