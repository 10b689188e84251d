"""Placing bays: what a spec asks for, or a refusal with the smallest change that helps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations
from typing import Literal

import numpy as np
import shapely

from wingpath.build.bays import Bay
from wingpath.build.bores import Bore
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import DesignError
from wingpath.geometry.outline import Section, surface_chains
from wingpath.model.panels import PanelRange
from wingpath.model.ribs import LEAST_GAP_BEADS, LONGEST_CROSSING_MM, RibPlane
from wingpath.model.spec import Spec
from wingpath.model.spec_fittings import ServoBaySpec
from wingpath.model.wing import Wing

__all__ = ["bays_from_spec", "ends_in", "refuse_cramped_bays", "refuse_cut_bays"]

OUT_SPARE_MM = 6.0
"""Added to how far a bay sticks out: near the nose the section is too thin for any bay [mm]."""

SAMPLES = 9
"""Places along the span and the chord at which the skin under a bay is looked at."""

SEAT_RIM_MM = 4.0
"""Width of the ledge that the cover of a servo bay lies on, all round [mm]."""

SEAT_ROUNDS = 4
"""The length of a seat follows from its floor, and its floor a little from its length: settled by then."""

LEAST_BELOW_SEAT_MM = 1.0
"""A servo bay is at least this much deeper than the seat of its cover [mm]."""


def bays_from_spec(spec: Spec, wing: Wing, section: Section) -> tuple[Bay, ...]:
    """Return the servo and plate bays of a spec, seats for covers included.

    Raises
    ------
    DesignError
        When a bay leaves less than one neck of solid to the skin around it.
    """
    bays = []
    for number, servo in enumerate(spec.servo_bays):
        size = (servo.span_mm, servo.length_mm, servo.width_mm, servo.chord_fraction)
        bay = _placed("servo", number, "lower", size, servo.depth_mm, spec, wing, section)
        bays.append(bay)
        if servo.frame:
            bays.append(_seat(bay, servo, spec, wing, section))
    for number, plate in enumerate(spec.plate_bays):
        size = (plate.span_mm, plate.length_mm, plate.width_mm, plate.chord_fraction)
        bays.append(_placed("plate", number, plate.side, size, plate.depth_mm, spec, wing, section))
    for bay in bays:
        _refuse_thin_walls(bay, section)
        _refuse_covered(bay, section, end_mm=wing.semi_span_mm)
    return tuple(bays)


def _seat(bay: Bay, servo: ServoBaySpec, spec: Spec, wing: Wing, section: Section) -> Bay:
    """Return the seat of a bay's cover: two fused beads deep, a ledge wide all round the bay's mouth."""
    depth = 2 * spec.bead_mm + spec.slots.width_mm
    if servo.depth_mm < depth + LEAST_BELOW_SEAT_MM:
        raise DesignError(
            (f"{bay.name}.depth_mm", f"{bay.name}.frame"),
            f"the bay is {servo.depth_mm:g} mm deep and the cover in it takes {depth:.2f} mm",
            f"Make the bay deeper by {depth + LEAST_BELOW_SEAT_MM - servo.depth_mm:.2f} mm, "
            "or do without frame",
        )
    rise = bay.slope_mm - depth
    for _ in range(SEAT_ROUNDS):
        # how far the bay's slopes have come at the floor of the seat, which hangs on the skin round it
        ledge = SEAT_RIM_MM + rise
        size = (
            servo.span_mm - ledge,
            servo.length_mm + 2 * ledge,
            servo.width_mm + 2 * SEAT_RIM_MM,
            servo.chord_fraction,
        )
        seat = _placed("seat", bay.number, "lower", size, depth, spec, wing, section)
        rise = bay.floor_mm - seat.floor_mm
    return seat


def _placed(
    kind: Literal["servo", "seat", "plate"],
    number: int,
    side: Literal["lower", "upper"],
    size: tuple[float, float, float, float],
    depth: float,
    spec: Spec,
    wing: Wing,
    section: Section,
) -> Bay:
    start, length, width, fraction = size
    end = start + length
    middle = float(wing.chord_point_mm(fraction, 0.5 * (start + end))[0, 0])
    fore, aft = middle - 0.5 * width, middle + 0.5 * width
    # floor and skin follow from the sections, if it lies in the wing
    bay = Bay(kind, number, side, start, end, fore, aft, 0.0, 0.0, spec.neck_mm)
    if start < 0.0 or end > wing.semi_span_mm:
        raise DesignError(
            (bay.name, "station[-1].span_mm" if end > wing.semi_span_mm else "station[0].span_mm"),
            f"it lies from {start:.1f} to {end:.1f} mm and the half wing from 0 to {wing.semi_span_mm:g} mm",
            f"Move it by {max(-start, end - wing.semi_span_mm):.1f} mm along the span",
        )
    across = np.linspace(fore, aft, SAMPLES)
    skins = []
    for z in np.linspace(start, end, SAMPLES):
        ring = section(float(z))
        chains = surface_chains(ring) if len(ring) >= 3 else None
        if chains is None or not (ring[:, 0].min() < fore and aft < ring[:, 0].max()):
            raise DesignError(
                (bay.name, f"the section at span {z:.0f} mm"),
                f"the bay reaches from x {fore:.1f} to {aft:.1f} mm and sticks out of the wing there",
                f"Move it along the chord by {_outside(ring, fore, aft) + OUT_SPARE_MM:.1f} mm, "
                "or make it narrower",
            )
        under, over = chains
        skins.append(np.interp(across, *(under if side == "lower" else over).T))
    skin = np.array(skins)
    # the depth counts from where the skin is nearest to the floor, so that the part fits everywhere
    floor = float(skin.max() + depth if side == "lower" else skin.min() - depth)
    far = float(skin.min() if side == "lower" else skin.max())
    return replace(bay, floor_mm=floor, skin_mm=far)


def _outside(ring: FloatArray, fore: float, aft: float) -> float:
    """How far a bay sticks out of a section along the chord [mm]; the whole bay where there is none."""
    if len(ring) < 3:
        return aft - fore
    return float(max(ring[:, 0].min() - fore, aft - ring[:, 0].max(), 0.0))


def _refuse_covered(bay: Bay, section: Section, *, end_mm: float) -> None:
    """Raise where the skin leans along the span as fast as a bay's slopes, so that they stay inside."""
    begin, end = bay.body_mm
    across = np.linspace(bay.fore_mm, bay.aft_mm, SAMPLES)
    for z in np.linspace(max(begin, 0.0), min(end, end_mm), 4 * SAMPLES):
        ring = section(float(z))
        if len(ring) < 3:
            continue
        under, over = surface_chains(ring)
        inside = (across > ring[:, 0].min()) & (across < ring[:, 0].max())
        skin = np.interp(across[inside], *(under if bay.side == "lower" else over).T)
        beyond = bay.mouth_mm - skin if bay.side == "lower" else skin - bay.mouth_mm
        if np.any(beyond > 0.0):
            far = abs(bay.mouth_mm - bay.floor_mm) + float(beyond.max())
            raise DesignError(
                (bay.name, f"the section at span {z:.0f} mm"),
                "its ends slope at 45 degrees back to the skin, and the skin leans as fast along the span: "
                f"at span {z:.0f} mm it lies {far:.0f} mm beyond the floor, and the bay is still inside",
                "Put it where the wing twists or tapers less, or make it shallower",
            )


