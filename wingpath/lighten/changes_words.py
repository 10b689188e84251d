"""Changes to a spec in words, for tables and the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["changes_words"]


def changes_words(changes: Mapping[str, Any]) -> str:
    """Return changes in words."""
    parts = []
    for key, value in changes.items():
        if key == "ribs.stub_mm":
            parts.append(
                "slots from one skin" if value is None else f"slots from both skins, stubs of {value:g} mm"
            )
        if value is None:
            continue
        if key == "ribs.pitch_along_mm":
            (_, root), (_, tip) = value
            parts.append(f"pitch {root:g} mm at the root, {tip:g} at the tip")
        elif key == "ribs.pitch_mm":
            parts.append(f"pitch {value:g} mm")
        elif key == "ribs.run":
            parts.append({"none": "no ribs", "both": "both runs"}.get(value, f"{value} ribs only"))
        elif key == "ribs.angle_deg":
            parts.append(f"ribs at {value:g} degrees")
        elif key == "print.bead_mm":
            parts.append(f"bead {value:g} mm")
        elif key == "spar_web":
            parts.append("webs " + ("none" if not value else ", ".join(_web_words(web) for web in value)))
        elif key.endswith(".outer_mm"):
            inner = changes.get(key.replace("outer_mm", "inner_mm"), 0.0)
            parts.append(f"{key.split('.')[0]} {value:g}/{inner:g} mm")
        elif key.endswith("].to_mm"):
            parts.append(f"{key.split('.')[0]} to {value:g} mm")
    return "; ".join(parts)


def _web_words(web: Mapping[str, Any]) -> str:
    end = web.get("to_mm")
    return (
        f"at {100.0 * web['chord_fraction']:g} % from {web.get('from_mm', 0.0):g} to "
        f"{'the tip' if end is None else f'{end:g} mm'}"
    )
