"""Campaign: mutated G-code programs through ``wingpath check``.

Besides cases that only must not crash: a program that does the same, told otherwise, gets the same verdict;
and one that travels, draws back or jumps in the midst of its bead is never called one bead.

    PYTHONPATH=. python tests/campaigns/gcode_campaign.py --cases 1000
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in (1, 2)]

from command_line import Ran, run_command
from command_runs import faults_of
from harness import Case, Outcome, campaign_main, rng_of
from program_texts import HEAD, PLAIN, loop
from text_changes import change_text

CASES = 1000

NAME = "part.gcode"

BASES = ("wing", "loops", "plain", "counted", "arcs", "relative")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is promised of the file: "", "same" as the second, or "broken"; and the words of the command."""

    promise: str = ""
    words: tuple[str, ...] = ()


def _arcs() -> str:
    """Rings of four quarter arcs each, that rise."""
    lines = ["G90", "M83", "G1 X10 Y0 Z0.2 F600"]
    for layer in range(6):
        z = 0.2 + 0.2 * layer
        lines.append(f"G1 Z{z:.2f} E0.02")
        for x, y, i, j in ((0, 10, -10, 0), (-10, 0, 0, -10), (0, -10, 10, 0), (10, 0, 0, 10)):
            lines.append(f"G3 X{x} Y{y} I{i} J{j} E{0.05 * 10 * math.pi / 2:.5f}")
    return "\n".join(lines) + "\n"


def _counted() -> str:
    """The loops with a running count of filament, in inches for a while."""
    lines, total = ["G21", "G90", "M82", "G92 E0", "G1 X5 Y5 Z0.2 F1200"], 0.0
    for layer in range(5):
        z = 0.2 * (layer + 1)
        for x, y in ((25, 5), (25, 15), (5, 15), (5, 5)):
            total += 0.7
            lines.append(f"G1 X{x} Y{y} Z{z:.1f} E{total:.3f}")
    return "\n".join([*lines, "M104 S0", "M84"]) + "\n"


def _relative() -> str:
    lines = ["G90", "M83", "G1 X10 Y10 Z0.2", "G91"]
    for layer in range(5):
        lines += ["G1 X20 E1", "G1 Y9 E0.45", "G1 X-20 E1", "G1 Y-9 E0.45"]
        lines += ["G1 Z0.2 E0.01"] if layer < 4 else []
    return "\n".join(lines) + "\n"


@lru_cache(maxsize=8)
def base_text(name: str) -> str:
    """Return a program that is one bead, PLAIN aside."""
    if name == "wing":
        from tiny_wing import TINY, text_of

        from wingpath import build_wing, spec_from_dict

        return text_of(build_wing(spec_from_dict(TINY)))
    if name == "loops":
        return HEAD + "".join(loop(0.0, 0.2 * (n + 1)) for n in range(8))
    return {"plain": lambda: PLAIN, "counted": _counted, "arcs": _arcs, "relative": _relative}[name]()


# --- the same program, written otherwise --------------------------------------------------------------------


def _bare(line: str) -> bool:
    return bool(line) and line[0] in "GMT" and ";" not in line and not line.startswith("M117")


def _numbered(_rng: random.Random, lines: list[str]) -> list[str]:
    found = []
    for number, line in enumerate(lines, start=1):
        if not _bare(line):
            found.append(line)
            continue
        text = f"N{number} {line} "
        total = 0
        for sign in text.encode():
            total ^= sign
        found.append(f"{text}*{total}")
    return found


def _small(_rng: random.Random, lines: list[str]) -> list[str]:
    return [line.lower() if _bare(line) else line for line in lines]


def _squeezed(_rng: random.Random, lines: list[str]) -> list[str]:
    return [line.replace(" ", "") if _bare(line) else line for line in lines]


def _spread(rng: random.Random, lines: list[str]) -> list[str]:
    return [line.replace(" ", rng.choice(["  ", "\t", " \t "])) if _bare(line) else line for line in lines]


def _commented(rng: random.Random, lines: list[str]) -> list[str]:
    remarks = ("; G1 X99 E9", " (G0 X99) ", "", ";", " ; caf\u00e9 \u2713")
    return [line + rng.choice(remarks) if _bare(line) else line for line in lines]


def _swapped_words(rng: random.Random, lines: list[str]) -> list[str]:
    found = []
    for line in lines:
        words = line.split()
        if _bare(line) and words[0] in ("G1", "G3"):
            rest = words[1:]
            rng.shuffle(rest)
            line = " ".join([words[0], *rest])
        found.append(line)
    return found


def _other_digits(_rng: random.Random, lines: list[str]) -> list[str]:
    return [line.replace("G1 ", "G01 ").replace("G3 ", "G03 ") if _bare(line) else line for line in lines]


