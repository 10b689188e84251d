"""Marks: which findings a picture of one layer shows, and where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.build.continuity import Continuity
from wingpath.core.findings import SEVERITIES, Finding

__all__ = ["Mark", "focus_of_layer", "marks_of_layer", "worst_layer"]

UNDRAWABLE = "empty-layer"
"""An empty layer shows nothing, so any other finding of its severity goes before it."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One finding as it is shown on a layer.

    Parameters
    ----------
    number : int
        Its number in the picture, from 1.
    finding : Finding
        What was found.
    place : tuple of float or None
        Where to draw its ring (x, y) [mm]; None when it is only listed.
    here : bool
        Whether this layer is the finding's worst.
    """

    number: int
    finding: Finding
    place: tuple[float, float] | None
    here: bool


def worst_layer(continuity: Continuity, findings: Sequence[Finding] | None = None) -> int:
    """Return the index of the layer of the worst finding, or of the middle layer when nothing was found.

    Worst is: by severity, then by how many times the limit was found (or by what was found, where the
    limit is zero). By default the findings are those of the layers.
    """
    count = len(continuity.layers)
    given = continuity.findings if findings is None else findings
    placed = [f for f in given if f.layers is not None or f.z_mm is not None]
    if not placed or count == 0:
        return max(0, count // 2)
    worst = min(placed, key=lambda f: (SEVERITIES.index(f.severity), f.code == UNDRAWABLE, -_size(f)))
    return _layer_of(worst, continuity)


def marks_of_layer(continuity: Continuity, index: int, findings: Sequence[Finding]) -> tuple[Mark, ...]:
    """Return the findings that concern a layer, numbered, worst first.

    A finding is ringed on the layer where it is worst. Errors and warnings are ringed on the other layers
    of their range as well; a note there is only listed, because what it speaks of moves with the height.
    """
    marks: list[Mark] = []
    codes = continuity.verdicts[index].split("+")
    ranked = sorted(findings, key=lambda f: (SEVERITIES.index(f.severity), -_size(f)))
    for finding in ranked:
        first, last = finding.layers or (0, -1)
        here = finding.z_mm is not None and _layer_of(finding, continuity) == index
        # what belongs to no layer, as a hole in the surface may, belongs to the picture of any
        whole = finding.layers is None and finding.z_mm is None
        if not here and not whole and not first <= index + 1 <= last:
            continue
        loud = finding.severity != "note"
        # a range may hold layers that are clean between ones that are not
        if loud and not here and not whole and finding in continuity.findings and finding.code not in codes:
            continue
        place = None
        if finding.x_mm is not None and finding.y_mm is not None and (here or loud):
            place = (finding.x_mm, finding.y_mm)
        marks.append(Mark(len(marks) + 1, finding, place, here))
    return tuple(marks)


def focus_of_layer(
    continuity: Continuity, index: int, marks: Sequence[Mark]
) -> tuple[tuple[float, float], str]:
    """Return the place that is worth enlarging (x, y) [mm], and what it is."""
    ringed = sorted(
        (mark for mark in marks if mark.place is not None),
        key=lambda mark: (SEVERITIES.index(mark.finding.severity), not mark.here),
    )
    for mark in ringed:
        if mark.place is not None:
            return mark.place, f"place {mark.number}, {mark.finding.code}"
    layers, gaps = continuity.layers, continuity.gaps
    region = layers.regions[index]
    if region.is_empty:
        return (0.0, 0.0), "nothing"
    left, _, right, _ = region.bounds
    near = gaps.probed[max(0, int(np.searchsorted(gaps.probed, index, side="right")) - 1)]
    rows = np.flatnonzero((gaps.layer == near) & np.isfinite(gaps.neck_mm))
    if len(rows):
        row = rows[np.argmin(np.abs(gaps.x_mm[rows] - 0.5 * (left + right)))]
        return (float(gaps.x_mm[row]), float(gaps.y_mm[row])), "end of a rib"
    points = shapely.get_coordinates(region)
    x, y = points[np.argmin(points[:, 0])].tolist()
    return (x, y), "nose"


def _size(finding: Finding) -> float:
    if finding.found is None:
        return 0.0
    return finding.found / finding.limit if finding.limit else finding.found


def _layer_of(finding: Finding, continuity: Continuity) -> int:
    layers = continuity.layers
    if finding.z_mm is not None:
        return int(np.argmin(np.abs(layers.z_mm - finding.z_mm)))
    first = finding.layers[0] if finding.layers is not None else 1
    return min(max(first - 1, 0), len(layers) - 1)
