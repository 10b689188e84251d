"""Support and starts on stacks whose overhangs are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapes import BEAD_MM, LAYER_MM, layers_of, lofted, sheared_box, stack

from wingpath.build.support import Support, path_starts, support_of_layers
from wingpath.geometry.mesh import Mesh

MISS_MM = 1.2 * BEAD_MM
"""A bead that lies farther aside than this from the one below touches nothing of it [mm]."""

WIDE = 10.0 - BEAD_MM
"""Path along the end of a box 10 mm wide [mm]."""


def support(mesh: Mesh, overhang_deg: float = 45.0, bond_mm: float = 0.05) -> Support:
    return support_of_layers(layers_of(mesh), overhang_deg=overhang_deg, bond_mm=bond_mm)


def shelf(aside: float, wide: float = 10.0) -> Mesh:
    """Return a box on which a longer one lies, standing out by `aside` at one end."""
    low = shapely.box(0.0, 0.0, 20.0, wide)
    return stack([low, low, low, shapely.box(0.0, 0.0, 20.0 + aside, wide)])


@pytest.mark.parametrize("lean", [0.0, 30.0, 45.0, 46.0])
def test_walls_up_to_the_limit_are_neither_steep_nor_airborne(lean: float) -> None:
    held = support(sheared_box(lean, long=20.0, wide=10.0, high=5.0))
    assert held.steep_mm.tolist() == [0.0] * 20
    assert held.airborne_mm.tolist() == [0.0] * 20
    assert np.isnan(held.piece_at).all()


def test_walls_that_lean_sixty_degrees_are_steep_but_not_airborne() -> None:
    aside = LAYER_MM * math.tan(math.radians(60.0))
    assert LAYER_MM < aside < MISS_MM
    held = support(sheared_box(60.0, long=20.0, wide=10.0, high=5.0))
    # the end that runs out is steep as a whole, with the beginnings of both sides beside it; of the end
    # that runs in, all but its last bit at both sides, which lie above the sides of the layer below.
    # Those bits are a lean aside at most
    assert held.steep_mm[0] == 0.0
    assert held.steep_mm[1:] == pytest.approx(np.full(19, 2.0 * WIDE), abs=2.0 * aside)
    assert held.airborne_mm.tolist() == [0.0] * 20


def test_the_limit_is_the_filaments() -> None:
    mesh = sheared_box(40.0, long=20.0, wide=10.0, high=5.0)
    assert support(mesh, overhang_deg=40.0).steep_mm.tolist() == [0.0] * 20
    assert support(mesh, overhang_deg=30.0).steep_mm[1:].min() > WIDE


@pytest.mark.parametrize("aside", [0.3 * BEAD_MM, 1.15 * BEAD_MM])
def test_a_jump_of_little_more_than_a_bead_still_lies_on_the_bead_below(aside: float) -> None:
    assert support(shelf(aside)).airborne_mm.tolist() == [0.0] * 4


@pytest.mark.parametrize("aside", [1.25 * BEAD_MM, 2.0, 7.5])
def test_a_jump_of_more_is_airborne_over_a_known_length(aside: float) -> None:
    held = support(shelf(aside))
    # the end of the shelf and what leads to it on both sides, less what still touches the bead below
    length = WIDE + 2.0 * (aside - MISS_MM)
    assert held.airborne_mm == pytest.approx([0.0, 0.0, 0.0, length], abs=1e-3)
    assert held.piece_mm == pytest.approx(held.airborne_mm)
    # the middle of the piece is the middle of the shelf's end
    assert held.piece_at[3] == pytest.approx([20.0 + aside - 0.5 * BEAD_MM, 5.0], abs=0.01)


def test_a_bead_that_bridges_sideways_bridges_as_much_downward() -> None:
    aside = 1.4 * BEAD_MM
    assert support(shelf(aside), bond_mm=0.3 * BEAD_MM).airborne_mm[3] > WIDE
    assert support(shelf(aside), bond_mm=0.5 * BEAD_MM).airborne_mm[3] == 0.0


def test_pieces_are_told_apart_from_their_sum() -> None:
    low = shapely.box(0.0, 0.0, 20.0, 10.0)
    held = support(stack([low, shapely.box(-3.0, 0.0, 22.0, 10.0)]))
    long, short = WIDE + 2.0 * (3.0 - MISS_MM), WIDE + 2.0 * (2.0 - MISS_MM)
    assert held.airborne_mm[1] == pytest.approx(long + short, abs=1e-3)
    assert held.piece_mm[1] == pytest.approx(long, abs=1e-3)
    assert held.piece_at[1][0] < 0.0


def test_a_piece_hardly_longer_than_wide_is_not_counted() -> None:
    # a shelf as wide as its path is long: 1.4 beads do not count, 1.6 do
    for beads, counts in ((1.4, False), (1.6, True)):
        wide = (1.0 + beads) * BEAD_MM - 2.0 * (1.25 * BEAD_MM - MISS_MM)
        assert bool(support(shelf(1.25 * BEAD_MM, wide=wide)).airborne_mm[3]) is counts


def test_the_first_layer_lies_on_the_bed() -> None:
    low = [(0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0)]
    assert support(lofted(low, low, 1.0)).airborne_mm.tolist() == [0.0] * 4


def test_starts_stay_at_the_trailing_edge_of_an_upright_wall() -> None:
    starts, step = path_starts(layers_of(sheared_box(0.0, long=20.0, wide=10.0, high=5.0)))
    assert step == pytest.approx(np.zeros(20), abs=1e-9)
    assert starts[:, 0] == pytest.approx(np.full(20, 20.0 - 0.5 * BEAD_MM), abs=1e-6)


def test_each_start_lies_on_its_own_path_and_steps_are_their_distances() -> None:
    layers = layers_of(sheared_box(30.0, long=20.0, wide=10.0, high=5.0))
    starts, step = path_starts(layers)
    on_path = shapely.distance(layers.borders, shapely.points(starts))
    assert on_path == pytest.approx(np.zeros(len(layers)), abs=1e-6)
    assert step[0] == 0.0
    assert step[1:] == pytest.approx(np.linalg.norm(np.diff(starts, axis=0), axis=1))
    # the trailing edge moves aft by one layer's lean, and the start with it
    assert step[1:] == pytest.approx(np.full(19, LAYER_MM * math.tan(math.radians(30.0))), abs=1e-3)


def test_a_jump_of_the_trailing_edge_is_the_step() -> None:
    _, step = path_starts(layers_of(shelf(3.0)))
    assert step == pytest.approx([0.0, 0.0, 0.0, 3.0], abs=1e-6)


def test_starts_gather_at_the_trailing_edge_half_a_bead_a_layer() -> None:
    # the trailing edge is the upper corner; the top layer is 10 mm shorter than the others
    long = shapely.Polygon([(0, 0), (19, 0), (20, 8), (0, 8)])
    short = shapely.Polygon([(0, 0), (9, 0), (10, 8), (0, 8)])
    starts, step = path_starts(layers_of(stack([*[long] * 20, short])))
    # traced downward: from the end of the short layer aft along the upper side
    assert np.diff(starts[:, 0])[:-1] == pytest.approx(np.full(19, -0.5 * BEAD_MM), abs=1e-6)
    assert starts[:, 1] == pytest.approx(np.full(21, 8.0 - 0.5 * BEAD_MM), abs=1e-6)
    assert step[1:] == pytest.approx(np.full(20, 0.5 * BEAD_MM), abs=1e-6)


def test_an_air_layer_has_no_start() -> None:
    box = shapely.box(0, 0, 20, 10)
    starts, step = path_starts(layers_of(stack([box, shapely.Polygon(), box])))
    assert np.isnan(starts[1]).all()
    assert not np.isnan(starts[[0, 2]]).any()
    assert step[1] == 0.0


@pytest.mark.parametrize(("aside", "share"), [(0.265, 0.0), (0.29, 1.0)])
def test_a_round_wall_is_judged_like_a_flat_one(aside: float, share: float) -> None:
    low = shapely.Point(0.0, 0.0).buffer(12.0, quad_segs=97)
    mesh = stack([low, shapely.Point(0.0, 0.0).buffer(12.0 + aside, quad_segs=101)])
    held = support_of_layers(layers_of(mesh), overhang_deg=45.0, bond_mm=0.05)
    # 45 degrees and its slack are 0.2775 mm a layer
    around = 2.0 * np.pi * (12.0 + aside - 0.5 * BEAD_MM)
    assert held.steep_mm[1] == pytest.approx(share * around, rel=0.01)


@pytest.mark.parametrize(
    ("wide", "aside", "hangs"),
    [(0.5, 0.565, False), (0.69, 0.66, False), (0.75, 0.66, True), (0.85, 0.7, True)],
)
def test_the_far_side_of_a_fin_is_held_by_its_near_side_when_both_overlap(
    wide: float, aside: float, hangs: bool
) -> None:
    body = shapely.box(0.0, 0.0, 20.0, 10.0)
    low, high = (shapely.union(body, shapely.box(8.0 + x, 9.0, 8.0 + x + wide, 20.0)) for x in (0.0, aside))
    held = support_of_layers(layers_of(stack([low, high])), overhang_deg=45.0, bond_mm=0.05)
    # both sides of the fin's path lie 0.05 or 0.4 mm apart, and 0.27 mm overlap by two fifths of a bead;
    # the near one lies within 1.2 beads of the fin below, the far one does not
    assert bool(held.airborne_mm[1] > 8.0) is hangs
    assert hangs or held.airborne_mm[1] == 0.0


def test_asking_at_places_first_leaves_no_airborne_bead_out(monkeypatch: pytest.MonkeyPatch) -> None:
    stacks = [shelf(share * BEAD_MM, wide) for share in np.linspace(0.9, 1.6, 15) for wide in (0.8, 10.0)]
    asked = [support(mesh) for mesh in stacks]
    monkeypatch.setattr(
        "wingpath.build.support._reaches", lambda lines, paths, reach: np.ones(len(lines), bool)
    )
    airborne = 0
    for mesh, quick in zip(stacks, asked, strict=True):
        whole = support(mesh)
        airborne += int(whole.airborne_mm.max() > 0.0)
        assert quick.airborne_mm.tolist() == whole.airborne_mm.tolist()
        assert quick.piece_mm.tolist() == whole.piece_mm.tolist()
        assert np.array_equal(quick.piece_at, whole.piece_at, equal_nan=True)
    assert 5 < airborne < len(stacks) - 5
