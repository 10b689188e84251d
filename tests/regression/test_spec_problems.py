"""What is said about a spec that is wrong: every problem, with key, what was got, what is allowed."""

import copy
from collections.abc import Callable
from typing import Any

import pytest

from wingpath.core.errors import Problem, SpecError
from wingpath.model.spec import Spec, StationSpec, spec_from_dict

Data = dict[str, Any]

GOOD: Data = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 200.0},
        {"span_mm": 300.0, "chord_mm": 180.0},
        {"span_mm": 600.0, "chord_mm": 150.0},
    ],
    "tube": [{"outer_mm": 8.0, "inner_mm": 6.0, "to_mm": 420.0, "chord_fraction": 0.3}],
    "spar_web": [{"chord_fraction": 0.55, "from_mm": 250.0, "to_mm": 600.0}],
    "tab": [{"thickness_mm": 3.0, "width_mm": 18.0, "depth_mm": 25.0, "chord_fraction": 0.75}],
    "duct": [{"diameter_mm": 7.0, "chord_fraction": 0.45, "to_mm": 310.0}],
    "servo_bay": [
        {"span_mm": 310.0, "length_mm": 24.0, "width_mm": 13.0, "depth_mm": 10.0, "chord_fraction": 0.45}
    ],
    "plate_bay": [
        {"span_mm": 80.0, "length_mm": 40.0, "width_mm": 25.0, "depth_mm": 2.2, "chord_fraction": 0.35}
    ],
    "aileron": [{"from_mm": 320.0, "to_mm": 560.0, "hinge_fraction": 0.76}],
    "panels": {"joints_mm": [200.0, 400.0]},
    "print": {},
    "slots": {},
    "filament": {},
}


def problems_of(data: Data) -> dict[str, Problem]:
    with pytest.raises(SpecError) as caught:
        spec_from_dict(data, source="my.toml")
    assert str(caught.value).startswith("my.toml: ")
    return {problem.key: problem for problem in caught.value.problems}


def changed(change: Callable[[Data], object]) -> Data:
    data = copy.deepcopy(GOOD)
    change(data)
    return data


def test_the_good_one_is_good() -> None:
    assert spec_from_dict(GOOD).semi_span_mm == 600.0


@pytest.mark.parametrize(
    ("table", "key", "hint"),
    [
        ("station", "chord_m", "Did you mean `chord_mm`?"),
        ("station", "twist", "Did you mean `twist_deg`?"),
        ("tube", "outer", "Did you mean `outer_mm`?"),
        ("tube", "hinge_fraction", "This key belongs in [[aileron]]"),
        ("print", "pitch_mm", "This key belongs in [ribs] or [freedom]"),
        ("print", "name", "This key belongs at the top of the file, before the first table"),
        ("print", "zzzz", ""),
    ],
)
def test_typo_hint(table: str, key: str, hint: str) -> None:
    def change(data: Data) -> None:
        place = data[table][0] if isinstance(data[table], list) else data[table]
        place[key] = 1

    path = f"{table}[0].{key}" if isinstance(GOOD[table], list) else f"{table}.{key}"
    assert problems_of(changed(change))[path].hint == hint


def test_typo_of_a_table() -> None:
    problem = problems_of(changed(lambda d: d.update(ribz={"pitch_mm": 3})))["ribz"]
    assert problem.hint == "Did you mean `ribs`?"
    assert "station" in problem.allowed


def test_names_of_the_code_are_no_keys_of_a_file() -> None:
    problem = problems_of(changed(lambda d: d.update(tubes=d.pop("tube"))))["tubes"]
    assert problem.hint == "Did you mean `tube`?"


def test_single_and_double_brackets() -> None:
    found = problems_of(changed(lambda d: d.update(tube=d["tube"][0], print=[{}])))
    assert found["tube"].hint == "Write [[tube]] with double brackets"
    assert found["print"].hint == "Write [print] with single brackets"


def test_quoted_number_and_near_word() -> None:
    found = problems_of(changed(lambda d: d.update(ribs={"run": "Forwards", "pitch_mm": "30"})))
    assert found["ribs.run"].allowed == '"aft", "forward", "both" or "none"'
    assert found["ribs.run"].hint == 'Did you mean "forward"?'
    assert found["ribs.pitch_mm"] == Problem(
        "ribs.pitch_mm", 'the text "30"', "a number from 5 to 500 mm", "Write the number without quotes"
    )


def test_missing_keys_name_themselves() -> None:
    found = problems_of({"station": [{}, {"span_mm": 3}]})
    assert set(found) == {"station[0].span_mm", "station[0].chord_mm", "station[1].chord_mm"}
    assert found["station[0].chord_mm"].got == "nothing"
    assert found["station[0].chord_mm"].hint == "Add `chord_mm`"


