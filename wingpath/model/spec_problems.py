"""From what the validation says to what the maker reads: every problem with its key path."""

from __future__ import annotations

import difflib
import json
import math
import re
import typing
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pydantic.fields import FieldInfo

from wingpath.core.errors import Problem, SpecError
from wingpath.core.units import MM_PER_UNIT
from wingpath.model.spec_base import (
    PROFILE_NAME,
    SpecTable,
    allowed_text,
    key_of,
    numeric_limits,
    shown,
    table_of,
)
from wingpath.model.spec_checks import contradictions

if TYPE_CHECKING:
    from wingpath.model.spec import Spec

__all__ = ["field_problems", "spec_problems"]

Place = tuple[int | str, ...]

MOST_PROBLEMS = 100
"""Problems told at once; a file with more is not a spec that somebody mistyped."""

MOST_ROWS = 200
"""Longest list of tables that the checks across keys look at; a longer one is refused for its length."""

LONGEST_TYPO = 40
"""Longest key that a near name is looked for, twice the longest key there is [characters]."""

OTHER_WORDS = {
    **dict.fromkeys(
        ("flap", "elevon", "flaperon", "spoiler", "elevator", "rudder", "control_surface"),
        "Flaps, elevons and other surfaces on a hinge are written as [[aileron]]",
    ),
    **dict.fromkeys(("spar", "rod", "joiner"), "A bought spar is a [[tube]], a printed one a [[spar_web]]"),
    "servo": "A servo goes into a [[servo_bay]]",
    **dict.fromkeys(
        ("dihedral", "dihedral_deg"),
        "Half wings are drawn flat: dihedral is made where the halves are joined, see the page on assembly",
    ),
    **dict.fromkeys(("sweep", "sweep_deg"), "Sweep is drawn by leading_edge_mm of each [[station]]"),
    **dict.fromkeys(("washout", "washout_deg"), "Washout is a negative twist_deg of the outer [[station]]"),
    "nozzle": "The nozzle is nozzle_mm in [printer]",
    "rib": "Ribs stand in [ribs], with single brackets",
}
"""What builders call a thing that stands under another name here, or not at all."""

G_PER_KG = 1000.0

OTHER_LENGTHS = {"cm": "centimeter", "metres": "meter", "inches": "inch"}
"""Units that lengths are written in by mistake, and their names in ``MM_PER_UNIT``."""

NAN = float("nan")


def _path(place: Place) -> str:
    """Write a place as a key path: ``station[1].chord_mm``."""
    text = ""
    for step in place:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            plain = step if step.replace("_", "").replace("-", "").isalnum() and len(step) < 60 else None
            text += f".{plain}" if plain else f".{json.dumps(step[:60])}"
    return text.removeprefix(".")


def _keys(model: type[SpecTable]) -> dict[str, str]:
    """Field name by key."""
    return {key_of(name, info): name for name, info in model.model_fields.items()}


def _home(root: type[SpecTable], place: Place) -> tuple[type[SpecTable], str | None]:
    """Return the table class that the last named step of a place lies in, and its field name if known."""
    model = root
    name: str | None = None
    for step in place:
        if isinstance(step, int):
            continue
        if name is not None:
            held = table_of(model.model_fields[name])
            if held is None:
                break
            model = held[0]
        name = _keys(model).get(step)
        if name is None:
            break
    return model, name


def _other_homes(root: type[SpecTable], key: str) -> list[str]:
    """Return the tables that do have a key of this name."""
    homes = []
    for name, info in root.model_fields.items():
        held = table_of(info)
        if held is not None and key in _keys(held[0]):
            table = key_of(name, info)
            homes.append(f"[[{table}]]" if held[1] else f"[{table}]")
    return homes


def _typo_hint(root: type[SpecTable], model: type[SpecTable], key: str) -> str:
    if len(key) > LONGEST_TYPO:
        return ""
    if key.lower().removesuffix("s") in OTHER_WORDS:
        return OTHER_WORDS[key.lower().removesuffix("s")]
    near = difflib.get_close_matches(key, _keys(model), n=1, cutoff=0.6)
    on_top = model is not root and key in _keys(root)
    homes = [] if on_top else _other_homes(root, key)
    if homes and not (near and model is root):
        return f"This key belongs in {' or '.join(homes)}"
    if near:
        return f"Did you mean `{near[0]}`?"
    if on_top:
        return "This key belongs at the top of the file, before the first table"
    return ""


