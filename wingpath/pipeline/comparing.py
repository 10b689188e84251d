"""Several wings side by side: differences, the best of each row, and what was changed between them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wingpath.model.spec import Spec

__all__ = ["ROWS", "ComparedRow", "changed_keys", "compared_rows", "comparison_document", "comparison_words"]

SAME = 0.005
"""Numbers closer than this share are told as equal."""


@dataclass(frozen=True, slots=True)
class RowKind:
    """A row of the table.

    Parameters
    ----------
    key : str
        Of the number; a dot leads into an object.
    title : str
        In words.
    unit : str
        Unit.
    better : int
        1: more is better, -1: less is better, 0: neither.
    """

    key: str
    title: str
    unit: str
    better: int


ROWS: tuple[RowKind, ...] = (
    RowKind("mass_g", "mass of a half wing", "g", -1),
    RowKind("printed_mass_g", "printed", "g", -1),
    RowKind("area_dm2", "wing area, both halves", "dm2", 0),
    RowKind("mean_chord_mm", "mean chord", "mm", 0),
    RowKind("wing_loading_g_dm2", "wing loading", "g/dm2", 0),
    RowKind("stall_speed_m_s", "stall speed", "m/s", 0),
    RowKind("root_bending_n_mm", "root bending of the lift", "N mm", 0),
    RowKind("tip_deflection_mm_per_g", "tip deflection at load factor 1", "mm", -1),
    RowKind("tip_deflection_limit_mm", "tip deflection at limit", "mm", -1),
    RowKind("twist_deg_per_n_m", "twist per N m at the tip", "deg", -1),
    RowKind("first_buckling_load_factor", "load factor at the first wrinkle", "", 1),
    RowKind("buckling_torque_n_m.nose_up", "first wrinkle, nose up", "N m", 1),
    RowKind("buckling_torque_n_m.nose_down", "first wrinkle, nose down", "N m", 1),
    RowKind("divergence_speed_m_s", "twists off at", "m/s", 1),
    RowKind("least_margin", "least margin of strength", "", 1),
)
"""Rows in their order."""


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One number of all wings.

    Parameters
    ----------
    kind : RowKind
        Which one.
    values : tuple of float or None
        By wing.
    best : int or None
        Number of the best wing; None when none is, or all are alike.
    against_first : tuple of float or None
        Share by which each differs from the first.
    """

    kind: RowKind
    values: tuple[float | None, ...]
    best: int | None
    against_first: tuple[float | None, ...]


def number_of(wing: Mapping[str, Any], key: str) -> float | None:
    """Return a number of a wing's document by its key; None when there is none."""
    if key == "least_margin":
        margins = [margin["value"] for margin in wing.get("margin_details", ())]
        known = [float(value) for value in margins if value is not None]
        return min(known) if known else None
    found: Any = wing
    for part in key.split("."):
        found = None if found is None else found.get(part)
    return None if found is None else float(found)


def compared_rows(wings: Sequence[Mapping[str, Any]]) -> tuple[ComparedRow, ...]:
    """Return the rows of the table of several wings.

    Parameters
    ----------
    wings : sequence of mapping
        Their documents.
    """
    rows = []
    for kind in ROWS:
        values = tuple(number_of(wing, kind.key) for wing in wings)
        if all(value is None for value in values):
            continue
        first = values[0]
        # a margin is a share already, and near 0
        plain = kind.key == "least_margin" or not first
        against = tuple(
            None if value is None or plain else value / float(first or 1.0) - 1.0 for value in values
        )
        rows.append(ComparedRow(kind, values, _best(kind, values), against))
    return tuple(rows)


def _best(kind: RowKind, values: Sequence[float | None]) -> int | None:
    known = [
        (abs(value) if kind.better < 0 else value, number)
        for number, value in enumerate(values)
        if value is not None
    ]
    if kind.better == 0 or len(known) < 2:
        return None
    low, high = min(known)[0], max(known)[0]
    if high - low <= SAME * max(abs(low), abs(high)):
        return None
    wanted = high if kind.better > 0 else low
    return next(number for value, number in known if value == wanted)


def changed_keys(first: Spec, other: Spec) -> list[tuple[str, str, str]]:
    """Return the keys of a spec that differ from those of another: key, value there, value here.

    Parameters
    ----------
    first, other : Spec
        The specs.
    """
    one, two = dict(_flat(first.model_dump(by_alias=True))), dict(_flat(other.model_dump(by_alias=True)))
    keys = [*one, *(key for key in two if key not in one)]
    return [
        (key, _shown(one.get(key)), _shown(two.get(key)))
        for key in keys
        if _shown(one.get(key)) != _shown(two.get(key)) and key != "name"
    ]


def _flat(value: Any, prefix: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _flat(inner, f"{prefix}.{key}" if prefix else str(key))
    elif isinstance(value, list | tuple) and value and isinstance(value[0], Mapping):
        for number, inner in enumerate(value):
            yield from _flat(inner, f"{prefix}[{number}]")
    else:
        yield prefix, value


def _shown(value: Any) -> str:
    if value is None or value == () or value == []:
        return "nothing"
    return f"{value:g}" if isinstance(value, float) else str(value)


def comparison_words(names: Sequence[str], specs: Sequence[Spec], rows: Sequence[ComparedRow]) -> list[str]:
    """Return a sentence for every wing but the first: what was changed, and what came of it.

    Parameters
    ----------
    names, specs
        Of the wings.
    rows : sequence of ComparedRow
        Their numbers.
    """
    lines = []
    for number in range(1, len(specs)):
        changes = changed_keys(specs[0], specs[number])
        told = [f"{key} is {here} instead of {there}" for key, there, here in changes[:6]]
        if len(changes) > len(told):
            told.append(f"{len(changes) - len(told)} more keys differ")
        effects = [
            f"{row.kind.title} {100.0 * share:+.0f} %"
            for row in rows
            if (share := row.against_first[number]) is not None
            and abs(share) > SAME
            and row.kind.better
            and row.kind.key not in ("printed_mass_g", "least_margin", "tip_deflection_mm_per_g")
        ]
        what = "; ".join(told) if told else "nothing is changed"
        came = ", ".join(effects) if effects else "all numbers the same"
        lines.append(f"{names[number]} against {names[0]}: {what}. That gives: {came}.")
    return lines


def comparison_document(
    names: Sequence[str], specs: Sequence[Spec], rows: Sequence[ComparedRow]
) -> dict[str, Any]:
    """Return the comparison as plain data.

    Parameters
    ----------
    names, specs, rows
        As for :func:`comparison_words`.
    """
    return {
        "rows": [
            {
                "key": row.kind.key,
                "title": row.kind.title,
                "unit": row.kind.unit,
                "values": list(row.values),
                "best": None if row.best is None else names[row.best],
                "against_first": [None if share is None else round(share, 4) for share in row.against_first],
            }
            for row in rows
        ],
        "changes": [
            {
                "spec": names[number],
                "keys": [
                    {"key": key, "first": there, "here": here}
                    for key, there, here in changed_keys(specs[0], specs[number])
                ],
            }
            for number in range(1, len(specs))
        ],
        "words": comparison_words(names, specs, rows),
    }
