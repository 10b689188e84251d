"""What people read in the terminal: results on stdout, messages and progress on stderr, 80 columns."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

import typer

from wingpath.cli.interrupts import raise_if_interrupted
from wingpath.core.errors import FileAccessError

if TYPE_CHECKING:
    from wingpath.core.findings import Finding
    from wingpath.pipeline.progress import Progress

__all__ = [
    "EXIT_FILE",
    "WIDTH",
    "finding_lines",
    "open_streams",
    "progress_bar",
    "say",
    "show",
    "show_json",
    "table_lines",
]

EXIT_FILE = 3
"""Exit status when a file, here the reader of our output, is out of reach."""

WIDTH = 80
"""Columns of all output."""

MOST_SHOWN = 12
"""Findings of one severity that are listed; the rest are counted."""

MOST_ALIKE = 3
"""Findings of one code and one part that are listed, the worst of them; the rest are counted."""


def open_streams() -> None:
    """Put something in the place of streams that were closed by who started the program.

    Otherwise the first file that is written would get their numbers, and messages would go into it.
    """
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            # results go to one that only reads, so that it is told that nobody can see them
            os.open(os.devnull, os.O_WRONLY if name == "stderr" else os.O_RDONLY)
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, "w" if number else "r", encoding="utf-8", closefd=False))


def show(text: str = "") -> None:
    """Print a result."""
    _put(f"{_plain(text)}\n")


def _put(text: str) -> None:
    try:
        sys.stdout.write(_encodable(text, sys.stdout))
        sys.stdout.flush()
    except OSError as error:
        # closing stdout must not fail once more
        _silence(sys.stdout)
        if isinstance(error, BrokenPipeError):
            # whoever was reading has gone: there is nobody to complain to
            raise typer.Exit(EXIT_FILE) from None
        raise FileAccessError(f"the result cannot be shown ({error.strerror or error})") from None


def say(text: str) -> None:
    """Print a message; one that nobody can take is no reason to stop."""
    try:
        print(_encodable(_plain(text), sys.stderr), file=sys.stderr, flush=True)
    except (OSError, ValueError):
        # what is left in its buffer must not fail once more
        _silence(sys.stderr)


def _silence(stream: Any) -> None:
    """Lead a stream to nowhere from here on."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def _plain(text: str) -> str:
    """Return text without signs that a terminal would obey, whatever somebody called a file."""
    return "".join(sign if sign.isprintable() or sign in "\n\u00a0" else "?" for sign in text)


def _encodable(text: str, stream: Any) -> str:
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return text.encode(encoding, "replace").decode(encoding)


def show_json(document: dict[str, Any]) -> None:
    """Print a document and nothing else."""
    from wingpath.io.tables import json_text

    _put(json_text(document))


@contextmanager
def progress_bar(words: str) -> Iterator[Progress]:
    """Show on stderr what is being done: a bar in a terminal, a line a step elsewhere."""
    if not sys.stderr.isatty():
        told = ""

        def line(step: str, share: float) -> None:
            nonlocal told
            raise_if_interrupted()
            text = f"{words}: {100 * share:3.0f} % {step}"
            if text != told:
                # a stage may only say that it is alive
                say(text)
                told = text

        yield line
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:<30.30}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=1.0)

        def update(step: str, share: float) -> None:
            raise_if_interrupted()
            bar.update(task, completed=share, description=step)

        yield update


def table_lines(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lay out a table: first column left, the others right."""
    cells = [list(head), *[list(row) for row in rows]]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    lines = []
    for number, row in enumerate(cells):
        first = row[0].ljust(widths[0])
        rest = [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        lines.append("  ".join([first, *rest]).rstrip())
        if number == 0:
            lines.append("  ".join("-" * width for width in widths))
    return lines


def finding_lines(findings: Sequence[Finding], *, notes: bool) -> list[str]:
    """Write findings for people, worst first."""
    lines: list[str] = []
    for severity in ("error", "warning", "note"):
        of_kind = [finding for finding in findings if finding.severity == severity]
        if severity == "note" and not notes:
            if of_kind:
                lines.append(f"{len(of_kind)} note{'s' if len(of_kind) > 1 else ''}, shown with --notes")
            continue
        shown = _worst_of_alike(of_kind)[:MOST_SHOWN]
        for finding in shown:
            lines.extend(_finding(finding))
        lines.extend(_left_out([finding for finding in of_kind if finding not in shown]))
    return lines


def _worst_of_alike(findings: Sequence[Finding]) -> list[Finding]:
    """Return the worst few findings of each code and part, in their order."""
    alike: dict[tuple[str, str | None], list[Finding]] = {}
    for finding in findings:
        alike.setdefault((finding.code, finding.panel), []).append(finding)
    kept = [
        finding
        for same in alike.values()
        for finding in sorted(same, key=lambda one: -(one.found or 0.0))[:MOST_ALIKE]
    ]
    return [finding for finding in findings if finding in kept]


def _left_out(findings: Sequence[Finding]) -> list[str]:
    """Return a line for each kind of finding that is not listed."""
    counts: dict[tuple[str, str, str | None], int] = {}
    for finding in findings:
        key = (finding.severity, finding.code, finding.panel)
        counts[key] = counts.get(key, 0) + 1
    return [
        line
        for (severity, code, panel), count in counts.items()
        for line in textwrap.wrap(
            f"... and {count} more {severity}{'s' if count > 1 else ''} {code}"
            f"{'' if panel is None else f' in {panel}'}, all in --json",
            WIDTH,
        )
    ]


def _finding(finding: Finding) -> list[str]:
    place = [] if finding.panel is None else [finding.panel]
    if finding.line is not None:
        place.append(f"line {finding.line}")
    if finding.layers is not None:
        first, last = finding.layers
        place.append(f"layer {first}" if first == last else f"layers {first} to {last}")
    spot = [
        f"{axis} {value:.1f}"
        for axis, value in (("z", finding.z_mm), ("x", finding.x_mm), ("y", finding.y_mm))
        if value is not None
    ]
    if spot:
        place.append(f"{'worst at' if finding.line is None else 'at'} {' '.join(spot)} mm")
    head = f"{finding.severity.upper()} {finding.code}"
    if place:
        head += f" ({', '.join(place)})"
    text = [*textwrap.wrap(head, WIDTH - 4), *textwrap.wrap(f"{finding.message}.", WIDTH - 4)]
    if finding.remedy:
        text += textwrap.wrap(f"What to do: {finding.remedy}.", WIDTH - 4)
    return [text[0], *(f"    {line}" for line in text[1:])]
