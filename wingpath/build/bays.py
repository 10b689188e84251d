"""Bays: pockets open to one skin, for servos and for glued-in plates.

A bay is a cut-out and needs no slit. Its floor rises from the skin and returns to it on slopes of
45 degrees along the span, so the wall that closes it prints by itself; ribs run into its walls and grow
out of them. A bay in the upper skin also keeps slots one neck below its floor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import shapely

from wingpath.build.bores import Bore
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import DesignError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.outline import surface_chains
from wingpath.model.panels import PanelRange
from wingpath.model.ribs import RibPlane
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing

__all__ = ["Bay", "bay_mesh", "bays_from_spec", "refuse_cramped_bays", "refuse_cut_bays"]

Section = Callable[[float], FloatArray]

BEYOND_MM = 20.0
"""A bay's cutting body reaches this far outside the skin [mm]."""

OUT_SPARE_MM = 6.0
"""Added to how far a bay sticks out: near the nose the section is too thin for any bay [mm]."""

SAMPLES = 9
"""Places along the span and the chord at which the skin under a bay is looked at."""

LEAST_WALL_BEADS = 2.0
"""A web beside the wall of a bay needs two beads between them."""

LONGEST_CROSSING_MM = 6.0
"""A web may cross a wall if they are closer than that over no more than this stretch of span [mm]."""

SEAT_MM, SEAT_RIM_MM = 1.0, 4.0
"""Depth and width of the seat for a cover that a servo bay with `frame` has all round [mm]."""


@dataclass(frozen=True, slots=True)
class Bay:
    """A pocket.

    Parameters
    ----------
    name : str
        Key path, for example ``servo_bay[0]``.
    side : {"lower", "upper"}
        The skin that it is open to.
    from_mm, to_mm : float
        Span over which it has its full depth [mm].
    fore_mm, aft_mm : float
        Its walls along the chord [mm].
    floor_mm : float
        Height of its floor [mm].
    skin_mm : float
        Height of the skin where it reaches farthest beyond the floor [mm].
    neck_mm : float
        Solid to keep round it [mm].
    """

    name: str
    side: Literal["lower", "upper"]
    from_mm: float
    to_mm: float
    fore_mm: float
    aft_mm: float
    floor_mm: float
    skin_mm: float
    neck_mm: float

    @property
    def slope_mm(self) -> float:
        """Length of the slope at either end [mm]."""
        return abs(self.floor_mm - self.skin_mm)

    @property
    def reach_mm(self) -> tuple[float, float]:
        """Span from the beginning of the first slope to the end of the last [mm]."""
        return self.from_mm - self.slope_mm, self.to_mm + self.slope_mm

    def limit_mm(self, x_mm: FloatArray, z_mm: FloatArray) -> FloatArray:
        """Height that a slot must not pass: one neck under the floor of an upper bay [mm]."""
        if self.side == "lower":
            return np.full(np.broadcast(x_mm, z_mm).shape, np.inf)
        outside = np.maximum(np.maximum(self.from_mm - z_mm, z_mm - self.to_mm), 0.0)
        floor = self.floor_mm + outside - self.neck_mm
        near = (x_mm > self.fore_mm - self.neck_mm) & (x_mm < self.aft_mm + self.neck_mm)
        return np.where(near, floor, np.inf)


def bays_from_spec(spec: Spec, wing: Wing, section: Section) -> tuple[Bay, ...]:
    """Return the servo and plate bays of a spec, seats for covers included.

    Raises
    ------
    DesignError
        When a bay leaves less than one neck of solid to the skin around it.
    """
    bays = []
    for number, servo in enumerate(spec.servo_bays):
        name = f"servo_bay[{number}]"
        size = (servo.span_mm, servo.length_mm, servo.width_mm, servo.chord_fraction)
        bays.append(_placed(name, "lower", size, servo.depth_mm, spec, wing, section))
        if servo.frame:
            rim = SEAT_RIM_MM
            size = (
                servo.span_mm - rim,
                servo.length_mm + 2 * rim,
                servo.width_mm + 2 * rim,
                servo.chord_fraction,
            )
            bays.append(_placed(f"{name}.frame", "lower", size, SEAT_MM, spec, wing, section))
    for number, plate in enumerate(spec.plate_bays):
        size = (plate.span_mm, plate.length_mm, plate.width_mm, plate.chord_fraction)
        bays.append(_placed(f"plate_bay[{number}]", plate.side, size, plate.depth_mm, spec, wing, section))
    for bay in bays:
        _refuse_thin_walls(bay, section)
    return tuple(bays)


