"""What may change: a candidate is one choice from each of a few lists, and the changes it makes to a spec."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.lighten.changes_words import changes_words
from wingpath.model.profiles import FilamentProfile, PrinterProfile, TubeMaterial
from wingpath.model.spec import Spec
from wingpath.model.spec_checks import LEAST_STUB_BEADS
from wingpath.model.spec_ribs import PITCH_RANGE_MM

__all__ = ["DRAWN", "Candidate", "Dimension", "Freedom", "freedom_of"]

Candidate = tuple[int, ...]
"""Place in each dimension's list of values."""

DRAWN = "as drawn"
"""The value that leaves the spec as it is."""

RUNS = ("both", "aft", "forward", "none")
PITCH_RANGE = (0.5, 2.5)
"""Least and greatest pitch, over what is drawn."""

TIP_PITCH = (0.65, 0.8, 1.0, 1.25, 1.6, 2.0)
"""Pitch at the tip over that at the root."""

ANGLES_DEG = (35.0, 40.0, 45.0, 50.0, 55.0)
BEAD_STEP_MM = 0.05
BEAD_PER_NOZZLE = (1.0, 1.5)
"""Bead widths over the nozzle's diameter that are tried: common practice, no source."""

SIZE_RANGE = (0.6, 1.5)
"""Sizes of tubes that are tried, over what is drawn."""

WEB_FROM, WEB_TO = (0.0, 0.25, 0.5), (0.5, 0.75, 1.0)
"""Ends of an added web, as shares of the half span."""

WHOLE_MM = 5.0
"""Ends of tubes and webs are whole multiples of this [mm]."""

STUB_SHARES = (0.1, 0.12, 0.14, 0.16, 0.2, 0.27, 0.53)
"""Depths of the stubs of windows over the greatest thickness of the root that are tried: on the examples a
tenth to a seventh of the thickness did best. With the last one ribs are whole everywhere."""

COARSE_PITCHES = 6
"""Pitches of the coarse grid that the search begins with."""

STUB_STEP_MM = 0.5
"""Depths of stubs are whole multiples of this [mm]."""

