"""What moves at known places beside slots, bores and bays are laid for."""

import numpy as np
import pytest

from wingpath.build.bays import Bay
from wingpath.build.bores import Bore
from wingpath.build.slots import Slot
from wingpath.pipeline.bead_kinds import BEAD_KINDS, bead_kinds

BEAD, SLOT = 0.45, 0.06
BESIDE = 0.5 * (BEAD + SLOT)
"""The bead beside a slot runs this far from its middle [mm]."""

Z = np.array([0.0, 50.0])
RIB = Slot("rib", "aft", Z, np.array([30.0, 80.0]), np.array([4.0, 6.0]))
WEB = Slot("spar_web[0]", "web", Z, np.array([50.0, 50.0]), np.array([5.0, 5.0]))
SLIT = Slot("slit of tube[0]", "web", Z, np.array([20.0, 20.0]), np.array([1.0, 1.0]))
TUBE = Bore("tube", "tube[0]", 3.0, 0.8, 10.0, 50.0, np.array([20.0, 1.0]), np.array([20.0, 1.0]))
TAB = Bore("tab", "tab[0]", 9.0, 0.8, 0.0, 50.0, np.array([70.0, 1.0]), np.array([70.0, 1.0]), (9.0, 1.5))
LOWER = Bay("servo", 0, "lower", 20.0, 30.0, 90.0, 100.0, 2.0, -3.0, 0.8)
UPPER = Bay("plate", 0, "upper", 20.0, 30.0, 110.0, 120.0, 4.0, 7.0, 0.8)


def kind_at(x: float, y: float, z: float) -> str:
    kinds = bead_kinds(
        np.array([[x, y, z]]),
        slots=(RIB, WEB, SLIT),
        bores=(TUBE, TAB),
        bays=(LOWER, UPPER),
        bead_mm=BEAD,
        slot_mm=SLOT,
    )
    return BEAD_KINDS[int(kinds[0])]


@pytest.mark.parametrize(
    ("place", "kind"),
    [
        # both sides of a rib whose trace moves with z, the bead over its end, the skin beside and above
        ((40.0 - BESIDE, 2.0, 10.0), "ribs"),
        ((40.0 + BESIDE, 2.0, 10.0), "ribs"),
        ((40.0, 4.4 + 0.5 * BEAD, 10.0), "ribs"),
        ((40.0, 4.4 + 1.2 * BEAD, 10.0), "skin"),
        ((40.0 + BESIDE + BEAD, 2.0, 10.0), "skin"),
        ((80.0 + BESIDE, 2.0, 50.1), "skin"),
        # a web, and near the crossing of rib and web the one that is nearer
        ((50.0 + BESIDE, 2.0, 40.0), "webs"),
        ((50.1, 2.0, 20.2), "ribs"),
        ((49.9, 2.0, 20.2), "webs"),
        # slit and ring of a round bore, which begins as a cone
        ((20.0 + BESIDE, -4.0, 30.0), "fittings"),
        ((20.0, 4.0 + 0.5 * BEAD, 30.0), "fittings"),
        ((20.0, 4.0 + 1.0 * BEAD, 30.0), "skin"),
        ((20.0, 4.0 + 0.5 * BEAD, 8.0), "skin"),
        ((20.0, 1.0 + 1.0 + 0.5 * BEAD, 8.0), "fittings"),
        # a flat one
        ((79.0 + 0.5 * BEAD, 1.0, 30.0), "fittings"),
        ((70.0, 2.5 + 0.5 * BEAD, 40.0), "fittings"),
        ((70.0, 2.5 + 1.0 * BEAD, 30.0), "skin"),
        ((79.0 + 1.0 * BEAD, 1.0, 30.0), "skin"),
        # walls, floor and slope of a bay in the lower skin, and what lies beside and above
        ((90.0 - 0.5 * BEAD, -1.0, 25.0), "fittings"),
        ((100.0 + 0.5 * BEAD, -1.0, 25.0), "fittings"),
        ((95.0, 2.0 + 0.5 * BEAD, 25.0), "fittings"),
        ((95.0, 2.0 + 1.0 * BEAD, 25.0), "skin"),
        ((95.0, 0.0 + 0.5 * BEAD, 32.0), "fittings"),
        ((95.0, 2.0 + 0.5 * BEAD, 32.0), "skin"),
        ((90.0 - 1.0 * BEAD, -1.0, 25.0), "skin"),
        ((95.0, -2.9, 36.0), "skin"),
        # of one in the upper skin
        ((115.0, 4.0 - 0.5 * BEAD, 25.0), "fittings"),
        ((115.0, 4.0 - 1.0 * BEAD, 25.0), "skin"),
        ((110.0 - 0.5 * BEAD, 5.0, 25.0), "fittings"),
    ],
)
def test_kind(place: tuple[float, float, float], kind: str) -> None:
    assert kind_at(*place) == kind


def test_order_of_the_moves_does_not_matter() -> None:
    random = np.random.default_rng(7)
    places = np.column_stack(
        [random.uniform(0, 130, 4000), random.uniform(-4, 8, 4000), random.uniform(0, 50, 4000)]
    )
    given = {"slots": (RIB, WEB, SLIT), "bores": (TUBE, TAB), "bays": (LOWER, UPPER)}
    kinds = bead_kinds(places, **given, bead_mm=BEAD, slot_mm=SLOT)  # type: ignore[arg-type]
    turned = bead_kinds(places[::-1], **given, bead_mm=BEAD, slot_mm=SLOT)  # type: ignore[arg-type]
    assert np.array_equal(turned[::-1], kinds)
    assert set(kinds) == {0, 1, 2, 3}


def test_nothing_and_nothing_in_it() -> None:
    none = bead_kinds(
        np.zeros((0, 3)), slots=(RIB,), bores=(TUBE,), bays=(LOWER,), bead_mm=BEAD, slot_mm=SLOT
    )
    assert len(none) == 0
    assert bead_kinds(np.array([[40.0, 2.0, 10.0]]), slots=(), bead_mm=BEAD, slot_mm=SLOT)[0] == 0
