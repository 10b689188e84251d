"""The drawings of the examples, measured in their files: what a builder would check with a ruler.

Expected numbers come from the specs by hand: chords and places are straight between stations.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely
from built_examples import NAMES, Built
from outside import FILES, Source
from pdf_pages import Drawn, Page, pages_of

from wingpath.build.slicing import slice_mesh
from wingpath.report.true_size_pdf import BAR_PEN, PENS

PYPDF = Source(
    "library",
    "pypdf",
    "pypdf, an open reader of PDF files (BSD): lines in points of 1/72 inch (ISO 32000-1, 8.3.2.3)",
)

CHORD_MM = 0.1
"""What the drawing promises for a chord."""

SAME_MM = 0.01
"""Rounding in the file is a thousandth of this."""

FLATS_MM = 0.02
"""A hole is drawn as a ring of 96 flats outside its circle: 0.005 mm on 8 mm, and twice that askew."""

Examples = Callable[[str], Built]


def pages(example: Examples, name: str) -> dict[str, Page]:
    """Pages of an example's drawing by the heading of their sheet, which stands on the first page of each."""
    found: dict[str, Page] = {}
    for page in pages_of((example(name).folder / "drawing.pdf").read_bytes()):
        for line in page.text.splitlines():
            if line.endswith((" mm from the root", ", from above")):
                found[line] = page
    return found


def outline(page: Page) -> Drawn:
    return max(page.of(PENS["section"]), key=lambda line: line.length)


def chord_line(page: Page) -> Drawn:
    """Of the datum lines the longest whose ends both touch the outline: level and upright ones do not."""
    ring = shapely.LinearRing(outline(page).points)
    ends = [
        line
        for line in page.of(PENS["datum"])
        if len(line.points) == 2 and all(ring.distance(shapely.Point(p)) < CHORD_MM for p in line.points)
    ]
    return max(ends, key=lambda line: line.length)


def level_of(page: Page) -> float:
    """Height of the level line on the page [mm]: the widest of the datum lines."""
    return float(max(page.of(PENS["datum"]), key=lambda line: line.size[0]).points[0, 1])


SECTIONS = {
    # (210 - 140) / 600 mm of taper; -1.5 deg over 600 mm
    "osier-1240": {
        "Root section, 0 mm from the root": (210.0, 0.0),
        "Joint of panel-1 and panel-2, 300 mm from the root": (175.0, -0.6),
    },
    "teasel-920": {"Root section, 0 mm from the root": (190.0, 0.5)},
    "fescue-340": {"Root section, 0 mm from the root": (110.0, 0.0)},
}
"""Chord and twist of sections. The joint lies half way, where a ruled surface between twisted ends has the
mean of both slopes, weighted with their chords: atan((210 x 0 + 140 x tan 1.5) / 350) = 0.6 deg."""


def test_the_hinge_line_of_the_demo_takes_one_page(example: Examples) -> None:
    # with more of the wing beside it there would be a second one, all but empty
    texts = [page.text for page in pages_of((example("osier-1240").folder / "drawing.pdf").read_bytes())]
    (page,) = [text for text in texts if "hinge line of aileron-1" in text]
    assert "sheet 1 of 1" in page or "sheet" not in page


@pytest.mark.parametrize(("name", "title"), [(n, t) for n, ts in SECTIONS.items() for t in ts])
def test_chord_and_twist_of_a_section(example: Examples, name: str, title: str) -> None:
    page = pages(example, name)[title]
    chord, twist = SECTIONS[name][title]
    line = chord_line(page)
    FILES.check(
        f"Chord in the drawing at true size of {name}: {title}",
        source=PYPDF,
        expected=chord,
        got=line.length,
        abs=CHORD_MM,
        because="the wanted of a jig",
        unit="mm",
    )
    # along the chord the outline is as long: from the leading edge to the middle of the trailing edge
    along = np.diff(line.points, axis=0)[0] / line.length
    assert np.ptp(outline(page).points @ along) == pytest.approx(chord, abs=CHORD_MM)
    assert -np.rad2deg(np.arctan2(along[1], along[0])) == pytest.approx(twist, abs=0.01)
    # the twist turns about the quarter chord, which lies on the level line
    quarter = line.points[0] + 0.25 * line.length * along
    assert quarter[1] == pytest.approx(level_of(page), abs=SAME_MM)
    assert f"chord {chord:.1f} mm" in page.text
    assert f"twist {twist:.2f} deg" in page.text


def holes(page: Page) -> list[Drawn]:
    return sorted(page.of(PENS["bore"]), key=lambda line: float(line.points[:, 0].mean()))


def test_holes_of_a_root(example: Examples) -> None:
    """Osier, 210 mm: bore of 8 + 0.3 mm at 30 %, duct of 6 mm at 45 %, tongue of 18 x 3 + 0.2 mm at 70 %."""
    page = pages(example, "osier-1240")["Root section, 0 mm from the root"]
    nose = chord_line(page).points[0, 0]
    tube, duct, tab = holes(page)
    # its axis leans by 1.3 deg, so along the chord the tube's hole is longer by 1 / cos: 0.03 per cent
    assert tube.size == pytest.approx([8.3, 8.3], abs=FLATS_MM)
    assert duct.size == pytest.approx([6.0, 6.0], abs=FLATS_MM)
    assert tab.size == pytest.approx([18.2, 3.2], abs=SAME_MM)
    for hole, share in ((tube, 0.30), (duct, 0.45), (tab, 0.70)):
        middle = hole.points.min(axis=0) + 0.5 * hole.size
        assert middle[0] - nose == pytest.approx(share * 210.0, abs=SAME_MM)
        # the crosses meet in the middle
        axes = [
            line
            for line in page.of(PENS["axis"])
            if shapely.LineString(line.points).distance(shapely.Point(middle)) < SAME_MM
        ]
        assert len(axes) == 2


