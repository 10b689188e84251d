"""Sections and grids of walls that stand on one skin and hang from the other, against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wingpath.structure.material import WallMaterial
from wingpath.structure.section import SectionConstants, section_constants
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.walls import MEET_MM, TubeLine, WallLine
from wingpath.structure.wing_section import RibGrid, ThinWing, rib_grid, wing_section

ROUNDING = 1e-9
"""Share: the same sums in another order."""

ANOTHER_WAY = 1e-8
"""Share: a section solved from its other end."""

SMALL_PART = 1e-6
"""Share: a difference of nearly equal numbers."""

WIDE, HIGH, LONG = 120.0, 20.0, 200.0
"""A box of straight walls: chord, height, span [mm]."""

SKIN, WALL, STUB = 0.5, 0.9, 3.0
"""Thickness of skins and walls, depth of stubs [mm]."""

MATERIAL = WallMaterial(900.0, 600.0, 0.3, 0.7)

ENDS = np.array([0.0, LONG])

AT = 80.0
"""A place along the span at which only whole or only open stretches are cut [mm]."""


def box(*walls: WallLine, tubes: tuple[TubeLine, ...] = ()) -> ThinWing:
    """Return the box."""
    share, even = np.linspace(0.0, 1.0, 5), np.ones((2, 5))
    front, rear = np.zeros(2), np.full(2, WIDE)
    up, low = 0.5 * HIGH, -0.5 * HIGH
    return ThinWing(
        SkinSurfaces(ENDS, share, front, rear, up * even, low * even), MATERIAL, SKIN, walls, tubes
    )


def web(top_mm: float | None = None, hang_mm: float | None = None, x_mm: float = 48.0) -> WallLine:
    """Return a wall along the span, whole or with what stands and what hangs."""
    plain = WallLine("web", "web", ENDS, np.full(2, x_mm), WALL)
    return plain if top_mm is None else windowed(plain, top_mm, hang_mm)


def windowed(wall: WallLine, top_mm: float, hang_mm: float | None) -> WallLine:
    hang = None if hang_mm is None else np.full(2, hang_mm)
    return replace(wall, profile_z_mm=ENDS, profile_top_mm=np.full(2, top_mm), profile_hang_mm=hang)


def constants(shell: ThinWing) -> SectionConstants:
    return section_constants(wing_section(shell, AT))


def values(found: SectionConstants) -> list[float]:
    return [
        found.ea_n,
        found.ei_xx_n_mm2,
        found.ei_yy_n_mm2,
        found.gj_n_mm2,
        found.gj_cells_n_mm2,
        found.ga_y_n,
        found.shear_centre_mm[0],
    ]


@pytest.mark.parametrize("apart", [0.0, 0.9 * MEET_MM, -2.0])
@pytest.mark.parametrize("middle", [0.0, -4.0])
def test_halves_that_meet_are_one_wall(apart: float, middle: float) -> None:
    whole, halves = (constants(box(wall)) for wall in (web(), web(middle, middle + apart)))
    assert values(halves) == pytest.approx(values(whole), rel=ROUNDING)


def test_halves_that_do_not_meet_close_no_cell() -> None:
    whole, apart = (constants(box(wall)) for wall in (web(), web(0.0, 2.0 * MEET_MM)))
    bare = constants(box())
    assert apart.gj_cells_n_mm2 == pytest.approx(bare.gj_cells_n_mm2, rel=ROUNDING)
    assert whole.gj_cells_n_mm2 > 1.0001 * bare.gj_cells_n_mm2


@pytest.mark.parametrize("deep", [(STUB, STUB), (STUB, 7.0)])
def test_stubs_are_flanges_on_both_skins(deep: tuple[float, float]) -> None:
    half = 0.5 * HIGH
    stubs, bare = constants(box(web(deep[0] - half, half - deep[1]))), constants(box())
    e, area = MATERIAL.e_across_mpa, WALL * np.array(deep)
    place = np.array([0.5 * deep[0] - half, half - 0.5 * deep[1]])
    assert stubs.ea_n - bare.ea_n == pytest.approx(e * area.sum(), rel=ROUNDING)
    own = (area * np.array(deep) ** 2).sum() / 12.0
    away = stubs.centroid_mm[1]
    steiner = (area * place**2).sum() * e - stubs.ea_n * away**2
    assert stubs.ei_xx_n_mm2 - bare.ei_xx_n_mm2 == pytest.approx(e * own + steiner, rel=SMALL_PART)
    open_twist = MATERIAL.shear_mpa * area.sum() * WALL**2 / 3.0
    assert stubs.gj_n_mm2 - bare.gj_n_mm2 == pytest.approx(open_twist, rel=SMALL_PART)


def test_what_hangs_is_what_stands_in_a_box_turned_over() -> None:
    never = -50.0
    for depth in (4.0, 15.0):
        stands = constants(box(web(depth - 0.5 * HIGH)))
        hangs = constants(box(web(never, 0.5 * HIGH - depth)))
        assert values(hangs) == pytest.approx(values(stands), rel=ANOTHER_WAY)
        assert hangs.centroid_mm[1] == pytest.approx(-stands.centroid_mm[1], rel=ANOTHER_WAY)
    # and down to the lower skin it is a whole one
    assert values(constants(box(web(never, -60.0)))) == pytest.approx(
        values(constants(box(web()))), rel=ROUNDING
    )


@pytest.mark.parametrize("height", [6.0, -6.0])
def test_a_tube_is_glued_to_the_stub_that_it_passes_through(height: float) -> None:
    tube = TubeLine("tube", np.array([48.0, height, 0.0]), np.array([48.0, height, LONG]), 1e5, 1e6, 1e6, 1e6)
    plain, held = (wing_section(box(web(-3.0, 3.0), tubes=own), AT) for own in ((), (tube,)))
    # one point more, in the stub, and no seam of glue
    assert len(held.points_mm) == len(plain.points_mm) + 1
    assert len(held.walls) == len(plain.walls) + 1
    at = int(held.rods.point[0])
    assert held.points_mm[at] == pytest.approx([48.0, height])
    assert (held.walls == at).sum() == 2


def grid(top_mm: float | None = None, hang_mm: float | None = None) -> RibGrid:
    """Return the grid of two runs of ribs that cross."""
    aft = WallLine("aft", "aft", np.array([40.0, 120.0]), np.array([20.0, 100.0]), WALL)
    ribs = (aft, replace(aft, name="forward", kind="forward", x_mm=aft.x_mm[::-1]))
    if top_mm is not None:
        ribs = tuple(windowed(rib, top_mm, hang_mm) for rib in ribs)
    found = rib_grid(box(*ribs), np.linspace(50.0, 110.0, 7))
    assert found is not None
    return found


def test_ribs_whose_halves_meet_bend_as_one_and_stubs_as_its_flanges() -> None:
    whole, halves, half = grid(), grid(1.0, 1.0), 0.5 * HIGH
    assert halves.ei_n_mm2 == pytest.approx(whole.ei_n_mm2, rel=ROUNDING)
    assert halves.gj_n_mm2 == pytest.approx(whole.gj_n_mm2, rel=ROUNDING)
    assert halves.ga_n == pytest.approx(whole.ga_n, rel=ROUNDING)
    # E t h^3 / (12 cos) of each of two ribs at 45 degrees, which a twist bends wholly
    rib = MATERIAL.e_across_mpa * WALL * HIGH**3 / 12.0 * np.sqrt(2.0)
    assert whole.gj_n_mm2 == pytest.approx(2.0 * rib, rel=ROUNDING)
    for low, high in ((STUB, STUB), (STUB, 6.0)):
        stubs = grid(low - half, half - high)
        # two rectangles about their common centroid, from the lower edge up
        places, areas = np.array([0.5 * low, HIGH - 0.5 * high]), np.array([low, high])
        middle = (places * areas).sum() / areas.sum()
        second = (areas**3 / 12.0 + areas * (places - middle) ** 2).sum()
        share = second / (HIGH**3 / 12.0)
        assert stubs.ei_n_mm2 == pytest.approx(share * whole.ei_n_mm2, rel=ROUNDING)
        assert stubs.gj_n_mm2 == pytest.approx(share * whole.gj_n_mm2, rel=ROUNDING)
        assert stubs.ga_n == pytest.approx((low + high) / HIGH * whole.ga_n, rel=ROUNDING)
    hangs = grid(-50.0, half - STUB)
    assert hangs.gj_n_mm2 == pytest.approx((STUB / HIGH) ** 3 * whole.gj_n_mm2, rel=ROUNDING)


def test_a_rib_hangs_only_between_places_where_it_does() -> None:
    z = np.array([0.0, 10.0, 20.0, 30.0])
    wall = WallLine("rib", "aft", ENDS, ENDS, WALL, z, np.zeros(4), np.array([np.inf, 4.0, 6.0, np.inf]))
    assert wall.hang_mm([0.0, 9.9, 10.0, 15.0, 20.0, 20.1, 30.0]).tolist() == [
        np.inf,
        np.inf,
        4.0,
        5.0,
        6.0,
        np.inf,
        np.inf,
    ]
    assert np.isinf(web(1.0).hang_mm(z)).all()


@pytest.mark.parametrize(
    ("hang", "words"),
    [
        (np.zeros(3), "shape"),
        (np.array([0.0, np.nan]), "finite"),
        (np.array([0.0, -np.inf]), "finite"),
    ],
)
def test_profiles_of_what_hangs_are_checked(hang: np.ndarray, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        WallLine("rib", "aft", ENDS, ENDS, WALL, ENDS, ENDS, hang)


def test_what_hangs_needs_places() -> None:
    with pytest.raises(ValueError, match="profile_z_mm"):
        WallLine("rib", "aft", ENDS, ENDS, WALL, profile_hang_mm=np.zeros(2))
