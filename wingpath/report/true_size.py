"""What a drawing at true size holds: sheets of lines, areas and words, all in millimetres.

A sheet has a plane of its own, ``u`` to the right and ``v`` up, in which a millimetre is a millimetre of
the wing. Where it falls onto pages is decided later, by :mod:`wingpath.report.tiling`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["INKS", "Area", "Ink", "Item", "Sheet", "Stroke", "TrueSizeDrawing", "Words", "bounds_of"]

Ink = Literal["section", "printed", "bore", "axis", "datum", "jig", "hinge", "dimension", "grid"]
"""What a line stands for.

=========  ================================================================
section    outer outline of the wing or of a control surface
printed    outline of the printed part, slots and bores included
bore       hole to drill or to check
axis       cross at a centre
datum      chord line, level line, leading edge
jig        cradle and base line
hinge      hinge line
dimension  dimension lines and leaders
grid       frames of tables and stations along the span
=========  ================================================================
"""

INKS: tuple[Ink, ...] = (
    "section",
    "printed",
    "bore",
    "axis",
    "datum",
    "jig",
    "hinge",
    "dimension",
    "grid",
)
"""All of them."""

MM_PER_POINT = 25.4 / 72.0
"""Length of a typographic point [mm]."""

EMS_PER_LETTER = 0.5
"""Width of a letter in its size: a little over the mean of English text in a plain sans-serif font."""


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A line through points.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        Its points u, v [mm].
    ink : Ink
        What it stands for.
    closed : bool
        Whether it returns to its first point.
    """

    points: FloatArray
    ink: Ink
    closed: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", frozen_floats(self.points, (None, 2), name="points"))

    @property
    def extent(self) -> FloatArray:
        """Least and greatest u, v, shape (2, 2) [mm]."""
        return np.stack([self.points.min(axis=0), self.points.max(axis=0)])


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A shaded area: what an odd number of rings lies round.

    Parameters
    ----------
    rings : sequence of array_like, shape (k, 2)
        Its outlines and holes [mm].
    """

    rings: tuple[FloatArray, ...]

    def __post_init__(self) -> None:
        rings = tuple(frozen_floats(ring, (None, 2), name="ring") for ring in self.rings)
        object.__setattr__(self, "rings", rings)

    @property
    def extent(self) -> FloatArray:
        """Least and greatest u, v, shape (2, 2) [mm]."""
        points = np.concatenate(self.rings)
        return np.stack([points.min(axis=0), points.max(axis=0)])


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text.

    Parameters
    ----------
    u_mm, v_mm : float
        Where its base line begins, ends or has its middle [mm].
    text : str
        What it says; letters that the font lacks are replaced when it is drawn.
    size_pt : float
        Size of the letters [pt].
    anchor : {"start", "middle", "end"}
        Which of these the place is.
    bold : bool
        Whether it is bold.
    turn_deg : float
        Turned about the place, anticlockwise [deg].
    """

    u_mm: float
    v_mm: float
    text: str
    size_pt: float = 8.0
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False
    turn_deg: float = 0.0

    @property
    def extent(self) -> FloatArray:
        """Least and greatest u, v, roughly, shape (2, 2) [mm]."""
        em = self.size_pt * MM_PER_POINT
        wide = EMS_PER_LETTER * em * len(self.text)
        first = {"start": 0.0, "middle": -0.5, "end": -1.0}[self.anchor] * wide
        corners = np.array([(u, v) for u in (first, first + wide) for v in (-0.25 * em, 0.8 * em)])
        turn = np.deg2rad(self.turn_deg)
        cosine, sine = np.cos(turn), np.sin(turn)
        placed = corners @ np.array([[cosine, sine], [-sine, cosine]]) + [self.u_mm, self.v_mm]
        return np.stack([placed.min(axis=0), placed.max(axis=0)])


Item = Stroke | Area | Words
"""Whatever stands on a sheet."""


def bounds_of(items: Sequence[Item]) -> FloatArray:
    """Return the least and greatest u, v of some items, shape (2, 2) [mm].

    Raises
    ------
    ValueError
        When there is none.
    """
    extents = np.stack([item.extent for item in items])
    return np.stack([extents[:, 0].min(axis=0), extents[:, 1].max(axis=0)])


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One drawing, on as many pages as it takes.

    Parameters
    ----------
    title : str
        What it shows, for example ``root section``.
    items : tuple of Item
        What stands on it, in the order in which it is drawn.
    """

    title: str
    items: tuple[Item, ...]

    @property
    def bounds(self) -> FloatArray:
        """Least and greatest u, v, shape (2, 2) [mm]."""
        return bounds_of(self.items)


@dataclass(frozen=True, slots=True, eq=False)
class TrueSizeDrawing:
    """All sheets of a wing.

    Parameters
    ----------
    name : str
        Name of the aircraft.
    sheets : tuple of Sheet
        Its sheets.
    """

    name: str
    sheets: tuple[Sheet, ...]
