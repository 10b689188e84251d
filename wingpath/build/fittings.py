"""Fittings: what the spec's tubes, tabs, ducts and pins ask for, placed in the wing and held apart.

Every closed fitting is a bore with one slit. Whatever cannot be printed is refused here, with both
culprits named and the smallest change that helps.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely
import shapely.affinity

from wingpath.build.bays import Bay
from wingpath.build.bores import Bore
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import DesignError
from wingpath.geometry.outline import surface_chains
from wingpath.model.ribs import RibPlane
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing

__all__ = ["bores_from_spec", "pins_from_spec", "refuse_close_bores", "refuse_thin_walls"]

Section = Callable[[float], FloatArray]

OPENING_SPARE_MM = 0.2
"""A duct lies this far below the floor of the bay that it leads into, where there is room [mm]."""

LEAST_OPENING_MM = 1.5
"""A duct opens into a bay by at least this height [mm]: a servo lead's wires pass side by side."""

LED_MM = 2.0
"""A duct reaches this far into the full depth of its bay [mm]."""

REMEDY_SPARE_MM = 0.05
"""Added to a suggested change, so that it still helps after rounding [mm]."""

SPROUT_SPARE_MM = 2.0
"""The slit of a bore that begins in mid span may sprout this much sooner where the skin tilts [mm]."""

CHECK_STEP_MM = 2.0
"""Walls of a bore are checked at this distance along the span [mm]."""

LEAST_SLIT_GAP_BEADS = 2.0
"""A web beside a slit needs two beads between them, as two webs do."""

LONGEST_CROSSING_MM = 6.0
"""A web may cross a slit if they are closer than that over no more than this stretch of span [mm]."""


def bores_from_spec(spec: Spec, wing: Wing, section: Section, bays: Sequence[Bay] = ()) -> tuple[Bore, ...]:
    """Return the bores of the tubes, tabs and ducts of a spec, and of strips and square tubes.

    Parameters
    ----------
    spec, wing
        What the maker describes.
    section : callable
        Ring of the whole half wing at a height [mm].
    bays : sequence of Bay
        Bays that a duct may lead into.

    Raises
    ------
    DesignError
        When a bore does not leave one neck of solid to the skin all along.
    """
    bores = []
    for number, tube in enumerate(spec.tubes):
        box = None
        if tube.shape != "round":
            box = (
                0.5 * (tube.size_x_mm + tube.clearance_mm),
                0.5 * (tube.size_y_mm + tube.clearance_mm),
            )
        radius = 0.5 * (tube.outer_mm + tube.clearance_mm) if box is None else max(box)
        fractions = (tube.chord_fraction, tube.end_fraction)
        axis = _Axis(f"tube[{number}]", tube.from_mm, tube.to_mm, fractions)
        bores.append(_placed(axis, radius, box, spec, wing, section))
    for number, tab in enumerate(spec.tabs):
        box = (0.5 * (tab.width_mm + tab.clearance_mm), 0.5 * (tab.thickness_mm + tab.clearance_mm))
        x = float(wing.chord_point_mm(tab.chord_fraction, 0.0)[0, 0])
        axis = _Axis(f"tab[{number}]", 0.0, tab.depth_mm, x_mm=x)
        bores.append(_placed(axis, max(box), box, spec, wing, section))
    for number, duct in enumerate(spec.ducts):
        fractions = (duct.chord_fraction, duct.end_fraction)
        axis = _Axis(f"duct[{number}]", duct.from_mm, duct.to_mm, fractions)
        bore = _placed(axis, 0.5 * duct.diameter_mm, None, spec, wing, section)
        bay = next((bay for bay in bays if _leads_into(bore, bay)), None)
        bores.append(bore if bay is None else _led_into(bore, bay, wing, section))
    for bore in bores:
        if not bore.name.startswith("duct") or all(not _leads_into(bore, bay) for bay in bays):
            refuse_thin_walls(bore, wing, section)
    return tuple(bores)


