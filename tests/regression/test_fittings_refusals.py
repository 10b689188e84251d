"""What cannot be printed is refused with both culprits and a change that helps: it is made, and it does.

Each case is a spec, the two culprits, and what to do with the numbers of the message. Where a message leaves
the direction open ("by 2.3 mm along the chord") one of both has to work.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely

from wingpath import DesignError, build_wing, design_wing, naca_airfoil, spec_from_dict

Data = dict[str, Any]

ROOT, TIP, SPAN = 200.0, 160.0, 150.0

BASE: Data = {
    "station": [
        {"span_mm": 0.0, "chord_mm": ROOT, "airfoil": "naca2412"},
        {"span_mm": SPAN, "chord_mm": TIP, "leading_edge_mm": 10.0, "airfoil": "naca2412"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "none"},
    "panels": {"joints_mm": []},
    "printer": {"bed_x_mm": 400.0, "bed_y_mm": 400.0},
    "print": {"layer_mm": 0.36},
}

BAY: Data = {"span_mm": 60.0, "length_mm": 23.0, "width_mm": 12.0, "depth_mm": 9.0, "chord_fraction": 0.42}

SMALL: list[Data] = [
    {"span_mm": 0.0, "chord_mm": 60.0, "airfoil": "naca0006"},
    {"span_mm": 60.0, "chord_mm": 60.0, "airfoil": "naca0006"},
]


@dataclass(frozen=True)
class Case:
    """A spec that is refused, and what its message says to change."""

    asked: Data
    culprits: tuple[str, str]
    says: str
    """Pattern of the remedy; its groups are the numbers that help."""
    changes: tuple[Callable[[Data, float], None], ...]
    """One for each group. All that a message offers have to help."""


def less(table: str, *keys: str, row: int = 0) -> Callable[[Data, float], None]:
    def change(data: Data, by: float) -> None:
        for key in keys:
            data[table][row][key] = data[table][row][key] - by

    return change


def more(table: str, key: str, row: int = 0) -> Callable[[Data, float], None]:
    return lambda data, by: data[table][row].__setitem__(key, data[table][row][key] + by)


def becomes(table: str, key: str, row: int = 0) -> Callable[[Data, float], None]:
    return lambda data, value: data[table][row].__setitem__(key, value)


def along_chord(table: str, row: int = 0, keys: tuple[str, ...] = ("chord_fraction",)) -> Any:
    """Move by so much everywhere: by the share of the shortest chord that it meets."""

    def change(data: Data, by: float) -> None:
        for key in keys:
            data[table][row][key] += by / TIP

    return change


def hinge_where_thicker(data: Data, by: float) -> None:
    """Move the hinge of the small wing forward, until its section is thicker by so much."""
    row = data["aileron"][0]
    ring = shapely.Polygon(naca_airfoil("0006").with_trailing_edge(0.9 / 60.0).loop)

    def thickness(fraction: float) -> float:
        line = shapely.LineString([(fraction, -1.0), (fraction, 1.0)])
        return 60.0 * float(line.intersection(ring).length)

    wanted = thickness(row["hinge_fraction"]) + by
    places = np.arange(row["hinge_fraction"], 0.5, -1e-3)
    row["hinge_fraction"] = float(next(place for place in places if thickness(place) >= wanted))


def joint(data: Data, by: float) -> None:
    data["panels"]["joints_mm"] = [data["panels"]["joints_mm"][0] + by]


CASES: dict[str, Case] = {
    "tab too thick": Case(
        {"tab": [{"thickness_mm": 14.0, "width_mm": 30.0, "depth_mm": 25.0, "chord_fraction": 0.6}]},
        ("tab[0]", "station[0]"),
        r"Make it thinner by ([\d.]+) mm",
        (less("tab", "thickness_mm"),),
    ),
    "strip too high": Case(
        {
            "tube": [
                {"shape": "strip", "width_mm": 3.0, "height_mm": 24.0, "to_mm": 100.0, "chord_fraction": 0.3}
            ]
        },
        ("tube[0]", "station[1]"),
        r"Make it thinner by ([\d.]+) mm",
        (less("tube", "height_mm"),),
    ),
    "bore into the closed tip": Case(
        {"wing": {"tip": "closed"}, "tube": [{"outer_mm": 6.0, "to_mm": SPAN, "chord_fraction": 0.35}]},
        ("tube[0]", "station[1]"),
        r"end it at to_mm = (\d+)",
        (becomes("tube", "to_mm"),),
    ),
    "pin too thick": Case(
        {
            "panels": {"joints_mm": [70.0]},
            "pin": [{"chord_fraction": 0.7, "diameter_mm": 12.0, "length_mm": 20.0}],
        },
        ("pin[0] at 70 mm", "station[1]"),
        r"Make it thinner by ([\d.]+) mm",
        (less("pin", "diameter_mm"),),
    ),
    "two tubes too close": Case(
        {
            "tube": [
                {"outer_mm": 8.0, "to_mm": 140.0, "chord_fraction": 0.35},
                {"outer_mm": 6.0, "to_mm": 140.0, "chord_fraction": 0.389},
            ]
        },
        ("tube[0]", "tube[1]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        (along_chord("tube", 1),),
    ),
    "two bores that cross": Case(
        {
            "tube": [
                {"outer_mm": 5.0, "to_mm": 140.0, "chord_fraction": 0.35},
                {
                    "outer_mm": 4.0,
                    "to_mm": 140.0,
                    "chord_fraction": 0.34,
                    "chord_fraction_end": 0.38,
                },
            ]
        },
        ("tube[0]", "tube[1]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        (along_chord("tube", 1, keys=("chord_fraction", "chord_fraction_end")),),
    ),
    "two tabs too close": Case(
        {
            "tab": [
                {"thickness_mm": 3.0, "width_mm": 30.0, "depth_mm": 25.0, "chord_fraction": place}
                for place in (0.4, 0.5031)
            ]
        },
        ("tab[0]", "tab[1]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        # a tab is placed on the root chord
        (lambda data, by: data["tab"][1].__setitem__("chord_fraction", 0.5031 + by / ROOT),),
    ),
    "tube that leans too much": Case(
        {
            "tube": [
                {
                    "outer_mm": 4.0,
                    "from_mm": 50.0,
                    "to_mm": 80.0,
                    "chord_fraction": 0.3,
                    "chord_fraction_end": 0.55,
                }
            ]
        },
        ("tube[0].from_mm", "tube[0].chord_fraction_end"),
        r"Let it lean less than (\d+) degrees",
        # 0.25 of the chord is 45 mm aft on a tangent of 1.2 a little less than the limit of 51 degrees
        (lambda data, _: data["tube"][0].__setitem__("to_mm", 50.0 + 45.0 / 1.15),),
    ),
    "duct passes above its bay": Case(
        {
            "duct": [{"diameter_mm": 6.0, "chord_fraction": 0.42, "to_mm": 58.0}],
            "servo_bay": [{**BAY, "span_mm": 57.0, "depth_mm": 1.2}],
        },
        ("duct[0]", "servo_bay[0].depth_mm"),
        r"Make the bay deeper by ([\d.]+) mm",
        (more("servo_bay", "depth_mm"),),
    ),
    "duct wider than its bay": Case(
        {
            "duct": [{"diameter_mm": 8.0, "chord_fraction": 0.42, "to_mm": 58.0}],
            "servo_bay": [{**BAY, "width_mm": 7.0, "depth_mm": 14.0}],
        },
        ("duct[0].diameter_mm", "servo_bay[0].width_mm"),
        r"Make the duct thinner or the bay wider by ([\d.]+) mm",
        (less("duct", "diameter_mm"),),
    ),
    "duct reaches above the floor of its bay": Case(
        {
            "duct": [{"diameter_mm": 8.0, "chord_fraction": 0.42, "to_mm": 58.0}],
            "servo_bay": [{**BAY, "depth_mm": 6.0}],
        },
        ("duct[0]", "servo_bay[0].depth_mm"),
        r"Make the bay deeper by ([\d.]+) mm",
        (more("servo_bay", "depth_mm"),),
    ),
    "duct too thick on its way to a bay": Case(
        {
            "station": [
                {"span_mm": 0.0, "chord_mm": ROOT, "airfoil": "naca0004"},
                {"span_mm": SPAN, "chord_mm": ROOT, "airfoil": "naca0018"},
            ],
            "duct": [{"diameter_mm": 6.5, "chord_fraction": 0.42, "to_mm": 62.0}],
            "servo_bay": [BAY],
        },
        ("duct[0]", "station[0]"),
        r"Make it thinner by ([\d.]+) mm",
        (less("duct", "diameter_mm"),),
    ),
    "thin duct into a shallow bay": Case(
        {
            "duct": [{"diameter_mm": 2.0, "chord_fraction": 0.42, "to_mm": 62.0}],
            "servo_bay": [{**BAY, "depth_mm": 1.5}],
        },
        ("duct[0]", "servo_bay[0].depth_mm"),
        r"Make the bay deeper by ([\d.]+) mm",
        (more("servo_bay", "depth_mm"),),
    ),
    "tube and the slope of an aileron": Case(
        # the tube begins beyond the surface's end, where the bay still widens
        {
            "aileron": [{"from_mm": 65.0, "to_mm": 95.0, "hinge_fraction": 0.75}],
            "tube": [{"outer_mm": 2.5, "from_mm": 104.0, "to_mm": 140.0, "chord_fraction": 0.8}],
        },
        ("tube[0]", "aileron[0]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        (along_chord("tube"),),
    ),
    "duct begins in its bay": Case(
        {
            "duct": [{"diameter_mm": 3.0, "chord_fraction": 0.42, "from_mm": 56.0, "to_mm": 62.0}],
            "servo_bay": [BAY],
        },
        ("duct[0].from_mm", "servo_bay[0]"),
        r"Let it begin at from_mm = (\d+)",
        (becomes("duct", "from_mm"),),
    ),
    "duct passes beside its bay": Case(
        {
            "duct": [
                {
                    "diameter_mm": 3.0,
                    "chord_fraction": 0.26,
                    "chord_fraction_end": 0.42,
                    "from_mm": 25.0,
                    "to_mm": 58.0,
                }
            ],
            "servo_bay": [BAY],
        },
        ("duct[0]", "servo_bay[0]"),
        r"Let the duct start (\d+) mm nearer to the bay along the chord",
        (along_chord("duct"),),
    ),
    "bay too deep": Case(
        {"servo_bay": [{**BAY, "depth_mm": 22.0}]},
        ("servo_bay[0]", "the section at span 83 mm"),
        r"Make depth_mm smaller by ([\d.]+) mm",
        (less("servo_bay", "depth_mm"),),
    ),
    "bay across a joint": Case(
        {"servo_bay": [BAY], "panels": {"joints_mm": [54.0]}},
        ("servo_bay[0]", "the joint at 54 mm"),
        r"Move one of them by ([\d.]+) mm along the span",
        (joint,),
    ),
    "bay into the tip": Case(
        {"servo_bay": [{**BAY, "span_mm": 122.0}]},
        ("servo_bay[0]", "the tip"),
        r"Move it inboard by ([\d.]+) mm",
        (less("servo_bay", "span_mm"),),
    ),
    "bay out of the nose": Case(
        {
            "plate_bay": [
                {
                    "span_mm": 20.0,
                    "length_mm": 20.0,
                    "width_mm": 30.0,
                    "depth_mm": 1.0,
                    "chord_fraction": 0.07,
                }
            ]
        },
        ("plate_bay[0]", "the section at span 20 mm"),
        r"Move it along the chord by ([\d.]+) mm",
        (along_chord("plate_bay"),),
    ),
    "two bays": Case(
        {"servo_bay": [BAY, {**BAY, "span_mm": 90.0}]},
        ("servo_bay[0]", "servo_bay[1]"),
        r"Move one of them by ([\d.]+) mm along the span or ([\d.]+) mm along the chord",
        (more("servo_bay", "span_mm", 1), along_chord("servo_bay", 1)),
    ),
    "bay and bore": Case(
        {
            "servo_bay": [{**BAY, "chord_fraction": 0.4, "depth_mm": 12.0}],
            "tube": [{"outer_mm": 6.0, "to_mm": 140.0, "chord_fraction": 0.35}],
        },
        ("servo_bay[0]", "tube[0]"),
        r"Move one of them by ([\d.]+) mm along the chord, or make the bay shallower by ([\d.]+) mm",
        (along_chord("servo_bay"), less("servo_bay", "depth_mm")),
    ),
    "slope of a bay and bore": Case(
        # it is cut at the foot of the bay's slope, where the bay has to become a lot shallower
        {
            "servo_bay": [{**BAY, "chord_fraction": 0.38}],
            "tube": [{"outer_mm": 8.0, "to_mm": 140.0, "chord_fraction": 0.35}],
        },
        ("servo_bay[0]", "tube[0]"),
        r"Move one of them by ([\d.]+) mm along the chord, or make the bay shallower by ([\d.]+) mm",
        (along_chord("servo_bay"), less("servo_bay", "depth_mm")),
    ),
    "two bays back to back": Case(
        {
            "servo_bay": [{**BAY, "depth_mm": 14.0}],
            "plate_bay": [{**BAY, "depth_mm": 6.0, "side": "upper"}],
        },
        ("servo_bay[0]", "plate_bay[0]"),
        r"Make one of them shallower by ([\d.]+) mm",
        (less("servo_bay", "depth_mm"),),
    ),
    "web along a slit": Case(
        {
            "tube": [{"outer_mm": 8.0, "to_mm": 140.0, "chord_fraction": 0.35}],
            "spar_web": [{"chord_fraction": 0.352}],
        },
        ("tube[0]", "spar_web[0]"),
        r"Move the web by ([\d.]+) mm along the chord",
        (along_chord("spar_web"),),
    ),
    "web along the wall of a bay": Case(
        {"servo_bay": [{**BAY, "length_mm": 40.0}], "spar_web": [{"chord_fraction": 0.453}]},
        ("servo_bay[0]", "spar_web[0]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        (along_chord("spar_web"),),
    ),
    "web along a hinge": Case(
        {
            "aileron": [{"from_mm": 60.0, "to_mm": 100.0, "hinge_fraction": 0.75}],
            "spar_web": [{"chord_fraction": 0.75}],
        },
        ("spar_web[0]", "aileron[0]"),
        r"Move the web by ([\d.]+) mm",
        (along_chord("spar_web"),),
    ),
    "aileron at the tip": Case(
        {"aileron": [{"from_mm": 60.0, "to_mm": 130.0, "hinge_fraction": 0.75}]},
        ("aileron[0]", "the tip"),
        r"Let it end at to_mm = (\d+)",
        (becomes("aileron", "to_mm"),),
    ),
    "aileron at the root": Case(
        {"aileron": [{"from_mm": 30.0, "to_mm": 90.0, "hinge_fraction": 0.75}]},
        ("aileron[0]", "the root"),
        r"Let it begin at from_mm = (\d+)",
        (becomes("aileron", "from_mm"),),
    ),
    "aileron too thin": Case(
        {
            "station": SMALL,
            "aileron": [{"from_mm": 20.0, "to_mm": 40.0, "hinge_fraction": 0.9, "gap_mm": 0.4}],
        },
        ("aileron[0]", "the section at span 20 mm"),
        r"Move the hinge forward, where it is ([\d.]+) mm thicker",
        (hinge_where_thicker,),
    ),
    "aileron too short": Case(
        {
            "station": SMALL,
            "aileron": [{"from_mm": 28.0, "to_mm": 29.0, "hinge_fraction": 0.85, "gap_mm": 1.5}],
        },
        ("aileron[0].from_mm", "aileron[0].to_mm"),
        r"Make it longer by (\d+) mm",
        (more("aileron", "to_mm"),),
    ),
    "bay and aileron": Case(
        {
            "aileron": [{"from_mm": 72.0, "to_mm": 96.0, "hinge_fraction": 0.7}],
            "servo_bay": [{**BAY, "chord_fraction": 0.66, "depth_mm": 5.0}],
        },
        ("servo_bay[0]", "aileron[0]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        (along_chord("servo_bay"),),
    ),
    "tube and aileron": Case(
        {
            "aileron": [{"from_mm": 72.0, "to_mm": 96.0, "hinge_fraction": 0.7}],
            "tube": [{"outer_mm": 4.0, "to_mm": 100.0, "chord_fraction": 0.69}],
        },
        ("tube[0]", "aileron[0]"),
        r"Move one of them by ([\d.]+) mm along the chord",
        (along_chord("tube"),),
    ),
    "aileron at a root whose trailing edge leans": Case(
        # the trailing edge leans: the slope meets it far inboard of where it would meet a straight one
        {
            "station": [
                {"span_mm": 0.0, "chord_mm": ROOT, "airfoil": "naca2412"},
                {"span_mm": 100.0, "chord_mm": 150.0, "airfoil": "naca2412"},
                {"span_mm": SPAN, "chord_mm": 145.0, "airfoil": "naca2412"},
            ],
            "aileron": [{"from_mm": 60.0, "to_mm": 110.0, "hinge_fraction": 0.72}],
        },
        ("aileron[0]", "the root"),
        r"Let it begin at from_mm = (\d+)",
        (becomes("aileron", "from_mm"),),
    ),
    "joint inside the closed tip": Case(
        {"wing": {"tip": "closed"}, "panels": {"joints_mm": [145.0]}},
        ("panels.joints_mm", "wing.tip"),
        r"Move the joint inboard by (\d+) mm",
        (lambda data, by: joint(data, -by),),
    ),
}


@cache
def refused(name: str) -> tuple[Data, DesignError]:
    data = {**BASE, **copy.deepcopy(CASES[name].asked)}
    with pytest.raises(DesignError) as caught:
        design_wing(spec_from_dict(data))
    return data, caught.value


@pytest.mark.parametrize("name", CASES)
def test_both_culprits_are_named(name: str) -> None:
    _, error = refused(name)
    assert error.culprits == CASES[name].culprits
    for culprit in CASES[name].culprits:
        assert culprit in str(error)
    # and the change that helps is a number
    assert re.search(r"\d", error.remedy)


def tried(data: Data, change: Callable[[Data, float], None], by: float) -> Iterator[str]:
    """Yield what is wrong after the change, in both directions."""
    for way in (1.0, -1.0):
        changed = copy.deepcopy(data)
        change(changed, way * by)
        try:
            build = build_wing(spec_from_dict(changed))
        except ValueError as error:
            yield str(error)
            continue
        yield "; ".join(str(finding) for finding in build.findings if finding.severity == "error")
        return


@pytest.mark.parametrize("name", CASES)
def test_the_change_that_the_message_asks_for_helps(name: str) -> None:
    data, error = refused(name)
    match = re.search(CASES[name].says, error.remedy)
    assert match is not None, error.remedy
    for change, number in zip(CASES[name].changes, match.groups(), strict=True):
        wrong = list(tried(data, change, float(number)))
        assert wrong[-1] == "", (error.remedy, wrong)
