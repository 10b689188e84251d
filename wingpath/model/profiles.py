"""Profiles: printers, filaments and tubes as checked values, each with where its numbers come from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any, Literal, TypeVar

from pydantic import Field, ValidationError

from wingpath.core.errors import Problem, SpecError
from wingpath.model.printer_blocks import block_problems
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
from wingpath.model.profile_base import Profile, ValueSource
from wingpath.model.profile_rows import (
    PLA_WARM_ROWS,
    CalibrationRecord,
    FoamingRow,
    WarmRow,
    share_at,
    unrisen_rows,
)
from wingpath.model.spec_base import Number, SpecTable, Switch
from wingpath.model.spec_fittings import TubeSpec
from wingpath.model.spec_printing import FilamentRef, PrinterRef
from wingpath.model.spec_problems import field_problems

__all__ = [
    "HARDLY_FOAMED",
    "CalibrationRecord",
    "FilamentProfile",
    "FoamingRow",
    "PrinterProfile",
    "StockSize",
    "TubeMaterial",
    "ValueSource",
    "WarmRow",
    "profile_from_dict",
    "with_filament_overrides",
    "with_printer_overrides",
    "with_tube_overrides",
]


HARDLY_FOAMED = 1.1
"""Up to this volume over the filament's own a bead counts as solid."""


class PrinterProfile(Profile):
    """A printer: what it can hold and what it is sent before and after a print."""

    bed_x_mm: BedLength = Field(description="width of the bed")
    bed_y_mm: BedLength = Field(description="depth of the bed")
    height_mm: BedLength = Field(description="greatest height of a part")
    margin_mm: BedMargin = Field(default=5.0, description="rim of the bed that stays unused")
    nozzle_mm: NozzleDiameter = Field(default=0.4, description="nozzle diameter")
    bed_origin: Literal["corner", "centre"] = Field(default="corner", description="where x = 0, y = 0 lies")
    max_speed_mm_s: PrintSpeed = Field(default=150.0, description="highest speed")
    acceleration_mm_s2: Acceleration = Field(default=1000.0, description="acceleration")
    corner_mm_s: CornerSpeed = Field(
        default=8.0, description="sudden change of velocity that it takes at a corner"
    )
    nozzle_heating_c_s: HeatingRate = Field(default=1.0, description="how fast the nozzle gets hotter")
    filament_by_move: Switch = Field(
        default=True, description="whether filament lengths are written move by move"
    )
    arcs: Switch = Field(default=False, description="whether the printer understands arc moves")
    filament_diameter_mm: FilamentDiameter = Field(default=1.75, description="filament diameter")
    start_block: Block = Field(default="", description="what is sent before the first layer")
    end_block: Block = Field(default="", description="what is sent after the last layer")

    @property
    def usable_x_mm(self) -> float:
        """Width of the bed inside the margin [mm]."""
        return self.bed_x_mm - 2.0 * self.margin_mm

    @property
    def usable_y_mm(self) -> float:
        """Depth of the bed inside the margin [mm]."""
        return self.bed_y_mm - 2.0 * self.margin_mm

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Middle of the bed in the printer's own coordinates [mm]."""
        return (0.0, 0.0) if self.bed_origin == "centre" else (self.bed_x_mm / 2.0, self.bed_y_mm / 2.0)

    def _own_problems(self) -> Iterable[Problem]:
        smaller = min(self.bed_x_mm, self.bed_y_mm)
        if 2.0 * self.margin_mm >= smaller:
            yield Problem(
                "margin_mm", f"{self.margin_mm:g} mm", f"less than half of the bed, {smaller / 2.0:g} mm here"
            )
        for key in ("start_block", "end_block"):
            yield from block_problems(key, getattr(self, key))


