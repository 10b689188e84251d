"""Fittings: what the spec's tubes, tabs, ducts and pins ask for, placed in the wing and held apart.

Every closed fitting is a bore with one slit. Whatever cannot be printed is refused here, with both
culprits named and the smallest change that helps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wingpath.build.bays import Bay
from wingpath.build.bore_room import REMEDY_SPARE_MM, refuse_thin_walls
from wingpath.build.bores import Bore
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import DesignError
from wingpath.geometry.outline import Section, surface_chains
from wingpath.model.ribs import refuse_leaning
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing

__all__ = ["bores_from_spec", "pins_from_spec"]

OPENING_SPARE_MM = 0.2
"""A duct lies this far below the floor of the bay that it leads into, where there is room [mm]."""

LEAST_OPENING_MM = 1.5
"""A duct opens into a bay by at least this height [mm]: a servo lead's wires pass side by side."""

LED_MM = 2.0
"""A duct reaches this far into the full depth of its bay [mm]."""

LONGEST_EAVE_MM = 3.5
"""Where a duct ends the floor of its bay closes over no more than this [mm]: a bead bridges about 5 mm."""

LEAN_ROUNDS = 4
"""Lowering a duct's end makes it lean, which makes it a little higher: settled by then."""

WALL_SPARE_MM = 0.01
"""A wall is this much thicker than the least that is asked for, against rounding [mm]."""

DUCT_LEAST_MM = 5.0
"""A duct is at least this long before it meets its bay [mm]."""

SPROUT_SPARE_MM = 2.0
"""The slit of a bore that begins in mid span may sprout this much sooner where the skin tilts [mm]."""


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
    bores: list[Bore] = []
    led: list[Bore] = []
    for number, tube in enumerate(spec.tubes):
        box = None
        if tube.shape != "round":
            box = (
                0.5 * (tube.size_x_mm + tube.bore_clearance_mm),
                0.5 * (tube.size_y_mm + tube.bore_clearance_mm),
            )
        radius = 0.5 * (tube.outer_mm + tube.bore_clearance_mm) if box is None else max(box)
        fractions = (tube.chord_fraction, tube.end_fraction)
        axis = _Axis("tube", f"tube[{number}]", tube.from_mm, tube.to_mm, fractions)
        bores.append(_placed(axis, radius, box, spec, wing, section))
    for number, tab in enumerate(spec.tabs):
        box = (0.5 * (tab.width_mm + tab.slot_clearance_mm), 0.5 * (tab.thickness_mm + tab.slot_clearance_mm))
        x = float(wing.chord_point_mm(tab.chord_fraction, 0.0)[0, 0])
        axis = _Axis("tab", f"tab[{number}]", 0.0, tab.depth_mm, x_mm=x)
        bores.append(_placed(axis, max(box), box, spec, wing, section))
    for number, duct in enumerate(spec.ducts):
        fractions = (duct.chord_fraction, duct.end_fraction)
        axis = _Axis("duct", f"duct[{number}]", duct.from_mm, duct.to_mm, fractions)
        bore = _placed(axis, 0.5 * duct.diameter_mm, None, spec, wing, section)
        bay = next((bay for bay in bays if _leads_into(bore, bay)), None)
        if bay is None:
            bores.append(bore)
        else:
            seat = next((one for one in bays if one.is_seat_of(bay)), None)
            led.append(_led_into(bore, bay, seat, wing, section))
    for bore in bores:
        refuse_thin_walls(bore, wing, section)
    return (*bores, *led)


def _leads_into(duct: Bore, bay: Bay) -> bool:
    """Whether a duct is meant to end in a bay: it reaches its span and aims at it or close beside it."""
    first = bay.reach_mm[0]
    near = 0.5 * (bay.aft_mm - bay.fore_mm) + duct.half_width_mm
    x = float(duct.end[0])
    return (
        bay.side == "lower"
        and bay.kind != "seat"
        and first <= duct.to_mm <= bay.to_mm
        and bay.fore_mm - near < x < bay.aft_mm + near
    )


