"""The picture of mass against stiffness: places of points read back from it, and odd numbers."""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from wingpath.report.canvas import text_width
from wingpath.report.front_picture import FrontPanel, FrontPoint, Mark, front_picture, front_svg

SVG = "{http://www.w3.org/2000/svg}"
POINTS = (
    FrontPoint(115.0, 5.9, "drawn"),
    FrontPoint(95.0, 7.2, "lightest"),
    FrontPoint(98.0, 7.0, "front"),
    FrontPoint(104.0, 6.4, "front"),
    FrontPoint(110.0, 6.9, "met"),
    FrontPoint(99.0, 7.35, "missed"),
)
TARGET = 7.3
PANEL = FrontPanel("Twist of the tip", "deg per N m", "less", TARGET, POINTS)

PIXEL = 0.02
"""Coordinates are written to a thousandth of a pixel, symbols are centred to rounding [px]."""

NEAR_WHITE = 250
"""Channels above this are ground, not drawing."""

DARK = 8
"""Rounding of colours where a pixel is averaged [steps of 255]."""

WIDTH = 1200
"""Width of the picture [px]."""

Element = ElementTree.Element


def parsed(panel: FrontPanel) -> Element:
    return ElementTree.fromstring(front_svg([panel], title="a wing"))


def groups(root: Element, name: str, **facts: str) -> Iterator[Element]:
    for group in root.iter(f"{SVG}g"):
        if group.get("class") == name and all(group.get(f"data-{k}") == v for k, v in facts.items()):
            yield group


def corners(path: Element) -> np.ndarray:
    text = path.get("d", "").replace("M", "").replace("L", "").replace("Z", "")
    return np.array([[float(number) for number in pair.split(",")] for pair in text.split()])


def spots(root: Element) -> dict[tuple[str, float, float], tuple[float, float]]:
    """Middles of the symbols of a picture, by mark, mass and value."""
    found = {}
    for group in groups(root, "point"):
        shape = corners(group[-1])
        x, y = 0.5 * (shape.min(axis=0) + shape.max(axis=0))
        key = (
            group.get("data-mark", ""),
            float(group.get("data-mass-g", "")),
            float(group.get("data-value", "")),
        )
        found[key] = (float(x), float(y))
    return found


def scale(found: dict[tuple[str, float, float], tuple[float, float]], axis: int) -> np.ndarray:
    """Slope and start of pixels over numbers, from the two points that lie furthest apart."""
    pairs = sorted((key[1 + axis], at[axis]) for key, at in found.items())
    (one, one_px), (other, other_px) = pairs[0], pairs[-1]
    slope = (other_px - one_px) / (other - one)
    return np.array([slope, one_px - slope * one])


def word_boxes(root: Element) -> list[tuple[str, np.ndarray]]:
    """The names beside points and target as boxes: capitals to base line."""
    boxes = []
    for group in groups(root, "name"):
        text, size = group[0].text or "", float(group[0].get("font-size", ""))
        x, y = float(group[0].get("x", "")), float(group[0].get("y", ""))
        boxes.append((text, np.array([x, y - 0.75 * size, x + text_width(text, size), y])))
    return boxes


def overlap(one: np.ndarray, other: np.ndarray) -> bool:
    return bool((one[:2] < other[2:]).all() and (other[:2] < one[2:]).all())


def border(root: Element) -> np.ndarray:
    """Left, top, right, bottom of the axes: the only closed line with four corners [px]."""
    panel = next(groups(root, "panel"))
    frames = [corners(p) for p in panel.findall(f"{SVG}path") if p.get("fill") == "none"]
    frame = next(f for f in frames if len(f) == 4)
    return np.concatenate([frame.min(axis=0), frame.max(axis=0)])


def test_points_lie_where_their_numbers_say() -> None:
    found = spots(parsed(PANEL))
    assert sorted(found) == sorted((p.mark, p.mass_g, p.value) for p in POINTS)
    for axis, sign in ((0, 1.0), (1, -1.0)):
        slope, start = scale(found, axis)
        assert sign * slope > 0.0
        for key, at in found.items():
            assert at[axis] == pytest.approx(slope * key[1 + axis] + start, abs=PIXEL)


