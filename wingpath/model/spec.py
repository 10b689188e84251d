"""The spec: what the maker describes, validated as a whole.

Only two stations are needed; every other value has a default. All that is wrong is told at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field, ValidationError, model_validator

from wingpath.core.errors import A_SPEC, SpecError
from wingpath.model.spec_aircraft import AircraftSpec, CompareSpec, ItemSpec
from wingpath.model.spec_base import ONE_LINE, Number, SpecTable
from wingpath.model.spec_checks import contradictions
from wingpath.model.spec_fittings import (
    AileronSpec,
    DuctSpec,
    PinSpec,
    PlateBaySpec,
    ServoBaySpec,
    SparWebSpec,
    TabSpec,
    TubeSpec,
)
from wingpath.model.spec_lighten import FreedomSpec, TargetsSpec
from wingpath.model.spec_printing import FilamentRef, PrinterRef, PrintSpec
from wingpath.model.spec_problems import spec_problems
from wingpath.model.spec_ribs import RibsSpec
from wingpath.model.windows import LEAST_HALF_BEADS, WHOLE_BEADS, Windows

__all__ = [
    "AircraftSpec",
    "CompareSpec",
    "FreedomSpec",
    "ItemSpec",
    "PanelsSpec",
    "RibsSpec",
    "SlotsSpec",
    "Spec",
    "StationSpec",
    "TargetsSpec",
    "WingSpec",
    "spec_from_dict",
]

NECK_BEADS = 1.7
"""Default neck in bead widths: over 1 the path holds together, under 2 the rib touches the far skin."""

TRAILING_EDGE_BEADS = 2.0
"""Default least thickness of the trailing edge in bead widths: one bead out, one bead back."""

HOLDING_SIZES = 5.0
"""A tube that reaches less than this many of its sizes into the wing holds nothing: judgement."""

AT_ROOT_MM = 1.0
"""A tube that begins this close to the root goes on into the fuselage [mm]."""

MOST_STATIONS = 200
MOST_FITTINGS = 50


class StationSpec(SpecTable):
    """A place along the span where chord, airfoil and twist are given; the root comes first."""

    span_mm: Number = Field(ge=0, le=5000, description="distance from the root, 0 for the first station")
    chord_mm: Number = Field(ge=20, le=1000, description="chord of the section")
    leading_edge_mm: Number = Field(
        default=0.0, ge=-2000, le=2000, description="leading edge aft of the root leading edge"
    )
    twist_deg: Number = Field(
        default=0.0, ge=-20, le=20, description="twist about the quarter chord, nose up positive"
    )
    airfoil: str = Field(
        default="naca2412",
        min_length=1,
        max_length=200,
        description="a profile name, a NACA 4- or 5-digit designation, or the path of a .dat file",
    )


class WingSpec(SpecTable):
    """The wing as a whole."""

    hand: Literal["left", "right", "both"] = Field(default="both", description="which half wings to write")
    trailing_edge_mm: Number | None = Field(
        default=None,
        ge=0.2,
        le=5,
        description="least thickness of the trailing edge; left out: 2 bead widths",
    )
    tip: Literal["closed", "open"] = Field(default="closed", description="whether the tip is closed by skin")
    root: Literal["held", "clamped"] | None = Field(
        default=None,
        description="how the root is joined: held by tubes and tongues, or clamped with its skins glued all "
        "round; left out: held if a tube begins there",
    )


class SlotsSpec(SpecTable):
    """The thin cuts whose two beads fuse into a rib."""

    width_mm: Number = Field(default=0.06, ge=0.005, le=0.5, description="width inside a layer")
    neck_mm: Number | None = Field(
        default=None,
        ge=0.2,
        le=2.4,
        description="solid left between the end of a slot and the far skin; left out: 1.7 bead widths",
    )
    weld_spacing_mm: Number | None = Field(
        default=None,
        ge=0,
        le=1000,
        description="distance along a slot between places where its two beads are fused; 0: fused all along; "
        "left out: not known, results are shown for fused, partly fused and open",
    )


class PanelsSpec(SpecTable):
    """Where the half wing is split into printed pieces."""

    joints_mm: tuple[Number, ...] | None = Field(
        default=None,
        max_length=MOST_FITTINGS,
        description="places of the joints along the span; left out: fewest panels that fit the printer, "
        "an empty list: one panel",
    )
    glue_mm: Number = Field(default=0.15, ge=0, le=2, description="thickness of the glue line in joints")


class Spec(SpecTable):
    """A wing as its maker describes it."""

    format: Literal[1] = Field(default=1, description="version of this file format")
    name: str = Field(
        default="wing",
        min_length=1,
        max_length=80,
        pattern=ONE_LINE,
        description="name of the aircraft",
    )
    aircraft: AircraftSpec | None = Field(
        default=None, description="what the loads are worked out from; left out: no loads"
    )
    stations: tuple[StationSpec, ...] = Field(
        alias="station",
        min_length=2,
        max_length=MOST_STATIONS,
        description="sections of the wing, root first",
    )
    wing: WingSpec = Field(default=WingSpec(), description="the wing as a whole")
    ribs: RibsSpec = Field(default=RibsSpec(), description="the printed ribs")
    slots: SlotsSpec = Field(default=SlotsSpec(), description="the cuts that become ribs")
    spar_webs: tuple[SparWebSpec, ...] = Field(
        default=(), alias="spar_web", max_length=MOST_FITTINGS, description="printed ribs along the span"
    )
    tubes: tuple[TubeSpec, ...] = Field(
        default=(), alias="tube", max_length=MOST_FITTINGS, description="bought tubes in printed bores"
    )
    tabs: tuple[TabSpec, ...] = Field(
        default=(), alias="tab", max_length=MOST_FITTINGS, description="slots for root tongues"
    )
    ducts: tuple[DuctSpec, ...] = Field(
        default=(), alias="duct", max_length=MOST_FITTINGS, description="passages for servo leads"
    )
    servo_bays: tuple[ServoBaySpec, ...] = Field(
        default=(), alias="servo_bay", max_length=MOST_FITTINGS, description="pockets for servos"
    )
    plate_bays: tuple[PlateBaySpec, ...] = Field(
        default=(), alias="plate_bay", max_length=MOST_FITTINGS, description="pockets for glued-in plates"
    )
    ailerons: tuple[AileronSpec, ...] = Field(
        default=(), alias="aileron", max_length=MOST_FITTINGS, description="control surfaces"
    )
    pins: tuple[PinSpec, ...] = Field(
        default=(), alias="pin", max_length=MOST_FITTINGS, description="alignment pins across joints"
    )
    items: tuple[ItemSpec, ...] = Field(
        default=(),
        alias="item",
        max_length=MOST_FITTINGS,
        description="things in one half wing that are not printed",
    )
    compare: CompareSpec = Field(default=CompareSpec(), description="the same wing made otherwise")
    targets: TargetsSpec = Field(default=TargetsSpec(), description="what a lighter wing still has to do")
    freedom: FreedomSpec = Field(
        default=FreedomSpec(), description="what may change in the search for a lighter wing"
    )
    panels: PanelsSpec = Field(default=PanelsSpec(), description="where the wing is split")
    printer: PrinterRef = Field(default=PrinterRef(), description="the printer")
    filament: FilamentRef = Field(default=FilamentRef(), description="the filament")
    print: PrintSpec = Field(default=PrintSpec(), description="how the bead is laid")

    @model_validator(mode="after")
    def _keys_agree(self) -> Spec:
        problems = contradictions(self)
        if problems:
            raise SpecError(A_SPEC, problems)
        return self

    @property
    def held_by_tube(self) -> bool:
        """Whether a tube begins at the root and reaches far enough into the wing to hold it."""
        # worded so that what is not known counts as held
        return any(
            not (
                tube.from_mm > AT_ROOT_MM or tube.to_mm < HOLDING_SIZES * max(tube.size_x_mm, tube.size_y_mm)
            )
            for tube in self.tubes
        )

    @property
    def bead_mm(self) -> float:
        """Width of the bead [mm]."""
        return self.print.bead_mm

    @property
    def neck_mm(self) -> float:
        """Solid left between the end of a slot and the far skin [mm]."""
        return NECK_BEADS * self.bead_mm if self.slots.neck_mm is None else self.slots.neck_mm

    def windows(self, *, rise: float) -> Windows | None:
        """Return the lightening windows of the ribs, None without any.

        Parameters
        ----------
        rise : float
            Slope of their ends: tan of the overhang limit.
        """
        if self.ribs.stub_mm is None or self.ribs.run != "both":
            return None
        return Windows(
            self.ribs.stub_mm,
            rise=rise,
            whole_mm=WHOLE_BEADS * self.bead_mm,
            least_half_mm=LEAST_HALF_BEADS * self.bead_mm,
        )

    @property
    def least_pitch_mm(self) -> float:
        """The least pitch of ribs anywhere along the half wing [mm]."""
        span = self.semi_span_mm
        places = [0.0, span, *(min(place, span) for place, _ in self.ribs.pitch_along_mm or ())]
        return float(self.ribs.pitch_at_mm(places).min())

    @property
    def trailing_edge_mm(self) -> float:
        """Least thickness of the trailing edge [mm]."""
        given = self.wing.trailing_edge_mm
        return TRAILING_EDGE_BEADS * self.bead_mm if given is None else given

    @property
    def semi_span_mm(self) -> float:
        """Span of one half wing: the place of the last station [mm]."""
        return self.stations[-1].span_mm


def spec_from_dict(data: Mapping[str, Any], *, source: str = "spec") -> Spec:
    """Validate plain data, as a TOML file holds it.

    Parameters
    ----------
    data : mapping
        Tables and keys by the names they have in a file (``station``, not ``stations``).
    source : str
        Where the data came from, for messages.

    Raises
    ------
    SpecError
        With every unknown key, wrong type, value out of range and contradiction.
    """
    try:
        spec = Spec.model_validate(data)
    except ValidationError as error:
        problems = spec_problems(Spec, data, error.errors(include_url=False))
        raise SpecError(source, problems) from None
    stray = spec_problems(Spec, data, ())
    if stray:
        raise SpecError(source, stray)
    return spec