NO_WINDOWS = "none"
"""The value that fills windows that are drawn."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """One thing that may change.

    Parameters
    ----------
    name : str
        What it is, for example ``ribs.run`` or ``added web 1: place``.
    values : tuple
        What it may be; text, numbers, or pairs of them.
    drawn : int
        Which of them leaves the spec as it is.
    ordered : bool
        Whether neighbours in the list are alike.
    numbers : tuple of float
        The values as numbers, for fits: 0 for what is drawn; empty where values have no order.
    rows : tuple of tuple of float
        The same where one number does not tell enough: several for each value.
    """

    name: str
    values: tuple[Any, ...]
    drawn: int
    ordered: bool
    numbers: tuple[float, ...] = ()
    rows: tuple[tuple[float, ...], ...] = ()

    def features(self, index: int) -> tuple[float, ...]:
        """Return a value as numbers for fits, all 0 for what is drawn."""
        if self.rows:
            return self.rows[index]
        if self.numbers:
            return (self.numbers[index],)
        # a mark for each value but the one that is drawn
        return tuple(1.0 if n == index else 0.0 for n in range(len(self.values)) if n != self.drawn)


@dataclass(frozen=True, slots=True)
class Freedom:
    """All that may change about one spec.

    Parameters
    ----------
    spec : Spec
        The wing as drawn.
    dimensions : tuple of Dimension
        Each with two values or more.
    """

    spec: Spec
    dimensions: tuple[Dimension, ...]

    @property
    def drawn(self) -> Candidate:
        """The wing as drawn."""
        return tuple(dimension.drawn for dimension in self.dimensions)

    @property
    def size(self) -> int:
        """Number of candidates, alike ones counted apart."""
        return math.prod(len(dimension.values) for dimension in self.dimensions)

    def value(self, candidate: Candidate, name: str) -> Any:
        """Return what a candidate chooses in a dimension; what is drawn where there is no such choice."""
        for dimension, index in zip(self.dimensions, candidate, strict=True):
            if dimension.name == name:
                return dimension.values[index]
        return DRAWN

    def canonical(self, candidate: Candidate) -> Candidate:
        """Return the candidate that makes the same changes and leaves as drawn what has no effect."""
        idle: set[str] = set()
        if self._run(candidate) == "none":
            idle |= {"pitch", "tip pitch", "angle"}
        if self._run(candidate) != "both":
            idle.add("stub")
        if self.value(candidate, "pitch") == DRAWN and self.spec.ribs.pitch_along_mm is not None:
            idle.add("tip pitch")
        for number in range(1, self.spec.freedom.webs + 1):
            if self.value(candidate, f"added web {number}: place") == DRAWN:
                idle |= {f"added web {number}: from", f"added web {number}: to"}
        return tuple(
            dimension.drawn if dimension.name in idle else index
            for dimension, index in zip(self.dimensions, candidate, strict=True)
        )

    def changes(self, candidate: Candidate) -> dict[str, Any]:
        """Return what a candidate changes in the spec's file: values by key path, None for what goes."""
        candidate = self.canonical(candidate)
        found: dict[str, Any] = {}
        found |= self._rib_changes(candidate)
        bead = self.value(candidate, "bead")
        if bead not in (DRAWN, self.spec.bead_mm):
            found["print.bead_mm"] = bead
            if self.spec.slots.neck_mm is not None:
                # a neck is made for a bead: it keeps its share of it
                share = self.spec.slots.neck_mm / self.spec.bead_mm
                found["slots.neck_mm"] = round(share * bead, 3)
            if self.spec.wing.trailing_edge_mm is not None:
                share = self.spec.wing.trailing_edge_mm / self.spec.bead_mm
                found["wing.trailing_edge_mm"] = round(max(share * bead, 0.2), 3)
        found |= self._web_changes(candidate)
        for number, tube in enumerate(self.spec.tubes):
            size = self.value(candidate, f"tube[{number}]: size")
            if size != DRAWN:
                found[f"tube[{number}].outer_mm"], found[f"tube[{number}].inner_mm"] = size
            length = self.value(candidate, f"tube[{number}]: end")
            if length not in (DRAWN, tube.to_mm):
                found[f"tube[{number}].to_mm"] = length
        return found

    def _run(self, candidate: Candidate) -> str:
        run = self.value(candidate, "run")
        return self.spec.ribs.run if run == DRAWN else str(run)

    def _rib_changes(self, candidate: Candidate) -> dict[str, Any]:
        ribs = self.spec.ribs
        found: dict[str, Any] = {}
        if self._run(candidate) != ribs.run:
            found["ribs.run"] = self._run(candidate)
        angle = self.value(candidate, "angle")
        if angle not in (DRAWN, ribs.angle_deg):
            found["ribs.angle_deg"] = angle
        stub = self.value(candidate, "stub")
        if self._run(candidate) != "both" or stub == NO_WINDOWS:
            # what is drawn may have windows, and they need both runs
            found |= {} if ribs.stub_mm is None else {"ribs.stub_mm": None}
        elif stub != DRAWN:
            found["ribs.stub_mm"] = stub
        pitch, tip = self.value(candidate, "pitch"), self.value(candidate, "tip pitch")
        if pitch == DRAWN and tip in (DRAWN, 1.0):
            return found
        root = ribs.pitch_mm if pitch == DRAWN else float(pitch)
        if tip in (DRAWN, 1.0):
            if root != ribs.pitch_mm or ribs.pitch_along_mm is not None:
                found["ribs.pitch_mm"] = root
                if ribs.pitch_along_mm is not None:
                    found["ribs.pitch_along_mm"] = None
            return found
        outer = float(np.clip(round(2.0 * root * tip) / 2.0, *PITCH_RANGE_MM))
        found["ribs.pitch_mm"] = None
        found["ribs.pitch_along_mm"] = [[0.0, root], [self.spec.semi_span_mm, outer]]
        return found

    def _web_changes(self, candidate: Candidate) -> dict[str, Any]:
        drawn = [web.model_dump(exclude_unset=True) for web in self.spec.spar_webs]
        kept = [
            web for number, web in enumerate(drawn) if self.value(candidate, f"spar_web[{number}]") == DRAWN
        ]
        added = []
        for number in range(1, self.spec.freedom.webs + 1):
            place = self.value(candidate, f"added web {number}: place")
            if place != DRAWN:
                start = self.value(candidate, f"added web {number}: from")
                end = self.value(candidate, f"added web {number}: to")
                added.append({"chord_fraction": place, "from_mm": start, "to_mm": end})
        if len(kept) == len(drawn) and not added:
            return {}
        return {"spar_web": [*kept, *added]}

    def features(self, candidate: Candidate) -> FloatArray:
        """Return the candidate as numbers, all 0 for what is drawn."""
        chosen = zip(self.dimensions, self.canonical(candidate), strict=True)
        return np.array([number for dimension, index in chosen for number in dimension.features(index)])

    def neighbours(self, candidate: Candidate) -> Iterator[Candidate]:
        """Yield the candidates that differ in one dimension: by a step, or by any other value."""
        for place, dimension in enumerate(self.dimensions):
            index = candidate[place]
            steps = (index - 1, index + 1) if dimension.ordered else tuple(range(len(dimension.values)))
            for other in steps:
                if 0 <= other < len(dimension.values) and other != index:
                    yield (*candidate[:place], other, *candidate[place + 1 :])

    def coarse(self) -> Iterator[Candidate]:
        """Yield a grid over what matters most: runs, windows, a few pitches, webs that are drawn or none."""
        choices: list[Sequence[int]] = []
        for dimension in self.dimensions:
            count = len(dimension.values)
            if dimension.name in ("run", "stub"):
                choices.append(range(count))
            elif dimension.name == "pitch":
                choices.append(sorted({round(n) for n in np.linspace(0, count - 1, COARSE_PITCHES)}))
            else:
                choices.append((dimension.drawn,))
        webs = [n for n, dimension in enumerate(self.dimensions) if dimension.name.startswith("spar_web")]
        for candidate in itertools.product(*choices):
            yield candidate
            if webs:
                yield tuple(
                    len(self.dimensions[n].values) - 1 if n in webs else index
                    for n, index in enumerate(candidate)
                )

    def kind(self, candidate: Candidate) -> tuple[str, bool]:
        """Return what tells layouts apart most: the rib runs, and whether slots come as they are drawn."""
        return self._run(candidate), self.value(candidate, "stub") == DRAWN

    def words(self, candidate: Candidate) -> str:
        """Return what a candidate changes, in words."""
        return changes_words(self.changes(candidate)) or DRAWN


