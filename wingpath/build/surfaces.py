"""Numbers for exact surfaces, so that every triangle of a solid can say what it lies on.

Most surfaces are planes, which their triangles tell by themselves. The others leave a shape beside their
name: what a mesh only comes close to.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["Facets", "RoundWall", "RuledStrip", "SurfaceNumbers", "SurfaceShape"]


@dataclass(frozen=True, slots=True, eq=False)
class RuledStrip:
    """Straight lines between points of equal number on two curves: a skin or a trailing edge.

    Parameters
    ----------
    near, far : ndarray, shape (n, 2)
        Points at both ends, nose to trailing edge; two points for the base of the trailing edge [mm].
    near_mm, far_mm : float
        Heights of the ends, in wing coordinates [mm].
    """

    near: FloatArray
    far: FloatArray
    near_mm: float
    far_mm: float

    def __post_init__(self) -> None:
        near = frozen_floats(self.near, (None, 2), name="near")
        object.__setattr__(self, "near", near)
        object.__setattr__(self, "far", frozen_floats(self.far, near.shape, name="far"))


@dataclass(frozen=True, slots=True, eq=False)
class RoundWall:
    """A cylinder, or a cone whose sections inside a layer are those of a cylinder, larger or smaller.

    Parameters
    ----------
    near, far : ndarray, shape (2,)
        Its axis at both ends (x, y) [mm].
    near_mm, far_mm : float
        Heights of the ends, in wing coordinates [mm].
    near_radius_mm, far_radius_mm : float
        Its radius square to the axis at both ends [mm].
    """

    near: FloatArray
    far: FloatArray
    near_mm: float
    far_mm: float
    near_radius_mm: float
    far_radius_mm: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "near", frozen_floats(self.near, (2,), name="near"))
        object.__setattr__(self, "far", frozen_floats(self.far, (2,), name="far"))


@dataclass(frozen=True, slots=True)
class Facets:
    """A surface that has no description but its triangles."""


SurfaceShape = RuledStrip | RoundWall | Facets


@dataclass(slots=True)
class SurfaceNumbers:
    """Hands out a new number for every surface and remembers its name, and its shape if it is no plane.

    A book kept while a solid is being assembled; the finished solid holds a frozen copy.
    """

    names: list[str] = field(default_factory=list)
    shapes: list[SurfaceShape | None] = field(default_factory=list)

    def new(self, name: str, shape: SurfaceShape | None = None) -> int:
        """Return a number that no other surface has; no `shape` stands for planes."""
        self.names.append(name)
        self.shapes.append(shape)
        return len(self.names) - 1
