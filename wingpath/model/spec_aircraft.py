"""The tables of a spec that describe the aircraft round the wing: loads, things on board, other builds."""

from __future__ import annotations

from pydantic import Field

from wingpath.model.spec_base import ONE_LINE, Number, SpecTable

__all__ = ["AircraftSpec", "CompareSpec", "ItemSpec"]


class AircraftSpec(SpecTable):
    """What the loads are worked out from."""

    all_up_mass_g: Number = Field(ge=1, le=100_000, description="mass of the whole aircraft, ready to fly")
    load_factor: Number = Field(
        default=6.0, ge=1, le=100, description="limit load factor, in multiples of the weight"
    )
    max_speed_m_s: Number = Field(default=25.0, ge=1, le=150, description="highest speed flown")
    max_lift_coefficient: Number = Field(
        default=1.1, ge=0.3, le=3, description="lift coefficient at which the wing stalls"
    )
    gust_m_s: Number = Field(
        default=3.0, ge=0, le=30, description="speed of an upward gust that is met at the highest speed"
    )
    landing_factor: Number = Field(
        default=3.0,
        ge=0,
        le=20,
        description="load factor of a hard landing or a hand launch, in multiples of the weight",
    )
    altitude_m: Number = Field(
        default=0.0, ge=-400, le=5000, description="height above sea level at which it flies"
    )


class ItemSpec(SpecTable):
    """Something in one half wing that is not printed: a servo, a lead, a horn, paint."""

    name: str = Field(min_length=1, max_length=60, pattern=ONE_LINE, description="what it is")
    mass_g: Number = Field(ge=0, le=10_000, description="its mass in one half wing")
    span_mm: Number = Field(ge=0, le=5000, description="place of its middle along the span from the root")
    chord_fraction: Number = Field(
        default=0.3, ge=0, le=1, description="place of its middle along the chord, as a fraction of the chord"
    )


class CompareSpec(SpecTable):
    """The same wing made otherwise, to weigh the printed one against; nothing given: no comparison."""

    skin_g_dm2: Number | None = Field(
        default=None, ge=0.1, le=100, description="mass of a moulded or covered skin by its area"
    )
    core_g_cm3: Number | None = Field(default=None, ge=0.005, le=1, description="density of a foam core")
