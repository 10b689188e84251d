"""Values held against expected ones: which is the worst, and how it is written with few enough digits.

A page has to be the same on every machine, so a value is written with the digits that its tolerance makes
interesting, seven at most, and may be off by one step of the last of them when it is held against the page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

LEAST_ABSOLUTE = 1e-12
"""What `pytest.approx` allows if it is only given a share."""

DIGITS = 7
"""Significant digits of a value at most."""

PERCENT_FROM = 1e-4
"""Shares from here on are written in per cent."""

TIE = 0.1
"""Another value may be worse than the one that the page shows by this share of what is allowed."""

NOISE = 1e-9
"""Relative: differences below are rounding, which is another one on every machine."""


class Compared:
    """Got and expected values of one check, worked out: the worst, and texts of it."""

    def __init__(
        self,
        expected: object,
        got: object,
        *,
        rel: float | None,
        abs: object,
        unit: str,
        labels: Sequence[object] | None,
        ratio: bool,
        or_more: str = "",
    ) -> None:
        assert rel is not None or abs is not None, "a check needs a tolerance; abs=0.0 is exact"
        wanted, found = np.asarray(expected, float), np.asarray(got, float)
        assert found.shape == wanted.shape, f"expected shape {wanted.shape}, got {found.shape}"
        self.wanted, self.found = np.atleast_1d(wanted).ravel(), np.atleast_1d(found).ravel()
        assert len(self.wanted), "nothing is compared"
        least = np.broadcast_to(np.asarray(LEAST_ABSOLUTE if abs is None else abs, float), wanted.shape)
        # what is infinite has to be so exactly
        finite = np.isfinite(self.wanted)
        share = (rel or 0.0) * np.abs(np.where(finite, self.wanted, 0.0))
        self.allowed = np.where(finite, np.maximum(share, np.atleast_1d(least).ravel()), 0.0)
        self.rel, self.given_abs, self.unit, self.ratio, self.or_more = rel, abs, unit, ratio, or_more
        self.labels = None if labels is None else [str(one) for one in labels]
        assert self.labels is None or len(self.labels) == len(self.wanted), "a label for each value"
        same = self.found == self.wanted  # infinities too
        with np.errstate(invalid="ignore", divide="ignore"):
            self.off = np.where(same, 0.0, np.abs(self.found - self.wanted))
            self.share = np.where(same, 0.0, self.off / self.allowed)
        # a value that is no number is never near enough
        self.bad = ~(self.off <= self.allowed)
        self.share[self.bad] = np.inf
        # of values that are equally bad but for noise, the first
        self.worst = int(np.argmax(np.round(self.share, 2)))

    @property
    def failing(self) -> bool:
        """Tell whether any value is further off than allowed."""
        return bool(self.bad.any())

    @property
    def complaint(self) -> str:
        """Say which value is off, and how far."""
        at = int(np.argmax(self.bad)) if self.bad.any() else self.worst
        name = f" at {self.labels[at]}" if self.labels else f" at place {at}" if len(self.wanted) > 1 else ""
        return (
            f"expected {self.wanted[at]:.9g}{name}, got {self.found[at]:.9g}, {self.off[at]:.3g} off where "
            f"{self.allowed[at]:.3g} is allowed; {int(self.bad.sum())} of {len(self.wanted)} values are off"
        )

    def _pair(self, at: int) -> tuple[float, float, float]:
        """Return expected, got and allowed as they are shown."""
        wanted, found, allowed = self.wanted[at], self.found[at], self.allowed[at]
        return (1.0, found / wanted, allowed / abs(wanted)) if self.ratio else (wanted, found, allowed)

    def _step(self, at: int) -> int:
        """Return the power of ten of the last digit that is shown."""
        wanted, _, allowed = self._pair(at)
        size = max(abs(wanted), allowed)
        if not math.isfinite(size) or size == 0.0:
            return 0
        cap = math.floor(math.log10(size)) - DIGITS + 1
        return max(cap, math.floor(math.log10(allowed / 10.0))) if allowed > 0.0 else cap

    def _wanted_text(self, at: int) -> str:
        wanted, _, _ = self._pair(at)
        plain = tidy(f"{wanted:.{DIGITS}g}")
        return plain if plain != "infinite" and float(plain) == wanted else rounded(wanted, self._step(at))

    def _expected(self, at: int) -> str:
        name = f" ({self.labels[at]})" if self.labels and len(self.wanted) > 1 else ""
        return self._with_unit(self._wanted_text(at)) + name

    def _with_unit(self, text: str) -> str:
        return f"{text} {self.unit}" if self.unit and not self.ratio else text

    @property
    def expected_text(self) -> str:
        """Return the expected value where the worst was got."""
        return self._expected(self.worst)

    @property
    def got_text(self) -> str:
        """Return the worst value, and of how many."""
        text = self._with_unit(rounded(self._pair(self.worst)[1], self._step(self.worst)))
        return text + self._count

    @property
    def _count(self) -> str:
        return f", worst of {len(self.wanted)}" if len(self.wanted) > 1 else ""

    @property
    def _relative(self) -> bool:
        return self.ratio or (self.rel is not None and self.wanted[self.worst] != 0.0)

    @property
    def difference_text(self) -> str:
        """Return how far off the worst is; nothing finer than a hundredth of what is allowed."""
        scale = abs(self.wanted[self.worst]) if self._relative else 1.0
        off, allowed = float(self.off[self.worst]), float(self.allowed[self.worst])
        if off == 0.0 and allowed == 0.0:
            return "none"
        noise = NOISE * abs(self.wanted[self.worst])
        if allowed <= noise or not math.isfinite(off):
            return "rounding"
        least = max(0.01 * allowed, noise)
        if off < least:
            return "below " + self._amount(float(f"{least / scale:.1g}"))
        return self._amount(float(f"{off / scale:.2g}"))

    def _amount(self, value: float) -> str:
        if not self._relative:
            return self._with_unit(tidy(f"{value:g}"))
        return share_text(value, percent=max(value, self.rel or value) >= PERCENT_FROM)

    @property
    def allowed_text(self) -> str:
        """Return the tolerance as it was given: in words, or of many values the least and the largest."""
        texts = []
        if self.rel is not None:
            texts.append(share_text(self.rel, percent=self.rel >= PERCENT_FROM))
        if self.or_more:
            texts.append(self.or_more)
        elif self.given_abs is not None:
            least, most = (f(np.asarray(self.given_abs, float)) for f in (np.min, np.max))
            form = "g" if np.ndim(self.given_abs) == 0 else ".3g"
            names = [tidy(f"{value:{form}}") for value in dict.fromkeys((float(least), float(most)))]
            unit = f" {self.unit}" if self.unit else ""
            texts.append("nothing" if names == ["0"] else " to ".join(names) + unit)
        return " or, if more, ".join(texts)

    def agrees_with(self, expected: str, got: str) -> bool:
        """Tell whether a row of the page shows one of these values, and one that is about the worst."""
        if not got.endswith(self._count or got[-1:]):
            return False
        number = got.partition(",")[0].split()[0]
        for at in range(len(self.wanted)):
            if self._expected(at) != expected and not self._near(at, expected):
                continue
            shown = math.inf if number == "infinite" else float(number)
            value, step = self._pair(at)[1], 10.0 ** self._step(at)
            near = value == shown or abs(value - shown) <= 1.001 * step
            if near and self.share.max() <= self.share[at] + TIE:
                return True
        return False

    def _near(self, at: int, expected: str) -> bool:
        """Tell whether an expected value that was computed, and so rounded, is the one shown."""
        wanted = self._pair(at)[0]
        text = self._wanted_text(at)
        if not math.isfinite(wanted) or float(text) == wanted:
            return False
        number, _, rest = expected.partition(" ")
        mine = self._expected(at).partition(" ")[2]
        return rest == mine and abs(float(number) - wanted) <= 1.001 * 10.0 ** self._step(at)


def share_text(share: float, *, percent: bool) -> str:
    """Return a share in per cent, or as it is if that would be mostly noughts."""
    return f"{tidy(f'{100.0 * share:g}')} %" if percent else f"{tidy(f'{share:g}')} of it"


def rounded(value: float, power: int) -> str:
    """Return a number rounded to a power of ten."""
    if not math.isfinite(value):
        return tidy(str(value))
    if abs(value) < 0.5 * 10.0**power:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    if -4 <= exponent < DIGITS:
        text = f"{round(value, -power):.{max(0, -power)}f}"
        return "0" if float(text) == 0.0 else text
    return tidy(f"{value:.{max(0, exponent - power)}e}")


def tidy(text: str) -> str:
    """Return a number as it is written in print: 1e-5, infinite."""
    if text in ("inf", "nan"):
        return {"inf": "infinite", "nan": "no number"}[text]
    mantissa, sign, exponent = text.partition("e")
    return f"{mantissa}e{int(exponent)}" if sign else mantissa
