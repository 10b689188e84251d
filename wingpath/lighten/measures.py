"""What one wing weighs and bears, as plain numbers that can be kept in a file and compared."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from wingpath.pipeline.assess_findings import assess_findings
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.shell_solving import NOSE_DOWN, NOSE_UP

__all__ = ["DIGITS", "Measures", "Place", "digits", "measures_from_dict", "measures_of"]

DIGITS = 7
"""Digits that are kept: what differs below comes from the order in which a machine adds up."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the skin wrinkles first.

    Parameters
    ----------
    part : str
        Which skin or wall.
    span_mm : float
        Place along the span [mm].
    """

    part: str
    span_mm: float


@dataclass(frozen=True, slots=True)
class Measures:
    """What the shell model and the scales say of one built wing.

    Parameters
    ----------
    mass_g, printed_mass_g : float
        Half wing, and what is printed of it [g].
    skin_g, ribs_g, webs_g, fittings_g : float
        What the printed mass is laid for [g].
    twist_deg_per_n_m : float
        Twist of the tip under a torque there [deg/(N m)].
    tip_mm : float or None
        Deflection at the limit load; None without loads [mm].
    first_buckling_g : float or None
        Load factor of the first wrinkle under lift; None where there is none to tell.
    torque_up_n_m, torque_down_n_m : float or None
        Torque at the tip of the first wrinkle, nose up and nose down [N m].
    divergence_m_s : float or None
        Speed at which the wing twists off; None where there is none, or no loads [m/s].
    strength_share : float or None
        Greatest of demand over allowable, at 1.5 times the limit load; None without loads.
    strength_place : str
        What that is.
    case_torque_n_m : float or None
        Greatest torque at the root in the load cases, either way [N m].
    first_place : Place or None
        Where the first wrinkle under lift is.
    errors, warnings : tuple of str
        Codes of findings of the build and the assessment, each once.
    said : tuple of str
        The errors in words, the first of each code, in the order of `errors`.
    """

    mass_g: float
    printed_mass_g: float
    skin_g: float
    ribs_g: float
    webs_g: float
    fittings_g: float
    twist_deg_per_n_m: float
    tip_mm: float | None = None
    first_buckling_g: float | None = None
    torque_up_n_m: float | None = None
    torque_down_n_m: float | None = None
    divergence_m_s: float | None = None
    strength_share: float | None = None
    strength_place: str = ""
    case_torque_n_m: float | None = None
    first_place: Place | None = None
    errors: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    said: tuple[str, ...] = ()

    @property
    def buckling_torque_n_m(self) -> float | None:
        """The lower of both torques of the first wrinkle [N m]; None where one of them is not known."""
        if self.torque_up_n_m is None or self.torque_down_n_m is None:
            return None
        return min(self.torque_up_n_m, self.torque_down_n_m)

    def as_dict(self) -> dict[str, Any]:
        """Return plain data, as JSON holds it."""
        return asdict(self)


def measures_of(one: Assessment) -> Measures:
    """Return the measures of an assessed wing.

    Parameters
    ----------
    one : Assessment
        The wing.
    """
    findings = assess_findings(one)
    broken = [finding for finding in findings if finding.severity == "error"]
    # of several findings of one code the first, which is the worst, speaks for it
    words = {finding.code: finding.message for finding in reversed(broken)}
    shares, state = one.weights.shares, one.solved
    loaded = one.limits is not None
    first = state.buckling.get("limit")
    up, down = state.buckling.get(NOSE_UP), state.buckling.get(NOSE_DOWN)
    worst = min(one.margins, key=lambda margin: margin.value, default=None)
    axis = one.twist_axis_mm
    torques = [abs(float(case.loads.torque_n_mm(0.0, axis))) / 1000.0 for case in one.cases]
    diverges = None if one.aeroelastics is None else one.aeroelastics.divergence_m_s
    return Measures(
        mass_g=digits(one.weights.mass_g),
        printed_mass_g=digits(one.weights.printed_mass_g),
        skin_g=digits(shares.skin_g),
        ribs_g=digits(shares.ribs_g),
        webs_g=digits(shares.webs_g),
        fittings_g=digits(shares.fittings_g),
        twist_deg_per_n_m=digits(state.twist_deg_per_n_m),
        tip_mm=_maybe(one.limit_tip_mm(state)),
        first_buckling_g=None
        if first is None or one.limits is None
        else digits(first.factor * one.limits.load_factor),
        torque_up_n_m=None if up is None else digits(up.factor),
        torque_down_n_m=None if down is None else digits(down.factor),
        divergence_m_s=None if diverges is None or math.isinf(diverges) else digits(diverges),
        strength_share=None if worst is None else digits(1.0 / max(1.0 + worst.value, 1e-9)),
        strength_place="" if worst is None else worst.title,
        case_torque_n_m=digits(max(torques)) if loaded and torques else None,
        first_place=None if first is None else Place(first.part, digits(first.z_mm)),
        errors=tuple(sorted(words)),
        warnings=tuple(sorted({finding.code for finding in findings if finding.severity == "warning"})),
        said=tuple(words[code] for code in sorted(words)),
    )


def measures_from_dict(data: Mapping[str, Any]) -> Measures:
    """Return measures from plain data.

    Raises
    ------
    KeyError, TypeError, ValueError
        When it is not what :meth:`Measures.as_dict` gives.
    """
    known = {field.name for field in fields(Measures)}
    values = {key: value for key, value in data.items() if key in known}
    place = values.get("first_place")
    values["first_place"] = None if place is None else Place(str(place["part"]), float(place["span_mm"]))
    for key in ("errors", "warnings", "said"):
        values[key] = tuple(str(item) for item in values.get(key, ()))
    if len(values["said"]) != len(values["errors"]):
        raise ValueError(f"said: {len(values['said'])} sentences for {len(values['errors'])} errors")
    for key, value in values.items():
        if key not in ("errors", "warnings", "said", "first_place", "strength_place") and not (
            value is None or isinstance(value, int | float)
        ):
            raise ValueError(f"{key}: {value!r} is no number")
    return Measures(**values)


def _maybe(value: float | None) -> float | None:
    return None if value is None else digits(value)


def digits(value: float) -> float:
    """Return a number with the digits that are kept."""
    return float(f"{float(value):.{DIGITS}g}")
