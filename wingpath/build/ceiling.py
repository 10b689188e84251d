"""How high a slot may reach: the inside of the body, one neck away from the skin, over the whole panel.

The sections of a panel are shrunk by the neck on a grid of heights. A slot at (x, z) may rise from the
lower skin to `top`; where the section is too thin for a slot worth having there is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely

from wingpath.core.arrays import FloatArray
from wingpath.geometry.outline import Section, surface_chains

__all__ = ["Ceiling", "Heights", "ceiling_of_sections"]

CHORD_SAMPLES = 241
"""Samples along the chord of a shrunk section, closer together towards both ends."""

MITRE_LIMIT = 3.0
"""Sharp corners of a shrunk section are kept up to this many offsets."""


class Heights(NamedTuple):
    """Heights at places of the planform, NaN where no slot may stand [mm].

    Parameters
    ----------
    top_mm : ndarray
        Upper skin, one neck farther in.
    low_mm, high_mm : ndarray
        Lower and upper skin.
    """

    top_mm: FloatArray
    low_mm: FloatArray
    high_mm: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Ceiling:
    """Heights that slots may fill, sampled over a panel.

    Parameters
    ----------
    z_mm : ndarray, shape (r,)
        Heights of the rows, rising [mm].
    fore_mm, aft_mm : ndarray, shape (r,)
        Foremost and aftmost x where a slot may stand [mm]; NaN where the section is too thin.
    top_mm, low_mm, high_mm : ndarray, shape (r, k)
        Shrunk upper surface, lower and upper skin at `k` places between fore and aft [mm].
    neck_mm : float
        How much the section is shrunk [mm].
    """

    z_mm: FloatArray
    fore_mm: FloatArray
    aft_mm: FloatArray
    top_mm: FloatArray
    low_mm: FloatArray
    high_mm: FloatArray
    neck_mm: float

    def at(self, x_mm: FloatArray, z_mm: FloatArray) -> Heights:
        """Return the ceiling and the skins at points of the planform.

        Parameters
        ----------
        x_mm, z_mm : ndarray, same shape
            Places [mm].
        """
        rows, columns = self.top_mm.shape
        row = np.clip(np.searchsorted(self.z_mm, z_mm, side="right") - 1, 0, rows - 2)
        share = np.clip((z_mm - self.z_mm[row]) / (self.z_mm[row + 1] - self.z_mm[row]), 0.0, 1.0)
        fore = self.fore_mm[row] * (1 - share) + self.fore_mm[row + 1] * share
        aft = self.aft_mm[row] * (1 - share) + self.aft_mm[row + 1] * share
        with np.errstate(invalid="ignore", divide="ignore"):
            place = (x_mm - fore) / (aft - fore)
        inside = (place >= 0.0) & (place <= 1.0)
        place = np.where(inside, place, 0.0)
        # columns are evenly spaced in the angle of a cosine law
        spot = np.arccos(1.0 - 2.0 * place) / np.pi * (columns - 1)
        column = np.clip(spot.astype(int), 0, columns - 2)
        along = spot - column

        def blend(table: FloatArray) -> FloatArray:
            inner = table[row, column] * (1 - along) + table[row, column + 1] * along
            outer = table[row + 1, column] * (1 - along) + table[row + 1, column + 1] * along
            return np.asarray(np.where(inside, inner * (1 - share) + outer * share, np.nan))

        return Heights(blend(self.top_mm), blend(self.low_mm), blend(self.high_mm))


def ceiling_of_sections(z_mm: Sequence[float] | FloatArray, section: Section, *, neck_mm: float) -> Ceiling:
    """Sample the ceiling of a panel.

    Parameters
    ----------
    z_mm : sequence of float
        Heights of the rows, rising [mm].
    section : callable
        Gives the ring of the body at a height, counter-clockwise, shape (k, 2) [mm].
    neck_mm : float
        Solid to leave between a slot's end and the skin [mm].
    """
    rows = len(z_mm)
    angle = np.linspace(0.0, np.pi, CHORD_SAMPLES)
    place = 0.5 * (1.0 - np.cos(angle))
    fore, aft = np.full(rows, np.nan), np.full(rows, np.nan)
    top, low, high = (np.full((rows, CHORD_SAMPLES), np.nan) for _ in range(3))
    for row, z in enumerate(z_mm):
        ring = section(float(z))
        if len(ring) < 3:
            continue
        body = shapely.Polygon(ring)
        shrunk = body.buffer(-neck_mm, join_style="mitre", mitre_limit=MITRE_LIMIT)
        if shrunk.is_empty:
            continue
        piece = max(shapely.get_parts(shrunk), key=shapely.area)
        inner = shapely.get_coordinates(shapely.orient_polygons(piece).exterior)
        _, upper = surface_chains(inner)
        under, over = surface_chains(np.asarray(ring))
        fore[row], aft[row] = upper[0, 0], upper[-1, 0]
        x = fore[row] + place * (aft[row] - fore[row])
        top[row] = np.interp(x, upper[:, 0], upper[:, 1])
        low[row] = np.interp(x, under[:, 0], under[:, 1])
        high[row] = np.interp(x, over[:, 0], over[:, 1])
    return Ceiling(np.asarray(z_mm, float), fore, aft, top, low, high, neck_mm)
