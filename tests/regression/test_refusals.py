"""What cannot be printed is refused, and the refusal names both culprits and a number to act on."""

from __future__ import annotations

import copy
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wingpath import DesignError, design_wing, spec_from_dict

BASE: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 120.0, "airfoil": "naca2412"},
        {"span_mm": 100.0, "chord_mm": 100.0, "airfoil": "naca2412"},
    ],
    "wing": {"tip": "open"},
    "panels": {"joints_mm": []},
}


def wing(**tables: Any) -> dict[str, Any]:
    return {**copy.deepcopy(BASE), **tables}


def swept(aft: float) -> dict[str, Any]:
    data = wing(spar_web=[{"chord_fraction": 0.5}])
    data["station"][1]["leading_edge_mm"] = aft
    return data


def tubes(apart: float) -> list[dict[str, float]]:
    return [{"outer_mm": 4.0, "to_mm": 80.0, "chord_fraction": f} for f in (0.3, 0.3 + apart / 120.0)]


def along_slit(apart: float) -> dict[str, Any]:
    """Return a wing with a web beside the slit of a tube, both parallel to the span."""
    data = wing(
        tube=[{"outer_mm": 4.0, "to_mm": 80.0, "chord_fraction": 0.3}],
        spar_web=[{"chord_fraction": 0.3 + apart / 120.0, "to_mm": 80.0}],
    )
    data["station"][1]["chord_mm"] = 120.0
    return data


def two_webs(apart: float) -> dict[str, Any]:
    data = wing(spar_web=[{"chord_fraction": 0.5}, {"chord_fraction": 0.5 + apart / 120.0}])
    data["station"][1]["chord_mm"] = 120.0
    return data


def joint_at(place: float) -> dict[str, Any]:
    return {**wing(panels={"joints_mm": [place]}), "wing": {"tip": "closed"}}


