"""An interrupt that Python drops inside a callback is raised at the next report of progress."""

from __future__ import annotations

import signal
import weakref
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from wings import SMALL

import wingpath.pipeline.design
from wingpath.cli.interrupts import raise_if_interrupted, remembered_interrupts
from wingpath.core.errors import InputError


@pytest.fixture(autouse=True)
def listening() -> Iterator[None]:
    """Hear interrupts, also where the tests run as a background job, which is started deaf to them."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


class Thing:
    """Something that a weak reference can point to."""


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_an_interrupt_in_a_dying_reference_is_not_lost() -> None:
    with remembered_interrupts():
        thing = Thing()
        reference = weakref.ref(thing, lambda _ref: signal.raise_signal(signal.SIGINT))
        # Python runs the callback here, prints what it raises, and goes on
        del thing
        assert reference() is None
        with pytest.raises(KeyboardInterrupt):
            raise_if_interrupted()
    with remembered_interrupts():
        raise_if_interrupted()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_build_ends_with_130_though_the_exception_was_dropped(
    cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spec = tmp_path / "small.toml"
    spec.write_text(SMALL)
    real = wingpath.pipeline.design.design_wing

    def interrupted(*given: Any) -> Any:
        thing = Thing()
        reference = weakref.ref(thing, lambda _ref: signal.raise_signal(signal.SIGINT))
        del thing
        assert reference() is None
        return real(*given)

    monkeypatch.setattr(wingpath.pipeline.design, "design_wing", interrupted)
    ran = cli("build", spec, "-o", tmp_path / "out")
    assert ran.status == 130
    assert "wingpath: stopped" in ran.err
    assert not (tmp_path / "out").exists()


def test_somebody_elses_handler_stays() -> None:
    def other(_signal: int, _frame: Any) -> None:
        raise AssertionError

    before = signal.signal(signal.SIGINT, other)
    try:
        with remembered_interrupts():
            assert signal.getsignal(signal.SIGINT) is other
    finally:
        signal.signal(signal.SIGINT, before)


def test_an_interrupt_that_became_another_error_is_told_as_one(
    cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A library that is interrupted while it is being loaded may say that it is missing."""

    def lost(*_given: Any, **_more: Any) -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            raise InputError("--step: the CAD kernel is missing") from None

    monkeypatch.setattr("wingpath.pipeline.stepping.refuse_missing_kernel", lost)
    ran = cli("build", tmp_path / "wing.toml", "--step")
    assert ran.status == 130
    assert "wingpath: stopped" in ran.err
    assert "missing" not in ran.err
