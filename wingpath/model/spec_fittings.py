"""The tables of a spec that describe what goes into the wing: tubes, tabs, ducts, bays, ailerons, pins.

Every place is given in wing coordinates: `from_mm`, `to_mm` and `span_mm` along the span from the root,
`chord_fraction` from the leading edge (0) to the trailing edge (1) of the section there.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from wingpath.model.spec_base import Number, SpecTable, Switch

__all__ = [
    "AileronSpec",
    "DuctSpec",
    "PinSpec",
    "PlateBaySpec",
    "ServoBaySpec",
    "SparWebSpec",
    "TabSpec",
    "TubeSpec",
]

TUBE_CLEARANCE_MM, TAB_CLEARANCE_MM = 0.3, 0.2
"""Clearances where neither spec nor filament is asked: those of the shipped filaments [mm]."""

_START = "place along the span where it begins"
_END = "place along the span where it ends"
_CHORD = "place along the chord at `from_mm`, as a fraction of the chord"
_CHORD_END = "place along the chord at its far end; left out: the same as `chord_fraction`"


class _AlongSpan(SpecTable):
    """Something that runs along the span in a straight line between two chord fractions."""

    chord_fraction: Number = Field(ge=0.02, le=0.98, description=_CHORD)
    chord_fraction_end: Number | None = Field(default=None, ge=0.02, le=0.98, description=_CHORD_END)

    @property
    def end_fraction(self) -> float:
        """Chord fraction at the outboard end."""
        return self.chord_fraction if self.chord_fraction_end is None else self.chord_fraction_end


class SparWebSpec(_AlongSpan):
    """A printed rib along the span."""

    from_mm: Number = Field(default=0.0, ge=0, le=5000, description=_START)
    to_mm: Number | None = Field(
        default=None, ge=0, le=5000, description=f"{_END}; left out: at the last station"
    )


class TubeSpec(_AlongSpan):
    """A bought tube, rod or strip in a printed bore."""

    shape: Literal["round", "square", "strip"] = Field(
        default="round", description="outside shape of the section"
    )
    outer_mm: Number = Field(
        default=0.0,
        ge=0,
        le=60,
        description="outside diameter, or side of a square; needed unless it is a strip",
    )
    inner_mm: Number = Field(
        default=0.0,
        ge=0,
        le=59,
        description="inside diameter, or inside width of a square; 0 for a solid rod",
    )
    width_mm: Number = Field(default=0.0, ge=0, le=60, description="of a strip: its size along the chord")
    height_mm: Number = Field(default=0.0, ge=0, le=60, description="of a strip: its size across the chord")
    clearance_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="what the bore is larger than the tube, on the diameter; left out: what a tube needs to "
        "slide in by the filament's profile",
    )
    from_mm: Number = Field(default=0.0, ge=0, le=5000, description=_START)
    to_mm: Number = Field(ge=0, le=5000, description=_END)
    material: str = Field(
        default="pultruded-carbon",
        min_length=1,
        max_length=200,
        description="name of a profile of profiles/tubes, or the path of one",
    )
    e_modulus_mpa: Number | None = Field(
        default=None, ge=100, le=500_000, description="stiffness along the tube, instead of the profile's"
    )
    g_modulus_mpa: Number | None = Field(
        default=None, ge=50, le=200_000, description="shear stiffness, instead of the profile's"
    )
    density_g_cm3: Number | None = Field(
        default=None, ge=0.05, le=20, description="density of the material, instead of the profile's"
    )
    allowable_mpa: Number | None = Field(
        default=None, ge=1, le=5000, description="bending stress it may bear, instead of the profile's"
    )

    @property
    def bore_clearance_mm(self) -> float:
        """What the bore is larger than the tube, on the diameter [mm]."""
        return TUBE_CLEARANCE_MM if self.clearance_mm is None else self.clearance_mm

    @property
    def size_x_mm(self) -> float:
        """Outside size along the chord, without clearance [mm]."""
        return self.width_mm if self.shape == "strip" else self.outer_mm

    @property
    def size_y_mm(self) -> float:
        """Outside size across the chord, without clearance [mm]."""
        return self.height_mm if self.shape == "strip" else self.outer_mm


class TabSpec(SpecTable):
    """A slot for a flat root tongue that bolts the wing to the fuselage."""

    thickness_mm: Number = Field(ge=0.3, le=20, description="thickness of the tongue")
    width_mm: Number = Field(ge=2, le=200, description="width of the tongue along the chord")
    depth_mm: Number = Field(ge=2, le=300, description="how far it reaches into the wing from the root")
    chord_fraction: Number = Field(
        ge=0.02, le=0.98, description="its middle along the root chord, as a fraction of the chord"
    )
    clearance_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="what the slot is larger than the tongue, in both directions; left out: what a tongue "
        "needs to slide in by the filament's profile",
    )
    hole_mm: Number | None = Field(
        default=None, ge=1, le=20, description="diameter of the screw hole through the tongue; left out: none"
    )
    hole_from_root_mm: Number | None = Field(
        default=None,
        ge=0.5,
        le=300,
        description="distance of the hole's middle from the root; left out: half the depth",
    )

    @property
    def slot_clearance_mm(self) -> float:
        """What the slot is larger than the tongue, in both directions [mm]."""
        return TAB_CLEARANCE_MM if self.clearance_mm is None else self.clearance_mm


class DuctSpec(_AlongSpan):
    """A passage for a servo lead."""

    diameter_mm: Number = Field(ge=1, le=40, description="diameter of the passage")
    from_mm: Number = Field(default=0.0, ge=0, le=5000, description=_START)
    to_mm: Number = Field(ge=0, le=5000, description=_END)


class _Bay(SpecTable):
    """A pocket open to the outside."""

    span_mm: Number = Field(
        ge=0, le=5000, description="its inboard end along the span, where its full depth begins"
    )
    length_mm: Number = Field(ge=2, le=300, description="size along the span")
    width_mm: Number = Field(ge=2, le=300, description="size along the chord")
    depth_mm: Number = Field(ge=0.2, le=100, description="depth below the skin")
    chord_fraction: Number = Field(
        ge=0.02, le=0.98, description="its middle along the chord, as a fraction of the chord"
    )


class ServoBaySpec(_Bay):
    """A pocket for a servo, open to the lower skin."""

    frame: Switch = Field(
        default=False, description="add a ledge for a cover, and print the cover as a part of its own"
    )


class PlateBaySpec(_Bay):
    """A shallow pocket for a glued-in plate, for landing gear or a wing bolt."""

    side: Literal["lower", "upper"] = Field(default="lower", description="the skin that it is open to")


class AileronSpec(SpecTable):
    """An aileron, cut out of the wing and printed as a part of its own."""

    from_mm: Number = Field(ge=0, le=5000, description=_START)
    to_mm: Number = Field(ge=0, le=5000, description=_END)
    hinge_fraction: Number = Field(
        ge=0.3, le=0.95, description="place of the hinge line at `from_mm`, as a fraction of the chord"
    )
    hinge_fraction_end: Number | None = Field(
        default=None,
        ge=0.3,
        le=0.95,
        description="place of the hinge line at `to_mm`; left out: the same as `hinge_fraction`",
    )
    gap_mm: Number = Field(default=1.0, ge=0.1, le=10, description="gap all round between wing and aileron")
    up_deg: Number = Field(default=20.0, ge=0, le=60, description="travel upward")
    down_deg: Number = Field(default=20.0, ge=0, le=60, description="travel downward")
    horn_mm: Number | None = Field(
        default=None, ge=0, le=5000, description="place of the control horn along the span; left out: no horn"
    )

    @property
    def end_fraction(self) -> float:
        """Chord fraction of the hinge line at the outboard end."""
        return self.hinge_fraction if self.hinge_fraction_end is None else self.hinge_fraction_end


class PinSpec(SpecTable):
    """An alignment pin across every joint between two panels."""

    chord_fraction: Number = Field(
        ge=0.02, le=0.98, description="place along the chord, as a fraction of the chord"
    )
    diameter_mm: Number = Field(ge=0.5, le=20, description="diameter of the pin")
    length_mm: Number = Field(ge=2, le=200, description="length of the pin, half of it in each panel")
    clearance_mm: Number = Field(
        default=0.2, ge=0, le=2, description="what the hole is larger than the pin, on the diameter"
    )
