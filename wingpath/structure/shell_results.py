"""What a wing's shell does under its loads: bending, twist, where it buckles, what walls and tubes bear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray, frozen_floats
from wingpath.structure.buckling import BucklingMode, buckling_both_ways, buckling_modes
from wingpath.structure.frame_beam import beam_stiffness
from wingpath.structure.material import WallMaterial
from wingpath.structure.shell_loads import section_motion, tip_torque
from wingpath.structure.shell_model import BeamRun, HeldShell
from wingpath.structure.wing_shell import LOWER, UPPER, WingShell

__all__ = [
    "BucklingPlace",
    "HeldWing",
    "SpanMotion",
    "TubeForces",
    "hold_wing",
]

N_MM_PER_N_M = 1000.0

BAND_SHARE = 0.012
"""Nodes up to this share of the span beside a station tell its motion."""


@dataclass(frozen=True, slots=True)
class BucklingPlace:
    """At which multiple of a load the walls wrinkle first, and where.

    Parameters
    ----------
    factor : float
        Multiple of the load.
    z_mm, x_mm : float
        Where the wrinkle is deepest [mm].
    chord_fraction : float
        The same as a fraction of the section.
    part : str
        ``upper skin``, ``lower skin`` or the name of a wall.
    """

    factor: float
    z_mm: float
    x_mm: float
    chord_fraction: float
    part: str


@dataclass(frozen=True, slots=True, eq=False)
class SpanMotion:
    """Deflection and twist along the span under one load.

    Parameters
    ----------
    z_mm : ndarray, shape (k,)
        Stations [mm].
    deflection_mm : ndarray, shape (k,)
        Upward, at the reference line [mm].
    twist_deg : ndarray, shape (k,)
        Nose up [deg].
    """

    z_mm: FloatArray
    deflection_mm: FloatArray
    twist_deg: FloatArray

    def __post_init__(self) -> None:
        for name in ("z_mm", "deflection_mm", "twist_deg"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (None,), name=name))

    @property
    def tip_mm(self) -> float:
        """Deflection of the tip [mm]."""
        return float(self.deflection_mm[-1])

    def deflection_at_mm(self, z_mm: float) -> float:
        """Return the deflection at a station [mm]."""
        return float(np.interp(z_mm, self.z_mm, self.deflection_mm))


@dataclass(frozen=True, slots=True, eq=False)
class TubeForces:
    """What a tube bears along its axis.

    Parameters
    ----------
    name : str
        Key path.
    z_mm : ndarray, shape (k,)
        Middles of its pieces [mm].
    bending_n_mm : ndarray, shape (k,)
        Greatest bending moment at either end of a piece, both directions together [N mm].
    torque_n_mm, pull_n : ndarray, shape (k,)
        Torque [N mm] and tension [N].
    """

    name: str
    z_mm: FloatArray
    bending_n_mm: FloatArray
    torque_n_mm: FloatArray
    pull_n: FloatArray


@dataclass(frozen=True, eq=False)
class HeldWing:
    """A wing's shell on its root, factored once, ready for any number of loads.

    Parameters
    ----------
    shell : WingShell
        The shell.
    held : HeldShell
        The same on its supports.
    reference_z_mm, reference_x_mm : ndarray, shape (k,)
        Line along the span at which deflections are told [mm].
    """

    shell: WingShell
    held: HeldShell
    reference_z_mm: FloatArray
    reference_x_mm: FloatArray

    def reference_at_mm(self, z_mm: float) -> float:
        """Return x of the reference line at a station [mm]."""
        return float(np.interp(z_mm, self.reference_z_mm, self.reference_x_mm))

    def with_material(self, material: WallMaterial, *, root: Literal["clamped", "held"]) -> HeldWing:
        """Return the same wing on the same root, of another material."""
        return hold_wing(
            self.shell.with_material(material),
            root=root,
            reference_z_mm=self.reference_z_mm,
            reference_x_mm=self.reference_x_mm,
        )

    def displacement(self, forces: FloatArray) -> FloatArray:
        """Return the displacements under nodal forces, shape (n, 6)."""
        return self.held.displacement(forces)

    def tip_torque_displacement(self, torque_n_m: float) -> tuple[FloatArray, float]:
        """Return displacements under a nose-up torque at the tip, shape (n, 6), and the twist there [deg].

        The twist is the work of the torque over the torque: the mean tangential motion round the tip, which
        for a section that keeps its shape is its turn, and which no distortion can make negative.
        """
        forces = tip_torque(self.shell, torque_n_m * N_MM_PER_N_M)
        moved = self.held.displacement(forces)
        return moved, float(np.rad2deg((forces * moved).sum() / (torque_n_m * N_MM_PER_N_M)))

    def motion(self, displacement: FloatArray, stations_mm: FloatArray) -> SpanMotion:
        """Return deflection and twist at stations; the root does not move, the tip is told by its ring."""
        place = self.shell.model.frames.points_mm
        used = np.unique(self.shell.model.frames.triangles[self.shell.skin])
        end = self.shell.end_mm
        found = []
        for z in np.asarray(stations_mm, float):
            x = self.reference_at_mm(float(z))
            if z <= 0.0:
                found.append((0.0, 0.0))
                continue
            if z >= end - 1e-6:
                moved = section_motion(self.shell, displacement, self.shell.tip_ring, x_mm=x)
            else:
                near = used[np.abs(place[used, 2] - z) <= max(BAND_SHARE * end, self._edge_mm)]
                moved = section_motion(self.shell, displacement, near, x_mm=x, z_mm=float(z))
            found.append((moved.deflection_mm, moved.twist_deg))
        deflection, twist = np.array(found).T
        return SpanMotion(np.asarray(stations_mm, float), deflection, twist)

    @property
    def _edge_mm(self) -> float:
        return float(np.sqrt(np.median(self.shell.model.frames.area_mm2[self.shell.skin]) * 2.3))

    def buckling(self, displacement: FloatArray, *, reverse: bool = False) -> BucklingPlace | None:
        """Return where the walls wrinkle first under a load; None when nothing is pressed."""
        modes = buckling_modes(self.held, displacement, reverse=reverse)
        return self._place(modes[0]) if modes else None

    def buckling_both_ways(
        self, displacement: FloatArray
    ) -> tuple[BucklingPlace | None, BucklingPlace | None]:
        """Return where the walls wrinkle first under a load, and under the same load reversed."""
        ahead, back = buckling_both_ways(self.held, displacement)
        return self._place(ahead) if ahead else None, self._place(back) if back else None

    def _place(self, mode: BucklingMode) -> BucklingPlace:
        frames = self.shell.model.frames
        across = np.einsum("mj,maj->ma", frames.axes[:, 2], mode.shape[frames.triangles, :3])
        worst = int(np.argmax(np.abs(across).max(axis=1)))
        owner = int(self.shell.owner[worst])
        part = {UPPER: "upper skin", LOWER: "lower skin"}.get(owner, "")
        x, _, z = (float(v) for v in self.shell.centre_mm[worst])
        near = self.shell.skin & (np.abs(self.shell.centre_mm[:, 2] - z) < 2.0 * self._edge_mm)
        front, rear = self.shell.centre_mm[near, 0].min(), self.shell.centre_mm[near, 0].max()
        fraction = float(np.clip((x - front) / max(rear - front, 1e-9), 0.0, 1.0))
        return BucklingPlace(mode.factor, z, x, fraction, part or self.shell.walls[owner].name)

    def stresses_mpa(self, displacement: FloatArray) -> FloatArray:
        """Return stresses along the bead and across the layers, shape (m, 2), evened out over neighbours.

        A single triangle at a support or at the end of a tube shows a peak that grows with every finer mesh;
        the mean over the triangles round it does not.
        """
        frames, thick = self.shell.model.frames, self.shell.model.thickness_mm
        own = self.shell.model.forces_n_mm(displacement)[:, :2] / thick[:, None]
        corners = frames.triangles
        found = np.empty_like(own)
        for group in np.unique(self.shell.owner):
            here = np.flatnonzero(self.shell.owner == group)
            weight = np.bincount(
                corners[here].ravel(), np.repeat(frames.area_mm2[here], 3), self.shell.model.nodes
            )
            for axis in (0, 1):
                total = np.bincount(
                    corners[here].ravel(),
                    np.repeat(own[here, axis] * frames.area_mm2[here], 3),
                    self.shell.model.nodes,
                )
                mean = total / np.maximum(weight, 1e-12)
                found[here, axis] = mean[corners[here]].mean(axis=1)
        return found

    def near(self, z_mm: float, reach_mm: float) -> BoolArray:
        """Return which triangles lie near a station, shape (m,)."""
        return np.asarray(np.abs(self.shell.centre_mm[:, 2] - z_mm) <= max(reach_mm, self._edge_mm))

    def away_from_root(self) -> BoolArray:
        """Return which triangles lie clear of the root's supports, shape (m,)."""
        return np.asarray(self.shell.centre_mm[:, 2] > 2.0 * self._edge_mm)

    def tube_forces(self, displacement: FloatArray) -> tuple[TubeForces, ...]:
        """Return what every tube bears."""
        return tuple(self._tube(beam, displacement) for beam in self.shell.model.beams)

    def _tube(self, beam: BeamRun, displacement: FloatArray) -> TubeForces:
        place = self.shell.model.frames.points_mm
        pairs = beam.pairs
        stiffness = beam_stiffness(
            place,
            pairs,
            ea_n=beam.ea_n,
            ei_x_n_mm2=beam.ei_x_n_mm2,
            ei_y_n_mm2=beam.ei_y_n_mm2,
            gj_n_mm2=beam.gj_n_mm2,
        )
        force = np.einsum("kij,kj->ki", stiffness, displacement[pairs].reshape(len(pairs), 12))
        way = place[pairs[:, 1]] - place[pairs[:, 0]]
        along = way / np.linalg.norm(way, axis=1)[:, None]
        moments = force.reshape(len(pairs), 2, 2, 3)[:, :, 1]
        torque = np.einsum("kaj,kj->ka", moments, along)
        bending = np.linalg.norm(moments - torque[..., None] * along[:, None], axis=2)
        pull = np.einsum("kj,kj->k", force[:, 6:9], along)
        return TubeForces(beam.name, place[pairs].mean(axis=1)[:, 2], bending.max(axis=1), torque[:, 1], pull)


def hold_wing(
    shell: WingShell,
    *,
    root: Literal["clamped", "held"],
    reference_z_mm: FloatArray,
    reference_x_mm: FloatArray,
) -> HeldWing:
    """Put a shell on its root.

    Parameters
    ----------
    shell : WingShell
        The shell.
    root : {"clamped", "held"}
        See :meth:`wingpath.structure.wing_shell.WingShell.supports`.
    reference_z_mm, reference_x_mm : ndarray, shape (k,)
        Line along the span at which deflections are told [mm].
    """
    held = shell.model.held(shell.supports(root))
    return HeldWing(shell, held, np.asarray(reference_z_mm, float), np.asarray(reference_x_mm, float))
