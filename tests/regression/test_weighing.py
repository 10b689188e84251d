"""Weights of built wings, held against their programs, their layers and sums by hand."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from programs import job_of, program_of
from wings import SMALL_WING

from wingpath import WingBuild
from wingpath.core.errors import InputError, SpecError
from wingpath.geometry.outline import surface_chains
from wingpath.model.spec import CompareSpec
from wingpath.pipeline.weighing import WingWeights, comparison_mass_g, strips_of, weigh_wing
from wingpath.structure.mass import combined, mass_of_line

Build = Callable[[dict[str, Any]], WingBuild]

SUM = 1e-9
"""Sums of the same numbers in another order, as a share."""

ROUNDED = 2e-4
"""Filament lengths and places in a program are rounded, a few thousandths of a short move, either way."""

PLACE_MM = 0.01
"""A centre that is worked out from rounded places and lengths [mm]."""

NO_PATH_SHARE = 0.03
"""Borders of layers against the path: steps between loops, corners cut within its tolerance, and the first
layers' own flow, on a wing of 200 layers."""

BY_HAND = 0.03
"""The bead that crosses over the end of a slot against the half bead at its foot that is the skin's."""

BORE_BY_HAND = 0.05
"""The corners where the ring meets its slit, and half a bead at the foot that is the skin's."""

FITTED: dict[str, Any] = {
    "name": "Sedge 170",
    "station": [
        {"span_mm": 0.0, "chord_mm": 150.0, "airfoil": "naca2412"},
        {"span_mm": 170.0, "chord_mm": 130.0, "airfoil": "naca2412"},
    ],
    "ribs": {"pitch_mm": 30.0},
    "tube": [{"outer_mm": 6.0, "inner_mm": 4.0, "from_mm": 0.0, "to_mm": 90.0, "chord_fraction": 0.3}],
    "pin": [{"chord_fraction": 0.6, "diameter_mm": 2.0, "length_mm": 16.0}],
    "servo_bay": [
        {"span_mm": 72.0, "length_mm": 20.0, "width_mm": 16.0, "depth_mm": 6.0, "chord_fraction": 0.5,
         "frame": True}
    ],
    "aileron": [{"from_mm": 95.0, "to_mm": 130.0, "hinge_fraction": 0.75}],
    "item": [
        {"name": "servo", "mass_g": 9.0, "span_mm": 82.0, "chord_fraction": 0.5},
        {"name": "paint", "mass_g": 3.0, "span_mm": 55.0},
    ],
    "panels": {"joints_mm": [50.0], "glue_mm": 0.2},
}  # fmt: skip
"""Everything that weighs something, in two panels, an aileron and a cover."""

DENSITY = 1.24
"""Of the shipped foaming PLA as filament [g/cm3]."""


@pytest.fixture(scope="module")
def small(small_build: WingBuild) -> WingWeights:
    return weigh_wing(small_build)


@pytest.fixture(scope="module")
def fitted_build(built: Build) -> WingBuild:
    return built(FITTED)


@pytest.fixture(scope="module")
def fitted(fitted_build: WingBuild) -> WingWeights:
    return weigh_wing(fitted_build)


def test_printed_mass_is_that_of_the_paths(small_build: WingBuild, small: WingWeights) -> None:
    paths = [part.path for part in small_build.parts]
    assert small.printed_mass_g == pytest.approx(
        sum(path.printed_mass_g for path in paths if path is not None), rel=SUM
    )
    assert [part.name for part in small.printed] == [part.name for part in small_build.parts]


@pytest.mark.parametrize("number", [0, 1])
def test_mass_and_centre_are_those_of_the_written_program(
    small_build: WingBuild, small: WingWeights, number: int
) -> None:
    program, job = program_of(small_build, number), job_of(small_build, number)
    of_part = program.layer >= 0
    mass = program.filament_mm * np.pi * 1.75**2 / 4.0 * DENSITY / 1000.0
    part = small.printed[number]
    assert part.mass_g == pytest.approx(mass[of_part].sum(), rel=ROUNDED)
    # back from the bed: half turns of the place that the part was given, its middle put back
    turn = np.deg2rad(job.place.turn_deg)
    flat = program.points[:, :2] - job.centre_mm + [job.place.middle_x_mm, job.place.middle_y_mm]
    unturned = flat @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    start = small_build.parts[number].solid.panel.start_mm
    points = np.column_stack([unturned, program.points[:, 2] - 0.5 * 0.25 + start])
    line = mass_of_line(points, np.where(of_part, mass, 0.0))
    assert part.centre_mm == pytest.approx(line.centre_mm, abs=PLACE_MM)
    assert part.inertia_g_mm2 == pytest.approx(line.inertia_g_mm2, rel=1e-3, abs=1e-3 * line.mass_g * 100.0)


