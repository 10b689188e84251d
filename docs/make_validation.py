"""Write docs/validation.md: run the tests that check against the outside, and list what they compared.

Run from anywhere: ``python docs/make_validation.py``. It takes a minute or two; nothing is written if a test
fails. Rows of tests that need a library which is not installed here stay as they are.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TESTS = ROOT / "tests"
sys.path.insert(0, str(TESTS))

from outside import KINDS, SUBJECTS, WATCH  # noqa: E402
from outside_page import PAGE, Row, files_with_checks, rows_of, sources_of, table_of  # noqa: E402

HEAD = """\
# What was checked against something outside

<!-- made by docs/make_validation.py: change the tests, not this page -->

This page lists every check of wingpath against a thing that wingpath did not make: a printed table, a
standard, a textbook's example, another library; and, weaker, known formulas worked out a second time. Each
row is part of a test that runs with `make test`, and the same test holds the row against what came out.

**What it proves.** Formulas are programmed right, the shell behaves as plates and boxes of textbooks do,
files are what their standards ask for, and other programs find the same solids, layers and lengths in them.

**What it does not prove.** Nothing here is a printed wing. No row compares a mass, a deflection, a
wrinkling load or a speed with one that was measured on a print. Such numbers stay estimates until your wing
has been **proof-loaded** ([strength.md](strength.md)); what your filament does, only [a coupon](tuning.md)
can tell.
"""

READING = """\
## How to read it

A row names what is compared (a link to its test), the source with its page, table or equation, the expected
value, what came out, how far apart they are, and what may differ and why. Of many values it shows the
worst, measured by what is allowed. A rule that is not counted is told in words, and `holds` means that it
does. Values have no more digits than their tolerance makes interesting, so that the page is the same on
every machine.

Not all sources are worth the same. The word before each says how far to trust it:

| word | means | rows |
|---|---|---|
"""

MISSING = """\
## What has no outside check

- **A printed wing.** Mass, stiffness, first wrinkles, breaking load, twist at speed: no print was measured
  yet.
- **Beads that fuse.** Slot widths, necks and what beads bridge are reasoned out here, and tried on coupons
  that were simulated. How much a filament foams by temperature is a curve from memory.
- **The real shape of a bead** beside a slot, at a crossing or on a steep wall: layers are plane figures,
  cut at their middle height.
- **Strength of foam and of fused ribs.** The exponents from density to stiffness and strength are
  judgement.
- **Wrinkling of a ribbed wing.** Plates, columns and boxes are held against textbooks, and a panel's
  stiffness against another library; the load at which a whole wing wrinkles is not.
- **Flutter.** It is not worked out at all.
- **Air.** Loads follow Schrenk's rule and thin-airfoil theory; no flow was solved or measured. Gusts and
  load factors are rules for full-size aircraft, taken over.
- **Printers.** Programs are read by another parser; which words a given firmware obeys is not tested.
- **The search for lighter wings.** It is held against brute force on formulas, which is our own work.
- **Tubes, glue and screws.** Their strength is handbook values or judgement, as their profiles say.
"""


FAULTS = "faults.json"
"""The summary of faults on purpose."""

MUTANTS = "mutants-"
"""How the summaries of changes to our own code begin."""

TRIED = """\
## What was tried to break it

Campaigns (`tests/campaigns/`) feed the tool with thousands of files that somebody could have made, or spoilt.
Each case is made from a seed and a number, so it can be made again. *Judged* cases ended with a result,
*refused* ones with a message that says what is wrong and what to do. A case that crashed, hung, took more
time or memory than it may, or touched a file of somebody else would be a failure. The memory is what a case
takes over what the program takes anyway. A short slice of every campaign is part of the tests.

Two random specs failed; no wing with a fault was called fit to print. A wing that twists by twenty degrees
within a hand's breadth swallowed the ends of a bay, which the proof told; such a bay is refused since. A
piece of a tube that lay along the chord gave no number while stiffness was worked out. Both were mended
afterwards and tried again by themselves, as were the nine failures of an earlier ten thousand.

| campaign | cases | judged | refused | failures | longest | most memory |
|---|---|---|---|---|---|---|
"""


def tried() -> str:
    """Return what the last full runs of the campaigns gave, from the summaries that they wrote."""
    rows = []
    for path in sorted((TESTS / "campaigns" / "results").glob("*.json")):
        if path.name.startswith(MUTANTS) or path.name == FAULTS:
            continue
        one = json.loads(path.read_text(encoding="utf-8"))
        rows.append(
            f"| {one['campaign']} (seed {one['seed']}) | {one['cases']} | {one['judged']} | {one['refused']} "
            f"| {len(one['failures'])} | {one['worst_s']:.1f} s | {one['worst_peak_mb']:.0f} MB |\n"
        )
    return TRIED + "".join(rows)


SPOILT = """
Commands were also disturbed while they ran, and their places taken away (`tests/campaigns/faults.py`). A
defect would be a half-written or lost file, an earlier output that is gone, a left-over that the next run
does not clear away, a message without a remedy, a traceback, or a process that stays behind.

