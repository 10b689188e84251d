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
from wingpath.pipeline.report_page import build_page, kinds_of_triangles
from wingpath.report.chart import ChartLine
from wingpath.report.colours import LEAST_STEP, TEXT_CONTRAST, contrast, lightness
from wingpath.report.packed import unpacked
from wingpath.report.page_colours import DARK, LIGHT, PAPER
from wingpath.report.page_tables import Table
from wingpath.report.planform_picture import PlanSketch, planform_svg
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


@pytest.mark.parametrize(("least", "most"), [(0.2, 5.0), (4.0, 6.0), (8.0, 12.0)])
def test_margins_are_seen_however_large_they_are(least: float, most: float) -> None:
    spanwise = reported().document["spanwise"]
    margin = {**spanwise["margin"]}
    for key in ("skin_compression", "layer_tension", "tube_bending"):
        margin[key] = [None if value is None else least + number for number, value in enumerate(margin[key])]
    (chart,) = (one for one in span_charts({**spanwise, "margin": margin}) if one.key == "margin")
    assert chart.most == pytest.approx(most)
    assert any(np.nanmin(line.values) < chart.most for line in chart.lines)


def test_a_table_with_a_cell_too_few_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed: 2"):
        Table("x", ("a", "b"), (("1",),))


def page_data(page: str) -> Any:
    return json.loads(re.findall(r'id="report-data">(.*?)</script>', page, re.S)[0])


def test_a_message_cannot_end_the_element_that_holds_it() -> None:
    found = reported()
    rogue = {**found.document["findings"][0], "message": "</script><b id='rogue'>", "remedy": "<i>"}
    page = build_page(found.build, {**found.document, "findings": [rogue]}, found.assessed)
    assert page_data(page)["findings"][0]["message"] == rogue["message"]
    assert "<b id=" not in page
    assert "<i>" not in page.replace("<i></i>", "")


def test_findings_lead_to_the_layer_of_their_worst_place() -> None:
    found = reported()
    parts = {part.name: part.continuity.layers for part in found.build.parts}
    placed = 0
    for told, finding in zip(page_data(found.page)["findings"], found.document["findings"], strict=True):
        assert told["code"] == finding["code"]
        if finding["panel"] is None:
            assert told["layer"] is None
        elif finding["z_mm"] is not None:
            layers = parts[finding["panel"]]
            assert layers.z_mm[told["layer"] - 1] == pytest.approx(
                finding["z_mm"], abs=0.51 * layers.layer_mm
            )
            placed += 1
    assert placed > 2


def test_every_triangle_is_skin_or_rib_or_fitting() -> None:
    solid = reported().build.panels[0].solid
    kinds = kinds_of_triangles(solid.mesh.surfaces, solid.surface_names)
    assert np.all(sum(mask.astype(int) for mask in kinds.values()) == 1)
    names = {
        kind: {solid.surface_names[number].split()[0] for number in np.unique(solid.mesh.surfaces[mask])}
        for kind, mask in kinds.items()
    }
    assert {"aft", "forward"} <= names["ribs"] <= {"aft", "forward", "spar_web[0]"}
    assert {"upper", "lower", "root"} <= names["skin"]
    assert not names["skin"] & {"aft", "forward"}
    assert "tube[0]" in names["fittings"]


def test_a_wing_that_sweeps_forward_is_drawn_from_its_foremost_point() -> None:
    sketch = PlanSketch(
        name="forward",
        outline=np.array([[0.0, 0.0], [100.0, -30.0], [100.0, 20.0], [0.0, 60.0]]),
        stations=((0.0, 0.0, 60.0), (100.0, -30.0, 50.0)),
        joints=(),
        ribs=(),
        fittings=(),
    )
    (group,) = svg_group(ET.fromstring(planform_svg(sketch)), "planform")
    top, scale = float(group.get("data-box-top")), float(group.get("data-scale"))
    (outline,) = svg_group(group, "outline")
    assert path_points(outline)[:, 1] == pytest.approx(
        top + scale * np.array([30.0, 0.0, 50.0, 90.0]), abs=PX
    )


def test_a_bay_is_drawn_with_its_slopes() -> None:
    data = {
        "station": [
            {"span_mm": 0.0, "chord_mm": 130.0, "airfoil": "naca2415"},
            {"span_mm": 90.0, "chord_mm": 120.0},
        ],
        "ribs": {"run": "none"},
        "servo_bay": [
            {"span_mm": 30.0, "length_mm": 22.0, "width_mm": 12.0, "depth_mm": 8.0, "chord_fraction": 0.4}
        ],
    }
    build = build_wing(spec_from_dict(data))
    (bay,) = build.design.voids.bays
    (drawn,) = [one for one in planform_sketch(build).fittings if one.kind == "servo"]
    assert (drawn.outline[:, 0].min(), drawn.outline[:, 0].max()) == pytest.approx(bay.reach_mm)
    assert bay.reach_mm[0] < 30.0 < 52.0 < bay.reach_mm[1]
    assert (drawn.outline[:, 1].min(), drawn.outline[:, 1].max()) == pytest.approx((bay.fore_mm, bay.aft_mm))


def test_a_line_between_edges_goes_in_steps() -> None:
    steps = ChartLine("", np.array([0.0, 1.0, 3.0]), np.array([5.0, 7.0]))
    assert steps.points.tolist() == [[0.0, 5.0], [1.0, 5.0], [1.0, 7.0], [3.0, 7.0]]
    assert ChartLine("", np.array([0.0, 1.0]), np.array([5.0, 7.0])).points.tolist() == [
        [0.0, 5.0],
        [1.0, 7.0],
    ]
    with pytest.raises(ValueError, match="as many, or one less"):
        ChartLine("", np.array([0.0, 1.0, 3.0, 4.0]), np.array([5.0, 7.0]))


def test_the_library_of_the_page_is_the_script_that_it_names() -> None:
    """Against the package that it was taken from."""
    from plotly import __version__
    from plotly.offline import get_plotlyjs

    page = reported().page
    packed = re.findall(r'id="solid-library">(.*?)</script>', page, re.S)[0]
    named = re.findall(r"plotly\.js of plotly (\S+), MIT licence", page)
    assert named == [__version__]
    # to show where two texts of megabytes part takes a quarter of an hour
    same = unpacked(packed).decode("utf-8") == get_plotlyjs()
    assert same
    assert "license" in get_plotlyjs()[:400].lower()