def test_holes_of_a_swept_wing(example: Examples) -> None:
    """Teasel: a tube of 6 mm that leans 21 deg aft; its hole is longer by 1 / cos that way, not higher."""
    page = pages(example, "teasel-920")["Root section, 0 mm from the root"]
    tube = holes(page)[0]
    # from 36 % of 190 mm at the root to 28 % at 300 mm, of 135.4 mm behind a leading edge at 144.4 mm
    lean = np.arctan2(144.4 + 0.28 * 135.4 - 0.36 * 190.0, 300.0)
    assert tube.size == pytest.approx([6.3 / np.cos(lean), 6.3], abs=FLATS_MM)
    assert f"{np.rad2deg(lean):.1f} deg aft" in page.text


def test_pins_and_tube_of_a_joint(example: Examples) -> None:
    page = pages(example, "osier-1240")["Joint of panel-1 and panel-2, 300 mm from the root"]
    assert [hole.size[1] for hole in holes(page)] == pytest.approx([2.2, 8.3, 6.0, 2.2], abs=FLATS_MM)


@pytest.mark.parametrize("name", NAMES)
def test_the_outline_is_that_of_the_built_mesh(example: Examples, name: str) -> None:
    """What is drawn at the root lies on the border of the cut through the panel, but for slots."""
    made = example(name)
    page = pages(example, name)["Root section, 0 mm from the root"]
    region = slice_mesh(made.build.panels[0].solid.mesh, np.array([1e-3]), simplify_mm=0.0).regions[0]
    drawn = outline(page).points
    points = shapely.points(drawn - drawn.min(axis=0) + region.bounds[:2])
    assert shapely.distance(region.exterior, points).max() < made.build.design.spec.slots.width_mm
    # and the printed part is drawn with all its slots: its border is some three times as long as the outline
    (printed,) = page.of(PENS["printed"])
    assert printed.length == pytest.approx(region.exterior.length, abs=1.0)


@pytest.mark.parametrize("name", NAMES)
def test_cradles_of_all_sections_stand_on_one_board(example: Examples, name: str) -> None:
    found = pages(example, name)
    heights = []
    for title, page in found.items():
        if "from above" in title:
            continue
        base = [line for line in page.of(PENS["jig"]) if len(line.points) == 2]
        (block,) = [line for line in page.of(PENS["jig"]) if len(line.points) > 2]
        assert block.points[:, 1].min() == pytest.approx(base[0].points[0, 1], abs=SAME_MM)
        heights.append(level_of(page) - base[0].points[0, 1])
        # the cradle's upper side is the section's lower side
        ring = shapely.LinearRing(outline(page).points)
        inner = block.points[(block.points[:, 1] < level_of(page) - 2.0)][:-2]
        assert max(ring.distance(shapely.Point(p)) for p in inner) < SAME_MM
        # at least 10 mm of block under it
        assert outline(page).points[:, 1].min() - base[0].points[0, 1] >= 10.0
    assert np.ptp(heights) < SAME_MM


@pytest.mark.parametrize(
    ("name", "ends"),
    [
        # 76 % of 170.33 and of 147 mm behind leading edges at 19.83 and 31.5 mm; 200 mm of span
        ("osier-1240", ((340.0, 19.833 + 0.76 * 170.333), (540.0, 31.5 + 0.76 * 147.0))),
        # 76 and 75 % of 152.05 and of 114.25 mm behind leading edges at 100.3 and 189.83 mm
        ("teasel-920", ((210.0, 100.3 + 0.76 * 152.05), (390.0, 189.833 + 0.75 * 114.25))),
    ],
)
def test_hinge_line(example: Examples, name: str, ends: tuple[tuple[float, float], ...]) -> None:
    page = next(page for title, page in pages(example, name).items() if "from above" in title)
    (line,) = page.of(PENS["hinge"])
    (z0, x0), (z1, x1) = ends
    # outboard to the left, aft down; twist about the quarter chord moves the hinge forward by 0.03 mm at most
    assert line.points[1] - line.points[0] == pytest.approx([z0 - z1, x0 - x1], abs=0.05)
    # wing and aileron end half a gap before and behind it
    gap = example(name).build.design.voids.ailerons[0].gap_mm
    middle, up = 0.5 * (line.points[0] + line.points[1]), np.array([0.0, 3.0])
    upright = shapely.LineString([middle - up, middle + up])
    cuts = [
        part.y
        for edge in page.of(PENS["section"])
        for part in shapely.get_parts(shapely.LineString(edge.points).intersection(upright))
    ]
    assert sorted(y - middle[1] for y in cuts) == pytest.approx([-0.5 * gap, 0.5 * gap], abs=0.02)


@pytest.mark.parametrize("name", NAMES)
def test_every_page_has_its_bar_and_the_first_its_cautions(example: Examples, name: str) -> None:
    data = (example(name).folder / "drawing.pdf").read_bytes()
    assert len(data) < 1_000_000
    found = pages_of(data)
    for number, page in enumerate(found, start=1):
        assert max(line.size[0] for line in page.of(BAR_PEN)) == pytest.approx(100.0, abs=SAME_MM)
        assert f"page {number} of {len(found)}" in page.text
    words = " ".join(found[0].text.split())
    assert "Estimates until the wing is proof-loaded" in words
    assert "Carbon dust" in words