| what was done | tries | defects |
|---|---|---|
"""

PLACES = {
    "full_disks": "a disk that fills up while a command writes",
    "read_only_disks": "a disk or folder that cannot be written to",
    "streams": "stdout or stderr closed, full or cut off",
    "environments": "odd surroundings: no home, another language, no room for temporary files",
    "paths": "odd places: a file for a folder, links, pipes, devices, long and strange names",
    "vanishing": "inputs and folders that vanish or change while they are used",
    "at_once": "two runs into one folder at once",
}
"""What each kind of place in the summary is."""


def spoilt() -> str:
    """Return what the last full run of faults on purpose gave."""
    told = json.loads((TESTS / "campaigns" / "results" / FAULTS).read_text(encoding="utf-8"))
    kills = told["kills"].values()
    rows = [
        (
            f"{len(kills)} commands killed or interrupted before changes on the disk and at random moments",
            sum(row["kills"] for row in kills),
            sum(len(row["defects"]) for row in kills),
        )
    ]
    search = told["lighten"]["lighten"]
    rows.append(
        ("`lighten` killed with its workers, its journal torn", search["kills"], len(search["defects"]))
    )
    rows += [
        (words, told["places"][key]["tries"], len(told["places"][key]["defects"]))
        for key, words in PLACES.items()
    ]
    return SPOILT + "".join(f"| {words} | {tries} | {defects} |\n" for words, tries, defects in rows)


NOTICED = """
## Do the tests notice?

Our own code was changed on purpose, one thing in one line at a time: a comparison turned round, a plus made a
minus, a number made larger (`tests/campaigns/mutation.py`). Each change met the tests that run its line, the
quickest of them up to a limit. What no test noticed was looked at, and a test was written where it mattered,
which was then shown to notice it; the numbers are those before that, but for `tune`, which was tried again
(55 per cent before). Left are places on the edge of a comparison that no length ever hits, signs of what is
squared, sizes of drawings, and bounds that other checks hold as well. What took too long counts as not
noticed.

| package | possible changes | tried | noticed | not noticed | too slow, or run by no quick test | score |
|---|---|---|---|---|---|---|
"""


def noticed() -> str:
    """Return what the last trials of mutants gave, from the summaries that they wrote."""
    rows = []
    for path in sorted((TESTS / "campaigns" / "results").glob(f"{MUTANTS}*.json")):
        one = json.loads(path.read_text(encoding="utf-8"))
        caught, survived = one.get("noticed", 0), one.get("survived", 0)
        rest = one.get("hung", 0) + one.get("not run", 0)
        rows.append(
            f"| `{one['package']}` (seed {one['seed']}) | {one['possible']} | {one['tried']} | {caught} "
            f"| {survived} | {rest} | {100.0 * one['score']:.0f} % |\n"
        )
    return NOTICED + "".join(rows) + "\n"


class Only:
    """Collects the files that hold checks, but for those whose library is missing; notes which it got."""

    def __init__(self) -> None:
        self.files: set[str] = set()

    def pytest_ignore_collect(self, collection_path: Path) -> bool | None:
        """Leave out other files; what is left out where a library is missing stays so."""
        name = collection_path.relative_to(ROOT).as_posix()
        return True if name.endswith(".py") and name not in files_with_checks() else None

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Note the files."""
        self.files |= {item.nodeid.partition("::")[0] for item in items}


def ran() -> tuple[list[Row], dict[tuple[str, str], str], set[str]]:
    """Run the tests with outside checks; return rows, sources, and the files that were collected."""
    only = Only()
    WATCH.against_page = False
    status = pytest.main(
        [str(TESTS), "-q", "-p", "no:cacheprovider", "-p", "no:xdist", f"--rootdir={ROOT}"], plugins=[only]
    )
    if status != 0:
        sys.exit("A test fails, so the page was not written.")
    return WATCH.rows, WATCH.sources, only.files


def page(rows: list[Row], sources: dict[tuple[str, str], str]) -> str:
    """Return the whole page."""
    kinds = Counter(row.source.partition(":")[0] for row in rows)
    reading = READING + "".join(f"| {kind} | {means} | {kinds[kind]} |\n" for kind, means in KINDS.items())
    parts = [
        HEAD,
        f"There are {len(rows)} rows, from {len({row.file for row in rows})} files of tests.\n",
        reading,
    ]
    for subject in SUBJECTS:
        own = [row for row in rows if row.subject == subject.name]
        lines = [f"- **{name}**: {whole}" for (of, name), whole in sources.items() if of == subject.name]
        parts.append(f"## {subject.name}\n\n{table_of(own)}\n\nSources:\n\n" + "\n".join(lines) + "\n")
    return "\n".join([*parts, tried() + spoilt() + noticed() + MISSING])


def main() -> None:
    """Write the page."""
    rows, sources, collected = ran()
    old = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    kept = [row for row in rows_of(old) if row.file in files_with_checks() and row.file not in collected]
    for file in sorted({row.file for row in kept}):
        print(f"kept the rows of {file}, which needs a library that is not installed")
    rows = list({row.key: row for row in [*rows, *kept]}.values())
    # published sources first; within a file in the order of its tests
    rows.sort(key=lambda row: ("/published/" not in row.file, row.file))
    named = {(row.subject, row.source) for row in rows}
    sources = {
        (of, name): whole
        for (of, name), whole in sorted((sources_of(old) | sources).items())
        if any(of == subject and f": {name}" in source for subject, source in named)
    }
    PAGE.write_text(page(rows, sources), encoding="utf-8")
    print(f"{PAGE.relative_to(ROOT)}: {len(rows)} rows")


if __name__ == "__main__":
    main()
