"""Colours of a page by name, for a light screen, a dark one, and paper."""

from __future__ import annotations

from wingpath.report.colours import AXIS, PAGE_COLOURS, WHITE, Colour

__all__ = ["DARK", "LIGHT", "PAPER", "colour_rules"]

LIGHT: dict[str, Colour] = {name: colour for colour, name in PAGE_COLOURS.items()}
"""On a light screen: the colours of the pictures."""

DARK: dict[str, Colour] = {
    "ground": (18, 22, 28),
    "ink": (232, 234, 238),
    "axis": (166, 172, 182),
    "solid": (46, 52, 62),
    "bead": (84, 144, 190),
    "fused": (168, 214, 248),
    "centre": (8, 12, 18),
    "ghost": (122, 130, 144),
    "cut": (134, 94, 40),
    "error": (255, 156, 150),
    "warning": (244, 190, 112),
    "note": (176, 182, 192),
}
"""On a dark one: the same order of lightness, turned over."""

PAPER: dict[str, Colour] = {**LIGHT, "ground": WHITE, "ink": (0, 0, 0), "axis": AXIS}
"""On paper."""


def colour_rules() -> str:
    """Return the rules of a style sheet that give every colour its value."""
    return (
        f":root {{ color-scheme: light dark; {_named(LIGHT)} }}\n"
        f"@media (prefers-color-scheme: dark) {{ :root {{ {_named(DARK)} }} }}\n"
        f"@media print {{ :root {{ color-scheme: light; {_named(PAPER)} }} }}\n"
    )


def _named(colours: dict[str, Colour]) -> str:
    return " ".join(f"--{name}: #{r:02x}{g:02x}{b:02x};" for name, (r, g, b) in colours.items())
