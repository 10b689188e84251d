"""`wingpath new`: a commented starter spec."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["new"]


def new(
    file: Annotated[Path, typer.Argument(help="Where to write it.")] = Path("wing.toml"),
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Write a commented starter spec that builds clean."""
    from wingpath.cli.console import show, show_json
    from wingpath.io.output_folder import write_file
    from wingpath.io.starter import starter_spec

    write_file(file, starter_spec(), force=force)
    if json:
        show_json({"document": "wingpath new", "format": 1, "file": str(file)})
    else:
        show(f"Wrote {file}. Change it to your wing, then run:\n\n    wingpath build {file}")
