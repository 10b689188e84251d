"""Campaign: mutated airfoil coordinate files through the public reader, and some of them through a spec.

Besides cases that only must not crash: the same section told otherwise gives the same curve; a file with a
damaged line among its points is refused.

    PYTHONPATH=. python tests/campaigns/airfoil_campaign.py --cases 1000
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in (1, 2)]

import numpy as np
from command_line import run_command
from command_runs import faults_of
from harness import Case, Outcome, campaign_main, rng_of
from text_changes import change_text

import wingpath

CASES = 1000

NAME = "wing.dat"

SAME_CHORD = 2e-4
"""A section told otherwise is the same to four decimals of the chord, those that the file is rounded to, and
the curve between its points follows."""

WIDEST = 1.2
"""No part of a section that was taken lies farther from the origin, overhang included [chord]."""

LONGEST_MESSAGE = 600

SPEC = """\
name = "Campaign"
[[station]]
span_mm = 0.0
chord_mm = 120.0
airfoil = "wing.dat"
[[station]]
span_mm = 60.0
chord_mm = 100.0
airfoil = "naca2412"
"""

Points = Any


@dataclass(frozen=True, slots=True)
class Asked:
    """What is promised: "", "same" as the section, or "refused"; and whether a spec names the file."""

    promise: str = ""
    section: str = ""
    spec: bool = False


@lru_cache(maxsize=8)
def surfaces(name: str) -> tuple[Points, Points]:
    """Return upper and lower points from nose to trailing edge, shape (41, 2)."""
    section = wingpath.naca_airfoil(name, points_per_side=41)
    return np.array(section.upper), np.array(section.lower)


SECTIONS = ("2412", "0009", "4415", "23012")

Form = Callable[[float, float], str]


def plain(x: float, y: float) -> str:
    return f"{x:.6f} {y:.6f}"


FORMS: dict[str, Form] = {
    "plain": plain,
    "columns": lambda x, y: f"{x:12.7f}{y:12.7f}",
    "commas between": lambda x, y: f"{x:.6f}, {y:.6f}",
    "tabs": lambda x, y: f"{x:.6f}\t{y:.6f}",
    "semicolons": lambda x, y: f"{x:.6f};{y:.6f}",
    "decimal commas": lambda x, y: f"{x:.6f} {y:.6f}".replace(".", ","),
    "exponents": lambda x, y: f"{x:.7e} {y:.7e}",
    "letters D": lambda x, y: f"{x:.7E} {y:.7E}".replace("E", "D"),
    "signs": lambda x, y: f"{x:+.6f} {y:+.6f}",
    "no zeros": lambda x, y: re.sub(r"(?<!\d)0\.", ".", f"{x:.6f} {y:.6f}"),
    "minus signs": lambda x, y: f"{x:.6f} {y:.6f}".replace("-", "\u2212"),
    "remarks": lambda x, y: f"{x:.6f} {y:.6f}  # here",
}


def rows(points: Points, form: Form = plain) -> list[str]:
    return [form(float(x), float(y)) for x, y in points]


def loop(name: str) -> Points:
    upper, lower = surfaces(name)
    return np.concatenate([upper[::-1], lower[1:]])


# --- the same section, told otherwise -----------------------------------------------------------------------


def _same(rng: random.Random, name: str) -> tuple[str, bytes]:
    upper, lower = surfaces(name)
    told, form = rng.choice(sorted(FORMS.items()))
    scale = rng.choice([1.0, 1.0, 100.0, 1000.0])
    points, upper, lower = loop(name) * scale, upper * scale, lower * scale
    order = rng.choice(["loop", "reversed", "two runs", "two runs, lower first", "from the nose", "doubled"])
    body = {
        "loop": lambda: rows(points, form),
        "reversed": lambda: rows(points[::-1], form),
        "two runs": lambda: [*rows(upper, form), "", *rows(lower, form)],
        "two runs, lower first": lambda: [*rows(lower, form), "", *rows(upper, form)],
        "from the nose": lambda: rows(np.concatenate([upper, lower[::-1]]), form),
        "doubled": lambda: [line for line in rows(points, form) for _ in range(rng.choice([1, 1, 2]))],
    }[order]()
    head = rng.choice([[], [f"Section {name}"], ["# remark", "My wing", ""], ["wing caf\u00e9 12%"]])
    if order.startswith("two") and rng.random() < 0.5:
        head = [*(head or ["title"]), "41. 41.", ""]
    end = rng.choice(["\n", "\r\n", "\r", "\n\n", " \n"])
    code = rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "latin-1"])
    text = end.join([*head, *body, ""])
    if code == "latin-1" and "\u2212" in text:
        code = "utf-8"
    return f"{order}, {told}, {code}, {scale:g}", text.encode(code)


# --- a damaged line among the points ------------------------------------------------------------------------


def _damaged(rng: random.Random, name: str) -> tuple[str, bytes]:
    lines = rows(loop(name))
    row = rng.randrange(12, 68)
    x, y = lines[row].split()
    wrong = rng.choice(
        [
            *(
                f"nan {y}",
                f"{x} nan",
                "NaN NaN",
                f"inf {y}",
                f"{x} 1e999",
                x,
                f"{x} ?",
                f"{x} {y[:2]}O{y[2:]}",
            ),
            *(
                f"{x} {y} 0.5",
                f"{x} --",
                f"{x} {y}x",
                "0.5 9.5",
                f"{x} {float(y) + 0.7:.6f}",
                "-5 0",
                "garbage",
            ),
            *(f"{x},{y},{x}", f"{x} #VALUE!", f"{x} 1e309", f"{x}{y}"),
        ]
    )
    lines[row] = wrong
    return wrong, "\n".join(["Section", *lines, ""]).encode()


# --- attacks ------------------------------------------------------------------------------------------------


def _shapes(rng: random.Random, name: str) -> tuple[str, bytes]:
    """Points that make an odd section or none."""
    points = loop(name).copy()
    chance = np.random.default_rng(rng.randrange(2**31))
    kind = rng.choice(
        [
            *("one point", "two points", "same point", "crossing", "open edge", "noise", "turned", "moved"),
            *("flat", "thick", "needle", "mirror", "spiral", "many", "huge", "tiny", "swapped", "shuffled"),
            *(
                "half",
                "circle",
                "upright",
                "doubled section",
                "inverted x",
                "random",
                "near duplicates",
                "grid",
            ),
        ]
    )
    with np.errstate(all="ignore"):
        points = {
            "one point": lambda: points[:1],
            "two points": lambda: points[:2],
            "same point": lambda: np.repeat(points[:1], 81, axis=0),
            "crossing": lambda: points * [1.0, 1.0] + [[0.0, 0.3 * (i % 2)] for i in range(len(points))],
            "open edge": lambda: (
                points + np.linspace(1.0, -1.0, len(points))[:, None] * [0.0, rng.uniform(0, 0.4)]
            ),
            "noise": lambda: points + chance.normal(0.0, 10.0 ** rng.uniform(-6.0, -0.5), points.shape),
            "turned": lambda: points @ _turn(rng.uniform(-3.2, 3.2)),
            "moved": lambda: (
                points + np.array([rng.choice([-1e5, -3.0, 0.2, 50.0, 1e9]), rng.choice([0.0, 7.0, -1e7])])
            ),
            "flat": lambda: points * [1.0, rng.choice([0.0, 1e-9, 1e-4])],
            "thick": lambda: points * [1.0, rng.uniform(2.0, 30.0)],
            "needle": lambda: points * [rng.choice([1e-9, 1e-3, 1e3, 1e9]), 1.0],
            "mirror": lambda: points * [1.0, -1.0],
            "spiral": lambda: np.array([[t / 99 * np.cos(t / 4), t / 99 * np.sin(t / 4)] for t in range(99)]),
            "many": lambda: _many(name, rng.choice([5000, 10_050, 50_000])),
            "huge": lambda: points * rng.choice([1e5, 1e6, 1e30, 1e300]),
            "tiny": lambda: points * rng.choice([1e-3, 1e-9, 1e-300]),
            "swapped": lambda: points[:, ::-1],
            "shuffled": lambda: chance.permutation(points),
            "half": lambda: points[: len(points) // 2 + rng.choice([-3, 0, 1, 5])],
            "circle": lambda: _many("circle", 100),
            "upright": lambda: np.column_stack([np.zeros(60), np.linspace(-1.0, 1.0, 60)]),
            "doubled section": lambda: np.concatenate(
                [points, points + np.array([rng.choice([0.0, 0.5, 2.0]), 0.0])]
            ),
            "inverted x": lambda: points * [-1.0, 1.0] + [1.0, 0.0],
            "random": lambda: chance.uniform(0.0, 1.0, (rng.choice([16, 80, 400]), 2)),
            "near duplicates": lambda: np.repeat(points, 20, axis=0) + chance.normal(0.0, 1e-5, (81 * 20, 2)),
            "grid": lambda: np.array([[i / 9, j / 9] for i in range(10) for j in range(10)]),
        }[kind]()
    head = rng.choice([["Section"], [], [f"{len(points) // 2}. {len(points) - len(points) // 2}."]])
    return kind, "\n".join([*head, *(f"{x:.9g} {y:.9g}" for x, y in points.tolist())]).encode()


def _turn(angle: float) -> Points:
    return np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def _many(name: str, count: int) -> Points:
    turn = np.linspace(0.0, 2.0 * np.pi, 2 * count + 1)
    x = 0.5 + 0.5 * np.cos(turn)
    if name == "circle":
        return np.column_stack([x, 0.5 * np.sin(turn)])
    return np.column_stack([x, 0.06 * np.sin(turn) * (1.0 - 0.4 * x)])


def _files(rng: random.Random, name: str) -> tuple[str, bytes]:
    """Files that are odd as such."""
    body = "\n".join(rows(loop(name)))
    kind = rng.randrange(14)
    data = (
        lambda: b"",
        lambda: b"\0" * 500,
        lambda: bytes(rng.randrange(256) for _ in range(2000)),
        lambda: body.encode() + b"\n" + b"x" * 3_000_000,
        lambda: b"0.5 0.1\n" * 100_000,
        lambda: b"1 " * 400_000,
        lambda: b"9" * 900_000,
        lambda: ("t\n" * 200_000 + body).encode(),
        lambda: body.encode("utf-16-le"),
        lambda: body.encode("utf-32"),
        lambda: b"\xff\xfe" + body.encode(),
        lambda: body.replace("\n", "\0\n").encode(),
        lambda: ("# " * 300_000 + "\n" + body).encode(),
        lambda: (body + "\n" + " ,;" * 200_000).encode(),
    )[kind]()
    return f"file {kind}", data


def make_case(seed: int, number: int) -> Case:
    """Return case `number` of a seed."""
    rng = rng_of("airfoils", seed, number)
    name = rng.choice(SECTIONS)
    kind = number % 10
    asked = Asked(spec=number % 6 == 0, section=name)
    if kind in (0, 1):
        told, data = _same(rng, name)
        told, asked = f"same: {told} {name}", Asked("same", name)
    elif kind == 2:
        told, data = _damaged(rng, name)
        told, asked = f"damaged: {told}", Asked("refused", name)
    elif kind in (3, 4, 5):
        told, data = _shapes(rng, name)
        told = f"shape: {told}"
    elif kind == 6:
        told, data = _files(rng, name)
        told = f"file: {told}"
    else:
        upper, lower = surfaces(name)
        two = ["Section", "41. 41.", "", *rows(upper), "", *rows(lower), ""]
        text = "\n".join(rng.choice([["Section", *rows(loop(name)), ""], two]))
        told, data = change_text(rng, text)
    return Case(number, told, {NAME: data, "spec.toml": SPEC.encode()}, asked)


def judge(case: Case, _folder: Path) -> Outcome:
    """Read the file and hold what came of it against what was promised."""
    asked: Asked = case.data
    faults: list[str] = []
    try:
        section = wingpath.read_airfoil(NAME)
    except wingpath.WingpathError as error:
        text = str(error)
        if NAME not in text:
            faults.append(f"the message names no file: {text:.200}")
        if len(text) > LONGEST_MESSAGE:
            faults.append(f"the message has {len(text)} characters")
        if any(sign < " " and sign != "\n" for sign in text):
            faults.append(f"control characters in the message: {text!r:.200}")
        if asked.promise == "same":
            faults.append(f"a good file was refused: {text:.200}")
        kind = "refused"
    else:
        kind = "judged"
        outline = section.sampled().loop
        if not np.all(np.isfinite(outline)) or float(np.abs(outline).max()) > WIDEST:
            faults.append(f"an outline up to {np.abs(outline).max()} chord from the origin")
        if asked.promise == "refused":
            faults.append("damaged, and taken")
        if asked.promise == "same":
            upper, lower = surfaces(asked.section)
            wanted = wingpath.Airfoil(section.name, upper, lower, "closed form").sampled().loop
            off = float(np.abs(outline - wanted).max())
            if off > SAME_CHORD:
                faults.append(f"read {off:.2g} chord away from what was written")
    if asked.spec:
        ran = run_command("assess", "spec.toml", "--preview", "--json")
        faults += faults_of(ran, names=[NAME, "spec.toml", "station"], as_json=True)
        if (ran.status == 2) < (kind == "refused"):
            faults.append(f"the reader refuses it and assess ends with {ran.status}")
        if ran.status < 2:
            assert ran.document
    return Outcome(kind, tuple(faults))


if __name__ == "__main__":
    campaign_main(make_case, judge, name="airfoils", cases=CASES)
