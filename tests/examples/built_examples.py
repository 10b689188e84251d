"""The examples, and what a build of one holds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import wingpath

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(path.parent.name for path in EXAMPLES.glob("*/spec.toml"))


@dataclass(frozen=True)
class Built:
    """One example, built and written."""

    build: wingpath.WingBuild
    document: dict[str, Any]
    folder: Path
