"""A spec with some keys changed and everything else as its maker wrote it.

Where a statement stands, and to which table it belongs, is worked out on the text
(:mod:`wingpath.io.toml_lines`); the statement itself is changed by the TOML library, which keeps its
comment and its spaces. A library alone moves comments and tables that stand between two of a kind.
"""

from __future__ import annotations

import difflib
import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Item

from wingpath.core.errors import WingpathError
from wingpath.io.key_changes import (
    GONE,
    KeyPath,
    are_rows,
    key_path,
    plain_value,
    put_value,
    same,
    single_changes,
    value_at,
)
from wingpath.io.spec_toml import parse_toml
from wingpath.io.toml_lines import Block, Statement, blocks_of, split_lines, statements_of
from wingpath.model.spec import Spec

__all__ = ["edited_spec"]

_ORDER = {field.alias or name: place for place, (name, field) in enumerate(Spec.model_fields.items())}
"""The usual order of the tables."""


def edited_spec(text: str, changes: Mapping[str, Any], *, heading: Sequence[str] = ()) -> str:
    """Return the text of a spec with some keys changed.

    Parameters
    ----------
    text : str
        The TOML file, with any line ends; a byte order mark is left out of what is returned.
    changes : mapping
        New values by key path, for example ``ribs.pitch_mm``, ``tube[0].to_mm``, ``spar_web``. None
        removes a key or a table. A list of mappings takes the place of all tables of that name; an empty
        list removes them. A mapping takes the place of a table. Changes are made in order.
    heading : sequence of str
        Comment lines for the top of the file, without the number sign.

    Returns
    -------
    str
        The new text. Unchanged lines are as they were, a changed line keeps its comment, a line that is
        removed takes its comment along. A value that is equal to the old one is not written anew.

    Raises
    ------
    SpecError
        When the text is no TOML.
    ValueError, TypeError
        When a key path is none, leads to a list item that is not there, or a value cannot be written.
    WingpathError
        When the new text would not hold what was asked for: a fault of this module.
    """
    text = text.removeprefix("\ufeff")
    wanted = parse_toml(text)
    windows = text.count("\r\n")
    ends_open = bool(text) and not text.endswith("\n")
    lines = text.replace("\r\n", "\n") + ("\n" if ends_open else "")
    try:
        for key, value in changes.items():
            path, fresh = key_path(key), plain_value(key, value)
            old = value_at(wanted, path)
            # every list at the root of a spec is one of tables, of which no empty one can be written
            if fresh == [] and (are_rows(old) or len(path) == 1):
                fresh = GONE
            for place, new in single_changes(path, old, fresh):
                lines = _changed(lines, place, new)
            put_value(wanted, path, fresh)
    except TOMLKitError as error:
        raise WingpathError(f"the spec could not be changed: {error}") from error
    lines = _headed(lines, heading)
    if ends_open:
        lines = lines.removesuffix("\n")
    if 2 * windows > text.count("\n"):
        lines = lines.replace("\n", "\r\n")
    _verify(lines, wanted)
    return lines


def _verify(text: str, wanted: Mapping[str, Any]) -> None:
    try:
        got = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WingpathError(f"the changed spec is no TOML any more: {error}") from error
    if not same(got, wanted):
        wrong = [key for key in {**got, **wanted} if not same(got.get(key, GONE), wanted.get(key, GONE))]
        raise WingpathError(f"the changed spec does not hold what was asked for: {', '.join(wrong)}")


def _headed(text: str, heading: Sequence[str]) -> str:
    if not heading:
        return text
    # what breaks a line would end the comment
    plain = ("".join(sign if sign.isprintable() else "?" for sign in line) for line in heading)
    head = "".join(f"{f'# {line}'.rstrip()}\n" for line in plain)
    return head + text if text.startswith("#") else f"{head}\n{text}"


