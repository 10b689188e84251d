"""Run what the pages show: every command, in page order, each page in a folder of its own.

Run from the repository root::

    python docs/run_pages.py                        # all pages; tell what differs
    python docs/run_pages.py docs/first-wing.md     # some
    python docs/run_pages.py --update docs/*.md     # write what the commands print now into the pages

How a block is run:

- ``console``: lines after ``$ `` are commands, what follows is what they print. A line ``...`` stands for any
  lines, ``...`` inside a line for any text. A command that is shown without output only has to succeed.
- ``toml``: a spec, or tables of one, which then go round a short wing: has to be valid.
- ``python``: has to run without an error or a warning.

Remarks above a block, which readers do not see, change that:

- ``<!-- not run: reason -->``
- ``<!-- run with --option value: reason -->`` adds that to each command; its output is then not compared.
- ``<!-- file: name.toml -->`` writes the block to a file, ``<!-- edit: name.toml -->`` changes the keys of
  that file which the block shows.
- ``<!-- fails: 2 -->`` is the exit status that is meant.

**Numbers**: one with a decimal point may differ by one in its last digit, because sums round differently on
other machines; all others have to be the same. Spaces and dashes in a row count as one, so columns may shift.
"""

from __future__ import annotations

import argparse
import difflib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pages import ROOT, Block, Command, Page, all_pages, read_page

from wingpath import WingpathError, spec_from_dict

__all__ = ["Outcome", "pages_with_code", "run_page", "same_output", "updated_lines"]

WING: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 160.0, "airfoil": "naca2414"},
        {"span_mm": 120.0, "chord_mm": 150.0, "leading_edge_mm": 4.0, "airfoil": "naca2414"},
    ],
    "panels": {"joints_mm": [100.0]},
}
"""The short wing round tables that are no spec by themselves."""

PROGRESS = re.compile(r"^[\w .-]+: +\d+ % ")
"""Lines that stand where a terminal shows a bar that goes away again."""

NUMBER = re.compile(r"\d+(?:\.\d+)?")

LEAST_ALIKE = 0.5
"""A line that was looked for is found again if this share of it is the same: judgement."""

MOST_SECONDS = 300


@dataclass(frozen=True)
class Outcome:
    """What became of a block or of one of its commands; `wrong` is empty if it did what the page says."""

    block: Block
    what: str
    wrong: str = ""
    command: Command | None = None
    printed: tuple[str, ...] = ()


def pages_with_code() -> list[Path]:
    """Return the pages whose blocks are run: the first page and those of the documents."""
    return [path for path in all_pages() if path.parent == ROOT / "docs" or path == ROOT / "README.md"]


def run_page(page: Page, folder: Path) -> list[Outcome]:
    """Run the blocks of a page, one after the other.

    Parameters
    ----------
    page : Page
        The page.
    folder : Path
        Empty folder to run in; the examples are put there too.
    """
    shutil.copytree(ROOT / "examples", folder / "examples")
    outcomes: list[Outcome] = []
    for block in page.blocks:
        if block.mark("not run") is None:
            outcomes += _run(block, folder)
    return outcomes


def _run(block: Block, folder: Path) -> list[Outcome]:
    target, change = block.mark("file"), block.mark("edit")
    if target is not None:
        (folder / target).write_text(block.text, encoding="utf-8")
        return [Outcome(block, f"file {target}")]
    if change is not None:
        return [_edited(block, folder / change)]
    if block.language == "console":
        return [_run_command(block, command, folder) for command in block.commands()]
    if block.language == "toml":
        return [_loaded(block)]
    if block.language == "python":
        status, printed = _process([sys.executable, "-W", "error", "-c", block.text], folder)
        return [Outcome(block, "python", "\n".join(printed) if status else "", printed=printed)]
    return [Outcome(block, block.language or "block", "is not marked, and of no language that is run")]


