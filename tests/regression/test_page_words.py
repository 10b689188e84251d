"""What the report, the planform and the terminal say, word for word where words can mislead."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from assessed import EDGE_MM, SHORT_WING
from reported import reported

from wingpath.build.path_rates import PathRates
from wingpath.cli import build_words
from wingpath.cli.commands import check as check_command
from wingpath.cli.commands.lighten import counted_words
from wingpath.io.gcode_reader import is_gcode
from wingpath.lighten.bench import Bench
from wingpath.lighten.judging import Judgement
from wingpath.lighten.searching import Counts
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline import hinge_sheets, tracing
from wingpath.pipeline.assess_document import ALL_CAUTIONS
from wingpath.pipeline.assessing import assess_wing
from wingpath.pipeline.checking import check_mesh
from wingpath.pipeline.design import design_wing
from wingpath.pipeline.planform_sketch import planform_sketch
from wingpath.report.page_tables import known_by, number_tables
from wingpath.report.planform_picture import PlanSketch, planform_svg, spread
from wingpath.report.true_size import Words

SVG = "{http://www.w3.org/2000/svg}"


def reported_cautions() -> list[str]:
    """Return the cautions of a build with its strength."""
    return list(reported().document["cautions"])


PX = 0.05
"""Half of the last digit of a written place, and rounding [px]."""

SURFACE = {
    "name": "aileron[0]",
    "part": "aileron-1",
    "from_mm": 50.0,
    "to_mm": 320.0,
    "free_up_deg": 35.0,
    "wanted_up_deg": 25.0,
    "free_down_deg": 34.0,
    "wanted_down_deg": 15.0,
    "horn_mm": [152.3, 4.0, 120.0],
}


def test_two_numbers_of_a_cell_are_parted_as_its_head_says() -> None:
    # "35, 25" under "free / wanted" reads as a decimal in half of Europe
    document = {**reported().document, "strength": None}
    document["fittings"] = {**document["fittings"], "control_surfaces": [SURFACE]}
    (table,) = (one for one in number_tables(document, ()) if one.caption == "Control surfaces")
    assert table.rows == (("aileron-1 (aileron[0])", "50.0 to 320.0", "35 / 25", "34 / 15", "120.0 / 152.3"),)


def test_the_entry_of_the_spec_stands_beside_the_part_that_is_made_from_it() -> None:
    document = {**reported().document, "strength": None}
    assert "Keys count" not in number_tables(document, ())[0].note
    document["fittings"] = {**document["fittings"], "control_surfaces": [SURFACE]}
    note = number_tables(document, ())[0].note
    assert "aileron-1 is made from aileron[0], the first [[aileron]] of the spec being aileron[0]." in note


def test_what_follows_from_the_spec_is_known_by_geometry() -> None:
    assert known_by("area_dm2", "published") == "geometry"
    assert known_by("wing_loading_g_dm2", "published") == "geometry, your mass"
    assert known_by("root_bending_n_mm", "published") == "published"
    assert known_by("area_dm2", None) == known_by("mass_g", None) == "-"
    # the document keeps its three words
    strength = reported().document["strength"]
    assert strength["sources"]["area_dm2"] == "published"
    (table,) = (
        one
        for one in number_tables(reported().document, [("area_dm2", "wing area", "dm2", 1.6)])
        if one.caption == "Mass, stiffness, strength, speed"
    )
    assert table.rows[0][-1] == "geometry"


@pytest.mark.parametrize("cautions", [reported_cautions, lambda: ALL_CAUTIONS], ids=["build", "assess"])
def test_each_caution_is_said_once(cautions: Callable[[], Sequence[str]]) -> None:
    said = list(cautions())
    assert len(said) == len(set(said))
    for words in ("proof-load", "national rules", "airworthiness", "Flutter", "propeller"):
        assert sum(words in one for one in said) == 1, words


def test_the_page_says_once_which_half_it_shows() -> None:
    page = reported().page
    assert "Drawings on this page show the right half; only the layers below show the left hand" in page
    assert "Masses and centres of gravity of one half wing" in page
    assert "left half</caption>" not in page


def test_the_button_of_a_finding_keeps_off_its_text() -> None:
    (rule,) = re.findall(r"\.finding button \{([^}]*)\}", reported().page)
    assert "margin-left: .6em" in rule


def test_a_narrow_screen_is_told_that_the_planform_scrolls() -> None:
    page = reported().page
    words = "On a narrow screen this drawing and the tables scroll sideways."
    assert f'<p class="soft narrow">{words}</p>' in page
    # hidden where there is room, and on paper
    assert ".narrow { display: none; } @media (max-width: 760px) { .narrow { display: block; } }" in page
    assert ".how, .narrow, #solid-view" in page


def sketch_of(joints: Sequence[float]) -> PlanSketch:
    stations = ((0.0, 0.0, 210.0), (350.0, 45.0, 180.0), (650.0, 100.0, 130.0))
    return PlanSketch(
        name="close",
        outline=np.array([[z, x] for z, x, _ in stations] + [[z, x + c] for z, x, c in stations[::-1]]),
        stations=stations,
        joints=tuple((at, 46.0, 178.0) for at in joints),
        ribs=(),
        fittings=(),
    )


def test_a_joint_beside_a_station_has_its_number_too() -> None:
    root = ET.fromstring(planform_svg(sketch_of((360.0,))))
    groups = [one for one in root.iter(f"{SVG}g") if one.get("class") == "station"]
    assert [one.get("data-span-mm") for one in groups] == ["0", "350", "360", "650"]
    across = [float(one.findall(f"{SVG}text")[0].get("x", "nan")) for one in groups]
    assert min(b - a for a, b in itertools.pairwise(across)) >= 46.0 - PX


@pytest.mark.parametrize(
    ("places", "wanted"),
    [
        ([10.0, 60.0, 200.0], [10.0, 60.0, 200.0]),
        ([10.0, 20.0, 200.0], [10.0, 50.0, 200.0]),
        ([150.0, 190.0, 199.0], [120.0, 160.0, 200.0]),
        ([0.0, 250.0], [5.0, 200.0]),
        ([], []),
    ],
)
def test_numbers_make_room_for_each_other(places: list[float], wanted: list[float]) -> None:
    assert spread(places, apart=40.0, low=5.0, high=200.0) == pytest.approx(wanted)


def test_more_numbers_than_there_is_room_for_share_it() -> None:
    even = [0.0, 25.0, 50.0, 75.0, 100.0]
    assert spread([50.0] * 5, apart=40.0, low=0.0, high=100.0) == pytest.approx(even)


def test_root_tip_and_the_way_of_flight_are_marked() -> None:
    sketch = planform_sketch(reported().build)
    root = ET.fromstring(planform_svg(sketch))
    (group,) = (one for one in root.iter(f"{SVG}g") if one.get("class") == "planform")
    left, scale = float(group.get("data-box-left", "nan")), float(group.get("data-scale", "nan"))
    told = {"".join(one.itertext()): float(one.get("x", "nan")) for one in root.iter(f"{SVG}text")}
    assert told["root"] == pytest.approx(left, abs=PX)
    assert told["tip"] == pytest.approx(left + 90.0 * scale, abs=PX)
    assert "flies" in told
    (arrow,) = (one for one in root.iter(f"{SVG}g") if one.get("class") == "flight")
    head = arrow.findall(f".//{SVG}path")[-1].get("d", "")
    points = np.array([[float(v) for v in pair.split(",")] for pair in re.findall(r"[-\d.]+,[-\d.]+", head)])
    # the front is up: the point of the arrow is its highest corner
    assert points[:, 1].min() == points[0, 1] < points[1, 1]


def shown_by(run: Callable[[], object], capsys: pytest.CaptureFixture[str]) -> str:
    run()
    return " ".join(capsys.readouterr().out.split())


def test_a_mesh_with_loose_ribs_is_told_why_nobody_can_know(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from dataclasses import replace

    import trimesh

    from wingpath.core.findings import Finding

    file = tmp_path / "box.stl"
    trimesh.creation.box((20.0, 10.0, 2.0)).export(file)
    assert not is_gcode(file)
    clean = check_mesh(file)
    loose = Finding("loose-rib", "warning", "a slot ends 3.00 mm from the nearest skin", "")
    said = shown_by(lambda: check_command._show([replace(clean, findings=(loose,))], [], notes=False), capsys)
    assert "A mesh does not tell why a rib ends where it does." in said
    assert "the report of the build, which knows the design, counts it as a note" in said
    assert "A mesh does not tell" not in shown_by(
        lambda: check_command._show([clean], [], notes=False), capsys
    )


def test_the_terminal_turns_a_mesh_as_the_print_plan_does() -> None:
    part: dict[str, Any] = {"panel": "panel-1", "turn_on_bed_deg": 1.0, "printing": {"turn_on_bed_deg": 25.0}}
    assert "panel-1 by 25 deg." in build_words._turning_line([part])
    assert "panel-1 by 1 deg." in build_words._turning_line([{**part, "printing": None}])
    assert build_words._turning_line([{**part, "printing": {"turn_on_bed_deg": 0.0}}]) == ""


def test_progress_is_told_in_words_of_a_builder() -> None:
    told: list[tuple[str, float]] = []
    design = design_wing(spec_from_dict(SHORT_WING))
    assess_wing(design, edge_mm=EDGE_MM, progress=lambda words, share: told.append((words, share)))
    words = [one for one, _ in told]
    assert "done" not in words
    assert not any("freedoms" in one for one in words)
    assert {"stiffness and wrinkles worked out: slots open", "parts built and judged"} <= set(words)
    assert "stiffness and wrinkles worked out: no ribs" in words


class OneAfterTheOther:
    """An engine whose every job takes ten seconds of a clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 0.0

    def run(self, _look: object, jobs: Sequence[object]) -> Iterator[tuple[int, Judgement]]:
        for place in range(len(jobs)):
            self.now += 10.0
            yield place, Judgement(None, "no room")


