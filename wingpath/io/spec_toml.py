"""TOML files: reading a spec, and writing one that was built in code."""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wingpath.core.errors import FileAccessError, Problem, SpecError
from wingpath.io.reading import open_plain, put_back_for
from wingpath.model.spec import Spec, spec_from_dict

__all__ = [
    "MOST_BYTES",
    "dump_spec",
    "dump_toml",
    "load_spec",
    "parse_toml",
    "read_toml",
    "read_toml_text",
    "toml_text",
]

MOST_BYTES = 1_000_000
"""Largest TOML file that is read [bytes]: a spec has a few thousand, a start block tens of thousands."""

MOST_KEY_PARTS = 32
"""Longest dotted key: no key of ours has more than three parts, and the parser's time grows as the square."""

_PART = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_LONG_KEY = re.compile(rf"(?:\.[ \t]*+{_PART}[ \t]*+){{{MOST_KEY_PARTS}}}")

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")

_PLACE = re.compile(r"\(at (?:line (\d+), column (\d+)|(end of document))\)")


def read_toml(path: str | Path) -> dict[str, Any]:
    """Read a TOML file.

    Parameters
    ----------
    path : str or Path
        See :func:`read_toml_text`.

    Raises
    ------
    FileAccessError
        When there is no such file or it cannot be read.
    SpecError
        When it is too large, not UTF-8 or not TOML, with line and column.
    """
    return parse_toml(read_toml_text(path), source=str(Path(path)))


def read_toml_text(path: str | Path) -> str:
    """Read the text of a TOML file, line ends as they are.

    Parameters
    ----------
    path : str or Path
        UTF-8, with or without byte order mark, any line ends, at most 1 MB.

    Raises
    ------
    FileAccessError
        When there is no such file or it cannot be read.
    SpecError
        When it is too large or not UTF-8.
    """
    file = Path(path)
    try:
        put_back_for(file)
        if not file.exists():
            raise FileAccessError(f"{file}: there is no such file; check the name and the folder")
        if not file.is_file():
            raise FileAccessError(f"{file}: this is not a file; give the path of a TOML file")
        with open_plain(file) as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileAccessError:
        raise
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileAccessError(f"{str(file)!r}: could not be read: {reason}") from None
    if len(raw) > MOST_BYTES:
        size = f"more than {MOST_BYTES / 1e6:g} MB"
        raise _unreadable(str(file), size, f"a TOML file of at most {MOST_BYTES / 1e6:g} MB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _unreadable(
            str(file),
            f"a byte that is not UTF-8 in line {line}",
            "text in UTF-8",
            "Save the file again with the encoding UTF-8",
        ) from None


_MESHES = (".stl", ".3mf", ".obj")
"""What the names of meshes end in."""


def _unreadable(source: str, got: str, allowed: str, hint: str = "") -> SpecError:
    if source.lower().endswith(_MESHES):
        hint = "This looks like a mesh: `wingpath check` judges meshes"
    return SpecError(source, [Problem("the file", got, allowed, hint)])


def parse_toml(text: str, *, source: str = "spec") -> dict[str, Any]:
    """Parse TOML.

    Parameters
    ----------
    text : str
        The document, at most 1 MB.
    source : str
        Where it came from, for messages.

    Raises
    ------
    SpecError
        When it is too large or not TOML, with line and column.
    """
    if len(text) > MOST_BYTES:
        size = f"more than {MOST_BYTES / 1e6:g} MB"
        raise _unreadable(source, size, f"a TOML file of at most {MOST_BYTES / 1e6:g} MB")
    long_key = _LONG_KEY.search(text)
    if long_key:
        line = text.count("\n", 0, long_key.start()) + 1
        raise _unreadable(
            source, f"a key of more than {MOST_KEY_PARTS} parts in line {line}", "keys of a few parts"
        )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), text, source) from None
    except RecursionError:
        raise _unreadable(source, "lists or tables nested too deeply", "a few levels of tables") from None
    except (ValueError, OverflowError) as error:
        # a number of thousands of digits, a date that does not exist: the parser gives no place
        raise _unreadable(source, f"a value that cannot be read ({str(error)[:80]})", "TOML") from None


def _syntax_error(message: str, text: str, source: str) -> SpecError:
    """Word what the parser says: the place first, then the line at fault."""
    place = _PLACE.search(message)
    what = _PLACE.sub("", message).strip()[:120]
    if place is None:
        return _unreadable(source, f"broken TOML: {what}", "TOML")
    if place[3]:
        line, column = text.count("\n") + 1, 1
        where = "the end of the file"
    else:
        line, column = int(place[1]), int(place[2])
        where = f"line {line}, column {column}"
    lines = text.split("\n")
    shown = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    clipped = shown if len(shown) <= 60 else shown[:60] + "..."
    hint = f"The line reads: {clipped}" if clipped else ""
    if lesson := _twice(what, lines, line) or _lesson(shown):
        hint = f"{lesson}. {hint}"
    return _unreadable(source, f"broken TOML at {where}: {what}", "TOML", hint)


