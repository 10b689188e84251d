"""Sections of the built wing as sheets of the drawing at true size: for checking parts, drilling, and jigs.

A sheet's plane is that of a layer: u aft from the section's leading edge, v up from the base line of the
jigs. The wing's own level, y = 0, in which every section has its quarter chord, lies at one height above the
base line on all sheets, so cradles that stand on one flat board hold the wing with its twist.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from wingpath.build.bores import Bore
from wingpath.build.layers import CORNER_MITRE_LIMIT, shrunk
from wingpath.build.slicing import slice_mesh
from wingpath.core.arrays import FloatArray
from wingpath.geometry.outline import surface_chains
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.report.drafting import below, cross, dimension, notes, table
from wingpath.report.true_size import Area, Item, Sheet, Stroke, Words, bounds_of

__all__ = ["SectionPlace", "section_sheet"]

FACE_MM = 1e-3
"""A part's lower face is cut this far above itself: a plane in the face itself meets nothing [mm]."""

BEYOND_MM = 14.0
"""Level line and base line run past the section by this much [mm]."""

BLOCK_MM = 8.0
"""A cradle's block stands out before and behind the section by this much [mm]; judgement."""

LABEL_ROW_MM, LABEL_APART_MM, LABEL_ROWS = 4.5, 6.0, 4
"""Pitch of the rows of numbers over a section, room that one needs, rows before they may meet [mm]."""

CROSS_MM = 2.5
"""Half size of the cross at a centre; that of a bore reaches this far beyond it [mm]."""

CHORD_MM = 5.0
"""The dimension of the chord lies this far under the section [mm]."""

SQUARE_DEG = 0.05
"""A bore that leans less is called square to the section [deg]."""

LEVEL_DEG = 0.005
"""A chord line that is turned less is called level [deg]."""

HEAD = ("no.", "what", "hole mm", "aft mm", "up mm", "span mm", "axis")


@dataclass(frozen=True, slots=True)
class SectionPlace:
    """Where a section is drawn.

    Parameters
    ----------
    title : str
        What it is, for example ``root section``.
    z_mm : float
        Where along the span [mm].
    level_mm : float
        Height of the wing's level over the base line, the same on all sheets [mm].
    said : tuple of str
        What else the sheet says.
    """

    title: str
    z_mm: float
    level_mm: float
    said: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class _Spot:
    """A centre with a number on the sheet and a row in the table."""

    u_mm: float
    v_mm: float
    half_mm: float
    cells: tuple[str, ...]


def section_sheet(build: WingBuild, place: SectionPlace) -> Sheet:
    """Draw one section: outline, printed parts, holes, level line, cradle, and a table of the centres.

    Parameters
    ----------
    build : WingBuild
        The built half wing; its meshes are cut where the section is.
    place : SectionPlace
        Where.
    """
    wing, z = build.design.wing, place.z_mm
    nose, tail = (wing.chord_point_mm(share, z)[0] for share in (0.0, 1.0))

    def on_sheet(points: FloatArray) -> FloatArray:
        return np.asarray(points + np.array([-nose[0], place.level_mm]))

    ring = on_sheet(build.design.body.section(z))
    front, back = float(ring[:, 0].min()), float(ring[:, 0].max())
    items: list[Item] = [*_printed(build, z, on_sheet), Stroke(ring, "section", closed=True)]
    items += _datums(on_sheet(nose), on_sheet(tail), place.level_mm, front, back)
    items += _cradle(ring)
    items += _holes(build, z, on_sheet)
    spots = _spots(build, z, on_sheet)
    items += _numbered(spots, float(ring[:, 1].max()))
    items += _sizes(ring, on_sheet(nose), on_sheet(tail), place.level_mm)
    top = float(bounds_of(items)[1, 1]) + 5.0
    left = float(bounds_of(items)[0, 0])
    heading = f"{place.title[0].upper()}{place.title[1:]}, {z:g} mm from the root"
    items.append(Words(left, top, heading, 11.0, bold=True))
    if spots:
        rows = [HEAD, *((f"{number}", *spot.cells) for number, spot in enumerate(spots, start=1))]
        items += table(left, below(items, 4.0), rows)
    items += notes(left, below(items, 2.0), [*_said(build, place, nose, tail), *place.said])
    return Sheet(f"{place.title}, span {z:g} mm", tuple(items))


def _printed(build: WingBuild, z: float, on_sheet: Callable[[FloatArray], FloatArray]) -> list[Item]:
    """Return what the parts that were built have there: the wall of one bead, and its outside."""
    items: list[Item] = []
    for part in _parts_at(build, z):
        panel = part.solid.panel
        local = float(np.clip(z - panel.start_mm, FACE_MM, panel.height_mm))
        regions = np.asarray(slice_mesh(part.solid.mesh, np.array([local]), simplify_mm=0.0).regions)
        inside = shrunk(regions, build.design.spec.bead_mm, limit=CORNER_MITRE_LIMIT)
        rings = _rings(regions)
        if rings:
            items.append(Area(tuple(on_sheet(one) for one in (*rings, *_rings(inside)))))
            items += [Stroke(on_sheet(one), "printed", closed=True) for one in rings]
    return items


