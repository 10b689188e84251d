"""Drawings of wings with odd names, without anything, and too large for a page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pdf_pages import pages_of
from tiny_wing import TINY, tiny

from wingpath import WingBuild, write_build
from wingpath.core.errors import InputError
from wingpath.pipeline.true_size import true_size_drawing
from wingpath.report.tiling import paper_named
from wingpath.report.true_size_pdf import PENS, true_size_pdf

Build = Callable[[dict[str, Any]], WingBuild]

SAME_MM = 0.01
"""Rounding in the file is a thousandth of this."""


def drawn(build: WingBuild, paper: str = "a4") -> bytes:
    return true_size_pdf(true_size_drawing(build), paper_named(paper))


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("翼 Ωμέγα", "? ?????"),
        (") Tj ET Q /Evil (", ") Tj ET Q /Evil ("),
        ("\\", "\\"),
        ("w" * 80, "w" * 31 + "..."),
        ("Größe txt", "Größe txt"),
    ],
)
def test_odd_names(built: Build, name: str, shown: str) -> None:
    pages = pages_of(drawn(built(tiny(name=name))))
    assert all(shown in page.text for page in pages)


def test_a_wing_of_one_panel_without_fittings(built: Build) -> None:
    pages = pages_of(drawn(built(TINY)))
    assert len(pages) == 2
    assert "Root section, 0 mm from the root" in pages[0].text
    assert "Tip section, 8 mm from the root" in pages[1].text
    for page in pages:
        assert page.of(PENS["bore"]) == page.of(PENS["hinge"]) == []
        assert "no." not in page.text


def test_a_closed_tip_ends_with_the_section_before_it(small_build: WingBuild) -> None:
    titles = [sheet.title for sheet in true_size_drawing(small_build).sheets]
    cap = small_build.design.body.cap
    assert cap is not None
    assert titles[0] == "root section, span 0 mm"
    assert titles[1] == "joint of panel-1 and panel-2, span 25 mm"
    assert titles[2].startswith("last section before the tip's cap, span ")
    assert 0.0 <= cap.base_mm - float(titles[2].split()[-2]) < 0.1
    assert len(titles) == 3


def test_a_large_chord_takes_more_pages(built: Build) -> None:
    stations = [{**station, "chord_mm": 600.0} for station in TINY["station"]]
    build = built(tiny(station=stations, printer={"bed_x_mm": 700.0, "bed_y_mm": 700.0}))
    pages = pages_of(drawn(build))
    root = [page for page in pages if "root section" in page.text]
    assert len(root) >= 3
    for number, page in enumerate(root, start=1):
        assert f"sheet {number} of {len(root)}" in page.text
        # whatever the window shows, the outline is drawn whole behind it, and at true size
        sections = page.of(PENS["section"])
        if sections:
            assert sections[0].size[0] == pytest.approx(600.0, abs=0.1)
    assert sum(bool(page.of(PENS["section"])) for page in root) >= 3


def test_the_drawing_does_not_depend_on_the_hand(built: Build) -> None:
    both, right = built(TINY), built(tiny(wing={"tip": "open", "hand": "right"}))
    assert drawn(both) == drawn(right)


def test_twist_both_ways_is_told_with_its_sign(built: Build) -> None:
    stations = [{**TINY["station"][0], "twist_deg": 4.0}, {**TINY["station"][1], "twist_deg": -3.0}]
    first, last = pages_of(drawn(built(tiny(station=stations))))
    assert "twist 4.00 deg" in first.text
    assert "twist -3.00 deg" in last.text
    # chord of 40 mm, turned nose up about its quarter: trailing edge 30 sin 4 deg lower, leading edge higher
    assert f"the leading edge lies {10 * np.sin(np.deg2rad(4)):.1f} mm above it" in " ".join(
        first.text.split()
    )
    assert f"middle {30 * np.sin(np.deg2rad(4)):.1f} mm below it" in " ".join(first.text.split())


def test_letter_paper_changes_the_page_and_nothing_of_the_wing(built: Build) -> None:
    a4, letter = (pages_of(drawn(built(TINY), paper)) for paper in ("a4", "letter"))
    for one, other in zip(a4, letter, strict=True):
        assert one.size != other.size
        (a,), (b,) = one.of(PENS["section"]), other.of(PENS["section"])
        assert b.size == pytest.approx(a.size, abs=SAME_MM)


def test_a_paper_that_there_is_not_writes_nothing(built: Build, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="paper: got 'a5'"):
        write_build(built(TINY), tmp_path / "out", paper="a5")
    assert list(tmp_path.iterdir()) == []
