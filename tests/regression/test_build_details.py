"""Small things that judgements rest on: where a cone begins, rows of tiny moves, bodies that touch."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from wingpath.build.bores import Bore
from wingpath.build.mesh_bodies import _winding
from wingpath.build.mesh_check import inspect_mesh
from wingpath.build.moves import Moves
from wingpath.geometry.mesh import Mesh


@pytest.mark.parametrize("aside_mm", [0.0, 15.0, 30.0])
def test_a_bore_has_its_full_width_where_it_says_so_and_none_where_its_cone_begins(aside_mm: float) -> None:
    bore = Bore("tube", "tube[0]", 3.0, 0.7, 20.0, 120.0, np.array([0.0, 0.0]), np.array([aside_mm, 0.0]))
    lean = aside_mm / 100.0
    # square to the axis it is a circle, inside a layer an ellipse
    wide = 3.0 * math.hypot(1.0, lean)
    z = np.array([bore.seed_mm, 20.0, 70.0])
    assert bore.radius_at_mm(z) == pytest.approx([0.0, wide, wide])
    # its wall and its axis together lean 45 degrees at most
    grown = np.diff(bore.radius_at_mm(np.array([19.0, 20.0])))[0]
    assert grown + lean == pytest.approx(1.0)
    before = bore.radius_at_mm(np.array([bore.seed_mm - 1.0, bore.seed_mm + 1.0]))
    assert before == pytest.approx([0.0, 1.0 - lean])


def moves_of(*steps: tuple[float, float]) -> Moves:
    """Return moves along x: how long each is, and what it lays [mm]."""
    ends = np.cumsum([length for length, _ in steps])
    end = np.column_stack([ends, np.zeros((len(steps), 2))])
    start = np.vstack([[0.0, 0.0, 0.0], end[:-1]])
    length, filament = np.array(steps).T
    return Moves("x", start, end, length, filament, np.arange(1, len(steps) + 1))


@pytest.mark.parametrize("first", [0, 1])
def test_a_row_of_tiny_dry_moves_is_one_travel_as_long_as_all_of_them(first: int) -> None:
    laid, tiny = (10.0, 0.5), (4e-4, 0.0)
    moves = moves_of(*[laid] * first, *[tiny] * 200, laid)
    travel = moves.travel_mm
    assert travel[first] == pytest.approx(0.08)
    assert travel.sum() == pytest.approx(0.08)


@pytest.mark.parametrize(("apart_mm", "pairs"), [(10.0, 0), (10.001, 0), (9.999, 1)])
def test_bodies_that_only_touch_are_not_in_each_others_way(apart_mm: float, pairs: int) -> None:
    boxes = [trimesh.creation.box((10.0, 10.0, 10.0)) for _ in range(2)]
    # beside each other, and aside, so that they share no corner
    boxes[1].apply_translation([apart_mm, 3.0, 2.0])
    both = trimesh.util.concatenate(boxes)
    state = inspect_mesh(Mesh(np.asarray(both.vertices), np.asarray(both.faces)))
    assert state.overlapping_pairs == pairs


@pytest.mark.parametrize("seed", range(6))
def test_a_surface_winds_once_around_what_it_encloses_and_not_around_the_rest(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shape = trimesh.creation.icosphere(subdivisions=1)
    corners = shape.vertices * np.array([3.0, 1.0, 0.5]) * (1.0 + 0.2 * rng.random((len(shape.vertices), 1)))
    inside = rng.uniform(-0.2, 0.2, 3)
    outside = np.array([0.0, 2.0, 0.0]) + rng.uniform(-0.2, 0.2, 3)
    wall = corners[shape.faces]
    # whole numbers by the formula alone: the solid angles of all triangles make a sphere, or nothing
    assert _winding(wall - inside) == pytest.approx(1.0, abs=1e-9)
    assert _winding(wall - outside) == pytest.approx(0.0, abs=1e-9)
    assert _winding(wall[:, ::-1] - inside) == pytest.approx(1.0, abs=1e-9)