def _parts_at(build: WingBuild, z: float) -> list[PanelResult]:
    """Return the panel that a section shows, at a joint the outer one, and what else is there."""
    panels = [part for part in build.panels if part.solid.panel.start_mm <= z] or [build.panels[0]]
    others = [
        part
        for part in (*build.surfaces, *build.covers)
        if part.solid.panel.start_mm < z < part.solid.panel.end_mm
    ]
    return [panels[-1], *others]


def _rings(regions: NDArray[np.object_]) -> list[FloatArray]:
    """Return outlines and holes of regions, not closed."""
    parts = shapely.get_parts(regions)
    rings = shapely.get_rings(parts[~shapely.is_empty(parts)])
    return [shapely.get_coordinates(ring)[:-1] for ring in rings]


def _datums(nose: FloatArray, tail: FloatArray, level: float, front: float, back: float) -> list[Item]:
    """Return level line, base line, chord line, the leading edge's upright, and the angle between two."""
    quarter = nose + 0.25 * (tail - nose)
    along = tail - nose
    chord = float(np.hypot(*along))
    ends = (front - BEYOND_MM, back + BEYOND_MM)
    turn = float(np.arctan2(along[1], along[0]))
    lines: list[Item] = [
        Stroke(np.array([(ends[0], level), (ends[1], level)]), "datum"),
        Stroke(np.array([(ends[0], 0.0), (ends[1], 0.0)]), "jig"),
        Stroke(np.stack([nose, tail]), "datum"),
        Stroke(np.array([(nose[0], -3.0), (nose[0], nose[1] + 5.0)]), "datum"),
        Words(float(nose[0]) + 1.0, -3.4, "leading edge", 6.5),
        *cross(float(quarter[0]), float(quarter[1]), half_mm=CROSS_MM),
        Words(ends[0] + 0.3, level + 0.7, "level", 6.5),
        Words(ends[0] + 0.3, 0.7, "base", 6.5),
    ]
    radius = 0.75 * chord + 0.7 * BEYOND_MM
    if abs(np.rad2deg(turn)) >= LEVEL_DEG:
        ahead = quarter + (radius + 2.0) * along / chord
        angles = np.linspace(0.0, turn, 9)
        arc = quarter + radius * np.column_stack([np.cos(angles), np.sin(angles)])
        lines += [Stroke(np.stack([tail, ahead]), "dimension"), Stroke(arc, "dimension")]
    height = level + min(0.0, 0.5 * turn * radius) - 1.0
    words = f"twist {-np.rad2deg(turn) + 0.0:.2f} deg"
    return [*lines, Words(ends[1] + 1.0, height, words.replace("-0.00", "0.00"))]


def _cradle(ring: FloatArray) -> list[Item]:
    """Return the outline of a cradle's block: base line, ends, and the section's lower side."""
    lower, _ = surface_chains(ring)
    (first_u, first_v), (last_u, last_v) = lower[0], lower[-1]
    before, behind = first_u - BLOCK_MM, last_u + BLOCK_MM
    corners = [(behind, last_v), (behind, 0.0), (before, 0.0), (before, first_v)]
    return [Stroke(np.vstack([lower, corners]), "jig", closed=True)]


def _holes(build: WingBuild, z: float, on_sheet: Callable[[FloatArray], FloatArray]) -> list[Item]:
    return [
        Stroke(on_sheet(bore.centre_mm(z) + bore.ring(bore.radius_mm)), "bore", closed=True)
        for bore in _bores_at(build, z)
    ]


def _bores_at(build: WingBuild, z: float) -> list[Bore]:
    return [bore for bore in build.design.voids.bores if bore.from_mm <= z <= bore.to_mm]


def _spots(build: WingBuild, z: float, on_sheet: Callable[[FloatArray], FloatArray]) -> list[_Spot]:
    """Return the centres of holes and the hinge lines there, by their place along the chord."""
    called = _called(build)
    spots = []
    for bore in _bores_at(build, z):
        u, v = on_sheet(bore.centre_mm(z))
        size = (
            f"{2.0 * bore.radius_mm:.2f}"
            if bore.box_mm is None
            else f"{2.0 * bore.box_mm[0]:.2f} x {2.0 * bore.box_mm[1]:.2f}"
        )
        cells = (called.get(bore.name.split(" ")[0], bore.kind), size, *_figures(u, v))
        reach = f"{bore.from_mm:g} to {bore.to_mm:g}"
        half = max(bore.half_width_mm, bore.half_height_mm) + CROSS_MM
        spots.append(_Spot(float(u), float(v), half, (*cells, reach, _lean(bore))))
    for aileron in build.design.voids.ailerons:
        if aileron.from_mm <= z <= aileron.to_mm:
            u, v = on_sheet(np.array(aileron.hinge_mm(z)))
            reach = f"{aileron.from_mm:g} to {aileron.to_mm:g}"
            what = f"hinge line, aileron-{aileron.number}"
            spots.append(_Spot(float(u), float(v), 2.0 * CROSS_MM, (what, "-", *_figures(u, v), reach, "")))
    return sorted(spots, key=lambda spot: spot.u_mm)


