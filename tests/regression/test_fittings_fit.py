"""What is bought fits what is printed: every fitting measured back from the written STL files.

The files are read, cut and measured with trimesh and shapely alone. Of the design only the axis of a bore
is taken, from the report that a builder gets; a tube has to pass all cuts square to it at once.
"""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from outside import SLICERS, Source

from wingpath import build_document, build_wing, spec_from_dict, write_build

TRIMESH = Source(
    "library",
    "trimesh and shapely",
    "trimesh, an open library of meshes (MIT), and shapely, of plane geometry (BSD), on the written files",
)

FITS_MM = 0.03
"""A clear size may be larger than what was asked for by this much [mm]: a tenth of the usual clearance."""

ROUNDING_MM = 2e-3
"""And smaller by this much [mm]: single precision of the file, and the search for the largest circle."""

SLIT_OFF_MM = 0.06
"""Opening by this much takes a slit of 0.08 mm or less away and leaves the bore [mm]."""

CUTS = 7
"""Cuts along each fitting."""

LAYOUT: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 240.0, "airfoil": "naca2415"},
        {
            "span_mm": 110.0,
            "chord_mm": 220.0,
            "leading_edge_mm": 12.0,
            "twist_deg": -1.0,
            "airfoil": "naca2415",
        },
    ],
    "wing": {"tip": "open", "hand": "both"},
    "ribs": {"pitch_mm": 40.0},
    "slots": {"width_mm": 0.08},
    "print": {"layer_mm": 0.3},
    "printer": {"bed_x_mm": 400.0, "bed_y_mm": 400.0},
    "panels": {"joints_mm": [50.0]},
}
"""A wing with sweep, taper, twist, camber and ribs, in two panels."""

BORES: dict[str, Any] = {
    **LAYOUT,
    "tube": [
        # 0.2 of 240 mm and 39.27 of 225.45 mm at 80 mm, 8.73 mm farther aft: parallel to the span
        {"outer_mm": 8.0, "to_mm": 80.0, "chord_fraction": 0.2, "chord_fraction_end": 0.1742},
        {
            "outer_mm": 9.0,
            "clearance_mm": 0.2,
            "to_mm": 95.0,
            "chord_fraction": 0.29,
            "chord_fraction_end": 0.4,
        },
        {
            "shape": "square",
            "outer_mm": 5.0,
            "from_mm": 20.0,
            "to_mm": 100.0,
            "chord_fraction": 0.44,
            "chord_fraction_end": 0.48,
        },
        {
            "shape": "strip",
            "width_mm": 3.0,
            "height_mm": 10.0,
            "clearance_mm": 0.15,
            "to_mm": 60.0,
            "chord_fraction": 0.5,
        },
    ],
    "tab": [{"thickness_mm": 3.0, "width_mm": 18.0, "depth_mm": 25.0, "chord_fraction": 0.62}],
    "pin": [{"chord_fraction": 0.75, "diameter_mm": 2.0, "length_mm": 16.0}],
}

BAYS: dict[str, Any] = {
    **LAYOUT,
    "panels": {"joints_mm": [44.0]},
    "duct": [{"diameter_mm": 5.0, "chord_fraction": 0.4, "chord_fraction_end": 0.42, "to_mm": 62.0}],
    "servo_bay": [
        {
            "span_mm": 66.0,
            "length_mm": 23.0,
            "width_mm": 12.5,
            "depth_mm": 9.0,
            "chord_fraction": 0.42,
            "frame": True,
        }
    ],
    "plate_bay": [
        {"span_mm": 12.0, "length_mm": 24.0, "width_mm": 20.0, "depth_mm": 2.2, "chord_fraction": 0.2},
        {
            "span_mm": 8.0,
            "length_mm": 20.0,
            "width_mm": 30.0,
            "depth_mm": 1.6,
            "chord_fraction": 0.6,
            "side": "upper",
        },
    ],
}