class FilamentProfile(Profile):
    """A filament: how it foams, what it weighs, what it bears."""

    density_g_cm3: Density = Field(description="density of the filament, unfoamed")
    foaming: tuple[FoamingRow, ...] = Field(
        min_length=1, max_length=100, description="foaming ratio by nozzle temperature"
    )
    temperature_min_c: NozzleTemperature = Field(description="lowest temperature that it prints at")
    temperature_max_c: NozzleTemperature = Field(description="highest temperature that it prints at")
    bed_temperature_c: PlateTemperature = Field(default=55.0, description="bed temperature")
    fan_percent: FanPercent = Field(default=0.0, description="part cooling fan")
    melt_rate_mm3_s: Throughput = Field(description="most filament that can be melted")
    least_layer_s: LeastLayerTime = Field(
        default=6.0, description="least time for a layer, so that the one below has set"
    )
    least_speed_mm_s: PrintSpeed = Field(default=10.0, description="slowest that a short layer is laid")
    spool_g: SpoolMass = Field(default=750.0, description="filament on a full spool")
    price_per_kg: Price | None = Field(
        default=None, description="price of a kilogram, in your own money; left out: no cost is given"
    )
    e_modulus_mpa: Modulus = Field(description="stiffness along a bead, unfoamed")
    strength_mpa: Strength = Field(description="tensile strength along a bead, unfoamed")
    stiffness_exponent: PowerExponent = Field(description="power of the density ratio in the stiffness")
    strength_exponent: PowerExponent = Field(description="power of the density ratio in the strength")
    z_stiffness: ZShare = Field(description="share of the stiffness left across layers")
    z_strength: ZShare = Field(description="share of the strength left across layers")
    poisson: PoissonRatio = Field(description="Poisson ratio")
    warm_stiffness: tuple[WarmRow, ...] = Field(
        default=PLA_WARM_ROWS,
        min_length=1,
        max_length=100,
        description="share of the stiffness left by temperature of the part",
    )
    glue_shear_mpa: GlueShear = Field(
        default=1.0, description="shear stress that a glued joint of the printed part may bear"
    )
    overhang_limit_deg: OverhangLimit = Field(
        default=45.0, description="steepest lean of a wall that prints well, from the vertical"
    )
    bridge_limit_mm: BridgeLimit = Field(default=5.0, description="longest bead in the air in one piece")
    bore_allowance_mm: BoreAllowance = Field(
        default=0.3, description="clearance that a tube needs in a printed bore, on the diameter"
    )
    bore_push_mm: BoreAllowance | None = Field(
        default=None, description="clearance with which a tube has to be pushed in, on the diameter"
    )
    bore_loose_mm: BoreAllowance | None = Field(
        default=None, description="clearance with which a tube falls through, on the diameter"
    )
    tab_allowance_mm: BoreAllowance = Field(
        default=0.2, description="clearance that a flat tongue needs in a printed slot, on the thickness"
    )
    bond_extra_mm: BondExtra = Field(
        default=0.0, description="what beads bridge beyond the gap that their swelling closes"
    )
    foaming_band: BandShare = Field(
        default=0.2, description="how far the foaming ratio may be off, as a share of it"
    )
    feed_band: BandShare = Field(
        default=0.08, description="how far the fed filament may be off, as a share of what is asked for"
    )
    calibration: CalibrationRecord | None = Field(
        default=None, description="what the measured values were measured on"
    )
    calibrated: Switch = Field(
        default=False, description="whether its values were measured on the printer that is used"
    )

    @property
    def foaming_range_c(self) -> tuple[float, float]:
        """Lowest and highest temperature of the foaming table [°C]."""
        return self.foaming[0].temperature_c, self.foaming[-1].temperature_c

    def foaming_ratio(self, temperature_c: float) -> float:
        """Return the volume that comes out over the filament volume that goes in.

        Parameters
        ----------
        temperature_c : float
            Temperature of the nozzle [°C]. Linear between the rows of the table; outside
            :attr:`foaming_range_c` the nearest row holds.
        """
        rows = self.foaming
        if temperature_c <= rows[0].temperature_c:
            return rows[0].ratio
        for below, above in pairwise(rows):
            if temperature_c <= above.temperature_c:
                share = (temperature_c - below.temperature_c) / (above.temperature_c - below.temperature_c)
                return below.ratio + share * (above.ratio - below.ratio)
        return rows[-1].ratio

    @property
    def unfoamed_temperature_c(self) -> float:
        """Hottest temperature at which the filament still hardly foams, by 10 per cent at most [°C]."""
        best = self.temperature_min_c
        for step in range(1, 401):
            trial = self.temperature_min_c + step * (self.temperature_max_c - self.temperature_min_c) / 400
            if self.foaming_ratio(trial) > HARDLY_FOAMED:
                break
            best = trial
        return max(float(int(best)), self.temperature_min_c)

    def fill(self, *, flow: float, temperature_c: float) -> float:
        """Return the bead's real volume over its nominal volume, ``flow x ratio``; 1 is just full."""
        return flow * self.foaming_ratio(temperature_c)

    def bonded_gap_mm(self, bead_mm: float, flow: float, temperature_c: float) -> float:
        """Return the widest gap between two nominal beads that foaming closes [mm].

        At a fixed layer height the bead's width grows as its volume, so two beads whose nominal flanks
        are `g` apart touch when ``bead + g <= bead x flow x ratio``. What calibration found that they
        bridge beyond that, or short of it, is `bond_extra_mm`. Never negative.

        Parameters
        ----------
        bead_mm : float
            Nominal width of the bead [mm].
        flow : float
            Extruded volume over the nominal volume of the bead.
        temperature_c : float
            Temperature of the nozzle [°C].
        """
        swelling = bead_mm * (self.fill(flow=flow, temperature_c=temperature_c) - 1.0)
        return max(0.0, swelling + self.bond_extra_mm)

    def foam_modulus_mpa(self, temperature_c: float) -> float:
        """Return the stiffness of the foamed wall along a bead [MPa]: ``E R^-n``.

        Parameters
        ----------
        temperature_c : float
            Temperature of the nozzle [°C]; with it the ratio R is known, 1 at least.

        Notes
        -----
        Power law of cellular solids, Gibson and Ashby, Cellular Solids, 2nd ed. 1997, from memory; the
        density ratio of the foam is ``1 / R``.
        """
        return float(
            self.e_modulus_mpa * max(1.0, self.foaming_ratio(temperature_c)) ** -self.stiffness_exponent
        )

    def stiffness_share(self, temperature_c: float) -> float:
        """Return the stiffness of the part over its stiffness at 20 °C.

        Parameters
        ----------
        temperature_c : float
            Temperature of the part [°C]. Its logarithm is linear between the rows of `warm_stiffness`, for
            the shares fall by decades; outside of them the nearest row holds.
        """
        return share_at(self.warm_stiffness, temperature_c)

    def wall_density_g_cm3(self, flow: float) -> float:
        """Return mass over nominal volume of the path [g/cm3].

        By conservation of mass this is ``density x flow``, whatever the foaming does.
        """
        return self.density_g_cm3 * flow

    def _own_problems(self) -> Iterable[Problem]:
        if self.temperature_min_c >= self.temperature_max_c:
            yield Problem(
                "temperature_min_c and temperature_max_c",
                f"from {self.temperature_min_c:g} to {self.temperature_max_c:g} °C",
                "a lowest temperature under the highest",
            )
        yield from unrisen_rows("foaming", self.foaming)
        yield from unrisen_rows("warm_stiffness", self.warm_stiffness)


