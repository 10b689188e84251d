"""The solid of the coupon: body less slots, bores and slits, by the same one boolean as a panel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely

from wingpath.build.kernel import Solid, from_solid, loft, subtract, to_solid, unite
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import FloatArray
from wingpath.geometry.mesh import Mesh
from wingpath.tune.coupon_plan import BULB_BEADS, CouponPlan, Notches, Step

__all__ = ["coupon_mesh", "coupon_region"]

OVERRUN_MM = 1.0
"""Voids run past both ends of the coupon and past the side that they open to [mm]."""

BORE_SIDES = 96
"""Sides of a bore, as in a panel; flats touch the circle, so the tube finds the diameter that is said."""

ROOT_MM = 0.5
"""What stands on another piece reaches this far into it [mm], less than a neck."""


def coupon_mesh(plan: CouponPlan) -> Mesh:
    """Make the coupon, standing on z = 0.

    Parameters
    ----------
    plan : CouponPlan
        Its steps and sizes.
    """
    numbers = SurfaceNumbers()
    body = unite([_prism(_outline(plan), 0.0, plan.height_mm, numbers, "coupon"), _leaning(plan, numbers)])
    voids = [
        _prism(shape, -OVERRUN_MM, plan.height_mm + OVERRUN_MM, numbers, name) for name, shape in _voids(plan)
    ]
    return from_solid(subtract(body, unite(voids)), name="coupon")


def coupon_region(plan: CouponPlan) -> Any:
    """Return what a layer near the bed covers, before the end wall leans out: a shapely polygon [mm].

    Parameters
    ----------
    plan : CouponPlan
        Its steps and sizes.
    """
    return shapely.difference(_outline(plan), shapely.union_all([shape for _, shape in _voids(plan)]))


def _outline(plan: CouponPlan) -> Any:
    """Return the body seen from above: box, arms, strip and notches."""
    bulb = BULB_BEADS * plan.bead_mm
    shapes = [
        shapely.box(plan.left_mm, 0.0, 0.0, plan.top_mm),
        shapely.box(-ROOT_MM, 0.0, plan.lower_end_mm, plan.lower_depth_mm),
        shapely.box(-ROOT_MM, plan.upper_foot_mm, plan.upper_end_mm, plan.top_mm),
        shapely.box(plan.strip_end_mm, 0.0, plan.left_mm + ROOT_MM, plan.strip_thickness_mm),
        shapely.box(plan.strip_end_mm, 0.0, plan.strip_end_mm + bulb, bulb),
        *(
            _notch(plan, x, plan.lower_depth_mm, 1.0)
            for x in _places((*plan.bore_notches, *plan.tab_notches))
        ),
        *(_notch(plan, x, plan.upper_foot_mm, -1.0) for x in _places(plan.slot_notches)),
    ]
    return shapely.union_all(shapes)


def _places(notches: Iterable[Notches]) -> list[float]:
    return [x for group in notches for x in group.x_mm]


def _notch(plan: CouponPlan, x: float, side: float, sense: float) -> Any:
    """Return a blunt tooth on a side that faces +y (`sense` 1) or -y."""
    high, base, top = plan.notch_mm
    foot, tip = side - sense * ROOT_MM, side + sense * high
    half, blunt = 0.5 * base, 0.5 * top
    corners = [(half, foot), (half, side), (blunt, tip), (-blunt, tip), (-half, side), (-half, foot)]
    return shapely.Polygon([(x + aside, y) for aside, y in corners])


def _voids(plan: CouponPlan) -> list[tuple[str, Any]]:
    """Return everything that is cut out, seen from above, by name."""
    found: list[tuple[str, Any]] = []
    for step in plan.slots:
        half = 0.5 * step.size_mm
        box = shapely.box(
            step.x_mm - half, plan.upper_foot_mm + plan.neck_mm, step.x_mm + half, plan.top_mm + OVERRUN_MM
        )
        found.append((f"slot {step.number}", box))
    found += [(f"bore {step.number}", _bore(plan, step)) for step in plan.bores]
    for step in plan.tabs:
        left, low, right, high = plan.tab_corners_mm(step)
        shape = shapely.union(shapely.box(left, low, right, high), _slit(plan, step.x_mm, 0.5 * (low + high)))
        found.append((f"tongue slot {step.number}", shape))
    return found


def _bore(plan: CouponPlan, step: Step) -> Any:
    x, y = plan.bore_centre_mm(step)
    angle = (np.arange(BORE_SIDES) + 0.5) * 2.0 * np.pi / BORE_SIDES
    outside = plan.bore_radius_mm(step) / np.cos(np.pi / BORE_SIDES)
    ring = np.column_stack([x + outside * np.cos(angle), y + outside * np.sin(angle)])
    return shapely.union(shapely.Polygon(ring), _slit(plan, x, y))


def _slit(plan: CouponPlan, x: float, top: float) -> Any:
    half = 0.5 * plan.slit_mm
    return shapely.box(x - half, -OVERRUN_MM, x + half, top)


def _prism(shape: Any, low: float, high: float, numbers: SurfaceNumbers, name: str) -> Solid:
    ring = shapely.get_coordinates(shapely.orient_polygons(shape).exterior)[:-1]
    return _lofted(np.stack([ring, ring]), [low, high], numbers, name)


def _leaning(plan: CouponPlan, numbers: SurfaceNumbers) -> Solid:
    """Return the end wall of the upper arm, which leans out step by step."""
    root, low, high = plan.upper_end_mm - ROOT_MM, plan.upper_foot_mm, plan.top_mm
    profile = plan.lean_profile_mm()
    rings = [
        [(root, low), (plan.upper_end_mm + reach, low), (plan.upper_end_mm + reach, high), (root, high)]
        for _, reach in profile
    ]
    return _lofted(np.array(rings), [z for z, _ in profile], numbers, "leaning end")


def _lofted(rings: FloatArray, heights: Sequence[float], numbers: SurfaceNumbers, name: str) -> Solid:
    sides = np.array(
        [[numbers.new(f"{name} {side}") for side in range(rings.shape[1])] for _ in range(len(heights) - 1)]
    )
    mesh = loft(
        rings,
        np.array(heights),
        sides=sides,
        bottom=numbers.new(f"{name} foot"),
        top=numbers.new(f"{name} top"),
        name=name,
    )
    return to_solid(mesh)