class Written:
    """A build as its files hold it, in wing coordinates."""

    def __init__(self, data: dict[str, Any], folder: Path) -> None:
        build = build_wing(spec_from_dict(data))
        assert build.proven
        self.folder = folder
        self.report = build_document(build, spec_name="fit")
        paths = {path.name: path for path in write_build(build, folder, spec_name="fit")}
        self.panels = []
        for part in self.report["panels"]:
            mesh = trimesh.load_mesh(paths[f"{part['panel']}-left.stl"])
            assert mesh.is_watertight
            mesh.apply_translation((0.0, 0.0, part["from_mm"]))
            self.panels.append((part["from_mm"], part["to_mm"], mesh))

    def bore(self, name: str) -> dict[str, Any]:
        (found,) = [bore for bore in self.report["fittings"]["bores"] if bore["name"] == name]
        return dict(found)

    def bay(self, name: str) -> dict[str, Any]:
        (found,) = [bay for bay in self.report["fittings"]["bays"] if bay["name"] == name]
        return dict(found)

    def panel_at(self, z_mm: float) -> trimesh.Trimesh:
        (found,) = [mesh for start, end, mesh in self.panels if start <= z_mm < end]
        return found


@pytest.fixture(scope="module")
def bores(tmp_path_factory: pytest.TempPathFactory) -> Written:
    return Written(BORES, tmp_path_factory.mktemp("bores") / "out")


@pytest.fixture(scope="module")
def bays(tmp_path_factory: pytest.TempPathFactory) -> Written:
    return Written(BAYS, tmp_path_factory.mktemp("bays") / "out")


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Written:
    return Written({**LAYOUT, "ribs": {"run": "none"}}, tmp_path_factory.mktemp("plain") / "out")


def solid_at(mesh: trimesh.Trimesh, origin: np.ndarray, frame: np.ndarray) -> shapely.Geometry:
    """Cut a mesh square to the last row of `frame`; coordinates along its first two rows."""
    section = mesh.section(plane_origin=origin, plane_normal=frame[2])
    to_plane = np.eye(4)
    to_plane[:3, :3] = frame
    to_plane[:3, 3] = -frame @ origin
    flat, _ = section.to_2D(to_2D=to_plane)
    # loops counted in and out in turn
    return functools.reduce(shapely.symmetric_difference, flat.polygons_closed)


def hole_at(mesh: trimesh.Trimesh, origin: np.ndarray, frame: np.ndarray, reach: float) -> shapely.Polygon:
    """Return the void round `origin` without its slit."""
    window = shapely.box(-reach, -reach, reach, reach)
    void = (window - solid_at(mesh, origin, frame)).buffer(-SLIT_OFF_MM, join_style="mitre")
    (own,) = [part for part in shapely.get_parts(void) if part.contains(shapely.Point(0.0, 0.0))]
    return own.buffer(SLIT_OFF_MM, join_style="mitre")


def passage(
    written: Written, bore: dict[str, Any], *, reach: float, from_mm: float, to_mm: float
) -> shapely.Polygon:
    """Return what is free all along a bore, seen along its axis."""
    ends = np.array(
        [[bore["x_mm"][k], bore["y_mm"][k], bore[key]] for k, key in ((0, "from_mm"), (1, "to_mm"))]
    )
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    # the first side lies in the planform, as the width of a strip does
    first = np.cross([0.0, 1.0, 0.0], along)
    first /= np.linalg.norm(first)
    frame = np.stack([first, np.cross(along, first), along])
    free = shapely.box(-reach, -reach, reach, reach)
    for z in np.linspace(from_mm, to_mm, CUTS):
        share = (z - ends[0, 2]) / (ends[1, 2] - ends[0, 2])
        origin = ends[0] + share * (ends[1] - ends[0])
        free = free.intersection(hole_at(written.panel_at(z), origin, frame, reach))
    return free


def clear_diameter(free: shapely.Polygon) -> float:
    return 2.0 * float(shapely.maximum_inscribed_circle(free, tolerance=2e-4).length)


def clear_box(free: shapely.Geometry) -> tuple[float, float]:
    """Return the sides of a rectangular hole, and make sure that it is one."""
    low_x, low_y, high_x, high_y = free.bounds
    assert free.area == pytest.approx((high_x - low_x) * (high_y - low_y), rel=2e-3)
    return high_x - low_x, high_y - low_y


def assert_fits(measured: float, wanted: float) -> None:
    assert wanted - ROUNDING_MM <= measured <= wanted + FITS_MM