def test_the_time_left_of_a_search_counts_what_is_running(monkeypatch: pytest.MonkeyPatch) -> None:
    engine, told = OneAfterTheOther(), list[str]()
    monkeypatch.setattr("wingpath.lighten.bench.time.monotonic", lambda: engine.now)
    freedom: Any = None
    looks: Any = engine
    bench = Bench(freedom, {}, ".", looks, lambda words, _: told.append(words), 6)
    bench.judge_changes([{"print.bead_mm": 0.4}])
    bench.judge_changes([{"print.bead_mm": 0.41}, {"print.bead_mm": 0.42}, {"print.bead_mm": 0.43}])
    # ten seconds for each of what is left, from the first one on
    assert told == [
        "1 built and solved, about 50 s left",
        "2 built and solved, about 40 s left",
        "3 built and solved, about 30 s left",
        "4 built and solved, about 20 s left",
    ]


class StraightHinge:
    """As much of an aileron as its stations ask for."""

    def hinge_mm(self, _z: float) -> tuple[float, float]:
        return 149.0, 4.0


def test_words_of_near_stations_do_not_meet() -> None:
    aileron: Any = StraightHinge()
    items = hinge_sheets._stations(aileron, [(340.0, "bay begins"), (350.0, "horn"), (400.0, "")])
    words = [item for item in items if isinstance(item, Words)]
    extents = {one.text: one.extent for one in words}
    begins, horn = extents["340 bay begins"], extents["350 horn"]
    # a capital's height between two rows that stand over each other
    assert begins[0, 1] - horn[1, 1] >= 1.5
    # the line of the upper words passes the lower ones; outboard is to the left
    assert horn[1, 0] < -340.0 - 1.0