def _leads_into(duct: Bore, bay: Bay) -> bool:
    """Whether a duct is meant to end in a bay: it reaches its span and aims at it or close beside it."""
    first = bay.reach_mm[0]
    near = 0.5 * (bay.aft_mm - bay.fore_mm) + duct.half_width_mm
    x = float(duct.end[0])
    return (
        bay.side == "lower"
        and not bay.name.endswith("frame")
        and first <= duct.to_mm <= bay.to_mm
        and bay.fore_mm - near < x < bay.aft_mm + near
    )


def _led_into(duct: Bore, bay: Bay, wing: Wing, section: Section) -> Bore:
    """Lower the far end of a duct until it opens into the bay, as far as the wall below it allows.

    Raises
    ------
    DesignError
        When the bay is too shallow for the duct to open into it.
    """
    first = bay.reach_mm[0]
    under, _ = surface_chains(section(first))
    low = float(np.interp(duct.end[0], *under.T))
    half = duct.half_height_mm
    lowest = low + half + duct.neck_mm
    wanted = bay.floor_mm - half - OPENING_SPARE_MM
    height = max(lowest, min(wanted, float(duct.end[1])))
    if height - half > bay.floor_mm - LEAST_OPENING_MM:
        more = height - half - bay.floor_mm + LEAST_OPENING_MM
        raise DesignError(
            (duct.name, bay.name),
            f"the duct passes {height - half - bay.floor_mm:.2f} mm above the bay and does not open into it",
            f"Make the bay deeper or the duct thinner by {more:.2f} mm",
        )
    to = max(duct.to_mm, bay.from_mm + LED_MM)
    led = replace(duct, to_mm=to, end=np.array([_aimed_at(duct, bay, first, to), height]))
    refuse_thin_walls(_up_to(led, first), wing, section)
    return led


def _aimed_at(duct: Bore, bay: Bay, first_mm: float, to_mm: float) -> float:
    """Return where along the chord a duct must end for its slit to open into the bay all along its slope.

    Raises
    ------
    DesignError
        When it comes in too much from the side.
    """
    low, high = bay.fore_mm + duct.neck_mm, bay.aft_mm - duct.neck_mm
    start, length = float(duct.start[0]), to_mm - duct.from_mm
    share = (first_mm - duct.from_mm) / length
    end = float(np.clip(duct.end[0], low, high))
    entry = start + share * (end - start)
    if not low <= entry <= high and share > 0.0:
        end = start + (float(np.clip(entry, low, high)) - start) / share
    if share <= 0.0 or not low - 1e-9 <= end <= high + 1e-9:
        aside = max(low - entry, entry - high, 0.0)
        raise DesignError(
            (duct.name, bay.name),
            f"the duct comes in {aside:.1f} mm beside the bay, so its slit would cut off a piece of the wing",
            f"Let the duct start {aside / max(1.0 - share, 1e-3):.0f} mm nearer to the bay along the chord, "
            "or make the bay wider",
        )
    return end


def _up_to(bore: Bore, to_mm: float) -> Bore:
    """Return the part of a bore up to `to_mm`."""
    return replace(bore, to_mm=to_mm, end=bore.centre_mm(to_mm))


def pins_from_spec(spec: Spec, wing: Wing, section: Section, joints_mm: Sequence[float]) -> tuple[Bore, ...]:
    """Return the bores of the alignment pins, half of each on either side of every joint.

    Raises
    ------
    DesignError
        As for :func:`bores_from_spec`.
    """
    bores = []
    for number, pin in enumerate(spec.pins):
        for joint in joints_mm:
            x = float(wing.chord_point_mm(pin.chord_fraction, joint)[0, 0])
            half = 0.5 * pin.length_mm
            axis = _Axis(f"pin[{number}] at {joint:g} mm", joint - half, joint + half, x_mm=x)
            radius = 0.5 * (pin.diameter_mm + pin.clearance_mm)
            bore = _placed(axis, radius, None, spec, wing, section)
            refuse_thin_walls(bore, wing, section)
            bores.append(bore)
    return tuple(bores)


