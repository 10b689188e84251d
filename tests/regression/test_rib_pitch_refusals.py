"""What is said where a pitch that varies cannot be: bad pairs, two rules at once, ribs along the sweep."""

from __future__ import annotations

import re
from typing import Any

import pytest
from assessed import SHORT_WING

from wingpath.core.errors import DesignError, Problem, SpecError
from wingpath.io.profile_store import load_airfoil
from wingpath.io.spec_toml import dump_spec, parse_toml
from wingpath.io.starter import starter_spec
from wingpath.model.ribs import RibPlane, rib_planes
from wingpath.model.spec import spec_from_dict
from wingpath.model.wing import wing_from_spec
from wingpath.pipeline.building import build_wing
from wingpath.pipeline.comparing import changed_keys
from wingpath.pipeline.document import build_document

STATIONS: list[dict[str, float]] = [
    {"span_mm": 0.0, "chord_mm": 150.0},
    {"span_mm": 200.0, "chord_mm": 150.0, "leading_edge_mm": 20.0},
    {"span_mm": 400.0, "chord_mm": 150.0, "leading_edge_mm": 260.0},
]
"""Swept 6 degrees and then 50: ribs of 45 degrees that lean aft cross mid chord twice."""

VARYING: list[list[float]] = [[0.0, 20.0], [400.0, 40.0]]


def problems_of(ribs: dict[str, Any], **more: Any) -> dict[str, Problem]:
    with pytest.raises(SpecError) as caught:
        spec_from_dict({"station": STATIONS, "ribs": ribs, **more})
    return {problem.key: problem for problem in caught.value.problems}


def test_both_rules_at_once() -> None:
    found = problems_of({"pitch_mm": 30.0, "pitch_along_mm": VARYING})
    problem = found["ribs.pitch_mm and ribs.pitch_along_mm"]
    assert list(found.values()) == [problem]
    assert problem.got == "both"
    assert "one of the two" in problem.allowed
    assert "Leave one of them out" in problem.hint


@pytest.mark.parametrize(
    ("pairs", "key", "got"),
    [
        ([[0.0, 4.999], [400.0, 30.0]], "ribs.pitch_along_mm[0]", "a pitch of 4.999 mm"),
        ([[0.0, 30.0], [400.0, 501.0]], "ribs.pitch_along_mm[1]", "a pitch of 501 mm"),
        ([[-1.0, 30.0], [400.0, 30.0]], "ribs.pitch_along_mm[0]", "a place at -1 mm"),
        ([[0.0, 30.0], [5001.0, 30.0]], "ribs.pitch_along_mm[1]", "a place at 5001 mm"),
        ([[0.0, 30.0], [9.0, 40.0], [9.0, 50.0]], "ribs.pitch_along_mm[2]", "a place at 9 mm"),
        ([[0.0, 30.0], [9.0, 40.0], [8.0, 50.0]], "ribs.pitch_along_mm[2]", "a place at 8 mm"),
    ],
)
def test_pair_out_of_range_or_order(pairs: list[list[float]], key: str, got: str) -> None:
    found = problems_of({"pitch_along_mm": pairs})
    assert list(found) == [key]
    assert found[key].got == got
    assert found[key].allowed
    assert found[key].hint


@pytest.mark.parametrize("pairs", [[[0, 5], [5000, 500]], [[0.0, 500.0], [1e-9, 5.0]]])
def test_ends_of_the_ranges_are_allowed(pairs: list[list[float]]) -> None:
    ribs = spec_from_dict({"station": STATIONS, "ribs": {"pitch_along_mm": pairs}}).ribs
    assert ribs.pitch_along_mm == tuple((span, pitch) for span, pitch in pairs)


