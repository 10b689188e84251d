"""Numbers along the span against what they have to add up to."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from reported import reported

from wingpath.pipeline.spanwise import spanwise_document

ROUNDED = 1e-5
"""Numbers are told with six digits."""

MARGIN_DIGITS = 1e-3
"""Margins are told with four digits."""

BEAM_SHARE = 0.75
"""A beam gives deflections too small, up to 35 per cent with tubes on slender wings; this one is short and
thick, where shear counts too."""


@pytest.fixture(scope="module")
def spanwise() -> dict[str, Any]:
    return spanwise_document(reported().assessed)


def test_mass_along_the_span_adds_up_to_the_mass(spanwise: dict[str, Any]) -> None:
    mass = spanwise["mass"]
    total = np.sum(np.diff(mass["edges_mm"]) * np.array(mass["g_per_100_mm"]) / 100.0)
    assert total == pytest.approx(reported().assessed.weights.mass_g, rel=ROUNDED)


def test_chord_is_the_spec_s(spanwise: dict[str, Any]) -> None:
    assert spanwise["chord"] == {"span_mm": [0.0, 90.0], "chord_mm": [100.0, 80.0]}


def test_the_tip_moves_as_the_assessment_says(spanwise: dict[str, Any]) -> None:
    strength = reported().document["strength"]
    motion = spanwise["motion"]
    assert motion["span_mm"][0] == 0.0
    assert motion["deflection_mm_per_g"][-1] == pytest.approx(
        strength["tip_deflection_mm_per_g"], rel=ROUNDED
    )
    limits = [case for case in strength["loads"] if case["case"].startswith("limit")]
    assert len(limits) == 2
    limit = max(limits, key=lambda case: case["deflection_mm"][-1])
    assert motion["deflection_limit_mm"] == pytest.approx(limit["deflection_mm"], abs=1e-4)
    assert motion["deflection_limit_mm"][-1] == pytest.approx(
        strength["tip_deflection_limit_mm"], rel=ROUNDED
    )
    assert motion["limit_load_factor"] == 4.0


def test_the_least_margin_along_the_span_is_the_margin(spanwise: dict[str, Any]) -> None:
    margins = {one["margin"]: one["value"] for one in reported().document["strength"]["margin_details"]}
    margin = spanwise["margin"]
    for key, names in (
        ("skin_compression", ("skin_compression",)),
        ("layer_tension", ("layer_tension",)),
        ("tube_bending", ("tube_bending_root", "tube_bending_span")),
    ):
        told = min(value for value in margin[key] if value is not None)
        wanted = min(margins[name] for name in names)
        assert 1.0 + told == pytest.approx(1.0 + wanted, rel=MARGIN_DIGITS), key


def test_stiffness_along_the_span_bends_about_as_the_shell_does(spanwise: dict[str, Any]) -> None:
    """Twice integrated by hand from the root: a cantilever, moment over stiffness."""
    stiff, strength = spanwise["stiffness"], reported().document["strength"]
    limit = next(case for case in strength["loads"] if case["case"] == "limit")
    z = np.linspace(0.0, 90.0, 1801)
    moment = np.interp(z, limit["stations_mm"], limit["bending_n_mm"])
    pieces = np.array(stiff["bending_n_m2"])
    place = np.clip(np.searchsorted(stiff["edges_mm"], z, side="right") - 1, 0, len(pieces) - 1)
    bend = moment / (pieces[place] * 1e6)
    step = z[1]
    slope = np.concatenate([[0.0], np.cumsum(0.5 * (bend[1:] + bend[:-1]) * step)])
    tip = float(np.sum(0.5 * (slope[1:] + slope[:-1]) * step))
    told = spanwise["motion"]["deflection_limit_mm"][-1]
    assert 0.0 < tip < told
    assert tip == pytest.approx(told, rel=BEAM_SHARE)
    assert (np.array(stiff["twisting_n_m2"]) > 0.0).all()


def test_without_loads_there_are_no_motions_and_margins() -> None:
    from assessed import SHORT_WING, assessed_fused

    plain = {key: value for key, value in SHORT_WING.items() if key != "aircraft"}
    found = spanwise_document(assessed_fused(plain))
    assert found["motion"] is None
    assert found["margin"] is None
    assert found["stiffness"] is not None