def _blank_lines(rng: random.Random, lines: list[str]) -> list[str]:
    return [part for line in lines for part in (line, *rng.choice([(), ("",), (" ; note", ""), ("%",)]))]


def _harmless(rng: random.Random, lines: list[str]) -> list[str]:
    more = ("M105", "M106 S200", "M117 G1 X5 E3", "M204 P800", "G4 P10", "M73 P5 R10", "G21", "M400", "N5")
    at = sorted(rng.sample(range(len(lines)), 6), reverse=True)
    for row in at:
        lines.insert(row, rng.choice(more))
    return lines


SAME: tuple[Callable[[random.Random, list[str]], list[str]], ...] = (
    _numbered,
    _small,
    _squeezed,
    _spread,
    _commented,
    _swapped_words,
    _other_digits,
    _blank_lines,
    _harmless,
)

ENDS = ("\n", "\n", "\r\n")


def _same(rng: random.Random, text: str) -> tuple[str, bytes]:
    lines, done = text.split("\n"), []
    for change in rng.sample(SAME, rng.choice([1, 1, 2])):
        lines = change(rng, lines)
        done.append(change.__name__)
    mark = rng.choice([b"", b"", b"\xef\xbb\xbf"])
    return " ".join(done), mark + rng.choice(ENDS).join(lines).encode()


# --- a bead that is broken ----------------------------------------------------------------------------------

BREAKS = {
    "travel": ("G0 X70 Y70", "G1 X-3 Y-4 F9000", "g0x1y90", "N7 G0 X3 Y3*9", "G1 X44.5 Y1 E0"),
    "retraction": ("G1 E-1", "G1 E-0.2 F2400", "G10", "G1 X12 Y12 E-0.5"),
    "jump": ("G28", "G92 X0", "G28 X", "G92 Y5 Z5", "T1", "M600", "G54", "G53 G1 X5 Y5"),
}


