"""What every table of a spec or a profile is made of: strict values, and words for what is allowed.

The wording of ranges, types and units is generated here and nowhere else, from the fields themselves, so
that a message and the reference of all keys cannot disagree.
"""

from __future__ import annotations

import json
import math
import types
import typing
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo

__all__ = [
    "ISO_DATE",
    "ONE_LINE",
    "PROFILE_NAME",
    "KeyDoc",
    "Number",
    "SpecTable",
    "Switch",
    "allowed_text",
    "key_docs",
    "key_of",
    "numeric_limits",
    "quantity_text",
    "shown",
    "table_of",
    "unit_of",
]

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
"""A finite number: whole numbers are taken, true/false and quoted numbers are not."""

Switch = Annotated[bool, Field(strict=True)]
"""true or false; 0 and 1 are not taken."""

ONE_LINE = r"^[^\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufffe\uffff]*$"
"""Pattern of text that may become a title: nothing in it breaks a line or turns the text round."""

PROFILE_NAME = r"^[a-z0-9][a-z0-9._-]*$"
"""Pattern of the name of a profile, which is also the name of its file."""

ISO_DATE = r"^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$"
"""Pattern of a day as ISO 8601 writes it."""

PATTERN_WORDS = {
    ONE_LINE: "on one line, without control characters",
    PROFILE_NAME: "made of small letters, digits, dots, dashes and underscores",
    ISO_DATE: "a day as year-month-day, like 2026-05-31",
}

SHOWN_LENGTH = 60
"""Longest piece of somebody's input that a message repeats [characters]."""

UNIT_OF_SUFFIX: tuple[tuple[str, str], ...] = (
    ("_mm3_s", "mm3/s"),
    ("_mm_s2", "mm/s2"),
    ("_deg_per_n_m", "deg/(N m)"),
    ("_n_m", "N m"),
    ("_g_cm3", "g/cm3"),
    ("_g_dm2", "g/dm2"),
    ("_mm_s", "mm/s"),
    ("_m_s", "m/s"),
    ("_mpa", "MPa"),
    ("_deg", "deg"),
    ("_percent", "%"),
    ("_c_s", "°C/s"),
    ("_mm", "mm"),
    ("_g", "g"),
    ("_c", "°C"),
    ("_s", "s"),
    ("_m", "m"),
)
"""Unit by the end of a key, longest ending first."""


class SpecTable(BaseModel):
    """A table of a spec or a profile: unknown keys are refused, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class KeyDoc(typing.NamedTuple):
    """One line of the key reference: key, what it may hold, default (None: required), meaning."""

    key: str
    allowed: str
    default: str | None
    description: str


def key_of(name: str, info: FieldInfo) -> str:
    """Return the key that a field has in a file."""
    return info.alias or name


def unit_of(key: str) -> str:
    """Return the unit that a key ends in, or an empty text."""
    return next((unit for suffix, unit in UNIT_OF_SUFFIX if key.endswith(suffix)), "")


def quantity_text(value: float, unit: str) -> str:
    """Return a number with its unit, without needless digits."""
    return f"{value:g} {unit}" if unit else f"{value:g}"


def shown(value: object) -> str:
    """Return what a file holds as a short text, the way it would be written there."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        clipped = value if len(value) <= SHOWN_LENGTH else value[:SHOWN_LENGTH] + "..."
        return f"the text {json.dumps(clipped, ensure_ascii=not clipped.isprintable())}"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a whole number of 16 digits or more"
    if isinstance(value, float):
        return f"{value:g}" if math.isfinite(value) else str(value)
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, Sequence):
        return f"a list of {len(value)}"
    if value is None:
        return "nothing"
    return f"a {type(value).__name__}"


def _unwrapped(annotation: Any) -> Any:
    """Strip None and annotations from a type: ``Annotated[float, ...] | None`` is float."""
    origin = typing.get_origin(annotation)
    if origin is Annotated:
        return _unwrapped(typing.get_args(annotation)[0])
    if origin is typing.Union or origin is types.UnionType:
        inner = [part for part in typing.get_args(annotation) if part is not type(None)]
        return _unwrapped(inner[0])
    return annotation


