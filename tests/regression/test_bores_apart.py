"""Bores that come close to each other: told where it is worst, and only where both are."""

from __future__ import annotations

import re
from typing import Any

import pytest

from wingpath import DesignError, design_wing, spec_from_dict

Data = dict[str, Any]

TIP = 160.0

BASE: Data = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 200.0, "airfoil": "naca2412"},
        {"span_mm": 150.0, "chord_mm": TIP, "leading_edge_mm": 10.0, "airfoil": "naca2412"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "none"},
    "panels": {"joints_mm": []},
    "printer": {"bed_x_mm": 400.0, "bed_y_mm": 400.0},
    "print": {"layer_mm": 0.36},
}


def two_tubes(first: Data, second: Data) -> Data:
    return {**BASE, "tube": [{"outer_mm": 4.0, **first}, {"outer_mm": 4.0, **second}]}


def test_bores_that_follow_each_other_along_the_span_do_not_clash() -> None:
    apart = ({"to_mm": 60.0, "chord_fraction": 0.3}, {"from_mm": 95.0, "to_mm": 140.0, "chord_fraction": 0.3})
    for one, other in (apart, apart[::-1]):
        design_wing(spec_from_dict(two_tubes(one, other)))
    near = {"from_mm": 55.0, "to_mm": 140.0, "chord_fraction": 0.3}
    with pytest.raises(DesignError, match=r"their bores are 0\.0 mm apart"):
        design_wing(spec_from_dict(two_tubes(apart[0], near)))


def test_a_clash_of_bores_is_told_where_it_is_worst_with_its_share_of_the_chord() -> None:
    # apart at the root, and together where they end
    with pytest.raises(DesignError) as caught:
        design_wing(
            spec_from_dict(
                two_tubes(
                    {"to_mm": 150.0, "chord_fraction": 0.3},
                    {"to_mm": 150.0, "chord_fraction": 0.36, "chord_fraction_end": 0.31},
                )
            )
        )
    told = str(caught.value)
    # a hundredth of the tip's chord
    assert "their bores are 1.6 mm apart along the chord at span 150 mm" in told
    move = float(re.search(r"by ([\d.]+) mm along the chord: tube\[1\] aft", told)[1])  # type: ignore[index]
    share = float(re.search(r"by ([\d.]+) of the chord there", told)[1])  # type: ignore[index]
    assert share == pytest.approx(move / TIP, abs=6e-4)
