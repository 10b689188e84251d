"""The report page as a reader uses it, in a real browser, on a desk and on a phone."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page
from reported import ROGUE, reported

from wingpath.report.colours import BEAD

WIDTHS = (390, 1440)

FAINT_SHARE = 0.025
"""A bead a pixel wide is fainter at nose and tail than its colour."""

ROOM_PX = 26
"""The page leaves this free on either side of the whole layer [px]."""

EDGE_PX = 3.0
"""Both edges are smoothed over a pixel, and the bead's round nose is thinner than a pixel at its end [px]."""

ROUNDED_MM = 0.02
"""Paths are packed to a hundredth of a millimetre, and the page writes two digits."""

LENGTH_SHARE = 2e-3
"""Each corner is off by up to half a hundredth, and there is one every few millimetres."""

QUIET = ("willReadFrequently", "GPU stall")
"""What the browser says of the drawing library's haste without a graphics card."""

MANY_COLOURS = 60
"""Shaded surfaces have more colours than this; an empty view has a handful."""


class Seen:
    """What went wrong, and what was asked for, while a page was open."""

    def __init__(self, page: Page) -> None:
        self.complaints: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda said: self._say(said.type, said.text))
        page.on("pageerror", lambda fault: self.complaints.append(str(fault)))
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("dialog", lambda dialog: self.complaints.append(dialog.message))

    def _say(self, kind: str, text: str) -> None:
        if kind in ("error", "warning") and not any(words in text for words in QUIET):
            self.complaints.append(text)


@contextmanager
def opened(browser: Browser, path: Path, **wanted: Any) -> Iterator[tuple[Page, Seen]]:
    context = browser.new_context(**{"viewport": {"width": 1440, "height": 900}, **wanted})
    page = context.new_page()
    seen = Seen(page)
    page.goto(path.as_uri())
    if wanted.get("java_script_enabled", True):
        page.wait_for_function("document.getElementById('layer-canvas').dataset.layer !== undefined")
    yield page, seen
    context.close()


def settled(page: Page) -> None:
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def readout(page: Page) -> dict[str, Any]:
    settled(page)
    text = page.text_content("#layer-readout") or ""
    found = re.fullmatch(
        r"(\S+), layer (\d+) of (\d+); z ([\d.]+) mm; path ([\d.]+) mm; (.+?); "
        r"start x (-?[\d.]+), y (-?[\d.]+) mm",
        text,
    )
    assert found, text
    part, layer, count, z, path, rings, x, y = found.groups()
    return {
        "part": part,
        "layer": int(layer),
        "count": int(count),
        "z": float(z),
        "path": float(path),
        "rings": rings,
        "start": (float(x), float(y)),
    }


def pixels(page: Page, selector: str) -> np.ndarray[Any, np.dtype[np.uint8]]:
    picture = Image.open(io.BytesIO(page.locator(selector).screenshot()))
    return np.asarray(picture.convert("RGB"))


def set_layer(page: Page, layer: int) -> None:
    page.evaluate(
        "layer => { const s = document.getElementById('layer-slider'); s.value = layer;"
        " s.dispatchEvent(new Event('input')); }",
        layer,
    )


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_opens_without_complaint_and_asks_nobody(
    browser: Browser, page_file: Path, width: int, scheme: Any
) -> None:
    size = {"width": width, "height": 844}
    with opened(browser, page_file, viewport=size, color_scheme=scheme) as (page, seen):
        page.click("#solid-start")
        page.wait_for_selector("#solid-view[data-ready=yes]")
        assert seen.complaints == []
        assert [url for url in seen.asked if not url.startswith(("file:", "blob:", "data:"))] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        shade = sum(int(value) for value in re.findall(r"\d+", ground)[:3]) / 3
        assert (shade > 200) == (scheme == "light")


def test_a_name_with_markup_in_it_is_text(browser: Browser, page_file: Path) -> None:
    with opened(browser, page_file) as (page, _):
        assert page.text_content("h1") == ROGUE
        assert page.evaluate("window.rogue") is None
        assert page.locator("h1 img").count() == 0
        assert page.title().startswith(ROGUE[:20])


