"""Room for bores: the walls they need to the skin, to each other and to webs, or a refusal."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
import shapely.affinity

from wingpath.build.bores import SEED_RADIUS_MM, Bore
from wingpath.core.errors import DesignError
from wingpath.geometry.outline import Section
from wingpath.model.ribs import LEAST_GAP_BEADS, LONGEST_CROSSING_MM, RibPlane
from wingpath.model.wing import Wing

__all__ = ["refuse_close_bores", "refuse_thin_walls"]


REMEDY_SPARE_MM = 0.05
"""Added to a suggested change, so that it still helps after rounding [mm]."""

CHECK_STEP_MM = 2.0
"""Walls of a bore are checked at this distance along the span [mm]."""


def refuse_thin_walls(bore: Bore, wing: Wing, section: Section) -> None:
    """Raise when a bore does not leave one neck of solid to the skin all along, its cone included.

    Raises
    ------
    DesignError
        Naming the bore and the station where it is tightest.
    """
    count = max(3, int(np.ceil((bore.to_mm - bore.from_mm) / CHECK_STEP_MM)))
    heights = np.linspace(bore.from_mm, bore.to_mm, count)
    # a leaning cone may begin where the section is another
    first = max(bore.seed_mm, 0.0)
    if bore.from_mm > first:
        growing = np.linspace(
            first, bore.from_mm, max(3, int(np.ceil((bore.from_mm - first) / CHECK_STEP_MM)))
        )
        heights = np.concatenate([growing[:-1], heights])
    sizes = np.clip((heights - bore.seed_mm) * bore.rate / bore.stretch, SEED_RADIUS_MM, bore.radius_mm)
    spare = np.empty(len(heights))
    for k, (z, size) in enumerate(zip(heights, sizes, strict=True)):
        ring = section(float(z))
        hole = shapely.affinity.translate(shapely.Polygon(bore.ring(float(size))), *bore.centre_mm(float(z)))
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
    if heights[worst] < bore.from_mm:
        raise DesignError(
            (bore.name, f"station[{station}]"),
            f"a bore of {bore.size_text} grows as a cone before span {bore.from_mm:.0f} mm, and at span "
            f"{heights[worst]:.1f} mm the cone comes {-spare[worst]:.2f} mm too close to the skin",
            "Begin it elsewhere along the span, let it lean less, or move it to where the section is thicker",
        )
    short = -2.0 * float(spare[worst])
    remedy = f"Make it thinner by {short + REMEDY_SPARE_MM:.2f} mm"
    good = np.flatnonzero(spare >= 0.0)
    if len(good) and good[0] == 0 and bore.kind in ("tube", "duct"):
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


def refuse_close_bores(
    bores: Sequence[Bore], webs: Sequence[RibPlane], wing: Wing, *, bead_mm: float
) -> None:
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
        aft = other.centre_mm(z)[:, 0] - one.centre_mm(z)[:, 0]
        aside = np.abs(aft)
        needed = one.half_width_mm + other.half_width_mm + one.neck_mm
        worst = int(np.argmin(aside))
        if aside[worst] < needed:
            # all along: two bores that cross have to be moved past each other
            back, forward = needed - float(aft.min()), needed + float(aft.max())
            move, way = (back, "aft") if back < forward else (forward, "forward")
            share = (move + REMEDY_SPARE_MM) / float(wing.chord_mm(z[worst]))
            raise DesignError(
                (one.name, other.name),
                f"their bores are {aside[worst]:.1f} mm apart along the chord at span {z[worst]:.0f} mm and "
                f"need {needed:.1f} mm, so that each keeps its own wall and its own slit",
                f"Move one of them by {move + REMEDY_SPARE_MM:.2f} mm along the chord: {other.name} {way}, "
                f"by {share:.3f} of the chord there, or {one.name} the other way",
            )
    least = LEAST_GAP_BEADS * bead_mm
    for bore in bores:
        for web in webs:
            close, move = web.beside(bore.x_mm, max(bore.seed_mm, 0.0), bore.to_mm, least_mm=least)
            if close > LONGEST_CROSSING_MM:
                raise DesignError(
                    (bore.name, web.name),
                    f"the web runs along the slit of the bore, closer than two beads ({least:.2f} mm) "
                    f"over {close:.0f} mm of span, where the bore already makes a web of its own",
                    f"Move the web by {move:.2f} mm along the chord, or end one where the other begins",
                )