def test_right_part_is_the_mirror_image(small_build: WingBuild, small: WingWeights) -> None:
    left, right = small.half("left"), small.half("right")
    assert right.centre_mm == pytest.approx(left.centre_mm * [1.0, -1.0, 1.0])
    path = small_build.parts[0].path
    assert path is not None
    first = int(np.argmax(path.toolpath.of_part))
    points = path.toolpath.points[first:] * [1.0, -1.0, 1.0] - [0.0, 0.0, 0.125]
    mirrored = mass_of_line(points, path.toolpath.volume_mm3[first:] * DENSITY / 1000.0)
    assert small.printed[0].mirrored_y().centre_mm == pytest.approx(mirrored.centre_mm)
    assert small.printed[0].mirrored_y().inertia_g_mm2 == pytest.approx(mirrored.inertia_g_mm2)
    with pytest.raises(InputError, match="hand: got 'both'"):
        small.half("both")


@pytest.mark.parametrize("name", ["small", "fitted"])
def test_shares_add_up_to_the_printed_mass(name: str, request: pytest.FixtureRequest) -> None:
    weights: WingWeights = request.getfixturevalue(name)
    assert weights.shares.total_g == pytest.approx(weights.printed_mass_g, rel=SUM)
    assert weights.whole.mass_g == pytest.approx(sum(part.mass_g for part in weights.parts), rel=SUM)


def test_a_wing_without_ribs_has_none(built: Build) -> None:
    bare = {key: SMALL_WING[key] for key in ("name", "station", "slots", "panels")}
    shares = weigh_wing(built({**bare, "ribs": {"run": "none"}})).shares
    assert (shares.ribs_g, shares.webs_g, shares.fittings_g) == (0.0, 0.0, 0.0)
    assert shares.skin_g > 0.0
    ribbed = weigh_wing(built({**bare, "ribs": {"pitch_mm": 22.0}})).shares
    assert ribbed.ribs_g > 0.1 * ribbed.skin_g
    assert (ribbed.webs_g, ribbed.fittings_g) == (0.0, 0.0)
    # ribs take nothing from the skin but their own feet
    assert ribbed.skin_g == pytest.approx(shares.skin_g, rel=0.05)


@pytest.mark.parametrize("kind", ["ribs", "webs"])
def test_ribs_and_webs_weigh_what_their_depth_says(built: Build, kind: str) -> None:
    """A rib or web is two beads as high as its slot is deep, summed over the layers by hand."""
    bare = {key: SMALL_WING[key] for key in ("name", "station", "slots", "panels")}
    tables = {
        "ribs": {"ribs": {"pitch_mm": 22.0}},
        "webs": {"ribs": {"run": "none"}, "spar_web": [{"chord_fraction": 0.5}]},
    }
    build = built(bare | tables[kind])
    shares = weigh_wing(build).shares
    settings = build.design.spec.print
    section = (settings.bead_mm - settings.layer_mm) * settings.layer_mm + np.pi * settings.layer_mm**2 / 4.0
    length = 0.0
    for panel in build.panels:
        for slot in panel.solid.slots:
            z = panel.continuity.layers.z_mm + panel.solid.panel.start_mm
            z = z[(z > slot.z_mm[0]) & (z < slot.z_mm[-1])]
            x = np.interp(z, slot.z_mm, slot.x_mm)
            foot = [np.interp(a, *_lower(build, h)) for h, a in zip(z, x, strict=True)]
            length += 2.0 * float(np.maximum(np.interp(z, slot.z_mm, slot.inner_mm) - foot, 0.0).sum())
    by_hand = length * section * settings.flow * DENSITY / 1000.0
    assert {"ribs": shares.ribs_g, "webs": shares.webs_g}[kind] == pytest.approx(by_hand, rel=BY_HAND)
    assert {"ribs": shares.webs_g, "webs": shares.ribs_g}[kind] == 0.0


