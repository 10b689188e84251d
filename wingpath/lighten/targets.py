"""What a lighter wing has to hold, and how near a wing comes to it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any, Literal

from wingpath.core.errors import InputError
from wingpath.lighten.measures import Measures
from wingpath.model.spec import Spec
from wingpath.pipeline.aeroelastics import SPEED_MARGIN
from wingpath.pipeline.assess_findings import FAR_SHARE

__all__ = ["HELD_BY_TARGETS", "MARGIN_TITLE", "Stop", "Target", "Targets", "numbers_of", "targets_of"]

Sense = Literal["most", "least"]

HELD_BY_TARGETS = frozenset({"wrinkles", "bends-far"})
"""Warnings that speak of what targets hold: they stop nothing by themselves."""

HANDLING_N = 5.0
"""Whoever carries a wing may press so much on the trailing edge of the tip, its nose held: judgement [N]."""

STIFFNESS = frozenset(
    {"tip_deflection_mm", "twist_deg_per_n_m", "first_buckling_load_factor", "buckling_torque_n_m"}
)
"""What a wing that is no worse than the drawn one has to keep. The speed at which it twists off is held to
what the aircraft asks: most wings are far beyond it, and what stiffness they have counts as twist."""

ROUNDING = 1e-6
"""A share this much over 1 still meets its target: figures are kept to seven digits."""


@dataclass(frozen=True, slots=True)
class Target:
    """One number that has to hold.

    Parameters
    ----------
    key : str
        Which: ``tip_deflection_mm``, ``twist_deg_per_n_m``, ``divergence_m_s``,
        ``first_buckling_load_factor``, ``buckling_torque_n_m``, ``mass_g``, ``strength``.
    title, unit : str
        For people.
    sense : {"most", "least"}
        Whether the value is the most or the least that is allowed.
    value : float
        The value.
    origin : str
        Where it comes from, in words.
    """

    key: str
    title: str
    unit: str
    sense: Sense
    value: float
    origin: str

    def share(self, number: float) -> float:
        """Return how much of the target is used: over 1 it is missed."""
        if self.sense == "most":
            return abs(number) / self.value
        return math.inf if number <= 0.0 else self.value / number

    def as_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return asdict(self)

    @property
    def called(self) -> str:
        """What people call it: strength is told as the margin that `assess` tells, not as a share."""
        title = MARGIN_TITLE if self.key == "strength" else self.title
        return f"{title}, {self.unit}" if self.unit else title

    @property
    def asked(self) -> str:
        """What is asked, in words."""
        if self.key == "strength":
            return f"at least {_margin(self.value):.3g}"
        return f"at {self.sense} {self.value:.3g} {self.unit}".rstrip()

    @property
    def bound(self) -> str:
        """What is asked, as a sign and a number."""
        if self.key == "strength":
            return f">= {_margin(self.value):.3g}"
        return f"{'<=' if self.sense == 'most' else '>='} {self.value:.3g}"

    def told(self, number: float | None) -> str:
        """Return a number of it as people read it."""
        if number is None:
            return "-"
        if self.key == "strength":
            return f"{_margin(number):+.2f}"
        return f"{abs(number):.0f}" if abs(number) >= 1000.0 else f"{abs(number):.3g}"


MARGIN_TITLE = "least margin of strength at 1.5 x limit"
"""What the target of strength is called where people read it."""


def _margin(share: float) -> float:
    """Return the margin of a demand over its allowable: 0 just holds."""
    return 1.0 / share - 1.0


@dataclass(frozen=True, slots=True)
class Stop:
    """What keeps a wing from being taken: a target, or what its build or assessment calls an error.

    Parameters
    ----------
    key : str
        Of the target, or the code of the finding.
    words : str
        In words, with numbers.
    share : float
        How much of the target is used; infinite for what no number tells.
    """

    key: str
    words: str
    share: float


_TITLES: dict[str, tuple[str, str, Sense]] = {
    "tip_deflection_mm": ("tip deflection at the limit load", "mm", "most"),
    "twist_deg_per_n_m": ("twist", "deg per N m", "most"),
    "divergence_m_s": ("speed at which it twists off", "m/s", "least"),
    "first_buckling_load_factor": ("load factor at the first wrinkle", "", "least"),
    "buckling_torque_n_m": ("first wrinkle in twist", "N m", "least"),
    "mass_g": ("mass of a half wing", "g", "most"),
    "strength": ("demand over allowable at 1.5 times the limit, 1 / (1 + margin)", "", "most"),
}


@dataclass(frozen=True, slots=True)
class Targets:
    """All that has to hold.

    Parameters
    ----------
    targets : tuple of Target
        The numbers.
    warned : tuple of str
        Codes of warnings that the wing as drawn has: a lighter one may have these and no others.
    """

    targets: tuple[Target, ...]
    warned: tuple[str, ...] = ()

    def shares(self, measures: Measures) -> dict[str, float]:
        """Return how much of each target is used; infinite where the number is not known."""
        numbers = numbers_of(measures)
        found = {}
        for target in self.targets:
            number = numbers[target.key]
            unknown = math.inf if target.key not in ("divergence_m_s", "strength") else 0.0
            found[target.key] = unknown if number is None else target.share(number)
        return found

    def barred(self, measures: Measures) -> bool:
        """Return whether something stands against a wing that no number can outweigh."""
        return any(stop.share == math.inf for stop in self.stops(measures))

    def sound(self, measures: Measures) -> bool:
        """Return whether a wing prints and is strong enough, however soft it is."""
        stops = self.stops(measures)
        return not any(stop.share == math.inf or stop.key == "strength" for stop in stops)

    def worst(self, measures: Measures) -> float:
        """Return the greatest share of any target; infinite where an error stands against the wing."""
        if self.barred(measures):
            return math.inf
        return max(self.shares(measures).values(), default=0.0)

    def met(self, measures: Measures) -> bool:
        """Return whether everything holds."""
        return not self.stops(measures)

    def stops(self, measures: Measures) -> tuple[Stop, ...]:
        """Return what stops a wing, worst first."""
        found = [*self._missed(measures), *self._said(measures)]
        return tuple(sorted(found, key=lambda stop: (-stop.share, stop.key)))

    def _missed(self, measures: Measures) -> Iterator[Stop]:
        numbers, shares = numbers_of(measures), self.shares(measures)
        for target in self.targets:
            share = shares[target.key]
            if share <= 1.0 + ROUNDING:
                continue
            number = numbers[target.key]
            if number is None:
                yield Stop(target.key, f"{target.title} could not be found; {target.asked} asked", share)
                continue
            what = f"{measures.strength_place}: margin" if target.key == "strength" else target.title
            unit = f" {target.unit}" if target.unit else ""
            yield Stop(target.key, f"{what} {target.told(number)}{unit}, {target.asked} asked", share)

    def _said(self, measures: Measures) -> Iterator[Stop]:
        for code, words in zip(measures.errors, measures.said, strict=True):
            # margins that are broken are told by the target of strength
            if code != "broken-margin":
                yield Stop(code, words, math.inf)
        for code in measures.warnings:
            if code not in self.warned and code not in HELD_BY_TARGETS:
                yield Stop(code, f"a warning '{code}' that the wing as drawn does not have", math.inf)


def _torque(spec: Spec, drawn: Measures) -> tuple[float, str]:
    """Return the torque that a tip has to bear: in flight, or in the hands of who carries and mounts it."""
    flight, handled = drawn.case_torque_n_m or 0.0, HANDLING_N * spec.stations[-1].chord_mm / 1000.0
    if flight >= handled:
        return flight, "greatest torque of the load cases"
    return handled, f"handling: {HANDLING_N:g} N at the tip's trailing edge, judgement"


def numbers_of(measures: Measures) -> dict[str, float | None]:
    """Return the numbers that targets are held against, by their keys."""
    return {
        "tip_deflection_mm": measures.tip_mm,
        "twist_deg_per_n_m": measures.twist_deg_per_n_m,
        "divergence_m_s": measures.divergence_m_s,
        "first_buckling_load_factor": measures.first_buckling_g,
        "buckling_torque_n_m": measures.buckling_torque_n_m,
        "mass_g": measures.mass_g,
        "strength": measures.strength_share,
    }


def targets_of(spec: Spec, drawn: Measures, *, no_worse: bool = False) -> Targets:
    """Return what a lighter wing than the one drawn has to hold.

    Parameters
    ----------
    spec : Spec
        The wing as drawn, with ``[targets]``.
    drawn : Measures
        Its measures.
    no_worse : bool
        Whether what the spec does not tell has to be as good as it is drawn.

    Raises
    ------
    InputError
        When nothing has to hold.
    """
    given = spec.targets
    aircraft = spec.aircraft
    found: list[Target] = []

    def add(key: str, value: float | None, origin: str) -> None:
        if value is not None and value > 0.0:
            title, unit, sense = _TITLES[key]
            found.append(Target(key, title, unit, sense, float(value), origin))

    own = numbers_of(drawn)
    silent: dict[str, tuple[float | None, str]] = {}
    if aircraft is not None:
        silent = {
            "tip_deflection_mm": (FAR_SHARE * spec.semi_span_mm, "a tenth of the half span, judgement"),
            "divergence_m_s": (SPEED_MARGIN * aircraft.max_speed_m_s, f"{SPEED_MARGIN:g} x max_speed_m_s"),
            "first_buckling_load_factor": (aircraft.load_factor, "aircraft.load_factor"),
            "buckling_torque_n_m": _torque(spec, drawn),
        }
    if no_worse or aircraft is None:
        as_drawn = {
            key: (None if number is None else abs(number), "as drawn")
            for key, number in own.items()
            if key in STIFFNESS and number is not None
        }
        silent |= as_drawn
    set_in_spec = {
        "tip_deflection_mm": given.tip_deflection_mm,
        "twist_deg_per_n_m": given.twist_deg_per_n_m,
        "divergence_m_s": None
        if given.divergence_margin is None or aircraft is None
        else given.divergence_margin * aircraft.max_speed_m_s,
        "first_buckling_load_factor": given.first_buckling_load_factor,
        "buckling_torque_n_m": given.buckling_torque_n_m,
        "mass_g": given.mass_g,
    }
    loadless = {"tip_deflection_mm", "divergence_m_s", "first_buckling_load_factor"}
    if aircraft is None:
        asked = [
            name
            for name, value in (
                ("tip_deflection_mm", given.tip_deflection_mm),
                ("divergence_margin", given.divergence_margin),
                ("first_buckling_load_factor", given.first_buckling_load_factor),
            )
            if value is not None
        ]
        if asked:
            raise InputError(
                f"targets.{asked[0]}: got it in a spec without [aircraft]; allowed: with it, as the loads "
                "come from there. Add [aircraft] with all_up_mass_g, load_factor and max_speed_m_s, or leave "
                "the target out"
            )
    for key, value in set_in_spec.items():
        if value is not None:
            add(key, value, "[targets]" if key != "divergence_m_s" else "targets.divergence_margin")
        elif key in silent and not (aircraft is None and key in loadless):
            add(key, *silent[key])
    if aircraft is not None:
        add("strength", 1.0, "margins of strength")
    if not found:
        raise InputError(
            "targets: got none, and the spec has no [aircraft] to work them out from; allowed: at least one. "
            "Add [aircraft] or [targets]"
        )
    return Targets(tuple(found), drawn.warnings)
