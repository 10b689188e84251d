"""`wingpath profiles`: what ships with the program, and where its numbers come from."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

__all__ = ["profiles"]


class Kind(StrEnum):
    """Kinds of profile."""

    airfoils = "airfoils"
    printers = "printers"
    filaments = "filaments"
    tubes = "tubes"


def profiles(
    kind: Annotated[
        Kind | None, typer.Argument(help="Only this kind; left out: all.", show_default=False)
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """List airfoils, printers, filaments and tubes with their sources."""
    import textwrap

    from wingpath.cli.console import WIDTH, show, show_json
    from wingpath.io.profile_store import list_profiles

    kinds = list(Kind) if kind is None else [kind]
    found = {one.value: list_profiles(one.value) for one in kinds}
    if json:
        lists = {
            name: [{"name": e.name, "title": e.title, "source": e.source} for e in entries]
            for name, entries in found.items()
        }
        show_json({"document": "wingpath profiles", "format": 1, **lists})
        return
    for name, entries in found.items():
        show(f"{name}:")
        for entry in entries:
            show(f"  {entry.name}")
            for line in textwrap.wrap(entry.title, WIDTH - 6):
                show(f"      {line}")
            for line in textwrap.wrap(f"Source: {entry.source}", WIDTH - 6):
                show(f"      {line}")
        show()
