"""One shell solved for its loads: mesh, factors, displacements, buckling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.pipeline.shell_inputs import ShellInputs
from wingpath.structure.columns import Fusion
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform_mesh import planform_mesh
from wingpath.structure.shell_loads import skin_loads
from wingpath.structure.shell_results import BucklingPlace, HeldWing, SpanMotion, hold_wing
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.wing_shell import wing_shell

__all__ = [
    "NOSE_DOWN",
    "NOSE_UP",
    "ShellState",
    "coarsest_mm",
    "edge_for",
    "held_wing",
    "refuse_odd_edge",
    "solve_state",
]

NOSE_UP, NOSE_DOWN = "torque nose up", "torque nose down"
"""Names of the unit torques at the tip, 1 N m each."""

MOST_FREEDOMS = 40_000
"""Size of a shell: solved in seconds, buckling within some 5 per cent of a finer one."""

FREEDOMS_PER_AREA = 8.5
"""Freedoms of a wing of an area, in edges squared; measured on the examples."""

EDGES_PER_BAY = 3.0
"""Edges across a bay between two ribs, at least where the size allows it."""

LEAST_EDGES_PER_BAY = 1.8
"""With fewer edges across a bay its skin cannot wrinkle in the model: measured, twelve times too late."""

LONGEST_EDGE_MM, SHORTEST_EDGE_MM = 9.0, 2.5
"""Edges of a mesh [mm]."""

ASKED_EDGE_MM = (1.0, 50.0)
"""Edges that may be asked for, from and to [mm]."""

BARE_BAY_MM = 24.0
"""Width of a bay where there are no ribs, as the mesh is concerned [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class ShellState:
    """What one shell does.

    Parameters
    ----------
    name : str
        Which one it is: ``fused``, ``partly fused``, ``open``, ``no ribs``, ``40 °C``.
    freedoms : int
        Size of its model.
    motions : mapping of str to SpanMotion
        By load: cases of flight, and the torques of 1 N m.
    buckling : mapping of str to BucklingPlace or None
        By load, where it was asked for: factor on that load.
    twist_deg_per_n_m : float
        Twist of the tip under a torque of 1 N m there, by the work that the torque does: the mean of what its
        shear flow sees, whatever the section does besides [deg/(N m)].
    """

    name: str
    freedoms: int
    motions: Mapping[str, SpanMotion]
    buckling: Mapping[str, BucklingPlace | None]
    twist_deg_per_n_m: float

    def tip_mm(self, load: str) -> float | None:
        """Return the deflection of the tip under a load [mm]; None when it was not solved."""
        return self.motions[load].tip_mm if load in self.motions else None


def refuse_odd_edge(edge_mm: float | None) -> None:
    """Raise when the length of a shell's edges that was asked for is none.

    Parameters
    ----------
    edge_mm : float or None
        What was asked for [mm]; None: nothing.

    Raises
    ------
    InputError
        When it is not a number or beyond what is allowed.
    """
    low, high = ASKED_EDGE_MM
    # not a number is between no limits
    if edge_mm is not None and not low <= edge_mm <= high:
        raise InputError(f"edge_mm: got {edge_mm:g}; allowed: {low:g} to {high:g} mm")


def edge_for(inputs: ShellInputs, *, pitch_mm: float, angle_deg: float) -> float:
    """Return the length of edges that a wing is meshed with [mm].

    Parameters
    ----------
    inputs : ShellInputs
        The wing.
    pitch_mm, angle_deg : float
        Pitch of the ribs along the chord and their angle.
    """
    bay = _bay_mm(inputs, pitch_mm=pitch_mm, angle_deg=angle_deg)
    skins = inputs.skins
    area = float(np.trapezoid(skins.rear_mm - skins.front_mm, skins.z_mm))
    least = float(np.sqrt(2.0 * area * FREEDOMS_PER_AREA / MOST_FREEDOMS))
    return float(np.clip(max(bay / EDGES_PER_BAY, least), SHORTEST_EDGE_MM, max(LONGEST_EDGE_MM, least)))


def coarsest_mm(inputs: ShellInputs, *, pitch_mm: float, angle_deg: float) -> float:
    """Return the longest edges with which wrinkles between ribs show at all [mm].

    Parameters
    ----------
    inputs, pitch_mm, angle_deg
        As for :func:`edge_for`.
    """
    bay = _bay_mm(inputs, pitch_mm=pitch_mm, angle_deg=angle_deg)
    return max(bay / LEAST_EDGES_PER_BAY, SHORTEST_EDGE_MM)


def _bay_mm(inputs: ShellInputs, *, pitch_mm: float, angle_deg: float) -> float:
    """Return the width of the bays between ribs, square to them [mm]."""
    runs = any(wall.kind in ("aft", "forward") for wall in inputs.walls)
    return pitch_mm * float(np.cos(np.deg2rad(angle_deg))) if runs else BARE_BAY_MM


def held_wing(
    inputs: ShellInputs, material: WallMaterial, *, edge_mm: float, fusion: Fusion | None = None
) -> HeldWing:
    """Mesh a wing and put it on its root.

    Parameters
    ----------
    inputs, material
        The wing and what it is printed of.
    edge_mm : float
        Length of edges [mm].
    fusion : Fusion, optional
        How far the beads beside slots are fused; left out: all along.
    """
    plan = planform_mesh(
        inputs.skins, inputs.walls, inputs.cut_outs, edge_mm=edge_mm, breaks_mm=inputs.breaks_mm
    )
    shell = wing_shell(
        inputs.skins,
        plan,
        inputs.walls,
        material=material,
        skin_mm=inputs.skin_mm,
        cap_mm=inputs.cap_mm,
        tubes=inputs.tubes,
        pockets=inputs.pockets,
        fusion=fusion,
        stub_mm=inputs.stub_mm,
    )
    z = inputs.skins.z_mm
    return hold_wing(shell, root=inputs.root, reference_z_mm=z, reference_x_mm=inputs.skins.x_of_mm(0.25, z))


def solve_state(
    name: str,
    wing: HeldWing,
    loads: Mapping[str, StripLoads],
    *,
    stations_mm: FloatArray,
    buckled: Sequence[str],
) -> tuple[ShellState, dict[str, FloatArray]]:
    """Solve a shell for its loads and for a unit torque at the tip.

    Parameters
    ----------
    name : str
        What the state is called.
    wing : HeldWing
        The shell.
    loads : mapping of str to StripLoads
        Loads by name.
    stations_mm : ndarray, shape (k,)
        Where along the span its motion is told [mm].
    buckled : sequence of str
        Loads, or the torques, under which buckling is sought.

    Returns
    -------
    state : ShellState
        What it does.
    displacements : dict of str to ndarray, shape (n, 6)
        By load.
    """
    moved = {key: wing.displacement(skin_loads(wing.shell, load)) for key, load in loads.items()}
    moved[NOSE_UP], twist = wing.tip_torque_displacement(1.0)
    motions = {key: wing.motion(value, stations_mm) for key, value in moved.items()}
    buckling = {key: wing.buckling(moved[key]) for key in buckled if key in loads}
    up, down = NOSE_UP in buckled, NOSE_DOWN in buckled
    if up and down:
        buckling[NOSE_UP], buckling[NOSE_DOWN] = wing.buckling_both_ways(moved[NOSE_UP])
    elif up or down:
        buckling[NOSE_UP if up else NOSE_DOWN] = wing.buckling(moved[NOSE_UP], reverse=down)
    return ShellState(name, wing.shell.freedoms, motions, buckling, twist), moved
