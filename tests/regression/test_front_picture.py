"""The picture of mass against stiffness: places of points read back from it, and odd numbers."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from PIL import Image

from wingpath.report.front_picture import FrontPanel, FrontPoint, front_picture, front_svg

POINTS = (
    FrontPoint(115.0, 5.9, "drawn"),
    FrontPoint(95.0, 7.2, "lightest"),
    FrontPoint(98.0, 7.0, "front"),
    FrontPoint(104.0, 6.4, "front"),
    FrontPoint(110.0, 6.9, "met"),
    FrontPoint(96.0, 7.35, "missed"),
)
PANEL = FrontPanel("Twist of the tip", "deg per N m", "less", 7.3, POINTS)

PIXEL = 0.02
"""Coordinates are written to a thousandth of a pixel, symbols are centred to rounding [px]."""


def spots(svg: str) -> dict[tuple[str, float, float], tuple[float, float]]:
    """Middles of the symbols of a picture, by mark, mass and value."""
    found = {}
    pattern = (
        r'<g class="point" data-mark="(\w+)" data-mass-g="([\d.e+-]+)" data-value="([\d.e+-]+)">(.*?)</g>'
    )
    for mark, mass, value, inner in re.findall(pattern, svg, re.DOTALL):
        path = re.search(r' d="M([^"]*)"', inner)
        assert path is not None
        corners = np.array(
            [[float(n) for n in pair.split(",")] for pair in re.findall(r"[-\d.]+,[-\d.]+", path[1])]
        )
        middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
        found[mark, float(mass), float(value)] = (float(middle[0]), float(middle[1]))
    return found


def test_points_lie_where_their_numbers_say() -> None:
    found = spots(front_svg([PANEL], title="a wing"))
    assert len(found) == len(POINTS)
    mass, value = np.array([(m, v) for _, m, v in found]).T
    x, y = np.array(list(found.values())).T
    for numbers, pixels, sign in ((mass, x, 1.0), (value, y, -1.0)):
        slope, start = np.polyfit(numbers, pixels, 1)
        assert np.abs(slope * numbers + start - pixels).max() < PIXEL
        assert sign * slope > 0.0


def test_target_and_ticks_lie_on_the_same_scale() -> None:
    svg = front_svg([PANEL], title="a wing")
    found = spots(svg)
    value, y = np.array([(v, at[1]) for (_, _, v), at in found.items()]).T
    slope, start = np.polyfit(value, y, 1)
    target = re.search(r'<g class="target" data-value="7.3">\s*<path d="M[\d.]+,([\d.]+)', svg)
    assert target is not None
    assert float(target[1]) == pytest.approx(slope * 7.3 + start, abs=PIXEL)
    ticks = re.findall(r'data-axis="y" data-value="([\d.]+)">\s*<text x="[\d.]+" y="([\d.]+)"', svg)
    assert len(ticks) >= 3
    for number, place in ticks:
        # the base line of a label is five pixels below its line
        assert float(place) - 5.0 == pytest.approx(slope * float(number) + start, abs=PIXEL)


def test_more_is_better_shades_below_and_less_above() -> None:
    for better, above in (("less", True), ("more", False)):
        panel = FrontPanel("a", "g", better, 7.3, POINTS)  # type: ignore[arg-type]
        svg = front_svg([panel], title="a wing")
        shade = re.search(r'<path d="M([^"]*) Z" fill="#fad696"', svg)
        assert shade is not None
        heights = [float(pair.split(",")[1]) for pair in shade[1].replace("L", "").split()]
        line = re.search(r'<g class="target"[^>]*>\s*<path d="M[\d.]+,([\d.]+)', svg)
        assert line is not None
        middle = 0.5 * (min(heights) + max(heights))
        assert (middle < float(line[1])) is above


def test_values_over_decades_get_a_scale_of_powers() -> None:
    points = tuple(FrontPoint(100.0 + n, 10.0**n, "met") for n in range(4))
    found = spots(front_svg([FrontPanel("a", "g", "more", None, points)], title="x"))
    steps = np.diff([at[1] for _, at in sorted(found.items())])
    assert np.ptp(steps) < PIXEL


@pytest.mark.parametrize(
    "points",
    [
        (),
        (FrontPoint(100.0, 5.0, "drawn"),),
        (FrontPoint(100.0, 5.0, "drawn"), FrontPoint(100.0, 5.0, "lightest")),
        (FrontPoint(100.0, 0.0, "met"), FrontPoint(90.0, 0.0, "met")),
        (FrontPoint(100.0, float("inf"), "met"), FrontPoint(90.0, float("nan"), "front")),
        (FrontPoint(1e-9, 1e12, "met"), FrontPoint(2e-9, 1e-12, "met")),
        (FrontPoint(100.0, -5.0, "met"), FrontPoint(90.0, 5.0, "missed")),
        (FrontPoint(100.0, 5.0, "missed"),),
    ],
)
def test_odd_numbers_are_drawn_or_left_out(points: tuple[FrontPoint, ...]) -> None:
    for target in (None, 5.0, float("inf")):
        panel = FrontPanel("a" * 90, "<b>", "less", target, points)
        for count in (0, 1, 5):
            svg = front_svg([panel] * count, title="<i>")
            assert "<b>" not in svg
            assert "nan" not in svg
    assert front_picture([panel], title="a\x00b")[:4] == b"\x89PNG"


def test_far_misses_stay_outside_and_are_counted() -> None:
    points = (*POINTS, FrontPoint(20.0, 90.0, "missed"))
    svg = front_svg([FrontPanel("a", "g", "less", None, points)], title="x")
    assert re.search(r"\d more outside", svg)
    assert ("missed", 20.0, 90.0) not in spots(svg)


def test_the_png_shows_every_kind_of_mark() -> None:
    image = Image.open(io.BytesIO(front_picture([PANEL, PANEL], title="a wing"))).convert("RGB")
    pixels = np.asarray(image).reshape(-1, 3)
    assert image.size == (1200, 492)
    for colour in ((24, 28, 36), (28, 74, 122), (116, 172, 208)):
        assert (np.abs(pixels - colour).max(axis=1) < 8).sum() > 20
