"""Bays that the skin does not let out, and ducts that come in beside them: refused with what helps."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from wingpath import DesignError, build_wing, design_wing, spec_from_dict


@pytest.mark.parametrize("side", ["lower", "upper"])
@pytest.mark.parametrize(("tip_mm", "twist_deg"), [(1000.0, 20.0), (330.0, 20.0), (130.0, 0.0)])
def test_a_bay_whose_slopes_do_not_come_out_of_the_skin(side: str, tip_mm: float, twist_deg: float) -> None:
    refused = tip_mm == 1000.0
    data: dict[str, Any] = {
        "station": [
            {"span_mm": 0.0, "chord_mm": 130.0, "airfoil": "naca0018"},
            {
                "span_mm": 98.0,
                "chord_mm": tip_mm,
                "airfoil": "naca0006",
                "twist_deg": twist_deg if side == "upper" else -twist_deg,
            },
        ],
        "wing": {"tip": "open"},
        "ribs": {"run": "forward", "pitch_mm": 21.0},
        "plate_bay": [
            {"span_mm": 18.0, "length_mm": 28.0, "width_mm": 25.0, "depth_mm": 1.0, "chord_fraction": 0.2}
            | {"side": side}
        ],
        "printer": {"bed_x_mm": 800.0, "bed_y_mm": 800.0},
    }
    if refused:
        with pytest.raises(DesignError) as caught:
            build_wing(spec_from_dict(data))
        text = str(caught.value)
        assert "plate_bay[0]" in text
        assert "the skin leans as fast along the span" in text
        return
    assert build_wing(spec_from_dict(data)).proven


@pytest.mark.parametrize("fraction", [0.62, 0.22])
def test_a_duct_that_comes_in_beside_its_bay_is_told_how_far_to_move(fraction: float) -> None:
    data: dict[str, Any] = {
        "station": [
            {"span_mm": 0.0, "chord_mm": 200.0, "airfoil": "naca2415"},
            {"span_mm": 150.0, "chord_mm": 200.0, "airfoil": "naca2415"},
        ],
        "wing": {"tip": "open"},
        "ribs": {"run": "none"},
        "servo_bay": [
            {"span_mm": 40.0, "length_mm": 22.0, "width_mm": 12.0, "depth_mm": 9.0, "chord_fraction": 0.42}
        ],
        "duct": [{"diameter_mm": 5.0, "to_mm": 45.0, "chord_fraction": fraction, "chord_fraction_end": 0.42}],
    }
    with pytest.raises(DesignError) as caught:
        design_wing(spec_from_dict(data))
    text = str(caught.value)
    aside, move = (
        float(re.search(words, text)[1])  # type: ignore[index]
        for words in (r"comes in ([\d.]+) mm beside the bay", r"start (\d+) mm nearer to the bay")
    )
    assert aside > 1.0
    assert move > aside
    data["duct"][0]["chord_fraction"] += np.sign(0.42 - fraction) * (move + 1.0) / 200.0
    assert design_wing(spec_from_dict(data)).voids.bores
