"""The bead's section and what a length of it weighs."""

from __future__ import annotations

import numpy as np

from wingpath.core.units import MM3_PER_CM3

__all__ = ["bead_area_mm2", "printed_mass_g"]


def bead_area_mm2(*, bead_mm: float, layer_mm: float) -> float:
    """Return the nominal section of a bead, a rectangle with half-round ends [mm2].

    Notes
    -----
    ``A = (w - h) h + pi h^2 / 4`` for a bead `w` wide and `h` high, derived here from that shape: flat with
    rounded edges, as a strand gets that is laid slowly under a near nozzle (R. Comminal, M. P. Serdeczny,
    D. B. Pedersen, J. Spangenberg, Additive Manufacturing, 2018, 68-76, abstract).
    """
    return (bead_mm - layer_mm) * layer_mm + 0.25 * np.pi * layer_mm**2


def printed_mass_g(
    *, path_mm: float, bead_mm: float, layer_mm: float, flow: float, density_g_cm3: float
) -> float:
    """Return the mass of a path [g]: filament density x flow x nominal volume of the path.

    Foaming does not change it: what foams is as heavy as the filament that went in.
    """
    volume = path_mm * bead_area_mm2(bead_mm=bead_mm, layer_mm=layer_mm)
    return density_g_cm3 * flow * volume / MM3_PER_CM3
