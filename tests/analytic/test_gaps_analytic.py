"""Gaps measured in boxes whose slots have known width, length, neck and place."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate
from shapes import layers_of, prism, slotted_box

from wingpath.build.gaps import GapTable, gaps_of_regions, layers_to_probe

ROUNDING = 1e-6

MITRE = 0.02
"""What growing and shrinking again leaves uncertain at the two ends of a slot [mm]: 1 per cent of the
2 mm that count as a gap."""


def table(*regions: shapely.Geometry) -> GapTable:
    return gaps_of_regions(np.array(regions, dtype=object), np.arange(len(regions)))


@pytest.mark.parametrize("width", [0.03, 0.06, 0.3, 0.9, 1.8])
@pytest.mark.parametrize("depth", [4.0, 7.2])
def test_width_length_neck_and_place_of_a_slot(width: float, depth: float) -> None:
    gaps = table(slotted_box([(15.0, width, depth)]))
    assert len(gaps.layer) == 1
    assert gaps.width_mm[0] == pytest.approx(width, abs=ROUNDING)
    assert gaps.length_mm[0] == pytest.approx(depth, abs=ROUNDING)
    assert gaps.neck_mm[0] == pytest.approx(8.0 - depth, abs=ROUNDING)
    assert (gaps.x_mm[0], gaps.y_mm[0]) == pytest.approx((15.0, depth), abs=ROUNDING)


def test_a_void_of_two_millimetres_is_no_gap() -> None:
    assert len(table(slotted_box([(15.0, 1.99, 6.0)])).layer) == 1
    assert len(table(slotted_box([(15.0, 2.01, 6.0)])).layer) == 0


def test_every_slot_has_a_row_with_the_number_of_its_layer() -> None:
    three = slotted_box([(8.0, 0.06, 5.0), (16.0, 0.1, 6.0), (24.0, 0.2, 7.0)])
    gaps = gaps_of_regions(
        np.array([three, slotted_box([]), three - shapely.box(30, -1, 30.5, 3)]), np.arange(3)
    )
    assert gaps.layer.tolist() == [0, 0, 0, 2, 2, 2, 2]
    order = np.argsort(gaps.x_mm[:3])
    assert gaps.width_mm[:3][order] == pytest.approx([0.06, 0.1, 0.2], abs=ROUNDING)
    assert gaps.neck_mm[:3][order] == pytest.approx([3.0, 2.0, 1.0], abs=ROUNDING)
    assert gaps.probed.tolist() == [0, 1, 2]


@pytest.mark.parametrize("turn", [10.0, 37.0, 90.0, 201.0])
def test_a_turned_section_measures_the_same(turn: float) -> None:
    gaps = table(rotate(slotted_box([(15.0, 0.06, 7.2)]), turn, origin=(0, 0)))
    angle = math.radians(turn)
    assert gaps.width_mm[0] == pytest.approx(0.06, abs=ROUNDING)
    assert gaps.neck_mm[0] == pytest.approx(0.8, abs=ROUNDING)
    assert gaps.x_mm[0] == pytest.approx(15.0 * math.cos(angle) - 7.2 * math.sin(angle), abs=1e-3)
    assert gaps.y_mm[0] == pytest.approx(15.0 * math.sin(angle) + 7.2 * math.cos(angle), abs=1e-3)


def test_the_neck_is_the_shortest_way_to_any_border() -> None:
    # the inner end lies 3 mm under the top and 1 mm beside the end of the box
    gaps = table(slotted_box([(39.0, 0.06, 5.0)]))
    assert gaps.neck_mm[0] == pytest.approx(1.0, abs=ROUNDING)


def test_a_slit_that_opens_into_a_bore_has_no_neck() -> None:
    box = slotted_box([(15.0, 0.08, 4.0)]) - shapely.Point(15.0, 4.0).buffer(2.5, quad_segs=64)
    gaps = table(box)
    assert len(gaps.layer) == 1
    assert math.isnan(gaps.neck_mm[0])
    assert gaps.width_mm[0] == pytest.approx(0.08, abs=2e-3)
    assert gaps.length_mm[0] == pytest.approx(1.5, abs=MITRE)


def test_a_notch_is_no_gap() -> None:
    notch = slotted_box([]) - shapely.Polygon([(14, -1), (16, -1), (15, 1.0)])
    assert len(table(notch).layer) == 0


def test_a_wedge_shaped_gap_counts_with_its_mean_width() -> None:
    wedge = slotted_box([]) - shapely.Polygon([(14.8, -1e-9), (15.2, -1e-9), (15.1, 6.0), (14.9, 6.0)])
    gaps = table(wedge)
    assert gaps.width_mm[0] == pytest.approx(0.3, abs=ROUNDING)


def test_gaps_of_a_sliced_solid() -> None:
    layers = layers_of(prism(slotted_box([(15.0, 0.08, 7.235)]), 2.0))
    gaps = gaps_of_regions(layers.regions, np.arange(len(layers)))
    assert gaps.layer.tolist() == list(range(8))
    assert gaps.width_mm == pytest.approx(np.full(8, 0.08), abs=ROUNDING)
    assert gaps.neck_mm == pytest.approx(np.full(8, 0.765), abs=ROUNDING)


def test_layers_are_looked_at_every_millimetre_and_at_every_change() -> None:
    path = np.full(20, 100.0)
    path[13:] = 130.0
    one = np.ones(20, np.int64)
    assert layers_to_probe(path, one, one, 0.25).tolist() == [0, 4, 8, 12, 13, 16, 19]
    two = one.copy()
    two[5] = 2
    assert layers_to_probe(np.full(20, 100.0), one, two, 0.25).tolist() == [0, 4, 5, 6, 8, 12, 16, 19]
    assert layers_to_probe(np.full(20, 100.0), one, one, 0.5).tolist() == [*range(0, 20, 2), 19]
    assert layers_to_probe(np.empty(0), one[:0], one[:0], 0.25).tolist() == []
