"""The tables of a spec that the search for lighter ribs reads: what has to hold, and what may change."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from wingpath.model.spec_base import Number, SpecTable
from wingpath.model.spec_ribs import ANGLE_RANGE_DEG, PITCH_RANGE_MM, STUB_RANGE_MM, RunName

__all__ = ["FreedomSpec", "TargetsSpec"]

MOST_VALUES = 40
"""Values that a list of choices may hold."""

Angle = Annotated[Number, Field(ge=ANGLE_RANGE_DEG[0], le=ANGLE_RANGE_DEG[1])]
Bead = Annotated[Number, Field(ge=0.2, le=2)]
Share = Annotated[Number, Field(ge=0.1, le=4)]
Place = Annotated[Number, Field(ge=0.02, le=0.98)]
Stub = Annotated[Number, Field(ge=STUB_RANGE_MM[0], le=STUB_RANGE_MM[1])]
Size = Annotated[Number, Field(ge=0, le=60)]
Pitch = Annotated[Number, Field(ge=PITCH_RANGE_MM[0], le=PITCH_RANGE_MM[1])]


class TargetsSpec(SpecTable):
    """What a lighter wing still has to do; what is left out follows from [aircraft]."""

    tip_deflection_mm: Number | None = Field(
        default=None,
        ge=0.1,
        le=5000,
        description="most that the tip moves at the limit load factor; left out: a tenth of the half span",
    )
    twist_deg_per_n_m: Number | None = Field(
        default=None,
        ge=0.001,
        le=1e6,
        description="most that the tip twists under a torque of 1 N m there; left out: not asked",
    )
    divergence_margin: Number | None = Field(
        default=None,
        ge=0.1,
        le=100,
        description="least speed at which the wing twists off, over max_speed_m_s; left out: 1.2",
    )
    first_buckling_load_factor: Number | None = Field(
        default=None,
        ge=0.01,
        le=1000,
        description="least load factor at which the skin wrinkles first; left out: load_factor",
    )
    buckling_torque_n_m: Number | None = Field(
        default=None,
        ge=0.001,
        le=1e5,
        description="least torque at the tip, either way, at which the skin wrinkles first; left out: the "
        "greatest torque of the load cases, or 5 N times the chord of the tip, for handling",
    )
    mass_g: Number | None = Field(
        default=None, ge=0.1, le=100_000, description="most that one half wing weighs; left out: not asked"
    )


class FreedomSpec(SpecTable):
    """What may change in the search for a lighter wing; an empty list keeps what is drawn."""

    run: tuple[RunName, ...] | None = Field(
        default=None, max_length=4, description="rib runs to try; left out: all four"
    )
    pitch_mm: tuple[Pitch, ...] | None = Field(
        default=None,
        max_length=2,
        description="least and greatest pitch to try; left out: half to two and a half times what is drawn",
    )
    pitch_step_mm: Number = Field(default=1.0, ge=0.5, le=100, description="step between pitches to try")
    tip_pitch: tuple[Share, ...] | None = Field(
        default=None,
        max_length=MOST_VALUES,
        description="pitches at the tip to try, as multiples of that at the root; left out: 0.65 to 2",
    )
    angle_deg: tuple[Angle, ...] | None = Field(
        default=None,
        max_length=MOST_VALUES,
        description="rib angles to try; left out: 35 to 55 degrees, as far as the filament leans",
    )
    stub_mm: tuple[Stub, ...] | None = Field(
        default=None,
        max_length=MOST_VALUES,
        description="depths of the stubs of lightening windows to try; left out: some from a tenth to a "
        "quarter of the root's thickness, and half of it: whole ribs cut from both skins",
    )
    bead_mm: tuple[Bead, ...] | None = Field(
        default=None,
        max_length=MOST_VALUES,
        description="bead widths to try; left out: what is drawn and 0.05 mm more and less, from one to one "
        "and a half nozzle diameters",
    )
    webs: int = Field(
        default=1, strict=True, ge=0, le=3, description="most spar webs that are added to those drawn"
    )
    drop_webs: bool = Field(
        default=True, strict=True, description="whether spar webs that are drawn may be left out"
    )
    web_chord_fraction: tuple[Place, ...] = Field(
        default=(0.15, 0.2, 0.25, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65),
        max_length=MOST_VALUES,
        description="places of added webs along the chord to try",
    )
    tube_sizes_mm: tuple[tuple[Size, Size], ...] | None = Field(
        default=None,
        max_length=MOST_VALUES,
        description="outer and inner diameters of round tubes to try; left out: the sizes in the profile of "
        "the material, up to a half more and less than what is drawn",
    )
    tube_length: tuple[Share, ...] = Field(
        default=(0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2),
        max_length=MOST_VALUES,
        description="lengths of tubes to try, as multiples of what is drawn",
    )
