"""docs/validation.md holds the outside checks of the tests, all of them and nothing else.

Each check looks its own row up as it runs (`tests/outside.py`). Here is what a single test cannot see: rows
whose tests are gone, rules that assert nothing, and that the looking up itself fails when it should.
"""

from __future__ import annotations

import ast
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from outside import KINDS, SUBJECTS, Source, Subject, Watch
from outside_page import PAGE, ROOT, files_with_checks, page_rows, rows_of
from outside_values import Compared, rounded

ROWS = list(page_rows().values())


def tree_of(file: str) -> ast.Module:
    return ast.parse((ROOT / file).read_text(encoding="utf-8"))


@pytest.mark.parametrize("file", sorted({row.file for row in ROWS}))
def test_every_row_has_its_test(file: str, request: pytest.FixtureRequest) -> None:
    assert file in files_with_checks()
    functions = {node.name for node in ast.walk(tree_of(file)) if isinstance(node, ast.FunctionDef)}
    told = {row.test for row in ROWS if row.file == file}
    assert {test.partition("::")[2].partition("[")[0] for test in told} <= functions
    # where the whole file was collected, its cases are known too
    config = request.config
    chosen = config.option.keyword or config.option.markexpr or any("::" in one for one in config.args)
    there = {item.nodeid for item in request.session.items if item.nodeid.startswith(file + "::")}
    if there and not chosen:
        there |= {name.partition("[")[0] for name in there}
        assert told <= there


@pytest.mark.parametrize("file", files_with_checks())
def test_every_file_with_checks_has_rows(file: str) -> None:
    assert any(row.file == file for row in ROWS)


def test_the_page_is_whole() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert len(ROWS) == len(rows_of(text)) == text.count("\n| [")
    assert [row.line for row in ROWS] == [line for line in text.splitlines() if line.startswith("| [")]
    # each subject has rows, each row a source that the list below its table names
    assert {row.subject for row in ROWS} == {subject.name for subject in SUBJECTS}
    for row in ROWS:
        kind, _, source = row.source.partition(": ")
        assert kind in KINDS
        part = text[text.index(f"## {row.subject}\n") :]
        named = part[part.index("Sources:") :].partition("\n## ")[0]
        assert any(source.startswith(line[4:].partition("**")[0]) for line in named.split("\n") if line)


def rules(file: str) -> Iterator[ast.With]:
    for node in ast.walk(tree_of(file)):
        if isinstance(node, ast.With):
            for item in node.items:
                call = item.context_expr
                if isinstance(call, ast.Call) and ast.unparse(call.func).endswith(".rule"):
                    yield node


CHECKING = {"assert_fits", "compare"}
"""Functions of tests that assert for a rule."""


@pytest.mark.parametrize("file", files_with_checks())
def test_every_rule_asserts_something(file: str) -> None:
    for rule in rules(file):
        inside = [node for part in rule.body for node in ast.walk(part)]
        calls = {ast.unparse(node.func) for node in inside if isinstance(node, ast.Call)}
        assert any(isinstance(node, ast.Assert) for node in inside) or calls & CHECKING, (file, rule.lineno)


# --- the looking up ----------------------------------------------------------------------------------------

BOOK = Source("printed", "a book", "a book that was made up for this test")
SOME = Subject("Airfoils")


def compared(expected: object, got: object, **given: object) -> Compared:
    usual: dict[str, object] = {"rel": None, "abs": None, "unit": "", "labels": None, "ratio": False}
    return Compared(expected, got, **{**usual, **given})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rel", "absolute"), [(1e-3, None), (None, 0.02), (1e-3, 0.02), (1e-3, 1e-4), (None, 0.0), (0.0, None)]
)
def test_a_check_fails_where_pytest_approx_does(rel: float | None, absolute: float | None) -> None:
    rng = np.random.default_rng(3)
    wanted = np.concatenate([rng.normal(size=300) * 10.0 ** rng.integers(-3, 3, 300), [0.0, 0.0, math.inf]])
    off = rng.normal(size=303) * np.array([1e-13, 1e-3, 0.02])[rng.integers(0, 3, 303)]
    got = wanted + off * rng.choice([0.0, 1.0, 1.0], 303)
    got[0], got[1] = math.nan, math.inf
    passing = [bool(a == pytest.approx(b, rel=rel, abs=absolute)) for a, b in zip(got, wanted, strict=True)]
    assert 0 < sum(passing) < 303
    single = [not compared(b, a, rel=rel, abs=absolute).failing for a, b in zip(got, wanted, strict=True)]
    assert single == passing
    assert compared(wanted, got, rel=rel, abs=absolute).failing
    good = np.array(passing)
    assert not compared(wanted[good], got[good], rel=rel, abs=absolute).failing


