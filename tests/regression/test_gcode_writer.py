"""What stands in a written program, read back by an independent parser, and what is refused before."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from programs import (
    PATH_BEGINS,
    PATH_ENDS,
    ROUND_E_MM,
    ROUND_MM,
    Program,
    job_of,
    program_of,
    read_program,
)
from shapes import BEAD_MM, LAYER_MM, layers_of, prism
from wings import SMALL_WING

import wingpath.io.gcode as gcode
from wingpath import WingBuild, build_document, design_wing, spec_from_dict, write_build
from wingpath.build.brim import Brim
from wingpath.build.continuity import judge_layers
from wingpath.build.loops import Loops
from wingpath.build.path_heights import path_heights
from wingpath.build.path_rates import path_rates
from wingpath.build.toolpath import toolpath_from_loops
from wingpath.core.errors import InputError, SpecError
from wingpath.io.gcode import gcode_chunks, write_gcode
from wingpath.io.profile_store import dump_filament, load_filament, profiles_folder
from wingpath.pipeline.printing_document import time_text
from wingpath.pipeline.tracing import trace_part
from wingpath.pipeline.writing import gcode_job

Build = Callable[[dict[str, Any]], WingBuild]

TINY: dict[str, Any] = {
    "name": "Sedge 8",
    "station": [
        {"span_mm": 0.0, "chord_mm": 40.0, "airfoil": "naca2412"},
        {"span_mm": 8.0, "chord_mm": 38.0, "airfoil": "naca2412"},
    ],
    "ribs": {"run": "none"},
    "wing": {"tip": "open"},
    "panels": {"joints_mm": []},
}
"""One panel of 32 layers, each a plain loop of some 80 mm."""

LAYERS = 32
BEAD_AREA = (BEAD_MM - LAYER_MM) * LAYER_MM + np.pi * LAYER_MM**2 / 4.0
FILAMENT_AREA = np.pi * 1.75**2 / 4.0
DENSITY = 1.24
"""Of foaming PLA, before it foams [g/cm3]."""

LONG_MM = 0.5
"""On moves this long rounding of their ends changes their length by half a per cent at most [mm]."""

LENGTH_SHARE = 4.0 * ROUND_MM / LONG_MM
STEP_SHARE = 0.03
"""A layer's moves hold the step from the loop below, of up to two beads on 80 mm."""


def tiny(**tables: Any) -> dict[str, Any]:
    return {**TINY, **tables}


def text_of(build: WingBuild, hand: str = "left") -> str:
    return "".join(gcode_chunks(job_of(build, 0, hand)))


def codes(build: WingBuild) -> dict[str, str]:
    return {finding.code: finding.severity for finding in build.findings}


def flow_of(program: Program) -> np.ndarray:
    """Extruded over nominal volume of each move, the bead being as high as a layer."""
    return program.filament_mm * FILAMENT_AREA / (program.length_mm * BEAD_AREA)


def by_layer(program: Program, values: np.ndarray) -> np.ndarray:
    """Sums of a column over each layer."""
    inside = program.layer >= 0
    return np.bincount(program.layer[inside], weights=values[inside])


# --- relative, absolute, origin, hand --------------------------------------------------------------------


@pytest.mark.parametrize("arcs", [False, True])
def test_relative_and_absolute_say_the_same(built: Build, arcs: bool) -> None:
    one = program_of(built(tiny(printer={"arcs": arcs})))
    two = program_of(built(tiny(printer={"arcs": arcs, "relative_extrusion": False})))
    assert np.array_equal(one.points, two.points)
    assert np.array_equal(one.speed_mm_s, two.speed_mm_s)
    assert one.filament_mm == pytest.approx(two.filament_mm, abs=1e-9)
    # relative numbers are each small, absolute ones grow to the whole
    assert one.count_mm.max() < 2.0
    assert two.count_mm[-1] == pytest.approx(one.filament_mm.sum(), abs=1e-9)
    assert [line.partition(" E")[0] for line in one.body[2:]] == [
        line.partition(" E")[0] for line in two.body[2:]
    ]


@pytest.mark.parametrize("arcs", [False, True])
def test_an_absolute_count_starts_again_at_loops(
    built: Build, monkeypatch: pytest.MonkeyPatch, arcs: bool
) -> None:
    build = built(tiny(printer={"arcs": arcs, "relative_extrusion": False}))
    plain = program_of(build)
    monkeypatch.setattr(gcode, "RESTART_MM", 10.0)
    often = program_of(build)
    assert plain.body.count("G92 E0") == 1
    again = [at for at, line in enumerate(often.body) if line == "G92 E0"][1:]
    # 70 mm of filament, of which a loop takes under 2 and the brim 15
    assert len(again) >= 5
    assert all(often.body[at - 1].startswith("; layer ") for at in again)
    assert plain.count_mm.max() > 50.0
    high = often.count_mm[often.layer > 0].max()
    assert 10.0 < high < 10.0 + by_layer(plain, plain.filament_mm).max() + ROUND_E_MM
    # a count that has grown past 10 starts anew at the next loop, and not before
    falls = np.flatnonzero(np.diff(often.count_mm) < 0.0)
    assert len(falls) == len(again)
    assert often.count_mm[falls].min() > 10.0
    assert np.array_equal(often.layer[falls] + 1, often.layer[falls + 1])
    assert np.array_equal(plain.points, often.points)
    assert often.filament_mm == pytest.approx(plain.filament_mm, abs=1e-9)


def test_relative_lengths_never_restart(built: Build, monkeypatch: pytest.MonkeyPatch) -> None:
    build = built(TINY)
    plain = text_of(build)
    monkeypatch.setattr(gcode, "RESTART_MM", 10.0)
    assert text_of(build) == plain


@pytest.mark.parametrize(
    "printer",
    [{}, {"relative_extrusion": False}, {"arcs": True}, {"arcs": True, "relative_extrusion": False}],
)
def test_how_much_is_written_at_once_changes_nothing(
    built: Build, monkeypatch: pytest.MonkeyPatch, printer: dict[str, Any]
) -> None:
    monkeypatch.setattr(gcode, "RESTART_MM", 10.0)
    build = built(tiny(printer=printer, print={"unfoamed_mm": 2.0}))
    texts = []
    for moves in (1, 150, 10**6):
        monkeypatch.setattr(gcode, "STRETCH_MOVES", moves)
        texts.append(text_of(build))
    assert texts[0] == texts[1] == texts[2]


