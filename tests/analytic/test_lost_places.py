"""Where a finding points that is about something without area."""

from __future__ import annotations

import numpy as np
import shapely

from wingpath.build.losses import _places


def test_a_polygon_a_flat_one_and_a_line_have_places() -> None:
    square = shapely.box(0.0, 0.0, 2.0, 2.0)
    flat = shapely.Polygon([(5.0, 1.0), (7.0, 1.0), (5.0, 1.0)])
    mixed = shapely.GeometryCollection([shapely.Polygon([(3, 3), (3, 3), (3, 3)])])
    found = _places(np.array([square, flat, mixed, square]))
    assert square.contains(shapely.Point(found[0]))
    assert found[1][1] == 1.0
    assert 5.0 <= found[1][0] <= 7.0
    assert found[2].tolist() == [3.0, 3.0]
    assert found[3].tolist() == found[0].tolist()