def _placed(
    name: str,
    side: Literal["lower", "upper"],
    size: tuple[float, float, float, float],
    depth: float,
    spec: Spec,
    wing: Wing,
    section: Section,
) -> Bay:
    start, length, width, fraction = size
    end = start + length
    if start < 0.0 or end > wing.semi_span_mm:
        raise DesignError(
            (name, "station[-1].span_mm" if end > wing.semi_span_mm else "station[0].span_mm"),
            f"it lies from {start:.1f} to {end:.1f} mm and the half wing from 0 to {wing.semi_span_mm:g} mm",
            f"Move it by {max(-start, end - wing.semi_span_mm):.1f} mm along the span",
        )
    middle = float(wing.chord_point_mm(fraction, 0.5 * (start + end))[0, 0])
    fore, aft = middle - 0.5 * width, middle + 0.5 * width
    across = np.linspace(fore, aft, SAMPLES)
    skins = []
    for z in np.linspace(start, end, SAMPLES):
        ring = section(float(z))
        chains = surface_chains(ring) if len(ring) >= 3 else None
        if chains is None or not (ring[:, 0].min() < fore and aft < ring[:, 0].max()):
            raise DesignError(
                (name, f"the section at span {z:.0f} mm"),
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
    return Bay(name, side, start, end, fore, aft, floor, far, spec.neck_mm)


def _outside(ring: FloatArray, fore: float, aft: float) -> float:
    """How far a bay sticks out of a section along the chord [mm]; the whole bay where there is none."""
    if len(ring) < 3:
        return aft - fore
    return float(max(ring[:, 0].min() - fore, aft - ring[:, 0].max(), 0.0))


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
        if other.name == f"{one.name}.frame":
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
        for bore in bores:
            _refuse_cut_bore(bay, bore)
        for web in webs:
            _refuse_web_at_wall(bay, web, LEAST_WALL_BEADS * bead_mm)


def _refuse_web_at_wall(bay: Bay, web: RibPlane, least: float) -> None:
    first, last = bay.reach_mm
    start, end = max(first, float(web.knots_z_mm[0])), min(last, float(web.knots_z_mm[-1]))
    if start >= end:
        return
    z = np.linspace(start, end, 100)
    for wall in (bay.fore_mm, bay.aft_mm):
        aside = web.x_mm(z) - wall
        apart = np.abs(aside)
        close = float((apart < least).mean()) * (end - start)
        if close > LONGEST_CROSSING_MM:
            raise DesignError(
                (bay.name, web.name),
                f"the web runs along a wall of the bay, closer than two beads ({least:.2f} mm) over "
                f"{close:.0f} mm of span",
                f"Move one of them by {least + min(aside.max(), -aside.min()) + 0.05:.2f} mm along the chord",
            )


def _ends_in(duct: Bore, bay: Bay) -> bool:
    """Whether a duct leads into a bay or, through the seat of its cover, into the bay inside that."""
    inside = bay.fore_mm <= float(duct.end[0]) <= bay.aft_mm
    return bay.side == "lower" and inside and bay.reach_mm[0] <= duct.to_mm <= bay.to_mm


def _refuse_cut_bore(bay: Bay, bore: Bore) -> None:
    first, last = bay.reach_mm
    if bore.name.startswith("duct") and _ends_in(bore, bay):
        return
    z = np.linspace(max(first, bore.seed_mm), min(last, bore.to_mm), 50)
    if z[0] >= z[-1]:
        return
    outside = np.maximum(np.maximum(bay.from_mm - z, z - bay.to_mm), 0.0)
    centre = bore.centre_mm(z)
    aside = np.maximum(bay.fore_mm - centre[:, 0], centre[:, 0] - bay.aft_mm) - bore.half_width_mm
    if bay.side == "lower":
        above = centre[:, 1] - bore.half_height_mm - (bay.floor_mm - outside)
    else:
        above = bay.floor_mm + outside - centre[:, 1] - bore.half_height_mm
    room = np.maximum(aside, above)
    worst = int(np.argmin(room))
    if room[worst] < bay.neck_mm:
        short = bay.neck_mm - room[worst]
        move = float((bay.neck_mm - aside)[above < bay.neck_mm].max())
        raise DesignError(
            (bay.name, bore.name),
            f"the bay comes within {max(room[worst], 0.0):.2f} mm of the bore at span {z[worst]:.0f} mm and "
            f"both need {bay.neck_mm:.2f} mm of solid between them",
            f"Move one of them by {move + 0.05:.2f} mm along the chord, or make the "
            f"bay shallower by {short + 0.05:.2f} mm",
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


def bay_mesh(bay: Bay, *, start_mm: float, end_mm: float, numbers: SurfaceNumbers) -> Mesh | None:
    """Return the body that cuts a bay out of the panel from `start_mm` to `end_mm`; None outside it."""
    first, last = bay.reach_mm
    if last <= start_mm or first >= end_mm:
        return None
    away = BEYOND_MM + bay.slope_mm
    sign = -1.0 if bay.side == "lower" else 1.0
    out = bay.floor_mm + sign * away
    profile = [
        (bay.from_mm - away, out),
        (bay.from_mm, bay.floor_mm),
        (bay.to_mm, bay.floor_mm),
        (bay.to_mm + away, out),
    ]
    near = np.array([(bay.fore_mm, y, z) for z, y in profile])
    far = np.array([(bay.aft_mm, y, z) for z, y in profile])
    faces: list[tuple[int, ...]] = []
    surfaces: list[int] = []
    for a in range(4):
        b = (a + 1) % 4
        number = numbers.new(f"{bay.name} {('first slope', 'floor', 'last slope', 'mouth')[a]}")
        faces += [(a, b, b + 4), (a, b + 4, a + 4)]
        surfaces += [number, number]
    for name, order in (("fore wall", (0, 2, 1, 0, 3, 2)), ("aft wall", (4, 5, 6, 4, 6, 7))):
        number = numbers.new(f"{bay.name} {name}")
        faces += [order[:3], order[3:]]
        surfaces += [number, number]
    mesh = Mesh(np.vstack([near, far]), np.array(faces), np.array(surfaces), bay.name)
    if mesh.volume_mm3 > 0:
        return mesh
    return Mesh(mesh.vertices, mesh.faces[:, ::-1], mesh.surfaces, bay.name)