def _process(words: list[str], folder: Path) -> tuple[int, tuple[str, ...]]:
    """Run a program as somebody in a terminal would, and return its status and what stays on the screen."""
    paths = [str(Path(sys.executable).parent), os.environ.get("PATH", "")]
    environment = {
        **os.environ,
        "PATH": os.pathsep.join(paths),
        "PYTHONPATH": str(ROOT),
        "COLUMNS": "80",
        "OPENBLAS_NUM_THREADS": "1",
        "PYTHONUTF8": "1",
    }
    done = subprocess.run(
        words,
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        timeout=MOST_SECONDS,
        check=False,
    )
    lines = [line.rstrip() for line in done.stdout.splitlines() if not PROGRESS.match(line)]
    return done.returncode, _trimmed(lines)


def _trimmed(lines: Sequence[str]) -> tuple[str, ...]:
    kept = [number for number, line in enumerate(lines) if line.strip()]
    return tuple(lines[kept[0] : kept[-1] + 1]) if kept else ()


def _run_command(block: Block, command: Command, folder: Path) -> Outcome:
    smaller = block.mark("run with")
    more, _, reason = (smaller or "").partition(": ")
    if smaller and not reason:
        return Outcome(block, command.text, "'run with' needs a reason after a colon", command)
    text = f"{command.text} {more}" if smaller else command.text
    status, printed = _process(["sh", "-c", text], folder)
    wanted = int(block.mark("fails") or 0)
    wrong = ""
    if status != wanted:
        wrong = f"exit status {status} instead of {wanted}\n" + "\n".join(printed)
    elif _trimmed(command.output) and not smaller and not same_output(command.output, printed):
        wrong = "\n".join(difflib.unified_diff(command.output, printed, "page", "printed", lineterm="", n=1))
    return Outcome(block, text, wrong, command, printed)


def _loaded(block: Block) -> Outcome:
    try:
        data = tomllib.loads(block.text)
        tables = {key: value for key, value in WING.items() if key not in data}
        spec_from_dict(tables | data)
    except (tomllib.TOMLDecodeError, WingpathError) as error:
        return Outcome(block, "toml", str(error))
    return Outcome(block, "toml")


def _edited(block: Block, path: Path) -> Outcome:
    """Change the keys of a file that a block shows; the nth table of a name in both is the same."""
    lines = path.read_text(encoding="utf-8").splitlines()
    places = {place: number for number, place in enumerate(_places(lines)) if place[2]}
    for line, place in zip(block.lines, _places(block.lines), strict=True):
        if not place[2]:
            continue
        if place not in places:
            return Outcome(block, f"edit {path.name}", f"{place[0]} {place[2]} is not in {path.name}")
        lines[places[place]] = line
    path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
    return Outcome(block, f"edit {path.name}")


def _places(lines: Sequence[str]) -> list[tuple[str, int, str]]:
    """Return for each line the header of its table, how many of that header came before, and its key."""
    places, header, seen = [], "", dict[str, int]()
    for line in lines:
        if line.startswith("["):
            header = line.split("#")[0].strip()
            seen[header] = seen.get(header, 0) + 1
        key = re.match(r"([a-z_]+)\s*=", line)
        places.append((header, seen.get(header, 0), key[1] if key else ""))
    return places


def same_output(wanted: Sequence[str], printed: Sequence[str]) -> bool:
    """Whether a page shows what was printed; the module tells what may differ."""
    left, right = _trimmed(wanted), _trimmed(printed)

    @cache
    def same(here: int, there: int) -> bool:
        if here == len(left):
            return there == len(right)
        if left[here].strip() == "...":
            return any(same(here + 1, later) for later in range(there, len(right) + 1))
        return there < len(right) and _same_line(left[here], right[there]) and same(here + 1, there + 1)

    return same(0, 0)


def _same_line(wanted: str, printed: str) -> bool:
    left, right = (" ".join(re.sub(r"-{3,}", "---", text).split()) for text in (wanted, printed))
    pattern = ".*".join(_numbers_open(part) for part in left.split("..."))
    found = re.fullmatch(pattern, right)
    return found is not None and all(
        _near(told, seen) for told, seen in zip(NUMBER.findall(left), found.groups(), strict=True)
    )


