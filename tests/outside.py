"""Checks against things outside the project: each asserts, and is a row of docs/validation.md.

A check says what is compared, with which source, what was expected, what came out, what may differ and why.
While tests run, the row of each check is looked up in the committed page, so that the page tells what the
tests do. `python docs/make_validation.py` runs the same tests and writes the page from their rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache

from outside_page import PAGE, Row, page_rows
from outside_values import Compared

KINDS = {
    "printed": "a table, report, standard or paper, as printed or as a public page reprints it",
    "quoted": "a figure of a book or of practice as another page quotes it; the original was not seen",
    "library": "an independent open library, run on the same input inside the test",
    "memory": "stands in print, but the value is remembered and was not read again",
    "worked again": "a known formula worked out a second time, apart from the code: it finds slips, not "
    "a wrong formula",
    "no source": "common practice, no source",
}
"""How far a source can be trusted, strongest first but for libraries."""


@dataclass(frozen=True)
class Source:
    """Where an expected value comes from: a short name for rows, and all of it for the list below them."""

    kind: str
    name: str
    whole: str
    place: str = ""

    def __post_init__(self) -> None:
        assert self.kind in KINDS, self.kind

    def at(self, place: str) -> Source:
        """Name the page, table or equation."""
        return replace(self, place=place)

    def of_kind(self, kind: str) -> Source:
        """Return the same source, trusted otherwise: what it says was remembered, or worked out by its "
        "formula."""
        return replace(self, kind=kind)

    def __str__(self) -> str:
        return f"{self.kind}: {self.name}" + (f", {self.place}" if self.place else "")


class Watch:
    """The rows of the test that is running, and those of all tests so far."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self.sources: dict[tuple[str, str], str] = {}
        self.test = ""
        self.begins = 0
        self.against_page = True
        """Off while the page is made."""

    def start(self, test: str) -> None:
        """Begin a test, by its id in pytest."""
        self.test, self.begins = test, len(self.rows)

    def finish(self) -> None:
        """End a test that passed: all that the page says of it was checked, each thing once."""
        seen = [row.key for row in self.rows[self.begins :]]
        assert len(seen) == len(set(seen)), f"two checks of one name in {self.test}: {seen}"
        if self.against_page:
            told = {key for test in (self.test, plain(self.test)) for key in _keys_by_test().get(test, ())}
            left = sorted(told.difference(seen))
            assert not left, f"{PAGE.name} has rows that {self.test} does not check: {left}; {MAKE_AGAIN}"

    def add(self, row: Row, source: Source, compared: Compared | None) -> None:
        """Take a row, and hold it against the page."""
        assert self.test, "checks belong into tests"
        if row in self.rows[self.begins :]:  # the same rule once more
            return
        self.rows.append(row)
        self.sources[row.subject, source.name] = source.whole
        if not self.against_page:
            return
        held = page_rows().get(row.key)
        assert held is not None, f"{PAGE.name} has no row for {row.key}; {MAKE_AGAIN}"
        for name in ("subject", "source", "allowed"):
            wanted, got = getattr(row, name), getattr(held, name)
            assert got == wanted, (
                f"{PAGE.name} has {name} {got!r} for {row.key}, not {wanted!r}; {MAKE_AGAIN}"
            )
        if compared is None:
            same = (held.expected, held.got) == (row.expected, row.got)
        else:
            same = compared.agrees_with(held.expected, held.got)
        assert same, (
            f"{PAGE.name} has {held.expected!r} and {held.got!r} for {row.key}, "
            f"not {row.expected!r} and {row.got!r}; {MAKE_AGAIN}"
        )


MAKE_AGAIN = "run: python docs/make_validation.py"

WATCH = Watch()


def plain(test: str) -> str:
    """Return the id of a test without its parameters."""
    return test.partition("[")[0]


@cache
def _keys_by_test() -> dict[str, list[tuple[str, str]]]:
    found: dict[str, list[tuple[str, str]]] = {}
    for test, what in page_rows():
        found.setdefault(test, []).append((test, what))
    return found


@dataclass(frozen=True)
class Subject:
    """A heading of the page."""

    name: str

    def check(
        self,
        what: str,
        *,
        source: Source,
        expected: object,
        got: object,
        because: str,
        rel: float | None = None,
        abs: object = None,
        unit: str = "",
        labels: Sequence[object] | None = None,
        ratio: bool = False,
        or_more: str = "",
    ) -> None:
        """Assert that values are the expected ones, and note the worst of them.

        Parameters
        ----------
        what
            What is compared; with the test's name the key of the row.
        expected, got
            A number each, or arrays of one shape.
        because
            Reason for the tolerance, a few words.
        rel, abs
            As those of `pytest.approx`: the larger of both is allowed; `abs` may be an array.
        labels
            A name for each value, to tell which one is the worst.
        ratio
            Show got over expected: for values that change with every change of an example.
        or_more
            What `abs` stands for, in words: for values of it that change with every change of an example.
        """
        __tracebackhide__ = True
        compared = Compared(
            expected, got, rel=rel, abs=abs, unit=unit, labels=labels, ratio=ratio, or_more=or_more
        )
        if compared.failing:
            raise AssertionError(f"{what}: {compared.complaint} ({source})")
        row = Row(
            WATCH.test,
            self.name,
            what,
            str(source),
            compared.expected_text,
            compared.got_text,
            compared.difference_text,
            f"{compared.allowed_text}: {because}",
        )
        WATCH.add(row, source, compared)

    @contextmanager
    def rule(self, what: str, *, source: Source, expected: str, got: str = "holds") -> Iterator[None]:
        """Note a rule in words that holds if the assertions inside pass."""
        __tracebackhide__ = True
        yield
        # one row for all cases of a test with parameters
        row = Row(plain(WATCH.test), self.name, what, str(source), expected, got, "-", "-")
        WATCH.add(row, source, None)


AIRFOILS = Subject("Airfoils")
SECTIONS = Subject("Sections and bending")
SHELL = Subject("Shell and buckling")
LOADS = Subject("Planform, air and loads")
AEROELASTIC = Subject("Twist at speed")
BEAD = Subject("Bead, path and materials")
FILES = Subject("Mesh files")
GCODE = Subject("G-code")
SLICERS = Subject("Independent slicers")
STATISTICS = Subject("Uncertainty of measurements")
CAD = Subject("CAD kernel")

SUBJECTS = (AIRFOILS, SECTIONS, SHELL, LOADS, AEROELASTIC, BEAD, FILES, GCODE, SLICERS, STATISTICS, CAD)
"""In the order of the page."""
