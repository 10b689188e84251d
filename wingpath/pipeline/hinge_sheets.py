"""Hinge lines from above as sheets of the drawing at true size."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from wingpath.build.ailerons import Aileron
from wingpath.core.arrays import FloatArray
from wingpath.geometry.outline import surface_chains
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.report.drafting import below, cross, notes, table, tucked
from wingpath.report.true_size import Item, Sheet, Stroke, Words, bounds_of

__all__ = ["hinge_sheet"]

BESIDE_MM = 5.0
"""So much of the wing is shown inboard and outboard of the bay [mm]."""

TICK_STEP_MM, TICK_APART_MM = 50.0, 8.0
"""Steps of the stations along the span, and how far they stay from other places [mm]."""

AHEAD_MM, TICK_AFT_MM = 12.0, 5.0
"""How far the lines of stations reach ahead of the hinge line and behind it [mm]."""

LABEL_ROWS, LABEL_ROW_MM = 3, 6.0
"""Rows of words at the stations, and their pitch [mm]."""

HORN_MM = 4.0
"""Half size of the cross at the horn [mm]."""

HEAD = ("span mm", "what", "aft of the root's leading edge", "to the trailing edge", "over the lower skin")


def hinge_sheet(build: WingBuild, aileron: Aileron, surface: PanelResult) -> Sheet:
    """Draw the aft part of the wing from above, with an aileron, its bay and its hinge line.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    aileron : Aileron
        Whose hinge line.
    surface : PanelResult
        The printed control surface.
    """
    ends = (float(aileron.corners[0][2]), float(aileron.corners[1][2]))
    reach = (
        min(surface.solid.panel.start_mm, ends[0]) - BESIDE_MM,
        max(surface.solid.panel.end_mm, ends[1]) + BESIDE_MM,
    )
    items: list[Item] = [*_wing_edges(build, reach), *_surface_edge(surface)]
    items.append(Stroke(_seen(aileron.hinge[:, 0], aileron.hinge[:, 2]), "hinge"))
    places = _places(build, aileron)
    items += _stations(aileron, places)
    if aileron.horn is not None:
        (u, v), *_ = _seen(np.array([aileron.horn[0]]), np.array([aileron.horn[2]]))
        items += [*cross(float(u), float(v), half_mm=HORN_MM), Words(float(u) + 1.0, float(v) - 3.5, "horn")]
    bounds = bounds_of(items)
    left = float(bounds[0, 0])
    title = f"hinge line of aileron-{aileron.number}"
    items.append(Words(left, float(bounds[1, 1]) + 4.0, f"H{title[1:]}, from above", 11.0, bold=True))
    rows = [HEAD, *(_row(build, aileron, z, what) for z, what in places)]
    block = table(0.0, 0.0, rows)
    block += notes(0.0, below(block, 2.0), _said(aileron))
    return Sheet(title, (*items, *tucked(block, items, 4.0)))


def _seen(x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
    """Return places as seen from above, nose up: the left half wing reaches to the left."""
    return np.column_stack([-np.asarray(z_mm, float), -np.asarray(x_mm, float)])


def _wing_edges(build: WingBuild, reach: tuple[float, float]) -> list[Item]:
    """Return the aft edge of the panels there, the wall of the bay included, from their judged layers."""
    z = np.concatenate([part.solid.panel.start_mm + part.continuity.layers.z_mm for part in build.panels])
    aft = np.concatenate([shapely.bounds(part.continuity.layers.regions)[:, 2] for part in build.panels])
    there = (z > reach[0]) & (z < reach[1]) & np.isfinite(aft)
    if there.sum() < 2:
        return []
    return [Stroke(_straight(_seen(aft[there], z[there])), "section")]


def _surface_edge(surface: PanelResult) -> list[Item]:
    layers = surface.continuity.layers
    bounds = shapely.bounds(layers.regions)
    there = np.isfinite(bounds[:, 0])
    z = surface.solid.panel.start_mm + layers.z_mm[there]
    if len(z) < 2:
        return []
    fore, aft = _seen(bounds[there, 0], z), _seen(bounds[there, 2], z)
    return [Stroke(_straight(np.vstack([fore, aft[::-1]])), "section", closed=True)]


STRAIGHT_MM = 0.005
"""Points are dropped where the line stays this close [mm]."""


def _straight(points: FloatArray) -> FloatArray:
    return np.asarray(shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), STRAIGHT_MM)))


def _places(build: WingBuild, aileron: Aileron) -> list[tuple[float, str]]:
    """Return the stations along the hinge line with what they are, inboard first."""
    named = [(aileron.from_mm, "bay begins"), (aileron.to_mm, "bay ends")]
    if aileron.horn is not None:
        named.append((float(aileron.horn[2]), "horn"))
    named += [
        (panel.start_mm, "joint")
        for panel in build.design.panels[1:]
        if aileron.from_mm < panel.start_mm < aileron.to_mm
    ]
    taken = np.array([z for z, _ in named])
    steps = np.arange(np.ceil(aileron.from_mm / TICK_STEP_MM) * TICK_STEP_MM, aileron.to_mm, TICK_STEP_MM)
    free = [(float(z), "") for z in steps if np.abs(taken - z).min() > TICK_APART_MM]
    return sorted([*named, *free])


def _stations(aileron: Aileron, places: Sequence[tuple[float, str]]) -> list[Item]:
    """Return a line across the hinge at every station, its words higher where they would meet others."""
    items: list[Item] = []
    told = [(z, f"{z:g} {what}".rstrip()) for z, what in places]
    halves = [0.5 * float(np.ptp(Words(0.0, 0.0, words).extent[:, 0])) + 1.0 for _, words in told]
    rows: list[list[tuple[float, float]]] = [[] for _ in range(LABEL_ROWS)]
    # short words lie low, so that the lines of long ones pass beside them
    for number in np.argsort(halves, kind="stable").tolist():
        (z, words), half = told[number], halves[number]
        x = aileron.hinge_mm(z)[0]
        free = (r for r, taken in enumerate(rows) if all(abs(z - at) >= half + room for at, room in taken))
        row = next(free, LABEL_ROWS - 1)
        rows[row].append((z, half))
        line = _seen(np.array([x - AHEAD_MM - row * LABEL_ROW_MM, x + TICK_AFT_MM]), np.array([z, z]))
        (u, v), _ = line
        items += [Stroke(line, "grid"), Words(float(u), float(v) + 1.0, words, 8.0, "middle")]
    return items


def _row(build: WingBuild, aileron: Aileron, z: float, what: str) -> tuple[str, ...]:
    x, y = aileron.hinge_mm(z)
    ring = build.design.body.section(z)
    under, _ = surface_chains(ring)
    skin = float(np.interp(x, *under.T))
    edge = float(ring[:, 0].max())
    return (f"{z:g}", what, f"{x:.1f}", f"{edge - x:.1f}", f"{y - skin:.1f}")


def _said(aileron: Aileron) -> list[str]:
    half = 0.5 * aileron.gap_mm
    up, down = aileron.free_deg
    said = [
        "The left half from above, nose up, the root to the right. The right half is the mirror image: go "
        "over the lines on the back of the paper.",
        f"The wing ends {half:g} mm ahead of the hinge line (dash and dot), the aileron begins {half:g} mm "
        f"behind it, at mid thickness; the gap is {aileron.gap_mm:g} mm along the level line.",
        f"It turns {up:.0f} deg up and {down:.0f} deg down before it touches, if the hinge lies on the line. "
        "Try it by hand before it is glued, and with the servo before every flight.",
    ]
    if aileron.horn is not None:
        said.append("Horn: the cross is where its line meets the lower skin of the aileron.")
    return said
