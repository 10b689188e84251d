"""Measured values with their uncertainty, by the rules of the GUM.

Source: JCGM 100:2008, *Evaluation of measurement data - Guide to the expression of uncertainty in
measurement*: 4.2 (type A, from the scatter of readings), 4.3 (type B, from what is known of the tool),
5.1.2 (sum of squares), G.4.1 (degrees of freedom by Welch and Satterthwaite).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import stdtrit

__all__ = [
    "COVERAGE",
    "COVERAGE_FACTOR",
    "Estimate",
    "from_readings",
    "from_steps",
    "from_tool",
    "product",
    "weighted_mean",
]

COVERAGE = 0.95
"""Probability that a stated band holds the true value."""

COVERAGE_FACTOR = 1.959964
"""Half-width of that band of a normal distribution in standard deviations."""

STEP_JUDGE = 0.3
"""Standard deviation of a person's verdict on a graded row, in steps: judgement, no source."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value, its standard uncertainty and how well that is known.

    Parameters
    ----------
    value : float
        Best value.
    sigma : float
        Standard uncertainty, in the unit of the value.
    freedom : float
        Effective degrees of freedom; infinite where the uncertainty is known.
    """

    value: float
    sigma: float
    freedom: float = math.inf

    @property
    def half_width(self) -> float:
        """Half the width of the band that holds the true value with 95 per cent."""
        if math.isinf(self.freedom):
            return COVERAGE_FACTOR * self.sigma
        return float(stdtrit(self.freedom, 0.5 + 0.5 * COVERAGE)) * self.sigma

    @property
    def low(self) -> float:
        """Lower end of that band."""
        return self.value - self.half_width

    @property
    def high(self) -> float:
        """Upper end of that band."""
        return self.value + self.half_width

    @property
    def relative(self) -> float:
        """Standard uncertainty over the value."""
        return self.sigma / abs(self.value)

    def scaled(self, factor: float) -> Estimate:
        """Return the estimate of `factor` times the value."""
        return Estimate(factor * self.value, abs(factor) * self.sigma, self.freedom)

    def shifted(self, offset: float) -> Estimate:
        """Return the estimate of the value plus `offset`."""
        return Estimate(self.value + offset, self.sigma, self.freedom)


def from_readings(readings: Sequence[float], *, tool: float) -> Estimate:
    """Return the estimate of what was read several times with one tool.

    Parameters
    ----------
    readings : sequence of float
        One or more readings.
    tool : float
        Half-width of the tool's own 95 per cent band, in the unit of the readings. It shifts all readings
        alike, so more of them do not make it smaller.

    Notes
    -----
    ``sigma^2 = (tool / 1.96)^2 + s^2 / n``. One reading alone tells nothing of its scatter; it is taken to
    be as large as the tool's own.
    """
    count = len(readings)
    mean = math.fsum(readings) / count
    own = tool / COVERAGE_FACTOR
    if count == 1:
        return Estimate(mean, math.sqrt(2.0) * own)
    scatter = math.fsum((reading - mean) ** 2 for reading in readings) / (count - 1) / count
    total = own**2 + scatter
    if scatter == 0.0 or total == 0.0:
        return Estimate(mean, math.sqrt(total))
    return Estimate(mean, math.sqrt(total), (count - 1) * (total / scatter) ** 2)


def from_tool(value: float, *, tool: float) -> Estimate:
    """Return the estimate of a value read once whose only error is the tool's, half-width of 95 per cent."""
    return Estimate(value, tool / COVERAGE_FACTOR)


def product(value: float, factors: Sequence[tuple[Estimate, float]], *, extra: float = 0.0) -> Estimate:
    """Return the estimate of a product of powers.

    Parameters
    ----------
    value : float
        The product.
    factors : sequence of (Estimate, float)
        Each factor and its power.
    extra : float
        Further relative standard uncertainty.

    Notes
    -----
    Relative variances add, each times the square of its power (GUM 5.1.6); degrees of freedom by Welch and
    Satterthwaite.
    """
    parts = [(power * factor.relative) ** 2 for factor, power in factors]
    total = math.fsum(parts) + extra**2
    below = math.fsum(
        part**2 / factor.freedom for part, (factor, _) in zip(parts, factors, strict=True) if part > 0.0
    )
    freedom = total**2 / below if below > 0.0 else math.inf
    return Estimate(value, abs(value) * math.sqrt(total), freedom)


def from_steps(below: float, above: float) -> Estimate:
    """Return the estimate of a limit that lies between two neighbouring steps of a graded row.

    Parameters
    ----------
    below, above : float
        The last step on one side of the limit and the first on the other.

    Notes
    -----
    Uniform between the two (GUM 4.3.7, ``step^2 / 12``), and a person's verdict on top.
    """
    step = abs(above - below)
    return Estimate(0.5 * (below + above), step * math.sqrt(1.0 / 12.0 + STEP_JUDGE**2))


def weighted_mean(values: Sequence[Estimate | None], *, alike: bool = False) -> Estimate | None:
    """Return the mean of several estimates, each weighted by its own certainty; None without any.

    Parameters
    ----------
    values : sequence of Estimate or None
        What is averaged; None is left out.
    alike : bool
        Whether one tool was off by the same in all of them, so that the mean is no better than each.
    """
    known = [value for value in values if value is not None]
    if len(known) < 2:
        return known[0] if known else None
    weights = [1.0 / value.sigma**2 for value in known]
    whole = math.fsum(weights)
    shares = [weight / whole for weight in weights]
    mean = math.fsum(w * value.value for w, value in zip(shares, known, strict=True))
    if alike:
        sigma = math.fsum(w * value.sigma for w, value in zip(shares, known, strict=True))
        return Estimate(mean, sigma, min(value.freedom for value in known))
    parts = [(w * value.sigma) ** 2 for w, value in zip(shares, known, strict=True)]
    below = math.fsum(part**2 / value.freedom for part, value in zip(parts, known, strict=True))
    total = math.fsum(parts)
    return Estimate(mean, math.sqrt(total), total**2 / below if below > 0.0 else math.inf)
