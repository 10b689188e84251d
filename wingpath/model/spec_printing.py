"""What a spec says about printing: the printer, the filament and how the one bead is laid."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from wingpath.model.printing_values import (
    Acceleration,
    BandShare,
    BedLength,
    BedMargin,
    Block,
    BondExtra,
    BoreAllowance,
    BridgeLimit,
    CornerSpeed,
    Density,
    FanPercent,
    FilamentDiameter,
    GlueShear,
    HeatingRate,
    LeastLayerTime,
    Modulus,
    NozzleDiameter,
    NozzleTemperature,
    OverhangLimit,
    PlateTemperature,
    PoissonRatio,
    PowerExponent,
    Price,
    PrintSpeed,
    SpoolMass,
    Strength,
    Throughput,
    ZShare,
)
from wingpath.model.spec_base import Number, SpecTable, Switch

__all__ = ["BEAD_RANGE_MM", "FLOW_RANGE", "LAYER_RANGE_MM", "FilamentRef", "PrintSpec", "PrinterRef"]

BEAD_RANGE_MM, LAYER_RANGE_MM = (0.2, 1.2), (0.05, 0.6)
"""Widths of a bead and heights of a layer that a spec may have [mm]."""

FLOW_RANGE = (0.2, 1.2)
"""Extruded over nominal volume that a spec may have."""


class PrinterRef(SpecTable):
    """The printer, by the name of its profile; any key of the profile can be set here instead."""

    profile: str = Field(
        default="bed-220", min_length=1, max_length=200, description="a name of profiles/printers, or a path"
    )
    bed_x_mm: BedLength | None = Field(default=None, description="width of the bed")
    bed_y_mm: BedLength | None = Field(default=None, description="depth of the bed")
    height_mm: BedLength | None = Field(default=None, description="greatest height of a part")
    margin_mm: BedMargin | None = Field(default=None, description="rim of the bed that stays unused")
    nozzle_mm: NozzleDiameter | None = Field(default=None, description="nozzle diameter")
    bed_origin: Literal["corner", "centre"] | None = Field(
        default=None, description="where x = 0, y = 0 lies on the bed"
    )
    max_speed_mm_s: PrintSpeed | None = Field(default=None, description="highest speed")
    acceleration_mm_s2: Acceleration | None = Field(default=None, description="acceleration")
    corner_mm_s: CornerSpeed | None = Field(default=None, description="sudden change of velocity at a corner")
    nozzle_heating_c_s: HeatingRate | None = Field(
        default=None, description="how fast the nozzle gets hotter"
    )
    filament_by_move: Switch | None = Field(
        default=None, description="whether filament lengths are written move by move"
    )
    arcs: Switch | None = Field(default=None, description="whether the printer understands arc moves")
    filament_diameter_mm: FilamentDiameter | None = Field(default=None, description="filament diameter")
    start_block: Block | None = Field(default=None, description="what is sent before the first layer")
    end_block: Block | None = Field(default=None, description="what is sent after the last layer")


class FilamentRef(SpecTable):
    """The filament, by the name of its profile; any plain number of the profile can be set here instead."""

    profile: str = Field(
        default="foaming-pla",
        min_length=1,
        max_length=200,
        description="a name of profiles/filaments, or a path",
    )
    density_g_cm3: Density | None = Field(default=None, description="density of the filament, unfoamed")
    temperature_min_c: NozzleTemperature | None = Field(default=None, description="lowest temperature")
    temperature_max_c: NozzleTemperature | None = Field(default=None, description="highest temperature")
    bed_temperature_c: PlateTemperature | None = Field(default=None, description="bed temperature")
    fan_percent: FanPercent | None = Field(default=None, description="part cooling fan")
    melt_rate_mm3_s: Throughput | None = Field(default=None, description="most that can be melted")
    least_layer_s: LeastLayerTime | None = Field(
        default=None, description="least time for a layer, so that the one below has set"
    )
    least_speed_mm_s: PrintSpeed | None = Field(
        default=None, description="slowest that a short layer is laid"
    )
    spool_g: SpoolMass | None = Field(default=None, description="filament on a full spool")
    price_per_kg: Price | None = Field(default=None, description="price of a kilogram, in your own money")
    e_modulus_mpa: Modulus | None = Field(default=None, description="stiffness along a bead, unfoamed")
    strength_mpa: Strength | None = Field(default=None, description="strength along a bead, unfoamed")
    stiffness_exponent: PowerExponent | None = Field(
        default=None, description="power of the density ratio in the stiffness"
    )
    strength_exponent: PowerExponent | None = Field(
        default=None, description="power of the density ratio in the strength"
    )
    z_stiffness: ZShare | None = Field(default=None, description="share of the stiffness left across layers")
    z_strength: ZShare | None = Field(default=None, description="share of the strength left across layers")
    poisson: PoissonRatio | None = Field(default=None, description="Poisson ratio")
    glue_shear_mpa: GlueShear | None = Field(
        default=None, description="shear stress that a glued joint may bear"
    )
    overhang_limit_deg: OverhangLimit | None = Field(default=None, description="steepest lean of a wall")
    bridge_limit_mm: BridgeLimit | None = Field(default=None, description="longest bead in the air")
    bore_allowance_mm: BoreAllowance | None = Field(
        default=None, description="clearance that a tube needs in a printed bore, on the diameter"
    )
    bore_push_mm: BoreAllowance | None = Field(
        default=None, description="clearance with which a tube has to be pushed in"
    )
    bore_loose_mm: BoreAllowance | None = Field(
        default=None, description="clearance with which a tube falls through"
    )
    tab_allowance_mm: BoreAllowance | None = Field(
        default=None, description="clearance that a flat tongue needs in a printed slot, on the thickness"
    )
    bond_extra_mm: BondExtra | None = Field(
        default=None, description="what beads bridge beyond the gap that their swelling closes"
    )
    foaming_band: BandShare | None = Field(
        default=None, description="how far the foaming ratio may be off, as a share of it"
    )
    feed_band: BandShare | None = Field(
        default=None, description="how far the fed filament may be off, as a share of what is asked for"
    )


class PrintSpec(SpecTable):
    """How the one bead is laid, and the path that it follows."""

    layer_mm: Number = Field(
        default=0.25, ge=LAYER_RANGE_MM[0], le=LAYER_RANGE_MM[1], description="height of a layer"
    )
    bead_mm: Number = Field(
        default=0.45, ge=BEAD_RANGE_MM[0], le=BEAD_RANGE_MM[1], description="width of the bead"
    )
    speed_mm_s: Number = Field(default=40.0, ge=5, le=300, description="speed of the nozzle")
    temperature_c: Number = Field(default=230.0, ge=150, le=300, description="temperature of the nozzle")
    flow: Number = Field(
        default=0.5,
        ge=FLOW_RANGE[0],
        le=FLOW_RANGE[1],
        description="extruded volume over the nominal volume of the bead",
    )
    style: Literal["helical", "stepped"] = Field(
        default="helical",
        description="whether the nozzle rises all the time, or at the end of each loop",
    )
    flat_layers: int = Field(
        default=3, strict=True, ge=1, le=100, description="first layers that are always laid flat"
    )
    path_tolerance_mm: Number = Field(
        default=0.02, ge=0.002, le=0.1, description="how far the written path may lie from the proven one"
    )
    foot_speed_mm_s: Number = Field(
        default=20.0, ge=2, le=150, description="speed of the brim and the first layer"
    )
    brim_mm: Number | None = Field(
        default=None,
        ge=0,
        le=40,
        description="width of the brim, 0 for none; left out: by height and footprint",
    )
    brim_gap_mm: Number = Field(
        default=0.0, ge=0, le=1, description="gap between brim and part, so that the brim breaks off"
    )
    unfoamed_mm: Number = Field(
        default=0.0, ge=0, le=200, description="height from the bed that is printed cooler, without foam"
    )
    unfoamed_temperature_c: Number | None = Field(
        default=None,
        ge=150,
        le=300,
        description="temperature of that height; left out: where the filament hardly foams",
    )
