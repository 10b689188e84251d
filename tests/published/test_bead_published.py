"""The bead's section, by the shape that is published for strands laid slowly under a near nozzle.

R. Comminal, M. P. Serdeczny, D. B. Pedersen, J. Spangenberg, Numerical modeling of the strand deposition flow
in extrusion-based additive manufacturing, Additive Manufacturing, 2018, 68-76, abstract: the section goes
from nearly round (fast, large gap) to flat with rounded edges (slow, small gap). The numbers follow from that
shape by hand.
"""

from __future__ import annotations

import math

from outside import BEAD, Source

from wingpath.build.bead import bead_area_mm2

STRAND = Source(
    "worked again",
    "Comminal et al. 2018",
    "R. Comminal, M. P. Serdeczny, D. B. Pedersen, J. Spangenberg, Numerical modeling of the strand "
    "deposition flow in "
    "extrusion-based additive manufacturing, Additive Manufacturing, 2018, 68-76, abstract: shape of the "
    "section; its "
    "numbers follow by hand",
)

PRINTED = 5e-5
"""Half a step of the last digit worked out."""


# a rectangle of (w - h) h and one circle of h: 0.25 x 0.2 + pi 0.04 / 4; 0.2 x 0.25 + pi 0.0625 / 4
FLAT = {(0.45, 0.20): 0.0814, (0.45, 0.25): 0.0991, (0.9, 0.5): 0.3963}
"""Area by width and layer."""


def test_flat_with_rounded_edges() -> None:
    BEAD.check(
        "Section of a bead, flat with rounded edges",
        source=STRAND.at("flat end of the range"),
        expected=list(FLAT.values()),
        got=[bead_area_mm2(bead_mm=bead, layer_mm=layer) for bead, layer in FLAT],
        abs=PRINTED,
        because="half of the last digit worked out",
        unit="mm²",
        labels=[f"{bead} x {layer} mm" for bead, layer in FLAT],
    )


def test_nearly_round_at_the_other_end() -> None:
    layers = [0.1, 0.25, 0.5]
    BEAD.check(
        "Section of a bead as wide as its layer: a circle",
        source=STRAND.at("round end of the range"),
        expected=[math.pi * layer**2 / 4.0 for layer in layers],
        got=[bead_area_mm2(bead_mm=layer, layer_mm=layer) for layer in layers],
        rel=1e-6,
        because="rounding",
        unit="mm²",
        labels=[f"layer {layer} mm" for layer in layers],
    )
