"""Where ribs and spar webs run: upright planes through the wing, placed in wing coordinates.

Every plane holds the y direction, so inside a layer each slot is a line along y at one x.
Because the planes are placed on the wing and not on a panel, ribs run on across a joint.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import DesignError
from wingpath.model.spec import Spec
from wingpath.model.spec_ribs import ANGLE_RANGE_DEG
from wingpath.model.wing import Wing

__all__ = ["LEAST_GAP_BEADS", "LONGEST_CROSSING_MM", "RibPlane", "refuse_leaning", "rib_planes", "web_planes"]

LEAST_GAP_BEADS = 2.0
"""Two slots, or a slot and a wall, that run side by side need two beads between them, one for each."""

LONGEST_CROSSING_MM = 6.0
"""A web may cross a wall or a slit if it is closer than that over no more than this stretch of span [mm]."""

LEAST_DRIFT = 1e-6
"""Ribs whose crossing of mid chord moves along the root by less than this share of span run along it."""

ALONG_SAMPLES = 500
"""Places at which a web is held against what runs beside it."""

MOVE_SPARE_MM = 0.05
"""Added to how far something has to move, so that it still helps after rounding [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class RibPlane:
    """One slot's middle plane.

    Parameters
    ----------
    name : str
        Name for messages, for example ``aft rib 12`` or ``spar_web[0]``.
    run : {"aft", "forward", "web"}
        Which way it runs along the chord, seen going outboard.
    knots_z_mm, knots_x_mm : ndarray, shape (k,)
        Its trace from above: straight between the knots [mm].
    """

    name: str
    run: Literal["aft", "forward", "web"]
    knots_z_mm: FloatArray
    knots_x_mm: FloatArray

    def __post_init__(self) -> None:
        for field in ("knots_z_mm", "knots_x_mm"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), (None,), name=field))

    def x_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return x of the plane at `z_mm`, continued straight beyond the ends of ribs [mm]."""
        z = np.asarray(z_mm, float)
        inside = np.interp(z, self.knots_z_mm, self.knots_x_mm)
        slopes = np.diff(self.knots_x_mm) / np.diff(self.knots_z_mm)
        before = np.minimum(z - self.knots_z_mm[0], 0.0) * slopes[0]
        after = np.maximum(z - self.knots_z_mm[-1], 0.0) * slopes[-1]
        return np.asarray(inside + before + after)

    def beside(
        self, x_of: Callable[[FloatArray], FloatArray], from_mm: float, to_mm: float, *, least_mm: float
    ) -> tuple[float, float]:
        """Return over how much of its span a web is too close to a line, and how far either has to move [mm].

        Parameters
        ----------
        x_of : callable
            Gives x of the line at places along the span [mm].
        from_mm, to_mm : float
            Where the line begins and ends along the span [mm].
        least_mm : float
            How far apart they have to be [mm].
        """
        start, end = max(from_mm, float(self.knots_z_mm[0])), min(to_mm, float(self.knots_z_mm[-1]))
        if start >= end:
            return 0.0, 0.0
        z = np.linspace(start, end, ALONG_SAMPLES)
        aside = self.x_mm(z) - x_of(z)
        close = float((np.abs(aside) < least_mm).mean()) * (end - start)
        return close, least_mm + float(min(aside.max(), -aside.min())) + MOVE_SPARE_MM


def rib_planes(spec: Spec, wing: Wing) -> tuple[RibPlane, ...]:
    """Return the planes of the ribs of a spec: aft-running, forward-running or both.

    Raises
    ------
    DesignError
        When the pitch varies along a wing that is swept as much as its ribs lean.

    Notes
    -----
    ``x = i pitch + z tan(angle)`` for the aft run, ``x = (i + 1/2) pitch - z tan(angle)`` for the
    forward run, so that the two runs halve each other's bays at the root. Where the pitch varies, a rib
    belongs to the place at which it crosses the middle of the chord: ``N = integral of du / pitch`` counts
    them along the root, u being where the rib that crosses there meets it, and N is i or i + 1/2.
    """
    span = wing.semi_span_mm
    x = np.concatenate([station.outline[:, 0] for station in wing.stations])
    slope = np.tan(np.deg2rad(spec.ribs.angle_deg))
    planes = []
    runs: list[tuple[Literal["aft", "forward"], float, float]] = []
    if spec.ribs.run in ("aft", "both"):
        runs.append(("aft", slope, 0.0))
    if spec.ribs.run in ("forward", "both"):
        runs.append(("forward", -slope, 0.5))
    for run, lean, offset in runs:
        shift = (0.0, lean * span)
        reach = (float(x.min()) - max(shift), float(x.max()) - min(shift))
        for count, root in enumerate(_roots(spec, wing, lean, offset, reach), start=1):
            planes.append(
                RibPlane(
                    f"{run} rib {count}",
                    run,
                    np.array([0.0, span]),
                    np.array([root, root + lean * span]),
                )
            )
    return tuple(planes)


def _roots(spec: Spec, wing: Wing, lean: float, offset: float, reach: tuple[float, float]) -> Sequence[float]:
    """Return x at the root of the ribs of one run, rising; one beyond either end of `reach` at most."""
    ribs, span = spec.ribs, wing.semi_span_mm
    places = [0.0, *(place for place, _ in ribs.pitch_along_mm or () if 0.0 < place < span), span]
    z = np.unique(np.concatenate([places, wing.station_spans_mm]))
    pitches = ribs.pitch_at_mm(z)
    if np.all(pitches == pitches[0]):
        pitch = float(pitches[0])
        first = int(np.floor((reach[0] - offset * pitch) / pitch))
        last = int(np.ceil((reach[1] - offset * pitch) / pitch))
        return [offset * pitch + index * pitch for index in range(first, last + 1)]
    _refuse_two_pitches(spec, wing, lean)
    root = wing.chord_point_mm(0.5, z)[:, 0] - lean * z
    if root[0] > root[-1]:
        # ribs that lean aft meet the root farther forward the farther out they cross
        root, pitches = root[::-1], pitches[::-1]
    # beyond root and tip the pitch stays what it is there
    beyond = 2.0 * (reach[1] - reach[0] + pitches.max()) + abs(root).max()
    root = np.concatenate([[root[0] - beyond], root, [root[-1] + beyond]])
    return _places(root, np.concatenate([pitches[:1], pitches, pitches[-1:]]), offset, reach)


def _places(u: FloatArray, pitch: FloatArray, offset: float, reach: tuple[float, float]) -> list[float]:
    """Return where ``N(u) = integral of du / pitch`` from u = 0 passes whole numbers plus `offset` [mm].

    With the pitch straight between the knots `u`, N is a logarithm in each step and its inverse is exact.
    """
    # knots closer together than rounding may have changed places
    u = np.maximum.accumulate(u)
    change = np.diff(pitch) / pitch[:-1]
    count = np.concatenate([[0.0], np.cumsum(np.diff(u) / pitch[:-1] * _over(np.log1p, change))])

    def number(x: float) -> float:
        step = int(np.searchsorted(u, x, side="right")) - 1
        into = x - u[step]
        share = into / (u[step + 1] - u[step])
        return float(count[step] + into / pitch[step] * _over(np.log1p, change[step] * share))

    zero = number(0.0)
    low, high = np.floor(number(reach[0]) - zero - offset), np.ceil(number(reach[1]) - zero - offset)
    wanted = np.arange(low, high + 1.0) + offset + zero
    step = np.searchsorted(count, wanted, side="right") - 1
    into = wanted - count[step]
    growth = np.log1p(change[step]) * into / (count[step + 1] - count[step])
    return [float(x) for x in u[step] + pitch[step] * into * _over(np.expm1, growth)]


def _over(function: Callable[[FloatArray], FloatArray], y: ArrayLike) -> FloatArray:
    """Return ``function(y) / y``, and its limit 1 at nothing."""
    given = np.asarray(y, float)
    safe = np.where(given == 0.0, 1.0, given)
    return np.where(given == 0.0, 1.0, function(safe) / safe)


def _drifts(wing: Wing, lean: float) -> FloatArray:
    """Return, for each stretch between stations, how the rib that crosses mid chord moves along the root."""
    z = wing.station_spans_mm
    return np.asarray(np.diff(wing.chord_point_mm(0.5, z)[:, 0]) / np.diff(z) - lean)


def _crosses_once(drifts: FloatArray) -> bool:
    return bool(np.all(drifts > LEAST_DRIFT) or np.all(drifts < -LEAST_DRIFT))


def _refuse_two_pitches(spec: Spec, wing: Wing, lean: float) -> None:
    drifts = _drifts(wing, lean)
    if _crosses_once(drifts):
        return
    # most stretches go one way: the one that differs most from them is at fault
    worst = int(np.argmax(-np.sign(np.median(drifts) or 1.0) * drifts))
    sweep = np.rad2deg(np.arctan(drifts[worst] + lean))
    signs = {"aft": (1.0,), "forward": (-1.0,), "both": (1.0, -1.0), "none": ()}[spec.ribs.run]
    fitting = [
        angle
        for angle in range(int(ANGLE_RANGE_DEG[0]), int(ANGLE_RANGE_DEG[1]) + 1)
        if all(_crosses_once(_drifts(wing, sign * np.tan(np.deg2rad(angle)))) for sign in signs)
    ]
    nearest = min(fitting, key=lambda angle: abs(angle - spec.ribs.angle_deg), default=None)
    raise DesignError(
        ("ribs.pitch_along_mm", f"station[{worst}]", f"station[{worst + 1}]"),
        f"the middle of the chord is swept {abs(sweep):.0f} degrees {'aft' if sweep > 0.0 else 'forward'} "
        f"between these stations and the ribs lean {spec.ribs.angle_deg:g} degrees, so a rib would cross it "
        "at places with different pitches",
        "Give one pitch_mm for the whole wing" + ("" if nearest is None else f", or angle_deg = {nearest}"),
    )


def web_planes(spec: Spec, wing: Wing) -> tuple[RibPlane, ...]:
    """Return the planes of the spar webs of a spec, straight between stations.

    Raises
    ------
    DesignError
        When two webs run closer together than two beads.
    """
    planes = []
    for number, web in enumerate(spec.spar_webs):
        start = web.from_mm
        end = wing.semi_span_mm if web.to_mm is None else web.to_mm
        between = [z for z in wing.station_spans_mm if start < z < end]
        z = np.array([start, *between, end])
        fraction = np.interp(z, [start, end], [web.chord_fraction, web.end_fraction])
        x = wing.chord_point_mm(fraction, z)[:, 0]
        _refuse_leaning_web(number, z, x, spec)
        planes.append(RibPlane(f"spar_web[{number}]", "web", z, x))
    for one, other in combinations(planes, 2):
        _refuse_close_webs(one, other, LEAST_GAP_BEADS * spec.bead_mm)
    return tuple(planes)


def _refuse_leaning_web(number: int, z: FloatArray, x: FloatArray, spec: Spec) -> None:
    slopes = np.abs(np.diff(x) / np.diff(z))
    worst = int(np.argmax(slopes))
    refuse_leaning(
        float(slopes[worst]),
        spec,
        (f"spar_web[{number}]", f"the sweep between spans {z[worst]:.0f} and {z[worst + 1]:.0f} mm"),
        "end the web before that stretch, or choose chord fractions that run straighter",
    )


def refuse_leaning(slope: float, spec: Spec, culprits: tuple[str, str], remedy: str) -> None:
    """Raise when something leans so much that a bead of it lies beside the one below.

    Parameters
    ----------
    slope : float
        How far it goes sideways over the height.
    spec : Spec
        Bead width and layer height.
    culprits : tuple of str
        What leans, and why.
    remedy : str
        How it can lean less.

    Raises
    ------
    DesignError
        Naming both culprits.
    """
    aside = slope * spec.print.layer_mm
    if aside > spec.bead_mm:
        most = np.rad2deg(np.arctan(spec.bead_mm / spec.print.layer_mm))
        raise DesignError(
            culprits,
            f"it leans {np.rad2deg(np.arctan(slope)):.0f} degrees there, so each bead lies {aside:.2f} mm "
            "beside the one below and hangs in the air",
            f"Let it lean less than {most:.0f} degrees: {remedy}",
        )


def _refuse_close_webs(one: RibPlane, other: RibPlane, least_mm: float) -> None:
    start = max(one.knots_z_mm[0], other.knots_z_mm[0])
    end = min(one.knots_z_mm[-1], other.knots_z_mm[-1])
    if end <= start:
        return
    z = np.linspace(start, end, 200)
    apart = np.abs(one.x_mm(z) - other.x_mm(z))
    closest = int(np.argmin(apart))
    if apart[closest] < least_mm:
        raise DesignError(
            (one.name, other.name),
            f"they run {apart[closest]:.2f} mm apart at span {z[closest]:.0f} mm, and two slots side by "
            f"side need two bead widths, {least_mm:.2f} mm",
            f"Move one of them by {least_mm - apart[closest]:.2f} mm along the chord",
        )
