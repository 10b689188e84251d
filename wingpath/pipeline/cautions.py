"""What is said wherever numbers are shown."""

from __future__ import annotations

__all__ = ["CAUTIONS"]

CAUTIONS = (
    "All numbers are estimates until the wing has been proof-loaded; this is no statement of airworthiness.",
    "The nozzle and the bed burn skin; foaming filament printed hot gives off fumes and particles: "
    "ventilate, and do not leave the printer alone.",
    "Cut and sand carbon tubes wet, with mask and gloves; the dust harms lungs and skin.",
    "Glue with fresh air; cyanoacrylate irritates eyes and airways.",
    "Keep clear of the propeller. Fly where and how your national rules and your club allow.",
)
"""What is said wherever numbers are shown."""
