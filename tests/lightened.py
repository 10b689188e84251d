"""A search small enough to build and solve its whole grid, shared by several tests."""

from __future__ import annotations

from typing import Any

from assessed import ROD, SHORT_WING

REDUCED: dict[str, Any] = {
    **SHORT_WING,
    "slots": {"weld_spacing_mm": 0.0},
    "tube": [ROD],
    "targets": {"twist_deg_per_n_m": 4.2, "buckling_torque_n_m": 0.8, "tip_deflection_mm": 2.0},
    "freedom": {
        "run": ["both", "aft", "none"],
        "pitch_mm": [20.0, 36.0],
        "pitch_step_mm": 4.0,
        "tip_pitch": [],
        "angle_deg": [],
        "stub_mm": [2.5],
        "bead_mm": [0.4, 0.45],
        "webs": 0,
        "tube_sizes_mm": [],
        "tube_length": [0.6, 1.0],
    },
}
"""3 runs, 5 pitches, windows or none, 2 beads, 2 tube lengths: 64 wings, a second each to build and solve."""

EDGE_MM = 6.0
"""A coarse mesh: whether the search finds the best of these numbers does not depend on how exact they are."""
