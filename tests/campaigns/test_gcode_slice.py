"""The first cases of the campaign of programs; the rest is run by hand, see `gcode_campaign.py`."""

from __future__ import annotations

from gcode_campaign import judge, make_case
from harness import run_cases

CASES = 20


def test_the_first_cases_of_the_campaign_pass() -> None:
    summary = run_cases(make_case, judge, name="gcode", numbers=range(CASES))
    assert summary["failures"] == []
    assert summary["judged"] > 0
    assert summary["refused"] > 0


def test_a_case_is_the_same_every_time() -> None:
    assert [make_case(1, number) for number in range(12)] == [make_case(1, number) for number in range(12)]
    assert make_case(1, 5).files != make_case(2, 5).files
