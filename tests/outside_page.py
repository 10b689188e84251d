"""The rows of docs/validation.md: written, and read back."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "validation.md"

HEAD = "| what | source | expected | got | difference | allowed |\n|---|---|---|---|---|---|"

_LINE = re.compile(r"\| \[(?P<what>.+?)\]\(\.\./(?P<file>\S+?)\) <!-- (?P<test>.+?) --> \| (?P<rest>.+) \|")
_SOURCE = re.compile(r"- \*\*(?P<name>.+?)\*\*: (?P<whole>.+)")


@dataclass(frozen=True)
class Row:
    """One check, as the page shows it; `test` is its id in pytest, hidden but for a link to the file."""

    test: str
    subject: str
    what: str
    source: str
    expected: str
    got: str
    difference: str
    allowed: str

    @property
    def key(self) -> tuple[str, str]:
        """Return what no two rows share."""
        return self.test, self.what

    @property
    def file(self) -> str:
        """Return the test's file, from the root of the project."""
        return self.test.partition("::")[0]

    @property
    def line(self) -> str:
        """Return the row of the table."""
        file, _, name = self.test.partition("::")
        cells = (self.source, self.expected, self.got, self.difference, self.allowed)
        assert not any(" | " in cell or "\n" in cell for cell in (self.what, *cells)), self
        assert not set("[]") & set(self.what), self.what
        return f"| [{self.what}](../{file}) <!-- {name} --> | " + " | ".join(cells) + " |"


def rows_of(text: str) -> list[Row]:
    """Return the rows of a page."""
    found, subject = [], ""
    for line in text.splitlines():
        if line.startswith("## "):
            subject = line[3:]
        elif match := _LINE.fullmatch(line):
            test = f"{match['file']}::{match['test']}"
            found.append(Row(test, subject, match["what"], *match["rest"].split(" | ")))
    return found


def sources_of(text: str) -> dict[tuple[str, str], str]:
    """Return all that a page says of its sources, by subject and name."""
    found, subject = {}, ""
    for line in text.splitlines():
        if line.startswith("## "):
            subject = line[3:]
        elif match := _SOURCE.fullmatch(line):
            found[subject, match["name"]] = match["whole"]
    return found


def table_of(rows: Iterable[Row]) -> str:
    """Return rows as a table in Markdown."""
    return "\n".join([HEAD, *(row.line for row in rows)])


@cache
def page_rows() -> dict[tuple[str, str], Row]:
    """Return the rows of the committed page by their keys."""
    rows = rows_of(PAGE.read_text(encoding="utf-8")) if PAGE.exists() else []
    return {row.key: row for row in rows}


@cache
def files_with_checks() -> tuple[str, ...]:
    """Return the files whose tests check against the outside, from the root of the project."""
    return tuple(
        path.relative_to(ROOT).as_posix()
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if path.parent.name != "architecture" and "from outside import" in path.read_text(encoding="utf-8")
    )
