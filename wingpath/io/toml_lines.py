"""The text of a TOML file as statements and blocks, so that parts of it can change and the rest stays.

Nothing here checks TOML: the text has to be valid. Statements, joined, give the text again.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from wingpath.io.key_changes import KeyPath

__all__ = ["Block", "Statement", "blocks_of", "split_lines", "statements_of"]

Kind = Literal["blank", "value", "table", "array"]

_TOKEN = re.compile(
    r'''"""(?:[^"\\]|\\.|"(?!""))*+"{3,5}'''  # quotes may stand before those that end a text
    r"""|'''(?:[^']|'(?!''))*+'{3,5}"""
    r'''|"(?:[^"\\\n]|\\.)*+"'''
    r"""|'[^'\n]*+'"""
    r"""|\#[^\n]*+"""
    r"""|[^"'\#\[\]{}=\n]++"""
    r"""|.""",
    re.DOTALL | re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement with its line end, over several lines if its value is; or one line without any.

    Parameters
    ----------
    text : str
        As it stands in the file.
    kind : {"blank", "value", "table", "array"}
        A line that is empty or holds a comment; ``key = value``; ``[table]``; ``[[table]]``.
    path : tuple
        What it is about, from the root of the file; for ``[[table]]`` it ends with the number of the item.
    names : tuple of str
        The keys as they are written in it, dotted ones apart.
    comments : tuple of str
        The comments in it, the one behind it last.
    """

    text: str
    kind: Kind
    path: KeyPath = ()
    names: tuple[str, ...] = ()
    comments: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether the line holds nothing at all."""
        return not self.text.strip()


@dataclass(frozen=True, slots=True)
class Block:
    """A table with the lines that belong to it, as places in the statements.

    Parameters
    ----------
    path : tuple
        Of the table; empty for what stands before the first table.
    start : int
        Where the empty lines and comments begin that lead to its header.
    header : int
        Its header; -1 for what stands before the first table.
    filled : int
        Behind its last value, or behind its header.
    stop : int
        Where it ends: behind the comments that follow its last value without an empty line.
    """

    path: KeyPath
    start: int
    header: int
    filled: int
    stop: int


def split_lines(text: str) -> Iterator[tuple[str, int, tuple[str, ...]]]:
    """Yield each statement's text, the place of its equals sign (-1 without one) and its comments."""
    begin, depth, equals = 0, 0, -1
    comments: list[str] = []
    for match in _TOKEN.finditer(text):
        token = match[0]
        if token in "[{":
            depth += 1
        elif token in "]}":
            depth -= 1
        elif token == "=" and equals < 0:
            equals = match.start() - begin
        elif token[0] == "#":
            comments.append(token)
        elif token == "\n" and depth == 0:
            yield text[begin : match.end()], equals, tuple(comments)
            begin, equals = match.end(), -1
            comments.clear()
    if begin < len(text):
        yield text[begin:], equals, tuple(comments)


def statements_of(text: str) -> list[Statement]:
    """Return the statements of a valid TOML text with line ends of one character."""
    found: list[Statement] = []
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for part, equals, comments in split_lines(text):
        bare = part.lstrip(" \t")
        if equals >= 0:
            names = _names(tomllib.loads(part[:equals] + "= 0"))
            found.append(Statement(part, "value", (*table, *names), names, comments))
        elif bare.startswith("["):
            names = _names(tomllib.loads(part))
            is_item = bare.startswith("[[")
            table = _table_path(names, counts, is_item=is_item)
            found.append(Statement(part, "array" if is_item else "table", table, names, comments))
        else:
            found.append(Statement(part, "blank", comments=comments))
    return found


def _names(data: Any) -> tuple[str, ...]:
    """Return the keys that lead to the only thing in some data."""
    names = []
    while data:
        if isinstance(data, list):
            data = data[0]
        else:
            ((name, data),) = data.items()
            names.append(name)
    return tuple(names)


def _table_path(names: Sequence[str], counts: dict[KeyPath, int], *, is_item: bool) -> KeyPath:
    """Return where a header leads: into the last item of every list on its way."""
    path: KeyPath = ()
    for name in names[:-1]:
        path = (*path, name)
        if path in counts:
            path = (*path, counts[path] - 1)
    path = (*path, names[-1])
    if not is_item:
        return path
    counts[path] = counts.get(path, 0) + 1
    return (*path, counts[path] - 1)


def blocks_of(statements: Sequence[Statement]) -> list[Block]:
    """Return the blocks in order; the first is what stands before the first table.

    Comments between two tables belong to the lower one, except those right under a value with an empty
    line behind them. A comment at the very top is the file's own.
    """
    headers = [i for i, statement in enumerate(statements) if statement.kind in ("table", "array")]
    blocks: list[Block] = []
    start = 0
    for header, end in zip([-1, *headers], [*headers, len(statements)], strict=True):
        inside = range(header + 1, end)
        filled = 1 + max((i for i in inside if statements[i].kind == "value"), default=header)
        apart = next((i for i in range(filled, end) if statements[i].is_empty), None)
        if apart is None:
            apart = end if end == len(statements) or filled == 0 else filled
        path = () if header < 0 else statements[header].path
        blocks.append(Block(path, start, header, filled, stop=apart))
        start = apart
    return blocks