@dataclass(frozen=True, slots=True)
class _Axis:
    """Where a fitting runs: between two chord fractions, or square to the root at one x."""

    name: str
    from_mm: float
    to_mm: float
    fractions: tuple[float, float] | None = None
    x_mm: float = 0.0


def _placed(
    axis: _Axis,
    radius: float,
    box: tuple[float, float] | None,
    spec: Spec,
    wing: Wing,
    section: Section,
) -> Bore:
    ends = np.array([axis.from_mm, axis.to_mm])
    if axis.fractions is None:
        x = np.full(2, axis.x_mm)
    else:
        x = wing.chord_point_mm(np.array(axis.fractions), ends)[:, 0]
    y = _middle_heights(section, x, ends)
    if axis.fractions is None:
        y = np.full(2, y.mean())
    slope = np.hypot(x[1] - x[0], y[1] - y[0]) / (axis.to_mm - axis.from_mm)
    _refuse_leaning(axis.name, float(slope), spec)
    under, _ = surface_chains(section(float(np.clip(axis.from_mm, 0.0, wing.semi_span_mm))))
    rise = float(y[0] - np.interp(x[0], *under.T))
    bore = Bore(
        name=axis.name,
        radius_mm=radius,
        neck_mm=spec.neck_mm,
        from_mm=axis.from_mm,
        to_mm=axis.to_mm,
        start=np.array([x[0], y[0]]),
        end=np.array([x[1], y[1]]),
        box_mm=box,
    )
    return replace(bore, sprout_mm=bore.seed_mm - rise - SPROUT_SPARE_MM)


def _refuse_leaning(name: str, slope: float, spec: Spec) -> None:
    aside = slope * spec.print.layer_mm
    if aside > spec.bead_mm:
        raise DesignError(
            (f"{name}.from_mm", f"{name}.chord_fraction_end"),
            f"it leans {np.rad2deg(np.arctan(slope)):.0f} degrees, so each bead of its bore lies "
            f"{aside:.2f} mm beside the one below and hangs in the air",
            f"Let it lean less than {np.rad2deg(np.arctan(spec.bead_mm / spec.print.layer_mm)):.0f} degrees: "
            "bring its two chord fractions closer together or make it longer",
        )


def _middle_heights(section: Section, x: FloatArray, z: FloatArray) -> FloatArray:
    """Heights at both ends of a straight line that keeps as far from both skins as it can.

    Derived here: of all straight lines the one whose least distance to either skin, measured along y,
    is greatest, found as a linear programme in its two end heights and that distance.
    """
    from scipy.optimize import linprog

    stations = np.linspace(z[0], z[1], 25)
    share = (stations - z[0]) / (z[1] - z[0])
    places = x[0] + share * (x[1] - x[0])
    low, high = np.empty(len(stations)), np.empty(len(stations))
    for k, (height, place) in enumerate(zip(stations, places, strict=True)):
        under, over = surface_chains(section(float(height)))
        low[k], high[k] = np.interp(place, *under.T), np.interp(place, *over.T)
    middle = 0.5 * (low + high)
    tilt = middle[0] + share * (middle[-1] - middle[0])
    room = np.minimum(high - tilt, tilt - low)
    if np.all(room >= 0.98 * 0.5 * (high - low)):
        return middle[[0, -1]]
    ones = np.ones(len(stations))
    above = np.column_stack([1 - share, share, ones])
    under_rows = np.column_stack([share - 1, -share, ones])
    best = linprog(
        [0.0, 0.0, -1.0],
        A_ub=np.vstack([above, under_rows]),
        b_ub=np.concatenate([high, -low]),
        bounds=[(None, None)] * 3,
    )
    return np.asarray(best.x, float)[:2]