# naca2412, 120 mm: 14.4 mm thick at the fattest place; a bore needs 0.765 mm all round
REFUSED = {
    "tube too thick": (
        wing(tube=[{"outer_mm": 13.0, "to_mm": 80.0, "chord_fraction": 0.3}]),
        wing(tube=[{"outer_mm": 8.0, "to_mm": 80.0, "chord_fraction": 0.3}]),
        ("tube[0]", "station[1]"),
    ),
    "two tubes too close": (
        wing(tube=tubes(4.5)),
        wing(tube=tubes(8.0)),
        ("tube[0]", "tube[1]"),
    ),
    "web along a slit": (along_slit(0.5), along_slit(2.6), ("tube[0]", "spar_web[0]")),
    # two beads of 0.45 mm
    "two webs too close": (two_webs(0.88), two_webs(0.92), ("spar_web[0]", "spar_web[1]")),
    # a bead beside the one below: 0.45 / 0.25, on half chords that move by the sweep less 10 mm
    "web leaning too much": (swept(195.0), swept(185.0), ("spar_web[0]", "sweep")),
    # the tip begins about 6 mm inboard of 100
    "joint inside the tip": (joint_at(98.0), joint_at(85.0), ("panels.joints_mm", "wing.tip")),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_both_culprits_and_a_number(name: str) -> None:
    bad, _, culprits = REFUSED[name]
    with pytest.raises(DesignError) as caught:
        design_wing(spec_from_dict(bad))
    error = caught.value
    assert len(error.culprits) == 2
    for culprit, expected in zip(error.culprits, culprits, strict=True):
        assert expected in culprit
        assert culprit in str(error)
    assert re.search(r"\d", error.reason)
    assert len(error.remedy) > 10
    assert "\n" not in str(error)


@pytest.mark.parametrize("name", REFUSED)
def test_not_refused_a_little_inside_the_limit(name: str) -> None:
    design_wing(spec_from_dict(REFUSED[name][1]))


def remedy_of(data: dict[str, Any]) -> str:
    with pytest.raises(DesignError) as caught:
        design_wing(spec_from_dict(data))
    return caught.value.remedy


def number_in(text: str, pattern: str) -> float:
    found = re.search(pattern, text)
    assert found is not None, text
    return float(found[1])


def test_the_remedy_for_a_thick_tube_is_enough() -> None:
    data = wing(tube=[{"outer_mm": 11.5, "to_mm": 80.0, "chord_fraction": 0.3}])
    less = number_in(remedy_of(data), r"thinner by ([\d.]+) mm")
    data["tube"][0]["outer_mm"] = 11.5 - less
    design_wing(spec_from_dict(data))
    data["tube"][0]["outer_mm"] = 11.5 - less + 0.1
    remedy_of(data)


def test_the_remedy_for_a_long_tube_is_enough() -> None:
    # thick enough for the root, not for the tip
    data = wing(tube=[{"outer_mm": 11.0, "to_mm": 100.0, "chord_fraction": 0.3}])
    data["tube"][0]["to_mm"] = number_in(remedy_of(data), r"to_mm = ([\d.]+)")
    assert 0.0 < data["tube"][0]["to_mm"] < 100.0
    design_wing(spec_from_dict(data))


def test_the_remedy_for_close_webs_is_enough() -> None:
    move = number_in(remedy_of(two_webs(0.6)), r"by ([\d.]+) mm along")
    design_wing(spec_from_dict(two_webs(0.6 + move + 1e-3)))


def test_the_remedy_for_close_tubes_is_enough() -> None:
    move = number_in(remedy_of(wing(tube=tubes(4.0))), r"by ([\d.]+) mm along")
    # measured along the root chord of 120 mm, and the places are closest at the tip, where it is 104
    design_wing(spec_from_dict(wing(tube=tubes(4.0 + (move + 0.05) * 120.0 / 104.0))))


def test_the_remedy_for_a_joint_in_the_tip_is_enough() -> None:
    move = number_in(remedy_of(joint_at(98.0)), r"inboard by (\d+) mm")
    design_wing(spec_from_dict(joint_at(98.0 - move)))


def test_a_quick_crossing_of_a_slit_by_a_web_is_allowed() -> None:
    crossing = wing(
        tube=[{"outer_mm": 4.0, "to_mm": 80.0, "chord_fraction": 0.3}],
        spar_web=[{"chord_fraction": 0.1, "chord_fraction_end": 0.6}],
    )
    design_wing(spec_from_dict(crossing))


def hooked(folder: Path) -> dict[str, Any]:
    """Return a wing whose tip section comes from a file: thin, arched, steep at its end."""
    x = np.concatenate(
        [0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 41))) * 0.95, np.linspace(0.955, 1.0, 10)]
    )
    # 0.3 chords down on 0.05 chords: 80.5 degrees
    mean = np.interp(x, [0.0, 0.95, 1.0], [0.0, 0.3, 0.0])
    half = 0.015 * np.sqrt(np.clip(x / 0.3, 0.0, 1.0))
    loop = [*zip(x[::-1], (mean + half)[::-1], strict=True), *zip(x[1:], (mean - half)[1:], strict=True)]
    rows = "\n".join(f"{a:.6f} {b:.6f}" for a, b in loop)
    (folder / "hook.dat").write_text(f"hook\n{rows}\n", encoding="utf-8")
    data = wing()
    data["station"][1]["airfoil"] = "hook.dat"
    return data


def test_twist_that_folds_a_thin_cambered_section_is_refused(tmp_path: Path) -> None:
    data = hooked(tmp_path)
    data["station"][1]["twist_deg"] = 18.0
    with pytest.raises(DesignError) as caught:
        design_wing(spec_from_dict(data), base_dir=tmp_path)
    assert caught.value.culprits == ("station[1].twist_deg", "station[1].airfoil (hook.dat)")
    assert re.search(r"back by \d+\.\d mm", caught.value.reason)
    # at 80.5 + 4 degrees it still faces aft
    data["station"][1]["twist_deg"] = 4.0
    design_wing(spec_from_dict(data), base_dir=tmp_path)
