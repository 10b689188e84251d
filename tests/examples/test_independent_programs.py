"""The G-code of every example, read back by another program, keeps what the report says.

The reader is the package `gcodeparser` (MIT); only the words that it finds are used, added up here.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from built_examples import NAMES, Built
from gcodeparser import parse_gcode_lines
from outside import GCODE, Source

PARSER = Source(
    "library", "gcodeparser", "gcodeparser, an open reader of G-code (MIT); what it reads is added up here"
)

SHARE = 1e-3
"""A tenth of a per cent, which the issue of a printed mass allows."""

DENSITY_G_CM3 = 1.24
FILAMENT_MM2 = math.pi * 1.75**2 / 4.0
"""Of the filament and printer profiles that the examples use."""

STEP_MM = 1e-3
"""Digits of the places in a file [mm]."""

Y_WORD = re.compile(r"Y(-?[\d.]+)")

pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Program:
    """Every move of a file: place reached, filament pushed, and whether a word moves it sideways."""

    places: np.ndarray
    filament: np.ndarray
    comments: str

    @property
    def bead(self) -> slice:
        fed = np.flatnonzero(self.filament > 0.0)
        return slice(int(fed[0]), int(fed[-1]) + 1)

    @property
    def length(self) -> np.ndarray:
        return np.append(0.0, np.linalg.norm(np.diff(self.places[:, :2], axis=0), axis=1))


def read(path: Path) -> Program:
    place = {"X": math.nan, "Y": math.nan, "Z": math.nan}
    places, filament = [], []
    relative = False
    text = path.read_text(encoding="ascii")
    for line in parse_gcode_lines(text):
        if line.command in (("M", 82), ("M", 83)):
            relative = line.command == ("M", 83)
        if line.command in (("G", 0), ("G", 1)):
            place |= {axis: float(line.params[axis]) for axis in "XYZ" if axis in line.params}
            places.append(tuple(place.values()))
            filament.append(float(line.params.get("E", 0.0)))
        assert line.command not in (("G", 2), ("G", 3), ("G", 91), ("G", 20))
    assert relative
    comments = "\n".join(line for line in text.splitlines() if line.startswith(";"))
    return Program(np.array(places), np.array(filament), comments)


def parts(built: Built) -> list[dict[str, Any]]:
    document = built.document
    return [*document["panels"], *document["control_surfaces"], *document["covers"]]


@pytest.mark.parametrize("name", NAMES)
def test_programs_of_the_left_hand(name: str, example: Callable[[str], Built]) -> None:
    built = example(name)
    with (built.folder / "layers.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    printer, layer = built.build.design.printer, built.build.design.spec.print.layer_mm
    total = 0.0
    sums: dict[str, list[tuple[float, float]]] = {"mass": [], "filament": [], "path": []}
    for row in parts(built):
        program = read(built.folder / f"{row['panel']}-left.gcode")
        printing, bead = row["printing"], program.bead
        fed = program.filament[bead]
        with GCODE.rule(
            "Files of every example: moves from the first bead to the last",
            source=PARSER,
            expected="each extrudes, none draws back, all inside the printer",
        ):
            # not one move between the first bead and the last that does not extrude, and none that draws back
            assert (fed <= 0.0).sum() == 0
            inside = program.places[np.isfinite(program.places).all(axis=1)]
            assert np.all(inside.min(axis=0) >= 0.0)
            assert np.all(inside.max(axis=0) <= [printer.bed_x_mm, printer.bed_y_mm, printer.height_mm])
        mass = fed.sum() * FILAMENT_MM2 * DENSITY_G_CM3 / 1000.0
        sums["mass"].append((printing["extruded_mass_g"], mass))
        sums["filament"].append((printing["filament_mm"], fed.sum()))
        before = printing["brim_path_mm"] + printing["lead_in_mm"]
        length = program.length[bead].sum() - before
        wanted = sum(float(one["path_mm"]) for one in rows if one["panel"] == row["panel"])
        sums["path"].append((wanted, length - printing["steps_mm"]))
        assert printing["steps_mm"] < 2.0 * SHARE * wanted
        with GCODE.rule(
            "Files of every example: heights from the bed to the top",
            source=PARSER,
            expected="one rise by a layer at most at once, never down",
        ):
            # one rise from the bed to the top, never down, never more than a layer at once
            reached = program.places[bead, 2]
            climb = np.diff(reached)
            assert climb.min() >= 0.0
            assert climb.max() <= layer + STEP_MM
            assert reached[0] == pytest.approx(layer, abs=STEP_MM)
            assert reached[-1] == pytest.approx(row["layers"] * layer, abs=STEP_MM)
        assert f"part: {row['panel']}, left hand" in program.comments
        total += mass
    hands = len(built.build.hands)
    sums["mass"].append((built.document["printing"]["extruded_mass_g"], hands * total))
    for quantity, pairs in sums.items():
        reported, added = np.array(pairs).T
        GCODE.check(
            f"Files of {name}: {quantity} of parts, added up over reported",
            source=PARSER,
            expected=reported,
            got=added,
            rel=SHARE,
            because="digits of places, and what an issue of a mass allows",
            ratio=True,
        )


@pytest.mark.parametrize("name", NAMES)
def test_programs_of_the_right_hand_are_mirrored(name: str, example: Callable[[str], Built]) -> None:
    built = example(name)
    if "right" not in built.build.hands:
        assert not list(built.folder.glob("*-right.gcode"))
    bed = built.build.design.printer.bed_y_mm
    for row in parts(built):
        sides = [path_of(built.folder / f"{row['panel']}-{hand}.gcode") for hand in built.build.hands]
        if len(sides) == 2:
            left, right = (np.array([float(y) for y in Y_WORD.findall(side)]) for side in sides)
            assert left + right == pytest.approx(np.full(len(left), bed), abs=2.0 * STEP_MM)
            assert Y_WORD.sub("Y", sides[0]) == Y_WORD.sub("Y", sides[1])


def path_of(path: Path) -> str:
    """Return the lines of a file from the one that begins the path to its end."""
    text = path.read_text(encoding="ascii")
    return text[text.index("\n; fills the nozzle") : text.index("\n; the path ends here")]