def test_the_origin_is_a_corner_or_the_middle_of_the_bed(built: Build) -> None:
    corner = program_of(built(TINY))
    centre = program_of(built(tiny(printer={"bed_origin": "centre"})))
    # half of 220 x 220
    assert corner.points - centre.points == pytest.approx(
        np.broadcast_to([110.0, 110.0, 0.0], corner.points.shape), abs=1e-9
    )
    assert np.array_equal(corner.filament_mm, centre.filament_mm)
    wide = program_of(built(tiny(printer={"bed_x_mm": 300.0, "bed_y_mm": 150.0})))
    assert wide.points - centre.points == pytest.approx(
        np.broadcast_to([150.0, 75.0, 0.0], corner.points.shape), abs=1e-9
    )


@pytest.mark.parametrize(
    ("printer", "middle"), [({}, 110.0), ({"bed_origin": "centre"}, 0.0), ({"bed_y_mm": 150.0}, 75.0)]
)
def test_the_right_hand_is_the_left_one_mirrored_about_the_middle_line(
    built: Build, printer: dict[str, Any], middle: float
) -> None:
    build = built(tiny(printer=printer))
    left, right = (program_of(build, 0, hand) for hand in ("left", "right"))
    assert right.points[:, [0, 2]] == pytest.approx(left.points[:, [0, 2]], abs=1e-9)
    assert right.points[:, 1] == pytest.approx(2.0 * middle - left.points[:, 1], abs=2.0 * ROUND_MM)
    assert np.array_equal(left.filament_mm, right.filament_mm)
    assert np.array_equal(left.speed_mm_s, right.speed_mm_s)
    # the camber makes the two differ
    assert np.abs(right.points[:, 1] - left.points[:, 1]).max() > 1.0


def test_the_left_part_lies_as_its_mesh_does(built: Build) -> None:
    """Seen from above: x aft, y up, and the nozzle goes round anticlockwise."""
    for hand, sense in (("left", 1.0), ("right", -1.0)):
        program = program_of(built(TINY), 0, hand)
        loop = program.points[1:][program.layer == 10][:, :2]
        ring = shapely.LinearRing(loop)
        assert ring.is_ccw == (sense > 0.0)
        region = built(TINY).panels[0].continuity.layers.paths[10]
        box, part = shapely.bounds(ring), shapely.bounds(region)
        size = [part[2] - part[0], part[3] - part[1]]
        assert [box[2] - box[0], box[3] - box[1]] == pytest.approx(size, abs=0.05)
        # the thickest place is in front of the middle, and above it for the left hand
        middle = shapely.Polygon(loop).centroid
        assert middle.x - box[0] < 0.5 * size[0]
        flat = (shapely.Polygon(region).centroid if region.geom_type == "LinearRing" else region.centroid).y
        assert middle.y - box[1] == pytest.approx(flat - part[1] if sense > 0.0 else part[3] - flat, abs=0.05)


@pytest.mark.parametrize("hand", ["", "both", "Left"])
def test_other_hands_are_refused(built: Build, hand: str) -> None:
    build = built(TINY)
    with pytest.raises(InputError, match="allowed: left or right"):
        gcode_job(build, build.parts[0], hand)


@pytest.mark.parametrize("printer", [{}, {"arcs": True}])
def test_the_written_path_keeps_within_its_tolerance_of_the_proven_one(
    built: Build, printer: dict[str, Any]
) -> None:
    short = {**SMALL_WING, "panels": {"joints_mm": [40.0]}}
    build = built({**short, "printer": {**printer, "bed_origin": "centre"}})
    part, program = build.parts[1], program_of(build, 1)
    assert part.path is not None
    place, tolerance = part.path.place, part.path.tolerance_mm
    # slots of 0.08 mm, and both beads of a rib have to stay where they fuse
    assert tolerance == pytest.approx(0.5 * (build.design.limits.bond_mm - 0.08))
    assert place.turn_deg == 0.0
    shift = np.array([place.middle_x_mm, place.middle_y_mm])
    seen: dict[int, list[np.ndarray]] = {}
    for row, layer in enumerate(program.layer.tolist()):
        # the first move of a loop is the step from the one below
        if layer >= 0 and program.layer[row - 1] == layer:
            seen.setdefault(layer, []).append(along(program, row) + shift)
    assert len(seen) == 40
    for layer, runs in seen.items():
        ring = shapely.boundary(part.continuity.layers.paths[layer])
        away = shapely.distance(ring, shapely.points(np.concatenate(runs)))
        # places are rounded to a micrometre
        assert away.max() <= tolerance + 2.0 * ROUND_MM


def along(program: Program, row: int) -> np.ndarray:
    """Return places along a move, of an arc more than its end."""
    begin, end = program.points[row : row + 2, :2]
    if not program.arc[row]:
        return end[None, :]
    words = {word[0]: float(word[1:]) for word in program.lines[program.line[row]].split()}
    centre = begin + np.array([words["I"], words["J"]])
    out = begin - centre
    way = program.length_mm[row] / np.linalg.norm(out) * (1.0 if program.arc[row] == 3 else -1.0)
    turn = way * np.linspace(0.02, 1.0, 50)
    spun = np.column_stack([np.cos(turn), np.sin(turn)]) @ np.array([out, [-out[1], out[0]]])
    return np.asarray(centre + spun)


