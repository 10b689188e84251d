"""What a fitting takes away, against closed forms: a wing of one section is built with it and without.

The wing keeps its chord, has no ribs and an open tip, so that its volume is section times span and the
difference of two meshes is the fitting and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely

from wingpath import WingBuild
from wingpath.build.ailerons import aileron_planes

Build = Callable[[dict[str, Any]], WingBuild]

CHORD, SPAN, SLIT, THICK = 200.0, 80.0, 0.1, 0.18

FLATS = np.tan(np.pi / 96) / (np.pi / 96)
"""A bore has 96 flats that touch its circle from outside; this is their area over the circle's."""

EXACT = 2e-4
"""Bodies with flat faces: only the slit meets a curved skin, straight between outline points."""

ROUND = 1e-3
"""Round bores: the slit's upper end is rounded by the bore, which the closed forms take as flat over a
tenth of a millimetre, and cones start with a radius of 0.02 mm."""

GROWN = 1e-2
"""Slits that grow up from the skin: where they leave it they are cut by the skin's own slope."""


def plain(section: str = "naca0018", span: float = SPAN) -> dict[str, Any]:
    return {
        "station": [
            {"span_mm": 0.0, "chord_mm": CHORD, "airfoil": section},
            {"span_mm": span, "chord_mm": CHORD, "airfoil": section},
        ],
        "wing": {"tip": "open"},
        "ribs": {"run": "none"},
        "slots": {"width_mm": SLIT},
        "print": {"layer_mm": 0.36},
        "printer": {"bed_x_mm": 400.0, "bed_y_mm": 400.0},
        "panels": {"joints_mm": []},
    }


def volume(build: WingBuild) -> float:
    return sum(part.solid.mesh.volume_mm3 for part in build.parts)


def removed(built: Build, fitting: dict[str, Any], data: dict[str, Any] | None = None) -> float:
    data = plain() if data is None else data
    return volume(built(data)) - volume(built({**data, **fitting}))


def half_thickness(x_mm: float) -> float:
    """Half thickness of a NACA four-digit section (NACA Report 460, 1933, equation on page 4) [mm]."""
    x = x_mm / CHORD
    form = 0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4
    # the trailing edge is opened to two beads, in proportion along the chord
    opened = 0.5 * (0.9 / CHORD - 2 * 5 * THICK * 0.0021)
    return float(CHORD * (5 * THICK * form + opened * x))


def slit_from_skin(x_mm: float, half_height: float) -> float:
    """Area of a slit in its own plane per mm of span: from the lower skin to the bore's underside [mm]."""
    return half_thickness(x_mm) - half_height


def test_the_wing_itself_is_section_times_span(built: Build) -> None:
    build = built(plain())
    x = np.linspace(0.0, 1.0, 20001) ** 2 * CHORD
    area = 2.0 * np.trapezoid([half_thickness(float(at)) for at in x], x)
    # 161 points a side: the polygon lies inside the curve by a ten-thousandth
    assert volume(build) == pytest.approx(area * SPAN, rel=5e-4)


# --- bores from the root: body of constant section and one slit --------------------------------------


def test_a_round_bore_is_a_cylinder_and_a_slit(built: Build) -> None:
    tube = {"tube": [{"outer_mm": 8.0, "clearance_mm": 0.4, "to_mm": 60.0, "chord_fraction": 0.3}]}
    wanted = (np.pi * 4.2**2 * FLATS + SLIT * slit_from_skin(60.0, 4.2)) * 60.0
    assert removed(built, tube) == pytest.approx(wanted, rel=ROUND)


def test_a_slanted_bore_is_wider_inside_a_layer_by_its_tilt(built: Build) -> None:
    # 0.3 to 0.42 of 200 mm: 24 mm aft on 60 mm of span
    tube = {"tube": [{"outer_mm": 8.0, "to_mm": 60.0, "chord_fraction": 0.3, "chord_fraction_end": 0.42}]}
    stretch = np.hypot(24.0, 60.0) / 60.0
    z = np.linspace(0.0, 60.0, 601)
    slit = np.trapezoid([slit_from_skin(60.0 + 0.4 * at, 4.15) for at in z], z)
    wanted = np.pi * 4.15**2 * FLATS * stretch * 60.0 + SLIT * slit
    assert removed(built, tube) == pytest.approx(wanted, rel=ROUND)