def test_axes_leave_the_same_margin_at_both_ends() -> None:
    root = parsed(PANEL)
    left, top, right, bottom = border(root)
    x, y = np.array([at for key, at in spots(root).items() if key[0] != "missed"]).T
    assert x.min() - left == pytest.approx(right - x.max(), abs=PIXEL)
    target = corners(next(groups(root, "target"))[0])[0, 1]
    # the least value lies lowest, and the target above all values
    assert target - top == pytest.approx(bottom - y.max(), abs=PIXEL)
    assert target < y.min()


def test_target_lies_at_its_height_and_over_the_grid() -> None:
    root = parsed(PANEL)
    slope, start = scale(spots(root), 1)
    (target,) = groups(root, "target")
    assert float(target.get("data-value", "")) == TARGET
    line = corners(target[0])
    assert line[:, 1] == pytest.approx(slope * TARGET + start, abs=PIXEL)
    assert line[:, 0].tolist() == border(root)[[0, 2]].tolist()
    assert target[0].get("stroke-dasharray")
    order = [element.get("class") for element in next(groups(root, "panel")) if element.get("class")]
    assert order.index("target") > max(n for n, name in enumerate(order) if name == "tick")


@pytest.mark.parametrize("axis", [0, 1])
def test_ticks_are_round_and_lie_on_the_scale_of_the_points(axis: int) -> None:
    root = parsed(PANEL)
    slope, start = scale(spots(root), axis)
    ticks = list(groups(root, "tick", axis="xy"[axis]))
    numbers = [float(tick.get("data-value", "")) for tick in ticks]
    assert len(ticks) >= 3
    steps = np.diff(numbers)
    assert steps == pytest.approx(steps[0])
    assert numbers[0] / steps[0] == pytest.approx(round(numbers[0] / steps[0]))
    assert f"{steps[0]:.0e}"[0] in "125"
    for tick, number in zip(ticks, numbers, strict=True):
        assert corners(tick[0])[:, axis] == pytest.approx(slope * number + start, abs=PIXEL)
        assert float(tick[1].text or "") == number


@pytest.mark.parametrize(("better", "above"), [("less", True), ("more", False)])
def test_the_side_that_misses_is_shaded(better: str, above: bool) -> None:
    root = parsed(FrontPanel("a", "g", better, TARGET, POINTS))  # type: ignore[arg-type]
    left, top, right, bottom = border(root)
    at = corners(next(groups(root, "target"))[0])[0, 1]
    shade = corners(next(path for path in next(groups(root, "panel")) if path.get("fill-opacity")))
    assert shade.min(axis=0).tolist() == [left, top if above else at]
    assert shade.max(axis=0).tolist() == [right, at if above else bottom]


def test_the_front_is_joined_in_order_of_mass() -> None:
    root = parsed(PANEL)
    found = spots(root)
    expected = [found["lightest", 95.0, 7.2], found["front", 98.0, 7.0], found["front", 104.0, 6.4]]
    assert corners(next(groups(root, "front"))[0]) == pytest.approx(np.array(expected), abs=PIXEL)


@pytest.mark.parametrize(("better", "value"), [("less", 6.9), ("more", 7.5)])
def test_the_line_leaves_out_a_lightest_wing_that_the_front_beats(better: str, value: float) -> None:
    points = (*POINTS, FrontPoint(94.0, value, "front"))
    root = parsed(FrontPanel("a", "g", better, None, points))  # type: ignore[arg-type]
    assert len(corners(next(groups(root, "front"))[0])) == 3


def test_values_over_decades_get_a_scale_of_powers() -> None:
    points = tuple(FrontPoint(100.0 + n, 10.0**n, "met") for n in range(-6, 7))
    root = parsed(FrontPanel("a", "g", "more", 0.0, points))
    heights = [at[1] for _, at in sorted(spots(root).items())]
    assert np.ptp(np.diff(heights)) < PIXEL
    by_power = dict(zip(range(-6, 7), heights, strict=True))
    ticks = list(groups(root, "tick", axis="y"))
    assert len(ticks) >= 3
    for tick in ticks:
        power = round(np.log10(float(tick.get("data-value", ""))))
        assert corners(tick[0])[0, 1] == pytest.approx(by_power[power], abs=PIXEL)
    # numbers along the axis have room for a line of text
    assert np.abs(np.diff([float(tick[1].get("y", "")) for tick in ticks])).min() > 16.0
    assert not list(groups(root, "target"))


