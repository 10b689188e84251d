"""Loads on the nodes of a wing's shell, and the motion of its sections."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.structure.shell_model import FREEDOMS
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.wing_shell import UPPER, WingShell

__all__ = ["SectionMotion", "section_motion", "skin_loads", "tip_torque"]

UPPER_SHARE = 0.65
"""Share of the lift that the upper skin takes: about two thirds in theory and in the tunnel, judgement."""

LEAST_EDGES = 2.0
"""A strip is carried by skins over at least this many edges of span."""

TRIANGLES_PER_SQUARE = 2.3
"""Triangles of even sides in a square of their edge."""

PRESSURE_END = 0.75
"""Lift falls in a straight line from the nose to nothing here, so that it acts at the quarter chord."""


@dataclass(frozen=True, slots=True)
class SectionMotion:
    """How a section has moved.

    Parameters
    ----------
    deflection_mm : float
        Upward, at the reference point [mm].
    twist_deg : float
        Nose up [deg].
    distortion_mm : float
        What a rigid motion leaves, root of the mean square [mm].
    """

    deflection_mm: float
    twist_deg: float
    distortion_mm: float


def skin_loads(shell: WingShell, loads: StripLoads) -> FloatArray:
    """Spread the load of every strip of span over the skins there, shape (n, 6).

    Each strip gets exactly its upward force, with its moment about the chordwise and the spanwise axis: the
    usual pressure along the chord, to which what is missing is added linearly in x and z.

    Parameters
    ----------
    shell : WingShell
        The shell.
    loads : StripLoads
        The loads; the last strip may reach beyond the shell's tip.

    Notes
    -----
    A strip that is narrower than two edges, or lies beyond the skins where a closed tip tapers off, is
    carried by the skins beside it too; its force and moments stay the same.
    """
    skin = np.flatnonzero(shell.skin)
    frames = shell.model.frames
    centre = shell.centre_mm[skin]
    level = np.abs(frames.axes[skin, 2, 1]) * frames.area_mm2[skin]
    edge = float(np.sqrt(TRIANGLES_PER_SQUARE * np.median(frames.area_mm2[skin])))
    along = loads.force_n * loads.z_mm + loads.bend_n_mm
    across = loads.force_n * loads.x_mm - loads.couple_n_mm
    found = np.zeros((shell.model.nodes, FREEDOMS))
    for number, (low, high) in enumerate(pairwise(loads.edges_mm)):
        wanted = np.array([loads.force_n[number], along[number], across[number]])
        if not np.any(wanted):
            continue
        last = min(high, shell.end_mm)
        middle_mm = min(0.5 * (low + high), shell.end_mm)
        first = min(low, last - LEAST_EDGES * edge)
        last = max(last, min(middle_mm + 0.5 * LEAST_EDGES * edge, shell.end_mm))
        inside = (centre[:, 2] >= first) & (centre[:, 2] <= last)
        here = skin[inside]
        x = shell.centre_mm[here, 0]
        share = (x - x.min()) / max(float(np.ptp(x)), 1e-9)
        weight = np.maximum(0.0, 1.0 - share / PRESSURE_END) + 0.02
        weight = weight * level[inside]
        weight = weight * np.where(shell.owner[here] == UPPER, UPPER_SHARE, 1.0 - UPPER_SHARE)
        nodes, on_node = np.unique(frames.triangles[here].ravel(), return_inverse=True)
        of_node = np.bincount(on_node, weights=np.repeat(weight / 3.0, 3))
        of_node = of_node / of_node.sum()
        place = frames.points_mm[nodes]
        lever = np.column_stack([np.ones(len(nodes)), place[:, 2], place[:, 0]])
        middle = of_node @ lever
        spread = lever - middle
        spread[:, 0] = 1.0
        # moments about the middle of the strip's own pressure
        asked = wanted - np.array([0.0, middle[1], middle[2]]) * wanted[0]
        gains = np.linalg.solve(spread.T @ (of_node[:, None] * spread), asked)
        found[nodes, 1] += of_node * (spread @ gains)
    return found


def tip_torque(shell: WingShell, torque_n_mm: float) -> FloatArray:
    """Return a nose-up torque as an even shear flow round the tip, shape (n, 6).

    Parameters
    ----------
    shell : WingShell
        The shell.
    torque_n_mm : float
        Nose up [N mm].
    """
    ring = shell.tip_ring
    place = shell.model.frames.points_mm[ring]
    side = np.roll(place, -1, axis=0) - place
    ahead = np.roll(place, -1, axis=0)
    enclosed = 0.5 * float((place[:, 0] * ahead[:, 1] - ahead[:, 0] * place[:, 1]).sum())
    # anticlockwise seen from the tip, x aft and y up, is nose down
    flow = -torque_n_mm / (2.0 * enclosed)
    found = np.zeros((shell.model.nodes, FREEDOMS))
    for end in (ring, np.roll(ring, -1)):
        for axis in (0, 1):
            np.add.at(found[:, axis], end, 0.5 * flow * side[:, axis])
    return found


def section_motion(
    shell: WingShell, displacement: FloatArray, nodes: IntArray, *, x_mm: float, z_mm: float | None = None
) -> SectionMotion:
    """Return the motion of a section as a rigid one, by least squares over its nodes.

    Parameters
    ----------
    shell : WingShell
        The shell.
    displacement : ndarray, shape (n, 6)
        Of all nodes.
    nodes : ndarray of int
        Nodes of the section, or near it; a closed ring without `z_mm`, whose nodes count by its length there.
    x_mm : float
        Where along the chord the deflection is wanted [mm].
    z_mm : float, optional
        Span of the section; given, nodes beside it count with the slope along the span [mm].
    """
    place = shell.model.frames.points_mm[nodes]
    moved = displacement[nodes]
    count = len(nodes)
    aside = np.zeros(count) if z_mm is None else place[:, 2] - z_mm
    weight = np.ones(count)
    if z_mm is None:
        ahead = np.linalg.norm(np.roll(place, -1, axis=0) - place, axis=1)
        weight = 0.5 * (ahead + np.roll(ahead, 1))
    weight = np.sqrt(np.tile(weight / weight.sum(), 2))
    columns = 3 if z_mm is None else 5
    y = float(np.average(place[:, 1], weights=weight[:count] ** 2))
    rows = np.zeros((2 * count, columns))
    rows[:count, 0] = 1.0
    rows[:count, 2] = x_mm - place[:, 0]
    rows[count:, 1] = 1.0
    rows[count:, 2] = place[:, 1] - y
    if columns == 5:
        rows[:count, 3], rows[count:, 4] = aside, aside
    target = np.concatenate([moved[:, 1], moved[:, 0]])
    fit, *_ = np.linalg.lstsq(rows * weight[:, None], target * weight, rcond=None)
    distortion = float(np.sqrt((((target - rows @ fit) * weight) ** 2).sum()))
    return SectionMotion(float(fit[0]), float(np.rad2deg(fit[2])), distortion)