def _unknown(root: type[SpecTable], place: Place) -> Problem:
    model, _ = _home(root, (*place[:-1], "")) if len(place) > 1 else (root, None)
    allowed = ", ".join(_keys(model))
    return Problem(
        _path(place),
        "an unknown key",
        f"the keys {allowed}",
        _typo_hint(root, model, str(place[-1])),
    )


def _hint(kind: str, model: type[SpecTable], name: str, place: Place, value: object) -> str:
    key = key_of(name, model.model_fields[name])
    held = table_of(model.model_fields[name])
    if held is not None:
        many = held[1]
        if many and isinstance(value, Mapping):
            return f"Write [[{key}]] with double brackets"
        if not many and isinstance(value, Sequence) and not isinstance(value, str):
            return f"Write [{key}] with single brackets"
        return ""
    if kind == "float_type" and isinstance(value, str):
        return "Write the number without quotes"
    if kind == "tuple_type" and isinstance(value, int | float):
        return f"Write a list in square brackets: {key} = [{value:g}]"
    if kind == "string_pattern_mismatch" and isinstance(value, str) and _is_profile_name(model, name):
        slug = "-".join(re.findall(r"[a-z0-9]+", value.lower()[:60]))
        return f'For example "{slug}"' if slug else ""
    if kind == "bool_type":
        return "Write true or false without quotes"
    if kind == "literal_error" and isinstance(value, str):
        words = [word for word in typing.get_args(_literal(model, name)) if isinstance(word, str)]
        near = difflib.get_close_matches(value.lower()[:LONGEST_TYPO], words, n=1, cutoff=0.6)
        return f'Did you mean "{near[0]}"?' if near else ""
    if kind in ("greater_than_equal", "greater_than", "less_than_equal", "less_than"):
        return _unit_hint(key, value, _limits(model.model_fields[name]))
    if key == "format":
        return "This version of wingpath reads format 1"
    return ""


def _unit_hint(key: str, value: object, limits: tuple[float, float]) -> str:
    """Return what a number out of range may have been meant as."""
    low, high = limits
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return ""
    if key.endswith("_mm") and 0 < value < low:
        fits = [
            f"{value:g} {words} are {value * MM_PER_UNIT[unit]:g}"
            for words, unit in OTHER_LENGTHS.items()
            if low <= value * MM_PER_UNIT[unit] <= high
        ]
        if fits:
            return f"Lengths are in millimetres: {' or '.join(fits)}"
    if key.endswith("_g") and 0 < value < low and low <= value * G_PER_KG <= high:
        return f"Masses are in grams: {value:g} kg are {value * G_PER_KG:g}"
    if key.endswith("fraction") and value > 1.0 and low <= value / 100.0 <= high:
        return f"A fraction, not per cent: {value:g} per cent are {value / 100.0:g}"
    return ""


def _limits(info: FieldInfo) -> tuple[float, float]:
    """Return the range of a number."""
    limits = numeric_limits(info)
    low = limits.get("ge", limits.get("gt", -math.inf))
    high = limits.get("le", limits.get("lt", math.inf))
    return float(low), float(high)


def _is_profile_name(model: type[SpecTable], name: str) -> bool:
    return numeric_limits(model.model_fields[name]).get("pattern") == PROFILE_NAME


def _literal(model: type[SpecTable], name: str) -> Any:
    annotation = model.model_fields[name].annotation
    options = [part for part in typing.get_args(annotation) if typing.get_origin(part) is typing.Literal]
    return options[0] if options else annotation


