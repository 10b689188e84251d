"""The bead's section and the mass of a path, against figures worked out by hand."""

from __future__ import annotations

import math

import pytest

from wingpath import WingBuild, build_document
from wingpath.build.bead import bead_area_mm2, printed_mass_g

STEP_SHARE = 2e-3
"""The written path also holds the short steps from loop to loop, which the layers do not: their share."""

STRAIGHTENED = 1e-4
"""What loops lose in length by straightening within 0.02 mm."""

LOOPS = 0.5
"""Where loops get shorter towards a tip, a helix weighs up to half a loop more or less than flat layers."""


@pytest.mark.parametrize(
    ("bead", "layer", "area"),
    [
        # rectangle 0.20 x 0.25 and a circle of 0.25: 0.05 + 0.0490874
        (0.45, 0.25, 0.0990874),
        # as wide as high: a round strand
        (0.4, 0.4, 0.1256637),
        # rectangle 0.6 x 0.3 and a circle of 0.3: 0.18 + 0.0706858
        (0.9, 0.3, 0.2506858),
    ],
)
def test_a_bead_is_a_rectangle_with_half_round_ends(bead: float, layer: float, area: float) -> None:
    assert bead_area_mm2(bead_mm=bead, layer_mm=layer) == pytest.approx(area, abs=5e-8)


def test_a_metre_of_round_strand_weighs_its_cylinder() -> None:
    mass = printed_mass_g(path_mm=1000.0, bead_mm=0.4, layer_mm=0.4, flow=1.0, density_g_cm3=1.24)
    assert mass == pytest.approx(1.24 * math.pi * 0.04 * 100.0 * 0.01, rel=1e-12)


def test_mass_goes_with_path_flow_and_density() -> None:
    one = printed_mass_g(path_mm=700.0, bead_mm=0.45, layer_mm=0.25, flow=0.5, density_g_cm3=1.2)
    assert one == pytest.approx(0.7 * 0.5 * 1.2 * 0.0990874, rel=1e-6)
    for change in ({"path_mm": 1400.0}, {"flow": 1.0}, {"density_g_cm3": 2.4}):
        given = {"path_mm": 700.0, "flow": 0.5, "density_g_cm3": 1.2} | change
        two = printed_mass_g(bead_mm=0.45, layer_mm=0.25, **given)
        assert two == pytest.approx(2.0 * one, rel=1e-12)


def test_the_report_weighs_the_path_of_the_layers(small_build: WingBuild) -> None:
    document = build_document(small_build, spec_name="small")
    for panel, row in zip(small_build.panels, document["panels"], strict=True):
        path = float(panel.continuity.layers.path_mm.sum())
        # foaming PLA of 1.24 g/cm3 at flow 0.5; a metre of nominal bead is 0.0990874 cm3
        wanted = path / 1000.0 * 0.0990874 * 0.5 * 1.24
        share = STEP_SHARE + LOOPS / len(panel.continuity.layers)
        assert row["printed_mass_g"] == pytest.approx(wanted, rel=share)
        assert row["printing"]["loops_m"] == pytest.approx(path / 1000.0, rel=STRAIGHTENED)
        assert row["path_m"] == pytest.approx(path / 1000.0, abs=1e-4)
