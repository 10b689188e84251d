"""What a search has to tell: the front, what each kind of rib bought, what stopped lighter wings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from wingpath.lighten.freedom import Candidate
from wingpath.lighten.judging import Judgement
from wingpath.lighten.measures import Measures
from wingpath.lighten.searching import Found, Searcher
from wingpath.lighten.targets import Stop
from wingpath.model.spec import Spec

__all__ = [
    "LEVELS",
    "Bought",
    "FrontRow",
    "NearMiss",
    "bought_changes",
    "bought_of",
    "front_candidates",
    "front_of",
    "near_misses",
]

LEVELS = (0.7, 0.85, 1.2, 1.5)
"""Shares of the targets at which the front is filled up: stiffer and softer than asked."""

FARTHEST = 2.0
"""A wing that uses a target more than twice is no part of the front."""

MOST_MISSES = 5
"""Near misses that are told."""

ONE_IN = 1e-6
"""Changes smaller than this are none."""


BOTH_SKINS = "slots from both skins"
"""What tells the best wing from the same with plain ribs, windows among it."""


@dataclass(frozen=True, slots=True)
class FrontRow:
    """A wing that no other one beats in mass and in the target that it comes nearest to.

    Parameters
    ----------
    candidate : Candidate
        Which.
    measures : Measures
        What it does.
    worst : float
        Greatest share of any target but mass: over 1 it misses it.
    """

    candidate: Candidate
    measures: Measures
    worst: float


@dataclass(frozen=True, slots=True)
class NearMiss:
    """A wing lighter than the best that does not hold.

    Parameters
    ----------
    candidate : Candidate
        Which.
    measures : Measures
        What it does.
    stops : tuple of Stop
        What stops it, worst first.
    """

    candidate: Candidate
    measures: Measures
    stops: tuple[Stop, ...]


@dataclass(frozen=True, slots=True)
class Bought:
    """What one kind of rib or web does for the wing: the wing with it against the same without.

    Parameters
    ----------
    what : str
        Which: ``aft ribs``, ``forward ribs``, ``all ribs``, ``spar_web[0]``, ``slots from both skins``.
    mass_g : float or None
        What it weighs, printed bends and all; None when the wing without it could not be built [g].
    torque_n_m, tip_mm, twist_deg_per_n_m, first_buckling_g : float or None
        What is gained: torque of the first wrinkle, less deflection, less twist, load factor of the first
        wrinkle under lift.
    refused : str
        Why there is no number.
    """

    what: str
    mass_g: float | None = None
    torque_n_m: float | None = None
    tip_mm: float | None = None
    twist_deg_per_n_m: float | None = None
    first_buckling_g: float | None = None
    refused: str = ""

    @property
    def g_per_n_m(self) -> float | None:
        """Grams for each newton metre of buckling torque; None when it gains none."""
        return _rate(self.mass_g, self.torque_n_m)

    @property
    def g_per_mm(self) -> float | None:
        """Grams for each millimetre of tip deflection; None when it gains none."""
        return _rate(self.mass_g, self.tip_mm)

    @property
    def words(self) -> str:
        """In a sentence."""
        if self.mass_g is None:
            return f"{self.what}: no wing without them to compare with ({self.refused})"
        parts: list[str] = []
        costs: list[str] = []
        for gain, better, worse, price in (
            (
                self.torque_n_m,
                "{} N m more torque until the first wrinkle",
                "the first wrinkle comes at {} N m less torque",
                _price(self.g_per_n_m, "N m"),
            ),
            (
                self.tip_mm,
                "{} mm less tip deflection",
                "the tip moves {} mm more",
                _price(self.g_per_mm, "mm"),
            ),
            (
                self.twist_deg_per_n_m,
                "{} deg per N m less twist",
                "the tip twists {} deg per N m more",
                "",
            ),
            (
                self.first_buckling_g,
                "a first wrinkle at a load factor greater by {}",
                "the first wrinkle comes at a load factor smaller by {}",
                "",
            ),
        ):
            if gain is None:
                continue
            if gain < 0.0:
                costs.append(worse.format(f"{abs(gain):.2g}"))
            else:
                parts.append(better.format(f"{gain:.3g}") + price)
        text = f"{self.what}: {self.mass_g:.1f} g buy {', '.join(parts) or 'nothing that can be told'}"
        if self.mass_g < 0.0:
            text = f"{self.what}: save {-self.mass_g:.1f} g" + (
                f" and buy {', '.join(parts)}" if parts else ""
            )
        return f"{text}, but {', '.join(costs)}" if costs else text


def _price(rate: float | None, unit: str) -> str:
    return "" if rate is None else f" ({rate:.3g} g for each {unit})"


def _rate(mass_g: float | None, gain: float | None) -> float | None:
    if mass_g is None or gain is None or mass_g <= 0.0 or gain <= ONE_IN:
        return None
    return mass_g / gain


def front_candidates(searcher: Searcher) -> list[Candidate]:
    """Return what to judge so that the front reaches stiffer and softer wings than asked.

    Parameters
    ----------
    searcher : Searcher
        The search, at its end.
    """
    corrections = searcher.corrections()
    known = {
        candidate: searcher.hope(candidate, corrections)
        for candidate, guess in searcher.guesses.items()
        if not guess.refused and not guess.coarse and candidate not in searcher.judged
    }
    chosen = []
    for level in LEVELS:
        fits = [(hope.mass_g, candidate) for candidate, hope in known.items() if hope.share <= level]
        if fits:
            chosen.append(min(fits)[1])
    return list(dict.fromkeys(chosen))


def front_of(found: Found) -> tuple[FrontRow, ...]:
    """Return the wings that print and are strong enough and that no other one beats, lightest first."""
    rows = []
    for candidate, judgement in found.judged.items():
        measures = judgement.measures
        if measures is None or not found.targets.sound(measures):
            continue
        shares = [share for key, share in found.targets.shares(measures).items() if key != "mass_g"]
        worst = max(shares, default=0.0)
        if worst <= FARTHEST:
            rows.append(FrontRow(candidate, measures, worst))
    rows.sort(key=lambda row: (row.measures.mass_g, row.worst, row.candidate))
    front: list[FrontRow] = []
    for row in rows:
        if not front or row.worst < front[-1].worst:
            front.append(row)
    return tuple(front)


def near_misses(found: Found) -> tuple[NearMiss, ...]:
    """Return the lighter wings that come nearest to the targets, nearest first."""
    best = None if found.best is None else found.measures(found.best)
    limit = math.inf if best is None else best.mass_g
    missed = []
    for candidate, judgement in found.judged.items():
        measures = judgement.measures
        if measures is None or measures.mass_g >= limit:
            continue
        stops = found.targets.stops(measures)
        if stops:
            missed.append(NearMiss(candidate, measures, stops))
    missed.sort(key=lambda one: (one.stops[0].share, one.measures.mass_g, one.candidate))
    return tuple(missed[:MOST_MISSES])


def bought_changes(spec: Spec, changes: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Return the changes that make the same wing without one kind of rib or web, by what is missing.

    Parameters
    ----------
    spec : Spec
        The best wing's.
    changes : mapping
        What made it from the one that is drawn.
    """
    found: dict[str, dict[str, Any]] = {}
    run = spec.ribs.run
    # windows need both runs
    plain = {**changes} if spec.ribs.stub_mm is None else {**changes, "ribs.stub_mm": None}
    if run == "both":
        also = "" if spec.ribs.stub_mm is None else " and their windows"
        found[f"aft ribs{also}"] = {**plain, "ribs.run": "forward"}
        found[f"forward ribs{also}"] = {**plain, "ribs.run": "aft"}
    if run != "none":
        name = "all ribs" if run == "both" else f"{run} ribs"
        found[name] = {**plain, "ribs.run": "none"}
    if spec.ribs.stub_mm is not None:
        found[BOTH_SKINS] = plain
    webs = [web.model_dump(exclude_unset=True) for web in spec.spar_webs]
    for number in range(len(webs)):
        kept = [web for other, web in enumerate(webs) if other != number]
        found[f"spar_web[{number}]"] = {**changes, "spar_web": kept}
    return found


def bought_of(best: Measures, without: Iterable[tuple[str, Judgement]]) -> tuple[Bought, ...]:
    """Return what each kind bought.

    Parameters
    ----------
    best : Measures
        Of the best wing.
    without : iterable of (str, Judgement)
        What is missing, and the wing without it.
    """
    rows = []
    for what, judgement in without:
        other = judgement.measures
        if other is None:
            rows.append(Bought(what, refused=judgement.refused or "it cannot be built"))
            continue
        rows.append(
            Bought(
                what,
                mass_g=best.mass_g - other.mass_g,
                torque_n_m=_gain(best.buckling_torque_n_m, other.buckling_torque_n_m),
                tip_mm=_gain(_size(other.tip_mm), _size(best.tip_mm)),
                twist_deg_per_n_m=other.twist_deg_per_n_m - best.twist_deg_per_n_m,
                first_buckling_g=_gain(best.first_buckling_g, other.first_buckling_g),
            )
        )
    return tuple(rows)


def _size(value: float | None) -> float | None:
    return None if value is None else abs(value)


def _gain(more: float | None, less: float | None) -> float | None:
    return None if more is None or less is None else more - less