# --- the head --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def small_programs(small_build: WingBuild) -> dict[tuple[int, str], Program]:
    return {(n, hand): program_of(small_build, n, hand) for n in (0, 1) for hand in ("left", "right")}


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("number", [0, 1])
def test_the_head_says_what_a_person_wants_to_know(
    small_build: WingBuild, small_programs: dict[tuple[int, str], Program], hand: str, number: int
) -> None:
    program = small_programs[number, hand]
    path = small_build.parts[number].path
    assert path is not None
    head = program.header
    assert head["name"] == "Sedge 90"
    ends = ("0 to 25", "25 to 50")[number]
    assert head["part"] == f"panel-{number + 1}, {hand} hand, {ends} mm from the root"
    assert head["height"].startswith("25.00 mm, 100 layers of 0.25 mm, bead 0.45 mm, helical")
    grams = program.filament_mm * FILAMENT_AREA * DENSITY / 1000.0
    part = grams[program.layer >= 0].sum()
    assert head["mass"] == f"{part:.1f} g without the brim, {grams.sum():.1f} g of filament"
    assert part < grams.sum() - 0.05
    assert head["filament"].startswith(f"{program.filament_mm.sum() / 1000.0:.2f} m of 1.75 mm, ")
    assert head["time"] == f"{time_text(path.time_s)}, without heating up"
    # no faster than at constant speed, and no slower than what stopping at every corner would cost
    steady = (program.length_mm / program.speed_mm_s).sum()
    assert steady < path.time_s < 2.0 * steady
    assert head["heat"] == "230 C, bed 50 C"
    assert head["flow"].startswith("0.5 of the bead's volume")
    assert head["brim"] == "3.0 mm, 8 turns"
    assert head["printer"].startswith("220 x 220 mm bed")
    cautions = head["caution"].splitlines()
    for words in (("burn", "Nozzle"), ("fumes", "ventilate"), ("alone", "smoke alarm"), ("proof-loaded",)):
        assert any(all(word in line for word in words) for line in cautions), words
    assert "DO NOT PRINT" not in program.text
    assert "cost" not in head


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (1.0, "1 min"),
        (89.0, "1 min"),
        (91.0, "2 min"),
        (3569.0, "59 min"),
        (3571.0, "1 h 00 min"),
        (3600.0 * 12 + 300.0, "12 h 05 min"),
    ],
)
def test_times_are_hours_and_minutes(seconds: float, text: str) -> None:
    assert time_text(seconds) == text


NAMES = [
    "Möwe – 9 µm ; G28 X0",
    "; M104 S300",
    "a (b ; c) d * 7 % e",
    "\N{AIRPLANE}" * 80,
    "{temperature_c}",
    "/ N10 G1 X0 M2",
]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_stays_in_its_comment(built: Build, name: str) -> None:
    plain, odd = text_of(built(TINY)).splitlines(), text_of(built(tiny(name=name))).splitlines()
    (at,) = [row for row, line in enumerate(plain) if line == "; name: Sedge 8"]
    assert odd[at].startswith("; name: ")
    assert odd[:at] + odd[at + 1 :] == plain[:at] + plain[at + 1 :]


@pytest.mark.parametrize(
    "name", ["two\nlines", "two\rlines", "two\x0blines", "two\x85lines", "two\u2028lines"]
)
def test_a_name_on_two_lines_is_refused_and_would_not_get_out(
    built: Build, name: str, tmp_path: Path
) -> None:
    with pytest.raises(SpecError) as caught:
        spec_from_dict(tiny(name=name))
    assert [problem.key for problem in caught.value.problems] == ["name"]
    job = replace(job_of(built(TINY)), header=(f"name: {name}\N{AIRPLANE}", "x" * 300, "last"))
    write_gcode(tmp_path / "a.gcode", job)
    lines = (tmp_path / "a.gcode").read_bytes().decode("ascii").split("\n")
    assert lines[0] == "; name: two lines?"
    assert lines[1] == "; " + "x" * 254
    assert lines[2] == "; last"
    assert lines[3].startswith("; Heats and homes.")


def test_a_price_gives_a_cost(built: Build) -> None:
    build = built(tiny(filament={"price_per_kg": 4000.0}))
    program = program_of(build)
    cost = program.filament_mm.sum() * FILAMENT_AREA * DENSITY / 1e6 * 4000.0
    assert program.header["cost"] == f"{cost:.2f} at 4000 a kilogram"
    document = build_document(build, spec_name="tiny")
    assert document["panels"][0]["printing"]["cost"] == pytest.approx(cost, abs=0.005)
    # two hands
    assert document["printing"]["cost"] == pytest.approx(2.0 * cost, abs=0.005)
    plain = build_document(built(TINY), spec_name="tiny")
    assert plain["printing"]["cost"] is None
    assert plain["panels"][0]["printing"]["cost"] is None


def test_a_part_with_errors_is_written_with_a_warning(built: Build) -> None:
    # beads half a millimetre apart do not fuse into a rib
    build = built(tiny(spar_web=[{"chord_fraction": 0.4}], slots={"width_mm": 0.5}))
    assert codes(build)["open-slot"] == "error"
    count = sum(finding.severity == "error" for finding in build.parts[0].findings)
    lines = program_of(build).header
    words = "1 error was" if count == 1 else f"{count} errors were"
    assert lines["DO NOT PRINT"] == f"{words} found in this part, see report.json"


# --- blocks ----------------------------------------------------------------------------------------------

NAMES_IN_BLOCKS = {
    "bed_temperature_c": "50",
    "temperature_c": "230",
    # 30 per cent of 255
    "fan_pwm": "76",
    "bed_x_mm": "220",
    "bed_y_mm": "200",
    "height_mm": "300",
    "nozzle_mm": "0.4",
    "bead_mm": "0.45",
    "layer_mm": "0.25",
    # inside the margin of 5 mm, and 60 mm on
    "prime_start_x_mm": "5",
    "prime_end_x_mm": "65",
    "prime_y_mm": "2.5",
    # the part and 5 mm
    "end_z_mm": "13",
    "park_x_mm": "5",
    "park_y_mm": "195",
}
CENTRED = {"prime_start_x_mm": "-105", "prime_end_x_mm": "-45", "prime_y_mm": "-97.5"} | {
    "park_x_mm": "-105",
    "park_y_mm": "95",
}
LISTING = "G21\nG28\n" + "\n".join(f"; {name} is {{{name}}}." for name in NAMES_IN_BLOCKS)