def close(better: str, by: float, drawn_at: float) -> FrontPanel:
    points = [FrontPoint(drawn_at, 6.0, "drawn"), FrontPoint(drawn_at - by, 6.0 + 0.01 * by, "lightest")]
    return FrontPanel("a", "g", better, 6.0, (*points, *POINTS[2:]))  # type: ignore[arg-type]


@pytest.mark.parametrize("by", [0.0, 0.1, 1.0, 3.0])
@pytest.mark.parametrize("drawn_at", [90.0, 104.0, 118.0])
@pytest.mark.parametrize("better", ["less", "more"])
def test_names_cover_no_other_name_no_border_and_no_large_mark(
    by: float, drawn_at: float, better: str
) -> None:
    root = parsed(close(better, by, drawn_at))
    words, frame = word_boxes(root), border(root)
    assert sorted(text for text, _ in words) == ["as drawn", "lightest", "target"]
    for (_, one), (_, other) in combinations(words, 2):
        assert not overlap(one, other)
    for _, box in words:
        assert (box[:2] > frame[:2]).all()
        assert (box[2:] < frame[2:]).all()
        for mark in ("drawn", "lightest"):
            shape = corners(next(groups(root, "point", mark=mark))[-1])
            assert not overlap(box, np.concatenate([shape.min(axis=0), shape.max(axis=0)]))


def test_drawn_and_lightest_are_both_seen_where_they_are_the_same_wing() -> None:
    root = parsed(close("less", 0.0, 104.0))
    square = corners(next(groups(root, "point", mark="drawn"))[0])
    halo = corners(next(groups(root, "point", mark="lightest"))[0])
    middle = halo.mean(axis=0)
    # a square's corner is further out than the side of the diamond that lies over it
    assert np.abs(square - middle).sum(axis=1).min() > np.abs(halo - middle).sum(axis=1).max()
    order = [group.get("data-mark") for group in groups(root, "point")]
    assert order.index("drawn") < order.index("lightest")


ODD: tuple[tuple[FrontPoint, ...], ...] = (
    (),
    (FrontPoint(100.0, 5.0, "drawn"),),
    (FrontPoint(100.0, 5.0, "drawn"), FrontPoint(100.0, 5.0, "lightest")),
    (FrontPoint(100.0, 0.0, "met"), FrontPoint(90.0, 0.0, "met")),
    (FrontPoint(100.0, float("inf"), "met"), FrontPoint(90.0, float("nan"), "front")),
    (FrontPoint(float("nan"), 5.0, "met"), FrontPoint(90.0, 5.0, "front")),
    (FrontPoint(1e-9, 1e12, "met"), FrontPoint(2e-9, 1e-12, "met")),
    (FrontPoint(1e-20, 1e-20, "drawn"), FrontPoint(3e-20, 2e-20, "met")),
    (FrontPoint(1e98, -1e98, "met"), FrontPoint(-1e98, 1e98, "met")),
    (FrontPoint(1e308, 1.7e308, "met"), FrontPoint(5e-324, 5e-324, "met")),
    (FrontPoint(100.0, -5.0, "met"), FrontPoint(90.0, 5.0, "missed")),
    (FrontPoint(100.0, 3.0, "met"), FrontPoint(99.0, 1e9, "front"), FrontPoint(99.0, -1.0, "missed")),
    (FrontPoint(100.0, 5.0, "missed"),),
)


@pytest.mark.parametrize("points", ODD)
@pytest.mark.parametrize("target", [None, 5.0, 0.0, -3.0, 1e308, 5e-324, float("inf"), float("nan")])
def test_odd_numbers_are_drawn_or_left_out(points: tuple[FrontPoint, ...], target: float | None) -> None:
    panel = FrontPanel("a" * 90, "<b>", "less", target, points)
    for count in (1, 5):
        svg = front_svg([panel] * count, title="<i>")
        root = ElementTree.fromstring(svg)
        assert "nan" not in svg
        drawable = [p for p in points if all(1e-99 < abs(v) < 1e99 or v == 0.0 for v in (p.mass_g, p.value))]
        assert bool(drawable) is ("no numbers" not in svg)
        shown = list(groups(root, "point"))
        kept = [p for p in drawable if p.mark != "missed"]
        assert len(shown) >= min(count, 4) * len(kept)
        for group in shown:
            assert (corners(group[-1]) >= 0.0).all()
            assert (corners(group[-1]) <= WIDTH).all()


