"""Words that people read: a unit means one thing, and a thing has one name."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from assessed import EDGE_MM, SHORT_WING
from reported import reported

import wingpath
from wingpath.lighten.lighten_document import PANELS
from wingpath.lighten.measures import Measures
from wingpath.lighten.targets import Target, targets_of
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.assessing import assess_build
from wingpath.pipeline.building import build_wing
from wingpath.pipeline.comparing import ROWS
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page
from wingpath.report.span_charts import span_charts

SOURCES = Path(wingpath.__file__).parent


def texts_of(file: Path) -> Iterator[ast.JoinedStr]:
    return (node for node in ast.walk(ast.parse(file.read_text("utf-8"))) if isinstance(node, ast.JoinedStr))


def test_no_text_gives_a_load_factor_in_grams() -> None:
    # "2.02 g" beside bags in grams would be read as the mass of a bag
    found = []
    for file in sorted(SOURCES.rglob("*.py")):
        for text in texts_of(file):
            for value, after in zip(text.values, text.values[1:], strict=False):
                if not isinstance(value, ast.FormattedValue) or not isinstance(after, ast.Constant):
                    continue
                told = str(after.value)
                grams = told == " g" or told.startswith((" g ", " g,", " g.", " g:"))
                if grams and "factor" in ast.unparse(value.value):
                    found.append(f"{file.name}:{value.lineno}")
    assert not found


@pytest.mark.parametrize("key", ["first_buckling_load_factor", "tip_deflection_mm_per_g"])
def test_rows_of_load_factors_are_not_in_grams(key: str) -> None:
    (row,) = (kind for kind in ROWS if kind.key == key)
    assert row.unit != "g"
    assert "load factor" in row.title
    assert " g " not in f" {row.title} "


def test_the_verdict_and_the_diagrams_speak_of_load_factors() -> None:
    document = reported().document
    assert "the skin wrinkles first at load factor " in document["strength"]["verdict"]
    (chart,) = (one for one in span_charts(document["spanwise"]) if one.title == "Deflection, up")
    assert [line.name for line in chart.lines] == ["at the limit, load factor 4", "at load factor 1"]
    (panel,) = (one for one in PANELS if one[0] == "first_buckling_load_factor")
    assert panel[1:3] == ("Load factor at the first wrinkle", "")


def strength_target() -> tuple[Target, Measures]:
    spec = spec_from_dict(SHORT_WING)
    weak = Measures(
        mass_g=30.0,
        printed_mass_g=25.0,
        skin_g=20.0,
        ribs_g=4.0,
        webs_g=1.0,
        fittings_g=0.0,
        twist_deg_per_n_m=2.0,
        strength_share=1.25,
        strength_place="tube bending at the root",
        first_buckling_g=3.0,
    )
    targets = targets_of(spec, weak)
    (strength,) = (one for one in targets.targets if one.key == "strength")
    stops = {stop.key: stop.words for stop in targets.stops(weak)}
    # allowable over demand, less 1: 1 / 1.25 - 1
    assert stops["strength"] == "tube bending at the root: margin -0.20, at least 0 asked"
    assert stops["first_buckling_load_factor"] == "load factor at the first wrinkle 3, at least 4 asked"
    return strength, weak


def test_strength_is_told_as_the_margin_that_assess_tells() -> None:
    strength, _ = strength_target()
    assert strength.called == "least margin of strength at 1.5 x limit"
    # 1 / 0.1067 - 1 = 8.37
    assert (strength.told(0.1067), strength.told(None), strength.bound) == ("+8.37", "-", ">= 0")
    # the document keeps its share, and says how the two belong together
    assert strength.as_dict()["value"] == 1.0
    assert "1 / (1 + margin)" in strength.as_dict()["title"]


def test_all_errors_are_counted_in_the_verdict() -> None:
    # a printer too low for the wing, and an aircraft too heavy for it: errors of printing and of strength
    spec = {
        **SHORT_WING,
        "printer": {"height_mm": 60.0},
        "aircraft": {"all_up_mass_g": 40000.0, "load_factor": 10.0, "max_speed_m_s": 25.0},
    }
    build = build_wing(spec_from_dict(spec))
    assessed = assess_build(build, edge_mm=EDGE_MM)
    document = report_document(build, spec_name="sedge.toml", assessed=assessed)
    told = [one["severity"] for one in document["findings"]].count("error")
    assert told > sum(finding.severity == "error" for finding in build.findings) > 0
    assert f", {told} errors: do not print this wing as it is" in document["verdict"]
    page = build_page(build, document, assessed)
    assert f"Found: {told} errors" in page
    assert f", {told} errors: do not print" in page