def _refuse_thin_walls(bay: Bay, section: Section) -> None:
    short, where = 0.0, bay.from_mm
    for z in np.linspace(bay.from_mm, bay.to_mm, SAMPLES):
        ring = section(float(z))
        under, over = surface_chains(ring)
        far = over if bay.side == "lower" else under
        across = np.linspace(bay.fore_mm - bay.neck_mm, bay.aft_mm + bay.neck_mm, 4 * SAMPLES)
        surface = np.interp(across, *far.T)
        wall = surface - bay.floor_mm if bay.side == "lower" else bay.floor_mm - surface
        corner = shapely.LineString([(bay.fore_mm, bay.floor_mm), (bay.aft_mm, bay.floor_mm)]).distance(
            shapely.LineString(far)
        )
        least = min(float(wall.min()), corner if wall.min() > 0 else float(wall.min()))
        if bay.neck_mm - least > short:
            short, where = bay.neck_mm - least, float(z)
    if short > 0.0:
        raise DesignError(
            (bay.name, f"the section at span {where:.0f} mm"),
            f"the bay leaves {max(bay.neck_mm - short, 0.0):.2f} mm of wall to the other skin and needs "
            f"{bay.neck_mm:.2f} mm",
            f"Make depth_mm smaller by {short + 0.01:.2f} mm, or move the bay to a thicker place",
        )