def _figures(u: float, v: float) -> tuple[str, str]:
    return f"{u + 0.0:.1f}", f"{v + 0.0:.1f}"


def _lean(bore: Bore) -> str:
    """Say how a bore leans on its way out."""
    x, y, z = (float(value) for value in bore.direction)
    angles = (np.rad2deg(np.arctan2(x, z)), np.rad2deg(np.arctan2(y, z)))
    names = (("aft", "forward"), ("up", "down"))
    leans = [
        f"{abs(angle):.1f} deg {pair[int(angle < 0.0)]}"
        for angle, pair in zip(angles, names, strict=True)
        if abs(angle) >= SQUARE_DEG
    ]
    return ", ".join(leans) or "square"


def _called(build: WingBuild) -> dict[str, str]:
    """Return what goes into each hole, by its key."""
    spec, named = build.design.spec, {}
    for number, tube in enumerate(spec.tubes):
        sizes = sorted({tube.size_x_mm, tube.size_y_mm})
        kind = "strip" if tube.shape == "strip" else "tube"
        named[f"tube[{number}]"] = f"{kind}[{number}], {' x '.join(f'{size:g}' for size in sizes)} mm"
    for number, tab in enumerate(spec.tabs):
        named[f"tab[{number}]"] = f"tab[{number}], {tab.width_mm:g} x {tab.thickness_mm:g} mm"
    for number, duct in enumerate(spec.ducts):
        named[f"duct[{number}]"] = f"duct[{number}], {duct.diameter_mm:g} mm"
    for number, pin in enumerate(spec.pins):
        named[f"pin[{number}]"] = f"pin[{number}], {pin.diameter_mm:g} mm"
    return named


def _numbered(spots: list[_Spot], top: float) -> list[Item]:
    """Return a cross at every centre, and its number above the section at the end of a leader."""
    items: list[Item] = []
    ends = [-np.inf] * LABEL_ROWS
    for number, spot in enumerate(spots, start=1):
        items += cross(spot.u_mm, spot.v_mm, half_mm=spot.half_mm)
        row = next((r for r, end in enumerate(ends) if spot.u_mm - end >= LABEL_APART_MM), LABEL_ROWS - 1)
        ends[row] = spot.u_mm
        height = top + 3.0 + row * LABEL_ROW_MM
        leader = [(spot.u_mm, spot.v_mm + spot.half_mm), (spot.u_mm, height)]
        items.append(Stroke(np.array(leader), "dimension"))
        items.append(Words(spot.u_mm, height + 0.8, f"{number}", 9.0, "middle", bold=True))
    return items


def _sizes(ring: FloatArray, nose: FloatArray, tail: FloatArray, level: float) -> list[Item]:
    """Return the dimensions of the chord, close under the section, and of the level line's height."""
    chord = float(np.hypot(*(tail - nose)))
    along = (tail - nose) / chord
    deep = float(((ring - nose) @ np.array([along[1], -along[0]])).max())
    left = float(ring[:, 0].min()) - BEYOND_MM
    return [
        *dimension(
            (float(nose[0]), float(nose[1])),
            (float(tail[0]), float(tail[1])),
            aside_mm=-(deep + CHORD_MM),
            text=f"chord {chord:.1f} mm",
        ),
        *dimension((left, 0.0), (left, level), aside_mm=3.5, text=f"{level:g}"),
    ]


def _said(build: WingBuild, place: SectionPlace, nose: FloatArray, tail: FloatArray) -> list[str]:
    ends = [f"{abs(y):.1f} mm {'above' if y > 0.0 else 'below'}" for y in (nose[1], tail[1])]
    flat = max(abs(nose[1]), abs(tail[1])) < LEVEL_DEG
    height = (
        "Here the chord line lies on it."
        if flat
        else f"Here the leading edge lies {ends[0]} it, the trailing edge's middle {ends[1]} it."
    )
    said = [
        "The left half seen from the tip towards the root, the right half from the root towards the tip.",
        "Level line: the wing's x axis through the quarter chord (cross), about which the twist turns, nose "
        f"up positive. {height}",
        f"The leading edge lies {nose[0] + 0.0:.1f} mm aft of the root's. Grey: the printed wall, one bead "
        f"of {build.design.spec.bead_mm:g} mm; its slots are thin lines.",
        f"Cradle (long dashes): the section's own lower side down to a base line {place.level_mm:g} mm under "
        "the level line, on every sheet: cradles on one flat board hold the wing with its twist. The "
        "block's face towards the root stands at the section's span; allow for a lining.",
    ]
    if _bores_at(build, place.z_mm):
        said.insert(
            1,
            "Aft: behind the leading edge, along the level line. Up: above the base line. Hole: its size "
            "square to its axis, clearance included. Axis: how it leans on its way outboard.",
        )
    return said
