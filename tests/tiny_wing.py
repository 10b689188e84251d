"""A wing of 32 plain loops, and what tests of its program ask."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from programs import (
    ROUND_MM,
    Program,
    job_of,
)
from shapes import BEAD_MM, LAYER_MM

from wingpath import WingBuild
from wingpath.io.gcode import gcode_chunks

Build = Callable[[dict[str, Any]], WingBuild]

TINY: dict[str, Any] = {
    "name": "Sedge 8",
    "station": [
        {"span_mm": 0.0, "chord_mm": 40.0, "airfoil": "naca2412"},
        {"span_mm": 8.0, "chord_mm": 38.0, "airfoil": "naca2412"},
    ],
    "ribs": {"run": "none"},
    "wing": {"tip": "open"},
    "panels": {"joints_mm": []},
}
"""One panel of 32 layers, each a plain loop of some 80 mm."""

LAYERS = 32
BEAD_AREA = (BEAD_MM - LAYER_MM) * LAYER_MM + np.pi * LAYER_MM**2 / 4.0
FILAMENT_AREA = np.pi * 1.75**2 / 4.0
DENSITY = 1.24
"""Of foaming PLA, before it foams [g/cm3]."""

LONG_MM = 0.5
"""On moves this long rounding of their ends changes their length by half a per cent at most [mm]."""

LENGTH_SHARE = 4.0 * ROUND_MM / LONG_MM
STEP_SHARE = 0.03
"""A layer's moves hold the step from the loop below, of up to two beads on 80 mm."""


def tiny(**tables: Any) -> dict[str, Any]:
    return {**TINY, **tables}


def text_of(build: WingBuild, hand: str = "left") -> str:
    return "".join(gcode_chunks(job_of(build, 0, hand)))


def codes(build: WingBuild) -> dict[str, str]:
    return {finding.code: finding.severity for finding in build.findings}


def flow_of(program: Program) -> np.ndarray:
    """Extruded over nominal volume of each move, the bead being as high as a layer."""
    return program.filament_mm * FILAMENT_AREA / (program.length_mm * BEAD_AREA)


def by_layer(program: Program, values: np.ndarray) -> np.ndarray:
    """Sums of a column over each layer."""
    inside = program.layer >= 0
    return np.bincount(program.layer[inside], weights=values[inside])


def heights_of(program: Program, layer: int) -> np.ndarray:
    """Heights at the ends of a layer's moves [mm]."""
    return program.points[1:][program.layer == layer][:, 2]
