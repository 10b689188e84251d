"""What was measured on printed coupons, as the file holds it that the builder fills in."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from itertools import combinations, pairwise
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, field_validator, model_validator

from wingpath.core.errors import Problem, SpecError
from wingpath.model.printing_values import NozzleDiameter, NozzleTemperature
from wingpath.model.spec_base import ISO_DATE, ONE_LINE, PROFILE_NAME, Number, SpecTable
from wingpath.model.spec_printing import FLOW_RANGE
from wingpath.model.spec_problems import field_problems

__all__ = [
    "MOST_DROOP_SHARE",
    "CouponReadings",
    "DroopReading",
    "Measurements",
    "PrintedSteps",
    "Tools",
    "measurements_from_dict",
]

MOST_COUPONS, MOST_READINGS = 20, 50

MOST_DROOP_SHARE = 0.5
"""A droop of more than half the free length is refused: the strip creeps, and the clamp gives."""

Width = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.05, le=5)]
Size = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.005, le=10)]
Lean = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=10, le=80)]
StepNumber = Annotated[int, Field(strict=True, ge=0, le=20)]


class PrintedSteps(SpecTable):
    """What the coupon was made with; written with it."""

    nozzle_mm: NozzleDiameter = Field(description="nozzle diameter")
    bead_mm: Number = Field(ge=0.1, le=2.4, description="width of the bead as drawn")
    layer_mm: Number = Field(ge=0.02, le=1.2, description="height of a layer")
    tube_mm: Number = Field(ge=1, le=60, description="outside diameter of the tube that is tried")
    tab_mm: Number = Field(ge=0.1, le=20, description="thickness of the tongue that is tried")
    slots_mm: tuple[Size, ...] = Field(min_length=2, max_length=20, description="widths of the graded slots")
    bores_mm: tuple[Size, ...] = Field(
        min_length=2, max_length=20, description="clearances of the bores, on the diameter"
    )
    tabs_mm: tuple[Size, ...] = Field(
        min_length=2, max_length=20, description="clearances of the slots for tongues, on the thickness"
    )
    leans_deg: tuple[Lean, ...] = Field(min_length=1, max_length=20, description="leans of the end wall")
    strip_height_mm: Number = Field(ge=1, le=100, description="height of the strip as drawn")


class Tools(SpecTable):
    """How far a reading may be off: half of the range that holds the true value 95 times in 100."""

    calliper_mm: Number = Field(default=0.03, ge=0.001, le=1, description="of a calliper reading")
    scale_g: Number = Field(default=0.03, ge=0.0005, le=5, description="of the scale that weighs the coupon")
    hung_g: Number = Field(default=0.05, ge=0.0005, le=50, description="of the mass that is hung")
    length_mm: Number = Field(default=0.5, ge=0.01, le=10, description="of the free length of the strip")
    droop_mm: Number = Field(default=0.3, ge=0.01, le=10, description="of the droop")


class DroopReading(SpecTable):
    """One mass hung on the strip."""

    mass_g: Number = Field(ge=0.05, le=2000, description="mass that was hung")
    length_mm: Number = Field(ge=10, le=500, description="free length from the clamp to the mass")
    droop_mm: Number = Field(gt=0, le=250, description="how much lower the end hangs with the mass")


class CouponReadings(SpecTable):
    """What was measured on one coupon; whatever was not measured is left out."""

    temperature_c: NozzleTemperature = Field(description="temperature it was printed at")
    flow: Number = Field(ge=FLOW_RANGE[0], le=FLOW_RANGE[1], description="flow it was printed with")
    filament_mm3: Number = Field(
        ge=1, le=200_000, description="filament of the coupon before foaming; written with it"
    )
    mass_g: Number | None = Field(
        default=None,
        ge=0.05,
        le=500,
        description="mass of the coupon, the line that fills the nozzle cut off",
    )
    wall_mm: tuple[Width, ...] = Field(
        default=(), max_length=MOST_READINGS, description="thickness of the box's plain wall, several places"
    )
    slot_fused: StepNumber | None = Field(
        default=None, description="widest slot whose two beads hold together; 0: none"
    )
    bore_push: StepNumber | None = Field(
        default=None, description="tightest bore that the tube can be pushed into; 0: none"
    )
    bore_slide: StepNumber | None = Field(
        default=None, description="tightest bore that the tube slides in; 0: none"
    )
    bore_loose: StepNumber | None = Field(
        default=None, description="tightest bore that the tube falls through; 0: none"
    )
    tab_slide: StepNumber | None = Field(
        default=None, description="tightest slot that the tongue slides in; 0: none"
    )
    lean_clean: StepNumber | None = Field(
        default=None, description="highest step of the leaning wall that is clean below; 0: none"
    )
    strip_mm: tuple[Width, ...] = Field(
        default=(), max_length=MOST_READINGS, description="thickness of the strip, several places"
    )
    strip_height_mm: Number | None = Field(
        default=None, ge=1, le=100, description="height of the strip; left out: as drawn"
    )
    droop: tuple[DroopReading, ...] = Field(
        default=(), max_length=MOST_READINGS, description="masses hung on the strip"
    )

    @property
    def empty(self) -> bool:
        """Whether nothing was measured on it."""
        single = (
            self.mass_g,
            self.slot_fused,
            self.bore_push,
            self.bore_slide,
            self.bore_loose,
            self.tab_slide,
            self.lean_clean,
        )
        return not (self.wall_mm or self.droop or any(value is not None for value in single))


class Measurements(SpecTable):
    """Everything that was measured on the coupons of one printer and one spool."""

    format: Literal[1] = Field(default=1, description="version of this file format")
    name: str = Field(
        min_length=1, max_length=60, pattern=PROFILE_NAME, description="name of the profile that is written"
    )
    base_profile: str = Field(min_length=1, max_length=200, description="the filament profile to correct")
    date: str = Field(pattern=ISO_DATE, description="day of the measurements")
    printer: str = Field(min_length=1, max_length=120, pattern=ONE_LINE, description="the printer, in words")
    spool: str = Field(min_length=1, max_length=120, pattern=ONE_LINE, description="the spool, in words")
    printed: PrintedSteps = Field(description="what the coupons were made with")
    tools: Tools = Field(default=Tools(), description="how far readings may be off")
    coupons: tuple[CouponReadings, ...] = Field(
        alias="coupon",
        min_length=1,
        max_length=MOST_COUPONS,
        description="the coupons; first the one at the temperature that wings are printed at",
    )

    @field_validator("date", mode="before")
    @classmethod
    def _date_as_text(cls, value: Any) -> Any:
        plain = isinstance(value, datetime.date) and not isinstance(value, datetime.datetime)
        return value.isoformat() if plain else value

    @model_validator(mode="after")
    def _readings_agree(self) -> Measurements:
        problems = [*_calendar(self), *_rows(self.printed), *_coupons(self)]
        if problems:
            raise SpecError("measurements", problems)
        return self


def _calendar(given: Measurements) -> Iterator[Problem]:
    try:
        datetime.date.fromisoformat(given.date)
    except ValueError:
        yield Problem("date", given.date, "a day that exists")


def _rows(printed: PrintedSteps) -> Iterator[Problem]:
    for key in ("slots_mm", "bores_mm", "tabs_mm", "leans_deg"):
        row = getattr(printed, key)
        if any(after <= before for before, after in pairwise(row)):
            yield Problem(
                f"printed.{key}",
                ", ".join(f"{value:g}" for value in row),
                "rising values",
                "These lines were written with the coupon; leave them as they are",
            )
    if printed.layer_mm > printed.bead_mm:
        yield Problem(
            "printed.layer_mm and printed.bead_mm",
            f"a layer of {printed.layer_mm:g} mm and a bead of {printed.bead_mm:g} mm",
            "a layer that is at most as high as the bead is wide",
        )


def _coupons(given: Measurements) -> Iterator[Problem]:
    if all(coupon.empty for coupon in given.coupons):
        yield Problem(
            "coupon",
            "no reading in any of them",
            "at least one measured value",
            "Fill in what you measured and take the # away in front of it",
        )
    for number, coupon in enumerate(given.coupons):
        here = f"coupon[{number}]"
        yield from _steps(here, coupon, given.printed)
        yield from _fits(here, coupon)
        yield from _strip(here, coupon)
    for (first, one), (number, other) in combinations(enumerate(given.coupons), 2):
        if one == other and not one.empty:
            yield Problem(
                f"coupon[{number}]",
                f"the same readings as coupon[{first}]",
                "another coupon",
                "Leave out the copy, or it counts twice",
            )


def _steps(here: str, coupon: CouponReadings, printed: PrintedSteps) -> Iterator[Problem]:
    for key, row in (
        ("slot_fused", printed.slots_mm),
        ("bore_push", printed.bores_mm),
        ("bore_slide", printed.bores_mm),
        ("bore_loose", printed.bores_mm),
        ("tab_slide", printed.tabs_mm),
        ("lean_clean", printed.leans_deg),
    ):
        value = getattr(coupon, key)
        if value is not None and value > len(row):
            yield Problem(
                f"{here}.{key}",
                f"{value}",
                f"0 to {len(row)}, the number of its step; 0 for none",
                "Count the notches before the step",
            )


def _fits(here: str, coupon: CouponReadings) -> Iterator[Problem]:
    """Hold fits against each other: a looser one needs a wider bore, and 0, none, is wider than all."""
    named = [(key, getattr(coupon, key)) for key in ("bore_push", "bore_slide", "bore_loose")]
    given = [(key, value) for key, value in named if value is not None]
    for (tight, first), (loose, second) in pairwise(given):
        if (first or 99) > (second or 99):
            yield Problem(
                f"{here}.{tight} and {here}.{loose}",
                f"{first} and {second}",
                f"{tight} in the same or a tighter bore than {loose}",
                "Try the tube once more, from the tightest bore on",
            )


def _strip(here: str, coupon: CouponReadings) -> Iterator[Problem]:
    if coupon.droop and not coupon.strip_mm:
        yield Problem(
            f"{here}.strip_mm",
            "nothing, but a droop",
            "the thickness of the strip that drooped",
            "Its cube goes into the stiffness, so it has to be measured",
        )
    for number, reading in enumerate(coupon.droop):
        if reading.droop_mm > MOST_DROOP_SHARE * reading.length_mm:
            yield Problem(
                f"{here}.droop[{number}].droop_mm",
                f"{reading.droop_mm:g} mm over a length of {reading.length_mm:g} mm",
                f"at most half the free length, {MOST_DROOP_SHARE * reading.length_mm:g} mm",
                "Hang a lighter mass",
            )


def measurements_from_dict(data: Mapping[str, Any], *, source: str) -> Measurements:
    """Validate plain data, as a TOML file holds it.

    Parameters
    ----------
    data : mapping
        Tables and keys by the names they have in a file.
    source : str
        Where the data came from, for messages.

    Raises
    ------
    SpecError
        With every key that is wrong.
    """
    try:
        return Measurements.model_validate(data)
    except ValidationError as error:
        raise SpecError(source, field_problems(Measurements, error.errors(include_url=False))) from None
