"""The shell of the project's panel against computations made before it with another code of the same element.

Those were run with edges of 6 mm and 4 rows over the height of a wall; here it is 7 mm and 2 rows, which is
1 per cent off in deflection and twist and 2 to 3 in buckling. Mesh, columns and loads were written anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from shell_panels import CROSSED_DEG, panel

pytestmark = pytest.mark.slow

EDGE_MM = 7.0

SAME = 0.05
"""Share: meshes and idealisation differ; measured 4 per cent at most."""

RATIO = 0.08
"""Share on ratios of two values, each of which is within the above and mostly off the same way."""

OPEN_DEFLECTION, OPEN_TWIST = 0.15, 0.25
"""Shares for slots that are fused nowhere: the skin is then held together by what is left between slots and
leading edge; 1 per cent of the chord there changes twist by 12 per cent (measured), and the point at which
the last piece of a slot stops is a matter of where nodes are."""

SMALL_TORQUE_N_M = 0.01
"""Half of the last digit of the table, twice over: torques of a tenth are rounded to 5 per cent."""


@dataclass(frozen=True)
class Row:
    """Deflection at 1 g [mm], twist [deg/(N m)], factor on 1 g, and torque that buckles, nose down and up."""

    deflection_mm: float
    twist_deg: float
    lift_factor: float | None = None
    down_n_m: float | None = None
    up_n_m: float | None = None


VARIANTS: dict[str, tuple[dict[str, Any], Row]] = {
    "none": ({}, Row(5.88, 2.99, 0.68, 0.16, 0.16)),
    "+45": ({"angles_deg": (45.0,)}, Row(5.59, 2.72, 1.66, 1.07, 1.24)),
    "-45": ({"angles_deg": (-45.0,)}, Row(5.41, 2.70, 1.62, 1.22, 1.09)),
    "+-45": ({"angles_deg": CROSSED_DEG}, Row(4.93, 2.10, 2.21, 3.89, 3.78)),
    "+-45, spar": ({"angles_deg": CROSSED_DEG, "spar": True}, Row(4.58, 2.10, 2.33)),
    "+45, tube": ({"angles_deg": (45.0,), "tube": True}, Row(2.17, 2.62, 5.24)),
    "+-45, tube": ({"angles_deg": CROSSED_DEG, "tube": True}, Row(1.84, 2.05, 7.78)),
    "+45, near": ({"angles_deg": (45.0,), "pitch_mm": 20.0}, Row(5.51, 2.58, 2.99)),
    "+-45, near": ({"angles_deg": CROSSED_DEG, "pitch_mm": 20.0}, Row(4.78, 1.88, None, 9.45, 9.35)),
    "none, open tip": ({"cap_mm": 0.0}, Row(6.09, 2.60, 0.69, 0.09, 0.11)),
    "+45, welds": ({"angles_deg": (45.0,), "weld_mm": 18.0}, Row(6.16, 3.02, 1.42, 0.85, 1.04)),
}


@cache
def solved(name: str) -> Row:
    """Return what the shell says, of what the table has."""
    arguments, wanted = VARIANTS[name]
    found = panel(**arguments, edge_mm=EDGE_MM)
    lifted, turned = found.lifted, found.turned
    return Row(
        found.tip(lifted).deflection_mm,
        found.tip(turned).twist_deg,
        found.factor(lifted) if wanted.lift_factor else None,
        found.factor(turned, reverse=True) if wanted.down_n_m else None,
        found.factor(turned) if wanted.up_n_m else None,
    )


@pytest.mark.parametrize("name", VARIANTS)
def test_variant(name: str) -> None:
    found, (_, wanted) = solved(name), VARIANTS[name]
    assert found.deflection_mm == pytest.approx(wanted.deflection_mm, rel=SAME)
    assert found.twist_deg == pytest.approx(wanted.twist_deg, rel=SAME)
    for value, table in (
        (found.lift_factor, wanted.lift_factor),
        (found.down_n_m, wanted.down_n_m),
        (found.up_n_m, wanted.up_n_m),
    ):
        if table is not None:
            assert value == pytest.approx(table, rel=SAME, abs=SMALL_TORQUE_N_M)


def test_slots_fused_nowhere_open_the_section() -> None:
    found = panel((45.0,), weld_mm=np.inf, edge_mm=EDGE_MM)
    lifted = found.tip(found.lifted)
    assert lifted.deflection_mm == pytest.approx(19.85, rel=OPEN_DEFLECTION)
    assert found.tip(found.turned).twist_deg == pytest.approx(13.43, rel=OPEN_TWIST)
    # open sections turn as they bend: nose up, where the table counts nose down
    assert lifted.twist_deg == pytest.approx(2.464, rel=OPEN_TWIST)


@pytest.mark.parametrize(
    ("value", "ratios"),
    [
        (lambda row: row.down_n_m, (1.0, 1.07 / 0.16, 3.89 / 0.16)),
        (lambda row: 1.0 / row.twist_deg, (1.0, 1.10, 1.42)),
    ],
    ids=["buckling torque", "stiffness in torsion"],
)
def test_what_runs_of_ribs_are_worth(value: Callable[[Row], float], ratios: tuple[float, ...]) -> None:
    # in words: 1 to 7 to 24 before skins wrinkle, 1 to 1.1 to 1.4 before that
    found = np.array([value(solved(name)) for name in ("none", "+45", "+-45")])
    assert found / found[0] == pytest.approx(ratios, rel=RATIO)


def test_edges_twice_as_long_change_little() -> None:
    # the first row of the table's own study of meshes: 14 mm is 2 to 3 per cent off in deflection and twist
    found = panel((45.0,), edge_mm=2.0 * EDGE_MM)
    assert found.tip(found.lifted).deflection_mm == pytest.approx(solved("+45").deflection_mm, rel=0.03)
    assert found.tip(found.turned).twist_deg == pytest.approx(solved("+45").twist_deg, rel=0.04)
