"""Campaign: mutated profiles of filaments and printers, given by path to ``check`` and ``tune``.

PYTHONPATH=. python tests/campaigns/profile_campaign.py --cases 500
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in (1, 2)]

from command_line import run_command
from command_runs import faults_of
from harness import ROOT, Case, Outcome, campaign_main, rng_of
from mesh_parts import binary_stl, part
from program_texts import HEAD, loop
from toml_changes import change_toml

CASES = 500

NAME = "mine.toml"

SPEC = """\
name = "Campaign"
[[station]]
span_mm = 0.0
chord_mm = 120.0
[[station]]
span_mm = 60.0
chord_mm = 100.0
[[tube]]
outer_mm = 6.0
inner_mm = 4.0
to_mm = 50.0
chord_fraction = 0.3
MATERIAL
[FOLDER]
profile = "mine.toml"
"""


@dataclass(frozen=True, slots=True)
class Asked:
    """The commands that use the profile."""

    commands: tuple[tuple[str, ...], ...]


@lru_cache(maxsize=8)
def base_text(kind: str, name: str) -> str:
    return (ROOT / "profiles" / kind / f"{name}.toml").read_text(encoding="utf-8")


def make_case(seed: int, number: int) -> Case:
    """Return case `number` of a seed."""
    rng = rng_of("profiles", seed, number)
    kind, name = rng.choice(
        [
            *[("filaments", "foaming-pla"), ("filaments", "pla"), ("filaments", "foaming-pla-gentle")] * 2,
            *(
                ("printers", "bed-220"),
                ("printers", "bed-180"),
                ("printers", "bed-350"),
                ("tubes", "glass-fibre"),
            ),
        ]
    )
    told, data = change_toml(rng, base_text(kind, name))
    if number == 0:
        told, data = "plain:", base_text(kind, name).encode()
    files = {NAME: data}
    form = rng.choice([("--json",), ("--json",), ()])
    if kind == "filaments":
        files |= {"part.stl": binary_stl(part("slotted")), "spec.toml": _spec("filament")}
        commands = [("check", "part.stl", "--filament", NAME), ("tune", "--filament", NAME)]
    elif kind == "printers":
        files |= {
            "part.gcode": (HEAD + loop(0.0, 0.2) + loop(0.0, 0.4)).encode(),
            "spec.toml": _spec("printer"),
        }
        commands = [("check", "part.gcode", "--printer", NAME), ("tune", "--printer", NAME)]
    else:
        files |= {"spec.toml": _spec("")}
        commands = []
    if number % 4 == 0 or not commands:
        commands.append(("assess", "spec.toml", "--preview"))
    return Case(number, f"{told} {kind}", files, Asked(tuple((*words, *form) for words in commands)))


def _spec(table: str) -> bytes:
    text = SPEC.replace("MATERIAL", "" if table else 'material = "mine.toml"')
    return (text.replace("FOLDER", table) if table else text.partition("[FOLDER]")[0]).encode()


def judge(case: Case, _folder: Path) -> Outcome:
    """Run the commands; what one refuses as a profile, the others refuse too."""
    faults: list[str] = []
    statuses = []
    for words in case.data.commands:
        ran = run_command(*words)
        statuses.append(ran.status)
        # options that do not fit a sound profile are told by their names
        faults += [
            f"{words[0]}: {fault}"
            for fault in faults_of(ran, names=[NAME, "--", "print.", "spec.toml"], as_json="--json" in words)
        ]
    if case.number == 0 and max(statuses) > 1:
        faults.append("the plain profile was refused")
    return Outcome("refused" if max(statuses) > 1 else "judged", tuple(faults))


if __name__ == "__main__":
    campaign_main(make_case, judge, name="profiles", cases=CASES)
