"""Twist under air loads, with the stiffness that the shell has: divergence, ailerons that lose their grip."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.structure.aeroelastic import (
    AeroStrips,
    aero_strips,
    aileron_effectiveness,
    covered_shares,
    divergence_speed_m_s,
    reversal_speed_m_s,
)
from wingpath.structure.atmosphere import Air
from wingpath.structure.load_cases import AileronThrow
from wingpath.structure.planform import Planform
from wingpath.structure.shell_loads import skin_loads
from wingpath.structure.shell_results import HeldWing
from wingpath.structure.strip_loads import StripLoads, strip_edges

__all__ = ["SPEED_MARGIN", "Aeroelastics", "aeroelastics_of"]

SPEED_MARGIN = 1.2
"""Free of divergence and reversal up to this multiple of the highest speed: 14 CFR 23.629 (text of 2014),
from memory."""

STRIPS = 10
"""Strips along the half wing: the speed of a uniform wing comes out 1 per cent off, by the published case."""

UNIT_N_MM, UNIT_N = 1000.0, 1.0


@dataclass(frozen=True, slots=True)
class Aeroelastics:
    """What twist does at speed.

    Parameters
    ----------
    divergence_m_s : float
        Speed at which the wing twists off; infinite when there is none [m/s].
    effectiveness : tuple of float or None
        Rolling moment of each aileron at the highest speed, over that on a stiff wing; None beyond
        divergence.
    reversal_m_s : tuple of float
        Speed at which each aileron no longer rolls; infinite when there is none [m/s].
    """

    divergence_m_s: float
    effectiveness: tuple[float | None, ...]
    reversal_m_s: tuple[float, ...]


def aeroelastics_of(
    wing: HeldWing, planform: Planform, air: Air, throws: tuple[AileronThrow, ...], *, max_speed_m_s: float
) -> Aeroelastics:
    """Return what twist does at speed.

    Parameters
    ----------
    wing : HeldWing
        The shell; twisted by a unit force and a unit couple on each strip in turn, so that it tells itself
        about which line it turns and what bending does to the incidence of a swept wing.
    planform, air, throws
        The half wing from above, the air, and its ailerons.
    max_speed_m_s : float
        Highest speed flown [m/s].
    """
    edges = strip_edges(planform.semi_span_mm, longest_mm=planform.semi_span_mm / STRIPS)
    strips = aero_strips(planform, edges, planform.quarter_chord_at_mm)
    lifted = _twists(wing, planform, edges, strips, force_n=UNIT_N, couple_n_mm=0.0) / UNIT_N
    turned = _twists(wing, planform, edges, strips, force_n=0.0, couple_n_mm=UNIT_N_MM) / UNIT_N_MM
    # a force at the quarter chord twists as a couple of its arm does; here the arm is in the flexibility
    bare = replace(strips, arm_mm=np.ones(len(strips.z_mm)))
    divergence = divergence_speed_m_s(bare, lifted, density_kg_m3=air.density_kg_m3)
    arms = np.diag(lifted) / np.maximum(np.diag(turned), 1e-15)
    armed = replace(strips, arm_mm=np.clip(arms, -strips.chord_mm, strips.chord_mm))
    effects: list[float | None] = []
    reversals: list[float] = []
    for throw in throws:
        covered = covered_shares(planform, edges, from_mm=throw.from_mm, to_mm=throw.to_mm)
        own = divergence_speed_m_s(armed, turned, density_kg_m3=air.density_kg_m3)
        effects.append(
            aileron_effectiveness(
                armed,
                turned,
                covered=covered,
                flap=throw.flap,
                speed_m_s=max_speed_m_s,
                density_kg_m3=air.density_kg_m3,
            )
            if max_speed_m_s < own
            else None
        )
        reversals.append(
            reversal_speed_m_s(
                armed, turned, covered=covered, flap=throw.flap, density_kg_m3=air.density_kg_m3
            )
        )
    return Aeroelastics(divergence, tuple(effects), tuple(reversals))


def _twists(
    wing: HeldWing,
    planform: Planform,
    edges: FloatArray,
    strips: AeroStrips,
    *,
    force_n: float,
    couple_n_mm: float,
) -> FloatArray:
    """Return the twist of every strip for a load on each, shape (k, k) [deg]."""
    count = len(strips.z_mm)
    found = np.empty((count, count))
    stations = np.minimum(strips.z_mm, wing.shell.end_mm)
    for number in range(count):
        here = np.zeros(count)
        here[number] = 1.0
        loads = StripLoads(
            edges,
            force_n * here,
            strips.z_mm,
            planform.quarter_chord_at_mm(strips.z_mm),
            couple_n_mm * here,
        )
        moved = wing.displacement(skin_loads(wing.shell, loads))
        found[:, number] = wing.motion(moved, stations).twist_deg
    return found