@pytest.mark.parametrize(
    ("pairs", "key"),
    [
        ([[0.0, 30.0]], "ribs.pitch_along_mm"),
        ([], "ribs.pitch_along_mm"),
        ([[float(n), 30.0] for n in range(21)], "ribs.pitch_along_mm"),
        (30.0, "ribs.pitch_along_mm"),
        ("30", "ribs.pitch_along_mm"),
        ([[0.0, 30.0], 400.0], "ribs.pitch_along_mm[1]"),
        ([[0.0, "30"], [400.0, 40.0]], "ribs.pitch_along_mm[0][1]"),
        ([[0.0, True], [400.0, 40.0]], "ribs.pitch_along_mm[0][1]"),
        ([[0.0, float("nan")], [400.0, 40.0]], "ribs.pitch_along_mm[0][1]"),
        ([[0.0, float("inf")], [400.0, 40.0]], "ribs.pitch_along_mm[0][1]"),
        ([[0.0], [400.0, 40.0]], "ribs.pitch_along_mm[0][1]"),
        ([[0.0, 30.0, 1.0], [400.0, 40.0]], "ribs.pitch_along_mm[0]"),
    ],
)
def test_what_is_no_list_of_pairs(pairs: object, key: str) -> None:
    found = problems_of({"pitch_along_mm": pairs})
    assert list(found) == [key]
    assert "a list of 2 to 20 pairs of numbers" in found[key].allowed


def test_told_with_everything_else_that_is_wrong() -> None:
    found = problems_of(
        {"run": "sideways", "pitch_mm": 30.0, "pitch_along_mm": [[0.0, 2.0], [0.0, 40.0]]},
        slots={"width_mm": 3.0},
    )
    assert set(found) == {
        "ribs.run",
        "slots.width_mm",
        "ribs.pitch_mm and ribs.pitch_along_mm",
        "ribs.pitch_along_mm[0]",
        "ribs.pitch_along_mm[1]",
    }


def planes(ribs: dict[str, Any], stations: list[dict[str, float]] = STATIONS) -> tuple[RibPlane, ...]:
    spec = spec_from_dict({"station": stations, "ribs": ribs})
    return rib_planes(spec, wing_from_spec(spec, lambda name: load_airfoil(name)))


def test_ribs_that_cross_mid_chord_twice_are_refused() -> None:
    with pytest.raises(DesignError) as caught:
        planes({"run": "aft", "pitch_along_mm": VARYING})
    assert caught.value.culprits == ("ribs.pitch_along_mm", "station[1]", "station[2]")
    assert "50 degrees aft" in caught.value.reason
    assert "45 degrees" in caught.value.reason
    assert "one pitch_mm" in caught.value.remedy
    # atan(240 / 200) is 50.2 degrees: 51 is the nearest whole degree that leans more
    assert "angle_deg = 51" in caught.value.remedy


def test_a_wing_swept_exactly_as_the_ribs_lean_is_refused() -> None:
    """Then one rib runs along mid chord from end to end, and would have every pitch."""
    straight = [STATIONS[0], {"span_mm": 400.0, "chord_mm": 150.0, "leading_edge_mm": 400.0}]
    with pytest.raises(DesignError, match=r"station\[0\] and station\[1\].*angle_deg = (44|46)\b"):
        planes({"run": "aft", "pitch_along_mm": VARYING}, straight)
    assert planes({"run": "forward", "pitch_along_mm": VARYING}, straight)


def test_a_wing_swept_forward_is_refused_for_the_forward_run() -> None:
    mirrored = [{**s, "leading_edge_mm": -s.get("leading_edge_mm", 0.0)} for s in STATIONS]
    with pytest.raises(DesignError, match=r"swept 50 degrees forward.*angle_deg = 51"):
        planes({"run": "both", "pitch_along_mm": VARYING}, mirrored)
    assert planes({"run": "aft", "pitch_along_mm": VARYING}, mirrored)