@pytest.mark.parametrize("origin", ["corner", "centre"])
def test_names_in_blocks_are_filled_in(built: Build, origin: str) -> None:
    printer = {"start_gcode": LISTING, "end_gcode": LISTING, "bed_y_mm": 200.0, "bed_origin": origin}
    text = text_of(built(tiny(printer=printer, filament={"fan_percent": 30.0})))
    wanted = NAMES_IN_BLOCKS | (CENTRED if origin == "centre" else {})
    block = ["G21", "G28", *(f"; {name} is {value}." for name, value in wanted.items())]
    lines = text.splitlines()
    assert lines[lines.index(PATH_BEGINS) - len(block) : lines.index(PATH_BEGINS)] == block
    assert lines[lines.index(PATH_ENDS) + 1 :] == block


def test_the_nozzle_lifts_no_higher_than_the_machine(built: Build) -> None:
    data = tiny(printer={"height_mm": 40.0, "end_gcode": "G1 Z{end_z_mm} F600"})
    data["station"] = [TINY["station"][0], {**TINY["station"][1], "span_mm": 37.5}]
    assert text_of(built(data)).splitlines()[-1] == "G1 Z40 F600"


def test_the_shipped_blocks_heat_home_and_end(built: Build) -> None:
    lines = text_of(built(TINY)).splitlines()
    begin, end = lines.index(PATH_BEGINS), lines.index(PATH_ENDS)
    head = [line.partition(" ;")[0] for line in lines[:begin] if not line.startswith(";")]
    assert head[:2] == ["G21", "G90"]
    # the bed is waited for, then all axes are homed, then the nozzle is waited for
    assert [word for word in head if word in ("M190 S50", "G28", "M109 S230")] == [
        "M190 S50",
        "G28",
        "M109 S230",
    ]
    assert [line.partition(" ;")[0] for line in lines[end + 2 :]] == [
        *("M104 S0", "M140 S0", "M107", "G1 Z13 F600", "G1 X5 Y215 F6000", "M84")
    ]


@pytest.mark.parametrize(
    ("block", "has"),
    [("", False), ("G28", False), ("; G21", False), ("g21", True), ("N1G21 (mm)\nG28", True)],
)
def test_millimetres_are_set_when_the_block_does_not(built: Build, block: str, has: bool) -> None:
    job = replace(job_of(built(TINY)), start=block, header=())
    lines = "".join(gcode_chunks(job)).split("\n")
    before = lines[: lines.index(PATH_BEGINS)]
    assert before == [*([] if has else ["G21"]), *block.splitlines()]


def test_blanks_around_blocks_go_and_lines_inside_stay(built: Build) -> None:
    job = replace(job_of(built(TINY)), start="\n\n  G21 \n\nG28\t\n\n", end="", header=())
    lines = "".join(gcode_chunks(job)).split("\n")
    assert lines[:4] == ["G21", "", "G28", PATH_BEGINS]
    assert lines[-2:] == [PATH_ENDS, ""]


@pytest.mark.parametrize("key", ["start_gcode", "end_gcode"])
@pytest.mark.parametrize(
    ("block", "got"),
    [
        ("G28\nM109 S{temperature}\n", "{temperature}"),
        ("G28 {}", "{}"),
        ("G28 ; {bed_x_mm } of bed", "{bed_x_mm }"),
        ("G20", "G20, inches"),
        ("g20 ; inches", "G20, inches"),
        ("G28\nG90 G20", "G20, inches"),
        ("N10G20", "G20, inches"),
        ("G90G20", "G20, inches"),
        ("G020", "G20, inches"),
        ("G 20", "G20, inches"),
        ("G20.0", "G20, inches"),
        ("(units) G20", "G20, inches"),
        ("; first\x0bG20", "G20, inches"),
        ("; " + "x" * 255, "a line of 257 characters"),
    ],
)
def test_wrong_blocks_are_refused_by_key(key: str, block: str, got: str) -> None:
    with pytest.raises(SpecError) as caught:
        design_wing(spec_from_dict(tiny(printer={key: block})))
    assert [(problem.key, problem.got) for problem in caught.value.problems] == [(key, got)]


@pytest.mark.parametrize(
    "block",
    [
        "G21",
        "G200",
        "; no G20 here",
        "(G20)",
        "G21 ; not G20",
        "G20.1",
        "G1 X20",
        "G1 X1.G2 X0",
        "M117 MAG20",
        "M117 PRINTING 20",
        "; " + "x" * 254,
    ],
)
def test_blocks_that_only_look_wrong_are_taken(block: str) -> None:
    design = design_wing(spec_from_dict(tiny(printer={"start_gcode": block})))
    assert design.printer.start_gcode == block


@pytest.mark.parametrize("key", ["start_gcode", "end_gcode"])
@pytest.mark.parametrize(
    "line",
    [
        "M104 S271",
        "M109 S271 ; hot",
        "m109 s271",
        "M109 R271",
        "M0104 S271",
        "M104 T0 S271",
        "M104 S 271",
        "M104S271",
        "N10M109S271*55",
        "M104 (not too hot) S271",
        "(now) M104 S271",
        "M104 S200 M109 S271",
        "M104 S271 M109 S200",
        "M104 S+271",
        "M104 S270.5",
        "M104 S{temperature_c}0",
        "M109 S{bed_x_mm}",
        "; quiet\x0bM104 S271",
    ],
)
def test_a_block_hotter_than_the_filament_bears_is_refused_by_key(key: str, line: str) -> None:
    bed = {"bed_x_mm": 271.0}
    with pytest.raises(SpecError) as caught:
        design_wing(spec_from_dict(tiny(printer={key: f"G21\n{line}\nG28", **bed})))
    assert {problem.key for problem in caught.value.problems} == {f"printer.{key}"}
    assert "up to 270 °C" in caught.value.problems[0].allowed


@pytest.mark.parametrize(
    "line",
    [
        "M104 S270",
        "M109 S{temperature_c}",
        "; M104 S300",
        "(M104 S300)",
        "M104 S200 ; S300",
        "M106 S300",
        "M140 S300",
        "M1040 S300",
        "G4 S300",
        "M104 S0\nG4 S300",
    ],
)
def test_a_block_that_does_not_heat_the_nozzle_too_far_is_taken(line: str) -> None:
    design_wing(spec_from_dict(tiny(printer={"start_gcode": line})))


# --- settings and profiles that are refused --------------------------------------------------------------


