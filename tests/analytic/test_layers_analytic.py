"""Layers of solids whose sections, paths and volumes are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapes import BEAD_MM, LAYER_MM, layers_of, lofted, prism, stack

from wingpath import WingBuild
from wingpath.build.layers import Layers, layer_heights
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM

HALF = 0.5 * BEAD_MM

ROUNDING = 1e-9
"""Where nothing is curved, nothing but rounding stands between a layer and its closed form."""


def curve_share(radius: float) -> float:
    """Return by how much of itself the length of an arc may shrink when it is straightened.

    A chord with sagitta s on a circle of radius r is shorter than its arc by s / 3r times its length; the
    outline may move by LAYER_SIMPLIFY_MM to both sides of the circle.
    """
    return 2.0 * LAYER_SIMPLIFY_MM / (3.0 * radius)


class BoxWithBore:
    """A box with a round bore and its slit straight down: area and path in closed form."""

    long, wide, radius, slit, height = 40.0, 20.0, 4.0, 0.08, 10.0

    def region(self) -> shapely.Polygon:
        box = shapely.box(-0.5 * self.long, -0.5 * self.wide, 0.5 * self.long, 0.5 * self.wide)
        bore = shapely.Point(0.0, 0.0).buffer(self.radius, quad_segs=400)
        return box - bore - shapely.box(-0.5 * self.slit, -self.wide, 0.5 * self.slit, 0.0)

    @property
    def area(self) -> float:
        s, r = 0.5 * self.slit, self.radius
        # the part of the slit that lies in the bore already is no loss
        shared = s * math.sqrt(r * r - s * s) + r * r * math.asin(s / r)
        return self.long * self.wide - math.pi * r * r - (self.slit * 0.5 * self.wide - shared)

    @property
    def path(self) -> float:
        s, r = 0.5 * self.slit + HALF, self.radius + HALF
        outside = 2.0 * (self.long + self.wide) - 8.0 * HALF - 2.0 * s
        slit = 2.0 * (0.5 * self.wide - HALF - math.sqrt(r * r - s * s))
        return outside + slit + r * (2.0 * math.pi - 2.0 * math.asin(s / r))


@pytest.fixture(scope="module")
def bored() -> Layers:
    body = BoxWithBore()
    return layers_of(prism(body.region(), body.height))


def test_a_bore_with_its_slit_leaves_one_contour_and_one_ring(bored: Layers) -> None:
    assert len(bored) == 40
    assert bored.contours.tolist() == [1] * 40
    assert bored.holes.tolist() == [0] * 40
    assert bored.rings.tolist() == [1] * 40


def test_area_and_volume_of_the_bored_box(bored: Layers) -> None:
    body = BoxWithBore()
    bore = math.pi * body.radius**2
    assert bored.area_mm2 == pytest.approx(np.full(40, body.area), abs=2.0 * curve_share(body.radius) * bore)
    assert bored.volume_mm3 == pytest.approx(body.area * body.height, rel=1e-4)


def test_path_of_the_bored_box(bored: Layers) -> None:
    body = BoxWithBore()
    arc = 2.0 * math.pi * (body.radius + HALF)
    room = curve_share(body.radius) * arc + 2.0 * LAYER_SIMPLIFY_MM
    assert bored.path_mm == pytest.approx(np.full(40, body.path), abs=room)


def test_without_its_slit_the_bore_is_a_second_contour() -> None:
    body = BoxWithBore()
    layers = layers_of(prism(shapely.Polygon(body.region().exterior), 1.0))
    assert layers.contours.tolist() == [1] * 4
    closed = shapely.box(-20.0, -10.0, 20.0, 10.0) - shapely.Point(0.0, 0.0).buffer(body.radius)
    layers = layers_of(prism(closed, 1.0))
    assert layers.contours.tolist() == [2] * 4
    assert layers.holes.tolist() == [1] * 4
    assert layers.rings.tolist() == [2] * 4


def test_a_wedge_has_the_area_path_and_volume_of_its_formula() -> None:
    # 30 long; 12 wide on the bed, 4 wide at the top: every section is a rectangle
    low = [(0.0, -6.0), (30.0, -6.0), (30.0, 6.0), (0.0, 6.0)]
    high = [(0.0, -2.0), (30.0, -2.0), (30.0, 2.0), (0.0, 2.0)]
    layers = layers_of(lofted(low, high, 16.0))
    wide = 12.0 - 8.0 * layers.z_mm / 16.0
    assert len(layers) == 64
    assert layers.area_mm2 == pytest.approx(30.0 * wide, rel=ROUNDING)
    assert layers.path_mm == pytest.approx(2.0 * (30.0 + wide) - 8.0 * HALF, rel=ROUNDING)
    # area is linear in z, so the middle of each layer holds its mean exactly
    assert layers.volume_mm3 == pytest.approx(30.0 * 8.0 * 16.0, rel=ROUNDING)


def test_a_cone_has_the_area_path_and_volume_of_its_formula() -> None:
    foot, top, high, sides = 20.0, 5.0, 30.0, 720
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    mesh = lofted([tuple(p) for p in foot * ring], [tuple(p) for p in top * ring], high)
    layers = layers_of(mesh)
    radius = foot - (foot - top) * layers.z_mm / high
    # the mesh itself is a cone of 720 flats
    flats = 0.5 * sides * math.sin(2.0 * math.pi / sides) / math.pi
    share = curve_share(top)
    assert len(layers) == 120
    assert layers.rings.tolist() == [1] * 120
    assert layers.area_mm2 == pytest.approx(flats * math.pi * radius**2, rel=2.0 * share)
    assert layers.path_mm == pytest.approx(2.0 * math.pi * (radius - HALF), rel=share)
    frustum = math.pi * high / 3.0 * (foot**2 + foot * top + top**2)
    assert mesh.volume_mm3 == pytest.approx(flats * frustum, rel=ROUNDING)
    assert layers.volume_mm3 == pytest.approx(flats * frustum, rel=2.0 * share)


def test_the_middle_of_each_layer_is_cut() -> None:
    assert layer_heights(2.0, 3.0, 0.25).tolist() == pytest.approx([2.125, 2.375, 2.625, 2.875])


@pytest.mark.parametrize(("extra", "count"), [(0.0, 4), (0.12, 4), (0.13, 5), (0.25, 5)])
def test_a_last_layer_that_is_less_than_half_solid_is_not_printed(extra: float, count: int) -> None:
    assert len(layer_heights(0.0, 1.0 + extra, LAYER_MM)) == count
    layers = layers_of(prism(shapely.box(0, 0, 10, 5), 1.0 + extra))
    assert len(layers) == count


def test_islands_and_holes_are_told_apart() -> None:
    island = shapely.union(shapely.box(0, 0, 10, 5), shapely.box(12, 0, 20, 5))
    holed = shapely.box(0, 0, 20, 5) - shapely.box(8, 2, 12, 3)
    layers = layers_of(stack([holed, island, shapely.box(0, 0, 20, 5)]))
    assert layers.contours.tolist() == [2, 2, 1]
    assert layers.holes.tolist() == [1, 0, 0]


def test_an_air_layer_has_no_contour_and_no_path() -> None:
    box = shapely.box(0, 0, 10, 5)
    layers = layers_of(stack([box, shapely.Polygon(), box]))
    assert layers.contours.tolist() == [1, 0, 1]
    assert layers.rings.tolist() == [1, 0, 1]
    assert layers.path_mm[1] == layers.area_mm2[1] == 0.0


def test_the_volume_of_a_built_panel_is_the_sum_of_its_layers(small_build: WingBuild) -> None:
    for panel in small_build.panels:
        layers = panel.continuity.layers
        # slots end on slopes, so a layer's middle misses its mean by a part of a slot's width: 3e-4
        # of the volume; straightened outlines add less than LAYER_SIMPLIFY_MM times the path
        straightened = LAYER_SIMPLIFY_MM * float(layers.path_mm.sum()) * layers.layer_mm
        assert layers.volume_mm3 == pytest.approx(
            panel.solid.mesh.volume_mm3, abs=straightened / 3.0 + 3e-4 * layers.volume_mm3
        )


def test_both_hands_have_the_same_layers(
    small_build: WingBuild,
) -> None:
    for panel in small_build.panels:
        left, right = (layers_of(panel.mesh(hand)) for hand in ("left", "right"))
        # rounding of the mirrored cut may keep another corner when outlines are straightened
        assert right.area_mm2 == pytest.approx(left.area_mm2, rel=1e-5)
        assert right.path_mm == pytest.approx(left.path_mm, rel=1e-5)
        assert right.contours.tolist() == left.contours.tolist()