@pytest.mark.parametrize("points", ODD)
def test_odd_numbers_give_a_png(points: tuple[FrontPoint, ...]) -> None:
    panel = FrontPanel("a" * 90, "<b>", "more", 5.0, points)
    assert front_picture([panel], title="a\x00b")[:4] == b"\x89PNG"


def test_far_misses_stay_outside_and_are_counted() -> None:
    points = (*POINTS, FrontPoint(20.0, 90.0, "missed"), FrontPoint(99.0, -40.0, "missed"))
    root = parsed(FrontPanel("a", "g", "less", TARGET, points))
    assert "2 more outside" in [text.text for text in root.iter(f"{SVG}text")]
    assert sorted(spots(root)) == sorted((p.mark, p.mass_g, p.value) for p in POINTS)
    assert "outside" not in front_svg([PANEL], title="x")


@pytest.mark.parametrize(
    ("count", "rows", "columns"), [(1, 1, 1), (2, 1, 2), (3, 2, 2), (4, 2, 2), (6, 2, 2)]
)
def test_panels_stand_in_two_columns(count: int, rows: int, columns: int) -> None:
    root = ElementTree.fromstring(front_svg([PANEL] * count, title="a wing"))
    frames = []
    for panel in groups(root, "panel"):
        shapes = [corners(p) for p in panel.findall(f"{SVG}path") if p.get("fill") == "none"]
        frames.append(next(shape for shape in shapes if len(shape) == 4))
    assert len(frames) == min(count, 4)
    assert len({frame[:, 0].min() for frame in frames}) == columns
    assert len({frame[:, 1].min() for frame in frames}) == rows
    assert all(frame[:, 1].max() < float(root.get("height", "")) for frame in frames)
    assert bool(np.ptp(frames[0][:, 0]) > WIDTH / 2) is (count == 1)


def test_a_long_title_is_shortened_and_keeps_its_unit() -> None:
    panel = FrontPanel("twist of the tip " * 20, "deg per N m", "less", None, POINTS)
    texts = list(ElementTree.fromstring(front_svg([panel] * 2, title="w " * 900)).iter(f"{SVG}text"))
    assert sum((t.text or "").endswith("... [deg per N m]") for t in texts) == 2
    for text in texts:
        wide = text_width(text.text or "", float(text.get("font-size", "")))
        assert text.get("text-anchor") or float(text.get("x", "")) + wide < WIDTH


def test_no_panels_say_so() -> None:
    assert "no numbers" in front_svg([], title="a wing")
    assert front_picture([], title="a wing")[:4] == b"\x89PNG"


def test_every_mark_has_a_shape_of_its_own() -> None:
    shapes: dict[Mark, tuple[object, ...]] = {}
    root = parsed(PANEL)
    for point in POINTS:
        group = next(groups(root, "point", mark=point.mark))
        shape = corners(group[-1])
        middle = 0.5 * (shape.min(axis=0) + shape.max(axis=0))
        upright = bool(np.isclose(shape[0, 1], middle[1], atol=PIXEL))
        size = round(float(np.ptp(shape[:, 0])))
        filled = any(child.get("fill") != "none" for child in group)
        shapes[point.mark] = (len(shape) == 4, upright, size, filled)
    assert len(set(shapes.values())) == len(shapes) == 5
    # two with four corners, one of which stands on a corner; one that is hollow
    assert [shapes[mark][:2] for mark in ("drawn", "lightest")] == [(True, False), (True, True)]
    assert [mark for mark, shape in shapes.items() if not shape[3]] == ["missed"]


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_the_png_shows_every_kind_of_mark(count: int) -> None:
    svg = ElementTree.fromstring(front_svg([PANEL] * count, title="a wing"))
    image = Image.open(io.BytesIO(front_picture([PANEL] * count, title="a wing"))).convert("RGB")
    assert image.size == (WIDTH, int(svg.get("height", "")))
    pixels = np.asarray(image).astype(int)
    for colour in ((24, 28, 36), (28, 74, 122), (116, 172, 208)):
        assert (np.abs(pixels - colour).max(axis=2) < DARK).sum() > 20
    # each symbol of the SVG is where the pixels are not the ground
    for (mark, _, _), (x, y) in spots(svg).items():
        if mark != "missed":
            assert pixels[round(y), round(x)].min() < NEAR_WHITE