def test_a_bore_weighs_its_ring_and_its_slit(built: Build) -> None:
    """Round the tube at half a bead, down to the skin on both sides of the slit, layer by layer by hand."""
    bare = {key: SMALL_WING[key] for key in ("name", "station", "slots", "panels", "tube")}
    build = built({**bare, "ribs": {"run": "none"}})
    settings, (bore,) = build.design.spec.print, build.design.voids.bores
    section = (settings.bead_mm - settings.layer_mm) * settings.layer_mm + np.pi * settings.layer_mm**2 / 4.0
    length = 0.0
    for panel in build.panels:
        z = panel.continuity.layers.z_mm + panel.solid.panel.start_mm
        for height in z[z < bore.to_mm]:
            x, y = bore.centre_mm(height)
            foot = float(np.interp(x, *_lower(build, height)))
            length += 2.0 * np.pi * (bore.radius_mm + 0.5 * settings.bead_mm) - settings.bead_mm
            length += 2.0 * (y - bore.radius_mm - foot)
    by_hand = length * section * settings.flow * DENSITY / 1000.0
    shares = weigh_wing(build).shares
    assert shares.fittings_g == pytest.approx(by_hand, rel=BORE_BY_HAND)
    assert (shares.ribs_g, shares.webs_g) == (0.0, 0.0)


def _lower(build: WingBuild, z_mm: float) -> np.ndarray:
    return surface_chains(build.design.body.section(z_mm))[0].T


def test_fittings_are_counted_where_there_are_some(small: WingWeights, fitted: WingWeights) -> None:
    assert small.shares.fittings_g > 0.0
    assert small.shares.webs_g > 0.0
    assert fitted.shares.fittings_g > small.shares.fittings_g
    assert fitted.shares.webs_g == 0.0


def test_tube_pin_glue_and_items_by_hand(fitted_build: WingBuild, fitted: WingWeights) -> None:
    (tube,), (pin,), (glue,) = (fitted.of_kind(kind) for kind in ("tube", "pin", "glue"))
    bore = next(bore for bore in fitted_build.design.voids.bores if bore.name == "tube[0]")
    length = np.hypot(90.0, np.linalg.norm(bore.end - bore.start))
    assert tube.mass_g == pytest.approx(np.pi / 4.0 * (36.0 - 16.0) * length * 1.55 / 1000.0)
    assert tube.centre_mm[2] == pytest.approx(45.0)
    assert tube.centre_mm[0] == pytest.approx(0.5 * (0.3 * 150.0 + 0.3 * (150.0 - 20.0 * 90.0 / 170.0)))
    assert pin.mass_g == pytest.approx(np.pi * 16.0 * 1.55 / 1000.0)
    assert pin.centre_mm[2] == pytest.approx(50.0)
    inner, outer = fitted_build.panels
    shorter = min(inner.continuity.layers.path_mm[-1], outer.continuity.layers.path_mm[0])
    assert glue.mass_g == pytest.approx(0.2 * shorter * 0.45 * 1.1 / 1000.0)
    assert glue.centre_mm[2] == pytest.approx(50.0)
    servo, paint = fitted.of_kind("item")
    assert (servo.name, servo.mass_g, paint.mass_g) == ("servo", 9.0, 3.0)
    chord = 150.0 - 20.0 * 82.0 / 170.0
    assert servo.centre_mm[0] == pytest.approx(0.5 * chord)
    assert servo.centre_mm[2] == 82.0
    # mid thickness of 2412 there is its mean line, 0.02 / 0.36 (0.2 + 0.8 x - x^2) chords at x = 0.5
    assert servo.centre_mm[1] == pytest.approx(0.02 / 0.36 * 0.35 * chord, rel=0.02)


def test_all_parts_lie_where_they_are_in_the_wing(fitted_build: WingBuild, fitted: WingWeights) -> None:
    parts = {part.name: part for part in fitted.printed}
    assert set(parts) == {"panel-1", "panel-2", "aileron-1", "cover-1"}
    for made in fitted_build.parts:
        low, high = made.solid.mesh.moved((0.0, 0.0, made.solid.panel.start_mm)).bounds
        centre = parts[made.name].centre_mm
        assert np.all(centre > low), made.name
        assert np.all(centre < high), made.name
    aileron = parts["aileron-1"].centre_mm
    assert aileron[0] > fitted_build.design.voids.ailerons[0].hinge_mm(float(aileron[2]))[0]


