"""The report page as text: numbers, escaping, colours, drawings measured by their coordinates."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from reported import ROGUE, reported

from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.building import build_wing
from wingpath.pipeline.planform_sketch import planform_sketch
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page
from wingpath.report.colours import LEAST_STEP, TEXT_CONTRAST, contrast, lightness
from wingpath.report.page_colours import DARK, LIGHT, PAPER
from wingpath.report.page_tables import Table
from wingpath.report.planform_picture import planform_svg
from wingpath.report.span_charts import charts_page_svgs, span_charts

PX = 2e-3
"""Coordinates in a drawing are written to a thousandth of a pixel."""

VOID = {"meta", "br", "hr", "img", "link", "input"}

SVG = "{http://www.w3.org/2000/svg}"


class Reader(HTMLParser):
    """Reads a page strictly: every element has to be closed in turn."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.text: list[str] = []
        self.alts: list[str | None] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if "id" in found:
            self.ids.append(found["id"] or "")
        if tag == "a":
            self.links.append(found.get("href") or "")
        if tag == "img":
            self.alts.append(found.get("alt"))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1:] == [tag]
        self.open.pop()

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("script", "style"):
            self.text.append(data)


@pytest.fixture(scope="module")
def read() -> Reader:
    reader = Reader()
    reader.feed(reported().page)
    reader.close()
    return reader


def words(reader: Reader) -> str:
    return " ".join(" ".join(reader.text).split())


def test_the_page_is_sound_and_its_links_lead_somewhere(read: Reader) -> None:
    assert read.open == []
    assert len(set(read.ids)) == len(read.ids)
    assert read.links
    for link in read.links:
        assert link.startswith("#")
        assert link[1:] in read.ids
    assert read.alts
    assert all(read.alts)


def test_nothing_on_the_page_is_fetched() -> None:
    page = re.sub(r'<script type="text/plain".*?</script>', "", reported().page, flags=re.S)
    assert not re.search(r'(src|href)\s*=\s*"(?!#|data:)', page)
    assert "default-src 'none'" in page
    assert "@import" not in page
    assert "url(" not in page


def test_a_name_with_markup_is_written_as_text(read: Reader) -> None:
    assert ROGUE in words(read)
    assert "<img src=x" not in reported().page
    assert "</script><script>window" not in reported().page
    data = json.loads(re.findall(r'id="report-data">(.*?)</script>', reported().page, re.S)[0])
    assert {one["code"] for one in data["findings"]} == {f["code"] for f in reported().document["findings"]}


def test_every_number_that_matters_stands_on_the_page(read: Reader) -> None:
    text, document = words(read), reported().document
    assert f"{document['verdict']}." in text
    assert f"By estimate: {document['strength']['verdict']}." in text
    for part in document["panels"]:
        assert f"{part['path_m']:.1f}" in text
        assert f"{part['printing']['print_time_s'] / 3600:.1f}" in text
        for name in part["files"]:
            assert name in text or not name.endswith(".gcode")
    for key in ("mass_g", "twist_deg_per_n_m", "tip_deflection_mm_per_g", "first_buckling_load_factor"):
        assert f"{document['strength'][key]:.3g}" in text
    for one in document["strength"]["margin_details"]:
        assert one["title"] in text
        assert f"{one['value']:+.2f}" in text or one["value"] >= 99.0
    for finding in document["findings"]:
        assert " ".join(finding["message"].split()) in text
    for caution in document["cautions"]:
        assert caution in text
    assert "estimate until the wing has been proof-loaded" in text
    assert "tab[0]: drill 2 mm at" in text
    assert "Joint at 45 mm: glue line" in text


def test_a_build_without_strength_says_so_and_shows_the_rest() -> None:
    found = reported()
    document = report_document(found.build, spec_name="sedge.toml", why_not="left out with --no-strength")
    assert document["strength"] is None
    assert document["spanwise"] is None
    page = build_page(found.build, document)
    assert "No numbers along the span: left out with --no-strength." in page
    assert "By estimate:" not in page
    assert 'id="layer-canvas"' in page
    assert len(page) < len(found.page)


def test_an_error_is_the_first_that_is_read() -> None:
    data = {
        "name": "Bad",
        "station": [{"span_mm": 0.0, "chord_mm": 60.0}, {"span_mm": 45.0, "chord_mm": 50.0}],
        "panels": {"joints_mm": []},
        "printer": {"height_mm": 40.0},
    }
    build = build_wing(spec_from_dict(data))
    document = report_document(build, spec_name="bad.toml", why_not="x")
    page = build_page(build, document)
    verdict = page[page.index('id="verdict"') - 40 : page.index("</header>")]
    assert 'class="verdict error"' in verdict
    assert "do not print this wing as it is" in verdict
    assert 'class="sign">NO<' in verdict
    assert "too-big" in page[page.index('id="findings"') :]
    assert "Do not print yet" in page
    assert page.index('class="finding error"') < page.index('id="planform"')


def test_strength_errors_reach_the_verdict_and_the_count() -> None:
    """A hollow promise: the same wing asked to bear far more than it can."""
    from assessed import SHORT_WING, assessed_fused

    heavy = {**SHORT_WING, "aircraft": {"all_up_mass_g": 3000.0, "load_factor": 12.0, "max_speed_m_s": 40.0}}
    assessed = assessed_fused(heavy)
    document = report_document(assessed.build, spec_name="x.toml", assessed=assessed)
    assert document["proven"]
    assert "broken-margin" in {finding["code"] for finding in document["findings"]}
    assert document["counts"]["error"] >= 1
    assert document["verdict"].endswith("of stiffness or strength: do not fly this wing as it is")
    assert "margins broken" in document["strength"]["verdict"]