def freedom_of(
    spec: Spec,
    *,
    filament: FilamentProfile,
    printer: PrinterProfile,
    materials: Sequence[TubeMaterial],
    root_mm: float,
) -> Freedom:
    """Return what may change about a spec.

    Parameters
    ----------
    spec : Spec
        The wing as drawn, with ``[freedom]``.
    filament, printer, materials
        What it is printed with, and what each tube is made of.
    root_mm : float
        Greatest thickness of the section at the root, from which the depths of windows' stubs follow [mm].

    Raises
    ------
    InputError
        When nothing may change, or a pitch range is none.
    """
    found = [
        *_ribs(spec, filament),
        _stubs(spec, root_mm),
        *_bead(spec, printer),
        *_webs(spec),
        *_tubes(spec, materials),
    ]
    dimensions = tuple(dimension for dimension in found if len(dimension.values) > 1)
    if not dimensions:
        raise InputError(
            "freedom: got nothing that may change; allowed: at least one list with a value other than what "
            "is drawn. Leave [freedom] out, or give pitch_mm, run, angle_deg, bead_mm, webs or tube_length"
        )
    return Freedom(spec, dimensions)


def _ordered(name: str, values: Sequence[float], drawn: float, *, scale: str = "log") -> Dimension:
    """Return a list of numbers with what is drawn among them."""
    near = {round(float(value), 6) for value in values} | {round(float(drawn), 6)}
    kept = tuple(sorted(near))
    place = kept.index(round(float(drawn), 6))
    numbers = tuple(
        math.log(value / kept[place]) if scale == "log" else value - kept[place] for value in kept
    )
    spread = max(abs(number) for number in numbers) or 1.0
    return Dimension(name, kept, place, ordered=True, numbers=tuple(number / spread for number in numbers))


def _ribs(spec: Spec, filament: FilamentProfile) -> Iterator[Dimension]:
    ribs, free = spec.ribs, spec.freedom
    runs = RUNS if free.run is None else free.run
    names = tuple(dict.fromkeys((ribs.run, *runs)))
    yield Dimension("run", names, 0, ordered=False)
    drawn = ribs.pitch_mm
    if free.pitch_mm is None:
        low, high = (max(PITCH_RANGE_MM[0], share * drawn) for share in PITCH_RANGE)
    elif not free.pitch_mm:
        low = high = drawn
    elif len(free.pitch_mm) == 2 and free.pitch_mm[0] <= free.pitch_mm[1]:
        low, high = free.pitch_mm
    else:
        got = ", ".join(f"{pitch:g}" for pitch in free.pitch_mm)
        raise InputError(
            f"freedom.pitch_mm: got [{got}]; allowed: two pitches, the least one first, or none to keep what "
            "is drawn. Give both ends of the range"
        )
    steps = int((high - low) / free.pitch_step_mm + 1e-9)
    values = [low + free.pitch_step_mm * step for step in range(steps + 1)] if high > low else []
    if ribs.pitch_along_mm is None:
        yield _ordered("pitch", values, drawn)
    elif values:
        # what is drawn varies along the span and has no place among plain numbers
        yield Dimension("pitch", (DRAWN, *values), 0, ordered=False)
    yield _ordered("tip pitch", TIP_PITCH if free.tip_pitch is None else free.tip_pitch, 1.0)
    most = max(filament.overhang_limit_deg, ribs.angle_deg)
    angles = [a for a in ANGLES_DEG if a <= most] if free.angle_deg is None else free.angle_deg
    yield _ordered("angle", angles, ribs.angle_deg)


