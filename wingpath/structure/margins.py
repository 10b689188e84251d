"""Margins of strength: what is asked, what is allowed, where, and where the allowable comes from."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MARGIN_SOURCES", "ULTIMATE_FACTOR", "Margin"]

ULTIMATE_FACTOR = 1.5
"""Strength is held against this multiple of the limit load: 14 CFR 23.303 (text of 2014)."""

MARGIN_SOURCES = ("measured", "published", "judgement")
"""Where an allowable may come from, best first."""


@dataclass(frozen=True, slots=True)
class Margin:
    """One margin.

    Parameters
    ----------
    name : str
        Stable name, for example ``tube_bending_root``.
    title : str
        The same in words.
    demand, allowable : float
        What is asked at ultimate load, and what is allowed.
    unit : str
        Unit of both.
    place : str
        Where, in words.
    source : str
        Where the allowable comes from: one of :data:`MARGIN_SOURCES`.
    basis : str
        The same in words.
    """

    name: str
    title: str
    demand: float
    allowable: float
    unit: str
    place: str
    source: str
    basis: str

    @property
    def value(self) -> float:
        """Allowable over demand less 1: 0 just holds, negative breaks; infinite without a demand."""
        return self.allowable / self.demand - 1.0 if self.demand > 0.0 else float("inf")
