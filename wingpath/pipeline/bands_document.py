"""How far numbers may be off, as plain data."""

from __future__ import annotations

from typing import Any

from wingpath.tune.bands import Bands

__all__ = ["bands_document"]


def bands_document(bands: Bands) -> dict[str, Any]:
    """Return how far numbers may be off as plain data; shares are half-widths of 95 per cent bands."""
    return {
        "calibrated": bands.calibrated,
        "printed_mass_share": round(bands.mass, 4),
        "bead_share": round(bands.bead, 4),
        "modulus_share": round(bands.modulus, 4),
        "wall_stiffness_share": round(bands.wall_stiffness, 4),
        "bore_slide_mm": [round(value, 4) for value in bands.bore_mm],
    }
