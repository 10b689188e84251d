"""The bead's section, by the shape that is published for strands laid slowly under a near nozzle.

R. Comminal, M. P. Serdeczny, D. B. Pedersen, J. Spangenberg, Numerical modeling of the strand deposition flow
in extrusion-based additive manufacturing, Additive Manufacturing, 2018, 68-76, abstract: the section goes
from nearly round (fast, large gap) to flat with rounded edges (slow, small gap). The numbers follow from that
shape by hand.
"""

from __future__ import annotations

import math

import pytest

from wingpath.build.bead import bead_area_mm2

PRINTED = 5e-5
"""Half a step of the last digit worked out."""


# a rectangle of (w - h) h and one circle of h: 0.25 x 0.2 + pi 0.04 / 4; 0.2 x 0.25 + pi 0.0625 / 4
@pytest.mark.parametrize(
    ("bead", "layer", "area"), [(0.45, 0.20, 0.0814), (0.45, 0.25, 0.0991), (0.9, 0.5, 0.3963)]
)
def test_flat_with_rounded_edges(bead: float, layer: float, area: float) -> None:
    assert bead_area_mm2(bead_mm=bead, layer_mm=layer) == pytest.approx(area, abs=PRINTED)


@pytest.mark.parametrize("layer", [0.1, 0.25, 0.5])
def test_nearly_round_at_the_other_end(layer: float) -> None:
    assert bead_area_mm2(bead_mm=layer, layer_mm=layer) == pytest.approx(math.pi * layer**2 / 4.0)
