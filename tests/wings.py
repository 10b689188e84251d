"""Specs of wings that several tests build."""

from __future__ import annotations

from typing import Any

SMALL_WING: dict[str, Any] = {
    "name": "Sedge 90",
    "station": [
        {"span_mm": 0.0, "chord_mm": 110.0, "airfoil": "naca2412"},
        {"span_mm": 50.0, "chord_mm": 84.0, "leading_edge_mm": 9.0, "twist_deg": -2.0, "airfoil": "naca4412"},
    ],
    "ribs": {"pitch_mm": 22.0},
    "slots": {"width_mm": 0.08},
    "spar_web": [{"chord_fraction": 0.62, "from_mm": 8.0, "to_mm": 44.0}],
    "tube": [{"outer_mm": 5.0, "to_mm": 36.0, "chord_fraction": 0.3}],
    "panels": {"joints_mm": [25.0]},
}
"""Two panels, camber, sweep, twist, both runs of ribs, a web, a tube and a closed tip."""

SMALL = """\
name = "Small"
[[station]]
span_mm = 0
chord_mm = 60
airfoil = "naca2412"
[[station]]
span_mm = 40
chord_mm = 50
leading_edge_mm = 4
[ribs]
pitch_mm = 15
[panels]
joints_mm = [20]
"""
"""Two panels of 20 mm; clean."""

TOO_HIGH = SMALL.replace("joints_mm = [20]", "joints_mm = []\n[printer]\nheight_mm = 40").replace(
    "span_mm = 40", "span_mm = 45"
)
"""One panel that is 5 mm too high for its printer: done, with one error."""
