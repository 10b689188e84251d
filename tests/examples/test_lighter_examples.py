"""The lighter wings beside the examples: each is assessed from its file and held to the wing as drawn."""

from __future__ import annotations

import pytest
from built_examples import EXAMPLES

from wingpath.io.spec_toml import load_spec
from wingpath.lighten.measures import measures_of
from wingpath.lighten.targets import targets_of
from wingpath.pipeline.assessing import assess_wing

SAVED = {"osier-1240": 0.02, "teasel-920": 0.002, "fescue-340": 0.09}
"""Least share of the half wing's mass that is saved at equal or better stiffness: a little less than what the
search found."""


@pytest.mark.slow
@pytest.mark.parametrize("name", SAVED)
def test_the_lighter_wing_is_lighter_and_no_worse(name: str) -> None:
    folder = EXAMPLES / name
    drawn = measures_of(assess_wing(folder / "spec.toml", bounds=False))
    lighter = measures_of(assess_wing(folder / "lighter.toml", bounds=False))
    targets = targets_of(load_spec(folder / "spec.toml"), drawn, no_worse=True)
    assert len(targets.targets) >= 2
    assert targets.met(lighter), [stop.words for stop in targets.stops(lighter)]
    assert not lighter.errors
    assert lighter.mass_g <= (1.0 - SAVED[name]) * drawn.mass_g


@pytest.mark.parametrize("name", SAVED)
def test_the_lighter_wing_differs_in_what_may_change_only(name: str) -> None:
    drawn, lighter = (load_spec(EXAMPLES / name / file) for file in ("spec.toml", "lighter.toml"))
    kept = ("name", "aircraft", "stations", "tabs", "ducts", "servo_bays", "plate_bays", "ailerons", "panels")
    for key in kept:
        assert getattr(lighter, key) == getattr(drawn, key)
    assert lighter != drawn
