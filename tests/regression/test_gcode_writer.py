"""What stands in a written program, read back by an independent parser."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from programs import (
    ROUND_E_MM,
    ROUND_MM,
    Program,
    job_of,
    program_of,
    read_program,
)
from shapes import BEAD_MM, LAYER_MM
from tiny_wing import (
    DENSITY,
    FILAMENT_AREA,
    TINY,
    Build,
    by_layer,
    codes,
    heights_of,
    text_of,
    tiny,
)
from wings import SMALL_WING

import wingpath.io.gcode as gcode
from wingpath import WingBuild, build_document, spec_from_dict
from wingpath.build.brim import Brim
from wingpath.build.loops import Loops
from wingpath.build.path_heights import path_heights
from wingpath.build.path_rates import path_rates
from wingpath.build.toolpath import toolpath_from_loops
from wingpath.core.errors import InputError, SpecError
from wingpath.io.gcode import gcode_chunks, write_gcode
from wingpath.pipeline.printing_document import time_text
from wingpath.pipeline.writing import gcode_job

# --- relative, absolute, origin, hand ----------------------------------------------------------------


@pytest.mark.parametrize("arcs", [False, True])
def test_relative_and_absolute_say_the_same(built: Build, arcs: bool) -> None:
    one = program_of(built(tiny(printer={"arcs": arcs})))
    two = program_of(built(tiny(printer={"arcs": arcs, "filament_by_move": False})))
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
    build = built(tiny(printer={"arcs": arcs, "filament_by_move": False}))
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
    [{}, {"filament_by_move": False}, {"arcs": True}, {"arcs": True, "filament_by_move": False}],
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


# --- the head ----------------------------------------------------------------------------------------


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


# --- digits ------------------------------------------------------------------------------------------


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
