"""How a sheet at true size is spread over pages: windows that overlap, and the seams between them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
import shapely

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.report.true_size import Item, Sheet, Stroke

__all__ = ["MARGIN_MM", "OVERLAP_MM", "STRIP_MM", "Paper", "Tile", "Tiling", "paper_named", "tile_sheet"]

MARGIN_MM = 10.0
"""Left free all round: more than what common printers cannot reach [mm]; common practice, no source."""

STRIP_MM = 24.0
"""Height of the strip with title, bar and map at the foot of every page [mm]."""

OVERLAP_MM = 12.0
"""Neighbouring pages show the same over this width; the seam is in its middle [mm]."""

PAD_MM = 2.0
"""Left free round the drawing inside its windows, so that no word touches the edge [mm]."""

FIT_MM = 1e-6
"""Rounding that does not ask for another page [mm]."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, upright [mm]."""

    name: str
    width_mm: float
    height_mm: float


PAPERS = {
    # ISO 216; ANSI/ASME Y14.1 calls the other one size A, 8.5 x 11 in
    "a4": Paper("A4", 210.0, 297.0),
    "letter": Paper("Letter", 215.9, 279.4),
}


def paper_named(name: str, *, key: str = "paper") -> Paper:
    """Return a size of paper.

    Parameters
    ----------
    name : {"a4", "letter"}
        Its name, in capitals or not.
    key : str
        What was given, for the message.

    Raises
    ------
    InputError
        When it is another one.
    """
    paper = PAPERS.get(name.lower())
    if paper is None:
        raise InputError(f"{key}: got {name!r}; allowed: {' or '.join(PAPERS)}")
    return paper


@dataclass(frozen=True, slots=True)
class Tile:
    """The window of a sheet that one page shows.

    Parameters
    ----------
    number : int
        From 1, row by row from the top left.
    column, row : int
        From 0 at the left and at the top.
    u_mm, v_mm : float
        Its lower left corner on the sheet [mm].
    """

    number: int
    column: int
    row: int
    u_mm: float
    v_mm: float


@dataclass(frozen=True, slots=True)
class Tiling:
    """All windows of a sheet.

    Parameters
    ----------
    page_mm : tuple of float
        Width and height of the page as it lies [mm].
    window_mm : tuple of float
        Width and height of a window [mm].
    columns, rows : int
        Their number.
    tiles : tuple of Tile
        Those that show something.
    """

    page_mm: tuple[float, float]
    window_mm: tuple[float, float]
    columns: int
    rows: int
    tiles: tuple[Tile, ...]

    def tile_at(self, column: int, row: int) -> Tile | None:
        """Return the tile at a place of the grid; None where there is none."""
        return next((one for one in self.tiles if (one.column, one.row) == (column, row)), None)

    def seams(self, tile: Tile) -> dict[str, tuple[float, Tile]]:
        """Return where a tile is joined to its neighbours, and to which [mm].

        ``left`` and ``right`` are places u, ``below`` and ``above`` places v, in the sheet's plane.
        """
        wide, high = self.window_mm
        half = 0.5 * OVERLAP_MM
        sides = {
            "left": (-1, 0, tile.u_mm + half),
            "right": (1, 0, tile.u_mm + wide - half),
            "above": (0, -1, tile.v_mm + high - half),
            "below": (0, 1, tile.v_mm + half),
        }
        found = {}
        for side, (right, down, place) in sides.items():
            other = self.tile_at(tile.column + right, tile.row + down)
            if other is not None:
                found[side] = (place, other)
        return found


def tile_sheet(sheet: Sheet, paper: Paper) -> Tiling:
    """Spread a sheet over pages, upright or lying, whichever needs fewer; lying if both need as many.

    Parameters
    ----------
    sheet : Sheet
        What is drawn.
    paper : Paper
        On what.
    """
    tilings = [
        _tiled(sheet, (paper.height_mm, paper.width_mm)),
        _tiled(sheet, (paper.width_mm, paper.height_mm)),
    ]
    return min(tilings, key=lambda tiling: len(tiling.tiles))


def _tiled(sheet: Sheet, page_mm: tuple[float, float]) -> Tiling:
    low, high = sheet.bounds + np.array([[-PAD_MM], [PAD_MM]])
    window = (page_mm[0] - 2.0 * MARGIN_MM, page_mm[1] - 2.0 * MARGIN_MM - STRIP_MM)
    counts, starts = [], []
    for axis, (size, first, last) in enumerate(zip(window, low, high, strict=True)):
        step = size - OVERLAP_MM
        count = max(1, ceil((last - first - OVERLAP_MM - FIT_MM) / step))
        counts.append(count)
        spare = count * step + OVERLAP_MM - (last - first)
        # in the middle of one window; in several from the left and from the top, where the words are
        share = 0.5 if count == 1 else (0.0, 1.0)[axis]
        starts.append(float(first - share * spare))
    tiles: list[Tile] = []
    for row, up in enumerate(reversed(range(counts[1]))):
        for column in range(counts[0]):
            corner = [
                start + number * (size - OVERLAP_MM)
                for start, number, size in zip(starts, (column, up), window, strict=True)
            ]
            # from seam to seam: what lies beyond is the neighbour's; a page without anything is left out
            first = [c + 0.5 * OVERLAP_MM * (n > 0) for c, n in zip(corner, (column, up), strict=True)]
            last = [
                c + size - 0.5 * OVERLAP_MM * (n + 1 < count)
                for c, n, size, count in zip(corner, (column, up), window, counts, strict=True)
            ]
            frame = shapely.box(*first, *last)
            if any(_meets(item, frame) for item in sheet.items):
                tiles.append(Tile(len(tiles) + 1, column, row, corner[0], corner[1]))
    return Tiling(page_mm, window, counts[0], counts[1], tuple(tiles))


def _meets(item: Item, frame: shapely.Polygon) -> bool:
    if isinstance(item, Stroke):
        points: FloatArray = np.vstack([item.points, item.points[:1]]) if item.closed else item.points
        return bool(shapely.intersects(frame, shapely.linestrings(points)))
    return bool(shapely.intersects(frame, shapely.box(*item.extent.ravel())))
