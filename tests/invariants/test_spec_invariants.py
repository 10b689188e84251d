"""What holds for every spec: it reads back the same, and damage gives a clear error or a good spec."""

from collections.abc import Callable
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from wingpath.core.errors import SpecError
from wingpath.io.profile_store import load_filament
from wingpath.io.spec_toml import dump_spec, parse_toml
from wingpath.io.starter import starter_spec
from wingpath.model.spec import Spec, spec_from_dict
from wingpath.model.spec_base import SpecTable, key_of, shown, table_of

STARTER = starter_spec()


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


FRACTION = number(0.02, 0.98)
LINE = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), min_size=1, max_size=20)
BLOCK = st.text(st.characters(exclude_characters="{}", exclude_categories=("Cs",)), max_size=60)


@st.composite
def specs(draw: st.DrawFn) -> dict[str, Any]:
    """Draw the data of a valid spec with most tables."""
    steps = draw(st.lists(number(2, 400), min_size=1, max_size=5))
    spans = [0.0]
    for step in steps:
        spans.append(spans[-1] + step)
    tip = spans[-1]
    bead = draw(number(0.2, 1.2))
    ends = sorted((draw(number(0, tip - 1)), draw(number(0, tip - 1))))
    data: dict[str, Any] = {
        "name": draw(LINE),
        "station": [
            {
                "span_mm": span,
                "chord_mm": draw(number(20, 1000)),
                "twist_deg": draw(number(-20, 20)),
                "airfoil": draw(LINE),
            }
            for span in spans
        ],
        "ribs": {"run": draw(st.sampled_from(["aft", "forward", "both", "none"]))},
        "print": {"bead_mm": bead, "layer_mm": min(0.6, max(0.05, bead * draw(number(0.25, 0.79))))},
        "slots": {"neck_mm": bead * draw(number(1.01, 1.99))},
        "tube": [
            {
                "outer_mm": draw(number(0.5, 60)),
                "from_mm": ends[0],
                "to_mm": ends[1] + 1,
                "chord_fraction": draw(FRACTION),
                "material": draw(LINE),
            }
            for _ in range(draw(st.integers(0, 3)))
        ],
        "spar_web": [{"chord_fraction": draw(FRACTION)} for _ in range(draw(st.integers(0, 2)))],
        "item": [
            {"name": draw(LINE), "mass_g": draw(number(0, 100)), "span_mm": tip * draw(number(0, 1))}
            for _ in range(draw(st.integers(0, 2)))
        ],
        "compare": draw(st.sampled_from([{}, {"skin_g_dm2": 6.0}, {"core_g_cm3": 0.025}])),
        "panels": {"joints_mm": draw(st.sampled_from([[], [tip / 2], [tip / 3, tip / 2]]))},
        "printer": {"start_block": draw(BLOCK), "arcs": draw(st.booleans())},
    }
    return data


@settings(max_examples=60, deadline=None)
@given(specs())
def test_reads_back_the_same(data: dict[str, Any]) -> None:
    spec = spec_from_dict(data)
    again = spec_from_dict(parse_toml(dump_spec(spec)))
    assert again == spec
    assert dump_spec(again) == dump_spec(spec)


@settings(max_examples=60, deadline=None)
@given(specs())
def test_resolved_values_obey_the_rule_of_the_neck(data: dict[str, Any]) -> None:
    spec = spec_from_dict(data)
    assert spec.bead_mm < spec.neck_mm < 2 * spec.bead_mm
    bare = spec_from_dict(data | {"slots": {}})
    assert bare.bead_mm < bare.neck_mm < 2 * bare.bead_mm
    assert spec.semi_span_mm == data["station"][-1]["span_mm"]


def assert_spec_or_problems(make: Callable[[], Spec]) -> None:
    try:
        made: Spec | SpecError = make()
    except SpecError as error:
        made = error
    if isinstance(made, Spec):
        assert made.stations[0].span_mm == 0.0
    else:
        assert made.problems
        assert all(problem.key and problem.got and problem.allowed for problem in made.problems)


PIECES = st.sampled_from(
    [
        *(
            "=",
            "[",
            "]",
            "[[",
            "]]",
            '"',
            "'",
            '"""',
            "\n",
            "#",
            ".",
            "-",
            "{",
            "}",
            ",",
            "\\",
            "\0",
            "_",
            "0x",
        ),
        *("nan", "inf", "true", "1e400", "\ud7ff", "[[station]]", "[tube]", "1979-05-27"),
    ]
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_mutated_text_gives_a_spec_or_a_spec_error(data: st.DataObject) -> None:
    text = STARTER
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = text[:start] + data.draw(PIECES | st.text(max_size=3)) + text[start + cut :]
    assert_spec_or_problems(lambda: spec_from_dict(parse_toml(text)))


ODD = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["both", "strip", 10**400, -(10**400), 0.3, 5.0]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=4,
)


def places(model: type[SpecTable]) -> list[tuple[str, str]]:
    found = []
    for name, info in model.model_fields.items():
        held = table_of(info)
        key = key_of(name, info)
        found += [(key, inner) for inner in held[0].model_fields] if held else [("", key)]
    return found


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([*places(Spec), *places(Spec)]), ODD), min_size=1, max_size=4))
def test_odd_values_anywhere_give_a_spec_or_a_spec_error(changes: list[tuple[tuple[str, str], Any]]) -> None:
    data = parse_toml(STARTER)
    for (table, key), value in changes:
        if not table:
            data[key] = value
            continue
        held = data.setdefault(table, {})
        for row in held if isinstance(held, list) else [held]:
            if isinstance(row, dict):
                row[key] = value
    assert_spec_or_problems(lambda: spec_from_dict(data))


@settings(max_examples=100, deadline=None)
@given(ODD)
def test_input_is_shown_short_and_on_one_line(value: Any) -> None:
    text = shown(value)
    assert 0 < len(text) < 500
    assert "\n" not in text


@settings(max_examples=60, deadline=None)
@given(number(0, 400), number(0.2, 1.2), number(0.2, 1.2))
def test_bonded_gap_is_never_negative_and_grows_with_flow(
    temperature: float, bead: float, flow: float
) -> None:
    filament = load_filament("foaming-pla")
    gap = filament.bonded_gap_mm(bead, flow, temperature)
    assert gap >= 0.0
    assert filament.bonded_gap_mm(bead, flow + 0.1, temperature) >= gap
    low, high = filament.foaming[0].ratio, filament.foaming[-1].ratio
    assert low <= filament.foaming_ratio(temperature) <= high
