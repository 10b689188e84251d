"""Bays: pockets open to one skin, for servos and for glued-in plates.

A bay is a cut-out and needs no slit. Its floor rises from the skin and returns to it on slopes of
45 degrees along the span, so the wall that closes it prints by itself; ribs run into its walls and grow
out of them. A bay in the upper skin also keeps slots one neck below its floor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from wingpath.build.slots import Slot
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import BoolArray, FloatArray
from wingpath.geometry.mesh import Mesh

__all__ = ["Bay", "bay_mesh", "bay_walls"]

BEYOND_MM = 20.0
"""A bay's cutting body reaches this far outside the skin [mm]."""

KEYS = {"servo": "servo_bay", "seat": "servo_bay", "plate": "plate_bay"}
"""Tables of the spec that bays come from."""


@dataclass(frozen=True, slots=True)
class Bay:
    """A pocket.

    Parameters
    ----------
    kind : {"servo", "seat", "plate"}
        What goes into it; the seat is for the cover of a servo's bay.
    number : int
        Number in its table, from 0; a seat has that of its bay.
    side : {"lower", "upper"}
        The skin that it is open to.
    from_mm, to_mm : float
        Span over which it has its full depth [mm].
    fore_mm, aft_mm : float
        Its walls along the chord [mm].
    floor_mm : float
        Height of its floor [mm].
    skin_mm : float
        Height of the skin where it reaches farthest beyond the floor [mm].
    neck_mm : float
        Solid to keep round it [mm].
    """

    kind: Literal["servo", "seat", "plate"]
    number: int
    side: Literal["lower", "upper"]
    from_mm: float
    to_mm: float
    fore_mm: float
    aft_mm: float
    floor_mm: float
    skin_mm: float
    neck_mm: float

    @property
    def name(self) -> str:
        """Key path, for example ``servo_bay[0]`` or ``servo_bay[0].frame``."""
        return f"{KEYS[self.kind]}[{self.number}]{'.frame' if self.kind == 'seat' else ''}"

    def is_seat_of(self, other: Bay) -> bool:
        """Return whether this is the seat for the cover of another bay."""
        return (self.kind, other.kind) == ("seat", "servo") and self.number == other.number

    @property
    def slope_mm(self) -> float:
        """Length of the slope at either end [mm]."""
        return abs(self.floor_mm - self.skin_mm)

    @property
    def reach_mm(self) -> tuple[float, float]:
        """Span from the beginning of the first slope to the end of the last [mm]."""
        return self.from_mm - self.slope_mm, self.to_mm + self.slope_mm

    @property
    def mouth_mm(self) -> float:
        """Height outside the skin up to which the bay's cutting body reaches [mm]."""
        away = BEYOND_MM + self.slope_mm
        return self.floor_mm + (-away if self.side == "lower" else away)

    @property
    def body_mm(self) -> tuple[float, float]:
        """Span from one end of the cutting body's mouth to the other [mm]."""
        away = BEYOND_MM + self.slope_mm
        return self.from_mm - away, self.to_mm + away

    def floor_at_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return the height of the floor, or of the slope that continues it, along the span [mm]."""
        outside = np.maximum(np.maximum(self.from_mm - z_mm, z_mm - self.to_mm), 0.0)
        return self.floor_mm - outside if self.side == "lower" else self.floor_mm + outside

    def limit_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot must not pass: one neck under the floor of an upper bay [mm]."""
        if self.side == "lower":
            return np.full(np.broadcast(x_mm, z_mm).shape, np.inf)
        floor = self.floor_at_mm(z_mm) - self.neck_mm
        return np.where(self._beside(x_mm), floor, np.inf)

    def roof_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot from above must stay above: one neck over the floor of a lower bay [mm]."""
        if self.side == "upper":
            return np.full(np.broadcast(x_mm, z_mm).shape, -np.inf)
        return np.where(self._beside(x_mm), self.floor_at_mm(z_mm) + self.neck_mm, -np.inf)

    def _beside(self, x_mm: FloatArray) -> BoolArray:
        near = (x_mm > self.fore_mm - self.neck_mm) & (x_mm < self.aft_mm + self.neck_mm)
        return np.asarray(near)


def bay_walls(bay: Bay) -> tuple[Slot, Slot]:
    """Return traces of the fore and the aft wall as ribs have to see them."""
    z = np.array(bay.reach_mm)
    fore, aft = (
        Slot(f"{name} wall of {bay.name}", "web", z, np.full(2, x), np.zeros(2))
        for name, x in (("fore", bay.fore_mm), ("aft", bay.aft_mm))
    )
    return fore, aft


def bay_mesh(bay: Bay, *, start_mm: float, end_mm: float, numbers: SurfaceNumbers) -> Mesh | None:
    """Return the body that cuts a bay out of the panel from `start_mm` to `end_mm`; None outside it."""
    first, last = bay.reach_mm
    if last <= start_mm or first >= end_mm:
        return None
    begin, end = bay.body_mm
    profile = [
        (bay.mouth_mm, begin),
        (bay.floor_mm, bay.from_mm),
        (bay.floor_mm, bay.to_mm),
        (bay.mouth_mm, end),
    ]
    near = np.array([(bay.fore_mm, y, z) for y, z in profile])
    far = np.array([(bay.aft_mm, y, z) for y, z in profile])
    faces: list[tuple[int, ...]] = []
    surfaces: list[int] = []
    for a in range(4):
        b = (a + 1) % 4
        number = numbers.new(f"{bay.name} {('first slope', 'floor', 'last slope', 'mouth')[a]}")
        faces += [(a, b, b + 4), (a, b + 4, a + 4)]
        surfaces += [number, number]
    for name, order in (("fore wall", (0, 2, 1, 0, 3, 2)), ("aft wall", (4, 5, 6, 4, 6, 7))):
        number = numbers.new(f"{bay.name} {name}")
        faces += [order[:3], order[3:]]
        surfaces += [number, number]
    mesh = Mesh(np.vstack([near, far]), np.array(faces), np.array(surfaces), bay.name)
    if mesh.volume_mm3 > 0:
        return mesh
    return Mesh(mesh.vertices, mesh.faces[:, ::-1], mesh.surfaces, bay.name)
