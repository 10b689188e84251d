"""Placing ailerons and flaps: what a spec asks for, or a refusal with the smallest change that helps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from wingpath.build.ailerons import Aileron, aileron_planes, aileron_section
from wingpath.build.bays import Bay
from wingpath.build.bores import Bore
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import DesignError
from wingpath.geometry.outline import Section, surface_chains
from wingpath.model.ribs import LEAST_GAP_BEADS, LONGEST_CROSSING_MM, RibPlane
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing

__all__ = ["ailerons_from_spec", "refuse_cramped_ailerons"]


STANDING_MM = 4.0
"""The pointed ends of a surface are cut flat until they are this long: they stand, and hold a bead [mm]."""

END_STEP_MM = 0.25
"""Steps in which the ends of a surface are sought [mm]."""

LEAST_SURFACE_MM = 10.0
"""Shortest surface worth printing [mm]."""

PLACES = 400
"""Places along the span at which a fitting is held against the bay."""

SPREAD = 1.2
"""A move of this times what is lacking separates two bays, also where the trailing edge leans: judgement."""

NO_PLACE = "Put its hinge farther aft, let the trailing edge lean less, or leave it out"
"""What helps when a bay has no room wherever its surface begins or ends."""

LEAST_HINGE_BEADS = 4.0
"""Least thickness at the hinge in bead widths: two beads of skin on either side of the hinge line."""


def ailerons_from_spec(spec: Spec, wing: Wing, section: Section, *, end_mm: float) -> tuple[Aileron, ...]:
    """Return the ailerons of a spec.

    Parameters
    ----------
    spec, wing, section
        What the maker describes, and the ring of the half wing at a height.
    end_mm : float
        Where the wing's full section ends: the tip, or the beginning of its cap [mm].

    Raises
    ------
    DesignError
        When an aileron is too thin at its hinge, or its bay runs out of the wing.
    """
    ailerons = []
    for number, given in enumerate(spec.ailerons):
        name = f"aileron[{number}]"
        ends = np.array([given.from_mm, given.to_mm])
        fractions = np.array([given.hinge_fraction, given.end_fraction])

        def hinge_x(z: float, end: int, fractions: FloatArray = fractions) -> float:
            return float(wing.chord_point_mm(float(fractions[end]), z)[0, 0])

        if given.to_mm > end_mm:
            raise DesignError(
                (f"{name}.to_mm", "the closed tip"),
                f"the surface ends at span {given.to_mm:g} mm, and the tip begins to close at "
                f"{end_mm:.1f} mm",
                _outermost(
                    section, hinge_x, gap=given.gap_mm, from_mm=given.from_mm, to_mm=end_mm, end_mm=end_mm
                ),
            )
        x = wing.chord_point_mm(fractions, ends)[:, 0]
        hinge, half = [], np.zeros(2)
        for place, z in zip(x, ends, strict=True):
            low, high = _skins(section, float(place), float(z))
            hinge.append((place, 0.5 * (low + high), z))
            _refuse_thin_hinge(name, high - low, float(z), spec)
        line = np.array(hinge)
        for z in np.linspace(given.from_mm, given.to_mm, 15):
            share = (z - ends[0]) / (ends[1] - ends[0])
            at = line[0] + share * (line[1] - line[0])
            low, high = _skins(section, float(at[0]), float(z))
            half = np.maximum(half, [high - at[1], at[1] - low])

        start, end = _reach(line, hinge_x, given.gap_mm, section, end_mm, name)
        horn = None
        if given.horn_mm is not None:
            share = (given.horn_mm - ends[0]) / (ends[1] - ends[0])
            at_x = float(line[0, 0] + share * (line[1, 0] - line[0, 0])) + given.gap_mm
            horn = (at_x, _skins(section, at_x, given.horn_mm)[0], given.horn_mm)
        ailerons.append(
            _standing(
                Aileron(
                    name=name,
                    number=number + 1,
                    from_mm=given.from_mm,
                    to_mm=given.to_mm,
                    gap_mm=given.gap_mm,
                    up_deg=given.up_deg,
                    down_deg=given.down_deg,
                    hinge=line,
                    start_mm=start,
                    end_mm=end,
                    bay_mm=(start, end),
                    half_mm=(float(half[0]), float(half[1])),
                    horn=horn,
                ),
                section,
                spec.bead_mm,
            )
        )
    return tuple(ailerons)


def _skins(section: Section, x: float, z: float) -> tuple[float, float]:
    under, over = surface_chains(section(z))
    return float(np.interp(x, *under.T)), float(np.interp(x, *over.T))


def _refuse_thin_hinge(name: str, thickness: float, z: float, spec: Spec) -> None:
    least = LEAST_HINGE_BEADS * spec.bead_mm
    if thickness < least:
        raise DesignError(
            (name, f"the section at span {z:.0f} mm"),
            f"the wing is {thickness:.2f} mm thick at the hinge and needs {least:.2f} mm",
            f"Move the hinge forward, where it is {least - thickness:.2f} mm thicker, or end it sooner",
        )


def _taken_mm(section: Section, gap: float, z_mm: float, corner_x: float, corner_z: float) -> float:
    """How much of the chord at a height a sloped end takes that begins at a corner [mm]; under 0: none."""
    edge = float(section(z_mm)[:, 0].max())
    return edge - (corner_x - 0.5 * gap) - abs(z_mm - corner_z)


def _outermost(
    section: Section,
    hinge_x: Callable[[float, int], float],
    *,
    gap: float,
    from_mm: float,
    to_mm: float,
    end_mm: float,
) -> str:
    """Say where a surface may end so that its bay stays inside the wing."""
    places = np.arange(np.floor(to_mm), from_mm + LEAST_SURFACE_MM, -1.0)
    good = (z for z in places if _taken_mm(section, gap, end_mm, hinge_x(float(z), 1), float(z)) <= 0.0)
    first = next(good, None)
    return NO_PLACE if first is None else f"Let it end at to_mm = {first:.0f}"


def _reach(
    line: FloatArray,
    hinge_x: Callable[[float, int], float],
    gap: float,
    section: Section,
    end_mm: float,
    name: str,
) -> tuple[float, float]:
    """Where the bay begins and ends at the trailing edge, and whether it stays inside the wing."""
    inner, outer = line[0], line[1]

    def refuse(where: str, at: float, corner: FloatArray, remedy: Callable[[], str]) -> None:
        cut = _taken_mm(section, gap, at, float(corner[0]), float(corner[2]))
        if cut > 0.0:
            raise DesignError(
                (name, where),
                f"its bay widens by 45 degrees towards the trailing edge and takes {cut:.1f} mm of the chord "
                f"at span {at:.1f} mm",
                remedy(),
            )

    def begin() -> str:
        places = np.arange(np.ceil(inner[2]), outer[2] - LEAST_SURFACE_MM)
        good = (z for z in places if _taken_mm(section, gap, 0.0, hinge_x(float(z), 0), float(z)) <= 0.0)
        first = next(good, None)
        return NO_PLACE if first is None else f"Let it begin at from_mm = {first:.0f}"

    def end() -> str:
        return _outermost(
            section, hinge_x, gap=gap, from_mm=float(inner[2]), to_mm=float(outer[2]), end_mm=end_mm
        )

    refuse("the root", 0.0, inner, begin)
    refuse("the tip", end_mm, outer, end)
    ends = []
    for far, corner in ((0.0, inner), (end_mm, outer)):
        z = np.linspace(far, corner[2], max(3, int(np.ceil(abs(corner[2] - far) / END_STEP_MM))))
        whole = [
            at for at in z if _taken_mm(section, gap, float(at), float(corner[0]), float(corner[2])) <= 0.0
        ]
        ends.append(float(whole[-1]))
    return ends[0], ends[1]


def _standing(aileron: Aileron, section: Section, bead_mm: float) -> Aileron:
    """Cut both pointed ends flat where they are long enough to stand on and to hold a bead.

    Raises
    ------
    DesignError
        When nothing worth printing is left between them.
    """
    planes = aileron_planes(aileron)
    heights = np.arange(aileron.start_mm, aileron.end_mm, END_STEP_MM)
    lengths = np.zeros(len(heights))

    def long_enough(index: int) -> bool:
        ring = aileron_section(planes, section, float(heights[index]))
        if len(ring) and not shapely.Polygon(ring).buffer(-0.75 * bead_mm).is_empty:
            lengths[index] = np.ptp(ring[:, 0])
        return bool(lengths[index] > STANDING_MM)

    # from both ends inward: what lies between them is long enough
    first = next((index for index in range(len(heights)) if long_enough(index)), None)
    last = next((index for index in reversed(range(len(heights))) if long_enough(index)), None)
    if first is None or last is None or heights[last] - heights[first] < LEAST_SURFACE_MM:
        raise DesignError(
            (f"{aileron.name}.from_mm", f"{aileron.name}.to_mm"),
            "nothing is left of the surface between its sloped ends",
            f"Make it longer by {LEAST_SURFACE_MM + lengths.max():.0f} mm",
        )
    return replace(aileron, start_mm=float(heights[first]), end_mm=float(heights[last]))


def refuse_cramped_ailerons(
    ailerons: Sequence[Aileron],
    bores: Sequence[Bore],
    bays: Sequence[Bay],
    webs: Sequence[RibPlane],
    *,
    bead_mm: float,
) -> None:
    """Raise when something else in the wing meets an aileron's bay, or a web runs along its hinge.

    Two bays next to each other count: both widen towards the trailing edge.

    Raises
    ------
    DesignError
        Naming both, and how far one has to move.
    """
    least = LEAST_GAP_BEADS * bead_mm
    in_order = sorted(ailerons, key=lambda one: one.from_mm)
    for inner, outer in pairwise(in_order):
        _refuse_meeting(inner, outer, least)
    for aileron in ailerons:
        for bore in bores:
            z = np.linspace(max(bore.seed_mm, 0.0), bore.to_mm, PLACES)
            _refuse_at_wall(aileron, bore.name, z, bore.x_mm(z) + bore.half_width_mm, least)
        for bay in bays:
            z = np.linspace(max(bay.reach_mm[0], 0.0), bay.reach_mm[1], PLACES)
            _refuse_at_wall(aileron, bay.name, z, np.full_like(z, bay.aft_mm), least)
        for web in webs:
            close, move = web.beside(
                aileron.hinge_x_mm, aileron.from_mm, aileron.to_mm, least_mm=least + aileron.gap_mm
            )
            if close > LONGEST_CROSSING_MM:
                raise DesignError(
                    (web.name, aileron.name),
                    f"the web runs along the hinge over {close:.0f} mm of span, where the bay has a wall",
                    f"Move the web by {move:.2f} mm",
                )


def _refuse_meeting(inner: Aileron, outer: Aileron, least: float) -> None:
    ends, begins = inner.bay_mm[1], outer.bay_mm[0]
    short = least - (begins - ends)
    if short <= 0.0:
        return
    hinges = outer.from_mm - inner.to_mm
    # where the chord changes the bays reach a little more or less far after the move
    move = np.ceil(SPREAD * short) + 1.0
    ways = []
    if outer.to_mm - outer.from_mm - move >= LEAST_SURFACE_MM:
        ways.append(f"let {outer.name} begin at from_mm = {outer.from_mm + move:.0f}")
    if inner.to_mm - inner.from_mm - move >= LEAST_SURFACE_MM:
        ways.append(f"let {inner.name} end at to_mm = {inner.to_mm - move:.0f}")
    ways.append("make one surface of the two")
    raise DesignError(
        (inner.name, outer.name),
        f"both bays widen by 45 degrees towards the trailing edge and meet there: {inner.name} reaches out "
        f"to {ends:.0f} mm and {outer.name} in to {begins:.0f} mm; with {hinges:.0f} mm between their hinges "
        f"they lack {short:.0f} mm",
        f"Keep them apart: {', or '.join(ways)}",
    )


def _refuse_at_wall(aileron: Aileron, name: str, z_mm: FloatArray, aft_mm: FloatArray, least: float) -> None:
    # the slopes reach farther along the span than the surface, which is cut flat to stand on
    room = aileron.wall_mm(z_mm) - aft_mm
    worst = int(np.argmin(room))
    if room[worst] < least:
        raise DesignError(
            (name, aileron.name),
            f"they come within {max(float(room[worst]), 0.0):.2f} mm of each other at span "
            f"{z_mm[worst]:.0f} mm and need {least:.2f} mm",
            f"Move one of them by {least - float(room[worst]) + 0.01:.2f} mm along the chord",
        )
