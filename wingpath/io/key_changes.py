"""Changes to plain data by key path, such as ``tube[0].to_mm``: what an edited file has to hold."""

from __future__ import annotations

import copy
import math
import numbers
import re
from collections.abc import Iterator, Mapping
from typing import Any

__all__ = [
    "GONE",
    "KeyPath",
    "are_rows",
    "key_path",
    "plain_value",
    "put_value",
    "same",
    "single_changes",
    "value_at",
]

KeyPath = tuple[str | int, ...]
"""Names of tables and keys, and numbers of list items: ``("tube", 0, "to_mm")``."""

GONE = object()
"""Stands for the value of a key that is not there, or is not to be there."""

_STEP = re.compile(r"([A-Za-z0-9_-]+)((?:\[\d+\])*)")


def key_path(key: str) -> KeyPath:
    """Return the names and numbers of a written key path.

    Raises
    ------
    ValueError
        When it is none, or ends with a number.
    """
    path: list[str | int] = []
    for step in key.split("."):
        match = _STEP.fullmatch(step)
        if match is None:
            raise ValueError(f"key path: got {key!r}; allowed: names with dots between, like tube[0].to_mm")
        path += [match[1], *(int(number) for number in re.findall(r"\d+", match[2]))]
    if isinstance(path[-1], int):
        raise ValueError(f"key path: got {key!r}; allowed: paths that end with a name; give the whole list")
    return tuple(path)


def plain_value(key: str, value: Any) -> Any:
    """Return a value made of the types that a TOML file has; None is :data:`GONE`.

    Parameters
    ----------
    key : str
        Its key path, for messages.
    value : object
        Text, number, true/false, list or mapping of them. Keys whose value is None are left out.

    Raises
    ------
    ValueError
        On a number that is not finite.
    TypeError
        On a value that TOML does not know.
    """
    if value is None:
        return GONE
    if isinstance(value, bool | str):
        return value
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real):
        if not math.isfinite(value):
            raise ValueError(f"{key}: got {value}; allowed: finite numbers")
        return float(value)
    if isinstance(value, Mapping):
        given = {str(name): plain_value(f"{key}.{name}", item) for name, item in value.items()}
        return {name: item for name, item in given.items() if item is not GONE}
    if isinstance(value, list | tuple) and None not in value:
        return [plain_value(key, item) for item in value]
    raise TypeError(
        f"{key}: got a {type(value).__name__}; allowed: texts, numbers, true/false, lists, tables"
    )


def same(one: Any, other: Any) -> bool:
    """Return whether two values are equal; unlike Python, true is not 1."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, bool) != isinstance(other, bool):
        return False
    # what is not a number is the same as itself
    return bool(one == other or (one != one and other != other))


def value_at(data: Any, path: KeyPath) -> Any:
    """Return the value at a path, or :data:`GONE`.

    Raises
    ------
    ValueError
        When the path leads to a list item that is not there.
    """
    for part in path:
        if isinstance(part, int):
            if not isinstance(data, list) or part >= len(data):
                raise ValueError(f"key path {path}: there is no item {part}")
        elif not isinstance(data, dict) or part not in data:
            return GONE
        data = data[part]
    return data


def put_value(data: Any, path: KeyPath, value: Any) -> None:
    """Put a value into plain data, or take it out if it is :data:`GONE`; tables on the way are made."""
    if value is GONE and value_at(data, path) is GONE:
        return
    for part in path[:-1]:
        data = data.setdefault(part, {}) if isinstance(part, str) else data[part]
    if value is GONE:
        del data[path[-1]]
    else:
        data[path[-1]] = copy.deepcopy(value)


def are_rows(value: Any) -> bool:
    """Return whether a value is a list of one or more tables."""
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def single_changes(path: KeyPath, old: Any, new: Any) -> Iterator[tuple[KeyPath, Any]]:
    """Yield the changes that lead from an old to a new value, in order; tables are changed key by key."""
    if same(old, new):
        return
    if isinstance(new, dict) and (new or isinstance(old, dict)):
        if not isinstance(old, dict):
            if old is not GONE:
                yield path, GONE
            old = {}
        for name in [name for name in old if name not in new]:
            yield (*path, name), GONE
        for name, value in new.items():
            yield from single_changes((*path, name), old.get(name, GONE), value)
        return
    if new is not GONE and (isinstance(old, dict) or (are_rows(old) and not are_rows(new))):
        yield path, GONE
    yield path, new
