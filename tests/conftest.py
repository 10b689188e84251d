"""Shared fixtures, and how thorough the random tests are."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from outside import WATCH
from wings import SMALL_WING

from wingpath import WingBuild, build_wing, spec_from_dict

# A build takes half a second, so nothing here can be held to a deadline.
_COMMON: dict[str, Any] = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
# the same examples on every run, here and in CI; HYPOTHESIS_PROFILE=thorough looks for new ones
settings.register_profile("default", settings(**_COMMON, derandomize=True))
settings.register_profile("thorough", settings(**_COMMON, max_examples=400))
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))


@pytest.fixture(scope="session")
def small_build() -> WingBuild:
    """Return the built small wing."""
    return build_wing(spec_from_dict(SMALL_WING))


@pytest.fixture(scope="session")
def built() -> Callable[[dict[str, Any]], WingBuild]:
    """Return a function that builds a wing from plain data, each only once in a session."""
    made: dict[str, WingBuild] = {}

    def build(data: dict[str, Any]) -> WingBuild:
        key = repr(data)
        if key not in made:
            made[key] = build_wing(spec_from_dict(data))
        return made[key]

    return build


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Tell checks against the outside which test they belong to; see `outside.py`."""
    WATCH.start(item.nodeid)
    result = yield
    WATCH.finish()
    return result