def _led_into(duct: Bore, bay: Bay, seat: Bay | None, wing: Wing, section: Section) -> Bore:
    """Lower the far end of a duct until it opens into the bay, as far as the wall below it allows.

    That wall is the skin, or the ledge of the bay's cover.

    Raises
    ------
    DesignError
        When the bay is too shallow or too narrow for the duct to open into it.
    """
    first = bay.reach_mm[0]
    under, _ = surface_chains(section(first))
    skin = float(np.interp(duct.end[0], *under.T))
    to = max(duct.to_mm, bay.from_mm + LED_MM)
    led = replace(duct, to_mm=to, end=np.array([_aimed_at(duct, bay, first, to), duct.end[1]]))
    # how much it leans decides how high it is inside a layer
    for _ in range(LEAN_ROUNDS):
        half = led.half_height_mm
        lowest = skin + half + duct.neck_mm
        if seat is not None:
            lowest = max(lowest, _above_ledge(led, seat, first))
        height = max(lowest, min(bay.floor_mm - half - OPENING_SPARE_MM, float(duct.end[1])))
        led = replace(led, end=np.array([led.end[0], height]))
    _refuse_mouth(led, bay)
    refuse_thin_walls(_up_to(led, first), wing, section)
    return led


def _above_ledge(duct: Bore, seat: Bay, first_mm: float) -> float:
    """Return how high the far end of a duct has to be for it to clear a ledge all the way to the bay [mm]."""
    nearest = duct.from_mm + 1.0
    over = np.linspace(max(seat.reach_mm[0], nearest), max(first_mm, nearest), 20)
    share = (over - duct.from_mm) / (duct.to_mm - duct.from_mm)
    rise = seat.floor_at_mm(over) + duct.half_height_mm + duct.neck_mm - duct.start[1]
    return float(duct.start[1] + (rise / share).max()) + WALL_SPARE_MM


def _refuse_mouth(duct: Bore, bay: Bay) -> None:
    """Raise when too little of a duct opens into its bay, or too much lies outside it where the duct ends."""
    wider = 2 * duct.half_width_mm - (bay.aft_mm - bay.fore_mm)
    if wider > 0.0:
        raise DesignError(
            (f"{duct.name}.diameter_mm", f"{bay.name}.width_mm"),
            f"the duct is {2 * duct.half_width_mm:.1f} mm wide where it opens into the bay, and the bay "
            f"{bay.aft_mm - bay.fore_mm:.1f} mm",
            f"Make the duct thinner or the bay wider by {wider + REMEDY_SPARE_MM:.2f} mm",
        )
    half, share = duct.half_height_mm, min(0.5 * LONGEST_EAVE_MM / duct.half_width_mm, 1.0)
    above = half * (1.0 - np.sqrt(1.0 - share**2))
    needed = max(LEAST_OPENING_MM, 2 * half - above)
    opening = bay.floor_mm - (float(duct.end[1]) - half)
    if opening < needed:
        raise DesignError(
            (duct.name, f"{bay.name}.depth_mm"),
            f"{max(opening, 0.0):.2f} mm of the duct's height open into the bay and {needed:.2f} mm have to, "
            f"or the floor of the bay would close over more than {LONGEST_EAVE_MM:g} mm where the duct ends; "
            "the wall below holds the duct up",
            f"Make the bay deeper by {needed - opening + REMEDY_SPARE_MM:.2f} mm, or the duct thinner",
        )


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
    if share <= 0.0:
        raise DesignError(
            (f"{duct.name}.from_mm", bay.name),
            f"the duct begins at {duct.from_mm:g} mm, where the bay with its slope has already begun "
            f"({first_mm:.1f} mm)",
            f"Let it begin at from_mm = {max(np.floor(first_mm - DUCT_LEAST_MM), 0.0):.0f}",
        )
    end = float(np.clip(duct.end[0], low, high))
    entry = start + share * (end - start)
    if not low <= entry <= high:
        end = start + (float(np.clip(entry, low, high)) - start) / share
    if not low - 1e-9 <= end <= high + 1e-9:
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
            axis = _Axis("pin", f"pin[{number}] at {joint:g} mm", joint - half, joint + half, x_mm=x)
            radius = 0.5 * (pin.diameter_mm + pin.clearance_mm)
            bore = _placed(axis, radius, None, spec, wing, section)
            refuse_thin_walls(bore, wing, section)
            bores.append(bore)
    return tuple(bores)


@dataclass(frozen=True, slots=True)
class _Axis:
    """Where a fitting runs: between two chord fractions, or square to the root at one x."""

    kind: Literal["tube", "tab", "duct", "pin"]
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
    refuse_leaning(
        float(slope),
        spec,
        (f"{axis.name}.from_mm", f"{axis.name}.chord_fraction_end"),
        "bring its two chord fractions closer together or make it longer",
    )
    under, _ = surface_chains(section(float(np.clip(axis.from_mm, 0.0, wing.semi_span_mm))))
    rise = float(y[0] - np.interp(x[0], *under.T))
    bore = Bore(
        kind=axis.kind,
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
