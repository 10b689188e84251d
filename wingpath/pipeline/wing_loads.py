"""From a design to the loads on its half wing: sections, masses, cases."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.io.profile_store import load_airfoil
from wingpath.model.spec import AircraftSpec
from wingpath.pipeline.design import WingDesign
from wingpath.pipeline.wing_weights import StripMasses
from wingpath.structure.atmosphere import standard_air
from wingpath.structure.load_cases import AileronThrow, FlightLimits, LoadedWing
from wingpath.structure.planform import Planform
from wingpath.structure.thin_airfoil import SectionLift, flap_effect, section_lift

__all__ = ["aileron_throws", "flight_limits", "loaded_wing", "sections_of"]


def flight_limits(aircraft: AircraftSpec) -> FlightLimits:
    """Return what the aircraft of a spec is asked to bear."""
    return FlightLimits(
        all_up_mass_g=aircraft.all_up_mass_g,
        load_factor=aircraft.load_factor,
        max_speed_m_s=aircraft.max_speed_m_s,
        max_lift_coefficient=aircraft.max_lift_coefficient,
        gust_m_s=aircraft.gust_m_s,
        landing_factor=aircraft.landing_factor,
        air=standard_air(aircraft.altitude_m),
    )


def sections_of(design: WingDesign, *, base_dir: Path | None) -> tuple[SectionLift, ...]:
    """Return lift and moment of the section at every station, by thin-airfoil theory."""
    known: dict[str, SectionLift] = {}
    for number, station in enumerate(design.spec.stations):
        if station.airfoil not in known:
            airfoil = load_airfoil(
                station.airfoil, base_dir=base_dir or Path.cwd(), key=f"station[{number}].airfoil"
            )
            known[station.airfoil] = section_lift(airfoil)
    return tuple(known[station.airfoil] for station in design.spec.stations)


def loaded_wing(
    design: WingDesign,
    planform: Planform,
    sections: tuple[SectionLift, ...],
    edges_mm: FloatArray,
    masses: StripMasses,
) -> LoadedWing:
    """Return the half wing as the loads see it.

    Parameters
    ----------
    design, planform, sections
        The design, its outline from above, and the sections at its stations.
    edges_mm : ndarray, shape (k + 1,)
        Edges of strips [mm].
    masses : StripMasses
        Mass of the half wing in the same strips.
    """
    place = np.clip(masses.z_mm, edges_mm[:-1], edges_mm[1:])
    empty = masses.mass_g <= 0.0
    return LoadedWing(
        planform=planform,
        edges_mm=edges_mm,
        incidence_deg=np.array(
            [
                station.twist_deg - section.zero_lift_deg
                for station, section in zip(design.spec.stations, sections, strict=True)
            ]
        ),
        moment_coefficient=np.array([section.quarter_chord_moment for section in sections]),
        strip_mass_g=masses.mass_g,
        mass_z_mm=place,
        mass_x_mm=np.where(empty, planform.quarter_chord_at_mm(place), masses.x_mm),
    )


def aileron_throws(design: WingDesign) -> tuple[AileronThrow, ...]:
    """Return the ailerons of a half wing and how far they go."""
    found = []
    for spec, aileron in zip(design.spec.ailerons, design.voids.ailerons, strict=True):
        fraction = 0.5 * (spec.hinge_fraction + spec.end_fraction)
        found.append(
            AileronThrow(
                from_mm=aileron.from_mm,
                to_mm=aileron.to_mm,
                down_deg=spec.down_deg,
                up_deg=spec.up_deg,
                flap=flap_effect(1.0 - fraction),
            )
        )
    return tuple(found)
