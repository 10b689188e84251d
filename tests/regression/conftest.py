"""Programs that are read and judged from text, and those of a small wing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from program_texts import Judge, Read
from programs import Program, program_of

from wingpath import WingBuild
from wingpath.build.move_judging import judge_moves
from wingpath.build.moves import Moves
from wingpath.core.findings import Finding
from wingpath.io.gcode_reader import read_gcode


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def read_text(text: str | bytes) -> Moves:
        path = tmp_path / "some.gcode"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_gcode(path)

    return read_text


@pytest.fixture
def judge(read: Read) -> Judge:
    def judge_text(text: str | bytes, **given: np.ndarray) -> tuple[Finding, ...]:
        return judge_moves(read(text), **given)

    return judge_text


@pytest.fixture(scope="module")
def small_programs(small_build: WingBuild) -> dict[tuple[int, str], Program]:
    return {(n, hand): program_of(small_build, n, hand) for n in (0, 1) for hand in ("left", "right")}
