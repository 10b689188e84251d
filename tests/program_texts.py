"""Programs as text, and how findings about them are held against what is wanted."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wingpath.build.moves import Moves
from wingpath.core.findings import Finding

DIGITS_MM = 1e-9
"""How closely sums of a few decimal numbers are held: rounding, far below a micrometre."""

HEAD = "G90\nM83\nG1 X0 Y0 Z0.2\n"
"""Three lines; the first bead stands in line 4."""

PLAIN = "G90\nM83\nG1 X10 Y0 Z0.3\nG1 X20 Y5 E1.5\nG1 X25 E0.5 F1200\nG0 Y9\n"

ROOM = np.array([[0.0, 0.0, 0.0], [100.0, 80.0, 60.0]])

Read = Callable[[str | bytes], Moves]
Judge = Callable[..., tuple[Finding, ...]]


def told(findings: tuple[Finding, ...]) -> list[tuple[str, int | None]]:
    return [(finding.code, finding.line) for finding in findings]


def lines_of(findings: tuple[Finding, ...], code: str) -> list[int | None]:
    return [finding.line for finding in findings if finding.code == code]


def place(finding: Finding) -> tuple[float | None, float | None, float | None]:
    return finding.x_mm, finding.y_mm, finding.z_mm


def loop(x: float, z: float, size: float = 20.0) -> str:
    """Return a square from (x, 0) and back: four lines, each of `size` and of one millimetre of filament."""
    far = x + size
    return f"G1 X{far} Y0 Z{z} E1\nG1 X{far} Y{size} E1\nG1 X{x} Y{size} E1\nG1 X{x} Y0 E1\n"