# --- bores ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "wanted", "from_mm", "to_mm"),
    [("tube[0]", 8.3, 2.0, 79.0), ("tube[1]", 9.2, 4.0, 92.0)],
    ids=["straight", "slanted"],
)
def test_a_round_tube_slides_in_from_end_to_end(
    bores: Written, name: str, wanted: float, from_mm: float, to_mm: float
) -> None:
    with SLICERS.rule(
        "Bores of a straight and a slanted round tube, measured in the STL",
        source=TRIMESH,
        expected="free along the axis: the size asked for, at most 0.002 mm less and 0.03 mm more",
    ):
        free = passage(bores, bores.bore(name), reach=0.8 * wanted, from_mm=from_mm, to_mm=to_mm)
        assert_fits(clear_diameter(free), wanted)


def test_the_straight_tube_is_parallel_to_the_span_and_the_slanted_one_is_not(bores: Written) -> None:
    straight, slanted = (bores.bore(f"tube[{k}]")["x_mm"] for k in (0, 1))
    assert straight[1] == pytest.approx(straight[0], abs=0.03)
    # 0.29 of 240 mm at the root; 10.36 mm of sweep and 0.4 of 222.73 mm at 95 mm
    assert slanted == pytest.approx([69.6, 10.36 + 89.09], abs=0.2)


@pytest.mark.parametrize(
    ("name", "wanted", "from_mm", "to_mm"),
    [
        ("tube[2]", (5.3, 5.3), 22.0, 97.0),
        ("tube[3]", (3.15, 10.15), 2.0, 58.0),
        ("tab[0]", (18.2, 3.2), 0.5, 24.9),
    ],
    ids=["square tube", "strip", "tab"],
)
def test_a_rectangular_bar_slides_in_from_end_to_end(
    bores: Written, name: str, wanted: tuple[float, float], from_mm: float, to_mm: float
) -> None:
    with SLICERS.rule(
        "Bores of a square tube, a strip and a tab, measured in the STL",
        source=TRIMESH,
        expected="free along the axis: the sizes asked for, at most 0.002 mm less and 0.03 mm more",
    ):
        free = passage(bores, bores.bore(name), reach=0.8 * max(wanted), from_mm=from_mm, to_mm=to_mm)
        for measured, size in zip(clear_box(free), wanted, strict=True):
            assert_fits(measured, size)


def test_the_tab_slot_is_as_deep_as_the_tongue_is_long(bores: Written) -> None:
    tab = bores.bore("tab[0]")
    cut = solid_at(
        bores.panel_at(25.0),
        np.array([tab["x_mm"][0] + 4.0, tab["y_mm"][0], 0.0]),
        np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]]),
    )
    with SLICERS.rule(
        "Slot of a tab, measured in the STL",
        source=TRIMESH,
        expected="as deep as the tongue is long, to 0.03 mm",
    ):
        ray = shapely.LineString([(-1.0, 0.0), (40.0, 0.0)]).intersection(cut)
        assert ray.bounds[0] == pytest.approx(25.0, abs=FITS_MM)


def test_a_pin_fits_both_sides_of_its_joint(bores: Written) -> None:
    pin = bores.bore("pin[0] at 50 mm")
    assert (pin["from_mm"], pin["to_mm"]) == (42.0, 58.0)
    with SLICERS.rule(
        "Bore of a pin across a joint, measured in the STL",
        source=TRIMESH,
        expected="free in both panels and through both: at most 0.002 mm less and 0.03 mm more",
    ):
        for from_mm, to_mm in ((42.01, 49.99), (50.01, 57.99)):
            free = passage(bores, pin, reach=2.0, from_mm=from_mm, to_mm=to_mm)
            assert_fits(clear_diameter(free), 2.2)
        # both halves together: the pin does not have to bend
        free = passage(bores, pin, reach=2.0, from_mm=42.01, to_mm=57.99)
        assert_fits(clear_diameter(free), 2.2)