def test_the_whole_is_the_sum_of_its_parts(fitted: WingWeights) -> None:
    again = combined(fitted.parts)
    assert fitted.centre_mm == pytest.approx(again.centre_mm)
    moment = sum(part.mass_g * part.centre_mm for part in fitted.parts)
    assert fitted.centre_mm == pytest.approx(moment / fitted.mass_g)
    assert np.all(np.linalg.eigvalsh(fitted.inertia_g_mm2) > 0.0)


def test_strips_hold_the_whole_half_wing(fitted: WingWeights) -> None:
    edges = np.array([0.0, 10.0, 49.0, 82.0, 90.0, 170.0])
    strips = strips_of(fitted, edges)
    assert strips.mass_g.sum() == pytest.approx(fitted.mass_g, rel=SUM)
    assert strips.mass_g @ strips.x_mm == pytest.approx(fitted.mass_g * fitted.centre_mm[0], rel=SUM)
    assert strips.mass_g[3] > 9.0, "the servo stands on the border and counts outboard of it"
    assert np.all(strips.x_mm > 0.0)
    with pytest.raises(InputError, match="edges_mm"):
        strips_of(fitted, [3.0, 2.0])


def test_without_a_path_the_layers_are_weighed(small_build: WingBuild, small: WingWeights) -> None:
    pathless = replace(small_build, panels=tuple(replace(p, path=None) for p in small_build.panels))
    weights = weigh_wing(pathless)
    assert weights.printed_mass_g == pytest.approx(small.printed_mass_g, rel=NO_PATH_SHARE)
    settings = small_build.design.spec.print
    section = (settings.bead_mm - settings.layer_mm) * settings.layer_mm + np.pi * settings.layer_mm**2 / 4.0
    length = sum(float(panel.continuity.layers.path_mm.sum()) for panel in small_build.panels)
    assert weights.printed_mass_g == pytest.approx(
        length * section * settings.flow * DENSITY / 1000.0, rel=SUM
    )
    assert weights.centre_mm == pytest.approx(small.centre_mm, abs=0.3)
    assert weights.shares.ribs_g == pytest.approx(small.shares.ribs_g, rel=0.05)
    assert weights.shares.brim_g == 0.0


def test_brim_stands_apart(small_build: WingBuild, small: WingWeights) -> None:
    paths = [part.path for part in small_build.parts if part.path is not None]
    assert small.shares.brim_g == pytest.approx(
        sum(path.extruded_mass_g - path.printed_mass_g for path in paths)
    )
    assert small.shares.brim_g > 0.0


def test_the_same_wing_made_otherwise(built: Build) -> None:
    """A straight wing of constant section: perimeter and area of its outline times its span."""
    straight = {
        "name": "Sedge 20",
        "station": [{"span_mm": 0.0, "chord_mm": 100.0}, {"span_mm": 20.0, "chord_mm": 100.0}],
        "ribs": {"run": "none"},
        "wing": {"tip": "open"},
        "panels": {"joints_mm": []},
    }
    design = built(straight).design
    ring = design.body.section(10.0)
    x, y = np.vstack([ring, ring[:1]]).T
    perimeter = float(np.hypot(np.diff(x), np.diff(y)).sum())
    area = 0.5 * float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum())
    skin = comparison_mass_g(design, CompareSpec(skin_g_dm2=6.0))
    core = comparison_mass_g(design, CompareSpec(core_g_cm3=0.025))
    assert skin == pytest.approx(6.0 * perimeter * 20.0 / 10_000.0)
    assert core == pytest.approx(0.025 * area * 20.0 / 1000.0)
    both = CompareSpec(skin_g_dm2=6.0, core_g_cm3=0.025)
    assert comparison_mass_g(design, both) == pytest.approx(skin + core)
    assert comparison_mass_g(design, CompareSpec()) == 0.0


def test_a_tube_of_nothing_known(built: Build) -> None:
    tube = {**SMALL_WING["tube"][0], "material": "unobtainium"}
    with pytest.raises(SpecError, match=r"tube\[0\]\.material"):
        weigh_wing(built({**SMALL_WING, "tube": [tube]}))
