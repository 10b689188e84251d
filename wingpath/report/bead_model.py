"""The bead model: runs of bead drawn as shaded lines, from the bed up and from the back to the front.

The view is a fixed parallel projection from the side of the leading edge and the lower skin, from above. A
layer covers what lies behind it and below it, so drawing the layers upward, and the runs of one layer from
the back to the front, hides what has to be hidden without any test of depth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray, IntArray
from wingpath.report.colours import WALL_DARK, WALL_LIGHT, mixed

__all__ = ["RULE_MM", "Strokes", "View", "bead_strokes", "draw_strokes", "ruled_layers"]

TURN_DEG = -28.0
"""Turn of the panel about the vertical: negative shows the leading edge [deg]."""

LIFT_DEG = 46.0
"""The eye looks down by this much: steep enough to see into the opening [deg]."""

SHADES = 56
"""Steps of brightness; neighbours in one step are drawn as one line."""

LIGHT = (-0.62, -0.78)
"""Where the light comes from, in the plane of a layer: the side of the nose and the lower skin."""

FADE_MM = 22.0
"""Inside the panel light falls off by a factor e in this depth below the opening [mm]."""

RULE_MM = 10.0
"""Every layer at a multiple of this height is drawn darker, as a rule to read heights from [mm]."""

RULE_SHADE = 0.86
"""How much of its brightness such a layer keeps."""


@dataclass(frozen=True, slots=True)
class View:
    """The projection: picture axes in the frame of the part."""

    turn_deg: float = TURN_DEG
    lift_deg: float = LIFT_DEG

    @property
    def ahead(self) -> FloatArray:
        """Unit vector in the plane of a layer that points away from the eye, shape (2,)."""
        turn = np.deg2rad(self.turn_deg)
        return np.array([-np.sin(turn), np.cos(turn)])

    def flat(self, points: FloatArray) -> FloatArray:
        """Return points, shape (n, 3) [mm], as right and up in the picture, shape (n, 2) [mm]."""
        turn, lift = np.deg2rad(self.turn_deg), np.deg2rad(self.lift_deg)
        right = points[:, 0] * np.cos(turn) + points[:, 1] * np.sin(turn)
        up = points[:, :2] @ self.ahead * np.sin(lift) + points[:, 2] * np.cos(lift)
        return np.column_stack([right, up])


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """Lines in drawing order.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Points [mm in the picture].
    first, last : ndarray of int, shape (k,)
        Each line's points, `last` excluded.
    shade : ndarray of int, shape (k,)
        Step of brightness, 0 to ``SHADES - 1``.
    """

    points: FloatArray
    first: IntArray
    last: IntArray
    shade: IntArray


def ruled_layers(heights_mm: FloatArray) -> BoolArray:
    """Return which of some layers, lowest first, are drawn darker as a rule to read heights from."""
    return np.append(False, np.diff(np.floor(heights_mm / RULE_MM)) > 0)


def bead_strokes(
    points: FloatArray, run: IntArray, layer: IntArray, *, view: View, top_mm: float, ruled: BoolArray
) -> Strokes:
    """Cut runs of bead into lines of one brightness, in the order in which they have to be drawn.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        Points of all runs [mm]; outer loops run anticlockwise.
    run : ndarray of int, shape (n,)
        The run of each point; points of one run follow each other.
    layer : ndarray of int, shape (n,)
        Layer of each point; lower ones are drawn first.
    view : View
        The projection.
    top_mm : float
        Height of the opening, below which light falls off [mm].
    ruled : ndarray of bool, shape (n,)
        Points whose lines are drawn darker.
    """
    # one segment from every point to the next of its run
    inner = np.flatnonzero(run[:-1] == run[1:])
    away = points[inner + 1, :2] - points[inner, :2]
    away /= np.maximum(np.linalg.norm(away, axis=1), 1e-12)[:, None]
    # outer rings are kept counter-clockwise and holes clockwise, so the outside lies on the right
    outward = np.column_stack([away[:, 1], -away[:, 0]])
    facing = outward @ view.ahead < 0.0
    light = np.clip(outward @ np.asarray(LIGHT), -1.0, 1.0)
    depth = top_mm - points[inner, 2]
    shade = np.where(facing, 0.42 + 0.54 * light, (0.40 - 0.22 * light) * np.exp(-depth / FADE_MM))
    shade = np.where(facing & ruled[inner], RULE_SHADE * shade, shade)
    bins = np.rint(np.clip(shade, 0.0, 1.0) * (SHADES - 1)).astype(np.int64)
    fresh = np.ones(len(inner), bool)
    same_line = (np.diff(inner) == 1) & (bins[1:] == bins[:-1]) & (facing[1:] == facing[:-1])
    fresh[1:] = ~same_line
    starts = np.flatnonzero(fresh)
    ends = np.append(starts[1:], len(inner))
    first, last = inner[starts], inner[ends - 1] + 2
    far = points[:, :2] @ view.ahead
    distance = np.maximum.reduceat(far[inner], starts) if len(starts) else np.empty(0)
    order = np.lexsort((-distance, layer[first]))
    return Strokes(points=view.flat(points), first=first[order], last=last[order], shade=bins[starts][order])


def draw_strokes(pen: Any, strokes: Strokes, px: Callable[[FloatArray], FloatArray], *, width: int) -> None:
    """Draw strokes with the imaging library.

    Parameters
    ----------
    pen : ImageDraw
        What is drawn with.
    strokes : Strokes
        In drawing order.
    px : callable
        Turns points of the picture in mm, shape (n, 2), into pixels.
    width : int
        Width of every line [px].
    """
    flat = px(strokes.points).ravel().tolist()
    colours = [mixed(WALL_DARK, WALL_LIGHT, k / (SHADES - 1)) for k in range(SHADES)]
    for first, last, shade in zip(
        strokes.first.tolist(), strokes.last.tolist(), strokes.shade.tolist(), strict=True
    ):
        pen.line(flat[2 * first : 2 * last], fill=colours[shade], width=width)