def test_a_right_wing_is_bored_alike(tmp_path: Path) -> None:
    data = {**LAYOUT, "ribs": {"run": "none"}, "tube": [BORES["tube"][0]], "panels": {"joints_mm": []}}
    data["wing"] = {"tip": "open", "hand": "right"}
    build = build_wing(spec_from_dict(data))
    report = build_document(build, spec_name="fit")["fittings"]["bores"][0]
    write_build(build, tmp_path / "out", spec_name="fit")
    mesh = trimesh.load_mesh(tmp_path / "out" / "panel-1-right.stl")
    origin = np.array([report["x_mm"][0], -report["y_mm"][0], 1.0])
    assert_fits(clear_diameter(hole_at(mesh, origin, np.eye(3), 7.0)), 8.3)


# --- bays ----------------------------------------------------------------------------------------------


def duct_end(bay: dict[str, Any]) -> float:
    """Where the first slope of a bay begins."""
    return float(bay["with_slopes_mm"][0])


def test_a_duct_is_as_wide_as_asked_up_to_its_bay(bays: Written) -> None:
    bay, duct = bays.bay("servo_bay[0]"), bays.bore("duct[0]")
    free = passage(bays, duct, reach=4.0, from_mm=1.0, to_mm=duct_end(bay) - 0.5)
    assert_fits(clear_diameter(free), 5.0)


def test_a_plug_passes_from_the_duct_into_the_bay(bays: Written) -> None:
    bay, duct = bays.bay("servo_bay[0]"), bays.bore("duct[0]")
    share = (bay["from_mm"] - duct["from_mm"]) / (duct["to_mm"] - duct["from_mm"])
    x, y = (duct[key][0] + share * (duct[key][1] - duct[key][0]) for key in ("x_mm", "y_mm"))
    # square to the chord: one void from the duct's middle down through the bay to below the skin
    frame = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    solid = solid_at(bays.panel_at(bay["from_mm"]), np.array([x, y, bay["from_mm"]]), frame)
    # a lead as thick as the least opening that the design promises comes down out of the duct's far end
    lead = shapely.LineString([(-12.0, 0.0), (0.5, 0.0), (1.0, bay["floor_y_mm"] - y - 0.8)])
    assert not lead.intersects(solid)
    assert duct["y_mm"][1] - 2.5 <= bay["floor_y_mm"] - 1.5


SEAT_MM = 2 * 0.45 + 0.08
"""Two beads and the slot between them."""

SIZES = {
    "servo_bay[0]": (23.0, 12.5, 9.0),
    # as long as the slopes of the bay reach at its depth; the ledge has a test of its own
    "servo_bay[0].frame": (None, 20.5, SEAT_MM),
    "plate_bay[0]": (24.0, 20.0, 2.2),
    "plate_bay[1]": (20.0, 30.0, 1.6),
}
"""Length along the span, width along the chord, depth: as in the spec, a cover's ledge 4 mm wide."""

PLANFORM = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
"""Seen from below: x aft, then the span."""


@pytest.mark.parametrize("name", sorted(SIZES))
def test_a_box_fits_into_its_bay(bays: Written, plain: Written, name: str) -> None:
    with SLICERS.rule(
        "Bays of a servo and of plates, measured in the STL",
        source=TRIMESH,
        expected="room for the box asked for, at most 0.002 mm less and 0.03 mm more, and as deep",
    ):
        given, width, depth = SIZES[name]
        bay = bays.bay(name)
        length = bay["to_mm"] - bay["from_mm"] if given is None else given
        inward = 1.0 if bay["side"] == "lower" else -1.0
        middle = np.array([np.mean(bay["x_mm"]), bay["floor_y_mm"], 0.5 * (bay["from_mm"] + bay["to_mm"])])
        mesh = bays.panel_at(float(middle[2]))
        # the floor, seen on an upright line a little beside the middle, where no other bay is cut deeper
        aside = 0.5 * width - 1.0 if name.endswith("frame") else 0.3
        up = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
        section = solid_at(mesh, middle + np.array([0.0, 0.0, 0.37]), up)
        column = shapely.LineString([(aside, -30.0), (aside, 30.0)]).intersection(section)
        heights = [line.bounds[1] if inward > 0 else line.bounds[3] for line in shapely.get_parts(column)]
        floor = middle[1] + min(heights, key=abs)
        # just short of the floor the free area is what the part needs, and the slopes begin there
        just_short = middle - (0.0, inward * 5e-3, 0.0)
        solid = solid_at(mesh, just_short, PLANFORM)
        fits = 0.5 * np.array([width, length]) - ROUNDING_MM
        assert solid.intersection(shapely.box(*-fits, *fits)).area < 1e-3
        # a duct or another bay may open an end in its middle, ribs only by their slots
        corners = [(sx * (0.5 * width - 0.6), sz * (0.5 * length - 0.6)) for sx in (-1, 1) for sz in (-1, 1)]
        for x, z in corners:
            for line, size, along in (
                (shapely.LineString([(-width, z), (width, z)]), width, 0),
                (shapely.LineString([(x, -length), (x, length)]), length, 1),
            ):
                free = shapely.get_parts(line - solid)
                (own,) = [part for part in free if part.distance(shapely.Point(x, z)) < 1e-9]
                assert_fits(float(own.bounds[along + 2] - own.bounds[along]), size)
        # and the floor lies as deep as asked where the plain wing's skin comes nearest to it
        nearest = np.inf
        for z in np.linspace(bay["from_mm"] + 0.01, bay["to_mm"] - 0.01, 6):
            whole = solid_at(plain.panel_at(z), np.array([middle[0], 0.0, z]), up)
            for x in np.linspace(-0.5 * width, 0.5 * width, 25):
                line = shapely.LineString([(x, -40.0), (x, 40.0)]).intersection(whole)
                skin = line.bounds[1] if inward > 0 else line.bounds[3]
                nearest = min(nearest, inward * (floor - skin))
        assert_fits(nearest, depth)