def table_of(info: FieldInfo) -> tuple[type[SpecTable], bool] | None:
    """Return the table class that a field holds and whether it holds many; None for a plain value."""
    inner = _unwrapped(info.annotation)
    many = typing.get_origin(inner) is tuple
    if many:
        inner = _unwrapped(typing.get_args(inner)[0])
    if isinstance(inner, type) and issubclass(inner, SpecTable):
        return inner, many
    return None


def _limits(annotation: Any, metadata: Sequence[Any]) -> dict[str, Any]:
    """Collect ge, gt, le, lt and lengths of a field, also those inside ``X | None``."""
    found: dict[str, Any] = {}
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        for part in typing.get_args(annotation):
            found |= _limits(part, ())
    elif typing.get_origin(annotation) is Annotated:
        inner, *notes = typing.get_args(annotation)
        found |= _limits(inner, notes)
    for note in metadata:
        if isinstance(note, FieldInfo):
            found |= _limits(None, note.metadata)
        for word in ("ge", "gt", "le", "lt", "min_length", "max_length", "pattern"):
            limit = getattr(note, word, None)
            if limit is not None:
                found[word] = limit
    return found


def numeric_limits(info: FieldInfo) -> dict[str, Any]:
    """Return the bounds of a field by the words ``ge``, ``gt``, ``le``, ``lt``, and others that it has."""
    return _limits(info.annotation, info.metadata)


def _number_text(limits: Mapping[str, float], unit: str, noun: str = "a number") -> str:
    if "ge" in limits and "le" in limits:
        return f"{noun} from {limits['ge']:g} to {quantity_text(limits['le'], unit)}"
    parts = [
        f"{word} {quantity_text(limits[name], unit)}"
        for name, word in (("ge", "at least"), ("gt", "over"), ("le", "at most"), ("lt", "under"))
        if name in limits
    ]
    return f"{noun} {' and '.join(parts)}" if parts else (f"{noun} in {unit}" if unit else noun)


def _count_text(limits: Mapping[str, int]) -> str:
    low, high = limits.get("min_length"), limits.get("max_length")
    if low and high:
        return f"{low} to {high} "
    return f"at most {high} " if high else ""


def allowed_text(model: type[SpecTable], name: str) -> str:
    """Return in words what a field may hold, with range and unit."""
    info = model.model_fields[name]
    key = key_of(name, info)
    inner = _unwrapped(info.annotation)
    limits = _limits(info.annotation, info.metadata)
    held = table_of(info)
    if held is not None:
        return f"{_count_text(limits)}tables [[{key}]]" if held[1] else f"a table [{key}]"
    if inner is bool:
        return "true or false"
    if inner is int:
        return _number_text(limits, unit_of(key), "a whole number")
    if inner is float:
        return _number_text(limits, unit_of(key))
    if typing.get_origin(inner) is Literal:
        words = [f'"{word}"' if isinstance(word, str) else str(word) for word in typing.get_args(inner)]
        return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
    if typing.get_origin(inner) is tuple:
        item = typing.get_args(inner)[0]
        bare = _unwrapped(item)
        if typing.get_origin(bare) is tuple:
            return f"a list of {_count_text(limits)}pairs of numbers" + _in_unit(unit_of(key))
        if typing.get_origin(bare) is Literal:
            return f"a list of {_count_text(limits)}texts out of {', '.join(typing.get_args(bare))}"
        return f"a list of {_count_text(limits)}" + _number_text(_limits(item, ()), unit_of(key), "numbers")
    made_of = PATTERN_WORDS.get(limits.get("pattern", ""), "")
    return f"text of {_count_text(limits)}characters" + (f", {made_of}" if made_of else "")


def _in_unit(unit: str) -> str:
    return f" [{unit}]" if unit else ""


def _default_text(info: FieldInfo) -> str | None:
    if info.is_required():
        return None
    value = info.get_default(call_default_factory=True, validated_data={})
    if value is None or value == () or isinstance(value, SpecTable):
        return ""
    return shown(value).removeprefix("the text ")


def key_docs(model: type[SpecTable]) -> tuple[KeyDoc, ...]:
    """Return the reference of one table: a line for every key."""
    return tuple(
        KeyDoc(key_of(name, info), allowed_text(model, name), _default_text(info), info.description or "")
        for name, info in model.model_fields.items()
    )