def field_problems(root: type[SpecTable], errors: Iterable[Mapping[str, Any]]) -> list[Problem]:
    """Word the errors of the validation.

    Parameters
    ----------
    root : type
        The class that was validated.
    errors : iterable of mapping
        As ``ValidationError.errors()`` gives them.
    """
    problems: list[Problem] = []
    for error in errors:
        place: Place = error["loc"]
        kind: str = error["type"]
        reason = error.get("ctx", {}).get("error")
        if isinstance(reason, SpecError):
            prefix = f"{_path(place)}." if place else ""
            problems += [Problem(f"{prefix}{p.key}", p.got, p.allowed, p.hint) for p in reason.problems]
            continue
        if kind == "too_short" and len(error["input"]) >= error["ctx"]["min_length"]:
            # the validation counts only the items that are right; those that are wrong have their own errors
            continue
        if kind == "extra_forbidden":
            problems.append(_unknown(root, place))
            continue
        if not place:
            problems.append(Problem("the file", shown(error["input"]), "tables and keys"))
            continue
        model, name = _home(root, place)
        if name is None:
            problems.append(Problem(_path(place), shown(error["input"]), "another kind of value"))
            continue
        in_list = isinstance(place[-1], int) and table_of(model.model_fields[name]) is not None
        allowed = "a table" if in_list else allowed_text(model, name)
        if kind == "missing":
            problems.append(Problem(_path(place), "nothing", allowed, f"Add `{place[-1]}`"))
        else:
            value = error["input"]
            problems.append(
                Problem(_path(place), shown(value), allowed, _hint(kind, model, name, place, value))
            )
    return problems


def _stray_names(root: type[SpecTable], data: Mapping[str, Any]) -> list[Problem]:
    """Field names of the code (``stations``) are no keys of a file (``station``)."""
    names = {name for name, info in root.model_fields.items() if key_of(name, info) != name}
    return [_unknown(root, (key,)) for key in data if key in names]


def _tolerant(model: type[SpecTable], data: object, bad: set[Place], place: Place = ()) -> Any:
    """Build a value in which every wrong number is nan, so that the checks across keys can still run."""
    given = data if isinstance(data, Mapping) else {}
    values: dict[str, Any] = {}
    for name, info in model.model_fields.items():
        key = key_of(name, info)
        here = (*place, key)
        held = table_of(info)
        wrong = any(other[: len(here)] == here for other in bad)
        if held is not None and key in given:
            table, many = held
            value = given[key]
            if many:
                rows = value if isinstance(value, list | tuple) and len(value) <= MOST_ROWS else ()
                values[name] = tuple(
                    _tolerant(table, row, bad, (*here, number)) for number, row in enumerate(rows)
                )
            else:
                values[name] = _tolerant(table, value, bad, here)
        elif key in given and not wrong:
            values[name] = tuple(given[key]) if isinstance(given[key], list) else given[key]
        elif info.is_required() or (wrong and "float" in str(info.annotation) and key in given):
            values[name] = () if "tuple" in str(info.annotation) else NAN
        else:
            values[name] = info.get_default(call_default_factory=True, validated_data={})
    return model.model_construct(_fields_set=set(values) & set(map(str, given)), **values)


def spec_problems(
    root: type[Spec], data: Mapping[str, Any], errors: Sequence[Mapping[str, Any]]
) -> list[Problem]:
    """Return everything that is wrong with the data of a spec, at most a hundred problems.

    Parameters
    ----------
    root : type
        The class of the spec.
    data : mapping
        What was validated.
    errors : sequence of mapping
        What the validation found, key by key; when it found anything, the checks across keys did not run
        and are run here on what is left.
    """
    problems = _stray_names(root, data) + field_problems(root, errors[:MOST_PROBLEMS])
    whole = any(not error["loc"] for error in errors)
    if errors and not whole:
        bad = {tuple(error["loc"]) for error in errors[:MOST_PROBLEMS]}
        problems += contradictions(_tolerant(root, data, bad))
    unique = list(dict.fromkeys(problems))
    left = len(unique) - MOST_PROBLEMS + max(0, len(errors) - MOST_PROBLEMS)
    if left > 0:
        return [*unique[:MOST_PROBLEMS], Problem("the file", f"{left} more problems", "a spec", "Start over")]
    return unique
