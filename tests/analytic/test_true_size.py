"""A drawing at true size: a millimetre is a millimetre in the file, and pages join where their marks say."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from pdf_pages import Page, pages_of, reader_of

from wingpath.core.errors import InputError
from wingpath.report.drafting import dimension, table, tucked
from wingpath.report.tiling import MARGIN_MM, OVERLAP_MM, STRIP_MM, paper_named, tile_sheet
from wingpath.report.true_size import Sheet, Stroke, TrueSizeDrawing, Words, bounds_of
from wingpath.report.true_size_pdf import BAR_PEN, MARK_PEN, PENS, SEAM_PEN, plain_text, true_size_pdf

SAME_MM = 0.01
"""Far more than what rounding in the file does, 1e-5 mm, and far less than any error of scale: 210 mm at
99.99 per cent are off by 0.02 mm."""


def square(side: float) -> Sheet:
    corners = np.array([(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)])
    return Sheet("square", (Stroke(corners, "section", closed=True),))


def drawn(sheet: Sheet, paper: str = "a4", name: str = "test") -> list[Page]:
    return pages_of(true_size_pdf(TrueSizeDrawing(name, (sheet,)), paper_named(paper)))


def bar_of(page: Page) -> float:
    return max(line.size[0] for line in page.of(BAR_PEN))


@pytest.mark.parametrize("paper", ["a4", "letter", "A4"])
def test_a_square_of_100_mm_is_100_mm(paper: str) -> None:
    (page,) = drawn(square(100.0), paper)
    (line,) = page.of(PENS["section"])
    assert line.closed
    assert line.size == pytest.approx([100.0, 100.0], abs=SAME_MM)
    assert bar_of(page) == pytest.approx(100.0, abs=SAME_MM)
    # ISO 216: A4 is 210 x 297 mm; a letter is 8.5 x 11 in
    sides = (210.0, 297.0) if paper.lower() == "a4" else (8.5 * 25.4, 11.0 * 25.4)
    assert sorted(page.size) == pytest.approx(sides, abs=SAME_MM)


def test_the_file_asks_viewers_not_to_scale_it_and_is_the_same_each_time() -> None:
    drawing = TrueSizeDrawing("test", (square(10.0),))
    data = true_size_pdf(drawing, paper_named("a4"))
    wishes = reader_of(data).trailer["/Root"]["/ViewerPreferences"]
    assert wishes["/PrintScaling"] == "/None"
    assert data == true_size_pdf(drawing, paper_named("a4"))


@pytest.mark.parametrize(
    ("wide", "high", "pages", "lying"),
    [
        # windows: 297 - 2 x 10 by 210 - 2 x 10 - 24 lying, 190 x 253 upright; 2 mm free all round
        (273.0, 162.0, 1, True),
        (273.1, 162.0, 2, True),
        (186.0, 249.0, 1, False),
        (10.0, 10.0, 1, True),
        # n windows show n w - (n - 1) 12 mm, 4 mm of it free
        (2 * 277.0 - 12.0 - 4.0, 100.0, 2, True),
        (180.0, 2 * 253.0 - 12.0 - 4.0, 2, False),
    ],
)
def test_the_fewest_pages(wide: float, high: float, pages: int, lying: bool) -> None:
    corners = np.array([(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)])
    tiling = tile_sheet(Sheet("box", (Stroke(corners, "section", closed=True),)), paper_named("a4"))
    assert len(tiling.tiles) == pages
    assert (tiling.page_mm[0] > tiling.page_mm[1]) is lying


def test_pages_without_anything_are_left_out() -> None:
    lines = np.array([(0.0, 0.0), (800.0, 0.0), (800.0, 800.0)])
    tiling = tile_sheet(Sheet("corner", (Stroke(lines, "section"),)), paper_named("a4"))
    assert len(tiling.tiles) < tiling.columns * tiling.rows
    assert [tile.number for tile in tiling.tiles] == list(range(1, len(tiling.tiles) + 1))


def test_pages_join_where_their_marks_say() -> None:
    """Marks of both neighbours laid on each other make the line one: a slanted line goes on straight."""
    slant = np.array([(0.0, 0.0), (700.0, 130.0)])
    pages = drawn(Sheet("slant", (Stroke(slant, "section"),)))
    assert len(pages) == 3
    for left, right in pairwise(pages):
        # each mark is two strokes through one middle; the left page's last, the right page's first
        one, other = marks(left), marks(right)
        far, near = one[one[:, 0] > one[:, 0].max() - 1.0], other[other[:, 0] < other[:, 0].min() + 1.0]
        assert len(far) == len(near) == 2
        shift = far - near
        assert shift[0] == pytest.approx(shift[1], abs=SAME_MM)
        (a,), (b,) = left.of(PENS["section"]), right.of(PENS["section"])
        assert b.points + shift[0] == pytest.approx(a.points, abs=SAME_MM)
        # the overlap is as wide as it says: the seam lies in its middle, at both edges of the windows
        assert far[0, 0] == pytest.approx(left.size[0] - MARGIN_MM - 0.5 * OVERLAP_MM, abs=SAME_MM)
        assert near[0, 0] == pytest.approx(MARGIN_MM + 0.5 * OVERLAP_MM, abs=SAME_MM)
        assert any(abs(line.points[0, 0] - far[0, 0]) < SAME_MM for line in left.of(SEAM_PEN))
    assert [f"sheet {n} of 3" in " ".join(page.text.split()) for n, page in enumerate(pages, 1)] == [True] * 3
    assert "join here to sheet 2" in pages[0].text
    assert "join here to sheet 2" in pages[2].text


def marks(page: Page) -> np.ndarray:
    # the seam has the same pen, and is upright or level
    slanted = [line for line in page.of(MARK_PEN) if line.size.min() > 1.0]
    middles = {tuple(np.round(line.points.mean(axis=0), 3)) for line in slanted}
    assert len(slanted) == 2 * len(middles)
    return np.array(sorted(middles))


def test_rows_join_too() -> None:
    upright = np.array([(0.0, 0.0), (30.0, 400.0)])
    first, second = drawn(Sheet("upright", (Stroke(upright, "section"),)))
    low, high = marks(first), marks(second)
    shift = low - high
    (a,), (b,) = first.of(PENS["section"]), second.of(PENS["section"])
    assert b.points + shift[0] == pytest.approx(a.points, abs=SAME_MM)
    assert low[0, 1] == pytest.approx(MARGIN_MM + STRIP_MM + 0.5 * OVERLAP_MM, abs=SAME_MM)


def test_a_bar_on_every_page_with_what_to_do() -> None:
    for page in drawn(square(600.0)):
        assert bar_of(page) == pytest.approx(100.0, abs=SAME_MM)
        assert "Measure this bar: print at 100 per cent, no fit to page." in page.text


def test_a_dimension_is_as_long_as_what_it_measures() -> None:
    items = dimension((10.0, 20.0), (40.0, 60.0), aside_mm=-7.0, text="50")
    line, *_ = [item for item in items if isinstance(item, Stroke)]
    assert np.hypot(*np.diff(line.points, axis=0)[0]) == pytest.approx(50.0)
    # 7 mm to the right of the way from the first point to the second
    assert line.points[0] == pytest.approx([10.0 + 7.0 * 0.8, 20.0 - 7.0 * 0.6])


def test_words_come_where_the_drawing_leaves_most_room() -> None:
    slope = (Stroke(np.array([(0.0, 0.0), (300.0, 90.0)]), "section"),)
    block = tucked(table(5.0, 5.0, [("head", "other"), ("1", "2")]), slope, 4.0)
    low, high = bounds_of(block)
    # under the end that stands higher, 4 mm below the lowest of the line over it and its margins
    assert high[0] == pytest.approx(300.0)
    assert high[1] == pytest.approx(0.3 * (low[0] - 4.0) - 4.0)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Größe °", "Größe °"),
        ("Čáp", "Cáp"),
        ("翼 one", "? one"),
        ("a\u202eb\x07c", "abc"),
        ("(x) Tj \\ ET", "(x) Tj \\ ET"),
        ("", ""),
    ],
)
def test_letters_that_the_font_lacks(text: str, plain: str) -> None:
    assert plain_text(text) == plain
    (page,) = drawn(Sheet("words", (Words(0.0, 0.0, f"[{text}]"),)), name=text)
    assert f"[{plain}]" in page.text


def test_long_names_are_cut_short() -> None:
    assert plain_text("x" * 100, most=20) == "x" * 17 + "..."
    assert plain_text("x" * 20, most=20) == "x" * 20


def test_other_paper_is_refused() -> None:
    with pytest.raises(InputError, match="paper: got 'a3'; allowed: a4 or letter"):
        paper_named("a3")
