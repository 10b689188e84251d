"""What stands between the skins, as data: walls, tubes, cut-outs and pockets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["MEET_MM", "SLOTTED", "CutOut", "Pocket", "TubeLine", "WallKind", "WallLine"]

WallKind = Literal["aft", "forward", "web", "slit", "wall", "cap"]
"""Rib of either run, spar web, slit under a bore, plain wall of one bead, closing wall of the tip."""

SLOTTED: frozenset[str] = frozenset({"aft", "forward", "web", "slit"})
"""Walls made of the two beads beside a slot, which may be fused or not."""

MEET_MM = 0.03
"""Where what hangs ends this close above what stands, the two are one wall: both profiles are straightened by
a hundredth of a millimetre [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class WallLine:
    """A wall between the skins that is a line seen from above.

    Parameters
    ----------
    name : str
        Name for messages.
    kind : str
        One of :data:`WallKind`.
    z_mm, x_mm : ndarray, shape (k,)
        Trace from above, straight between the knots [mm]; z may stay equal, as in a closing wall.
    thickness_mm : float
        Both beads together for a slot [mm].
    profile_z_mm, profile_top_mm : ndarray, shape (m,), optional
        Height above which the wall does not stand, along the span [mm]; none: it reaches the upper skin.
    profile_hang_mm : ndarray, shape (m,), optional
        Height above which a wall with windows hangs from the upper skin, infinite where nothing does [mm];
        none: nothing hangs. What hangs is open to the upper skin if its beads are not fused.
    """

    name: str
    kind: WallKind
    z_mm: FloatArray
    x_mm: FloatArray
    thickness_mm: float
    profile_z_mm: FloatArray | None = None
    profile_top_mm: FloatArray | None = None
    profile_hang_mm: FloatArray | None = None

    def __post_init__(self) -> None:
        count = len(self.z_mm)
        for name in ("z_mm", "x_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))
        for name in ("profile_z_mm", "profile_top_mm"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, frozen_floats(getattr(self, name), (None,), name=name))
        if self.profile_hang_mm is not None:
            if self.profile_z_mm is None:
                raise ValueError(
                    "profile_hang_mm: got no profile_z_mm, expected the places that it is given at"
                )
            hang = np.array(self.profile_hang_mm, float)
            # nothing hangs where it is infinite, which no array of lengths may be
            finite = np.where(np.isposinf(hang), 0.0, hang)
            frozen_floats(finite, (len(self.profile_z_mm),), name="profile_hang_mm")
            hang.setflags(write=False)
            object.__setattr__(self, "profile_hang_mm", hang)

    @property
    def split(self) -> bool:
        """Whether it is made of two beads beside a slot."""
        return self.kind in SLOTTED

    def top_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return the height above which the wall does not stand; infinite where it reaches the skin [mm]."""
        z = np.asarray(z_mm, float)
        if self.profile_z_mm is None or self.profile_top_mm is None:
            return np.full(z.shape, np.inf)
        return np.asarray(np.interp(z, self.profile_z_mm, self.profile_top_mm))

    def hang_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return the height above which the wall hangs from the upper skin, infinite where none does [mm]."""
        z = np.asarray(z_mm, float)
        if self.profile_z_mm is None or self.profile_hang_mm is None:
            return np.full(z.shape, np.inf)
        # a stub ends where its slot does, so what lies between it and nothing is nothing
        there = np.isfinite(self.profile_hang_mm).astype(float)
        height = np.interp(z, self.profile_z_mm, np.where(there > 0.0, self.profile_hang_mm, 0.0))
        return np.where(np.interp(z, self.profile_z_mm, there) < 1.0, np.inf, height)


@dataclass(frozen=True, slots=True, eq=False)
class TubeLine:
    """A bought tube, rod or strip, straight, glued into its bore.

    Parameters
    ----------
    name : str
        Key path, for example ``tube[0]``.
    start_mm, end_mm : ndarray, shape (3,)
        Its axis at both ends (x, y, z), inboard first [mm].
    ea_n : float
        Stiffness against stretching [N].
    ei_x_n_mm2, ei_y_n_mm2 : float
        Stiffness against bending up and down, about the chordwise axis, and fore and aft [N mm2].
    gj_n_mm2 : float
        Stiffness against twisting [N mm2].
    """

    name: str
    start_mm: FloatArray
    end_mm: FloatArray
    ea_n: float
    ei_x_n_mm2: float
    ei_y_n_mm2: float
    gj_n_mm2: float

    def __post_init__(self) -> None:
        for name in ("start_mm", "end_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (3,), name=name))

    def centre_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return its axis at `z_mm`, shape (..., 2): x and y [mm]."""
        share = (np.asarray(z_mm, float) - self.start_mm[2]) / (self.end_mm[2] - self.start_mm[2])
        return np.asarray(self.start_mm[:2] + share[..., None] * (self.end_mm[:2] - self.start_mm[:2]))


@dataclass(frozen=True, slots=True, eq=False)
class CutOut:
    """A piece of the planform without skins, such as the bay of an aileron; its walls are lines besides.

    Parameters
    ----------
    name : str
        Key path.
    corners_mm : ndarray, shape (k, 2)
        Corners seen from above (x, z) [mm].
    """

    name: str
    corners_mm: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "corners_mm", frozen_floats(self.corners_mm, (None, 2), name="corners_mm"))


@dataclass(frozen=True, slots=True)
class Pocket:
    """A place where one skin is pressed in, such as the bay of a servo or of a plate.

    Parameters
    ----------
    name : str
        Key path.
    side : {"lower", "upper"}
        The skin.
    fore_mm, aft_mm, from_mm, to_mm : float
        Its walls along the chord, and its ends along the span at full depth [mm].
    floor_mm : float
        Height of its floor [mm].
    """

    name: str
    side: Literal["lower", "upper"]
    fore_mm: float
    aft_mm: float
    from_mm: float
    to_mm: float
    floor_mm: float