def _stubs(spec: Spec, root_mm: float) -> Dimension:
    """Return the depths of the stubs of windows to try, what is drawn first."""
    drawn, given = spec.ribs.stub_mm, spec.freedom.stub_mm
    if given is None:
        given = tuple(STUB_STEP_MM * round(share * root_mm / STUB_STEP_MM) for share in STUB_SHARES)
    least = LEAST_STUB_BEADS * spec.bead_mm
    others = sorted({stub for stub in given if stub >= least} - {drawn})
    filled = () if drawn is None or not given else (NO_WINDOWS,)
    values = (DRAWN, *filled, *others)
    # whether there are windows, and how deep their stubs are against the middle of what is tried
    middle = drawn if drawn is not None else float(np.median(others or [1.0]))
    rows = []
    for value in values:
        depth = drawn if value == DRAWN else None if value == NO_WINDOWS else float(value)
        windows = float(depth is not None) - float(drawn is not None)
        rows.append((windows, 0.0 if depth is None else math.log(depth / middle)))
    return Dimension("stub", values, 0, ordered=False, rows=tuple(rows))


def _bead(spec: Spec, printer: PrinterProfile) -> Iterator[Dimension]:
    drawn, given = spec.bead_mm, spec.freedom.bead_mm
    if given is None:
        low, high = (share * printer.nozzle_mm for share in BEAD_PER_NOZZLE)
        near = (round(drawn - BEAD_STEP_MM, 4), round(drawn + BEAD_STEP_MM, 4))
        given = tuple(bead for bead in near if low - 1e-9 <= bead <= high + 1e-9)
    yield _ordered("bead", given, drawn)


def _webs(spec: Spec) -> Iterator[Dimension]:
    free = spec.freedom
    if free.drop_webs:
        for number in range(len(spec.spar_webs)):
            yield Dimension(f"spar_web[{number}]", (DRAWN, "none"), 0, ordered=False)
    span = spec.semi_span_mm
    for number in range(1, free.webs + 1):
        if not free.web_chord_fraction:
            return
        places = tuple(sorted(set(free.web_chord_fraction)))
        yield Dimension(f"added web {number}: place", (DRAWN, *places), 0, ordered=False)
        starts = sorted({_whole(share * span) for share in WEB_FROM})
        ends = sorted({_whole(share * span) for share in WEB_TO[:-1]} | {span})
        for name, values, drawn in (("from", starts, starts[0]), ("to", ends, ends[-1])):
            yield _ordered(f"added web {number}: {name}", values, drawn, scale="plain")


def _tubes(spec: Spec, materials: Sequence[TubeMaterial]) -> Iterator[Dimension]:
    free = spec.freedom
    for number, (tube, material) in enumerate(zip(spec.tubes, materials, strict=True)):
        if tube.shape == "round":
            sizes = free.tube_sizes_mm
            if sizes is None:
                low, high = (share * tube.outer_mm for share in SIZE_RANGE)
                sizes = tuple(
                    (size.outer_mm, size.inner_mm)
                    for size in material.stock
                    if size.shape == "round" and low <= size.outer_mm <= high
                )
            own = (tube.outer_mm, tube.inner_mm)
            others = [size for size in sorted(set(sizes)) if size != own and size[0] > size[1]]
            yield Dimension(f"tube[{number}]: size", (DRAWN, *others), 0, ordered=False)
        lengths = {_whole(tube.from_mm + share * (tube.to_mm - tube.from_mm)) for share in free.tube_length}
        ends = [end for end in lengths if tube.from_mm + WHOLE_MM < end < spec.semi_span_mm]
        yield _ordered(f"tube[{number}]: end", ends, tube.to_mm, scale="plain")


def _whole(length_mm: float) -> float:
    return WHOLE_MM * round(length_mm / WHOLE_MM)
