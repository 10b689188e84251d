"""Colours of the pictures, chosen by contrast.

The rule: whatever has to be told apart differs in lightness by :data:`LEAST_STEP`, so it is told apart by
every kind of colour vision, on a grey print and on a poor screen. Hue only helps. The hues run from blue to
red and orange, which stay apart when red and green are confused; green is left out for that reason.
Severity is never told by colour alone: a badge's shape and its text say it too. Everything that is text or
a thin line has a contrast of at least :data:`TEXT_CONTRAST` on white.
"""

from __future__ import annotations

__all__ = [
    "AXIS",
    "BEAD",
    "CENTRE",
    "CUT",
    "FUSED",
    "GHOST",
    "INK",
    "LEAST_STEP",
    "PAGE_COLOURS",
    "SEVERITY_COLOURS",
    "SOLID",
    "TEXT_CONTRAST",
    "WALL_DARK",
    "WALL_LIGHT",
    "WHITE",
    "Colour",
    "contrast",
    "lightness",
    "mixed",
]

Colour = tuple[int, int, int]
"""Red, green, blue, each 0..255, in the sRGB space."""

TEXT_CONTRAST = 4.5
"""Least contrast of text on its ground (W3C, Web Content Accessibility Guidelines 2.2, 2023, criterion
1.4.3)."""

LEAST_STEP = 18.0
"""Least difference in CIE lightness between two areas that touch: a fifth of the whole scale."""

WHITE: Colour = (255, 255, 255)
INK: Colour = (24, 28, 36)
AXIS: Colour = (104, 108, 116)
SOLID: Colour = (236, 232, 222)
BEAD: Colour = (116, 172, 208)
FUSED: Colour = (28, 74, 122)
CENTRE: Colour = (16, 26, 40)
GHOST: Colour = (124, 134, 148)

WALL_LIGHT: Colour = (222, 232, 240)
WALL_DARK: Colour = (26, 42, 64)
CUT: Colour = (250, 214, 150)
"""The cut of a panel picture: light and warm against walls that are dark and cold."""

SEVERITY_COLOURS: dict[str, Colour] = {
    "error": (168, 24, 32),
    "warning": (150, 82, 0),
    "note": (74, 78, 92),
}

PAGE_COLOURS: dict[Colour, str] = {
    WHITE: "ground",
    INK: "ink",
    AXIS: "axis",
    SOLID: "solid",
    BEAD: "bead",
    FUSED: "fused",
    CENTRE: "centre",
    GHOST: "ghost",
    CUT: "cut",
    **{colour: name for name, colour in SEVERITY_COLOURS.items()},
}
"""What the colours are called in the style sheet of a page."""

LINEAR_BELOW = 0.04045
"""Where the straight foot of the sRGB curve ends (IEC 61966-2-1:1999)."""

LIGHTNESS_FOOT = 216.0 / 24389.0
LIGHTNESS_SLOPE = 24389.0 / 27.0
"""The straight foot of the CIE lightness curve (ISO/CIE 11664-4:2019)."""


def luminance(colour: Colour) -> float:
    """Return the relative luminance of an sRGB colour, 0 for black to 1 for white."""
    linear = [
        value / 12.92 if value <= LINEAR_BELOW else ((value + 0.055) / 1.055) ** 2.4
        for value in (channel / 255.0 for channel in colour)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Colour, two: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    dark, light = sorted((luminance(one), luminance(two)))
    return (light + 0.05) / (dark + 0.05)


def lightness(colour: Colour) -> float:
    """Return the CIE lightness L* of a colour, 0 to 100 (ISO/CIE 11664-4:2019, white as the white point)."""
    y = luminance(colour)
    if y <= LIGHTNESS_FOOT:
        return LIGHTNESS_SLOPE * y
    return float(116.0 * y ** (1.0 / 3.0) - 16.0)


def mixed(ground: Colour, colour: Colour, share: float) -> Colour:
    """Return `colour` laid over `ground` with opacity `share`, 0 to 1."""
    red, green, blue = (
        round(below + (above - below) * share) for below, above in zip(ground, colour, strict=True)
    )
    return red, green, blue
