"""What may be wrong with a TOML file of ours: keys, types, sizes, repeats, nesting, and its text."""

from __future__ import annotations

import datetime
import json
import random
import tomllib
from collections.abc import Callable
from copy import deepcopy
from typing import Any

from text_changes import change_text

__all__ = ["change_toml", "dumped"]

ODD_VALUES: tuple[Callable[[], Any], ...] = (
    *(lambda v=v: v for v in (0, -1, 1, 2, 10**18, -(10**18), 0.0, -0.0, 1e-300, 1e308, -5.5, 0.5, 1e6)),
    *(lambda v=v: float(v) for v in ("nan", "inf", "-inf")),
    *(lambda v=v: v for v in (True, False, "", "x", "0.5", "nan", "../canary.toml", "/etc/passwd", "a\nb")),
    *(lambda v=v: v for v in ("\u202e", "\x1b[31m", "x" * 20_000, "CON", "-o", "日本", "a/b", ".", "..")),
    *(lambda v=v: list(v) for v in ((), (1.0,), (1.0, "x"), (float("nan"),) * 3, (0.4,) * 3, ((1,), (2,)))),
    lambda: [0.4] * 30_000,
    lambda: {},
    lambda: {"a": 1},
    lambda: [{"a": 1}] * 3,
    lambda: [{}] * 2000,
    lambda: datetime.date(2026, 2, 3),
    lambda: datetime.datetime(1, 1, 1, 0, 0, 0),
    lambda: datetime.time(1, 2, 3),
)


def dumped(data: dict[str, Any]) -> str:
    """Return plain data as TOML, tables in one line each."""
    return "".join(f"{_quoted(key)} = {_value(value)}\n" for key, value in data.items())


def _quoted(text: str) -> str:
    # the escapes of JSON are escapes of TOML too; signs beyond 16 bits would come as pairs, which are none
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_quoted(key)} = {_value(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _quoted(value)
    return repr(value) if isinstance(value, int | float) else value.isoformat()


def _places(data: Any, found: list[tuple[Any, Any]] | None = None) -> list[tuple[Any, Any]]:
    """Return every container of plain data with a key of it."""
    found = [] if found is None else found
    keys = list(data) if isinstance(data, dict) else range(len(data)) if isinstance(data, list) else []
    for key in keys:
        found.append((data, key))
        _places(data[key], found)
    return found


def _change_value(rng: random.Random, data: dict[str, Any]) -> str:
    holder, key = rng.choice(_places(data))
    old = holder[key]
    if isinstance(old, int | float) and not isinstance(old, bool) and rng.random() < 0.5:
        holder[key] = old * rng.choice([-1, 0, 0.1, 0.5, 0.9, 1.1, 2, 10, 1000, 1e6, 1e-6])
    else:
        holder[key] = rng.choice(ODD_VALUES)()
    return "value"


def _nudge(rng: random.Random, data: dict[str, Any]) -> str:
    """Change a number so little that it may stay within its range."""
    numbers = [(h, k) for h, k in _places(data) if type(h[k]) in (int, float)]
    if numbers:
        holder, key = rng.choice(numbers)
        old = holder[key]
        holder[key] = old + rng.choice([-1, 1]) if isinstance(old, int) else old * rng.uniform(0.3, 2.0)
    return "nudged"


def _drop_key(rng: random.Random, data: dict[str, Any]) -> str:
    holder, key = rng.choice(_places(data))
    del holder[key]
    return "dropped"


def _add_key(rng: random.Random, data: dict[str, Any]) -> str:
    holders = [data, *(h[k] for h, k in _places(data) if isinstance(h[k], dict))]
    holder = rng.choice(holders)
    name = rng.choice(
        ["x", "", "a.b", "mass_kg", "nozle_mm", "__class__", "\u00e9", "y" * 3000, "\n", "name"]
    )
    holder[name] = rng.choice(ODD_VALUES)()
    return "added"


def _swap_values(rng: random.Random, data: dict[str, Any]) -> str:
    places = _places(data)
    (a, i), (b, j) = rng.choice(places), rng.choice(places)
    # copies, so that nothing holds itself
    a[i], b[j] = deepcopy(b[j]), deepcopy(a[i])
    return "swapped"


def _repeat_item(rng: random.Random, data: dict[str, Any]) -> str:
    lists = [h[k] for h, k in _places(data) if isinstance(h[k], list) and h[k]]
    if not lists:
        return "nothing"
    some = rng.choice(lists)
    some.extend([rng.choice(some)] * rng.choice([1, 2, 50, 3000]))
    return "repeated"


def _mix_list(rng: random.Random, data: dict[str, Any]) -> str:
    lists = [h[k] for h, k in _places(data) if isinstance(h[k], list)]
    if lists:
        some = rng.choice(lists)
        rng.shuffle(some)
        del some[rng.randrange(len(some) + 1) :]
    return "mixed"


CHANGES = (
    _change_value,
    _change_value,
    _change_value,
    _drop_key,
    _add_key,
    _swap_values,
    _repeat_item,
    _mix_list,
)


def _bomb(rng: random.Random, text: str) -> str:
    """Text around or inside the good one that is made to hurt."""
    return rng.choice(
        [
            lambda: text + "\nx = " + "[" * 5000,
            lambda: text + "\nx = " + "{a=" * 3000,
            lambda: text + "\nx = " + "[" * 90 + "]" * 90,
            lambda: ".".join(["a"] * 20_000) + " = 1\n" + text,
            lambda: "[" + ".".join(["a"] * 20_000) + "]\n",
            lambda: text + "\n#" + "x" * 1_500_000,
            lambda: "x = " + "9" * 900_000 + "\n" + text,
            lambda: "x = '" + "." * 900_000 + "'\n" + text,
            lambda: text + "\n" + "".join(f"k{n} = 1\n" for n in range(60_000)),
            lambda: text + "\n" + text,
            lambda: text + "\n[[coupon]]\n" * 60_000,
            lambda: text + "\n[sources]\n" + "".join(f"k{n} = {{}}\n" for n in range(20_000)),
            lambda: "x = 1e" + "9" * 50_000 + "\n" + text,
            lambda: "x = 0x" + "f" * 300_000 + "\n" + text,
            lambda: "x = 2026-99-99\n" + text,
            lambda: 'x = "\\ud800"\n' + text,
        ]
    )()


def change_toml(rng: random.Random, text: str) -> tuple[str, bytes]:
    """Change a TOML text; return in words what was done, and the file."""
    kind = rng.random()
    if kind < 0.3:
        return change_text(rng, text)
    if kind < 0.36:
        return "bomb:", _bomb(rng, text).encode("utf-8", "replace")
    data = tomllib.loads(text)
    if kind < 0.7:
        done = [rng.choice((_nudge, _nudge, _drop_key))(rng, data) for _ in range(rng.choice([1, 2, 4, 8]))]
        return f"{done[0]}: {' '.join(done)}", dumped(data).encode("utf-8", "replace")
    done = [rng.choice(CHANGES)(rng, data) for _ in range(rng.choice([1, 1, 1, 2, 4]))]
    return f"{done[0]}: {' '.join(done)}", dumped(data).encode("utf-8", "replace")
