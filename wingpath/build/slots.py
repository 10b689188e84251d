"""Slots: the thin prisms that are cut into a panel, whose two beads fuse into ribs and webs.

Inside its own plane a slot is a profile: the height of its inner end at each z. A slot comes from the lower
skin or from the upper one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.geometry.mesh import Mesh

__all__ = ["LEAST_DEPTH_BEADS", "OVERRUN_MM", "Slot", "slot_mesh"]

LEAST_DEPTH_BEADS = 1.5
"""A slot shallower than this is not worth having: its beads would be part of the skin."""

OVERRUN_MM = 1.0
"""Slots run past both ends of a panel by this much, so that they are cut clean through [mm]."""

NEAR_Z_MM, NEAR_X_MM = 0.5, 0.3
"""A gap this close to a slot of the design is that slot [mm]: a layer or two, half a bead."""

LEAST_PRISM_MM = 0.1
"""The prism of a slot is nowhere lower than this, or it would turn inside out [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """One slot of a panel, over one unbroken stretch of height.

    Parameters
    ----------
    name, run
        Of its rib plane.
    z_mm, x_mm, inner_mm : ndarray, shape (k,)
        Trace, and height of its inner end, straight between the samples [mm].
    trimmed_z_mm : tuple of (float, float, str)
        Stretches of height where it stops short of what it could reach, and why.
    side : {"lower", "upper"}
        The skin that it is open to.
    neck_mm : float or ndarray, shape (k,)
        Solid between its inner end and what its rib meets there, if it reaches so far: the whole neck before
        the far skin, half of it before the slot that comes from the other skin [mm].
    """

    name: str
    run: Literal["aft", "forward", "web"]
    z_mm: FloatArray
    x_mm: FloatArray
    inner_mm: FloatArray
    trimmed_z_mm: tuple[tuple[float, float, str], ...] = ()
    side: Literal["lower", "upper"] = "lower"
    neck_mm: FloatArray | float = 0.0

    def __post_init__(self) -> None:
        for field in ("z_mm", "x_mm", "inner_mm"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), (None,), name=field))
        neck = np.broadcast_to(np.asarray(self.neck_mm, float), self.z_mm.shape)
        object.__setattr__(self, "neck_mm", frozen_floats(neck, (len(self.z_mm),), name="neck_mm"))

    @property
    def rib_end_mm(self) -> FloatArray:
        """Height at which its rib ends at each sample: as far beyond the slot as the neck reaches [mm]."""
        return self.inner_mm + self.neck_mm if self.side == "lower" else self.inner_mm - self.neck_mm

    def reason_at(self, x_mm: float, z_mm: float) -> str | None:
        """Return why the slot stops short at a place of the planform; None where it does not."""
        for first, last, why in self.trimmed_z_mm:
            if first - NEAR_Z_MM <= z_mm <= last + NEAR_Z_MM:
                here = float(np.interp(z_mm, self.z_mm, self.x_mm))
                if abs(here - x_mm) < NEAR_X_MM:
                    return why
        return None


def slot_mesh(
    slot: Slot, *, width_mm: float, below_mm: float, above_mm: float, numbers: SurfaceNumbers
) -> Mesh:
    """Return the prism that cuts a slot, from outside the wing to its inner end.

    Parameters
    ----------
    slot : Slot
        The slot.
    width_mm : float
        Its width along x [mm].
    below_mm, above_mm : float
        Heights under and over the whole wing [mm].
    numbers : SurfaceNumbers
        Gives its faces their numbers.
    """
    count = len(slot.z_mm)
    lower = slot.side == "lower"
    bottom = below_mm if lower else np.minimum(slot.inner_mm, above_mm - LEAST_PRISM_MM)
    top = np.maximum(slot.inner_mm, below_mm + LEAST_PRISM_MM) if lower else above_mm
    title = slot.name if lower else f"{slot.name} from above"
    corners = np.empty((count, 4, 3))
    # fore bottom, aft bottom, aft top, fore top: counter-clockwise seen from the tip
    for place, (side, high) in enumerate(((-1, False), (1, False), (1, True), (-1, True))):
        corners[:, place, 0] = slot.x_mm + side * 0.5 * width_mm
        corners[:, place, 1] = top if high else bottom
        corners[:, place, 2] = slot.z_mm
    faces: list[tuple[int, ...]] = []
    surfaces: list[int] = []
    slopes = np.diff(slot.x_mm) / np.diff(slot.z_mm)
    walls: dict[tuple[int, float], int] = {}
    for side in range(4):
        ahead = (side + 1) % 4
        for k in range(count - 1):
            a, b = 4 * k + side, 4 * k + ahead
            faces += [(a, b, b + 4), (a, b + 4, a + 4)]
            if side == (2 if lower else 0):
                number = numbers.new(f"{title} end {k}")
            else:
                key = (side, round(float(slopes[k]), 9))
                if key not in walls:
                    walls[key] = numbers.new(f"{title} {('mouth', 'aft wall', 'mouth', 'fore wall')[side]}")
                number = walls[key]
            surfaces += [number, number]
    for ring, order in ((0, ((0, 2, 1), (0, 3, 2))), (count - 1, ((0, 1, 2), (0, 2, 3)))):
        number = numbers.new(f"{title} {'start' if ring == 0 else 'stop'}")
        faces += [tuple(4 * ring + corner for corner in triangle) for triangle in order]
        surfaces += [number, number]
    return Mesh(corners.reshape(-1, 3), np.array(faces), np.array(surfaces), slot.name)