@pytest.mark.parametrize("stations", [None, [], [{"span_mm": 0, "chord_mm": 100}]])
def test_fewer_than_two_stations(stations: list[Data] | None) -> None:
    data = {} if stations is None else {"station": stations}
    assert problems_of(data)["station"].allowed == "2 to 200 tables [[station]]"


def test_another_format() -> None:
    assert "reads format 1" in problems_of(changed(lambda d: d.update(format=2)))["format"].hint


def test_control_characters_in_the_name() -> None:
    problem = problems_of(changed(lambda d: d.update(name="a\nb")))["name"]
    assert problem.got == 'the text "a\\nb"'
    assert "on one line" in problem.allowed


def test_everything_wrong_is_told_at_once() -> None:
    """Unknown keys, types, ranges and contradictions together, though each alone would stop the others."""

    def change(data: Data) -> None:
        data["station"][0]["chord_mm"] = 2000
        data["station"][1]["span_mm"] = 700.0
        data["station"][2]["airfoil"] = 2412
        data["tube"][0] |= {"inner_mm": 9.0, "outer": 3}
        data["print"] = {"layer_mm": 0.5, "flow": "half"}
        data["slots"] = {"neck_mm": 0.9}
        data["duct"][0]["to_mm"] = 900.0
        data["panels"]["joints_mm"] = [400.0, 200.0]

    assert set(problems_of(changed(change))) == {
        "station[0].chord_mm",
        "station[2].airfoil",
        "station[2].span_mm",
        "tube[0].outer",
        "tube[0].inner_mm and tube[0].outer_mm",
        "print.flow",
        "print.layer_mm and print.bead_mm",
        "slots.neck_mm and print.bead_mm",
        "duct[0].to_mm",
        "panels.joints_mm[1]",
    }


def test_a_wrong_value_is_not_blamed_twice() -> None:
    found = problems_of(changed(lambda d: d["print"].update(bead_mm=9.0, layer_mm=0.5)))
    assert set(found) == {"print.bead_mm"}


CONTRADICTIONS: list[tuple[Callable[[Data], object], str]] = [
    (lambda d: d["station"][0].update(span_mm=10.0), "station[0].span_mm"),
    (lambda d: d["station"][1].update(span_mm=600.0), "station[2].span_mm"),
    (lambda d: d["station"][1].update(span_mm=599.5), "station[2].span_mm"),
    (lambda d: d["print"].update(layer_mm=0.37), "print.layer_mm and print.bead_mm"),
    (lambda d: d["slots"].update(neck_mm=0.45), "slots.neck_mm and print.bead_mm"),
    (lambda d: d["slots"].update(neck_mm=0.9), "slots.neck_mm and print.bead_mm"),
    (lambda d: d["tube"][0].update(from_mm=420.0), "tube[0].from_mm and tube[0].to_mm"),
    (lambda d: d["tube"][0].update(to_mm=600.1), "tube[0].to_mm"),
    (lambda d: d["tube"][0].update(inner_mm=8.0), "tube[0].inner_mm and tube[0].outer_mm"),
    (lambda d: d["tube"][0].update(outer_mm=0.0, inner_mm=0.0), "tube[0].outer_mm"),
    (lambda d: d["tube"][0].update(width_mm=5.0), "tube[0].width_mm and tube[0].shape"),
    (lambda d: d["tube"][0].update(shape="strip", outer_mm=0, width_mm=5, height_mm=1),
     "tube[0].inner_mm and tube[0].shape"),
    (lambda d: d["tube"][0].update(shape="strip", outer_mm=0, inner_mm=0, width_mm=5), "tube[0].height_mm"),
    (lambda d: d["spar_web"][0].update(to_mm=250.0), "spar_web[0].from_mm and spar_web[0].to_mm"),
    (lambda d: d.update(spar_web=[{"chord_fraction": 0.5, "from_mm": 600.0}]), "spar_web[0].from_mm"),
    (lambda d: d["duct"][0].update(to_mm=601.0), "duct[0].to_mm"),
    (lambda d: d["servo_bay"][0].update(span_mm=580.0), "servo_bay[0].span_mm and servo_bay[0].length_mm"),
    (lambda d: d["plate_bay"][0].update(span_mm=570.0), "plate_bay[0].span_mm and plate_bay[0].length_mm"),
    (lambda d: d.update(item=[{"name": "servo", "mass_g": 9, "span_mm": 600.1}]), "item[0].span_mm"),
    (lambda d: d["tab"][0].update(hole_mm=18.0), "tab[0].hole_mm and tab[0].width_mm"),
    (lambda d: d["tab"][0].update(hole_from_root_mm=9.0), "tab[0].hole_from_root_mm and tab[0].hole_mm"),
    (lambda d: d["tab"][0].update(hole_mm=3, hole_from_root_mm=25),
     "tab[0].hole_from_root_mm and tab[0].depth_mm"),
    (lambda d: d["aileron"][0].update(horn_mm=300.0), "aileron[0].horn_mm"),
    (lambda d: d["aileron"].append({"from_mm": 500.0, "to_mm": 590.0, "hinge_fraction": 0.7}),
     "aileron[0] and aileron[1]"),
    (lambda d: d["panels"].update(joints_mm=[0.0]), "panels.joints_mm[0]"),
    (lambda d: d["panels"].update(joints_mm=[600.0]), "panels.joints_mm[0]"),
    (lambda d: d["panels"].update(joints_mm=[300.0, 300.0]), "panels.joints_mm[1]"),
    (lambda d: d["filament"].update(temperature_min_c=240, temperature_max_c=230),
     "filament.temperature_min_c and filament.temperature_max_c"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "key"), CONTRADICTIONS, ids=[key for _, key in CONTRADICTIONS])
