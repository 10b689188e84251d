"""A bore that begins in mid span grows from a cone and a slit: both need solid above them, or are refused."""

from __future__ import annotations

from typing import Any

import pytest

from wingpath.core.errors import DesignError
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.building import build_wing

TUBE = {
    "outer_mm": 1.7,
    "clearance_mm": 0.01,
    "chord_fraction": 0.5,
    "chord_fraction_end": 0.4622,
    "from_mm": 3.72,
    "to_mm": 26.1,
}


def wing(last: str, **changes: Any) -> dict[str, Any]:
    """Return a wing whose camber changes within a few millimetres of the root, with a tube that leans."""
    return {
        "name": "Sedge 110",
        "station": [
            {"span_mm": 0.0, "chord_mm": 243.0, "airfoil": "naca0009"},
            {
                "span_mm": 5.6,
                "chord_mm": 236.6,
                "leading_edge_mm": 3.5,
                "twist_deg": -1.1,
                "airfoil": "naca6414",
            },
            {"span_mm": 16.7, "chord_mm": 239.4, "twist_deg": -1.7, "airfoil": last},
            {
                "span_mm": 55.8,
                "chord_mm": 200.4,
                "leading_edge_mm": 11.1,
                "twist_deg": -1.9,
                "airfoil": "reflex-10",
            },
        ],
        "wing": {"tip": "closed"},
        "ribs": {"run": "aft", "pitch_mm": 27.0, "angle_deg": 25.5},
        "slots": {"width_mm": 0.028, "neck_mm": 0.528},
        "print": {"bead_mm": 0.4, "layer_mm": 0.27},
        "tube": [TUBE | changes],
    }


@pytest.mark.parametrize(
    ("last", "words"),
    [("naca0013", "grows as a cone before span 4 mm"), ("reflex-10", "slit that grows up to its bore")],
)
def test_a_cone_or_slit_without_solid_above_it_is_refused(last: str, words: str) -> None:
    with pytest.raises(DesignError) as refused:
        build_wing(spec_from_dict(wing(last)))
    text = str(refused.value)
    assert "tube[0]" in text
    assert words in text
    assert "too close to the" in text
    assert "Begin it elsewhere along the span, let it lean less" in text


@pytest.mark.parametrize(
    ("last", "change"),
    [
        ("naca0013", {"from_mm": 17.0, "to_mm": 40.0}),
        ("reflex-10", {"from_mm": 17.0, "to_mm": 40.0}),
        ("reflex-10", {"chord_fraction_end": 0.5}),
    ],
)
def test_what_the_message_asks_for_helps(last: str, change: dict[str, float]) -> None:
    assert build_wing(spec_from_dict(wing(last, **change))).proven
