"""The lines of an airfoil coordinate file: which hold a point, which hold nothing, which hold text.

* a point: exactly two numbers and nothing else but separators and a comment;
* nothing: blank, a comment, or the bare heading of a surface;
* text: anything else.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from wingpath.geometry.airfoil_order import refuse

__all__ = [
    "MAX_BYTES",
    "Row",
    "decoded",
    "is_mistyped",
    "is_not_finite",
    "is_number",
    "rows_of",
    "short",
    "value_of",
    "words_of",
]

MAX_BYTES = 2_000_000
"""Larger files are no airfoils; 20,000 points of full precision take 1 MB."""

LONGEST_LINE = 1000
"""A longer line holds no point, unless most of it is a comment [characters]; titles are cut off there."""

_REAL = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][+-]?\d+)?"
_NUMBER = re.compile(_REAL)
_POINT = re.compile(rf"\s*({_REAL})(?:\s*[,;]\s*|\s+)({_REAL})[\s,;]*")
_DECIMAL_COMMA = re.compile(r"[+-]?\d*(?:,\d+)?(?:[eEdD][+-]?\d+)?")
_COMMENT = re.compile(r"(?:^|\s)(?:#|!|//).*$|^\s*;.*$")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity|\d\.?#(?:ind|inf|q?s?nan)\d*)", re.IGNORECASE)
_MISTYPED = re.compile(r"[+-]?[\dOoIl]*\.[\dOoIl]+")
_HEADING = re.compile(
    r"\W*(?:the\s+)?(?:upper|lower|top|bottom)(?:\s+(?:surface|side|points|coordinates))?\W*", re.IGNORECASE
)
_SEPARATORS = re.compile(r"[\s,;]+")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")


class Row(NamedTuple):
    """A line of the file that is not empty: a point, or text when `point` is None."""

    line: int
    text: str
    point: tuple[float, float] | None


def decoded(data: str | bytes, source: str) -> str:
    """Return the text up to its end mark, or refuse what is no text."""
    if len(data) > MAX_BYTES:
        refuse(source, None, f"larger than {MAX_BYTES // 1_000_000} MB; expected a list of points")
    if isinstance(data, bytes):
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            text = data.decode("utf-16", errors="replace")
        else:
            try:
                text = data.decode("utf-8-sig")
            except UnicodeDecodeError:
                text = data.decode("latin-1")
    else:
        text = data
    text = text.removeprefix("\ufeff").split("\x1a", 1)[0].replace("\u2212", "-")
    if "\0" in text or len(_CONTROL.findall(text)) > 4:
        refuse(
            source,
            None,
            "holds control characters: a binary file; expected plain text with two numbers a line",
        )
    if not text.strip():
        refuse(source, None, "the file is empty; expected plain text with two numbers a line")
    return text


def rows_of(text: str) -> list[Row]:
    """Return the lines that are not empty, numbered from 1."""
    rows = []
    for number, raw in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        if len(raw) > LONGEST_LINE:
            # the patterns below would take minutes; what goes on behind a comment mark does not matter
            head = raw[:LONGEST_LINE]
            bare = _COMMENT.sub("", head).strip()
            if bare:
                rows.append(Row(number, bare, _point(bare) if bare != head.strip() else None))
            continue
        point = _point(raw)
        if point is None:
            bare = _COMMENT.sub("", raw).strip()
            if bare:
                rows.append(Row(number, bare, _point(bare) or _point_otherwise(bare)))
        else:
            rows.append(Row(number, raw, point))
    return [row for i, row in enumerate(rows) if not _is_heading(rows, i)]


def _is_heading(rows: list[Row], i: int) -> bool:
    """Whether a row only says which surface follows, right above a point."""
    return (
        rows[i].point is None
        and i + 1 < len(rows)
        and rows[i + 1].point is not None
        and bool(_HEADING.fullmatch(rows[i].text))
    )


def _point(text: str) -> tuple[float, float] | None:
    match = _POINT.fullmatch(text)
    return (value_of(match[1]), value_of(match[2])) if match else None


def _point_otherwise(text: str) -> tuple[float, float] | None:
    """Read a point with decimal commas, or one with a comment behind a semicolon."""
    words = re.split(r"[\s;]+", text.strip("; \t"))
    if (
        len(words) == 2
        and "," in text
        and all(w and w[-1] != "," and _DECIMAL_COMMA.fullmatch(w) for w in words)
    ):
        values = [word.replace(",", ".") for word in words]
        if all(_NUMBER.fullmatch(value) for value in values):
            return value_of(values[0]), value_of(values[1])
    head, mark, _ = text.partition(";")
    return _point(head) if mark else None


def value_of(text: str) -> float:
    """Return the value of a number, with an exponent of either letter."""
    return float(text.replace("D", "e").replace("d", "e"))


def short(text: str) -> str:
    """Return a line as a message shows it."""
    clean = " ".join(_CONTROL.sub("?", text).split())
    return clean if len(clean) <= 40 else f"{clean[:40]}..."


def words_of(text: str) -> list[str]:
    """Return what stands between separators."""
    return [word for word in _SEPARATORS.split(text) if word]


def is_number(word: str) -> bool:
    """Whether a word is a finite number as a program writes it."""
    return _NUMBER.fullmatch(word) is not None


def is_not_finite(word: str) -> bool:
    """Whether a word is what a program writes for a value that is no number."""
    return _NOT_FINITE.fullmatch(word) is not None


def is_mistyped(word: str) -> bool:
    """Whether a word is a number but for letters that look like digits."""
    return _MISTYPED.fullmatch(word) is not None and not is_number(word)
