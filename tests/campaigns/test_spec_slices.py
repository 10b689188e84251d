"""A slice of the campaigns of specs, and that their judges would notice what they look for."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import random_spec_campaign
import spec_file_campaign
from harness import Case, rng_of, run_cases
from random_spec_campaign import CHUNK, KINDS, LONGEST_S, chunk, judged, summary
from spec_file_campaign import BOUNDS, SPEC, make_case
from spec_files import GOOD, MUTATORS, Mutated, mutated

SLICE = 30
"""Damaged files that the tests try; the campaign tries 5,000."""

FEW = 4
"""Random specs of each kind that the tests try; the campaign tries 10,000."""


def test_a_slice_of_damaged_spec_files() -> None:
    told = run_cases(make_case, spec_file_campaign.judge, name="slice", numbers=range(SLICE), bounds=BOUNDS)
    assert told["failures"] == []
    assert told["refused"] > SLICE / 2


def test_every_way_to_damage_is_tried() -> None:
    tried = Counter(make_case(1, number).words.partition(":")[0] for number in range(600))
    assert len(tried) >= len(MUTATORS)


def test_cases_are_the_same_again() -> None:
    assert make_case(3, 17) == make_case(3, 17)
    assert mutated(rng_of("a", 1, 2)).data != mutated(rng_of("a", 1, 3)).data
    assert chunk(1, base_seed=2) == chunk(1, base_seed=2)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (GOOD.replace("pitch_mm = 18.0", "pitch_mm = 1.0"), Mutated("", b"", ("angle_deg",), refused=True)),
        (GOOD, Mutated("", b"", (), refused=True)),
    ],
)
def test_the_judge_of_spec_files_sees_a_wrong_name_and_a_missing_refusal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, data: str, expected: Mutated
) -> None:
    (tmp_path / SPEC).write_text(data, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    outcome = spec_file_campaign.judge(Case(1, "", {SPEC: data.encode()}, expected), tmp_path)
    assert len(outcome.faults) == 1


@pytest.mark.slow
@pytest.mark.parametrize("index", range(len(KINDS)))
def test_a_slice_of_random_specs(index: int) -> None:
    kind = KINDS[index][0]
    found = [judged(number, data, kind) for number, data in enumerate(chunk(index, base_seed=4)[:FEW])]
    told = summary(found, seed=4)
    assert told["failures"] == []
    assert told["judged"] + told["refused"] == FEW
    assert told["worst_s"] < LONGEST_S


def test_the_judge_of_random_specs_sees_a_crash_and_a_wing_that_is_not_proven(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import wingpath

    class Unproven:
        proven = False
        parts = ()
        findings = ()

    def broken(_spec: Any) -> None:
        raise ZeroDivisionError("on purpose")

    data = next(one for one in chunk(0, base_seed=4))
    for made, what in ((broken, "crashed"), (lambda _spec: Unproven(), "not proven")):
        monkeypatch.setattr(wingpath, "build_wing", made)
        monkeypatch.setattr("test_random_fittings.judge", lambda _build: ["x"])
        outcome = judged(0, data, "plain")
        assert outcome.what == what
        assert summary([outcome], seed=1)["failures"]


def test_the_chunks_are_of_all_kinds() -> None:
    assert [len(chunk(index, base_seed=1)) for index in range(len(KINDS))] == [CHUNK] * len(KINDS)
    assert random_spec_campaign.ASSESSED > 0
