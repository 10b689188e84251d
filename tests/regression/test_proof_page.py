"""The page of a proof loading: all its numbers are there, rounded as told, and nothing is fetched."""

from __future__ import annotations

import copy
import re
from html.parser import HTMLParser
from typing import Any

import pytest

from wingpath import InputError
from wingpath.report import proof_style
from wingpath.report.colours import TEXT_CONTRAST, contrast
from wingpath.report.proof_drawing import ProofPlaces, proof_drawing
from wingpath.report.proof_page import bag_g, proof_page, range_mm

DRAWN_PX = 0.15
"""Coordinates in the drawing are written to a tenth of a pixel, and three of them are compared."""

LINE_CONTRAST = 3.0
"""Least contrast of what is no text (W3C, Web Content Accessibility Guidelines 2.2, 2023, criterion
1.4.11)."""

SHARES = (0.25, 0.5, 0.75, 1.0, 1.25, 1.5)
LIMIT = 6.0
PLACES = ((40.0, 50.0), (120.0, 55.0), (200.0, 60.0), (280.0, 66.0))
AT_LIMIT_G = (401.2, 352.7, 283.4, 90.6)
DOWN_MM = (4.1, 9.3, 17.77)

VOID = {"meta", "br", "hr", "img", "link", "input"}


def document(**changes: Any) -> dict[str, Any]:
    """A made-up wing; the first step has its last weight 6 mm farther in."""
    steps = []
    for number, share in enumerate(SHARES):
        weights = [
            {"span_mm": z, "x_mm": x, "mass_g": share * mass}
            for (z, x), mass in zip(PLACES, AT_LIMIT_G, strict=True)
        ]
        if number == 0:
            weights[-1]["span_mm"] -= 6.0
        steps.append(
            {
                "load_factor": share * LIMIT,
                "share_of_limit": share,
                "total_g": share * sum(AT_LIMIT_G),
                "weights": weights,
                "deflection_mm": [share * down for down in DOWN_MM],
            }
        )
    wing = {
        "name": "Alder 640",
        "spec": "alder.toml",
        "band": {"tip_deflection_limit_mm": 0.2, "first_buckling_load_factor": 0.3},
        "first_buckling_load_factor": 5.0,
        "filament": {"title": "foam", "calibrated": True},
        "proof_loading": {
            "gauges_mm": [128.0, 224.0, 320.0],
            "gauge_x_mm": [52.0, 58.0, 64.0],
            "first_factor_raised": False,
            "outline_mm": [[0.0, 0.0], [20.0, 320.0], [150.0, 320.0], [180.0, 0.0]],
            "steps": steps,
        },
    }
    return {**copy.deepcopy(wing), **changes}


