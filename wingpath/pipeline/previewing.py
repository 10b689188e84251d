"""The quick look at a wing: a beam model of the plan, nothing built, nothing proven."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from wingpath.core.findings import Finding
from wingpath.core.units import MM2_PER_DM2, MM3_PER_CM3
from wingpath.model.profiles import TubeMaterial
from wingpath.pipeline.design import WingDesign, design_wing, tube_materials
from wingpath.pipeline.shell_inputs import ShellInputs, beam_of_inputs, planned_inputs, wall_material
from wingpath.pipeline.wing_loads import flight_limits
from wingpath.structure.atmosphere import NEWTON_PER_G, stall_speed_m_s, wing_loading_g_dm2
from wingpath.structure.beam import BeamShape, WingBeam, solve_beam, tip_twist_deg_per_n_m
from wingpath.structure.lift import lift_loads
from wingpath.structure.load_cases import inertia_loads
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform import planform_of_wing
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.tube_section import tube_section
from wingpath.tune.bands import bands_of

__all__ = ["PREVIEW_FINDING", "PlanBeam", "plan_beam", "preview_wing"]

STRIPS = 24
"""Strips that the lift is spread on."""

BEAM_BAND = {"deflection": 0.35, "twist": 0.15}
"""How far a beam may be off against the shell model, tubes included: measured on panels of the tests."""

BY_RULE = frozenset({"area_dm2", "mean_chord_mm", "wing_loading_g_dm2", "root_bending_n_mm"})
"""Numbers that come from the spec by a published rule."""

PREVIEW_FINDING = Finding(
    "preview",
    "note",
    "a preview by a beam model of the plan: nothing is built or proven, masses are estimates from areas, and "
    "there is nothing on wrinkles, margins, slots that do not fuse and speeds",
    "run it without --preview before you rely on anything",
)


@dataclass(frozen=True, slots=True, eq=False)
class PlanBeam:
    """A design that is not built, as a beam with estimated masses.

    Parameters
    ----------
    inputs : ShellInputs
        Its skins and walls.
    material : WallMaterial
        The wall.
    beam : WingBeam
        The wing as a beam.
    printed_mass_g, mass_g : float
        Estimates from areas: what is printed, and the half wing with tubes and things on board [g].
    per_g : BeamShape or None
        How it bends under lift and own mass at one g; None without [aircraft].
    """

    inputs: ShellInputs
    material: WallMaterial
    beam: WingBeam
    printed_mass_g: float
    mass_g: float
    per_g: BeamShape | None


def plan_beam(design: WingDesign, materials: tuple[TubeMaterial, ...]) -> PlanBeam:
    """Return a design as a beam.

    Parameters
    ----------
    design : WingDesign
        The placed design.
    materials : tuple of TubeMaterial
        Of each tube of the spec.
    """
    inputs = planned_inputs(design, materials)
    material = wall_material(design.filament, design.spec.print)
    beam = beam_of_inputs(inputs, material)
    printed = _wall_mass_g(design, inputs)
    mass = printed + _tube_mass_g(design, materials) + sum(item.mass_g for item in design.spec.items)
    per_g = None if design.spec.aircraft is None else _bent(design, beam, mass)
    return PlanBeam(inputs, material, beam, printed, mass, per_g)


def preview_wing(spec: str | Path, *, base_dir: Path | None = None) -> dict[str, Any]:
    """Return the preview of a wing, with the keys of its assessment; what a beam cannot tell is None.

    Parameters
    ----------
    spec : path
        The spec's file.
    base_dir : Path, optional
        Folder that the spec's paths are relative to; the file's own folder when left out.

    Raises
    ------
    InputError
        When the spec is wrong.
    FileAccessError
        When a file cannot be read.
    """
    base_dir = Path(spec).resolve().parent if base_dir is None else base_dir
    design = design_wing(spec, base_dir=base_dir)
    materials = tube_materials(design.spec, base_dir=base_dir)
    found = plan_beam(design, materials)
    beam, mass, printed = found.beam, found.mass_g, found.printed_mass_g
    plan = planform_of_wing(design.wing)
    bands = bands_of(design.filament, design.spec.print)
    numbers: dict[str, Any] = {
        "mass_g": mass,
        "printed_mass_g": printed,
        "area_dm2": plan.area_mm2 / MM2_PER_DM2,
        "mean_chord_mm": plan.mean_chord_mm,
        "wing_loading_g_dm2": None,
        "stall_speed_m_s": None,
        "root_bending_n_mm": None,
        "tip_deflection_mm_per_g": None,
        "tip_deflection_limit_mm": None,
        "twist_deg_per_n_m": tip_twist_deg_per_n_m(beam),
        "first_buckling_load_factor": None,
        "buckling_torque_n_m": {"nose_up": None, "nose_down": None},
        "divergence_speed_m_s": None,
    }
    if found.per_g is not None:
        numbers |= _loaded(design, found.per_g)
    wall = bands.wall_stiffness
    band = {
        "area_dm2": 0.0,
        "mean_chord_mm": 0.0,
        "wing_loading_g_dm2": 0.0,
        "stall_speed_m_s": 0.05,
        "root_bending_n_mm": 0.05,
        "mass_g": bands.mass + 0.05,
        "printed_mass_g": bands.mass + 0.05,
        "tip_deflection_mm_per_g": float(np.hypot(BEAM_BAND["deflection"], wall)),
        "tip_deflection_limit_mm": float(np.hypot(BEAM_BAND["deflection"], wall)),
        "twist_deg_per_n_m": float(np.hypot(BEAM_BAND["twist"], wall)),
    }
    return {
        "spec": str(spec),
        "name": design.spec.name,
        **{key: _rounded(value) for key, value in numbers.items()},
        "margins": {},
        "band": {key: None if _nothing(value) else _rounded(band.get(key)) for key, value in numbers.items()},
        "sources": {
            key: None if _nothing(value) else "published" if key in BY_RULE else "judgement"
            for key, value in numbers.items()
        },
        "preview": True,
        "findings": [PREVIEW_FINDING.as_dict()],
    }


def _lift(design: WingDesign) -> StripLoads:
    """Return the lift at one g."""
    assert design.spec.aircraft is not None
    plan = planform_of_wing(design.wing)
    edges = np.linspace(0.0, plan.semi_span_mm, STRIPS + 1)
    return lift_loads(plan, edges, half_lift_n=0.5 * design.spec.aircraft.all_up_mass_g * NEWTON_PER_G)


def _bent(design: WingDesign, beam: WingBeam, mass_g: float) -> BeamShape:
    lift, plan = _lift(design), planform_of_wing(design.wing)
    edges = lift.edges_mm
    areas = plan.strip_areas_mm2(edges)
    middle = 0.5 * (edges[1:] + edges[:-1])
    own = inertia_loads(
        edges, mass_g * areas / areas.sum(), z_mm=middle, x_mm=plan.quarter_chord_at_mm(middle), factor=1.0
    )
    both = lift.plus(own)
    return solve_beam(
        beam,
        z_mm=np.minimum(both.z_mm, beam.z_mm[-1]),
        x_mm=both.x_mm,
        force_n=both.force_n,
        torque_n_mm=both.couple_n_mm,
    )


def _loaded(design: WingDesign, shape: BeamShape) -> dict[str, Any]:
    assert design.spec.aircraft is not None
    limits, plan = flight_limits(design.spec.aircraft), planform_of_wing(design.wing)
    per_g = float(shape.deflection_mm[-1])
    return {
        "wing_loading_g_dm2": wing_loading_g_dm2(mass_g=limits.all_up_mass_g, area_mm2=plan.area_mm2),
        "stall_speed_m_s": stall_speed_m_s(
            mass_g=limits.all_up_mass_g,
            area_mm2=plan.area_mm2,
            max_lift_coefficient=limits.max_lift_coefficient,
            density_kg_m3=limits.air.density_kg_m3,
        ),
        "root_bending_n_mm": limits.load_factor * _lift(design).total_bending_n_mm,
        "tip_deflection_mm_per_g": per_g,
        "tip_deflection_limit_mm": limits.load_factor * per_g,
    }


def _wall_mass_g(design: WingDesign, inputs: ShellInputs) -> float:
    """Return the mass of skins and walls by their areas, at the filament's mass a path [g]."""
    skins = inputs.skins
    x = skins.front_mm[:, None] + skins.fraction * (skins.rear_mm - skins.front_mm)[:, None]
    around = sum(
        np.hypot(np.diff(x, axis=1), np.diff(surface, axis=1)).sum(axis=1)
        for surface in (skins.upper_mm, skins.lower_mm)
    )
    area = float(np.trapezoid(around, skins.z_mm))
    for wall in inputs.walls:
        # windows come and go every few millimetres
        places = 40 if wall.profile_z_mm is None else max(40, len(wall.profile_z_mm))
        z = np.linspace(wall.z_mm[0], wall.z_mm[-1], places)
        place = np.interp(z, wall.z_mm, wall.x_mm)
        share = skins.fraction_of(place, z)
        inside = (share > 0.0) & (share < 1.0) & (z <= skins.end_mm)
        upper, lower = skins.heights_mm(np.clip(share, 0.0, 1.0), z)
        head = np.minimum(upper, wall.top_mm(z))
        hung = np.clip(upper - np.maximum(wall.hang_mm(z), head), 0.0, None)
        high = np.where(inside, np.clip(head - lower, 0.0, None) + hung, 0.0)
        # inside a layer a leaning wall is cut along its own slope, so its length is that along the span
        beads = 2.0 if wall.split else 1.0
        area += beads * abs(float(np.trapezoid(high, z)))
    settings = design.spec.print
    per_area = design.filament.wall_density_g_cm3(settings.flow) * settings.bead_mm * _round_ends(design)
    return area * per_area / MM3_PER_CM3


def _round_ends(design: WingDesign) -> float:
    """Return the section of a bead over that of a rectangle as wide and high."""
    settings = design.spec.print
    return 1.0 - (1.0 - 0.25 * np.pi) * settings.layer_mm / settings.bead_mm


def _tube_mass_g(design: WingDesign, materials: tuple[TubeMaterial, ...]) -> float:
    return sum(
        tube_section(tube).area_mm2 * (tube.to_mm - tube.from_mm) * material.density_g_cm3 / MM3_PER_CM3
        for tube, material in zip(design.spec.tubes, materials, strict=True)
    )


def _nothing(value: Any) -> bool:
    return value is None or (isinstance(value, dict) and all(inner is None for inner in value.values()))


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return None if value is None else float(f"{float(value):.6g}")
