"""The printed wall as a material: stiffness along and across the layers, and what it bears."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wingpath.core.arrays import FloatArray

__all__ = ["WallMaterial"]


@dataclass(frozen=True, slots=True)
class WallMaterial:
    """An elastic wall with two main directions: along the bead, inside a layer, and across the layers.

    Parameters
    ----------
    e_along_mpa, e_across_mpa : float
        Modulus along the bead and across the layers [MPa].
    poisson : float
        Contraction across the layers under stress along the bead.
    density_g_cm3 : float
        Of the wall [g/cm3].
    """

    e_along_mpa: float
    e_across_mpa: float
    poisson: float
    density_g_cm3: float

    @property
    def shear_mpa(self) -> float:
        """Shear modulus in the wall [MPa]: ``sqrt(E1 E2) / (2 (1 + nu))``.

        Exact for an isotropic wall; between that and two moduli a usual estimate, judgement.
        """
        return float(np.sqrt(self.e_along_mpa * self.e_across_mpa) / (2.0 * (1.0 + self.poisson)))

    @property
    def plane_stress_mpa(self) -> FloatArray:
        """Plane-stress moduli, shape (3, 3) [MPa]: first axis along the bead, second across the layers."""
        one, two, nu = self.e_along_mpa, self.e_across_mpa, self.poisson
        inverse = np.array([[1.0 / one, -nu / one, 0.0], [-nu / one, 1.0 / two, 0.0], [0.0, 0.0, 0.0]])
        inverse[2, 2] = 1.0 / self.shear_mpa
        return np.asarray(np.linalg.inv(inverse))

    def scaled(self, factor: float) -> WallMaterial:
        """Return the same wall with both moduli times `factor`."""
        return replace(self, e_along_mpa=factor * self.e_along_mpa, e_across_mpa=factor * self.e_across_mpa)
