"""Campaign: mutated files of measurements through ``wingpath tune --read``.

A profile that is written is taken by the next command; a refusal leaves no file.

    PYTHONPATH=. python tests/campaigns/measurement_campaign.py --cases 1000
"""

from __future__ import annotations

import random
import sys
from functools import lru_cache
from pathlib import Path

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in (1, 2)]

import numpy as np
from command_line import run_command
from command_runs import faults_of
from harness import Case, Outcome, campaign_main, rng_of
from simulated_coupons import Hidden, file_of, measured
from toml_changes import change_toml, dumped

CASES = 1000

NAME = "measured.toml"

PROFILE = "out.toml"


@lru_cache(maxsize=8)
def base_text(coupons: int) -> str:
    """Return a file as somebody would fill it in, of one or more coupons."""
    chance = np.random.default_rng(coupons)
    hidden = Hidden()
    rows = [measured(hidden, chance) for _ in range(coupons)]
    return dumped(file_of(*rows))


def make_case(seed: int, number: int) -> Case:
    """Return case `number` of a seed."""
    rng = rng_of("measurements", seed, number)
    text = base_text(rng.choice([1, 1, 2]))
    if number == 0:
        return Case(number, "plain:", {NAME: text.encode()}, ("--json",))
    told, data = change_toml(rng, text)
    return Case(
        number, told, {NAME: data}, random.Random(number).choice([("--json",), ("--json",), (), ("--notes",)])
    )


def judge(case: Case, folder: Path) -> Outcome:
    """Read the file back and hold what came of it against what was promised."""
    ran = run_command("tune", "--read", NAME, "-o", PROFILE, *case.data)
    faults = faults_of(ran, names=[NAME, PROFILE, "base_profile"], as_json="--json" in case.data)
    written = (folder / PROFILE).is_file()
    if ran.status > 1:
        if written:
            faults.append("refused, and yet a profile was written")
        if case.number == 0:
            faults.append(f"the plain file was refused: {ran.message:.300}")
        return Outcome("refused", tuple(faults))
    if written:
        after = run_command("tune", "--filament", PROFILE, "--json")
        if after.status > 1:
            faults.append(f"the profile that was written is refused: {after.message:.400}")
        else:
            assert after.document
    elif not ran.status:
        faults.append("clean, and no profile was written")
    return Outcome("judged", tuple(faults), frozenset({PROFILE} if written else ()))


if __name__ == "__main__":
    campaign_main(make_case, judge, name="measurements", cases=CASES)