@pytest.mark.parametrize(
    ("print_table", "keys"),
    [
        ({"temperature_c": 271.0}, ["print.temperature_c"]),
        ({"temperature_c": 189.0}, ["print.temperature_c"]),
        ({"unfoamed_mm": 2.0, "unfoamed_temperature_c": 180.0}, ["print.unfoamed_temperature_c"]),
        (
            {"unfoamed_mm": 2.0, "unfoamed_temperature_c": 240.0},
            ["print.unfoamed_temperature_c and print.temperature_c"],
        ),
        (
            {"temperature_c": 280.0, "unfoamed_temperature_c": 280.0},
            ["print.temperature_c", "print.unfoamed_temperature_c"],
        ),
        ({"flow": 0.0}, ["print.flow"]),
        ({"flow": 0.19}, ["print.flow"]),
        ({"style": "spiral"}, ["print.style"]),
        ({"flat_layers": 0}, ["print.flat_layers"]),
    ],
)
def test_settings_that_cannot_be_printed_are_refused_by_key(
    print_table: dict[str, Any], keys: list[str]
) -> None:
    with pytest.raises(SpecError) as caught:
        design_wing(spec_from_dict(tiny(print=print_table)))
    assert [problem.key for problem in caught.value.problems] == keys


def test_temperatures_at_the_limits_of_the_filament_are_taken() -> None:
    for temperature in (190.0, 270.0):
        design_wing(spec_from_dict(tiny(print={"temperature_c": temperature})))
    # without a foot, its temperature does not matter
    design_wing(spec_from_dict(tiny(print={"unfoamed_temperature_c": 240.0})))


@pytest.mark.parametrize("key", ["name", "title", "source", "bed_x_mm", "bed_y_mm", "height_mm"])
def test_a_printer_without_a_key_is_refused_by_key(tmp_path: Path, key: str) -> None:
    shipped = (profiles_folder() / "printers" / "bed-220.toml").read_text(encoding="utf-8")
    refused_without(tmp_path, shipped, key, table="printer")


@pytest.mark.parametrize(
    "key", ["density_g_cm3", "temperature_min_c", "temperature_max_c", "max_volumetric_mm3_s", "poisson"]
)
def test_a_filament_without_a_key_is_refused_by_key(tmp_path: Path, key: str) -> None:
    refused_without(tmp_path, dump_filament(load_filament("foaming-pla")), key, table="filament")


