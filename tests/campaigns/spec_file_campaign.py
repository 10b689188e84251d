"""Campaign: 5,000 mutated spec files; each is built, or refused with the key, in 2 s and 500 MB.

Run from the repository root::

    python tests/campaigns/spec_file_campaign.py --cases 5000 --summary spec-files.json
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in (0, 1)]

from command_line import run_command  # noqa: E402
from command_runs import faults_of  # noqa: E402
from harness import Bounds, Case, Outcome, campaign_main, rng_of  # noqa: E402
from spec_files import GOOD, Mutated, mutated  # noqa: E402

BOUNDS = Bounds(seconds=2.0, peak_mb=500.0)
"""A refusal is quick: reading a megabyte is all there is to do."""

SPEC = "spec.toml"


def make_case(seed: int, number: int) -> Case:
    """Return one damaged spec; the first is whole, as it warms up the worker."""
    if number == 0:
        return Case(number, "whole", {SPEC: GOOD.encode()}, Mutated("whole", b"", (), refused=False))
    found = mutated(rng_of("spec files", seed, number))
    return Case(number, found.words, {SPEC: found.data}, found)


def judge(case: Case, folder: Path) -> Outcome:
    """Build it, and look at what is said."""
    found: Mutated = case.data
    ran = run_command("build", SPEC, "-o", "out", "--no-strength", "--json")
    faults = faults_of(ran, names=(SPEC, *found.names), as_json=True)
    written = frozenset(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()) - {
        SPEC
    }
    # a profile that the spec names and that is not there is a file that cannot be read
    if ran.status in (2, 3):
        if written:
            faults.append(f"refused, yet wrote {sorted(written)[:3]}")
        if found.names and not any(name in ran.message for name in found.names):
            faults.append(f"the message names none of {found.names}: {ran.message:.300}")
    elif found.refused:
        faults.append(f"was not refused: {ran.status}")
    return Outcome("refused" if ran.status in (2, 3) else "judged", tuple(faults), written)


if __name__ == "__main__":
    campaign_main(make_case, judge, name="mutated spec files", cases=5000)