def refuse_cramped_bays(
    bays: Sequence[Bay], bores: Sequence[Bore], webs: Sequence[RibPlane], *, bead_mm: float
) -> None:
    """Raise when a bay cuts another bay or a bore that does not lead into it, or a web runs along it.

    Raises
    ------
    DesignError
        Naming both, and how far one has to move.
    """
    for one, other in combinations(bays, 2):
        if other.is_seat_of(one):
            continue
        span = min(one.reach_mm[1], other.reach_mm[1]) - max(one.reach_mm[0], other.reach_mm[0])
        needed = one.neck_mm
        apart = max(one.fore_mm - other.aft_mm, other.fore_mm - one.aft_mm)
        if span > 0 and apart < needed and one.side == other.side:
            raise DesignError(
                (one.name, other.name),
                f"the bays overlap over {span:.1f} mm of span, slopes included",
                f"Move one of them by {span + needed:.1f} mm along the span or "
                f"{needed - apart:.1f} mm along the chord",
            )
        if span > 0 and apart < needed:
            low, high = (one, other) if one.side == "lower" else (other, one)
            wall = high.floor_mm - low.floor_mm
            if wall < 2 * needed:
                raise DesignError(
                    (one.name, other.name),
                    f"the bays lie above each other with {max(wall, 0.0):.2f} mm between their floors and "
                    f"need {2 * needed:.2f} mm",
                    f"Make one of them shallower by {2 * needed - wall + 0.05:.2f} mm",
                )
    for bay in bays:
        inside = next((one for one in bays if bay.is_seat_of(one)), bay)
        for bore in bores:
            led = bore.kind == "duct" and ends_in(bore, inside)
            _refuse_cut_bore(bay, bore, until_mm=inside.reach_mm[0] if led else np.inf)
        for web in webs:
            _refuse_web_at_wall(bay, web, LEAST_GAP_BEADS * bead_mm)


def _refuse_web_at_wall(bay: Bay, web: RibPlane, least: float) -> None:
    for wall in (bay.fore_mm, bay.aft_mm):
        close, move = web.beside(partial(np.full_like, fill_value=wall), *bay.reach_mm, least_mm=least)
        if close > LONGEST_CROSSING_MM:
            raise DesignError(
                (bay.name, web.name),
                f"the web runs along a wall of the bay, closer than two beads ({least:.2f} mm) over "
                f"{close:.0f} mm of span",
                f"Move one of them by {move:.2f} mm along the chord",
            )


def ends_in(duct: Bore, bay: Bay) -> bool:
    """Return whether a duct leads into a bay."""
    inside = bay.fore_mm <= float(duct.end[0]) <= bay.aft_mm
    return bay.side == "lower" and inside and bay.reach_mm[0] <= duct.to_mm <= bay.to_mm


def _refuse_cut_bore(bay: Bay, bore: Bore, *, until_mm: float) -> None:
    first, last = bay.reach_mm
    z = np.linspace(max(first, bore.seed_mm), min(last, bore.to_mm, until_mm), 50)
    if z[0] >= z[-1]:
        return
    centre = bore.centre_mm(z)
    aside = np.maximum(bay.fore_mm - centre[:, 0], centre[:, 0] - bay.aft_mm) - bore.half_width_mm
    away = centre[:, 1] - bay.floor_at_mm(z)
    above = (away if bay.side == "lower" else -away) - bore.half_height_mm
    room = np.maximum(aside, above)
    worst = int(np.argmin(room))
    if room[worst] < bay.neck_mm:
        # both have to hold wherever the other does not, not only at the worst place
        move = float((bay.neck_mm - aside)[above < bay.neck_mm].max())
        short = float((bay.neck_mm - above)[aside < bay.neck_mm].max())
        shallower = short < bay.slope_mm and bay.kind != "seat"
        raise DesignError(
            (bay.name, bore.name),
            f"the bay comes within {max(room[worst], 0.0):.2f} mm of the bore at span {z[worst]:.0f} mm and "
            f"both need {bay.neck_mm:.2f} mm of solid between them",
            f"Move one of them by {move + 0.05:.2f} mm along the chord"
            + (f", or make the bay shallower by {short + 0.05:.2f} mm" if shallower else ""),
        )


def refuse_cut_bays(bays: Sequence[Bay], panels: Sequence[PanelRange]) -> None:
    """Raise when a joint or the tip cuts a bay, slopes included.

    Raises
    ------
    DesignError
        Naming the bay and the joint, and how far one has to move.
    """
    for bay in bays:
        first, last = bay.reach_mm
        for panel in panels[1:]:
            joint = panel.start_mm
            if first < joint < last:
                move = min(joint - first, last - joint)
                raise DesignError(
                    (bay.name, f"the joint at {joint:g} mm"),
                    f"the bay with its slopes lies from {first:.1f} to {last:.1f} mm, across the joint",
                    f"Move one of them by {move + 0.1:.1f} mm along the span",
                )
        if last > panels[-1].end_mm:
            raise DesignError(
                (bay.name, "the tip"),
                f"the bay with its slopes reaches to {last:.1f} mm and the wing to {panels[-1].end_mm:g} mm",
                f"Move it inboard by {last - panels[-1].end_mm + 0.1:.1f} mm",
            )
