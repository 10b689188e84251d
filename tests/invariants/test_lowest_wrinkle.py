"""No wrinkle is passed by: below the load factor that is told, nothing buckles.

By Sylvester's law of inertia (J. J. Sylvester, Philosophical Magazine 4 (1852), 138-142; from memory) the
pivots of a symmetric factorisation have the signs of the eigenvalues. So the negative pivots of
``K + f Kg`` count the modes below the factor f, and nothing is iterated that could settle on another mode.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from assessed import SHORT_WING
from outside import SHELL, Source
from scipy.sparse.linalg import splu

from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.assessing import assess_wing
from wingpath.pipeline.design import design_wing
from wingpath.structure.shell_model import HeldShell
from wingpath.structure.shell_results import BucklingPlace, HeldWing

INERTIA = Source(
    "memory",
    "law of inertia",
    "J. J. Sylvester, Philosophical Magazine 4 (1852), 138-142: the pivots of a symmetric factorisation have "
    "the signs of the eigenvalues; so those of K + f Kg count the modes below the factor f",
)

CLOSE = 1e-3
"""Share of a factor: ten times what the iteration bounds its error by."""

LONG_WING: dict[str, Any] = {
    "name": "Sedge 400",
    "aircraft": {"all_up_mass_g": 140.0},
    "station": [
        {"span_mm": 0.0, "chord_mm": 110.0},
        {"span_mm": 200.0, "chord_mm": 85.0, "leading_edge_mm": 10.0},
    ],
    "tube": [{"outer_mm": 4.0, "inner_mm": 2.0, "to_mm": 140.0, "chord_fraction": 0.3}],
    "ribs": {"run": "both", "pitch_mm": 30.0},
}
"""Its first two wrinkles with open slots lie two per cent apart."""


def modes_below(held: HeldShell, displacement: np.ndarray, factor: float) -> int:
    """Return how many ways to buckle there are below a multiple of a load."""
    stress = held.shell.geometric_stiffness(displacement)[held.free][:, held.free]
    factors = splu(
        (held.stiffness + factor * stress).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    # pivots were taken from the diagonal, or their signs would tell nothing
    assert np.array_equal(factors.perm_r, factors.perm_c)
    return int((factors.U.diagonal() < 0.0).sum())


@pytest.mark.parametrize(
    "spec", [SHORT_WING, LONG_WING, {**LONG_WING, "ribs": {"run": "aft", "pitch_mm": 40.0}}]
)
def test_nothing_buckles_below_the_factor_that_is_told(
    spec: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[HeldWing, np.ndarray, BucklingPlace | None]] = []
    alone, both = HeldWing.buckling, HeldWing.buckling_both_ways

    def one_way(self: HeldWing, moved: np.ndarray, *, reverse: bool = False) -> BucklingPlace | None:
        found = alone(self, moved, reverse=reverse)
        asked.append((self, -moved if reverse else moved, found))
        return found

    def two_ways(self: HeldWing, moved: np.ndarray) -> tuple[BucklingPlace | None, BucklingPlace | None]:
        found = both(self, moved)
        asked.extend([(self, moved, found[0]), (self, -moved, found[1])])
        return found

    monkeypatch.setattr(HeldWing, "buckling", one_way)
    monkeypatch.setattr(HeldWing, "buckling_both_ways", two_ways)
    assess_wing(design_wing(spec_from_dict(spec)))
    assert len(asked) >= 10
    with SHELL.rule(
        "First wrinkles of three wings, every load and state of fusing",
        source=INERTIA,
        expected="no mode below the factor that is told, one at least just above",
    ):
        for wing, moved, place in asked:
            assert place is not None
            assert modes_below(wing.held, moved, (1.0 - CLOSE) * place.factor) == 0
            assert modes_below(wing.held, moved, (1.0 + CLOSE) * place.factor) >= 1
