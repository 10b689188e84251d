"""What a thin-walled section resists: stretching, bending, shear and twist, and the flows in its walls.

Warping is the unknown: each point of the graph moves along the span, and each wall carries the flow
``q = G t (du/ds + twist r)``. Balance of the flows at the points gives one small system for any number of
cells and branches, with the same answer as Bredt and Batho's equations of the cells, which need the cells to
be found first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cho_factor, cho_solve

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.structure.thin_section import ThinSection

__all__ = ["SectionConstants", "section_constants", "shear_flow_n_mm", "torque_flow_n_mm"]

FLAT = 1e-12
"""Walls are on one line when the product of their main second moments is under this share of the sum squared:
rounding, as any real section is over 1e-6."""


@dataclass(frozen=True, slots=True, eq=False)
class SectionConstants:
    """What a section resists.

    Parameters
    ----------
    ea_n : float
        Stiffness against stretching [N].
    centroid_mm : ndarray, shape (2,)
        Centre of stretching [mm].
    ei_xx_n_mm2, ei_yy_n_mm2, ei_xy_n_mm2 : float
        ``int E y^2``, ``int E x^2``, ``int E x y`` about the centroid; the first is for bending up [N mm2].
    gj_cells_n_mm2 : float
        Torsion stiffness of the closed cells, by Bredt and Batho [N mm2].
    gj_own_n_mm2 : float
        Torsion stiffness of the walls by themselves, ``sum G b t^3 / 3``, all there is of an open section,
        and of the rods [N mm2].
    shear_centre_mm : ndarray, shape (2,)
        Where a force does not twist the section [mm].
    ga_y_n : float
        Stiffness against vertical shear through the shear centre [N].
    """

    ea_n: float
    centroid_mm: FloatArray
    ei_xx_n_mm2: float
    ei_yy_n_mm2: float
    ei_xy_n_mm2: float
    gj_cells_n_mm2: float
    gj_own_n_mm2: float
    shear_centre_mm: FloatArray
    ga_y_n: float

    def __post_init__(self) -> None:
        for name in ("centroid_mm", "shear_centre_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (2,), name=name))

    @property
    def gj_n_mm2(self) -> float:
        """Torsion stiffness [N mm2]."""
        return self.gj_cells_n_mm2 + self.gj_own_n_mm2

    @property
    def ei_up_n_mm2(self) -> float:
        """Stiffness against bending up when the wing may bend fore and aft as it likes [N mm2].

        ``EIxx - EIxy^2 / EIyy``.
        """
        return self.ei_xx_n_mm2 - self.ei_xy_n_mm2**2 / self.ei_yy_n_mm2


def section_constants(section: ThinSection, *, own_thickness: bool = True) -> SectionConstants:
    """Return what a section resists.

    Parameters
    ----------
    section : ThinSection
        The section.
    own_thickness : bool
        Whether the thickness of the walls counts in their second moments, ``b t^3 / 12`` of a wall lying
        flat; textbooks on thin walls leave it out.

    Notes
    -----
    Second moments are exact for straight walls. Shear: the walls carry what changes along the span of the
    stress of bending, without twist (Megson, *Aircraft Structures for Engineering Students*, shear of closed
    and open thin-walled beams; from memory), a rod carries the share that its own bending stiffness takes;
    the stiffness follows from the energy ``int q^2 / (G t) ds``. Nothing is said of section distortion.
    """
    bending = _Bending.of(section)
    second = bending.second_n_mm2
    ei_xx, ei_yy, ei_xy = second[1, 1], second[0, 0], second[0, 1]
    if own_thickness:
        flat = section.e_mpa * section.thickness_mm**3 / (12.0 * section.length_mm)
        dx, dy = section.delta_mm.T
        ei_xx = ei_xx + float(np.sum(flat * dx**2))
        ei_yy = ei_yy + float(np.sum(flat * dy**2))
        ei_xy = ei_xy - float(np.sum(flat * dx * dy))
    torsion = _twist_flow(section)
    flow, spread = _shear_flow(section, bending, np.eye(2))
    energy = (flow[:, 1] ** 2 + spread[:, 1]) * section.length_mm / (section.g_mpa * section.thickness_mm)
    moment = section.sweep_mm2 @ flow
    rods = section.rods
    at = section.points_mm[rods.point]
    own = np.linalg.inv(second)
    # moment about the origin of what the rods carry: force up times x, force aft times -y
    moment = moment + (rods.ei_xx_n_mm2 @ at[:, 0]) * own[1] - (rods.ei_yy_n_mm2 @ at[:, 1]) * own[0]
    solid = section.g_mpa * section.length_mm * section.thickness_mm**3 / 3.0
    return SectionConstants(
        ea_n=bending.ea_n,
        centroid_mm=bending.centroid_mm,
        ei_xx_n_mm2=float(ei_xx),
        ei_yy_n_mm2=float(ei_yy),
        ei_xy_n_mm2=float(ei_xy),
        gj_cells_n_mm2=float(torsion @ section.sweep_mm2),
        gj_own_n_mm2=float(solid.sum() + rods.gj_n_mm2.sum()),
        shear_centre_mm=np.array([moment[1], -moment[0]]),
        ga_y_n=float(1.0 / energy.sum()),
    )


def torque_flow_n_mm(section: ThinSection, *, torque_n_mm: float) -> FloatArray:
    """Return the flow in each wall under a torque, shape (m,) [N/mm].

    Parameters
    ----------
    section : ThinSection
        The section.
    torque_n_mm : float
        Torque, nose-up positive [N mm]: it turns y towards x.

    Notes
    -----
    Positive from the first to the second point of the wall. The walls by themselves and the rods bear their
    share of the torque besides.
    """
    solid = section.g_mpa * section.length_mm * section.thickness_mm**3 / 3.0
    flow = _twist_flow(section)
    stiffness = flow @ section.sweep_mm2 + solid.sum() + section.rods.gj_n_mm2.sum()
    return np.asarray(-torque_n_mm / stiffness * flow)


def shear_flow_n_mm(section: ThinSection, *, force_n: float) -> FloatArray:
    """Return the flow in each wall under an upward force through the shear centre, shape (m, 3) [N/mm].

    Parameters
    ----------
    section : ThinSection
        The section.
    force_n : float
        Shear force, upward positive [N].

    Notes
    -----
    At the first point, in the middle and at the second point of the wall, between which it is a parabola;
    positive from the first to the second.
    """
    bending = _Bending.of(section)
    mean, _ = _shear_flow(section, bending, np.array([[0.0], [force_n]]))
    first, second = _sources(section, bending, np.array([[0.0], [force_n]]))
    length = section.length_mm[:, None]
    begin = mean - length * (first / 3.0 + second / 6.0)
    middle = begin + length * (0.375 * first + 0.125 * second)
    end = begin + 0.5 * length * (first + second)
    return np.hstack([begin, middle, end])


@dataclass(frozen=True, slots=True, eq=False)
class _Bending:
    """Sums for stretching and bending: stiffness [N], centroid [mm], second moments (x, y) [N mm2]."""

    ea_n: float
    centroid_mm: FloatArray
    second_n_mm2: FloatArray

    @classmethod
    def of(cls, section: ThinSection) -> _Bending:
        """Return the sums of a section, its walls without thickness."""
        rods = section.rods
        wall_ea = section.e_mpa * section.thickness_mm * section.length_mm
        a, b = section.points_mm[section.walls[:, 0]], section.points_mm[section.walls[:, 1]]
        at = section.points_mm[rods.point]
        ea = float(wall_ea.sum() + rods.ea_n.sum())
        if ea <= 0.0:
            raise InputError(
                "section: got no stiffness along the span; allowed: a wall with a modulus over 0, or a rod. "
                "Give one"
            )
        centroid = (0.5 * wall_ea @ (a + b) + rods.ea_n @ at) / ea
        a, b, at = a - centroid, b - centroid, at - centroid
        second = (a.T * wall_ea) @ a + (b.T * wall_ea) @ b
        crossed = (a.T * wall_ea) @ b
        second = second / 3.0 + (crossed + crossed.T) / 6.0 + (at.T * rods.ea_n) @ at
        second += np.diag([rods.ei_yy_n_mm2.sum(), rods.ei_xx_n_mm2.sum()])
        if np.linalg.det(second) <= FLAT * np.trace(second) ** 2:
            raise InputError(
                "section: got walls that all lie on one line; allowed: walls that enclose or branch. Add one"
            )
        return cls(ea, np.asarray(centroid), np.asarray(second))


def _balanced(section: ThinSection, sources: ArrayLike) -> FloatArray:
    """Return displacements along the span whose flows leave every point by `sources`, shape (n, k)."""
    count = len(section.points_mm)
    stiff = section.g_mpa * section.thickness_mm / section.length_mm
    first, second = section.walls.T
    index = np.concatenate([first * count + first, second * count + second, first * count + second])
    matrix = np.bincount(index, np.concatenate([stiff, stiff, -stiff]), minlength=count * count)
    matrix = matrix.reshape(count, count)
    # the factorisation reads the upper triangle only
    matrix = matrix + np.tril(matrix, -1).T
    known = np.zeros(np.shape(sources))
    # the first point stays: moving all of them along the span makes no flow
    known[1:] = cho_solve(cho_factor(matrix[1:, 1:], check_finite=False), np.asarray(sources)[1:])
    return known


def _at_points(section: ThinSection, begin: FloatArray, end: FloatArray) -> FloatArray:
    """Sum what walls give to their first and to their second points, shapes (m, k) to (n, k)."""
    total = np.zeros((len(section.points_mm), begin.shape[1]))
    np.add.at(total, section.walls[:, 0], begin)
    np.add.at(total, section.walls[:, 1], end)
    return total


def _twist_flow(section: ThinSection) -> FloatArray:
    """Return the flow of each wall at a twist of one radian a millimetre that turns x towards y [N/mm]."""
    stiff = section.g_mpa * section.thickness_mm / section.length_mm
    driven = (stiff * section.sweep_mm2)[:, None]
    moved = _balanced(section, _at_points(section, driven, -driven))[:, 0]
    first, second = section.walls.T
    return np.asarray(stiff * (section.sweep_mm2 + moved[second] - moved[first]))


def _sources(section: ThinSection, bending: _Bending, force: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return dq/ds at both ends of each wall, shapes (m, k), for forces (x, y), shape (2, k) [N/mm2]."""
    change = np.linalg.solve(bending.second_n_mm2, force)
    stress = -(section.points_mm - bending.centroid_mm) @ change
    layer = (section.e_mpa * section.thickness_mm)[:, None]
    return layer * stress[section.walls[:, 0]], layer * stress[section.walls[:, 1]]


def _shear_flow(section: ThinSection, bending: _Bending, force: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean flow of each wall without twist and the mean square of what it departs from it."""
    begin, end = _sources(section, bending, force)
    length = section.length_mm[:, None]
    # with zero mean, the flow at the first point is -early and at the second +late
    early, late = length * (begin / 3.0 + end / 6.0), length * (begin / 6.0 + end / 3.0)
    leaving = _at_points(section, early, late)
    rods = section.rods
    change = np.linalg.solve(bending.second_n_mm2, force)
    at = section.points_mm[rods.point] - bending.centroid_mm
    np.add.at(leaving, rods.point, -rods.ea_n[:, None] * (at @ change))
    moved = _balanced(section, -leaving)
    first, second = section.walls.T
    stiff = (section.g_mpa * section.thickness_mm)[:, None] / length
    mean = stiff * (moved[second] - moved[first])
    bow = length * (end - begin) / 8.0
    # a line and a parabola about their means, which do not mix
    spread = (early + late) ** 2 / 12.0 + 4.0 * bow**2 / 45.0
    return np.asarray(mean), np.asarray(spread)