def test_contradiction(change: Callable[[Data], object], key: str) -> None:
    assert set(problems_of(changed(change))) == {key}


ALLOWED_EDGES: list[Callable[[Data], object]] = [
    lambda d: d["station"][1].update(span_mm=599.0),
    lambda d: d["print"].update(layer_mm=0.36),
    lambda d: d["slots"].update(neck_mm=0.451),
    lambda d: d["slots"].update(neck_mm=0.899),
    lambda d: d["tube"][0].update(to_mm=600.0, inner_mm=7.999),
    lambda d: d["tube"][0].update(inner_mm=0.0),
    lambda d: d["servo_bay"][0].update(span_mm=576.0),
    lambda d: d["aileron"][0].update(horn_mm=320.0),
    lambda d: d["aileron"].append({"from_mm": 560.0, "to_mm": 600.0, "hinge_fraction": 0.7}),
    lambda d: d["panels"].update(joints_mm=[]),
    lambda d: d.update(item=[{"name": "paint", "mass_g": 0, "span_mm": 600.0, "chord_fraction": 1.0}]),
    lambda d: d.update(
        tube=[{"shape": "strip", "width_mm": 5, "height_mm": 1, "to_mm": 9, "chord_fraction": 0.3}]
    ),
]


@pytest.mark.parametrize("change", ALLOWED_EDGES)
def test_just_allowed(change: Callable[[Data], object]) -> None:
    spec_from_dict(changed(change))


def test_contradictions_are_found_in_code_too() -> None:
    stations = (StationSpec(span_mm=5, chord_mm=200), StationSpec(span_mm=500, chord_mm=100))
    with pytest.raises(ValueError, match=r"station\[0\]\.span_mm: got 5"):
        Spec(stations=stations)


def test_a_flood_of_problems_is_cut_short() -> None:
    data = GOOD | {f"key{number}": 1 for number in range(5000)}
    with pytest.raises(SpecError) as caught:
        spec_from_dict(data)
    assert len(caught.value.problems) == 101
    assert caught.value.problems[-1].got == "4900 more problems"


def test_long_input_is_not_repeated_in_full() -> None:
    text = "x" * 10_000_000
    found = problems_of(changed(lambda d: d.update({"name": text, text: 1, "ribs": {"run": text}})))
    assert all(len(str(problem)) < 600 for problem in found.values())


def test_a_whole_number_of_thousands_of_digits() -> None:
    found = problems_of(changed(lambda d: d.update(format=10**5000, print={"flow": -(10**5000)})))
    assert found["format"].got == found["print.flow"].got == "a whole number of 16 digits or more"


@pytest.mark.parametrize(
    "tube",
    [
        [],
        [{"outer_mm": 6.0, "from_mm": 20.0, "to_mm": 90.0, "chord_fraction": 0.3}],
        [{"outer_mm": 6.0, "from_mm": 0.0, "to_mm": 29.0, "chord_fraction": 0.3}],
    ],
)
def test_a_root_held_by_no_tube_is_refused(tube: list[dict[str, float]]) -> None:
    stations = [{"span_mm": 0.0, "chord_mm": 120.0}, {"span_mm": 120.0, "chord_mm": 110.0}]
    with pytest.raises(SpecError, match=r"wing.root: got \"held\"; allowed: \"clamped\", as no tube begins"):
        spec_from_dict({"station": stations, "wing": {"root": "held"}, "tube": tube})