_KEY = re.compile(r"\s*([\w-]+)\s*=")


def _twice(what: str, lines: list[str], line: int) -> str:
    """Return what to do about a key or a table that stands there once more; an empty text for others."""
    shown = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    before = list(enumerate(lines[: line - 1], start=1))
    key = _KEY.match(shown)
    if what == "Cannot overwrite a value" and key is not None:
        for number, text in reversed(before):
            if text.lstrip().startswith("["):
                break
            if (other := _KEY.match(text)) is not None and other[1] == key[1]:
                return f"{key[1]} stands twice, first in line {number}: leave one of them out"
    if what.startswith("Cannot declare") and what.endswith("twice"):
        name = shown.strip("[] ")
        first = next((number for number, text in before if text.strip().strip("[] ") == name), None)
        if first is not None:
            return (
                f"The table {name} begins in line {first} already: put all its keys there, or write both "
                f"with double brackets, [[{name}]], where there may be several"
            )
    return ""


_COMMA = re.compile(r"=\s*[+-]?(\d+),(\d+)\b")
_BARE_TEXT = re.compile(r"=\s*(?!(?:true|false|inf|nan)\b)([A-Za-z][\w./ -]*)")


def _lesson(line: str) -> str:
    """Return what the two usual slips of the pen want; an empty text where it is another."""
    comma, bare = _COMMA.search(line), _BARE_TEXT.search(line)
    if comma:
        return f"Write the number with a point: {comma[1]}.{comma[2]}"
    if bare:
        return f'Put text in quotes: "{bare[1].strip()[:40]}"'
    return ""


def load_spec(path: str | Path) -> Spec:
    """Read and check the spec of a wing.

    Parameters
    ----------
    path : str or Path
        The TOML file.

    Raises
    ------
    FileAccessError
        When there is no such file or it cannot be read.
    SpecError
        With everything that is wrong with it.
    """
    return spec_from_dict(read_toml(path), source=str(path))


def dump_spec(spec: Spec) -> str:
    """Return a spec as TOML that reads back as the same spec; every value that has one is written."""
    data = spec.model_dump(by_alias=True, exclude_none=True)
    for tube in data["tube"]:
        # 0 stands for a size that this shape does not have
        for key in ("outer_mm", "width_mm", "height_mm"):
            if not tube[key]:
                del tube[key]
    return dump_toml(data)


def dump_toml(data: Mapping[str, Any]) -> str:
    """Return plain data as TOML: values first, then a table for every mapping, ``[[...]]`` for lists of them.

    Parameters
    ----------
    data : mapping
        Texts, numbers, true/false, lists, mappings and lists of mappings, two levels deep; deeper ones are
        written inline. Empty lists of tables are left out.

    Raises
    ------
    TypeError
        On a value that TOML does not know, None among them.
    """
    plain: list[str] = []
    tables: list[str] = []
    for key, value in data.items():
        if isinstance(value, Mapping):
            tables.append(_table(f"[{_key(key)}]", value))
        elif isinstance(value, list | tuple) and all(isinstance(item, Mapping) for item in value):
            tables += [_table(f"[[{_key(key)}]]", item) for item in value]
        else:
            plain.append(_line(key, value))
    head = ["\n".join(plain)] if plain else []
    return "\n\n".join([*head, *tables]) + "\n"


def _table(header: str, data: Mapping[str, Any]) -> str:
    return "\n".join([header, *(_line(key, value) for key, value in data.items())])


def _line(key: str, value: object) -> str:
    return f"{_key(key)} = {_value(value)}"


def _key(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else toml_text(key)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _block(value) if "\n" in value else toml_text(value)
    if isinstance(value, float):
        return repr(float(value)) if math.isfinite(value) else str(float(value))
    if isinstance(value, int):
        return str(int(value))
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(_line(key, item) for key, item in value.items())} }}"
    raise TypeError(f"got a {type(value).__name__}; TOML holds texts, numbers, true/false, lists and tables")


def toml_text(value: str) -> str:
    """Return a text as TOML writes it on one line, in quotes."""
    # JSON escapes what TOML wants escaped, except the delete character
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _block(value: str) -> str:
    """Write text of several lines as such, every line escaped by itself."""
    lines = [toml_text(line)[1:-1] for line in value.split("\n")]
    return '"""\n' + "\n".join(lines) + '"""'