@pytest.mark.parametrize("colours", [LIGHT, DARK, PAPER], ids=["light", "dark", "paper"])
def test_colours_of_the_page_can_be_read_and_told_apart(colours: dict[str, Any]) -> None:
    assert set(colours) == set(LIGHT)
    for name in ("ink", "axis", "fused", "error", "warning", "note"):
        assert contrast(colours[name], colours["ground"]) >= TEXT_CONTRAST, name
    assert contrast(colours["ink"], colours["solid"]) >= TEXT_CONTRAST
    for one, other in (("solid", "bead"), ("bead", "fused"), ("bead", "centre"), ("solid", "fused")):
        assert abs(lightness(colours[one]) - lightness(colours[other])) >= LEAST_STEP, (one, other)
    assert contrast(colours["bead"], colours["ground"]) >= 1.5
    assert abs(lightness(colours["cut"]) - lightness(colours["ground"])) > 8.0


def svg_group(root: Any, name: str) -> list[Any]:
    return [element for element in root.iter(f"{SVG}g") if element.get("class") == name]


def path_points(element: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
    data = element.find(f".//{SVG}path").get("d")
    return np.array([[float(v) for v in pair.split(",")] for pair in re.findall(r"[-\d.]+,[-\d.]+", data)])


def test_the_planform_is_drawn_where_it_is() -> None:
    found = reported()
    sketch = planform_sketch(found.build, found.assessed)
    root = ET.fromstring(planform_svg(sketch))
    (group,) = svg_group(root, "planform")
    scale, left, top, front = (
        float(group.get(f"data-{key}")) for key in ("scale", "box-left", "box-top", "front-mm")
    )

    def px(span: float, aft: float) -> tuple[float, float]:
        return left + scale * span, top + scale * (aft - front)

    (outline,) = svg_group(group, "outline")
    corners = [px(0.0, 0.0), px(90.0, 6.0), px(90.0, 86.0), px(0.0, 100.0)]
    assert path_points(outline) == pytest.approx(np.array(corners), abs=PX)
    (joint,) = svg_group(group, "joint")
    assert path_points(joint) == pytest.approx(np.array([px(45.0, 3.0), px(45.0, 93.0)]), abs=PX)
    fittings = {element.get("data-key"): path_points(element) for element in svg_group(group, "fitting")}
    assert set(fittings) == {"tube[0]", "tab[0]"}
    bore = 0.5 * found.build.design.voids.bores[0].radius_mm * 2.0
    tube = fittings["tube[0]"]
    assert np.ptp(tube[:, 1]) / scale >= 2.0 * bore * 0.99
    assert tube[:, 0].max() == pytest.approx(px(80.0, 0.0)[0], abs=PX)
    (mean,) = svg_group(group, "mean-chord")
    plan = found.document["strength"]["planform"]
    chord = found.document["strength"]["mean_chord_mm"]
    assert float(mean.get("data-length-mm")) == pytest.approx(chord, 1e-4)
    assert float(mean.get("data-span-mm")) == pytest.approx(plan["mean_chord_span_mm"], 1e-4)
    (centre,) = svg_group(group, "centre")
    x, _, z = found.document["strength"]["masses"]["half_wing"]["centre_mm"]
    assert float(centre.get("data-span-mm")) == pytest.approx(z, 1e-4)
    assert float(centre.get("data-aft-mm")) == pytest.approx(x, 1e-4)
    ribs = svg_group(group, "rib")
    assert len(ribs) == len(sketch.ribs)
    for element, rib in zip(ribs, sketch.ribs, strict=True):
        assert path_points(element) == pytest.approx(np.array([px(*p) for p in rib.points.tolist()]), abs=PX)
        # a rib at 45 degrees goes as far aft or fore as out
        away = np.diff(path_points(element)[[0, -1]], axis=0)[0]
        slope = {"aft": 1.0, "forward": -1.0}.get(rib.run)
        assert slope is None or away[1] == pytest.approx(slope * away[0], rel=1e-3)


def test_diagrams_are_drawn_to_their_numbers() -> None:
    spanwise = reported().document["spanwise"]
    charts = span_charts(spanwise)
    assert [chart.key for chart in charts] == [
        "chord", "mass", "bending", "twisting", "deflection", "margin",
    ]  # fmt: skip
    for chart, svg in zip(charts, charts_page_svgs(charts), strict=True):
        (group,) = svg_group(ET.fromstring(svg), "chart")
        left, bottom, low, per_mm, per_unit = (
            float(group.get(f"data-{key}")) for key in ("left", "bottom", "low", "per-mm", "per-unit")
        )
        lines = svg_group(group, "line")
        assert len(lines) == len(chart.lines) >= 1
        for element, line in zip(lines, chart.lines, strict=True):
            drawn = path_points(element)
            finite = line.points[np.isfinite(line.points[:, 1])]
            wanted = np.column_stack([left + finite[:, 0] * per_mm, bottom - (finite[:, 1] - low) * per_unit])
            assert len(drawn) <= len(wanted)
            assert drawn == pytest.approx(wanted[: len(drawn)], abs=PX)
        assert "var(--" in svg
        assert chart.words.startswith(chart.title)


def test_a_table_with_a_cell_too_few_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed: 2"):
        Table("x", ("a", "b"), (("1",),))