def test_no_angle_is_named_where_none_helps() -> None:
    stations = [
        *STATIONS[:2],
        {"span_mm": 400.0, "chord_mm": 150.0, "leading_edge_mm": 420.0},
    ]
    with pytest.raises(DesignError) as caught:
        planes({"run": "aft", "pitch_along_mm": VARYING}, stations)
    assert caught.value.remedy == "Give one pitch_mm for the whole wing"


@pytest.mark.parametrize(
    "ribs",
    [
        {"run": "aft", "pitch_along_mm": VARYING, "angle_deg": 51.0},
        {"run": "forward", "pitch_along_mm": VARYING},
        {"run": "aft", "pitch_mm": 20.0},
        {"run": "aft", "pitch_along_mm": [[0.0, 20.0], [400.0, 20.0]]},
        {"run": "aft", "pitch_along_mm": [[0.0, 20.0], [400.0, 20.0], [500.0, 40.0]]},
    ],
)
def test_what_the_remedies_name_helps(ribs: dict[str, Any]) -> None:
    assert len(planes(ribs)) > 10


def test_without_ribs_nothing_is_refused() -> None:
    assert planes({"run": "none", "pitch_along_mm": VARYING}) == ()


PITCHED: dict[str, Any] = {
    **SHORT_WING,
    "ribs": {"run": "both", "pitch_along_mm": [[0.0, 18.0], [90.0, 36.0]]},
}


def test_a_small_wing_with_varying_pitch_is_proven() -> None:
    build = build_wing(spec_from_dict(PITCHED))
    assert build.proven
    assert [f for f in build.findings if f.severity == "error"] == []
    ribs = build_document(build, spec_name="sedge.toml")["ribs"]
    assert ribs["pitch_mm"] == 18.0
    assert ribs["pitch_along_mm"] == [[0.0, 18.0], [90.0, 36.0]]


def test_the_document_of_one_pitch() -> None:
    build = build_wing(spec_from_dict(SHORT_WING))
    ribs = build_document(build, spec_name="sedge.toml")["ribs"]
    assert ribs["pitch_mm"] == 24.0
    assert ribs["pitch_along_mm"] is None


def test_no_rib_names_the_key_that_was_given() -> None:
    """What to do depends on which key holds the pitch.

    A rib needs 1.5 beads of depth and a neck of 1.7, 2.56 mm here, and the section is 2.46 mm thick.
    """
    thin = {
        "station": [{"span_mm": z, "chord_mm": 41.0, "airfoil": "naca0006"} for z in (0.0, 60.0)],
        "wing": {"trailing_edge_mm": 0.2},
        "panels": {"joints_mm": []},
        "print": {"bead_mm": 0.8},
    }
    for ribs, words in (
        ({"pitch_mm": 30.0}, "a smaller pitch_mm"),
        ({"pitch_along_mm": [[0.0, 30.0], [60.0, 60.0]]}, "a smaller pitch in pitch_along_mm"),
    ):
        build = build_wing(spec_from_dict({**thin, "ribs": ribs}))
        remedies = [f.remedy for f in build.findings if f.code == "no-rib"]
        assert len(remedies) == 1
        assert words in remedies[0]


def test_written_and_read_back() -> None:
    spec = spec_from_dict(PITCHED)
    assert spec_from_dict(parse_toml(dump_spec(spec), source="again")) == spec


def test_comparison_tells_the_pairs() -> None:
    keys = {key for key, _, _ in changed_keys(spec_from_dict(SHORT_WING), spec_from_dict(PITCHED))}
    assert "ribs.pitch_along_mm" in keys


def test_the_starter_shows_the_key() -> None:
    """Its line replaces pitch_mm, as its remark says."""
    text = starter_spec()
    assert re.search(r"^# pitch_along_mm = .*instead of pitch_mm", text, re.M)
    swapped = re.sub(r"^pitch_mm = .*\n", "", text, flags=re.M).replace("# pitch_along_mm", "pitch_along_mm")
    assert spec_from_dict(parse_toml(swapped, source="starter")).ribs.pitch_along_mm is not None
