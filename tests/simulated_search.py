"""A search space whose truth is a formula: thousands of candidates in a moment, brute force included."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Any

from wingpath.lighten.freedom import Candidate, Freedom, freedom_of
from wingpath.lighten.judging import Guess, Judgement
from wingpath.lighten.measures import Measures, digits
from wingpath.model.profiles import FilamentProfile, PrinterProfile
from wingpath.model.spec import Spec, spec_from_dict

SPEC: dict[str, Any] = {
    "name": "Sedge 900",
    "aircraft": {"all_up_mass_g": 900.0, "load_factor": 6.0, "max_speed_m_s": 25.0},
    "station": [
        {"span_mm": 0.0, "chord_mm": 180.0, "airfoil": "naca2412"},
        {"span_mm": 450.0, "chord_mm": 150.0, "airfoil": "naca2412"},
    ],
    "targets": {"tip_deflection_mm": 30.0, "twist_deg_per_n_m": 6.0, "buckling_torque_n_m": 1.0},
    "freedom": {
        "pitch_mm": [20.0, 60.0],
        "pitch_step_mm": 5.0,
        "tip_pitch": [0.8, 1.0, 1.4, 2.0],
        "angle_deg": [40.0, 45.0],
        "bead_mm": [0.4, 0.45, 0.5],
        "webs": 0,
    },
}


def freedom_from(filament: FilamentProfile, printer: PrinterProfile, **tables: Any) -> Freedom:
    spec: Spec = spec_from_dict({**SPEC, **tables})
    return freedom_of(spec, filament=filament, printer=printer, materials=(), root_mm=0.0)


@dataclass
class Formula:
    """Truth by a formula, guesses that are off by a factor that depends on the candidate."""

    freedom: Freedom
    error: float = 0.3
    guessed: int = 0
    judged: list[Candidate] = field(default_factory=list)

    def numbers(self, candidate: Candidate) -> dict[str, float]:
        value = self.freedom.value
        run = value(candidate, "run")
        families = {"both": 2.0, "aft": 1.0, "forward": 1.0, "none": 0.0}[run]
        pitch = float(value(candidate, "pitch"))
        tip, bead = float(value(candidate, "tip pitch")), float(value(candidate, "bead"))
        angle = float(value(candidate, "angle"))
        ribs = families * 1100.0 * bead / (pitch * math.sqrt(tip)) * (1.0 + 0.002 * abs(angle - 45.0))
        skin = 110.0 * bead
        stiff = bead / 0.45
        bay = pitch * math.sqrt(tip) if families else 90.0
        crossed = families == 2.0
        return {
            "mass_g": skin + ribs,
            "tip_deflection_mm": 24.0 / stiff / (1.0 + 0.004 * ribs),
            "twist_deg_per_n_m": 5.6 / stiff / (1.0 + 0.01 * ribs),
            "first_buckling_load_factor": 9.0 * stiff**2 * (30.0 / bay) ** 1.5 * (1.3 if crossed else 1.0),
            "buckling_torque_n_m": 1.1 * stiff**3 * (30.0 / bay) ** 2 * (3.5 if crossed else 1.0),
        }

    def guess(self, candidates: list[Candidate]) -> list[Guess]:
        self.guessed += len(candidates)
        found = []
        for candidate in candidates:
            truth = self.numbers(candidate)
            row = self.freedom.features(candidate)
            off = math.exp(self.error * (0.8 + math.sin(float(row.sum()))))
            found.append(
                Guess(
                    mass_g=truth["mass_g"] * 1.04,
                    tip_deflection_mm=truth["tip_deflection_mm"] / (1.0 + 0.1 * off),
                    twist_deg_per_n_m=truth["twist_deg_per_n_m"] * 0.9,
                    first_buckling_load_factor=truth["first_buckling_load_factor"] * off,
                    buckling_torque_n_m=truth["buckling_torque_n_m"] / off,
                )
            )
        return found

    def judge(self, candidates: list[Candidate]) -> list[Judgement]:
        self.judged += candidates
        return [Judgement(self.measures(candidate)) for candidate in candidates]

    def measures(self, candidate: Candidate) -> Measures:
        truth = {key: digits(value) for key, value in self.numbers(candidate).items()}
        return Measures(
            mass_g=truth["mass_g"],
            printed_mass_g=truth["mass_g"],
            skin_g=0.0,
            ribs_g=0.0,
            webs_g=0.0,
            fittings_g=0.0,
            twist_deg_per_n_m=truth["twist_deg_per_n_m"],
            tip_mm=truth["tip_deflection_mm"],
            first_buckling_g=truth["first_buckling_load_factor"],
            torque_up_n_m=truth["buckling_torque_n_m"],
            torque_down_n_m=1.1 * truth["buckling_torque_n_m"],
            divergence_m_s=90.0 / math.sqrt(truth["twist_deg_per_n_m"]),
            strength_share=0.5,
            case_torque_n_m=0.2,
        )


def every_candidate(freedom: Freedom) -> set[Candidate]:
    """The whole grid, alike candidates once."""
    ranges = (range(len(dimension.values)) for dimension in freedom.dimensions)
    return {freedom.canonical(candidate) for candidate in itertools.product(*ranges)}