class Page(HTMLParser):
    """Tags, tables of cells, text; fails on tags that are not closed in turn."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.tables: list[list[list[tuple[str, str, str]]]] = []
        self.text: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append((tag, dict(attrs).get("class") or "", ""))
        elif tag == "small" and "table" in self._open:
            self.handle_data(" | ")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self._open:
            return
        self.text.append(data)
        if {"td", "th"} & set(self._open):
            tag, kind, so_far = self.tables[-1][-1][-1]
            self.tables[-1][-1][-1] = (tag, kind, so_far + data)

    def cells(self, table: int) -> list[list[str]]:
        return [[cell for _, _, cell in row] for row in self.tables[table]]

    @property
    def words(self) -> str:
        return " ".join("".join(self.text).split())


def made(**changes: Any) -> Page:
    return Page(proof_page(document(**changes), cautions=("Goggles & gloves.",)))


@pytest.mark.parametrize(
    ("mass", "told"),
    [
        (0.3, 0.5),
        (7.71, 7.5),
        (12.4, 12.0),
        (99.6, 100.0),
        (100.0, 100.0),
        (100.3, 100.0),
        (352.7, 355.0),
        (841.0, 840.0),
    ],
)
def test_bags_are_told_as_they_can_be_filled(mass: float, told: float) -> None:
    assert bag_g(mass) == told


@pytest.mark.parametrize(
    ("expected", "band", "told"),
    [
        (10.0, 0.2, (8.0, 12.0)),
        (17.77, 0.2, (14.0, 21.5)),
        (4.0, 1.4, (0.0, 10.0)),
        (-10.0, 0.2, (-12.0, -8.0)),
        (0.3, 0.2, (0.0, 0.5)),
    ],
)
def test_ranges_are_rounded_outward(expected: float, band: float, told: tuple[float, float]) -> None:
    assert range_mm(expected, band) == told


def test_every_weight_and_every_total_is_told() -> None:
    head, *rows = made().cells(0)
    assert head[3:] == ["1 | 40, 50", "2 | 120, 55", "3 | 200, 60", "4 | 280, 66", "total"]
    assert [row[0] for row in rows] == ["1", "2", "3", "4", "5", "6"]
    assert [row[1] for row in rows] == ["1.5", "3", "4.5", "6", "7.5", "9"]
    assert [row[2] for row in rows] == ["25", "50", "75", "100 | limit", "125", "150 | ultimate, 3 s"]
    assert rows[0][3:] == ["100", "88", "71", "23 | 274, 66", "282"]
    assert rows[3][3:] == ["400", "355", "285", "91", "1131"]
    assert rows[5][3:] == ["600", "530", "425", "135", "1690"]
    # a total is what the scale shows for the bags as they are told
    for row in rows:
        assert float(row[-1]) == sum(float(cell.split(" | ")[0]) for cell in row[3:-1])


def test_every_deflection_is_told_with_its_range_and_room_to_write() -> None:
    page = made()
    head, *rows = page.cells(1)
    assert head[3:] == [
        "A at 128 | expected, mm",
        "A | measured",
        "B at 224 | expected, mm",
        "B | measured",
        "C at 320 | expected, mm",
        "C | measured",
        "seen, heard",
    ]
    names = [row[0] for row in rows]
    assert names == ["before", "1", "2", "3", "4wrinkles", "taken off", "5", "6"]
    assert rows[4][3:9:2] == ["4.0 | 3.0 to 5.0", "9.5 | 7.0 to 11.5", "18.0 | 14.0 to 21.5"]
    assert rows[1][3:9:2] == ["1.0 | 0.5 to 1.5", "2.5 | 1.5 to 3.0", "4.5 | 3.5 to 5.5"]
    assert rows[5][3:9:2] == ["0", "0", "0"]
    for row in page.tables[1][1:]:
        written = [number for number, cell in enumerate(row) if cell[1] == "write"]
        assert written == [4, 6, 8, 9]
        assert all(row[number][2] == "" for number in written)
    # rows, heads and cells make a full table
    assert {len(row) for row in page.tables[1]} == {10}


def test_steps_beyond_the_limit_look_different() -> None:
    rows = [attrs for tag, attrs in made().tags if tag == "tr" and attrs.get("class") == "beyond"]
    assert len(rows) == 4


def test_it_says_where_wrinkles_are_to_be_expected() -> None:
    said = made().words
    assert "first at load factor 5.0, so at step 4." in said
    assert "off by 30 per cent: look out from step 3 on" in said
    said = made(first_buckling_load_factor=40.0).words
    assert "first at load factor 40.0, so at none of these steps." in said
    assert "look out" not in said
    # off by more than itself: at any step
    wide = {"tip_deflection_limit_mm": 0.2, "first_buckling_load_factor": 1.01}
    assert "look out from step 1 on" in made(first_buckling_load_factor=40.0, band=wide).words
    page = made(first_buckling_load_factor=None)
    assert "not known at which step the skin wrinkles" in page.words
    assert "4wrinkles" not in [row[0] for row in page.cells(1)]


def test_without_a_band_there_is_no_range() -> None:
    page = made(band={"tip_deflection_limit_mm": None})
    assert page.cells(1)[5][3] == "4.0"
    assert "No range is known" in page.words


def test_it_says_when_the_filament_is_not_calibrated_and_when_the_first_step_is_raised() -> None:
    assert "not calibrated" not in made().words
    assert "not calibrated" in made(filament={"calibrated": False}).words
    assert "The first step is" not in made().words
    wing = document()
    wing["proof_loading"]["first_factor_raised"] = True
    assert "The first step is at load factor 1.5" in Page(proof_page(wing, cautions=())).words


def test_rules_and_cautions_are_said() -> None:
    said = made().words
    for words in (
        "23.305",
        "held for 3 s",
        "do not fly",
        "Goggles & gloves.",
        "upside down",
        "from the tip inward",
    ):
        assert words in said


def test_markup_in_the_spec_is_text() -> None:
    name = '</title></style><script>alert("1")</script>&amp;'
    text = proof_page(document(name=name, spec="<i>a&b</i>.toml"), cautions=("<b>bold</b>",))
    page = Page(text)
    assert page.words.count(name) == 2
    assert "<i>a&b</i>.toml" in page.words
    assert "<b>bold</b>" in page.words
    assert not {"script", "iframe", "object"} & {tag for tag, _ in page.tags}


def test_nothing_is_fetched() -> None:
    text = proof_page(document(), cautions=())
    page = Page(text)
    for word in ("http", "url(", "@import", "//"):
        assert word not in text
    assert not {"src", "href", "srcset", "data", "action"} & {key for _, attrs in page.tags for key in attrs}
    assert not {"img", "link", "script"} & {tag for tag, _ in page.tags}


def test_the_drawing_is_to_scale_and_told_in_words() -> None:
    page = made()
    label = next(attrs["aria-label"] for tag, attrs in page.tags if tag == "svg") or ""
    assert "weight 4: 280 from the root, 66 aft" in label
    assert "gauge C: 320 from the root, 64 aft" in label
    spots = [
        (float(attrs["cx"] or 0), float(attrs["cy"] or 0)) for tag, attrs in page.tags if tag == "circle"
    ]
    assert len(spots) == len(PLACES)
    corners = next(attrs["points"] for tag, attrs in page.tags if tag == "polygon") or ""
    root, tip, *_ = [tuple(map(float, corner.split(","))) for corner in corners.split()]
    scale = (tip[0] - root[0]) / 320.0
    assert scale > 1.0
    for (across, down), (z, x) in zip(spots, PLACES, strict=True):
        assert across == pytest.approx(root[0] + scale * z, abs=DRAWN_PX)
        assert down == pytest.approx(root[1] + scale * x, abs=DRAWN_PX)


@pytest.mark.parametrize("span", [60.0, 600.0, 3000.0])
def test_a_drawing_stays_in_its_frame(span: float) -> None:
    places = ProofPlaces(
        [(0.0, 0.0), (-80.0, span), (90.0, span), (150.0, 0.0)],
        [(40.0, 0.1 * span), (20.0, 0.9 * span)],
        [(0.0, span)],
        "A",
    )
    text = proof_drawing(places)
    left, top, width, height = map(float, re.findall(r'viewBox="([^"]*)"', text)[0].split())
    for corner in re.findall(r'points="([^"]*)"', text)[0].split():
        across, down = map(float, corner.split(","))
        assert left < across < left + width
        assert top < down < top + height


def test_an_outline_without_span_is_refused() -> None:
    with pytest.raises(InputError, match="allowed: over 0"):
        proof_drawing(ProofPlaces([(0.0, 0.0), (10.0, 0.0)], [], [], ""))


def test_a_plan_without_weights_is_refused() -> None:
    wing = document()
    wing["proof_loading"]["steps"] = []
    with pytest.raises(InputError, match="got no weights"):
        proof_page(wing, cautions=())


@pytest.mark.parametrize("colours", [proof_style.LIGHT, proof_style.DARK, proof_style.PAPER])
def test_colours_are_told_apart(colours: dict[str, tuple[int, int, int]]) -> None:
    for name, ground in (
        ("ink", "ground"),
        ("ink", "head"),
        ("soft", "ground"),
        ("soft", "head"),
        ("warn", "ground"),
        ("on-mark", "mark"),
    ):
        assert contrast(colours[name], colours[ground]) >= TEXT_CONTRAST, (name, ground)
    assert contrast(colours["line"], colours["ground"]) >= LINE_CONTRAST
    assert contrast(colours["mark"], colours["head"]) >= LINE_CONTRAST