def test_shapes_have_to_agree_and_a_tolerance_to_be_given() -> None:
    with pytest.raises(AssertionError, match="shape"):
        compared([1.0, 1.0], 1.0, abs=0.1)
    with pytest.raises(AssertionError, match="nothing is compared"):
        compared([], [], abs=0.1)
    with pytest.raises(AssertionError, match="tolerance"):
        compared(1.0, 1.0)


def test_a_value_that_is_off_is_named() -> None:
    with pytest.raises(
        AssertionError, match=r"height: expected 2 at b, got 2\.5, .* 1 of 2 values are off \(printed"
    ):
        SOME.check(
            "height", source=BOOK, expected=[1.0, 2.0], got=[1.0, 2.5], abs=0.1, because="-", labels="ab"
        )


def test_a_row_of_the_page_has_to_agree() -> None:
    found = compared([0.162, 0.302, 0.494], [0.16213, 0.30174, 0.49346], abs=6e-4, labels="abc")
    assert (found.expected_text, found.got_text) == ("0.494 (c)", "0.49346, worst of 3")
    assert found.agrees_with("0.494 (c)", "0.49346, worst of 3")
    # one step of the last digit, as another machine may get
    assert found.agrees_with("0.494 (c)", "0.49347, worst of 3")
    # another value, another expectation, another count, one that is not the worst
    assert not found.agrees_with("0.494 (c)", "0.49349, worst of 3")
    assert not found.agrees_with("0.4941 (c)", "0.49346, worst of 3")
    assert not found.agrees_with("0.494 (b)", "0.49346, worst of 3")
    assert not found.agrees_with("0.494 (c)", "0.49346, worst of 4")
    assert not found.agrees_with("0.494 (c)", "0.49346")
    assert not found.agrees_with("0.302 (b)", "0.30174, worst of 3")


def test_an_expected_value_that_is_computed_may_differ_in_its_last_digit() -> None:
    found = compared(1.0 / 3.0, 0.3334, abs=1e-3)
    assert (found.expected_text, found.got_text) == ("0.3333", "0.3334")
    assert found.agrees_with("0.3334", "0.3335")
    assert not found.agrees_with("0.3336", "0.3334")


def test_a_missing_or_changed_row_fails() -> None:
    with pytest.raises(AssertionError, match=r"has no row for .*make_validation"):
        SOME.check("what no page has", source=BOOK, expected=1.0, got=1.0, abs=0.1, because="-")
    with (
        pytest.raises(AssertionError, match=r"has no row for .*make_validation"),
        SOME.rule("nor this", source=BOOK, expected="a rule"),
    ):
        pass
    row = next(row for row in ROWS if row.got == "holds")
    watch = Watch()
    watch.start(row.test)
    for change, complaint in (
        ({"source": "printed: another"}, "has source"),
        ({"allowed": "more"}, "has allowed"),
        ({"expected": "else"}, "not 'else'"),
        ({"subject": "G"}, "has subject"),
    ):
        with pytest.raises(AssertionError, match=complaint):
            watch.add(replace(row, **change), BOOK, None)
    watch.add(row, BOOK, None)


def test_a_test_has_to_check_all_that_the_page_says_of_it() -> None:
    row = next(row for row in ROWS if sum(one.test == row.test for one in ROWS) == 1)
    watch = Watch()
    watch.start(row.test)
    with pytest.raises(AssertionError, match=r"has rows that .* does not check"):
        watch.finish()
    watch.rows.append(row)
    watch.finish()
    watch.rows.append(row)
    with pytest.raises(AssertionError, match="two checks of one name"):
        watch.finish()


@pytest.mark.parametrize(
    ("value", "power", "text"),
    [
        (0.49346, -4, "0.4935"),
        (-0.00001, -4, "0"),
        (101325.4, 0, "101325"),
        (40423.0, 1, "40420"),
        (7.35963e-7, -12, "7.35963e-7"),
        (1.5354e13, 9, "1.5354e13"),
        (math.inf, 0, "infinite"),
    ],
)
def test_numbers_as_the_page_writes_them(value: float, power: int, text: str) -> None:
    assert rounded(value, power) == text