class StockSize(SpecTable):
    """A size that is commonly sold."""

    shape: Literal["round", "square", "strip"] = Field(default="round", description="shape of the section")
    outer_mm: Number = Field(default=0.0, ge=0, le=60, description="outside diameter or side")
    inner_mm: Number = Field(default=0.0, ge=0, le=59, description="inside diameter; 0 for a rod")
    width_mm: Number = Field(default=0.0, ge=0, le=60, description="of a strip: the longer side")
    height_mm: Number = Field(default=0.0, ge=0, le=60, description="of a strip: the shorter side")


class TubeMaterial(Profile):
    """What a bought tube, rod or strip is made of."""

    e_modulus_mpa: Number = Field(ge=100, le=500_000, description="stiffness along the tube")
    g_modulus_mpa: Number = Field(ge=50, le=200_000, description="shear stiffness")
    density_g_cm3: Number = Field(ge=0.05, le=20, description="density")
    allowable_mpa: Number = Field(ge=1, le=5000, description="bending stress that it may bear")
    stock: tuple[StockSize, ...] = Field(
        default=(), max_length=100, description="sizes that are commonly sold"
    )


AnyProfile = TypeVar("AnyProfile", bound=Profile)


def profile_from_dict(kind: type[AnyProfile], data: Mapping[str, Any], *, source: str) -> AnyProfile:
    """Validate plain data, as a TOML file holds it.

    Parameters
    ----------
    kind : type
        :class:`PrinterProfile`, :class:`FilamentProfile` or :class:`TubeMaterial`.
    data : mapping
        Keys and values.
    source : str
        Where the data came from, for messages.

    Raises
    ------
    SpecError
        With every key that is wrong.
    """
    try:
        return kind.model_validate(data)
    except ValidationError as error:
        raise SpecError(source, field_problems(kind, error.errors(include_url=False))) from None


def _overridden(profile: AnyProfile, changes: Mapping[str, Any], *, source: str) -> AnyProfile:
    if not changes:
        return profile
    here = ValueSource(kind="judgement", note=f"set in {source}, not in the profile")
    kept = {key: value for key, value in profile.sources if key not in changes}
    data = profile.model_dump() | dict(changes) | {"sources": kept | dict.fromkeys(changes, here)}
    return profile_from_dict(type(profile), data, source=source)


def _given(table: SpecTable, leave_out: frozenset[str]) -> dict[str, Any]:
    return {key: value for key, value in table if value is not None and key not in leave_out}


TITLE_KEYS = ("bed_x_mm", "bed_y_mm", "height_mm", "nozzle_mm")
"""What the title of a printer may speak of."""


def with_printer_overrides(profile: PrinterProfile, ref: PrinterRef) -> PrinterProfile:
    """Return the profile with the values that ``[printer]`` of a spec sets instead.

    Its title tells so, as it may speak of a size that is another one now.
    """
    changed = _given(ref, frozenset({"profile"}))
    if not changed:
        return profile
    own = ", ".join(f"{key} {changed[key]:g}" for key in TITLE_KEYS if key in changed)
    title = f"{profile.name}, but {own}" if own else f"{profile.title}"
    return _overridden(profile, {**changed, "title": title}, source="[printer] of the spec")


def with_filament_overrides(profile: FilamentProfile, ref: FilamentRef) -> FilamentProfile:
    """Return the profile with the values that ``[filament]`` of a spec sets instead."""
    return _overridden(profile, _given(ref, frozenset({"profile"})), source="[filament] of the spec")


def with_tube_overrides(material: TubeMaterial, tube: TubeSpec) -> TubeMaterial:
    """Return the material with the values that a ``[[tube]]`` of a spec sets instead."""
    keys = ("e_modulus_mpa", "g_modulus_mpa", "density_g_cm3", "allowable_mpa")
    changes = {key: getattr(tube, key) for key in keys if getattr(tube, key) is not None}
    return _overridden(material, changes, source="[[tube]] of the spec")
