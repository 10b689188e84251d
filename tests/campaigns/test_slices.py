"""The first cases of every campaign of spoilt files; the rest is run by hand, see ``*_campaign.py``."""

from __future__ import annotations

from importlib import import_module

import pytest
from harness import run_cases

CAMPAIGNS = [
    ("airfoil_campaign", 20),
    ("gcode_campaign", 20),
    ("measurement_campaign", 10),
    ("mesh_campaign", 25),
    ("profile_campaign", 10),
]
"""Each with the cases that the tests run."""


@pytest.mark.parametrize(("name", "cases"), CAMPAIGNS)
def test_the_first_cases_of_a_campaign_pass(name: str, cases: int) -> None:
    campaign = import_module(name)
    summary = run_cases(campaign.make_case, campaign.judge, name=name, numbers=range(cases))
    assert summary["failures"] == []
    assert summary["judged"] > 0
    assert summary["refused"] > 0


@pytest.mark.parametrize("name", [name for name, _ in CAMPAIGNS])
def test_a_case_is_the_same_every_time(name: str) -> None:
    make_case = import_module(name).make_case
    assert [make_case(1, number) for number in range(12)] == [make_case(1, number) for number in range(12)]
    assert make_case(1, 5).files != make_case(2, 5).files