@pytest.mark.parametrize(
    ("tube", "wide", "high"),
    [
        ({"shape": "square", "outer_mm": 6.0, "clearance_mm": 0.2}, 6.2, 6.2),
        ({"shape": "strip", "width_mm": 2.5, "height_mm": 12.0, "clearance_mm": 0.1}, 2.6, 12.1),
    ],
    ids=["square", "strip"],
)
def test_a_square_tube_or_a_strip_is_a_box_and_a_slit(
    built: Build, tube: dict[str, Any], wide: float, high: float
) -> None:
    fitting = {"tube": [{**tube, "to_mm": 55.0, "chord_fraction": 0.3}]}
    wanted = (wide * high + SLIT * slit_from_skin(60.0, 0.5 * high)) * 55.0
    assert removed(built, fitting) == pytest.approx(wanted, rel=EXACT)


def test_a_tab_is_a_box_and_a_slit(built: Build) -> None:
    tab = {"tab": [{"thickness_mm": 3.0, "width_mm": 18.0, "depth_mm": 25.0, "chord_fraction": 0.5}]}
    wanted = (18.2 * 3.2 + SLIT * slit_from_skin(100.0, 1.6)) * 25.0
    assert removed(built, tab) == pytest.approx(wanted, rel=EXACT)


def test_a_duct_without_a_bay_is_a_cylinder_and_a_slit(built: Build) -> None:
    duct = {"duct": [{"diameter_mm": 6.0, "to_mm": 50.0, "chord_fraction": 0.4}]}
    wanted = (np.pi * 9.0 * FLATS + SLIT * slit_from_skin(80.0, 3.0)) * 50.0
    assert removed(built, duct) == pytest.approx(wanted, rel=ROUND)


# --- bores that begin in mid span: a cone on a slit that grows up from the skin -----------------------


def grown_slit(height: float, half: float, length: float) -> float:
    """Area of the slit of a bore that begins in mid span [mm2].

    A triangle up to the axis where the cone begins (45 degrees), under the cone what it leaves, and under
    the bore what that leaves.
    """
    return 0.5 * height**2 + height * half - 0.5 * half**2 + (height - half) * length


def test_a_round_bore_in_mid_span_begins_with_a_cone(built: Build) -> None:
    tube = {"outer_mm": 7.6, "clearance_mm": 0.4, "from_mm": 35.0, "to_mm": 65.0, "chord_fraction": 0.3}
    slit = SLIT * grown_slit(half_thickness(60.0), 4.0, 30.0)
    bore = np.pi * 4.0**2 * FLATS * (30.0 + 4.0 / 3.0)
    assert removed(built, {"tube": [tube]}) == pytest.approx(bore + slit, rel=ROUND)
    # the slit alone, so that an error in it cannot hide behind the bore
    assert removed(built, {"tube": [tube]}) - bore == pytest.approx(slit, rel=GROWN)


def test_a_square_bore_in_mid_span_begins_with_a_pyramid(built: Build) -> None:
    tube = {
        "shape": "square",
        "outer_mm": 5.6,
        "clearance_mm": 0.4,
        "from_mm": 35.0,
        "to_mm": 65.0,
        "chord_fraction": 0.3,
    }
    slit = SLIT * grown_slit(half_thickness(60.0), 3.0, 30.0)
    bore = 6.0**2 * (30.0 + 3.0 / 3.0)
    assert removed(built, {"tube": [tube]}) == pytest.approx(bore + slit, rel=ROUND)


