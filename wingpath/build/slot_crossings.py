"""Where slots may not stand because of others beside them: along lines, and at crowded crossings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray, runs_of

__all__ = ["LEAST_STRIP_BEADS", "LONG_CROSSING_MM", "close_to", "crowded_at", "inclusive_runs"]

LEAST_STRIP_BEADS = 1.1
"""A strip between two slots holds a bead when it is wider than this many beads."""

LONG_CROSSING_MM = 4.0
"""A crossing that takes longer than this leaves a hole instead of a node [mm]: ribs at 45 degrees cross a
web within three millimetres with the widest bead."""

CROWD_REACHES = 2.0
"""Three slots meet at one place when the third passes the crossing of two within this many strips."""

WALL_SPARE_BEADS = 0.1
"""Added to how near a crossing may be to a wall, for what layers are straightened by."""


def inclusive_runs(mask: BoolArray) -> list[tuple[int, int]]:
    """First and last index of every run of True."""
    begins, ends = runs_of(mask)
    return [(a, b - 1) for a, b in zip(begins.tolist(), ends.tolist(), strict=True)]


def close_to(
    lines: Sequence[FloatArray], x: FloatArray, z: FloatArray, reach: float, *, longest_mm: float
) -> BoolArray:
    """Where ribs run beside a line, closer than one bead fits between, for longer than a crossing takes.

    A quick crossing is left alone: the strip between the two is lost for a layer or two and lies on its
    neighbours when it comes back. Along a slow one the rib ends and grows again on the other side.
    """
    close = np.zeros(x.shape, bool)
    for line in lines:
        for row in range(len(x)):
            for first, last in inclusive_runs(np.abs(x[row] - line) < reach):
                if z[last] - z[first] >= longest_mm:
                    close[row, first : last + 1] = True
    return close


def crowded_at(
    runs: Sequence[str],
    x: FloatArray,
    *,
    lines: Sequence[FloatArray],
    walls: Sequence[tuple[float, FloatArray]],
    bead_mm: float,
    width_mm: float,
    everywhere: bool,
) -> BoolArray:
    """Where a forward rib makes way for an aft one that it crosses: it ends below and grows again above.

    Two slots that cross leave their outer beads to carry the strip that comes back. That is too little beside
    a third slot, and at the wall of a cut-out, on its solid side. There the strip before the wall comes back
    as both ribs come near the crossing, and the strip between the ribs as they leave it; each lies on the
    other, or on nothing if that is lost at the time. It is if the wall is between half a bead, where a rib
    leaves the solid first, and one and a half beads and a slot away.

    Parameters
    ----------
    runs : sequence of str
        Of the planes.
    x : ndarray, shape (planes, k)
        Their places [mm].
    lines : sequence of ndarray, shape (k,)
        Other slots [mm].
    walls : sequence of (float, ndarray)
        Walls of cut-outs [mm], with 1 where the solid lies before the wall and -1 where behind it.
    bead_mm, width_mm : float
        Bead width, slot width [mm].
    everywhere : bool
        Whether slots are too wide to cross at all.
    """
    reach = width_mm + LEAST_STRIP_BEADS * bead_mm
    widest = (1.5 + WALL_SPARE_BEADS) * bead_mm + width_mm
    crowded = np.zeros(x.shape, bool)
    aft = [row for row, run in enumerate(runs) if run == "aft"]
    for forward in (row for row, run in enumerate(runs) if run == "forward"):
        for other in aft:
            apart = np.abs(x[forward] - x[other])
            node = int(np.argmin(apart))
            if apart[node] > reach:
                continue
            place = x[forward, node]
            if (
                everywhere
                or any(abs(line[node] - place) < CROWD_REACHES * reach for line in lines)
                or any(0.5 * bead_mm <= side * (line[node] - place) <= widest for side, line in walls)
            ):
                crowded[forward] |= apart < 2 * CROWD_REACHES * reach
    return crowded