@pytest.mark.parametrize("width", WIDTHS)
def test_the_slider_shows_the_layer_that_was_judged(browser: Browser, page_file: Path, width: int) -> None:
    part = reported().build.panels[0]
    layers = part.continuity.layers
    with opened(browser, page_file, viewport={"width": width, "height": 844}) as (page, _):
        before = None
        for number in (1, len(layers) // 2, len(layers)):
            set_layer(page, number)
            told = readout(page)
            assert (told["part"], told["layer"], told["count"]) == (part.name, number, len(layers))
            assert told["z"] == pytest.approx(layers.z_mm[number - 1], abs=1e-3)
            assert told["path"] == pytest.approx(layers.path_mm[number - 1], rel=LENGTH_SHARE)
            assert told["rings"] == "one ring"
            assert told["start"] == pytest.approx(tuple(part.continuity.starts[number - 1]), abs=ROUNDED_MM)
            drawn = pixels(page, "#layer-canvas")
            assert len(np.unique(drawn.reshape(-1, 3), axis=0)) > 5
            assert before is None or not np.array_equal(drawn, before)
            before = drawn


def test_the_layer_is_drawn_to_scale_with_the_bead_in_its_width(browser: Browser, page_file: Path) -> None:
    part = reported().build.panels[0]
    path, bead = part.continuity.layers.paths[39], part.continuity.layers.bead_mm
    with opened(browser, page_file, viewport={"width": 1440, "height": 900}) as (page, _):
        set_layer(page, 40)
        settled(page)
        before = inked(page)
        page.focus("#layer-canvas")
        for _ in range(3):
            page.keyboard.press("-")
        settled(page)
        after = inked(page)
    left, _, right, _ = path.bounds
    bounds = json.loads(re.findall(r'id="report-data">(.*?)</script>', reported().page)[0])["parts"][0][
        "bounds_mm"
    ]
    shown = bounds[2] - bounds[0] + 2 * bead
    canvas = before.shape[1] - 2
    per_mm = (canvas - 2 * ROOM_PX) / shown
    # from the outer edge of the bead at the nose to that at the tail
    wide = [np.ptp(np.flatnonzero(picture.any(axis=0))) + 1 for picture in (before, after)]
    assert wide[0] == pytest.approx((right - left + bead) * per_mm, abs=EDGE_PX)
    assert wide[1] == pytest.approx(wide[0] / 1.4**3, rel=FAINT_SHARE)


def inked(page: Page) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Return where the canvas has the colour of the bead."""
    away = np.abs(pixels(page, "#layer-canvas").astype(int) - np.array(BEAD)).sum(axis=2)
    return np.asarray(away < 40)


def test_jumps_go_from_finding_to_finding_and_round_again(browser: Browser, page_file: Path) -> None:
    with opened(browser, page_file) as (page, _):
        data = page.evaluate("JSON.parse(document.getElementById('report-data').textContent).findings")
        names = [part.name for part in reported().build.parts]
        places = sorted(
            (names.index(one["panel"]), one["layer"]) for one in data if one["panel"] and one["layer"]
        )
        assert len(places) > 2, "the wing has to have findings, or nothing is tested"
        distinct = sorted(set(places))
        set_layer(page, 1)
        page.select_option("#layer-part", names[0])
        set_layer(page, 1)
        settled(page)
        at = (0, 1)
        for _ in range(len(distinct) + 2):
            page.click("#finding-on")
            told = readout(page)
            ahead = [place for place in distinct if place > at]
            at = ahead[0] if ahead else distinct[0]
            assert (names.index(told["part"]), told["layer"]) == at
        here = [one for one in data if one["panel"] == names[at[0]] and one["layer"] == at[1]]
        marked = int(page.get_attribute("#layer-canvas", "data-marked") or 0)
        assert marked >= sum(one["x_mm"] is not None for one in here)
        page.click("#finding-back")
        behind = [place for place in distinct if place < at]
        told = readout(page)
        assert (names.index(told["part"]), told["layer"]) == (behind[-1] if behind else distinct[-1])


def test_a_finding_in_the_list_leads_to_its_layer(browser: Browser, page_file: Path) -> None:
    with opened(browser, page_file) as (page, _):
        page.click("details summary")
        button = page.locator("button[data-part]").last
        part, layer = button.get_attribute("data-part"), button.get_attribute("data-layer")
        button.click()
        told = readout(page)
        assert (told["part"], str(told["layer"])) == (part, layer)


def test_keys_move_through_the_layers(browser: Browser, page_file: Path) -> None:
    with opened(browser, page_file) as (page, _):
        set_layer(page, 50)
        page.focus("#layer-canvas")
        for key, layer in (
            ("ArrowRight", 51),
            ("ArrowLeft", 50),
            ("PageUp", 60),
            ("PageDown", 50),
            ("Home", 1),
            ("End", None),
        ):
            page.keyboard.press(key)
            told = readout(page)
            assert told["layer"] == (told["count"] if layer is None else layer), key
        page.focus("#layer-slider")
        page.keyboard.press("ArrowLeft")
        assert readout(page)["layer"] == told["count"] - 1
        plain = pixels(page, "#layer-canvas")
        page.focus("#layer-canvas")
        page.keyboard.press("+")
        settled(page)
        assert not np.array_equal(pixels(page, "#layer-canvas"), plain)


@pytest.mark.parametrize("width", WIDTHS)
def test_three_dimensions_are_not_blank_and_parts_can_be_hidden(
    browser: Browser, page_file: Path, width: int
) -> None:
    with opened(browser, page_file, viewport={"width": width, "height": 844}) as (page, seen):
        page.click("#solid-start")
        page.wait_for_selector("#solid-view[data-ready=yes]")
        page.wait_for_timeout(300)
        whole = pixels(page, "#solid-view")
        assert len(np.unique(whole.reshape(-1, 3), axis=0)) > MANY_COLOURS
        page.uncheck("#show-ribs")
        page.wait_for_timeout(300)
        skin = pixels(page, "#solid-view")
        assert not np.array_equal(whole, skin)
        page.uncheck("#show-skin")
        page.uncheck("#show-fittings")
        page.wait_for_timeout(300)
        empty = pixels(page, "#solid-view")
        assert len(np.unique(empty.reshape(-1, 3), axis=0)) < len(np.unique(whole.reshape(-1, 3), axis=0))
        assert seen.complaints == []


def test_without_scripts_all_but_the_views_is_there(browser: Browser, page_file: Path) -> None:
    with opened(browser, page_file, java_script_enabled=False) as (page, _):
        assert page.locator("#verdict").is_visible()
        assert page.locator("svg").count() >= 7
        assert page.locator("table").count() >= 5


def test_on_paper_controls_go_and_the_panels_stay(browser: Browser, page_file: Path) -> None:
    with opened(browser, page_file, color_scheme="dark") as (page, _):
        page.emulate_media(media="print")
        assert not page.locator("nav").is_visible()
        assert not page.locator(".controls").first.is_visible()
        assert page.locator(".still").is_visible()
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert page.pdf(format="A4").startswith(b"%PDF")
