"""Heights: how high the nozzle is along each loop, stepped or helical."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray, frozen_floats
from wingpath.core.tolerances import GEOMETRY_EPS_MM

__all__ = ["PathHeights", "path_heights"]

ENDING = 0.25
"""The bead of a helix begins and ends at this share of a layer: so thin that no step is seen, so thick
that the nozzle neither scrapes nor stops extruding."""

LEAST_TURNS = 12
"""A helix of fewer turns is not made: its beads would be over 5 per cent higher than a layer."""


@dataclass(frozen=True, slots=True, eq=False)
class PathHeights:
    """Height of the nozzle and of the bead, linear along each loop.

    Parameters
    ----------
    begin_mm, end_mm : ndarray, shape (n,)
        Height of the nozzle above the bed at the begin and end of each loop [mm].
    begin_bead_mm, end_bead_mm : ndarray, shape (n,)
        Height of the bead there [mm].
    step_mm : ndarray, shape (n,)
        How much higher a loop begins than the one below ended [mm].
    helical_from : int
        First loop of the helix; n when there is none.
    """

    begin_mm: FloatArray
    end_mm: FloatArray
    begin_bead_mm: FloatArray
    end_bead_mm: FloatArray
    step_mm: FloatArray
    helical_from: int

    def __post_init__(self) -> None:
        count = (len(self.begin_mm),)
        for field in ("begin_mm", "end_mm", "begin_bead_mm", "end_bead_mm", "step_mm"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), count, name=field))

    def at(
        self, loop: IntArray, share: FloatArray, *, rise_share: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the heights of nozzle and bead at places along loops [mm].

        Parameters
        ----------
        loop : ndarray of int, shape (m,)
            The loop of each place.
        share : ndarray, shape (m,)
            How far along it, 0 to 1.
        rise_share : ndarray, shape (n,)
            Share of each loop over which a step up is made.
        """
        ahead = self.begin_mm[loop] + share * (self.end_mm - self.begin_mm)[loop]
        left = np.clip(1.0 - share / np.maximum(rise_share[loop], 1e-12), 0.0, 1.0)
        bead = self.begin_bead_mm[loop] + share * (self.end_bead_mm - self.begin_bead_mm)[loop]
        return ahead - left * self.step_mm[loop], bead


def path_heights(count: int, *, layer_mm: float, helical: bool, flat_layers: int) -> PathHeights:
    """Return the heights of a path of `count` loops whose top is flat at ``count x layer_mm``.

    Parameters
    ----------
    count : int
        Number of layers.
    layer_mm : float
        Layer height [mm].
    helical : bool
        Whether the nozzle rises along the loops above the first layers.
    flat_layers : int
        First layers that are laid flat.

    Notes
    -----
    The helix begins on a flat layer with a bead of a quarter of a layer, which gets thicker round the first
    loop; its last loop is flat, at the height of the part, with a bead that gets thinner. With ``n`` loops
    above the flat ones, of which the last is flat, the pitch is ``p = h (n - 1/2) / (n - 1)``, so the beads
    fill the same height, and with equal loops the same volume, as ``n`` flat layers.
    """
    number = np.arange(count)
    begin = np.asarray((number + 1.0) * layer_mm, dtype=np.float64)
    end, bead_begin = begin, np.full(count, layer_mm)
    bead_end = bead_begin
    turns = count - flat_layers
    start = count
    if helical and turns >= LEAST_TURNS:
        start = flat_layers
        pitch = layer_mm * (turns - 2.0 * ENDING) / (turns - 1.0)
        base, least = flat_layers * layer_mm, ENDING * layer_mm
        turn = number - flat_layers
        inside = (turn >= 0) & (number < count - 1)
        begin = np.where(inside, base + least + pitch * turn, begin)
        end = np.where(inside, base + least + pitch * (turn + 1), end)
        bead_begin = np.where(inside, pitch, bead_begin)
        bead_end = np.array(bead_begin)
        bead_begin[flat_layers], bead_end[flat_layers] = least, least + pitch
        bead_begin[-1], bead_end[-1] = least + pitch, least
    step = np.append(0.0, begin[1:] - end[:-1])
    # in a helix each loop begins where the one below ended, but for rounding
    return PathHeights(begin, end, bead_begin, bead_end, np.where(step > GEOMETRY_EPS_MM, step, 0.0), start)
