"""Specs with any legal value in any table, read off the fields that check them, so that new keys come in."""

from __future__ import annotations

import typing
from copy import deepcopy
from typing import Any

from annotated_types import Ge, Gt, Le, Lt, MaxLen, MinLen
from hypothesis import strategies as st
from test_random_fittings import fitted_wings
from test_random_windows import windowed
from test_random_wings import wings

from wingpath.model.spec import Spec
from wingpath.model.spec_base import SpecTable, key_of, table_of
from wingpath.model.spec_printing import PrinterRef

MOST_SPAN_MM = 220.0
"""Longer wings have more of the same layers, and a case must take a second or two."""

SHORT_MM = frozenset({"span_mm", "from_mm", "to_mm", "joints_mm", "horn_mm", "hole_from_root_mm"})
"""Keys that hold a place along the span."""

SECTIONS = ("naca0012", "naca6412", "naca23012", "flat-12", "reflex-10", "naca0004", "naca2421")

PRINTERS = ("bed-180", "bed-220", "bed-350")
FILAMENTS = ("foaming-pla", "foaming-pla-gentle", "pla")

NAMES: dict[str, tuple[str, ...]] = {
    "airfoil": SECTIONS,
    "name": ("Wing", "Flügel <b>&amp;</b>", "a/b\\c", "..", "x" * 80, "{{ 7*7 }}", "翼", "-rf"),
    "material": ("pultruded-carbon", "pultruded-carbon", "pultruded-carbon", "nosuch"),
    "start_block": ("", "G28\nG1 Z5 F3000", "M104 S{nozzle_c}"),
    "end_block": ("", "M84", "G91\nG1 Z10\nG90"),
}


@st.composite
def wild_wings(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a wing that a builder could mean, with one to eight keys of any table set to any legal value."""
    # what is drawn shares tables with what is drawn next
    data = deepcopy(draw(st.one_of(wings(), fitted_wings(), windowed())))
    for _ in range(draw(st.integers(1, 4))):
        name = draw(st.sampled_from([n for n, info in Spec.model_fields.items() if table_of(info)]))
        info = Spec.model_fields[name]
        held = table_of(info)
        assert held is not None
        model, many = held
        key = key_of(name, info)
        if many:
            rows = data.setdefault(key, [])
            if not rows or draw(st.integers(0, 2)) == 0:
                rows.append({})
                table = rows[-1]
            else:
                table = rows[draw(st.integers(0, len(rows) - 1))]
        else:
            table = data.setdefault(key, {})
        # where stations lie is drawn with care: any other place is out of order
        free = [n for n in model.model_fields if (name, n) != ("stations", "span_mm")]
        keys = draw(st.sets(st.sampled_from(free), min_size=1, max_size=2))
        needed = {n for n, field in model.model_fields.items() if field.is_required()}
        for field_name in sorted(keys | {n for n in needed if key_of(n, model.model_fields[n]) not in table}):
            field = model.model_fields[field_name]
            table[key_of(field_name, field)] = draw(_legal(model, field_name))
    _put_in_order(data)
    return data


def _put_in_order(data: dict[str, Any]) -> None:
    """Mend what would be refused at once, most of the time: order along the span, and its end."""
    span = data["station"][-1]["span_mm"] or MOST_SPAN_MM
    for rows in data.values():
        for table in rows if isinstance(rows, list) else []:
            if not isinstance(table, dict) or ("span_mm" in table and rows is data["station"]):
                continue
            if {"from_mm", "to_mm"} <= table.keys():
                table["from_mm"], table["to_mm"] = sorted((table["from_mm"] % span, table["to_mm"] % span))
            elif "span_mm" in table:
                table["span_mm"] = round(table["span_mm"] % span, 2)
    panels = data.get("panels", {})
    if isinstance(panels.get("joints_mm"), list):
        panels["joints_mm"] = sorted(round(place % span, 2) for place in panels["joints_mm"])
    ribs = data.get("ribs", {})
    if "pitch_along_mm" in ribs:
        ribs.pop("pitch_mm", None)
        pairs = ((round(place % span, 2), pitch) for place, pitch in ribs["pitch_along_mm"])
        ribs["pitch_along_mm"] = [list(pair) for pair in sorted(pairs)]


def _legal(model: type[SpecTable], name: str) -> st.SearchStrategy[Any]:
    field = model.model_fields[name]
    if name == "profile":
        return st.sampled_from(PRINTERS if model is PrinterRef else FILAMENTS)
    return _of_type(key_of(name, field), field.annotation, tuple(field.metadata))


def _of_type(key: str, annotation: Any, notes: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    origin, inside = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _of_type(key, inside[0], (*notes, *inside[1:]))
    if origin is typing.Literal:
        return st.sampled_from(inside)
    if origin is tuple and inside[-1] is Ellipsis:
        most = min(_limit(notes, MaxLen, 4), 4)
        item = _of_type(key, inside[0], ())
        return st.lists(item, min_size=_limit(notes, MinLen, 0), max_size=most).map(list)
    if origin is tuple:
        # pairs of a place and a pitch, or of two diameters
        return st.tuples(_legal_number(0.0, MOST_SPAN_MM), _legal_number(5.0, 90.0)).map(list)
    if inside:
        parts = [part for part in inside if part is not type(None)]
        return _of_type(key, parts[0], notes)
    if annotation is bool:
        return st.booleans()
    if annotation is str:
        return st.sampled_from(NAMES[key])
    flat = [note for one in notes for note in getattr(one, "metadata", [one])]
    low, high = _bound(flat, (Ge, Gt), -1e4), _bound(flat, (Le, Lt), 1e4)
    if annotation is int:
        return st.integers(int(low), int(high))
    if key in SHORT_MM:
        low, high = max(low, 0.0), min(high, MOST_SPAN_MM)
    return _legal_number(low, high)


def _legal_number(low: float, high: float) -> st.SearchStrategy[float]:
    even = st.integers(0, 4000).map(lambda k: round(low + (high - low) * k / 4000.0, 4))
    ends = st.sampled_from([low, high])
    # small values of a wide range are where builders are
    least = max(low, 1e-3 * high)
    near = st.integers(0, 4000).map(lambda k: round(least * (max(high, least) / least) ** (k / 4000.0), 4))
    held = near.filter(lambda value: low <= value <= high) if high > 0.0 else even
    return st.one_of(even, held, held, ends)


def _limit(notes: tuple[Any, ...], kind: type, default: int) -> int:
    flat = [note for one in notes for note in getattr(one, "metadata", [one])]
    for note in flat:
        if isinstance(note, kind):
            return int(getattr(note, "max_length" if kind is MaxLen else "min_length"))
    return default


def _bound(notes: list[Any], kinds: tuple[type, ...], default: float) -> float:
    for note in notes:
        if isinstance(note, kinds):
            return float(
                next(v for k in ("ge", "gt", "le", "lt") if (v := getattr(note, k, None)) is not None)
            )
    return default
