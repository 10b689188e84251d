"""What judged wings teach about guesses: how far a guess is off, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray

__all__ = ["NUMBERS", "Corrected", "Correction", "correction_of"]

NUMBERS = {
    "mass_g": (0.05, 0.01),
    "tip_deflection_mm": (0.3, 0.04),
    "twist_deg_per_n_m": (0.25, 0.05),
    "divergence_m_s": (0.3, 0.04),
    "first_buckling_load_factor": (0.6, 0.10),
    "buckling_torque_n_m": (0.7, 0.12),
    "strength": (1.0, 0.08),
}
"""Of each number, in natural logarithms: how far the change of a candidate may shift guess against truth
before anything is known, and how far truth scatters about the best fit. From the panels of the tests and the
examples: the beam's band, and plate formulas within a factor of two."""

OFFSET_SPREAD = 2.0
"""What is drawn itself may be off by this much before it is judged [natural logarithm]."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A number as it is expected to come out.

    Parameters
    ----------
    middle : float
        Expected value.
    spread : float
        Standard deviation of its natural logarithm.
    """

    middle: float
    spread: float

    def at(self, deviations: float) -> float:
        """Return the value that many standard deviations up."""
        return self.middle * math.exp(deviations * self.spread)


@dataclass(frozen=True, slots=True, eq=False)
class Correction:
    """A straight line through ratios of judged over guessed numbers, by the features of candidates.

    Parameters
    ----------
    mean : ndarray, shape (m,)
        Coefficients, the offset first.
    spread : ndarray, shape (m, m)
        Their covariance.
    noise : float
        Scatter about the line.
    """

    mean: FloatArray
    spread: FloatArray
    noise: float

    def apply(self, guess: float, features: FloatArray) -> Corrected:
        """Return a guess as it is expected to come out."""
        row = np.concatenate([[1.0], features])
        off = float(row @ self.mean)
        sure = float(np.sqrt(row @ self.spread @ row + self.noise**2))
        return Corrected(guess * math.exp(off), sure)


def correction_of(
    name: str, features: FloatArray, guessed: Sequence[float], judged: Sequence[float]
) -> Correction:
    """Return the correction of one number, by Bayesian linear regression with a normal prior.

    Parameters
    ----------
    name : str
        Which of :data:`NUMBERS`.
    features : ndarray, shape (n, m)
        Of the judged candidates.
    guessed, judged : sequence of float, length n
        Their numbers, over 0.

    Notes
    -----
    ``S = (X'X / s^2 + P^-1)^-1``, ``w = S X'y / s^2``: Bishop, Pattern Recognition and Machine Learning,
    2006, equations 3.50 and 3.51, from memory.
    """
    prior, noise = NUMBERS[name]
    count = features.shape[1] if features.ndim == 2 else 0
    precision = np.diag(np.concatenate([[OFFSET_SPREAD**-2], np.full(count, prior**-2)]))
    if not guessed:
        return Correction(np.zeros(count + 1), np.asarray(np.linalg.inv(precision), np.float64), noise)
    rows = np.column_stack([np.ones(len(guessed)), features])
    off = np.log(np.asarray(judged, float)) - np.log(np.asarray(guessed, float))
    # one fit for the coefficients, then the scatter that is really there
    spread = np.asarray(np.linalg.inv(rows.T @ rows / noise**2 + precision), np.float64)
    mean = np.asarray(spread @ (rows.T @ off) / noise**2, np.float64)
    left = off - rows @ mean
    seen = float(np.sqrt(np.mean(left**2))) if len(off) > 1 else 0.0
    return Correction(mean, spread, max(noise, seen))
