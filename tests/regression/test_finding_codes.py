"""Every finding code about geometry: one shape that just gives it, and one that just does not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from shapes import BEAD_MM, layers_of, prism, sheared_box, slotted_box, stack

from wingpath import Finding, Mesh, WingBuild, build_wing, spec_from_dict
from wingpath.build.continuity import Continuity, Limits, judge_layers
from wingpath.build.mesh_check import prepared_mesh
from wingpath.core.findings import CODES

BOND_MM = 0.1
LIMITS = Limits(bond_mm=BOND_MM)

HAIR_MM = 0.005
"""How closely a limit is bracketed: above what outlines are straightened by, 0.003 mm."""


def judged(mesh: Mesh, *, strict: bool = True, **given: Any) -> Continuity:
    return judge_layers(layers_of(mesh), LIMITS, strict=strict, **given)


def severities(findings: tuple[Finding, ...], code: str) -> set[str]:
    return {finding.severity for finding in findings if finding.code == code}


def only(findings: tuple[Finding, ...], code: str) -> Finding:
    """Return the one finding with a code."""
    found = [finding for finding in findings if finding.code == code]
    assert len(found) == 1, found
    return found[0]


BOX = shapely.box(0.0, 0.0, 40.0, 8.0)


# --- contours and rings --------------------------------------------------------------------------------


def holed(slit_from: float) -> Mesh:
    """Return a box with a round hole and a slit that begins `slit_from` above the lower side."""
    hole = shapely.Point(20.0, 4.0).buffer(2.0)
    return prism(BOX - hole - shapely.box(19.96, slit_from, 20.04, 4.0), 2.0)


def test_second_contour_when_a_slit_stops_a_hair_short_of_the_outside() -> None:
    verdict = judged(holed(HAIR_MM))
    finding = only(verdict.findings, "second-contour")
    assert finding.severity == "error"
    assert finding.layers == (1, 8)
    assert (finding.found, finding.limit) == (2.0, 1.0)
    assert finding.x_mm is not None
    assert shapely.Point(20.0, 2.0).distance(shapely.Point(finding.x_mm, finding.y_mm)) < 4.1
    assert not verdict.proven
    assert set(verdict.verdicts) == {"second-contour"}


def test_no_second_contour_when_it_reaches_the_outside() -> None:
    verdict = judged(holed(-HAIR_MM))
    assert not severities(verdict.findings, "second-contour")
    assert verdict.proven


def test_second_contour_on_the_layers_with_an_island_only() -> None:
    island = shapely.union(BOX, shapely.box(42.0, 0.0, 48.0, 6.0))
    finding = only(judged(stack([BOX, BOX, island, island, island, BOX])).findings, "second-contour")
    assert finding.layers == (3, 5)
    assert finding.x_mm is not None
    assert finding.x_mm > 42.0


def necked(beads: float) -> Mesh:
    """Return a box with a slot that leaves a neck of some beads."""
    return prism(slotted_box([(20.0, 0.08, 8.0 - beads * BEAD_MM)]), 2.0)


@pytest.mark.parametrize(("beads", "found"), [(0.98, True), (1.02, False), (1.7, False)])
def test_pinch_when_a_neck_is_narrower_than_the_bead(beads: float, found: bool) -> None:
    verdict = judged(necked(beads))
    assert severities(verdict.findings, "pinch") == ({"error"} if found else set())
    assert verdict.layers.contours.tolist() == [1] * 8
    assert verdict.proven is not found
    if found:
        assert only(verdict.findings, "pinch").layers == (1, 8)
        assert only(verdict.findings, "pinch").found == 2.0


@pytest.mark.parametrize(("beads", "found"), [(0.98, True), (1.02, False)])
def test_empty_layer_when_all_of_it_is_thinner_than_the_bead(beads: float, found: bool) -> None:
    thin = shapely.box(0.0, 0.0, 40.0, beads * BEAD_MM)
    verdict = judged(stack([BOX, thin, BOX]))
    assert severities(verdict.findings, "empty-layer") == ({"error"} if found else set())
    if found:
        assert only(verdict.findings, "empty-layer").layers == (2, 2)


@pytest.mark.parametrize(("air", "found"), [(1, True), (0, False)])
def test_empty_layer_where_there_is_nothing_but_air(air: int, found: bool) -> None:
    verdict = judged(stack([BOX, *[shapely.Polygon()] * air, BOX]))
    assert severities(verdict.findings, "empty-layer") == ({"error"} if found else set())
    assert verdict.proven is not found


# --- support and starts --------------------------------------------------------------------------------


def shelf(aside_beads: float, wide: float = 8.0) -> Mesh:
    low = shapely.box(0.0, 0.0, 20.0, wide)
    return stack([low, low, shapely.box(0.0, 0.0, 20.0 + aside_beads * BEAD_MM, wide)])


@pytest.mark.parametrize(("beads", "found"), [(1.98, False), (2.02, True)])
def test_long_step_when_the_path_starts_over_two_beads_away(beads: float, found: bool) -> None:
    verdict = judged(shelf(beads))
    assert severities(verdict.findings, "long-step") == ({"error"} if found else set())
    assert verdict.step_mm[2] == pytest.approx(beads * BEAD_MM, abs=1e-6)
    if found:
        assert only(verdict.findings, "long-step").layers == (3, 3)


@pytest.mark.parametrize(("beads", "found"), [(1.15, set()), (1.25, {"error"})])
def test_airborne_when_a_wall_jumps_by_more_than_a_bead_and_a_bit(beads: float, found: set[str]) -> None:
    verdict = judged(shelf(beads))
    # a bead and what the slot bonds: 0.45 + 0.1 mm is 1.22 beads
    assert severities(verdict.findings, "airborne") == found


@pytest.mark.parametrize(
    ("piece", "severity", "shown"), [(5.05, "error", 5.0), (4.95, "warning", 0.0), (1.0, "warning", 0.0)]
)
def test_airborne_is_an_error_over_the_bridge_limit_and_a_warning_below(
    piece: float, severity: str, shown: float
) -> None:
    aside = 1.5
    reach = BEAD_MM + BOND_MM
    wide = piece + BEAD_MM - 2.0 * (aside * BEAD_MM - reach)
    verdict = judged(shelf(aside, wide=wide))
    finding = only(verdict.findings, "airborne")
    assert (finding.severity, finding.limit) == (severity, shown)
    assert finding.found == pytest.approx(piece, abs=0.01)
    assert finding.layers == (3, 3)


def test_the_bridge_limit_and_the_overhang_limit_are_the_filaments() -> None:
    layers = layers_of(shelf(1.5))
    strict = judge_layers(layers, Limits(bond_mm=BOND_MM, bridge_mm=20.0), strict=True)
    assert severities(strict.findings, "airborne") == {"warning"}
    leaning = layers_of(sheared_box(40.0, long=20.0, wide=8.0, high=3.0))
    for limit, found in ((45.0, set()), (30.0, {"note"})):
        verdict = judge_layers(leaning, Limits(bond_mm=BOND_MM, overhang_deg=limit), strict=True)
        assert severities(verdict.findings, "steep") == found


@pytest.mark.parametrize(("lean", "found"), [(45.0, False), (46.0, False), (48.5, True), (60.0, True)])
def test_steep_beyond_the_overhang_limit(lean: float, found: bool) -> None:
    # five per cent and a hundredth of a millimetre of room: 47.5 degrees at a layer of 0.25 mm
    verdict = judged(sheared_box(lean, long=20.0, wide=8.0, high=5.0))
    assert severities(verdict.findings, "steep") == ({"note"} if found else set())
    assert not severities(verdict.findings, "airborne")
    assert set(verdict.verdicts) == {"ok"}


# --- slots ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("strict", [True, False])
@pytest.mark.parametrize(("width", "found"), [(BOND_MM - HAIR_MM, False), (BOND_MM + HAIR_MM, True)])
def test_open_slot_when_it_is_wider_than_what_bonds(strict: bool, width: float, found: bool) -> None:
    verdict = judged(prism(slotted_box([(20.0, width, 7.3)]), 5.0), strict=strict)
    severity = "error" if strict else "warning"
    assert severities(verdict.findings, "open-slot") == ({severity} if found else set())
    if found:
        finding = only(verdict.findings, "open-slot")
        assert finding.layers == (1, 20)
        assert (finding.found, finding.limit) == (pytest.approx(width, abs=1e-6), BOND_MM)
        assert verdict.open_slot_mm == pytest.approx(np.full(20, 7.3), abs=1e-6)


@pytest.mark.parametrize("strict", [True, False])
@pytest.mark.parametrize(("beads", "found"), [(1.98, False), (2.1, True), (5.0, True)])
def test_loose_rib_when_a_slot_ends_over_two_beads_from_the_skin(
    strict: bool, beads: float, found: bool
) -> None:
    verdict = judged(necked(beads), strict=strict)
    severity = "error" if strict else "warning"
    assert severities(verdict.findings, "loose-rib") == ({severity} if found else set())
    for finding in verdict.findings:
        assert finding.found == pytest.approx(beads * BEAD_MM, abs=1e-6)
        assert finding.limit == pytest.approx(2.0 * BEAD_MM)


def test_loose_rib_is_a_note_where_the_design_stops_the_slot() -> None:
    asked: list[tuple[float, float]] = []

    def excuse(x_mm: float, z_mm: float) -> str | None:
        asked.append((x_mm, z_mm))
        return "stop there on purpose"

    verdict = judged(necked(3.0), excuse=excuse)
    assert severities(verdict.findings, "loose-rib") == {"note"}
    assert "stop there on purpose" in only(verdict.findings, "loose-rib").message
    assert {round(x, 6) for x, _ in asked} == {20.0}
    refused = judged(necked(3.0), excuse=lambda _x, _z: None)
    assert severities(refused.findings, "loose-rib") == {"error"}


def test_a_groove_in_the_skin_is_no_rib() -> None:
    # a slot less deep than two beads is not held against the far skin
    for depth, found in ((1.9 * BEAD_MM, False), (2.1 * BEAD_MM, True)):
        verdict = judged(prism(slotted_box([(20.0, 0.08, depth)]), 2.0))
        assert bool(severities(verdict.findings, "loose-rib")) is found


# --- what no bead fits into ----------------------------------------------------------------------------


def finned(length: float) -> Mesh:
    """Return a box with a fin of 0.4 mm, thinner than a bead, at its end."""
    return prism(shapely.union(BOX, shapely.box(39.0, 3.0, 40.0 + length, 3.4)), 2.0)


@pytest.mark.parametrize(("area", "found"), [(1.1, "warning"), (0.9, "note"), (0.1, "note")])
def test_thin_lost_warns_over_a_square_millimetre_and_notes_below(area: float, found: str) -> None:
    verdict = judged(finned(area / 0.4))
    assert severities(verdict.findings, "thin-lost") == {found}
    finding = only(verdict.findings, "thin-lost")
    # where the fin leaves the box the bead reaches half its width less into the corner: 0.02 mm2
    assert finding.found == pytest.approx(area, abs=0.03)
    assert verdict.lost_mm2 == pytest.approx(np.full(8, area), abs=0.03)


def test_nothing_is_lost_where_a_bead_fits() -> None:
    thick = prism(shapely.union(BOX, shapely.box(39.0, 3.0, 43.0, 3.0 + 1.05 * BEAD_MM)), 2.0)
    assert not severities(judged(thick).findings, "thin-lost")


def test_a_closing_tip_may_lose_what_it_likes() -> None:
    assert severities(judged(finned(5.0), closing_from_mm=0.0).findings, "thin-lost") == {"note"}
    assert "warning" in severities(judged(finned(5.0), closing_from_mm=1.0).findings, "thin-lost")


def test_a_strip_between_two_slots_is_a_note() -> None:
    # 0.4 mm of solid between two slots of 6 mm: 2.4 mm2 that no bead fits into
    pair = slotted_box([(19.74, 0.08, 6.0), (20.22, 0.08, 6.0)])
    finding = only(judged(prism(pair, 2.0)).findings, "thin-lost")
    assert (finding.severity, finding.unit) == ("note", "mm2")
    assert finding.found == pytest.approx(2.4, abs=0.2)
    assert "between two slots" in finding.message
    apart = slotted_box([(19.6, 0.08, 6.0), (20.22, 0.08, 6.0)])
    assert not severities(judged(prism(apart, 2.0)).findings, "thin-lost")


# --- the mesh as a whole -------------------------------------------------------------------------------


def checked(mesh: Mesh) -> tuple[Finding, ...]:
    return prepared_mesh(mesh)[2]


def two_boxes(apart: float) -> Mesh:
    one = prism(BOX, 5.0)
    other = one.moved((40.0 + apart, 0.0, 0.0))
    return Mesh(
        np.vstack([one.vertices, other.vertices]), np.vstack([one.faces, other.faces + len(one.vertices)])
    )


def test_open_mesh_when_one_triangle_is_missing() -> None:
    whole = prism(BOX, 5.0)
    assert checked(whole) == ()
    finding = only(checked(Mesh(whole.vertices, whole.faces[1:])), "open-mesh")
    assert finding.severity == "warning"
    assert finding.found == 3.0
    assert None not in (finding.x_mm, finding.y_mm, finding.z_mm)


@pytest.mark.parametrize(("apart", "found"), [(-0.01, True), (0.01, False)])
def test_overlapping_solids(apart: float, found: bool) -> None:
    assert severities(checked(two_boxes(apart)), "overlapping-solids") == ({"warning"} if found else set())


def test_inside_out_when_the_surface_faces_inward() -> None:
    whole = prism(BOX, 5.0)
    assert not severities(checked(whole), "inside-out")
    ready, _, findings = prepared_mesh(Mesh(whole.vertices, whole.faces[:, ::-1]))
    assert only(findings, "inside-out").severity == "warning"
    assert only(findings, "inside-out").found == len(whole.faces)
    # turned for the judging: the layers are those of the box
    assert layers_of(ready).area_mm2 == pytest.approx(np.full(20, 320.0))


def test_inside_out_when_a_single_triangle_is_turned() -> None:
    whole = prism(BOX, 5.0)
    faces = whole.faces.copy()
    faces[3] = faces[3, ::-1]
    assert only(checked(Mesh(whole.vertices, faces)), "inside-out").found == 1.0


@pytest.mark.parametrize(("extent", "found"), [(4.99, True), (5.01, False), (2999.0, False), (3001.0, True)])
def test_odd_scale(extent: float, found: bool) -> None:
    box = prism(shapely.box(0.0, 0.0, 0.6 * extent, 0.1 * extent), extent)
    assert severities(checked(box), "odd-scale") == ({"warning"} if found else set())
    if found:
        assert only(checked(box), "odd-scale").found == pytest.approx(extent)


# --- the build -----------------------------------------------------------------------------------------


def plain_wing(span: float = 50.0, chord: float = 60.0, **tables: Any) -> dict[str, Any]:
    station = {"chord_mm": chord, "airfoil": "naca0012"}
    return {
        "station": [{"span_mm": 0.0, **station}, {"span_mm": span, **station}],
        "wing": {"tip": "open"},
        "ribs": {"run": "none"},
        "panels": {"joints_mm": []},
        "print": {"layer_mm": 0.5, "bead_mm": 0.7},
        **tables,
    }


Build = Callable[[dict[str, Any]], WingBuild]


@pytest.mark.parametrize(("span", "found"), [(50.0, False), (50.1, True)])
def test_too_big_when_a_panel_is_higher_than_the_printer(built: Build, span: float, found: bool) -> None:
    build = built(plain_wing(span, printer={"height_mm": 50.0}))
    assert severities(build.findings, "too-big") == ({"error"} if found else set())
    if found:
        finding = only(build.findings, "too-big")
        assert (finding.found, finding.limit) == (pytest.approx(50.1), 50.0)
        assert finding.panel == "panel-1"


@pytest.mark.parametrize(("bed", "found"), [(60.5, False), (40.0, True)])
def test_too_big_when_the_footprint_is_larger_than_the_bed(built: Build, bed: float, found: bool) -> None:
    # 60 mm of chord, 7.2 mm thick; on a bed of 40 mm even the diagonal is too short
    build = built(plain_wing(printer={"bed_x_mm": bed, "bed_y_mm": 40.0, "margin_mm": 0.0}))
    assert severities(build.findings, "too-big") == ({"error"} if found else set())


@pytest.mark.parametrize(("chord", "found"), [(41.0, True), (48.0, False)])
def test_no_rib_when_the_section_is_too_thin(built: Build, chord: float, found: bool) -> None:
    # a rib needs 1.5 beads of depth and a neck of 1.7: 2.56 mm; 6 per cent of 41 mm are 2.46 mm, and of
    # 48 mm 2.88 mm at the thickest place, which a rib every 8 mm that leans by 45 degrees must pass
    data = plain_wing(chord=chord, ribs={"pitch_mm": 8.0})
    data["wing"]["trailing_edge_mm"] = 0.2
    for station in data["station"]:
        station["airfoil"] = "naca0006"
    data["print"]["bead_mm"] = 0.8
    build = built(data)
    assert severities(build.findings, "no-rib") == ({"note"} if found else set())


def test_no_rib_is_silent_when_no_ribs_are_asked_for(built: Build) -> None:
    assert not severities(built(plain_wing()).findings, "no-rib")


@pytest.mark.parametrize(("calibrated", "found"), [("false", {"note"}), ("true", set())])
def test_uncalibrated_until_the_profile_says_it_was_measured(
    tmp_path: Path, calibrated: str, found: set[str]
) -> None:
    profile = tmp_path / "mine.toml"
    profile.write_text(
        f"""
        name = "mine"
        title = "a spool of mine"
        source = "weighed and measured for this test"
        calibrated = {calibrated}
        density_g_cm3 = 1.2
        foaming = [{{ temperature_c = 200.0, ratio = 1.0 }}, {{ temperature_c = 240.0, ratio = 3.0 }}]
        temperature_min_c = 190.0
        temperature_max_c = 260.0
        melt_rate_mm3_s = 4.0
        e_modulus_mpa = 3000.0
        strength_mpa = 30.0
        stiffness_exponent = 2.0
        strength_exponent = 1.5
        z_stiffness = 0.7
        z_strength = 0.5
        poisson = 0.3
        """
    )
    spec = spec_from_dict(plain_wing(filament={"profile": "mine.toml"}))
    build = build_wing(spec, base_dir=tmp_path)
    assert severities(build.findings, "uncalibrated") == found


def test_open_slot_through_a_build_is_held_against_the_filament(built: Build) -> None:
    # the stock filament foams 2.44 times at 230 degrees: at flow 0.5 it bridges 0.22 beads, 0.154 mm here
    for width, found in ((0.14, set()), (0.17, {"error"})):
        data = plain_wing(ribs={"run": "aft", "pitch_mm": 20.0}, slots={"width_mm": width})
        assert severities(built(data).findings, "open-slot") == found


# --- all of it -----------------------------------------------------------------------------------------


def test_every_code_stands_in_a_test_of_this_folder() -> None:
    text = "".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    missing = [code for code in CODES if f'"{code}"' not in text]
    assert missing == []


def test_consecutive_layers_of_one_cause_are_one_finding() -> None:
    island = shapely.union(BOX, shapely.box(42.0, 0.0, 48.0, 6.0))
    verdict = judged(stack([island, BOX, island, island, BOX, BOX, island]))
    ranges = [f.layers for f in verdict.findings if f.code == "second-contour"]
    assert ranges == [(1, 1), (3, 4), (7, 7)]


def test_verdicts_name_errors_and_warnings_of_each_layer_and_no_notes() -> None:
    verdict = judged(stack([BOX, BOX, shapely.Polygon(), BOX]))
    # what lies over the air hangs in it
    assert verdict.verdicts == ("ok", "ok", "empty-layer", "airborne")
    finny = judged(finned(2.0))
    assert severities(finny.findings, "thin-lost") == {"note"}
    assert set(finny.verdicts) == {"ok"}


def test_a_clean_solid_has_nothing_to_say() -> None:
    assert judged(prism(slotted_box([(20.0, 0.08, 7.235)]), 5.0)).findings == ()
