"""Coupons with known hidden values, measured with tools that are off by what they are said to be off."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from wingpath.core.units import GRAVITY_M_S2
from wingpath.model.measurements import Measurements, measurements_from_dict
from wingpath.tune.cantilever import droop_share_of_load
from wingpath.tune.coupon_plan import CouponPlan, coupon_plan
from wingpath.tune.estimates import COVERAGE_FACTOR

PLAN = coupon_plan(nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25)
FILAMENT_MM3 = 2054.56
"""What goes into the coupon at flow 0.5 [mm3]."""

PRINT_SCATTER = 0.01
"""Mass from print to print, as the calibration takes it."""

SIZE_SCATTER_MM = 0.02
"""A drawn height against the printed one, as the calibration takes it [mm]."""

TOOLS = {"calliper_mm": 0.03, "scale_g": 0.03, "hung_g": 0.05, "length_mm": 0.5, "droop_mm": 0.3}


@dataclass(frozen=True)
class Hidden:
    """What is true of a filament on a printer, and nobody knows."""

    density: float = 1.22
    ratio: float = 2.35
    modulus: float = 520.0
    bond_extra: float = 0.005
    push: float = 0.12
    slide: float = 0.26
    loose: float = 0.43
    tab: float = 0.17
    lean: float = 52.0
    temperature_c: float = 230.0
    flow: float = 0.5
    roughness_mm: float = 0.012
    plan: CouponPlan = field(default=PLAN, repr=False)

    @property
    def wall(self) -> float:
        return self.plan.bead_mm * self.flow * self.ratio

    @property
    def slot(self) -> float:
        """Widest slot that fuses."""
        return self.wall - self.plan.bead_mm + self.bond_extra

    @property
    def strip(self) -> float:
        return self.plan.bead_mm + self.wall


def first_at_least(row: list[float], limit: float) -> int:
    """Return the number of the first step that is wide enough; 0 for none."""
    return next((number for number, size in enumerate(row, start=1) if size >= limit), 0)


def last_at_most(row: list[float], limit: float) -> int:
    return sum(size <= limit for size in row)


def measured(hidden: Hidden, random: np.random.Generator | None, *, masses: int = 2) -> dict[str, Any]:
    """Return one `[[coupon]]` as somebody would fill it in; without `random` every tool is perfect."""
    plan = hidden.plan

    def off(sigma: float) -> float:
        return 0.0 if random is None else float(random.normal(0.0, sigma))

    calliper = off(TOOLS["calliper_mm"] / COVERAGE_FACTOR)
    ruler = off(TOOLS["length_mm"] / COVERAGE_FACTOR)

    def walls(true: float) -> list[float]:
        return [true + calliper + off(hidden.roughness_mm) for _ in range(4)]

    volume = FILAMENT_MM3 * hidden.flow / 0.5
    mass = hidden.density * volume / 1000.0 * (1.0 + off(PRINT_SCATTER))
    height = plan.height_mm + off(SIZE_SCATTER_MM)
    inertia = height * hidden.strip**3 / 12.0
    droops = []
    for number in range(masses):
        length = 60.0
        share = 0.06 + 0.08 * number
        force = 3.0 * share * hidden.modulus * inertia / length**2
        hung = force / (1e-3 * GRAVITY_M_S2)
        droop = length * droop_share_of_load(force * length**2 / (hidden.modulus * inertia))
        droops.append(
            {
                "mass_g": hung + off(TOOLS["hung_g"] / COVERAGE_FACTOR),
                "length_mm": length + ruler,
                "droop_mm": droop + off(TOOLS["droop_mm"] / COVERAGE_FACTOR),
            }
        )
    slots = [step.size_mm for step in plan.slots]
    bores = [step.size_mm for step in plan.bores]
    tabs = [step.size_mm for step in plan.tabs]
    # a person's verdict is off by a part of a step
    grade = slots[1] - slots[0]
    verdict = 0.3
    fits = sorted(
        first_at_least(bores, limit + off(verdict * 0.1)) or 99
        for limit in (hidden.push, hidden.slide, hidden.loose)
    )
    push, slide, loose = (0 if number == 99 else number for number in fits)
    return {
        "temperature_c": hidden.temperature_c,
        "flow": hidden.flow,
        "filament_mm3": volume,
        "mass_g": mass + off(TOOLS["scale_g"] / COVERAGE_FACTOR),
        "wall_mm": walls(hidden.wall),
        "slot_fused": last_at_most(slots, hidden.slot + off(verdict * grade)),
        "bore_push": push,
        "bore_slide": slide,
        "bore_loose": loose,
        "tab_slide": first_at_least(tabs, hidden.tab + off(verdict * 0.1)),
        "lean_clean": last_at_most(list(plan.leans_deg), hidden.lean + off(verdict * 5.0)),
        "strip_mm": walls(hidden.strip),
        "droop": droops,
    }


def file_of(*coupons: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Return a whole file of measurements as plain data."""
    plan = PLAN
    return {
        "format": 1,
        "name": "white-spool",
        "base_profile": "foaming-pla",
        "date": "2026-05-31",
        "printer": "the old one by the window",
        "spool": "white, second spool",
        "printed": {
            "nozzle_mm": plan.nozzle_mm,
            "bead_mm": plan.bead_mm,
            "layer_mm": plan.layer_mm,
            "tube_mm": plan.tube_mm,
            "tab_mm": plan.tab_mm,
            "slots_mm": [step.size_mm for step in plan.slots],
            "bores_mm": [step.size_mm for step in plan.bores],
            "tabs_mm": [step.size_mm for step in plan.tabs],
            "leans_deg": list(plan.leans_deg),
            "strip_height_mm": plan.height_mm,
        },
        "tools": dict(TOOLS),
        "coupon": list(coupons),
    } | changes


def readings(*coupons: dict[str, Any], **changes: Any) -> Measurements:
    """Return the same, validated."""
    return measurements_from_dict(file_of(*coupons, **changes), source="measurements")


def covers(low: float, high: float, value: float) -> bool:
    return low <= value <= high and math.isfinite(low + high)