def refuse_thin_walls(bore: Bore, wing: Wing, section: Section) -> None:
    """Raise when a bore does not leave one neck of solid to the skin all along.

    Raises
    ------
    DesignError
        Naming the bore and the station where it is tightest.
    """
    count = max(3, int(np.ceil((bore.to_mm - bore.from_mm) / CHECK_STEP_MM)))
    heights = np.linspace(bore.from_mm, bore.to_mm, count)
    shape = shapely.Polygon(bore.ring(bore.radius_mm))
    spare = np.empty(count)
    for k, z in enumerate(heights):
        ring = section(float(z))
        hole = shapely.affinity.translate(shape, *bore.centre_mm(float(z)))
        body = shapely.Polygon(ring) if len(ring) >= 3 else shapely.Polygon()
        spare[k] = (body.exterior.distance(hole) if body.contains(hole) else 0.0) - bore.neck_mm
        outside = hole.difference(body)
        if not outside.is_empty and not body.is_empty:
            # it breaks through: how far it reaches outside tells how much thinner it must be
            far = shapely.distance(shapely.points(shapely.get_coordinates(outside)), body)
            spare[k] = -float(far.max()) - bore.neck_mm
    if spare.min() >= 0.0:
        return
    worst = int(np.argmin(spare))
    station = int(np.argmin(np.abs(wing.station_spans_mm - heights[worst])))
    short = -2.0 * float(spare[worst])
    remedy = f"Make it thinner by {short + REMEDY_SPARE_MM:.2f} mm"
    good = np.flatnonzero(spare >= 0.0)
    if len(good) and good[0] == 0 and bore.name.startswith(("tube", "duct")):
        until = heights[np.argmax(spare < 0.0) - 1]
        remedy += f", or end it at to_mm = {np.floor(until):.0f}"
    remedy += ", or move it to where the section is thicker"
    raise DesignError(
        (bore.name, f"station[{station}]"),
        f"a bore of {bore.size_text} leaves too little wall at span {heights[worst]:.0f} mm: "
        f"it needs {bore.neck_mm:.2f} mm to the skin all round and has "
        f"{max(spare[worst] + bore.neck_mm, 0.0):.2f} mm",
        remedy,
    )


def refuse_close_bores(bores: Sequence[Bore], webs: Sequence[RibPlane], *, bead_mm: float) -> None:
    """Raise when a bore comes too close to another, or a web runs along its slit.

    Raises
    ------
    DesignError
        Naming both.
    """
    for one, other in combinations(bores, 2):
        start = max(one.sprout_mm, other.sprout_mm, 0.0)
        end = min(one.to_mm, other.to_mm)
        if end <= start:
            continue
        z = np.linspace(start, end, 200)
        aside = np.abs(one.centre_mm(z)[:, 0] - other.centre_mm(z)[:, 0])
        needed = one.half_width_mm + other.half_width_mm + one.neck_mm
        worst = int(np.argmin(aside))
        if aside[worst] < needed:
            raise DesignError(
                (one.name, other.name),
                f"their bores are {aside[worst]:.1f} mm apart along the chord at span {z[worst]:.0f} mm and "
                f"need {needed:.1f} mm, so that each keeps its own wall and its own slit",
                f"Move one of them by {needed - aside[worst] + REMEDY_SPARE_MM:.2f} mm along the chord",
            )
    least = LEAST_SLIT_GAP_BEADS * bead_mm
    for bore in bores:
        for web in webs:
            start = max(bore.seed_mm, float(web.knots_z_mm[0]), 0.0)
            end = min(bore.to_mm, float(web.knots_z_mm[-1]))
            if end <= start:
                continue
            z = np.linspace(start, end, 500)
            apart = np.abs(bore.centre_mm(z)[:, 0] - web.x_mm(z))
            close = float((apart < least).mean()) * (end - start)
            if close > LONGEST_CROSSING_MM:
                raise DesignError(
                    (bore.name, web.name),
                    f"the web runs along the slit of the bore, closer than two beads ({least:.2f} mm) "
                    f"over {close:.0f} mm of span, where the bore already makes a web of its own",
                    f"Move the web by {least - apart.min() + 0.05:.2f} mm along the chord, "
                    "or end one where the other begins",
                )