def _numbers_open(text: str) -> str:
    words = NUMBER.split(text)
    return r"(\d+(?:\.\d+)?)".join(re.escape(word) for word in words)


def _near(told: str, seen: str) -> bool:
    decimals = len(told.partition(".")[2])
    if not decimals:
        return told == seen
    step: float = 10.0**-decimals
    return len(seen.partition(".")[2]) == decimals and abs(float(told) - float(seen)) < 1.5 * step


def updated_lines(wanted: Sequence[str], printed: Sequence[str]) -> list[str]:
    """Return what a page should show now: the printed lines, less those that it left out before.

    Parameters
    ----------
    wanted, printed : sequence of str
        What the page shows, and what the command prints now. Each stretch between two ``...`` is looked for
        by its first and last line, whatever their numbers; if one is gone, all that was printed is shown.
    """
    if same_output(wanted, printed):
        return list(wanted)
    shown = _cut_as_before(wanted, printed)
    for line in wanted:
        # a line that leaves out a part of itself goes on doing so
        if "..." in line and line.strip() != "...":
            shown = [line if _same_line(line, other) else other for other in shown]
    return shown


def _cut_as_before(wanted: Sequence[str], printed: Sequence[str]) -> list[str]:
    stretches: list[list[str]] = [[]]
    for line in _trimmed(wanted):
        if line.strip() == "...":
            stretches.append([])
        else:
            stretches[-1].append(line)
    if len(stretches) == 1:
        return list(printed)
    shown: list[str] = []
    at = 0
    for number, stretch in enumerate(stretches):
        if number:
            shown.append("...")
        if not stretch:
            continue
        first = at if number == 0 else _alike(stretch[0], printed, at)
        last = len(printed) - 1 if number == len(stretches) - 1 else _alike(stretch[-1], printed, first)
        if first is None or last is None:
            return list(printed)
        shown += printed[first : last + 1]
        at = last + 1
    return shown


def _alike(line: str, printed: Sequence[str], start: int | None) -> int | None:
    """Return the line that is most like another, leaving numbers aside."""
    if start is None:
        return None
    bare = NUMBER.sub("0", line)
    shares = [
        difflib.SequenceMatcher(None, bare, NUMBER.sub("0", other)).ratio() for other in printed[start:]
    ]
    best = max(range(len(shares)), key=lambda number: shares[number], default=None)
    return None if best is None or shares[best] < LEAST_ALIKE else start + best


def update_page(page: Page, outcomes: Sequence[Outcome]) -> int:
    """Write what commands print now into a page, and return how many blocks of output changed."""
    lines = page.path.read_text(encoding="utf-8").splitlines()
    count = 0
    for outcome in reversed(outcomes):
        command = outcome.command
        if command is None or not _trimmed(command.output) or outcome.block.mark("run with"):
            continue
        new = updated_lines(command.output, outcome.printed)
        if outcome.wrong and new != list(command.output):
            if command.output[-1:] == ("",):
                new = [*new, ""]
            lines[command.first : command.first + len(command.output)] = new
            count += 1
    page.path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
    return count


def main() -> int:
    """Run pages and say what differs."""
    parser = argparse.ArgumentParser(description="Run what the pages show.")
    parser.add_argument("pages", nargs="*", type=Path, help="pages; all of them if left out")
    parser.add_argument("--update", action="store_true", help="write what is printed now into the pages")
    given = parser.parse_args()
    bad = 0
    for path in [path.resolve() for path in given.pages] or pages_with_code():
        page = read_page(path)
        with tempfile.TemporaryDirectory() as folder:
            outcomes = run_page(page, Path(folder))
        wrong = [outcome for outcome in outcomes if outcome.wrong]
        print(f"{path.relative_to(ROOT)}: {len(outcomes)} run, {len(wrong)} differ")
        for outcome in wrong:
            print(f"  line {outcome.block.first + 1}: {outcome.what}\n{outcome.wrong}")
        if given.update:
            print(f"  {update_page(page, outcomes)} outputs rewritten: read them")
        bad += len(wrong)
    return 1 if bad and not given.update else 0


if __name__ == "__main__":
    sys.exit(main())
