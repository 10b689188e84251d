"""The half wing from above for a proof loading: where the weights lie and where the deflection is read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from wingpath.core.errors import InputError

__all__ = ["ProofPlaces", "proof_drawing"]

WIDTH_PX, TALLEST_PX = 720.0, 300.0
"""Width of the drawing, most that the wing takes of its height [px]."""

LEFT_PX, RIGHT_PX, TOP_PX, BOTTOM_PX = 64.0, 40.0, 66.0, 78.0
"""Room round the wing for words and lengths [px]."""

ROW_PX, WEIGHT_PX, GAUGE_PX = 16.0, 11.0, 6.0
"""Pitch of rows of text, radius of a weight's badge, half the height of a gauge's mark [px]."""

BARS_MM = (500.0, 200.0, 100.0, 50.0, 20.0, 10.0)
"""Lengths that the bar of the scale may have [mm]."""

LONGEST_BAR_SHARE = 0.25
"""The bar takes no more of the span than this."""

DIGIT_PX = 7.0
"""Width of a digit at the size of the labels [px]."""


@dataclass(frozen=True, slots=True)
class ProofPlaces:
    """What is drawn; every place is (aft of the root's leading edge, along the span) [mm].

    Parameters
    ----------
    outline : sequence of (float, float)
        Corners of the half wing, in turn.
    weights, gauges : sequence of (float, float)
        Middles of the weights, root first, and places of the gauges.
    letters : sequence of str
        What the gauges are called.
    """

    outline: Sequence[tuple[float, float]]
    weights: Sequence[tuple[float, float]]
    gauges: Sequence[tuple[float, float]]
    letters: Sequence[str]


@dataclass(frozen=True, slots=True)
class _Frame:
    """From the wing [mm] to the drawing [px]: root left, front up."""

    scale: float
    least_x_mm: float
    most_x_mm: float
    span_mm: float

    def spot(self, place: tuple[float, float]) -> tuple[float, float]:
        x_mm, z_mm = place
        return LEFT_PX + self.scale * z_mm, TOP_PX + self.scale * (x_mm - self.least_x_mm)

    @property
    def width_px(self) -> float:
        return LEFT_PX + self.scale * self.span_mm + RIGHT_PX

    @property
    def floor_px(self) -> float:
        """Lower end of the wing."""
        return TOP_PX + self.scale * (self.most_x_mm - self.least_x_mm)


def proof_drawing(places: ProofPlaces) -> str:
    """Draw a half wing to scale with its weights numbered and its gauges lettered, as inline SVG.

    The root is left and the front is up, as the left half looks when it lies upside down. Colours come from
    the page's style sheet: classes ``wing``, ``weight``, ``gauge``, ``lead``, ``soft``.

    Parameters
    ----------
    places : ProofPlaces
        What to draw.

    Raises
    ------
    InputError
        When the outline has no span or no chord.
    """
    every = [*places.outline, *places.weights, *places.gauges]
    low, high = min(x for x, _ in every), max(x for x, _ in every)
    span = max(z for _, z in every)
    if not (high > low and span > 0.0):
        raise InputError(f"outline: got a chord of {high - low:g} mm, a span of {span:g} mm; allowed: over 0")
    scale = min((WIDTH_PX - LEFT_PX - RIGHT_PX) / span, TALLEST_PX / (high - low))
    frame = _Frame(scale, low, high, span)
    height = frame.floor_px + BOTTOM_PX
    words = escape(_words(places), quote=True)
    # one width for all, so that words are of one size on the page
    beside = 0.5 * (WIDTH_PX - frame.width_px)
    parts = [
        f'<svg viewBox="{-beside:.1f} 0 {WIDTH_PX:.0f} {height:.0f}" role="img" aria-label="{words}">',
        *_wing(places, frame),
        *_weights(places, frame),
        *_gauges(places, frame),
        *_bar(frame, height),
        "</svg>",
    ]
    return "\n".join(parts)


def _words(places: ProofPlaces) -> str:
    """Return the drawing in words, for those who do not see it."""
    weights = "; ".join(
        f"weight {number}: {z:.0f} from the root, {x:.0f} aft"
        for number, (x, z) in enumerate(places.weights, start=1)
    )
    gauges = "; ".join(
        f"gauge {letter}: {z:.0f} from the root, {x:.0f} aft"
        for letter, (x, z) in zip(places.letters, places.gauges, strict=True)
    )
    return f"The half wing from above, root left, leading edge up. Lengths in mm. {weights}. {gauges}."


def _wing(places: ProofPlaces, frame: _Frame) -> Iterator[str]:
    corners = " ".join(f"{a:.1f},{b:.1f}" for a, b in map(frame.spot, places.outline))
    yield f'<polygon class="wing" points="{corners}"/>'
    at_root = [x for x, z in places.outline if z < 1e-6 * frame.span_mm] or [0.0]
    left, top = frame.spot((min(at_root), 0.0))
    bottom = frame.spot((max(at_root), 0.0))[1]
    yield f'<line class="root" x1="{left:.1f}" y1="{top:.1f}" x2="{left:.1f}" y2="{bottom:.1f}"/>'
    middle = 0.5 * (top + bottom)
    yield (
        f'<text class="soft" x="{left - 12:.1f}" y="{middle:.1f}" text-anchor="middle" '
        f'transform="rotate(-90 {left - 12:.1f} {middle:.1f})">root, held</text>'
    )
    front = left - 36.0
    yield f'<path class="arrow" d="M{front:.1f} {middle + 24:.1f}V{middle - 18:.1f}m-5 9 5-9 5 9"/>'
    yield _text(front, middle + 38.0, "front", "soft")


def _gauges(places: ProofPlaces, frame: _Frame) -> Iterator[str]:
    yield from _captions(frame, (14.0, 14.0 + ROW_PX, 14.0 + 2 * ROW_PX), ("read at", "span", "aft"))
    for letter, (x, z) in zip(places.letters, places.gauges, strict=True):
        across, down = frame.spot((x, z))
        first = 14.0 + 2 * ROW_PX + 5.0
        yield f'<line class="lead" x1="{across:.1f}" y1="{first:.1f}" x2="{across:.1f}" y2="{down:.1f}"/>'
        size = GAUGE_PX
        yield (
            f'<path class="gauge" d="M{across:.1f} {down - size:.1f}l{size:g} {size:g}-{size:g} {size:g}'
            f'-{size:g}-{size:g}z"/>'
        )
        yield _text(across, 14.0, letter, "strong")
        yield _text(across, 14.0 + ROW_PX, f"{z:.0f}")
        yield _text(across, 14.0 + 2 * ROW_PX, f"{x:.0f}")


def _weights(places: ProofPlaces, frame: _Frame) -> Iterator[str]:
    rows = (frame.floor_px + 28.0, frame.floor_px + 28.0 + ROW_PX)
    yield from _captions(frame, rows, ("span", "aft"))
    for number, (x, z) in enumerate(places.weights, start=1):
        across, down = frame.spot((x, z))
        yield (
            f'<line class="lead" x1="{across:.1f}" y1="{down:.1f}" x2="{across:.1f}" '
            f'y2="{frame.floor_px + 14:.1f}"/>'
        )
        yield f'<circle class="weight" cx="{across:.1f}" cy="{down:.1f}" r="{WEIGHT_PX:g}"/>'
        yield _text(across, down + 4.5, str(number), "number")
        yield _text(across, rows[0], f"{z:.0f}")
        yield _text(across, rows[1], f"{x:.0f}")


def _captions(frame: _Frame, rows: Sequence[float], words: Sequence[str]) -> Iterator[str]:
    for row, word in zip(rows, words, strict=True):
        yield f'<text class="soft" x="4" y="{row:.1f}">{word}</text>'


def _bar(frame: _Frame, height: float) -> Iterator[str]:
    length = next((bar for bar in BARS_MM if bar <= LONGEST_BAR_SHARE * frame.span_mm), BARS_MM[-1])
    y, end = height - 10.0, frame.width_px - RIGHT_PX
    start = end - frame.scale * length
    words = f"{length:g} mm"
    yield f'<path class="bar" d="M{start:.1f} {y - 5:.1f}v5H{end:.1f}v-5"/>'
    yield _text(start - 0.5 * DIGIT_PX * len(words) - 6.0, y, words, "soft")


def _text(x: float, y: float, words: str, kind: str = "plain") -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="middle">{escape(words)}</text>'