def test_a_strip_in_mid_span_grows_on_one_side_after_the_other(built: Build) -> None:
    tube = {
        "shape": "strip",
        "width_mm": 8.0,
        "height_mm": 3.0,
        "clearance_mm": 0.0,
        "from_mm": 35.0,
        "to_mm": 65.0,
        "chord_fraction": 0.3,
    }
    high = half_thickness(60.0)
    # half sizes 1.5 and 4: a pyramid up to 1.5, then only its width grows
    bore = 4.0 * 1.5**3 / 3.0 + 2.0 * 1.5 * (4.0**2 - 1.5**2) + 8.0 * 3.0 * 30.0
    slit = SLIT * (grown_slit(high, 1.5, 30.0) + (high - 1.5) * 2.5)
    assert removed(built, {"tube": [tube]}) == pytest.approx(bore + slit, rel=ROUND)


def test_a_pin_is_half_in_each_panel(built: Build) -> None:
    data = {**plain(), "panels": {"joints_mm": [40.0]}}
    pin = {"chord_fraction": 0.4, "diameter_mm": 3.0, "length_mm": 16.0, "clearance_mm": 0.2}
    bare, pinned = built(data), built({**data, "pin": [pin]})
    inner, outer = (
        one.solid.mesh.volume_mm3 - other.solid.mesh.volume_mm3
        for one, other in zip(bare.panels, pinned.panels, strict=True)
    )
    high, round_ = half_thickness(80.0), np.pi * 1.6**2 * FLATS
    # the inner one begins in mid span; the outer one stands on the bed
    assert inner == pytest.approx(
        round_ * (8.0 + 1.6 / 3.0) + SLIT * grown_slit(high, 1.6, 8.0), rel=2.0 * ROUND
    )
    assert outer == pytest.approx((round_ + SLIT * (high - 1.6)) * 8.0, rel=ROUND)


# --- bays ------------------------------------------------------------------------------------------------

FLAT = "flat-12"
"""A section whose lower skin is nearly straight from 30 per cent of the chord on."""


def lower_skin(built: Build, x_mm: np.ndarray, section: str = FLAT) -> np.ndarray:
    """Return the height of the lower skin of the plain wing, cut out of its outline with shapely."""
    ring = shapely.Polygon(built(plain(section)).design.wing.loops(0.0)[0])
    lines = [shapely.LineString([(x, -60.0), (x, 60.0)]).intersection(ring) for x in x_mm]
    return np.array([line.bounds[1] for line in lines])


@pytest.mark.parametrize("kind", ["servo_bay", "plate_bay"])
def test_a_bay_is_a_prism_with_sloped_ends(built: Build, kind: str) -> None:
    depth = {"servo_bay": 9.0, "plate_bay": 2.2}[kind]
    bay = {"span_mm": 25.0, "length_mm": 24.0, "width_mm": 14.0, "depth_mm": depth, "chord_fraction": 0.45}
    x = np.linspace(83.0, 97.0, 281)
    skin = lower_skin(built, x)
    # nearly flat: the closed form of a bay under a flat skin is good to a few per cent by itself
    assert np.ptp(skin) < 0.4
    flat = 14.0 * depth * (24.0 + depth)
    deep = skin.max() + depth - skin
    wanted = np.trapezoid(deep * (24.0 + deep), x)
    assert wanted == pytest.approx(flat, rel=0.1)
    # every face is plane but the skin, which is straight between outline points
    assert removed(built, {kind: [bay]}, plain(FLAT)) == pytest.approx(wanted, rel=EXACT)


def test_a_bay_in_the_upper_skin_is_the_same_upside_down(built: Build) -> None:
    bay = {"span_mm": 25.0, "length_mm": 24.0, "width_mm": 14.0, "depth_mm": 3.0, "chord_fraction": 0.45}
    low, high = (removed(built, {"plate_bay": [{**bay, "side": side}]}) for side in ("lower", "upper"))
    assert high == pytest.approx(low, rel=EXACT)