def short_layers(count: int) -> tuple[str, str]:
    """Return what is said of so many layers that are over too soon and are slowed."""
    some = np.arange(4) < count
    plain = np.full(4, 20.0)
    rates = PathRates(plain, plain / 20.0, plain + 200.0, some, some, 20.0, 20.0, 1.0)
    setup = design_wing(spec_from_dict(SHORT_WING)).print_setup
    found = {one.code: one.message for one in tracing._rate_findings(setup, "panel-1", rates)}
    return found["short-layer"], found["slowed"]


def test_one_layer_is_one() -> None:
    short, slowed = short_layers(1)
    assert short.startswith("1 layer takes less than ")
    assert slowed.startswith("1 layer is laid slower ")
    short, slowed = short_layers(2)
    assert short.startswith("2 layers take less than ")
    assert slowed.startswith("2 layers are laid slower ")


def test_the_end_of_a_search_counts_what_its_progress_counted() -> None:
    counts = Counts(guessed=1, refused=0, left_out=0, judged=9)
    assert counted_words(counts, 3) == (
        "1 layout guessed, 0 of them cannot be drawn; 9 built, proven layer by layer and solved, and 3 more "
        "to tell what each kind of rib bought"
    )
    assert counted_words(counts, 0).endswith("layer by layer and solved")
