"""Examples are built once a session."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from built_examples import EXAMPLES, Built

import wingpath


@pytest.fixture(scope="session")
def example(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Built]:
    """Build an example once a session."""
    done: dict[str, Built] = {}

    def get(name: str) -> Built:
        if name not in done:
            build = wingpath.build_wing(EXAMPLES / name / "spec.toml")
            folder = tmp_path_factory.mktemp("examples") / name
            wingpath.write_build(build, folder)
            done[name] = Built(build, wingpath.build_document(build, spec_name="spec.toml"), folder)
        return done[name]

    return get