def _broken(rng: random.Random, name: str) -> tuple[str, bytes] | None:
    """Put a line that breaks the bead into it; None where filament is counted or moves are relative."""
    if name not in ("wing", "loops", "arcs"):
        return None
    lines = base_text(name).split("\n")
    moves = [row for row, line in enumerate(lines) if line.startswith(("G1 ", "G2 ", "G3 ")) and "E" in line]
    # away from lines that fill the nozzle, and from the end
    row = rng.choice(moves[len(moves) // 3 : -len(moves) // 4])
    code = rng.choice(sorted(BREAKS))
    line = rng.choice(BREAKS[code])
    lines.insert(row, line)
    return f"{code} {line}", "\n".join(lines).encode()


# --- programs of one's own ----------------------------------------------------------------------------------

TRICKS: tuple[Callable[[random.Random], bytes], ...] = (
    lambda rng: b"G1 X1 Y1 E1 " * (5_000_000 // 12),
    lambda rng: b";" + b"x" * 5_000_000,
    lambda rng: b"(" * 5_000_000,
    lambda rng: b"1" * 5_000_000,
    lambda rng: b"G1 X" + b"9" * rng.choice([300, 400, 9000]) + b"\n",
    lambda rng: b"G1 X." + b"0" * 9000 + b"1 E1\n",
    lambda rng: b"\n" * 1_000_000,
    lambda rng: b"G1\n" * 100_000,
    lambda rng: b"G92 E0\n" * 100_000,
    lambda rng: b"G91\nM83\n" + b"G1 X1e5 E1\n" * 100 + b"G1 X99999 E1\n" * 20,
    lambda rng: b"G91\nG1 X9999 E1\n" * 30,
    lambda rng: b"G20\nG90\nM83\n" + b"".join(b"G1 X%d Y1 E1\n" % n for n in range(rng.choice([10, 5000]))),
    lambda rng: b"M83\nG2 X0 Y0 I1e-9 J0 E1\nG3 I5 E1\nG2 R5 X10 E1\nG2 X5 R-1 E1\nG3 X0 Y0 R0 E1\n",
    lambda rng: b"M83\nG1 X0 E1\n" + b"G2 I99999 J0 E1\n" * rng.choice([10, 3000]),
    lambda rng: b"M83\nG1 X5 E1\n" + b"G3 X5 Y0 I-0.001 J0 E0.001\n" * 3000,
    lambda rng: b"M83\n" + b"G1 X5 E1\nG1 X0 E-1\n" * 20_000,
    lambda rng: b"M83\n" + b"G28\nG1 X1 E1\n" * 40_000,
    lambda rng: b"G5 I1 J1 P1 Q1 X5 Y5 E1\nG5.1 X1\nG5.2\nG80\nG38.2 Z-5\nG33 K1\n" * 50,
    lambda rng: b"%\nO1000\n#1=5\nG1 X#1 Y[#1+2] E1\nIF [#1 GT 2] GOTO 10\nN10 M30\n%\n",
    lambda rng: b"M83\nG1 X1 X2 E1\nG1 G0 X5 E1\nG1 M83 X5\nG1 E1 E2\nX5\nE1\nF100\nG X5\nG1X\nG1 X Y E\n",
    lambda rng: b"G1 Z1e5 E1\nM83\nG1 X5 E1e7\nG1 X6 E-1e7\nG92 E1e300\nG92 X1e300\nG1 X7 E1\n",
    lambda rng: b"M82\nG92 E0\n" + b"".join(b"G1 X%d E%d\nG92 E0\n" % (n % 90, 1) for n in range(3000)),
    lambda rng: b"M83\n" + b"".join(b"G1 X%d.%03d E.0001\n" % (n % 90, n % 1000) for n in range(60_000)),
    lambda rng: b"T0\nT1\nT-1\nT99999999999\nTx\nT\nG1 T1 X5 E1\n",
    lambda rng: bytes(rng.randrange(256) for _ in range(3000)),
    lambda rng: rng.choice(
        [b"", b"\0", b"\n", b" ", b"\xff\xfe", b"\xef\xbb\xbf", b"PK\x03\x04", b"solid x\n"]
    ),
    lambda rng: b"M117 " + b"x" * 9000 + b"\nM83\nG1 X1 E1\n",
    lambda rng: b"G1 X1 E1 (never closed\nG1 X2 E1\nG1 X3 E1 ;) (\nG1 X4 E1 )\n" * 40,
    lambda rng: b"N1 G1 X1 E1*999\nN-5 G1 X2 E1*\nNN G1 X3 E1\nN9999999999999999999999 G1 X4 E1\n",
)


def make_case(seed: int, number: int) -> Case:
    """Return case `number` of a seed."""
    rng = rng_of("gcode", seed, number)
    words = rng.choice([("--json",), ("--json", "--printer", "bed-220"), (), ("--notes",)])
    if number % 20 in (3, 7):
        words = (*words, "--picture", "drawn.png")
    kind = number % 10
    name = rng.choice(BASES)
    if kind == 9:
        told, data = _same(rng, base_text(name))
        files = {NAME: base_text(name).encode(), "other.gcode": data}
        return Case(number, f"same: {told} {name}", files, Asked("same", ("--json",)))
    if kind == 8:
        found = _broken(rng, name)
        if found is not None:
            return Case(number, f"broken: {found[0]} {name}", {NAME: found[1]}, Asked("broken", ("--json",)))
    if kind in (6, 7):
        which = rng.randrange(len(TRICKS))
        return Case(number, f"trick: {which}", {NAME: TRICKS[which](rng)}, Asked(words=words))
    told, data = change_text(rng, base_text(name), plain=0.8)
    return Case(number, f"{told} {name}", {NAME: data}, Asked(words=words))


def judge(case: Case, folder: Path) -> Outcome:
    """Check the file and hold what came of it against what was promised."""
    asked: Asked = case.data
    ran = run_command("check", NAME, *asked.words)
    faults = faults_of(ran, names=[NAME], as_json="--json" in asked.words)
    kind = "judged" if ran.status < 2 else "refused"
    if asked.promise == "broken":
        faults += _unseen(ran)
    if asked.promise == "same":
        faults += _differences(ran, run_command("check", "other.gcode", "--json"))
    drawn = "--picture" in asked.words and kind == "judged"
    if drawn and not (folder / "drawn.png").read_bytes().startswith(b"\x89PNG"):
        faults.append("the picture is none")
    return Outcome(kind, tuple(faults), frozenset({"drawn.png"} if drawn else ()))


def _unseen(ran: Ran) -> list[str]:
    if ran.status > 1:
        return [f"a good program with one odd line was refused: {ran.message:.200}"]
    document = ran.document
    return ["broken, and called one bead"] if document["programs"][0]["unbroken"] or not ran.status else []


def _facts(ran: Ran) -> dict[str, Any]:
    document = ran.document
    program = document["programs"][0]
    keys = ("unbroken", "bead_moves", "path_m", "filament_mm", "low_mm", "high_mm", "travels", "retractions")
    facts: dict[str, Any] = {key: program[key] for key in keys}
    facts["status"] = ran.status
    facts["findings"] = sorted((f["code"], f["severity"], f["found"]) for f in document["findings"])
    return facts


def _differences(one: Ran, other: Ran) -> list[str]:
    if one.status > 1 or other.status > 1:
        return [f"one of the two was refused: {one.message:.200} {other.message:.200}"]
    first, second = _facts(one), _facts(other)
    return [f"{key}: {first[key]} and {second[key]}" for key in first if first[key] != second[key]]


if __name__ == "__main__":
    campaign_main(make_case, judge, name="gcode", cases=CASES)