def _changed(text: str, path: KeyPath, value: Any) -> str:
    """Return the text with one key set that is no table, or with a key or a table taken out."""
    lines = statements_of(text)
    holder = next(
        (i for i, line in enumerate(lines) if line.kind == "value" and path[: len(line.path)] == line.path),
        -1,
    )
    if holder >= 0 and (value is not GONE or lines[holder].path != path):
        lines[holder] = _rewritten(lines[holder], path[len(lines[holder].path) :], value)
        return _joined(lines)
    if value is GONE:
        return _without(lines, path)
    blocks = blocks_of(lines)
    if are_rows(value):
        if any(block.path == (*path, 0) for block in blocks):
            return _with_rows(text, path, value)
        if len(path) == 1:
            return _with_new_block(lines, "\n".join(_row(path, row) for row in value), path)
    return _with_new_key(lines, blocks, path, value)


def _joined(lines: Sequence[Statement]) -> str:
    return "".join(line.text for line in lines)


def _item(value: Any) -> Item:
    """Return a value as it is written on one line."""
    if isinstance(value, list):
        array = tomlkit.array()
        for entry in value:
            array.append(_item(entry))
        return array
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, entry in value.items():
            table.append(key, _item(entry))
        return table
    item: Item = tomlkit.item(value)
    return item


def _line(names: Sequence[str | int], value: Any) -> str:
    return f"{_dotted(names)} = {_item(value).as_string()}\n"


def _dotted(names: Sequence[str | int]) -> str:
    return ".".join(tomlkit.key(str(name)).as_string() for name in names)


def _row(path: KeyPath, row: Mapping[str, Any]) -> str:
    return f"[[{_dotted(path)}]]\n" + "".join(_line([name], value) for name, value in row.items())


def _rewritten(line: Statement, inner: KeyPath, value: Any) -> Statement:
    """Return a statement with its value, or a value inside of it, changed; its comments stay."""
    document = tomlkit.parse(line.text)
    names: KeyPath = (*line.names, *inner)
    way, last = names[:-1], names[-1]
    table: Any = document
    for part in way:
        if isinstance(part, str) and part not in table:
            table[part] = tomlkit.inline_table()
        table = table[part]
    if value is GONE:
        table.pop(last, None)
    else:
        table[last] = _item(value)
    text = document.as_string()
    left = [comment for _, _, comments in split_lines(text) for comment in comments]
    # what stood inside a list goes above it
    lost = list((Counter(line.comments) - Counter(left)).elements())
    if line.comments and not lost:
        text = _aligned(text, line.text, line.comments[-1])
    return Statement("".join(f"{comment}\n" for comment in lost) + text, "value")


def _aligned(text: str, before: str, comment: str) -> str:
    """Return a line with its comment in the column where it was, if it stood apart."""
    rest = f"{comment}\n"
    old, new = before.removesuffix(rest), text.removesuffix(rest)
    if new == text or old == before or not old.endswith("  ") or "\n" in old or "\n" in new:
        return text
    return new.rstrip().ljust(len(old) - 1) + " " + rest


def _without(lines: list[Statement], path: KeyPath) -> str:
    """Return the text without a key, or without a table and all that is in it."""
    blocks = [block for block in blocks_of(lines) if block.path and block.path[: len(path)] == path]
    gone = {i for i, line in enumerate(lines) if line.kind == "value" and line.path[: len(path)] == path}
    for block in blocks:
        gone |= set(_block_lines(lines, block))
    rest = [line for i, line in enumerate(lines) if i not in gone]
    parent = path[:-1]
    if not parent or any(line.path[: len(parent)] == parent for line in rest):
        return _joined(rest)
    # the table was there only by its last key: it stays, empty
    return _changed(_joined(rest), parent, {})


def _block_lines(lines: Sequence[Statement], block: Block) -> range:
    """Return the lines that go with a table: the comment right above it does, one farther up stays."""
    above = block.header
    while above > block.start and not lines[above - 1].is_empty:
        above -= 1
    keep = any(lines[i].comments for i in range(block.start, above))
    return range(above if keep else block.start, block.stop)


