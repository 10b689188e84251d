"""Ranges of the values that a printer or filament profile holds and that a spec may set instead."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

__all__ = [
    "Acceleration",
    "BandShare",
    "BedLength",
    "BedMargin",
    "Block",
    "BondExtra",
    "BoreAllowance",
    "BridgeLimit",
    "CornerSpeed",
    "Density",
    "FanPercent",
    "FilamentDiameter",
    "GlueShear",
    "HeatingRate",
    "LeastLayerTime",
    "Modulus",
    "NozzleDiameter",
    "NozzleTemperature",
    "OverhangLimit",
    "PlateTemperature",
    "PoissonRatio",
    "PowerExponent",
    "Price",
    "PrintSpeed",
    "SpoolMass",
    "Strength",
    "Throughput",
    "ZShare",
]

MOST_BLOCK = 20_000
"""Longest start or end block [characters]: a hundred times what is usual, small enough to read."""

BedLength = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=40, le=2000)]
BedMargin = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=100)]
NozzleDiameter = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.1, le=1.2)]
PrintSpeed = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=5, le=1000)]
CornerSpeed = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=100)]
HeatingRate = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.05, le=20)]
Acceleration = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=50, le=50_000)]
FilamentDiameter = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=1.5, le=3.2)]
Block = Annotated[str, Field(max_length=MOST_BLOCK)]

Density = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.5, le=3)]
NozzleTemperature = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=150, le=300)]
PlateTemperature = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=150)]
FanPercent = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=100)]
LeastLayerTime = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=120)]
SpoolMass = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=10, le=20_000)]
Price = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=100_000)]
Throughput = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.5, le=60)]
Modulus = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=100, le=20_000)]
Strength = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=1, le=500)]
GlueShear = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.05, le=50)]
PowerExponent = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.5, le=4)]
ZShare = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.05, le=1.2)]
PoissonRatio = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=0.49)]
OverhangLimit = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=10, le=80)]
BridgeLimit = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=50)]
BondExtra = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-0.5, le=0.5)]
BandShare = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1)]
BoreAllowance = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-0.5, le=1.5)]