def test_a_cover_lies_on_a_ledge_on_all_four_sides(bays: Written) -> None:
    seat, bay = bays.bay("servo_bay[0].frame"), bays.bay("servo_bay[0]")
    mesh = bays.panel_at(seat["from_mm"])
    x, z = np.mean(bay["x_mm"]), 0.5 * (bay["from_mm"] + bay["to_mm"])
    # just inside the ledge the solid ends at the mouth of the bay, just outside at the walls of the seat
    mouth, walls = (
        shapely.box(-40.0, -60.0, 40.0, 60.0)
        - solid_at(mesh, np.array([x, seat["floor_y_mm"] + aside, z]), PLANFORM).buffer(SLIT_OFF_MM)
        for aside in (0.02, -0.02)
    )
    inner, outer = (
        next(part for part in shapely.get_parts(one) if part.contains(shapely.Point(0.5, 0.0))).bounds
        for one in (mouth, walls)
    )
    ledges = np.abs(np.subtract(inner, outer))
    # the cuts lie 0.02 mm off the floor, where both slopes have moved by as much
    assert ledges == pytest.approx(4.0, abs=FITS_MM + 0.04)


def test_a_cover_fits_its_seat_with_room_all_round(bays: Written) -> None:
    panel = bays.panel_at(bays.bay("servo_bay[0]")["from_mm"])
    (part,) = bays.report["covers"]
    cover = trimesh.load_mesh(bays.folder / "cover-1-left.stl")
    with SLICERS.rule(
        "Cover in its seat, by intersection of the written STL files",
        source=TRIMESH,
        expected="touches nothing when lifted by 0.01 mm, and does when moved by its room",
    ):
        assert cover.is_watertight
        cover.apply_translation((0.0, 0.0, part["from_mm"]))
        # lifted off the ledge by a hundredth it touches nothing
        cover.apply_translation((0.0, -0.01, 0.0))
        shared = trimesh.boolean.intersection([panel, cover], engine="manifold")
        assert shared.is_empty or shared.volume < 1e-3
        # and with the room filled on either side it does
        for move in ((0.23, 0.0, 0.0), (-0.23, 0.0, 0.0), (0.0, 0.03, 0.0)):
            moved = cover.copy()
            moved.apply_translation(move)
            assert trimesh.boolean.intersection([panel, moved], engine="manifold").volume > 1e-3
        # outside it is flush with the wing: all of its volume belongs to the wing without fittings
        assert cover.bounds[0, 1] > panel.bounds[0, 1] - 0.02


def test_a_bay_too_shallow_for_its_cover_is_refused() -> None:
    bay = {**BAYS["servo_bay"][0], "depth_mm": 1.5}
    with pytest.raises(ValueError, match=r"Make the bay deeper by 0\.48 mm"):
        build_wing(spec_from_dict({**LAYOUT, "servo_bay": [bay]}))
