"""A guess at when skins wrinkle, from a beam and flat plates: good for comparing, not for trusting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.structure.beam import WingBeam
from wingpath.structure.material import WallMaterial
from wingpath.structure.skins import SkinSurfaces

__all__ = ["PRESSED_PLATE", "SHEARED_PLATE", "WrinkleGuess", "wrinkle_guess"]

PRESSED_PLATE, SHEARED_PLATE = 4.0, 5.35
"""Factors k of a long plate with hinged edges, pressed along and sheared: Timoshenko and Gere, Theory of
Elastic Stability, 2nd ed. 1961, tables 9-1 and 9-10, from memory."""

INNER_SHARE = 0.97
"""The skin at the tip itself bears nothing: only this share of the span is looked at."""


@dataclass(frozen=True, slots=True)
class WrinkleGuess:
    """When the skin wrinkles first.

    Parameters
    ----------
    lift_factor : float
        Factor on the bending moments that were given.
    torque_n_m : float
        Torque at the tip [N m].
    """

    lift_factor: float
    torque_n_m: float


def wrinkle_guess(
    skins: SkinSurfaces,
    beam: WingBeam,
    material: WallMaterial,
    *,
    skin_mm: float,
    bay_mm: ArrayLike,
    moment_n_mm: ArrayLike | None,
) -> WrinkleGuess:
    """Return when the skin wrinkles by plate formulas at the pieces of a beam.

    Parameters
    ----------
    skins : SkinSurfaces
        The wing's skins.
    beam : WingBeam
        The wing as a beam of k pieces.
    material : WallMaterial
        The wall.
    skin_mm : float
        Thickness of the skin [mm].
    bay_mm : array_like, shape (k,) or a number
        Width of the plates between ribs at each piece [mm].
    moment_n_mm : array_like, shape (k,), or None
        Bending moment at the middle of each piece; None without loads [N mm].

    Notes
    -----
    ``s = k pi^2 E / (12 (1 - nu^2)) (t / b)^2`` against ``E y M / EI`` with half the depth of the section as
    y, and against ``T / (2 A t)`` with the area inside the skins as A.
    """
    middle = np.minimum(0.5 * (beam.z_mm[1:] + beam.z_mm[:-1]), skins.end_mm)
    share = np.linspace(0.02, 0.98, 25)
    upper, lower = skins.heights_mm(share[None, :], middle[:, None])
    deep = upper - lower
    area = deep.mean(axis=1) * skins.length_at_mm(middle)
    half = 0.5 * deep.max(axis=1)
    bay = np.broadcast_to(np.asarray(bay_mm, float), middle.shape)
    modulus = float(np.sqrt(material.e_along_mpa * material.e_across_mpa))
    plate = np.pi**2 * modulus / (12.0 * (1.0 - material.poisson**2)) * (skin_mm / bay) ** 2
    inner = middle <= INNER_SHARE * beam.z_mm[-1]
    inner[0] = True
    torque = (2.0 * area * skin_mm * SHEARED_PLATE * plate)[inner].min() / 1000.0
    if moment_n_mm is None:
        return WrinkleGuess(float("inf"), float(torque))
    stress = material.e_across_mpa * half * np.abs(np.asarray(moment_n_mm, float)) / beam.ei_n_mm2
    with np.errstate(divide="ignore"):
        factor = np.where(stress > 0.0, PRESSED_PLATE * plate / stress, np.inf)
    return WrinkleGuess(float(factor[inner].min()), float(torque))
