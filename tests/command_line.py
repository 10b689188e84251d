"""Running the command line inside this process."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wingpath.cli.app import main


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command did."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """Standard output as the one JSON document it has to be, without words that JSON does not know."""
        document: dict[str, Any] = json.loads(self.out, parse_constant=_not_json)
        return document

    @property
    def message(self) -> str:
        """The refusal, without the lines of progress above it."""
        return self.err[self.err.rfind("wingpath: ") :] if "wingpath: " in self.err else self.err


def _not_json(word: str) -> float:
    raise ValueError(f"{word} is no JSON")


def run_command(*words: str | Path) -> Ran:
    """Run `wingpath` with some words."""
    out, err = io.StringIO(), io.StringIO()
    before = sys.argv
    sys.argv = ["wingpath", *map(str, words)]
    status: Any = 0
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as end:
        status = end.code
    finally:
        sys.argv = before
    return Ran(int(status or 0), out.getvalue(), err.getvalue())