def refused_without(folder: Path, text: str, key: str, *, table: str) -> None:
    """Take a key out of a profile beside a spec, and its source with it."""
    name = folder / "mine.toml"
    name.write_text(text, encoding="utf-8")
    spec = spec_from_dict(tiny(**{table: {"profile": "mine.toml"}}))
    design_wing(spec, base_dir=folder)
    without, count = re.subn(rf"(?m)^{key} = [^{{\n]*\n", "", text)
    assert count == 1
    name.write_text(without, encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        design_wing(spec, base_dir=folder)
    assert [problem.key for problem in caught.value.problems] == [key]
    assert str(name) in caught.value.source


# --- temperature and flow --------------------------------------------------------------------------------


def heats(program: Program) -> list[tuple[int, float]]:
    """Return the words for the nozzle's temperature inside the path, as (layer from 0, temperature)."""
    found, layer = [], -1
    for line in program.body:
        if line.startswith("; layer "):
            layer = int(line.split()[2]) - 1
        if line.startswith("M104 S"):
            found.append((layer, float(line[6:])))
        assert not line.startswith("M109")
    return found


@pytest.fixture(scope="module")
def footed(built: Build) -> WingBuild:
    return built(tiny(print={"unfoamed_mm": 2.0, "style": "stepped"}))


def test_above_an_unfoamed_foot_the_nozzle_gets_hotter_layer_by_layer(footed: WingBuild) -> None:
    program = program_of(footed)
    assert "M109 S200 ; wait for the nozzle" in program.lines
    assert program.header["heat"] == "200 C at the bed, 230 C above, bed 50 C"
    steps = heats(program)
    # 2 mm are eight layers; no waiting, a word on nearly every layer of two seconds, up to the wanted one
    assert steps[0][0] == 8
    assert len(steps) >= 10
    assert [layer for layer, _ in steps] == list(range(8, 8 + len(steps)))
    values = [200.0, *(value for _, value in steps)]
    assert np.all(np.diff(values) > 0.0)
    assert values[-1] == 230.0
    # one degree a second at the wanted speed of 40 mm/s, rounded down to whole degrees
    seconds = np.cumsum(by_layer(program, program.length_mm)[8:]) / 40.0
    for (layer, value), after in zip(steps[:-1], seconds, strict=False):
        assert value == int(value)
        assert 200.0 + after * (1.0 - STEP_SHARE) - 1.0 <= value <= 200.0 + after, layer


def test_flow_times_foaming_stays_what_it_is_at_the_end(footed: WingBuild) -> None:
    program = program_of(footed)
    rows = footed.design.filament.foaming
    table = [row.temperature_c for row in rows], [row.ratio for row in rows]
    temperature = np.full(LAYERS, 200.0)
    for layer, value in heats(program):
        temperature[layer:] = value
    ratio = np.interp(temperature, *table)
    sure = (program.layer >= 0) & (program.length_mm > LONG_MM)
    flow = flow_of(program)[sure]
    # 2.44 at 230 degrees
    assert flow * ratio[program.layer[sure]] == pytest.approx(
        np.full(sure.sum(), 0.5 * 2.44), rel=LENGTH_SHARE
    )
    high = [flow[program.layer[sure] == layer].mean() for layer in (0, 7, 12, 31)]
    assert high[0] == pytest.approx(0.5 * 2.44 / 1.08, rel=LENGTH_SHARE)
    assert high[0] == pytest.approx(high[1], rel=LENGTH_SHARE)
    assert high[1] > high[2] > high[3]
    assert high[3] == pytest.approx(0.5, rel=LENGTH_SHARE)


def test_the_foot_has_a_temperature_of_its_own(built: Build) -> None:
    printer = {"nozzle_heating_c_s": 0.25}
    print_table = {"unfoamed_mm": 2.0, "unfoamed_temperature_c": 210.0, "style": "stepped"}
    slow = program_of(built(tiny(print=print_table, printer=printer)))
    assert "M109 S210 ; wait for the nozzle" in slow.lines
    values = [value for _, value in heats(slow)]
    # a quarter of a degree a second, and 24 layers of two seconds are too few to get hot
    assert values[0] == 211.0
    assert 220.0 <= values[-1] < 225.0


def test_a_foot_as_hot_as_the_rest_is_no_foot(built: Build) -> None:
    plain = built(tiny(print={"temperature_c": 200.0, "flow": 0.9}))
    foot = built(tiny(print={"temperature_c": 200.0, "flow": 0.9, "unfoamed_mm": 2.0}))
    assert text_of(plain) == text_of(foot)
    assert not heats(program_of(plain))


def test_a_foot_as_high_as_the_part_is_all_cool(built: Build) -> None:
    program = program_of(built(tiny(print={"unfoamed_mm": 50.0, "style": "stepped"})))
    assert heats(program) == []
    sure = (program.layer >= 0) & (program.length_mm > LONG_MM)
    assert flow_of(program)[sure] == pytest.approx(0.5 * 2.44 / 1.08, rel=LENGTH_SHARE)


def test_no_bead_gets_more_filament_than_there_is_room_for(built: Build) -> None:
    # 0.65 x 2.44 / 1.08 would be 1.47
    program = program_of(built(tiny(print={"unfoamed_mm": 2.0, "flow": 0.65, "style": "stepped"})))
    sure = (program.layer >= 0) & (program.length_mm > LONG_MM)
    flow = flow_of(program)[sure]
    assert flow[program.layer[sure] < 8] == pytest.approx(1.2, rel=LENGTH_SHARE)
    assert flow[program.layer[sure] == LAYERS - 1] == pytest.approx(0.65, rel=LENGTH_SHARE)


def test_the_first_stretch_fills_the_nozzle_with_solid_plastic(built: Build) -> None:
    program = program_of(built(TINY))
    assert (program.layer == -2).sum() == 1
    assert program.layer[0] == -2
    assert program.length_mm[0] == pytest.approx(40.0, abs=4.0 * ROUND_MM)
    assert flow_of(program)[0] == pytest.approx(1.0, rel=1e-3)
    brim = (program.layer == -1) & (program.length_mm > LONG_MM)
    assert flow_of(program)[brim] == pytest.approx(0.5, rel=LENGTH_SHARE)
    # the brim is one run that leads into the first layer
    assert np.all(np.diff(program.layer[program.layer < 1]) >= 0)


# --- speed -----------------------------------------------------------------------------------------------

NO_HURRY: dict[str, Any] = {"least_layer_s": 0.0}


def test_speeds_are_those_of_the_spec(built: Build) -> None:
    program = program_of(built(tiny(filament=NO_HURRY)))
    assert set(program.speed_mm_s[program.layer < 1]) == {20.0}
    assert set(program.speed_mm_s[program.layer >= 1]) == {40.0}
    slow = program_of(built(tiny(filament=NO_HURRY, printer={"max_speed_mm_s": 15.0})))
    assert set(slow.speed_mm_s) == {15.0}
    assert "G0 X" in "".join(slow.body[4])
    assert slow.body[4].endswith("F900")


@pytest.mark.parametrize("style", ["helical", "stepped"])
@pytest.mark.parametrize("flow", [0.5, 1.2])
def test_the_nozzle_is_never_asked_to_melt_more_than_it_can(built: Build, style: str, flow: float) -> None:
    most = 0.8
    build = built(
        tiny(
            filament={**NO_HURRY, "max_volumetric_mm3_s": most},
            print={"style": style, "flow": flow, "temperature_c": 200.0},
        )
    )
    assert codes(build)["slowed"] == "note"
    program = program_of(build)
    rate = program.filament_mm * FILAMENT_AREA * program.speed_mm_s / program.length_mm
    sure = program.length_mm > LONG_MM
    # F is rounded to a millimetre a minute
    share = 1.0 + LENGTH_SHARE + 0.5 / (60.0 * program.speed_mm_s.min())
    assert rate[sure].max() <= most * share
    # where a helix begins its beads are a quarter higher, and the cap is for those
    inside = sure & (program.layer >= 0)
    assert rate[inside].max() > most * (0.95 if style == "helical" else 0.75)
    assert program.speed_mm_s.max() < 40.0


def test_what_melts_fast_enough_is_not_slowed(built: Build) -> None:
    assert "slowed" not in codes(built(TINY))


def test_short_layers_take_their_least_time(built: Build) -> None:
    build = built(TINY)
    assert "short-layer" not in codes(build)
    program = program_of(build)
    time = by_layer(program, program.length_mm / program.speed_mm_s)
    # the foaming filament wants 6 s; steps from loop to loop come on top of it
    assert time.min() > 6.0 * (1.0 - 1e-3)
    assert time.max() < 6.0 * (1.0 + STEP_SHARE)
    assert program.speed_mm_s[program.layer >= 0].max() < 20.0


def test_but_not_slower_than_the_least_speed(built: Build) -> None:
    build = built(tiny(filament={"least_layer_s": 30.0, "least_speed_mm_s": 12.0}))
    program = program_of(build)
    assert set(program.speed_mm_s[program.layer >= 0]) == {12.0}
    (finding,) = [finding for finding in build.findings if finding.code == "short-layer"]
    assert finding.layers == (1, LAYERS)
    assert finding.found == LAYERS


# --- heights ---------------------------------------------------------------------------------------------


def heights_of(program: Program, layer: int) -> np.ndarray:
    """Heights at the ends of a layer's moves [mm]."""
    return program.points[1:][program.layer == layer][:, 2]


def test_a_stepped_path_is_flat_but_for_the_begin_of_each_loop(built: Build) -> None:
    program = program_of(built(tiny(print={"style": "stepped"})))
    assert "stepped" in program.header["height"]
    for layer in range(LAYERS):
        rows = program.layer == layer
        z = heights_of(program, layer)
        run = np.cumsum(program.length_mm[rows])
        # the step up is made on the first bead width of the loop, after the step aside
        assert z[run > 1.5 + BEAD_MM] == pytest.approx((layer + 1) * LAYER_MM, abs=1e-9)
        # which is as high as the loop below
        assert z[0] == pytest.approx(max(1, layer) * LAYER_MM, abs=1e-9)


@pytest.mark.parametrize("flat", [1, 3, 7])
def test_a_helix_rises_all_the_time_above_its_flat_layers(built: Build, flat: int) -> None:
    program = program_of(built(tiny(print={"flat_layers": flat})))
    assert "helical" in program.header["height"]
    for layer in range(LAYERS):
        z = heights_of(program, layer)
        rise = np.diff(z[4:])
        if layer < flat or layer == LAYERS - 1:
            assert z[4:] == pytest.approx((layer + 1) * LAYER_MM, abs=1e-9)
        else:
            # Z has steps of a ten-thousandth, and 80 mm of path rise by a layer: moves over 0.03 mm rise
            assert rise.min() > 0.0
    # no drop anywhere, and the top is flat at the height of the part
    assert np.diff(program.points[:, 2]).min() >= 0.0
    assert program.points[-1, 2] == 8.0


def test_a_part_too_low_for_a_helix_is_stepped(built: Build) -> None:
    program = program_of(built(tiny(print={"flat_layers": LAYERS - 11})))
    assert "stepped" in program.header["height"]
    turns = program_of(built(tiny(print={"flat_layers": LAYERS - 12})))
    assert "helical" in turns.header["height"]


def test_both_styles_lay_the_same_filament(built: Build) -> None:
    helix, steps = (program_of(built(tiny(print={"style": style}))) for style in ("helical", "stepped"))
    # loops differ by a taper of a few per cent
    assert helix.filament_mm.sum() == pytest.approx(steps.filament_mm.sum(), rel=2e-3)


# --- digits ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("relative", [True, False])
def test_thin_moves_get_finer_digits_instead_of_no_filament(built: Build, relative: bool) -> None:
    job = replace(job_of(built(TINY)), relative=relative)
    tool = job.toolpath
    thin = replace(tool, flow=tool.flow * 1e-3)
    program = read_program("".join(gcode_chunks(replace(job, toolpath=thin))))
    assert len(program.filament_mm) == len(tool)
    assert program.filament_mm.min() > 0.0
    wanted = tool.volume_mm3 * 1e-3 / FILAMENT_AREA
    # eight digits
    assert program.filament_mm == pytest.approx(wanted, abs=1.1e-8)
    assert program.filament_mm.sum() == pytest.approx(wanted.sum(), abs=1e-8)


@pytest.mark.parametrize("relative", [True, False])
def test_what_is_rounded_off_one_move_is_made_up_for_on_the_next(built: Build, relative: bool) -> None:
    job = replace(job_of(built(TINY)), relative=relative)
    program = read_program("".join(gcode_chunks(job)))
    wanted = np.cumsum(job.toolpath.volume_mm3) / FILAMENT_AREA
    assert np.cumsum(program.filament_mm) == pytest.approx(wanted, abs=ROUND_E_MM + 1e-9)
    numbers = [line.partition(" E")[2].split()[0] for line in program.body if line.startswith("G1 ")]
    assert {len(number.partition(".")[2]) for number in numbers} == {5}


def test_the_nozzle_comes_from_above_and_down_beside_the_part(built: Build) -> None:
    program = program_of(built(TINY))
    begin = program.points[0]
    assert program.body[:6] == [
        *("G90", "M83", "G92 E0", "G0 Z5 F600"),
        f"G0 X{begin[0]:g} Y{begin[1]:g} F6000",
        f"G0 Z{begin[2]:g} F600",
    ]
    assert begin[2] == LAYER_MM


@pytest.mark.parametrize("beside_mm", [-1.2e-3, -4e-4, -2e-6, 0.0, 2e-6, 4e-4, 1.2e-3])
def test_the_nozzle_never_stands_where_a_step_up_ends_beside_a_corner(built: Build, beside_mm: float) -> None:
    """Loops with a corner about one bead from their start, where the rise from the loop below is over."""
    corner = [BEAD_MM + beside_mm, 0.0]
    loop = np.array([[0.0, 0.0], corner, [20.0, 0.1], [20.0, 10.0], [10.0, 10.0], [0.0, 10.0], [0.0, 0.0]])
    loops = Loops(np.concatenate([loop, loop, loop]), np.array([0, 7, 14, 21]))
    design = built(TINY).design
    tool = toolpath_from_loops(
        "loops",
        loops,
        path_heights(3, layer_mm=LAYER_MM, helical=False, flat_layers=3),
        path_rates(loops.length_mm, design.spec.print, filament=design.filament, printer=design.printer),
        brim=Brim(np.empty((0, 2)), 0, None),
        lead=np.empty((0, 2)),
        bead_mm=BEAD_MM,
        layer_mm=LAYER_MM,
    )
    program = read_program("".join(gcode_chunks(replace(job_of(built(TINY)), toolpath=tool))))
    assert program.length_mm.min() > 0.0
    assert program.filament_mm.min() > 0.0
    # and no finer digits are needed for a move that is hardly there
    moves = [line for line in program.body if line.startswith("G1 ")]
    assert all(re.fullmatch(r"G1 .* E\d\.\d{5}( F\d+)?", line) for line in moves)
    for layer in range(3):
        z = heights_of(program, layer)
        assert z[-5:] == pytest.approx((layer + 1) * LAYER_MM, abs=1e-9)


# --- files, and parts without a path ---------------------------------------------------------------------


def test_every_part_and_hand_gets_its_file(small_build: WingBuild, tmp_path: Path) -> None:
    files = write_build(small_build, tmp_path / "out")
    names = sorted(path.name for path in files if path.suffix == ".gcode")
    assert names == [f"panel-{n}-{hand}.gcode" for n in (1, 2) for hand in ("left", "right")]
    for number in (0, 1):
        for hand in ("left", "right"):
            path = tmp_path / "out" / f"panel-{number + 1}-{hand}.gcode"
            job = job_of(small_build, number, hand)
            assert path.read_bytes() == "".join(gcode_chunks(job)).encode("ascii")
            assert write_gcode(tmp_path / "again.gcode", job) == path.stat().st_size
    document = build_document(small_build, spec_name="small")
    assert set(names) <= {name for panel in document["panels"] for name in panel["files"]}
    assert document["printing"]["files"] == 4
    seconds = sum(panel.path.time_s for panel in small_build.panels if panel.path is not None)
    assert document["printing"]["print_time_s"] == pytest.approx(2.0 * seconds, abs=0.1)


def test_the_report_and_the_file_agree(
    small_build: WingBuild, small_programs: dict[tuple[int, str], Program]
) -> None:
    document = build_document(small_build, spec_name="small")
    for number, panel in enumerate(document["panels"]):
        program, said = small_programs[number, "left"], panel["printing"]
        assert said["moves"] == len(program.line)
        assert said["style"] == "helical"
        assert said["flat_layers"] == 3
        assert said["filament_mm"] == pytest.approx(program.filament_mm.sum(), abs=1e-4)
        assert said["extruded_mass_g"] == pytest.approx(
            program.filament_mm.sum() * FILAMENT_AREA * DENSITY / 1000.0, abs=1e-4
        )
        assert said["spool_share"] == pytest.approx(said["extruded_mass_g"] / 750.0, abs=1e-4)
        assert said["lead_in_mm"] == pytest.approx(
            program.length_mm[program.layer == -2].sum(), abs=4.0 * ROUND_MM
        )
        assert said["brim_path_mm"] == pytest.approx(program.length_mm[program.layer == -1].sum(), rel=1e-4)
        assert said["slowest_mm_s"] == pytest.approx(program.speed_mm_s.min(), abs=0.01)
        assert said["fastest_mm_s"] == pytest.approx(program.speed_mm_s.max(), abs=0.01)
        assert said["first_temperature_c"] == 230.0
        assert said["first_flow"] == 0.5


def no_path(build: WingBuild) -> str:
    """Return what is said about the one part without a path."""
    (finding,) = [finding for finding in build.findings if finding.code == "no-path"]
    assert finding.severity == "warning"
    assert finding.panel == "panel-1"
    assert build.parts[0].path is None
    assert gcode_job(build, build.parts[0], "left") is None
    return finding.message


def test_a_part_too_big_for_the_bed_gets_no_file(built: Build, tmp_path: Path) -> None:
    # 40 mm of chord do not fit onto 24 x 24 mm, not even crosswise
    build = built(tiny(printer={"bed_x_mm": 40.0, "bed_y_mm": 40.0, "margin_mm": 8.0}))
    assert "too-big" in no_path(build)
    files = write_build(build, tmp_path / "out")
    assert {path.name for path in files} == {
        *(f"panel-1-{hand}.{ending}" for hand in ("left", "right") for ending in ("stl", "3mf")),
        *("layers.csv", "report.json"),
    }
    document = build_document(build, spec_name="tiny")
    assert not any(name.endswith("gcode") for name in document["panels"][0]["files"])
    assert document["panels"][0]["printing"] is None
    assert document["printing"]["files"] == 0


def test_a_part_too_high_gets_no_file_and_the_others_do(built: Build, tmp_path: Path) -> None:
    data = tiny(printer={"height_mm": 40.0}, panels={"joints_mm": [41.0]})
    data["station"] = [TINY["station"][0], {**TINY["station"][1], "span_mm": 52.0}]
    build = built(data)
    assert "too-big" in no_path(build)
    names = {path.name for path in write_build(build, tmp_path / "out") if path.suffix == ".gcode"}
    assert names == {"panel-2-left.gcode", "panel-2-right.gcode"}


SECOND: dict[str, tuple[shapely.Geometry, str]] = {
    "a tube": (shapely.box(0, 0, 30, 10) - shapely.box(4, 4, 26, 6), "second-contour"),
    "two posts": (shapely.box(0, 0, 10, 10) | shapely.box(15, 0, 25, 10), "second-contour"),
    # a waist of half a bead
    "a waist": (
        shapely.box(0, 0, 10, 10) | shapely.box(9, 4.9, 16, 5.1) | shapely.box(15, 0, 25, 10),
        "pinch",
    ),
}


@pytest.mark.parametrize("name", SECOND)
def test_a_part_of_more_than_one_ring_has_no_path(built: Build, tmp_path: Path, name: str) -> None:
    region, code = SECOND[name]
    build = built(TINY)
    judged = judge_layers(layers_of(prism(region, 3.0)), build.design.limits, strict=True)
    path, found = trace_part(build.design, judged, judged.findings)
    assert path is None
    assert [finding.code for finding in found] == ["no-path"]
    assert code in found[0].message
    # even if nobody had found anything, there is no loop to follow
    assert trace_part(build.design, judged, ())[0] is None
    part = replace(build.panels[0], path=path, findings=found)
    files = write_build(replace(build, panels=(part,)), tmp_path / "out")
    assert not [path for path in files if path.suffix == ".gcode"]


def test_one_ring_has_a_path_beside_the_others(built: Build) -> None:
    """The counterpart of the refusals above: the same plain solid in one piece."""
    build = built(TINY)
    judged = judge_layers(layers_of(prism(shapely.box(0, 0, 30, 10), 3.0)), build.design.limits, strict=True)
    path, found = trace_part(build.design, judged, judged.findings)
    assert path is not None
    assert "no-path" not in [finding.code for finding in found]


def test_a_bed_too_small_for_the_brim_gets_a_narrower_one(built: Build) -> None:
    small = {"bed_x_mm": 48.0, "bed_y_mm": 40.0, "margin_mm": 3.0, "bed_origin": "centre"}
    build = built(tiny(printer=small, print={"brim_mm": 8.0}))
    (finding,) = [finding for finding in build.findings if finding.code == "brim-cut"]
    assert finding.severity == "warning"
    assert finding.limit == 8.0
    assert finding.found is not None
    assert finding.found < 8.0
    for hand in ("left", "right"):
        program = program_of(build, 0, hand)
        assert program.header["brim"].startswith(f"{finding.found:.1f} mm")
        reach = np.abs(program.points[:, :2]).max(axis=0)
        # half a bead inside the margins
        assert np.all(reach <= np.array([21.0, 17.0]) - 0.5 * BEAD_MM + ROUND_MM + 1e-3)
