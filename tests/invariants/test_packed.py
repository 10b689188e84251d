"""What is packed for the page comes back as it was, but for rounding."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from reported import reported
from shapes import prism

from wingpath.build.continuity import Continuity, judge_layers
from wingpath.build.layers import layers_of_mesh
from wingpath.build.limits import Limits
from wingpath.report.packed import packed_layers, packed_mesh, packed_text, unpacked

HALF = 0.5 + 1e-6
"""Rounding is off by half a unit at most, and the last digit of a double."""


def layers_of(packed: dict[str, Any]) -> list[list[np.ndarray[Any, np.dtype[np.float64]]]]:
    """Unpack layers anew, by the words of the format and by none of the code that packs."""
    data = unpacked(packed["data"])
    rings = np.frombuffer(data, "<u2", packed["layers"])
    at = 2 * packed["layers"]
    sizes = np.frombuffer(data, "<u4", packed["rings"], at)
    at += 4 * packed["rings"]
    dx = np.frombuffer(data, "<i2", packed["points"], at).astype(np.int64)
    dy = np.frombuffer(data, "<i2", packed["points"], at + 2 * packed["points"]).astype(np.int64)
    assert len(data) == at + 4 * packed["points"]
    steps = np.column_stack([dx, dy])
    points = [
        np.array(packed["origin_mm"]) + packed["unit_mm"] * np.cumsum(part, axis=0)
        for part in np.split(steps, np.cumsum(sizes)[:-1])
    ]
    ends = [0, *np.cumsum(rings, dtype=np.int64).tolist()]
    return [points[first:last] for first, last in pairwise(ends)]


@given(st.binary(max_size=4000))
def test_bytes_come_back(data: bytes) -> None:
    assert unpacked(packed_text(data)) == data
    assert re.fullmatch(r"[A-Za-z0-9+/=]*", packed_text(data))


def test_every_layer_of_a_wing_comes_back_as_it_was_judged() -> None:
    for part in reported().build.parts:
        packed = packed_layers(part.continuity)
        layers = layers_of(packed)
        assert len(layers) == len(part.continuity.layers)
        for rings, path, start in zip(
            layers, part.continuity.layers.paths, part.continuity.starts, strict=True
        ):
            assert len(rings) == 1
            (ring,) = rings
            assert np.abs(ring[0] - start).max() <= HALF * packed["unit_mm"]
            drawn = shapely.LinearRing(ring)
            assert shapely.hausdorff_distance(drawn, path.exterior) <= 2**0.5 * HALF * packed["unit_mm"]
            assert drawn.is_ccw


def test_the_page_holds_what_was_packed() -> None:
    found = reported()
    data = json.loads(re.findall(r'id="report-data">(.*?)</script>', found.page, re.S)[0])
    for part, packed in zip(found.build.parts, data["parts"], strict=True):
        assert packed == {"name": part.name, **packed_layers(part.continuity)}


def torn(holes: list[tuple[float, float]], far_mm: float) -> Continuity:
    """A block with holes and an island far away: what a page has to show when a part is wrong."""
    region = shapely.box(0.0, 0.0, 60.0, 60.0)
    for x, y in holes:
        region = region.difference(shapely.box(x, y, x + 3.0, y + 3.0))
    solid = shapely.union_all([region, shapely.box(far_mm, 0.0, far_mm + 5.0, 5.0)])
    layers = layers_of_mesh(prism(solid, 0.6), layer_mm=0.2, bead_mm=0.45)
    return judge_layers(layers, Limits(bond_mm=0.1), strict=False)


place = st.floats(5.0, 50.0)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(place, place), max_size=4), st.floats(80.0, 900.0))
def test_layers_with_several_rings_come_back_too(holes: list[tuple[float, float]], far_mm: float) -> None:
    continuity = torn(holes, far_mm)
    packed = packed_layers(continuity)
    unpacked_layers = layers_of(packed)
    assert len(unpacked_layers) == len(continuity.layers) == 3
    for rings, path in zip(unpacked_layers, continuity.layers.paths, strict=True):
        wanted = [ring for part in shapely.get_parts(path) for ring in (part.exterior, *part.interiors)]
        assert len(rings) == len(wanted) >= 2
        for ring in wanted:
            away = [shapely.hausdorff_distance(shapely.LinearRing(one), ring) for one in rings]
            assert min(away) <= 2**0.5 * HALF * packed["unit_mm"]


def test_a_mesh_comes_back_with_its_kinds() -> None:
    mesh = reported().build.panels[0].solid.mesh
    skin = np.arange(len(mesh.faces)) % 3 == 0
    packed = packed_mesh(mesh, {"skin": skin, "ribs": ~skin, "fittings": np.zeros(len(skin), bool)})
    data = unpacked(packed["data"])
    count = packed["corners"]
    corners = np.frombuffer(data, "<u2", 3 * count).reshape(3, count).T * packed["unit_mm"] + packed["low_mm"]
    faces = np.cumsum(np.frombuffer(data, "<i4", offset=6 * count).astype(np.int64)).reshape(-1, 3)
    assert np.abs(corners - mesh.vertices).max() <= HALF * packed["unit_mm"]
    assert packed["kinds"] == [["skin", int(skin.sum())], ["ribs", int((~skin).sum())]]
    assert np.array_equal(faces, np.concatenate([mesh.faces[skin], mesh.faces[~skin]]))