def test_the_seat_of_a_cover_is_a_ledge_all_round_and_the_cover_fills_it(built: Build) -> None:
    bay = {"span_mm": 30.0, "length_mm": 20.0, "width_mm": 12.0, "depth_mm": 6.0, "chord_fraction": 0.45}
    bare = built({**plain(FLAT), "servo_bay": [bay]})
    covered = built({**plain(FLAT), "servo_bay": [{**bay, "frame": True}]})
    extra = bare.panels[0].solid.mesh.volume_mm3 - covered.panels[0].solid.mesh.volume_mm3
    x = np.linspace(80.0, 100.0, 2001)
    skin = lower_skin(built, x)
    inside = np.abs(x - 90.0) <= 6.0
    # two beads and a slot deep from where the skin is highest; 4 mm of ledge round the bay's own slopes
    floor, bay_floor = skin.max() + 2 * 0.45 + SLIT, skin[inside].max() + 6.0
    seat = floor - skin
    length = 20.0 + 2.0 * (4.0 + bay_floor - floor)
    taken = np.where(inside, seat * (20.0 + 2.0 * bay_floor - floor - skin), 0.0)
    assert extra == pytest.approx(float(np.trapezoid(seat * (length + seat) - taken, x)), rel=5e-3)
    # 0.2 mm of room on every side
    own = np.abs(x - 90.0) <= 9.8
    (cover,) = covered.covers
    wanted = float(np.trapezoid(seat[own], x[own])) * (length - 0.4)
    assert cover.solid.mesh.volume_mm3 == pytest.approx(wanted, rel=SUMMED)


ENDS = (("inboard end", 1.0), ("outboard end", -1.0))

SUMMED = 2e-3
"""Sums over slices of a twentieth of a millimetre, two of which are cut through by a flat end."""


# --- ailerons ------------------------------------------------------------------------------------------


def test_wing_surface_and_gap_make_the_whole_wing(built: Build) -> None:
    data = plain("naca0012", span=200.0)
    aileron = {"from_mm": 70.0, "to_mm": 130.0, "hinge_fraction": 0.75, "gap_mm": 1.2}
    with_it = built({**data, "aileron": [{**aileron, "up_deg": 25.0, "down_deg": 15.0}]})
    (panel,), (surface,) = with_it.panels, with_it.surfaces
    start, end = surface.solid.panel.start_mm, surface.solid.panel.end_mm
    ring = shapely.Polygon(with_it.design.wing.loops(0.0)[0])
    hinge, far = 150.0, 400.0
    up, down = np.tan(np.deg2rad([25.0, 15.0]))
    tip = hinge + 0.6
    wedge = shapely.Polygon(
        [(tip, 0.0), (tip + 60.0 * up, 60.0), (far, 60.0), (far, -60.0), (tip + 60.0 * down, -60.0)]
    )
    # how far the surface's sloped ends stand off the bay's is the design's choice; both lean by 45 degrees
    planes = {
        name: (normal, offset) for name, normal, offset in aileron_planes(with_it.design.voids.ailerons[0])
    }
    for name in ("inboard end", "outboard end"):
        assert np.abs(planes[name][0]) == pytest.approx([np.sqrt(0.5), 0.0, np.sqrt(0.5)])
    z = np.unique(np.concatenate([np.linspace(15.0, 185.0, 3401), [start, end]]))
    bay, own = np.zeros(len(z)), np.zeros(len(z))
    for k, at in enumerate(z):
        # the wing's wall, half a gap before the hinge, leaves at 45 degrees beyond both ends
        wall = hinge - 0.6 + max(70.0 - at, at - 130.0, 0.0)
        bay[k] = ring.intersection(shapely.box(wall, -99.0, far, 99.0)).area
        ends = [np.sqrt(2.0) * planes[name][1] - side * at for name, side in ENDS]
        if start <= at <= end:
            own[k] = ring.intersection(wedge).intersection(shapely.box(max(ends), -99.0, far, 99.0)).area
    whole, wing = volume(built(data)), panel.solid.mesh.volume_mm3
    gap = np.trapezoid(bay - own, z)
    assert whole - wing == pytest.approx(np.trapezoid(bay, z), rel=EXACT)
    assert wing + surface.solid.mesh.volume_mm3 + gap == pytest.approx(whole, rel=EXACT)
    # the gap by itself, so that an error in it cannot hide behind the wing
    assert whole - wing - surface.solid.mesh.volume_mm3 == pytest.approx(gap, rel=SUMMED)
