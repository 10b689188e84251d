"""Write the reference of all keys of a spec, `docs/spec.md`, from the code that reads specs.

Run from the repository root whenever a key changes; a test compares::

    python docs/make_spec_reference.py
"""

from __future__ import annotations

import inspect
from pathlib import Path

from wingpath.model.spec import Spec
from wingpath.model.spec_base import SpecTable, key_docs, key_of, shown, table_of
from wingpath.model.spec_printing import FilamentRef, PrinterRef

__all__ = ["PAGE", "spec_reference"]

PAGE = Path(__file__).parent / "spec.md"

HEAD = """\
# All keys of a spec

This page is generated from the code (`docs/make_spec_reference.py`): every table, every key, what it may
hold, and what holds if you leave it out. A spec is a text file in [TOML](https://toml.io). Only `[[station]]`
is needed, twice or more. `[[name]]` stands once for every such thing, `[name]` once in the file. Keys carry
their unit. Paths are relative to the spec file. What is wrong is told all at once, with the nearest name of
a misspelt key.

Messages count from 0, as most programs do: `aileron[0]` is the first `[[aileron]]` of the file, `aileron[1]`
the second. Parts count from 1: `aileron-1` is made from `aileron[0]`.

`wingpath new` writes a commented spec to start from. Pages that explain: [the first wing](first-wing.md),
[fittings](fittings.md), [ribs](ribs.md), [printing](printing.md), [strength](strength.md),
[a lighter wing](lightening.md).
"""

MORE = {
    PrinterRef: "Every key but `profile` replaces that of the profile, for this spec only. "
    "`wingpath profiles printers` lists the profiles.",
    FilamentRef: "Every key but `profile` replaces that of the profile, for this spec only. Tables, such as "
    "foaming by temperature, stand in a profile of your own: [tuning](tuning.md) makes one. "
    "`wingpath profiles filaments` lists the profiles.",
}
"""What is to be known of a table besides its keys."""


def spec_reference() -> str:
    """Return the page."""
    plain = [name for name, info in Spec.model_fields.items() if table_of(info) is None]
    parts = [HEAD, "## At the head of the file\n", _rows(Spec, plain)]
    for name, info in Spec.model_fields.items():
        held = table_of(info)
        if held is None:
            continue
        model, many = held
        key = key_of(name, info)
        parts.append(f"## `[[{key}]]`\n" if many else f"## `[{key}]`\n")
        words = (inspect.getdoc(model) or "").split("\n\n")[0].replace("\n", " ")
        parts.append(f"{words} {MORE.get(model, '')}".strip() + "\n")
        parts.append(_rows(model, list(model.model_fields)))
    return "\n".join(parts)


def _rows(model: type[SpecTable], names: list[str]) -> str:
    lines = ["| key | may hold | left out | meaning |", "|---|---|---|---|"]
    docs = dict(zip(model.model_fields, key_docs(model), strict=True))
    for name in names:
        doc = docs[name]
        meaning, _, otherwise = doc.description.partition("; left out: ")
        left_out = "**needed**" if doc.default is None else otherwise or _default(model, name, doc.default)
        cells = (f"`{doc.key}`", doc.allowed, left_out, meaning)
        lines.append(f"| {' | '.join(cell.replace('|', '/') for cell in cells)} |")
    return "\n".join(lines) + "\n"


def _default(model: type[SpecTable], name: str, told: str) -> str:
    """Return what holds if a key is left out whose description does not say it."""
    value = model.model_fields[name].get_default(call_default_factory=True, validated_data={})
    if isinstance(value, tuple) and value:
        return f"`[{', '.join(shown(item) for item in value)}]`"
    if told:
        return f"`{told}`"
    profile = model in (PrinterRef, FilamentRef) or (model.model_fields[name].description or "").endswith(
        "profile's"
    )
    return "the profile's" if profile else "none"


def main() -> None:
    """Write the page."""
    PAGE.write_text(spec_reference(), encoding="utf-8")


if __name__ == "__main__":
    main()
