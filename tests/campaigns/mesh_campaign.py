"""Campaign: mutated meshes through ``wingpath check``.

Three kinds of case. An attack, or a change of the geometry: no crash, a documented status, a helpful message,
within bounds. The same solid told otherwise: the same verdict. A solid torn open: never called proven.

    PYTHONPATH=. python tests/campaigns/mesh_campaign.py --cases 3000
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in (1, 2)]

import numpy as np
from command_line import Ran, run_command
from command_runs import faults_of
from harness import Case, Outcome, campaign_main, rng_of
from mesh_formats import ATTACKS
from mesh_geometry import CHANGES, noise, torn
from mesh_parts import (
    PARTS,
    SOUND,
    WRITERS,
    Soup,
    mesh_xml,
    model_xml,
    numbered,
    obj,
    package,
    part,
    text_stl,
    threemf,
)

CASES = 3000

PATH_SHARE = 2e-4
"""Lengths of paths of one solid told in two ways differ by this share at most: rounding to a
tenth of a millimetre of a few metres, where outlines begin at another corner."""

JOINED = ("error", "warning")


@dataclass(frozen=True, slots=True)
class Asked:
    """How the file is checked, and what is promised: "", "same" as the second file, or "torn"."""

    name: str
    promise: str = ""
    other: str = ""
    words: tuple[str, ...] = ()


def _shuffled(rng: random.Random, soup: Soup) -> Soup:
    order = list(range(len(soup)))
    rng.shuffle(order)
    shift = np.array([rng.randrange(3) for _ in order])
    mixed = soup[order]
    return np.take_along_axis(mixed, ((np.arange(3)[None] + shift[:, None]) % 3)[..., None], axis=1)


def _renumbered_obj(rng: random.Random, soup: Soup) -> bytes:
    """Corners in another order, some twice, some unused, polygons counted back from the end."""
    points, faces = numbered(soup)
    order = list(range(len(points)))
    rng.shuffle(order)
    rows = [*order, *rng.choices(order, k=len(order) // 2)]
    places: dict[int, list[int]] = {}
    for row, point in enumerate(rows):
        places.setdefault(point, []).append(row)
    lines = [f"v {' '.join(f'{v:.9g}' for v in points[row])}" for row in rows]
    lines += ["v 500 500 500"]
    back = rng.random() < 0.5
    total = len(lines)
    for face in faces.tolist():
        chosen = [rng.choice(places[corner]) for corner in face]
        lines.append("f " + " ".join(str(n - total if back else n + 1) for n in chosen))
    return "\n".join(lines).encode()


def _inches(_rng: random.Random, soup: Soup) -> bytes:
    text = mesh_xml(soup / 25.4, form="{:.17g}".format)
    return package(model=model_xml(f'<object id="1">{text}</object>', '<item objectid="1"/>', unit="inch"))


def _placed(rng: random.Random, soup: Soup) -> bytes:
    """As a component that is moved, turned and moved back by the item; numbers that lose no digit."""
    shift = [rng.choice([0.0, 64.0, -32.0]) for _ in range(3)]
    there = soup - np.array(shift)
    inner = '<object id="2"><components><component objectid="1"/></components></object>'
    words = " ".join(f"{v:g}" for v in [1, 0, 0, 0, 1, 0, 0, 0, 1, *shift])
    return package(
        model=model_xml(
            f'<object id="1">{mesh_xml(there, form="{:.17g}".format)}</object>{inner}',
            f'<item objectid="2" transform="{words}"/>',
        )
    )


SAME: dict[str, tuple[str, Callable[[random.Random, Soup], bytes]]] = {
    "shuffled": ("other.stl", lambda rng, soup: WRITERS["part.stl"](_shuffled(rng, soup))),
    "other format": ("", lambda rng, soup: b""),
    "unshared corners": (
        "other.3mf",
        lambda rng, soup: threemf(_shuffled(rng, soup), shared=False),
    ),
    "renumbered": ("other.obj", _renumbered_obj),
    "repeated": (
        "other.stl",
        lambda rng, soup: WRITERS["part.stl"](np.concatenate([soup, soup[: len(soup) // 3]])),
    ),
    "inches": ("other.3mf", _inches),
    "placed": ("other.3mf", _placed),
    "one line": ("other.stl", lambda rng, soup: text_stl(soup, end=" ")),
    "old line ends": ("other.obj", lambda rng, soup: obj(soup, end="\r")),
}


def make_case(seed: int, number: int) -> Case:
    """Return case `number` of a seed."""
    rng = rng_of("meshes", seed, number)
    words = rng.choice([("--json",), ("--json",), ("--json", "--up", rng.choice("xyz")), (), ("--notes",)])
    kind = number % 10
    if kind == 8:
        base = rng.choice(SOUND)
        holed = torn(rng, part(base).copy())
        if holed is not None:
            name = rng.choice(sorted(WRITERS))
            return Case(
                number, f"torn: {base}", {name: WRITERS[name](holed)}, Asked(name, "torn", words=("--json",))
            )
        kind = 9
    if kind == 9:
        base = rng.choice(sorted(PARTS))
        soup = part(base).copy()
        how = rng.choice(sorted(SAME))
        first = rng.choice(sorted(WRITERS))
        other, write = SAME[how]
        if other:
            data = write(rng, soup)
        else:
            other = rng.choice([name for name in sorted(WRITERS) if name != first])
            data, other = WRITERS[other](_shuffled(rng, soup)), f"other-{other}"
        files = {first: WRITERS[first](soup), other: data}
        return Case(number, f"same: {how} {base}", files, Asked(first, "same", other, ("--json",)))
    if kind < 4:
        soup = part(rng.choice(sorted(PARTS))).copy()
        changes = [rng.choice(CHANGES) for _ in range(rng.choice([1, 1, 1, 2, 3]))]
        if noise in changes:  # copies of chance are no small file
            changes = [noise]
        with np.errstate(all="ignore"):
            for change in changes:
                soup = change(rng, soup)
        name = rng.choice(sorted(WRITERS))
        told = " ".join(change.__name__ for change in changes)
        return Case(
            number, f"{changes[0].__name__}: {told}", {name: WRITERS[name](soup)}, Asked(name, words=words)
        )
    attack = rng.choice(ATTACKS)
    name, data = attack(rng, part(rng.choice(["box", "cone", "slotted"])).copy())
    return Case(number, f"{attack.__name__}: {name}", {name: data}, Asked(name, words=words))


def judge(case: Case, _folder: Path) -> Outcome:
    """Check the file and hold what came of it against what was promised."""
    asked: Asked = case.data
    extra: tuple[str, ...] = ("--csv", "layers.csv") if case.number % 7 == 0 else ()
    ran = run_command("check", asked.name, *asked.words, *extra)
    as_json = "--json" in asked.words
    faults = faults_of(ran, names=[asked.name], as_json=as_json)
    kind = "judged" if ran.status < 2 else "refused"
    if asked.promise == "torn" and kind == "judged":
        faults += _torn_faults(ran)
    if asked.promise == "same":
        faults += _differences(ran, run_command("check", asked.other, "--json"))
    written = frozenset({"layers.csv"} if extra and kind == "judged" else ())
    return Outcome(kind, tuple(faults), written)


def _torn_faults(ran: Ran) -> list[str]:
    document = ran.document
    codes = {finding["code"] for finding in document["findings"]}
    found = [] if "open-mesh" in codes else ["the hole is not told"]
    if document["meshes"][0]["proven"]:
        found.append("torn open, and called proven")
    if ran.status == 0:
        found.append("torn open, and called clean")
    return found


def _facts(ran: Ran) -> tuple[dict[str, Any], float]:
    document = ran.document
    mesh = document["meshes"][0]
    keys = ("proven", "layers", "layers_of_one_bead", "open_edges", "bodies")
    facts: dict[str, Any] = {key: mesh[key] for key in keys}
    facts["status"] = ran.status
    # what stands twice is told as such, and is no other verdict
    facts["findings"] = sorted(
        {(f["code"], f["severity"]) for f in document["findings"] if f["severity"] in JOINED}
        - {("overlapping-solids", "warning")}
    )
    return facts, float(mesh["path_m"])


def _differences(one: Ran, other: Ran) -> list[str]:
    if one.status > 1 or other.status > 1:
        return [f"one of the two was refused: {one.message:.200} {other.message:.200}"]
    (first, path), (second, other_path) = _facts(one), _facts(other)
    found = [f"{key}: {first[key]} and {second[key]}" for key in first if first[key] != second[key]]
    if abs(path - other_path) > PATH_SHARE * max(path, other_path) + 1e-4:
        found.append(f"path of {path} m and of {other_path} m")
    return found


if __name__ == "__main__":
    campaign_main(make_case, judge, name="meshes", cases=CASES)
