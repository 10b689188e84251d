"""What holds for every change of a spec's text: its data is what was asked for, its comments are there."""

from __future__ import annotations

import copy
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import wingpath
from wingpath.io.spec_editing import edited_spec
from wingpath.io.spec_toml import dump_toml, toml_text

EXAMPLES = sorted((Path(wingpath.__file__).parents[1] / "examples").glob("*/spec.toml"))
TEXTS = {path.parent.name: path.read_text(encoding="utf-8") for path in EXAMPLES}

NUMBER = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**9), 10**9)
# half characters are none, and TOML takes line ends of one character
TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
LEAF = NUMBER | st.booleans() | TEXT
VALUE = LEAF | st.lists(NUMBER, max_size=4) | st.lists(st.lists(NUMBER, min_size=2, max_size=2), max_size=3)
ROW = st.dictionaries(st.sampled_from(["chord_fraction", "from_mm", "to_mm", "shape"]), LEAF, min_size=1)
TABLES = ["aircraft", "wing", "ribs", "slots", "compare", "targets", "freedom", "panels", "printer", "print"]
KEYS = ["run", "pitch_mm", "pitch_along_mm", "bead_mm", "profile", "joints_mm", "layer_mm"]
ROWS = ["spar_web", "tube", "pin", "duct", "station"]


@st.composite
def changes_of(draw: st.DrawFn, data: dict[str, Any], *, remove: bool = True) -> dict[str, Any]:
    """Draw changes by key path that a file with this data can take."""
    gone = st.none() if remove else VALUE
    changes: dict[str, Any] = {}
    for _ in range(draw(st.integers(1, 6))):
        what = draw(st.integers(0, 4))
        listed = [name for name in ROWS if data.get(name) and name not in changes]
        if what == 0 and listed:
            name = draw(st.sampled_from(listed))
            number = draw(st.integers(0, len(data[name]) - 1))
            key = draw(st.sampled_from([*data[name][number], "new_mm"]))
            changes[f"{name}[{number}].{key}"] = draw(VALUE | gone)
        elif what == 1 and remove:
            # a list may be cut, joined, mixed and changed
            name = draw(st.sampled_from(ROWS))
            rows = draw(st.permutations(data.get(name, []) + draw(st.lists(ROW, max_size=3))))
            changes = {key: value for key, value in changes.items() if not key.startswith(f"{name}[")}
            changes[name] = rows[: draw(st.integers(0, len(rows)))]
        elif what == 2 and remove:
            changes[draw(st.sampled_from(TABLES))] = draw(ROW | st.none() | st.just({}))
        else:
            table = draw(st.sampled_from(TABLES))
            key = draw(st.sampled_from([*data.get(table, {}), *KEYS]))
            if changes.get(table, {}) is not None:
                changes[f"{table}.{key}"] = draw(VALUE | gone)
    return changes


def applied(data: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """Return the data with the changes made, worked out without the code that is tested."""
    data = copy.deepcopy(data)
    for path, value in changes.items():
        place: Any = data
        *way, last = re.findall(r"\w+", path)
        if value is None and way and way[0] not in data:
            continue
        for step in way:
            place = place[int(step)] if step.isdigit() else place.setdefault(step, {})
        if value is None or (value == [] and not way):
            place.pop(last, None)
        else:
            place[last] = copy.deepcopy(value)
    return data


def exact(value: Any) -> Any:
    """Return a value that compares unequal where true stands for 1."""
    if isinstance(value, dict):
        return {key: exact(item) for key, item in value.items()}
    if isinstance(value, list):
        return [exact(item) for item in value]
    return ("switch", value) if isinstance(value, bool) else value


def comments_of(text: str) -> list[str]:
    return sorted(re.findall(r"#.*", text))


@pytest.mark.parametrize("name", TEXTS)
@given(draw=st.data())
def test_the_data_is_what_was_asked_for(name: str, draw: st.DataObject) -> None:
    data = tomllib.loads(TEXTS[name])
    changes = draw.draw(changes_of(data))
    text = edited_spec(TEXTS[name], changes)
    assert exact(tomllib.loads(text)) == exact(applied(data, changes))


@pytest.mark.parametrize("name", TEXTS)
@given(draw=st.data())
def test_comments_stay_where_nothing_is_removed(name: str, draw: st.DataObject) -> None:
    before = TEXTS[name]
    changes = draw.draw(changes_of(tomllib.loads(before), remove=False))
    text = edited_spec(before, changes, heading=["one", "two"])
    # texts of the changes may hold what looks like a comment
    assert set(comments_of(before)) | {"# one", "# two"} <= set(comments_of(text))
    untouched = [line for line in before.splitlines() if "=" not in line]
    assert [line for line in text.splitlines() if line in set(untouched) and line] == [
        line for line in untouched if line
    ] or any("\n" in str(value) for value in changes.values())


def inline(data: dict[str, Any]) -> str:
    """Return data with everything in one line a table, as few people write it."""
    return dump_toml({"": data}).partition("\n")[2]


def dotted(data: dict[str, Any]) -> str:
    """Return data with dotted keys in place of tables."""
    lines = []
    for table, value in data.items():
        rows = value.items() if isinstance(value, dict) else [(None, value)]
        for key, item in rows:
            written = inline({"x": item}).removeprefix("x = ").rstrip("\n")
            lines.append(f"{table}{f' . {toml_text(key)}' if key else ''}={written} # {table}\n")
    return "".join(lines)


@pytest.mark.parametrize("write", [inline, dotted, dump_toml])
@pytest.mark.parametrize("name", TEXTS)
@given(draw=st.data())
def test_the_same_for_other_ways_to_write(name: str, write: Any, draw: st.DataObject) -> None:
    data = tomllib.loads(TEXTS[name])
    text = write(data)
    assert tomllib.loads(text) == data
    changes = draw.draw(changes_of(data))
    for given_text in (text, text.replace("\n", "\r\n"), text.rstrip("\n")):
        got = edited_spec(given_text, changes)
        assert exact(tomllib.loads(got)) == exact(applied(data, changes))
