"""The half wing from above: stations, ribs, webs, fittings, joints, mean chord, centre of gravity.

The root is left and the leading edge is up: from above, that is the right half.
``x_px = box_left + span * scale`` and ``y_px = box_top + (aft - front) * scale``; the group ``planform`` of
the SVG carries these numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.report.canvas import Canvas, PngCanvas, shortened, text_width
from wingpath.report.colours import AXIS, BEAD, CUT, FUSED, GHOST, INK, SOLID, WHITE, Colour
from wingpath.report.frame import round_step
from wingpath.report.scales import Names
from wingpath.report.svg_canvas import PageCanvas, SvgCanvas

__all__ = [
    "PlanFitting",
    "PlanRib",
    "PlanSketch",
    "planform_page_svg",
    "planform_picture",
    "planform_svg",
    "sketch_outline",
    "spread",
]

FittingKind = Literal["tube", "duct", "tab", "pin", "servo", "seat", "plate", "aileron"]

WIDTH_PX, TEXT_PX = 1200, 15.0
"""Width of the picture, size of its text [px]."""

LEFT_PX, RIGHT_PX, HEAD_PX, FOOT_PX = 78.0, 34.0, 128.0, 122.0
"""Room round the wing [px]."""

TALLEST_PX = 520.0
"""Most height that the wing takes [px]."""

ARROW_PX = 33.0
"""Middle of the arrow that shows the way of flight, from the left edge [px]."""

TICK_PX = 6.0
ROW_PX = 19.0
"""Length of a tick, pitch of rows of text [px]."""

LABEL_PX = 46.0
"""Room for the number of a station or a joint [px]."""

RUNS: dict[str, tuple[Colour, float, float]] = {
    "aft": (FUSED, 1.3, 0.0),
    "forward": (BEAD, 1.6, 0.0),
    "web": (INK, 2.4, 0.0),
}
"""Colour, width [px] and dash of ribs and webs: they differ in direction, lightness and width."""

FILLS: dict[str, Colour] = {
    "tube": CUT,
    "duct": WHITE,
    "tab": WHITE,
    "pin": INK,
    "servo": WHITE,
    "seat": WHITE,
    "plate": WHITE,
    "aileron": WHITE,
}

NAMED = frozenset({"tube", "duct", "tab", "servo", "plate", "aileron"})
"""Kinds of fitting whose name is written beside them."""


@dataclass(frozen=True, slots=True, eq=False)
class PlanRib:
    """The line of a slot: points (span, aft), shape (k, 2) [mm]."""

    run: Literal["aft", "forward", "web"]
    points: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", frozen_floats(self.points, (None, 2), name="points"))


@dataclass(frozen=True, slots=True, eq=False)
class PlanFitting:
    """What is cut out for a fitting.

    Parameters
    ----------
    kind, name : str
        What it is, and its key path.
    outline : ndarray, shape (k, 2)
        Its corners in turn (span, aft) [mm].
    line : ndarray, shape (2, 2), optional
        Its hinge line (span, aft) [mm].
    """

    kind: FittingKind
    name: str
    outline: FloatArray
    line: FloatArray | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", frozen_floats(self.outline, (None, 2), name="outline"))
        if self.line is not None:
            object.__setattr__(self, "line", frozen_floats(self.line, (2, 2), name="line"))


@dataclass(frozen=True, slots=True, eq=False)
class PlanSketch:
    """What is drawn of a half wing; places are (span, aft of the root's leading edge) [mm].

    Parameters
    ----------
    name : str
        Of the wing.
    outline : ndarray, shape (n, 2)
        Corners of the half wing in turn.
    stations : tuple of (float, float, float)
        Span, leading edge and chord of each [mm].
    joints : tuple of (float, float, float)
        The same of each joint.
    ribs, fittings
        What is in it.
    mean_chord : tuple of (float, float, float), optional
        Span, leading edge and length of the mean chord [mm].
    centre : tuple of (float, float), optional
        Centre of gravity of the half wing.
    balance : tuple of (float, float), optional
        Usual place of the aircraft's centre of gravity, fore and aft end [mm].
    """

    name: str
    outline: FloatArray
    stations: tuple[tuple[float, float, float], ...]
    joints: tuple[tuple[float, float, float], ...]
    ribs: tuple[PlanRib, ...]
    fittings: tuple[PlanFitting, ...]
    mean_chord: tuple[float, float, float] | None = None
    centre: tuple[float, float] | None = None
    balance: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", frozen_floats(self.outline, (None, 2), name="outline"))
        span, aft = np.ptp(self.outline, axis=0)
        if not (span > 0.0 and aft > 0.0):
            raise ValueError(f"outline: got a span of {span:g} mm and {aft:g} mm aft; allowed: over 0")

    @property
    def words(self) -> str:
        """The drawing in words, for those who do not see it."""
        span = float(self.outline[:, 0].max())
        runs = {run: sum(rib.run == run for rib in self.ribs) for run in RUNS}
        named = ", ".join(fitting.name for fitting in self.fittings if fitting.kind in NAMED)
        chords = ", ".join(f"{chord:g} at {at:g}" for at, _, chord in self.stations)
        joints = ", ".join(f"{at:g}" for at, *_ in self.joints) or "none"
        return (
            f"The right half from above, root left, leading edge up, span {span:g} mm. Chords: {chords} mm. "
            f"Pieces of ribs: {runs['aft']} run aft, {runs['forward']} forward; of webs: {runs['web']}. "
            f"Joints at: {joints}. Fittings: {named or 'none'}."
        )


@dataclass(frozen=True, slots=True)
class _Frame:
    scale: float
    left: float
    top: float
    front_mm: float

    def px(self, points: FloatArray) -> FloatArray:
        places = np.asarray(points, dtype=np.float64)
        return np.column_stack(
            [self.left + self.scale * places[:, 0], self.top + self.scale * (places[:, 1] - self.front_mm)]
        )

    def spot(self, span_mm: float, aft_mm: float) -> tuple[float, float]:
        x, y = self.px(np.array([[span_mm, aft_mm]]))[0].tolist()
        return x, y


def planform_picture(sketch: PlanSketch) -> bytes:
    """Draw a half wing from above as a PNG.

    Parameters
    ----------
    sketch : PlanSketch
        What to draw.
    """
    frame, height = _framed(sketch)
    canvas = PngCanvas(WIDTH_PX, height)
    _draw(canvas, sketch, frame, height)
    return canvas.png()


def planform_svg(sketch: PlanSketch) -> str:
    """Draw a half wing from above as SVG text; see :func:`planform_picture`."""
    frame, height = _framed(sketch)
    canvas = SvgCanvas(WIDTH_PX, height, title=sketch.words)
    _draw(canvas, sketch, frame, height)
    return canvas.svg()


def planform_page_svg(sketch: PlanSketch) -> str:
    """Draw the same with the colours of a page."""
    frame, height = _framed(sketch)
    canvas = PageCanvas(WIDTH_PX, height, title=sketch.words)
    _draw(canvas, sketch, frame, height)
    return canvas.svg()


def _framed(sketch: PlanSketch) -> tuple[_Frame, int]:
    low, high = sketch.outline.min(axis=0), sketch.outline.max(axis=0)
    span, deep = float(high[0]), float(high[1] - low[1])
    scale = min((WIDTH_PX - LEFT_PX - RIGHT_PX) / span, TALLEST_PX / deep)
    left = LEFT_PX + 0.5 * (WIDTH_PX - LEFT_PX - RIGHT_PX - scale * span)
    return _Frame(scale, left, HEAD_PX, float(low[1])), round(HEAD_PX + scale * deep + FOOT_PX)


def _draw(canvas: Canvas, sketch: PlanSketch, frame: _Frame, height: int) -> None:
    title = shortened(f"{sketch.name}, right half from above", size=20.0, width=WIDTH_PX - 60.0)
    canvas.text((24.0, 32.0), title, INK, size=20.0)
    _legend(canvas, sketch)
    facts = {
        "scale": repr(frame.scale),
        "box_left": repr(frame.left),
        "box_top": repr(frame.top),
        "front_mm": repr(frame.front_mm),
    }
    with canvas.group("planform", **facts):
        with canvas.group("outline"):
            canvas.area([frame.px(sketch.outline)], SOLID)
        for fitting in sketch.fittings:
            if fitting.kind == "aileron":
                _fitting(canvas, fitting, frame)
        for rib in sketch.ribs:
            colour, width, dash = RUNS[rib.run]
            with canvas.group("rib", run=rib.run):
                canvas.line(frame.px(rib.points), colour, width=width, dash=dash)
        for fitting in sketch.fittings:
            if fitting.kind != "aileron":
                _fitting(canvas, fitting, frame)
        with canvas.group("edge"):
            canvas.line(frame.px(sketch.outline), INK, width=1.8, closed=True)
        for at, front, chord in sketch.joints:
            with canvas.group("joint", span_mm=f"{at:g}"):
                canvas.line(frame.px(np.array([[at, front], [at, front + chord]])), INK, width=3.0, dash=9.0)
        _mean_chord(canvas, sketch, frame)
        _centres(canvas, sketch, frame)
    names = Names((10.0, HEAD_PX - 24.0, WIDTH_PX - 10.0, height - FOOT_PX + 30.0), size=13.0)
    _ends(canvas, sketch, frame, names)
    _names(canvas, sketch, frame, names)
    _stations(canvas, sketch, frame, height)


def _fitting(canvas: Canvas, fitting: PlanFitting, frame: _Frame) -> None:
    corners = frame.px(fitting.outline)
    with canvas.group("fitting", kind=fitting.kind, key=fitting.name):
        canvas.area([corners], FILLS[fitting.kind], alpha=0.85)
        canvas.line(corners, INK, width=1.3, closed=True, dash=4.0 if fitting.kind == "seat" else 0.0)
        if fitting.line is not None:
            canvas.line(frame.px(fitting.line), INK, width=1.8, dash=12.0)


def _mean_chord(canvas: Canvas, sketch: PlanSketch, frame: _Frame) -> None:
    if sketch.mean_chord is None:
        return
    at, front, length = sketch.mean_chord
    ends = frame.px(np.array([[at, front], [at, front + length]]))
    with canvas.group("mean-chord", span_mm=f"{at:g}", length_mm=f"{length:g}"):
        canvas.line(ends, WHITE, width=6.0)
        canvas.line(ends, FUSED, width=3.0)
        for x, y in ends.tolist():
            canvas.line(np.array([[x - 7.0, y], [x + 7.0, y]]), FUSED, width=3.0)


def _centres(canvas: Canvas, sketch: PlanSketch, frame: _Frame) -> None:
    if sketch.centre is not None:
        with canvas.group("centre", span_mm=f"{sketch.centre[0]:g}", aft_mm=f"{sketch.centre[1]:g}"):
            _centre_mark(canvas, frame.spot(*sketch.centre))
    if sketch.balance is not None:
        fore, aft = (frame.spot(0.0, place) for place in sketch.balance)
        bar = np.array([[fore[0] - 11.0, fore[1]], [aft[0] - 11.0, aft[1]]])
        with canvas.group("balance", fore_mm=f"{sketch.balance[0]:g}", aft_mm=f"{sketch.balance[1]:g}"):
            canvas.line(bar, FUSED, width=8.0)


def _centre_mark(canvas: Canvas, spot: tuple[float, float]) -> None:
    """Draw the usual mark of a centre of gravity: a disc in quarters."""
    radius, (x, y) = 10.0, spot
    turn = np.linspace(0.0, 2.0 * np.pi, 49)
    disc = np.array([x, y]) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
    canvas.area([disc[:-1]], WHITE)
    for start in (0, 24):
        quarter = np.vstack([[x, y], disc[start : start + 13]])
        canvas.area([quarter], INK)
    canvas.circle(spot, radius, INK, width=2.0)


def _legend(canvas: Canvas, sketch: PlanSketch) -> None:
    x, base = 30.0, 62.0
    items = [("rib running aft", "aft"), ("rib running forward", "forward"), ("spar web", "web")]
    present = {rib.run for rib in sketch.ribs}
    for words, run in items:
        if run in present:
            colour, width, _ = RUNS[run]
            slope = {"aft": (4.0, -12.0), "forward": (-12.0, 4.0), "web": (-4.0, -4.0)}[run]
            canvas.line(
                np.array([[x, base + slope[1]], [x + 18.0, base + slope[0]]]), colour, width=width + 1.0
            )
            x = _legend_words(canvas, words, x + 24.0, base)
    if sketch.joints:
        canvas.line(np.array([[x + 8.0, base - 14.0], [x + 8.0, base + 5.0]]), INK, width=3.0, dash=5.0)
        x = _legend_words(canvas, "joint", x + 18.0, base)
    if sketch.mean_chord is not None:
        canvas.line(np.array([[x + 6.0, base - 14.0], [x + 6.0, base + 4.0]]), FUSED, width=3.0)
        x = _legend_words(canvas, f"mean chord, {sketch.mean_chord[2]:.0f} mm", x + 18.0, base)
    x, base = 30.0, base + 26.0
    if sketch.centre is not None:
        _centre_mark(canvas, (x + 8.0, base - 5.0))
        at, aft = sketch.centre
        words = f"centre of gravity of this half: {at:.0f} mm out, {aft:.0f} mm aft"
        x = _legend_words(canvas, words, x + 24.0, base)
    if sketch.balance is not None:
        canvas.line(np.array([[x + 6.0, base - 14.0], [x + 6.0, base + 4.0]]), FUSED, width=8.0)
        fore, aft = sketch.balance
        words = f"with a tail, common practice: balance {fore:.0f} to {aft:.0f} mm aft; else farther forward"
        _legend_words(canvas, words, x + 18.0, base)


def _legend_words(canvas: Canvas, words: str, x: float, base: float) -> float:
    canvas.text((x, base), words, INK, size=TEXT_PX)
    # an SVG's reader may use a wider font
    return x + 1.12 * text_width(words, TEXT_PX) + 26.0


def _ends(canvas: Canvas, sketch: PlanSketch, frame: _Frame, names: Names) -> None:
    """Mark root and tip, and which way the wing flies."""
    for word, (at, front, _) in (("root", sketch.stations[0]), ("tip", sketch.stations[-1])):
        x, y = frame.spot(at, front)
        canvas.text((x, y - 8.0), word, INK, size=TEXT_PX, anchor="middle")
        names.keep_clear(x, y - 12.0, 16.0, 80.0)
    x, top = ARROW_PX, HEAD_PX + 8.0
    with canvas.group("flight", x_px=f"{x:g}"):
        canvas.line(np.array([[x, top + 64.0], [x, top + 14.0]]), INK, width=2.0)
        canvas.area([np.array([[x, top], [x - 7.0, top + 16.0], [x + 7.0, top + 16.0]])], INK)
        for row, word in enumerate(("flies", "this way")):
            canvas.text((x, top + 80.0 + 15.0 * row), word, INK, size=13.0, anchor="middle")


def _names(canvas: Canvas, sketch: PlanSketch, frame: _Frame, names: Names) -> None:
    """Write the names of fittings beside them, where they cover least."""
    if sketch.centre is not None:
        names.keep_clear(*frame.spot(*sketch.centre), 12.0, 50.0)
    for fitting in sketch.fittings:
        if fitting.kind not in NAMED:
            continue
        corners = frame.px(fitting.outline)
        low, high, middle = corners.min(axis=0), corners.max(axis=0), corners.mean(axis=0)
        wide = 1.1 * text_width(fitting.name, 13.0)
        rows = (low[1] - 6.0, high[1] + 15.0, float(middle[1]) + 5.0)
        columns = (low[0] + 4.0, float(middle[0]) - 0.5 * wide, high[0] - wide)
        places = [(float(x), float(y)) for x in columns for y in rows]
        if fitting.kind == "aileron":
            places = [(float(middle[0]) - 0.5 * wide, float(middle[1]) + 5.0), *places]
        if fitting.kind in ("tube", "duct"):
            # beside its own edges, as it may run aslant
            for share in (0.5, 0.3, 0.7, 0.15, 0.85):
                above, below = (corners[a] + share * (corners[b] - corners[a]) for a, b in ((0, 1), (3, 2)))
                sides = ((above[0], above[1] - 7.0), (below[0] - wide, below[1] + 15.0))
                places = [*places, *((float(x), float(y)) for x, y in sides)]
            places = places[len(columns) * len(rows) :]
        x, y = names.place(fitting.name, places)
        halo = np.array([[x - 2, y - 11], [x + wide, y - 11], [x + wide, y + 4], [x - 2, y + 4]])
        canvas.area([halo], WHITE, alpha=0.85)
        canvas.text((x, y), fitting.name, INK, size=13.0)


def _stations(canvas: Canvas, sketch: PlanSketch, frame: _Frame, height: int) -> None:
    """Write span and chord of every station and joint below the wing, and a bar of the scale."""
    floor = height - FOOT_PX + 34.0
    canvas.text((10.0, floor + ROW_PX), "span", AXIS, size=13.0)
    canvas.text((10.0, floor + 2 * ROW_PX), "chord", AXIS, size=13.0)
    places = sorted({*sketch.stations, *sketch.joints})
    across = [frame.spot(at, front)[0] for at, front, _ in places]
    told = spread(across, apart=LABEL_PX, low=LABEL_PX + 10.0, high=WIDTH_PX - 0.5 * LABEL_PX)
    for (at, front, chord), x, beside in zip(places, across, told, strict=True):
        bottom = frame.spot(at, front + chord)[1]
        # a number that had to make room hangs on its line by a bend
        line = np.array([[x, bottom], [x, floor - 14.0], [beside, floor + 2.0]])
        canvas.line(line, GHOST, width=1.0, dash=3.0)
        with canvas.group("station", span_mm=f"{at:g}", chord_mm=f"{chord:g}"):
            canvas.text((beside, floor + ROW_PX), f"{at:.4g}", INK, size=TEXT_PX, anchor="middle")
            canvas.text((beside, floor + 2 * ROW_PX), f"{chord:.4g}", INK, size=TEXT_PX, anchor="middle")
    span = float(sketch.outline[:, 0].max())
    length = round_step(span, 6.0)
    end, y = WIDTH_PX - RIGHT_PX, height - 16.0
    start = end - frame.scale * length
    with canvas.group("scale-bar", length_mm=f"{length:g}"):
        canvas.line(np.array([[start, y], [end, y]]), INK, width=3.0)
        for x in (start, end):
            canvas.line(np.array([[x, y - TICK_PX], [x, y + TICK_PX]]), INK, width=2.0)
        canvas.text((start - 8.0, y + 5.0), f"{length:g} mm", INK, size=13.0, anchor="end")
    canvas.text((24.0, y + 5.0), "lengths in mm; the left half is the mirror image", AXIS, size=13.0)


def spread(places: Sequence[float], *, apart: float, low: float, high: float) -> list[float]:
    """Return places moved as little as need be so that each is `apart` from the next, between two ends.

    Parameters
    ----------
    places : sequence of float
        In rising order [px].
    apart : float
        Least distance; less where there are too many [px].
    low, high : float
        Where the first and the last may be [px].
    """
    room = min(apart, (high - low) / max(len(places) - 1, 1))
    moved = [min(max(place, low), high) for place in places]
    for number in range(1, len(moved)):
        moved[number] = max(moved[number], moved[number - 1] + room)
    # what was pushed beyond the end pushes the others back
    for number in reversed(range(len(moved))):
        limit = high if number == len(moved) - 1 else moved[number + 1] - room
        moved[number] = min(moved[number], limit)
    return moved


def sketch_outline(stations: Sequence[tuple[float, float, float]]) -> FloatArray:
    """Return the corners of a half wing: along the leading edge and back along the trailing edge [mm]."""
    fore = [(at, front) for at, front, _ in stations]
    aft = [(at, front + chord) for at, front, chord in reversed(stations)]
    return np.array([*fore, *aft])
