"""Faults of the command line: kills, full disks, closed streams, odd places, two runs at once.

    python tests/campaigns/faults.py --tries 20 --seed 1 [--only kills] [--cases new,build] [--summary FILE]

Prints a JSON summary; the exit status is 1 when anything did not hold. Disks that are read-only or full need
the right to mount; without it these are left out, and the summary says so.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import tempfile
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[1])]

from fault_kills import CASES, kill_at_random, kill_at_steps, set_stage  # noqa: E402
from fault_lighten import lighten_kills  # noqa: E402
from fault_places import places  # noqa: E402


def kills(base: Path, tries: int, seed: int, wanted: set[str]) -> dict[str, Any]:
    """Kill every case at every step and at random moments."""
    told: dict[str, Any] = {}
    for number, case in enumerate(CASES):
        if wanted and case.name not in wanted:
            continue
        stage = set_stage(case, base / f"case-{number}")
        steps = kill_at_steps(stage, base / f"case-{number}", stride=4)
        kill_at_random(stage, base / f"case-{number}", tries, random.Random(f"{seed} {case.name}"))
        told[case.name] = {
            "kills": stage.runs,
            "steps": steps,
            "users_files_hidden_until_the_next_run": stage.hidden,
            "longest_s": round(stage.longest_s, 1),
            "defects": stage.defects,
        }
        print(f"{case.name}: {stage.runs} kills", *stage.defects, sep="\n  ", file=sys.stderr, flush=True)
    return told


def main() -> int:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tries", type=int, default=10, help="kills of each command at random moments")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=("kills", "lighten", "places"))
    parser.add_argument("--cases", default="", help="names of kills or places, with commas between them")
    parser.add_argument("--summary", type=Path, help="write the summary to this file")
    given = parser.parse_args()
    wanted = {name for name in given.cases.split(",") if name}
    summary: dict[str, Any] = {"seed": given.seed, "tries": given.tries}
    with tempfile.TemporaryDirectory(prefix="wingpath-faults-") as folder:
        base = Path(folder)
        if given.only in (None, "kills"):
            summary["kills"] = kills(base / "kills", given.tries, given.seed, wanted)
        if given.only in (None, "lighten"):
            summary["lighten"] = lighten_kills(base / "lighten", given.tries, given.seed)
        if given.only in (None, "places"):
            summary["places"] = places(base / "places", wanted)
    found = [one for part in summary.values() if isinstance(part, dict) for one in _defects(part)]
    summary["defects"] = len(found)
    text = json.dumps(summary, indent=2)
    print(text)
    if given.summary is not None:
        given.summary.write_text(text + "\n", encoding="utf-8")
    return 1 if found else 0


def _defects(part: dict[str, Any]) -> list[str]:
    return [one for row in part.values() if isinstance(row, dict) for one in row["defects"]]


if __name__ == "__main__":
    sys.exit(main())