def _with_new_key(lines: list[Statement], blocks: Sequence[Block], path: KeyPath, value: Any) -> str:
    """Return the text with a key that was not there, in its table or in a new one."""
    if isinstance(value, dict):
        return _with_new_block(lines, f"[{_dotted(path)}]\n", path)
    for depth in range(len(path) - 1, 0, -1):
        parent = path[:depth]
        block = next((block for block in blocks if block.path == parent), None)
        if block is not None:
            return _with_line(lines, block.filled, _line(path[depth:], value))
        dotted = [i for i, line in enumerate(lines) if line.kind == "value" and line.path[:depth] == parent]
        if dotted:
            line = lines[dotted[-1]]
            return _with_line(lines, dotted[-1] + 1, _line(path[len(line.path) - len(line.names) :], value))
    if len(path) > 1:
        return _with_new_block(lines, f"[{_dotted(path[:-1])}]\n{_line(path[-1:], value)}", path)
    at = blocks[0].filled or blocks[0].stop
    apart = at == blocks[0].stop < len(lines) and not lines[at].is_empty
    return _with_line(lines, at, _line(path, value) + ("\n" if apart else ""))


def _with_line(lines: Sequence[Statement], at: int, text: str) -> str:
    before = lines[at - 1].text if at and lines[at - 1].kind == "value" else ""
    indent = before[: len(before) - len(before.lstrip(" \t"))]
    return _joined(lines[:at]) + indent + text + _joined(lines[at:])


def _with_new_block(lines: Sequence[Statement], text: str, path: KeyPath) -> str:
    """Return the text with a new table behind those that usually stand before it."""
    last = len(_ORDER)
    own = _ORDER.get(str(path[0]), last)
    at = 0
    for block in blocks_of(lines):
        if not block.path or _ORDER.get(str(block.path[0]), last) <= own:
            at = block.stop
    return _joined(lines[:at]) + _spaced(lines, at, text) + _joined(lines[at:])


def _spaced(lines: Sequence[Statement], at: int, text: str) -> str:
    """Return a table with an empty line before and behind it, where there is none."""
    before = "\n" if at and not lines[at - 1].is_empty else ""
    behind = "\n" if at < len(lines) and not lines[at].is_empty else ""
    return before + text + behind


def _with_rows(text: str, path: KeyPath, new: list[Any]) -> str:
    """Return the text with other ``[[tables]]`` of one name; those that are the same stay as they are."""
    old = value_at(tomllib.loads(text), path)
    matcher = difflib.SequenceMatcher(None, [_mark(row) for row in old], [_mark(row) for row in new], False)
    dropped: set[int] = set()
    added: dict[int, list[Any]] = {}
    for what, i1, i2, j1, j2 in matcher.get_opcodes():
        if what == "equal":
            continue
        paired = min(i2 - i1, j2 - j1)
        for i, row in zip(range(i1, i1 + paired), new[j1 : j1 + paired], strict=True):
            for place, value in single_changes((*path, i), old[i], row):
                text = _changed(text, place, value)
        dropped |= set(range(i1 + paired, i2))
        if j2 > j1 + paired:
            added[i1 + paired] = new[j1 + paired : j2]
    return _with_rows_placed(text, path, dropped, added)


def _mark(row: Mapping[str, Any]) -> str:
    """Return a row as text, the same for equal rows."""
    return repr(sorted((key, float(value) if type(value) is int else value) for key, value in row.items()))


def _with_rows_placed(text: str, path: KeyPath, dropped: set[int], added: Mapping[int, list[Any]]) -> str:
    """Return the text without some rows, and with others before the row of a number."""
    lines = statements_of(text)
    blocks = blocks_of(lines)
    gone: set[int] = set()
    fresh: dict[int, str] = {}
    ends = {}
    for block in blocks:
        if block.path[: len(path)] == path and len(block.path) > len(path):
            number = block.path[len(path)]
            ends[number] = block.stop
            if number in dropped:
                gone |= set(_block_lines(lines, block))
    starts = {block.path[-1]: block.start for block in blocks if block.path and block.path[:-1] == path}
    for number, rows in added.items():
        at = ends[number - 1] if number else starts[0]
        fresh[at] = _spaced(lines, at, "\n".join(_row(path, row) for row in rows))
    parts = [fresh.get(i, "") + ("" if i in gone else line.text) for i, line in enumerate(lines)]
    return "".join(parts) + fresh.get(len(lines), "")
