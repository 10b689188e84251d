"""How well each number of an assessment is known: its band, and where it comes from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from wingpath.model.profiles import FilamentProfile
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.shell_solving import NOSE_DOWN, NOSE_UP, ShellState

__all__ = ["MESH_BAND", "bands_of_numbers", "sources_of_numbers"]

MESH_BAND = {"deflection": 0.05, "buckling": 0.08}
"""What the mesh leaves: measured against finer ones on the panels of the tests, the wider side."""

SCHRENK_BAND = 0.05
"""What the simple spread of lift leaves in the root bending: judgement."""

LIFT_BAND = 0.1
"""How well the greatest lift coefficient is known: judgement; speed goes with its root."""

DIVERGENCE_BAND = 0.4
"""Strip theory gives divergence up to 17 to 40 per cent low (Hildebrand and Reissner, NACA, abstract)."""


def bands_of_numbers(one: Assessment, numbers: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the relative half-width of each number, about 95 per cent; None where the number is.

    Stiffness goes into a number as far as the wing at 40 °C shows it to; where it is not known how far slots
    fuse, the step from fused to partly fused counts too. Parts are added as squares.

    Parameters
    ----------
    one : Assessment
        The wing.
    numbers : mapping
        Numbers by key.
    """
    bands, weights = one.bands, one.weights
    wall = bands.wall_stiffness
    buckling = bands.wall_buckling
    bend = _share_of_walls(one, "limit")
    twist = _share_of_walls(one, NOSE_UP)
    mass = bands.mass * weights.printed_mass_g / weights.mass_g if weights.mass_g > 0.0 else 0.0
    deflection = math.hypot(MESH_BAND["deflection"], SCHRENK_BAND, bend * wall, _fusing(one, "limit"))
    twisting = math.hypot(MESH_BAND["deflection"], twist * wall, _fusing(one, NOSE_UP))
    torque = math.hypot(MESH_BAND["buckling"], buckling, _fusing_buckling(one, NOSE_UP))
    found: dict[str, float | None] = {
        "mass_g": mass,
        "printed_mass_g": bands.mass,
        "area_dm2": 0.0,
        "mean_chord_mm": 0.0,
        "wing_loading_g_dm2": 0.0,
        "stall_speed_m_s": 0.5 * LIFT_BAND,
        "root_bending_n_mm": SCHRENK_BAND,
        "root_bending_net_n_mm": SCHRENK_BAND,
        "tip_deflection_mm_per_g": deflection,
        "tip_deflection_limit_mm": deflection,
        "twist_deg_per_n_m": twisting,
        "first_buckling_load_factor": math.hypot(
            MESH_BAND["buckling"], buckling, _fusing_buckling(one, "limit")
        ),
        "buckling_torque_n_m": max(
            torque,
            math.hypot(MESH_BAND["buckling"], buckling, _fusing_buckling(one, NOSE_DOWN)),
        ),
        "divergence_speed_m_s": math.hypot(DIVERGENCE_BAND, 0.5 * twisting),
    }
    return {
        key: None if numbers.get(key) is None or width is None else float(f"{width:.3g}")
        for key, width in found.items()
    }


def _share_of_walls(one: Assessment, load: str) -> float:
    """Return how far the motion under a load follows the stiffness of the walls, 0 to 1."""
    temperature, hot = one.hot[0]
    softer = one.design.filament.stiffness_share(temperature)
    if load not in hot.motions or load not in one.solved.motions or not 0.0 < softer < 1.0:
        return 1.0
    cold, warm = (_told(state, load) for state in (one.solved, hot))
    if cold == 0.0 or warm / cold <= 0.0:
        return 1.0
    return float(min(max(math.log(warm / cold) / -math.log(softer), 0.0), 1.0))


def _told(state: ShellState, load: str) -> float:
    """Return the motion of the tip that is told of a load: twist under the torque, else deflection."""
    return state.twist_deg_per_n_m if load == NOSE_UP else float(state.motions[load].deflection_mm[-1])


def _fusing(one: Assessment, load: str) -> float:
    partly = one.state("partly fused")
    if one.fusion_known or partly is None or load not in partly.motions:
        return 0.0
    told, other = (abs(_told(state, load)) for state in (one.solved, partly))
    return float(abs(other / told - 1.0)) if told > 0.0 else 0.0


def _fusing_buckling(one: Assessment, load: str) -> float:
    partly = one.state("partly fused")
    if one.fusion_known or partly is None:
        return 0.0
    told, other = one.solved.buckling.get(load), partly.buckling.get(load)
    return 0.0 if told is None or other is None else abs(other.factor / told.factor - 1.0)


def sources_of_numbers(one: Assessment, numbers: Mapping[str, Any]) -> dict[str, str | None]:
    """Return where each number comes from, by its weakest part: measured, published or judgement.

    Parameters
    ----------
    one : Assessment
        The wing.
    numbers : mapping
        Numbers by key.
    """
    filament = one.design.filament
    mass = _weakest(filament, "density_g_cm3", "feed_band")
    walls = _weakest(filament, "e_modulus_mpa", "stiffness_exponent", "foaming", "z_stiffness")
    known = walls if one.fusion_known else "judgement"
    by_rule = dict.fromkeys(
        ("area_dm2", "mean_chord_mm", "wing_loading_g_dm2", "root_bending_n_mm"), "published"
    )
    by_rule |= {"mass_g": mass, "printed_mass_g": mass, "stall_speed_m_s": "judgement"}
    by_rule |= {"root_bending_net_n_mm": mass}
    return {key: None if value is None else by_rule.get(key, known) for key, value in numbers.items()}


def _weakest(filament: FilamentProfile, *keys: str) -> str:
    """Return the weakest source of some values; what is remembered counts as judged."""
    kinds = set()
    for key in keys:
        source = filament.source_of(key)
        kinds.add("judgement" if source is None else source.kind)
    if kinds <= {"measured"}:
        return "measured"
    return "published" if kinds <= {"measured", "published"} else "judgement"
