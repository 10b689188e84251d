"""Arcs of a path, against circles in closed form, and read back from the written program."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from programs import ROUND_E_MM, ROUND_MM, Program, read_program

from wingpath.build.arcs import Arc, _turns, arcs_of_path
from wingpath.build.toolpath import Toolpath
from wingpath.io.gcode import GcodeJob, gcode_chunks
from wingpath.model.panels import BedPlace

TOLERANCE = 0.01
"""How far points may lie from an arc [mm]."""

ROUNDING = 1e-9
"""What floats leave of a length of some ten millimetres [mm]."""

HEIGHT = 0.25
FILAMENT_AREA = 2.4
CENTRE = (110.0, 95.0)


def path(flat: np.ndarray, *, z: np.ndarray | float = HEIGHT, **columns: np.ndarray) -> Toolpath:
    """Return a path through points, one bead of one layer unless told otherwise."""
    count = len(flat) - 1
    given = {
        "layer": np.zeros(count, np.int64),
        "area_mm2": np.full(count, 0.1),
        "flow": np.full(count, 0.5),
        "speed_mm_s": np.full(count, 40.0),
        **columns,
    }
    return Toolpath(
        name="shape",
        bead_mm=0.45,
        layer_mm=HEIGHT,
        points=np.column_stack([flat, np.broadcast_to(z, len(flat))]),
        temperature_c=np.full(int(given["layer"].max()) + 1, 230.0),
        helical_from=0,
        **given,
    )


def circle(
    radius: float, count: int, *, turns: float = 1.0, centre: tuple[float, float] = (0.0, 0.0)
) -> np.ndarray:
    """Return points on a circle, anticlockwise; negative turns go round the other way."""
    angle = 2.0 * math.pi * turns * np.arange(count + 1) / count
    return np.asarray(centre) + radius * np.column_stack([np.cos(angle), np.sin(angle)])


def rounded_box(long: float, wide: float, radius: float, step_deg: float = 5.0) -> np.ndarray:
    """Return a closed box with round corners, anticlockwise, from the middle of its lower side."""
    parts = [np.array([[0.5 * long, 0.0]])]
    quarter = np.deg2rad(np.arange(0.0, 90.0 + 1e-9, step_deg))
    corners = [(long - radius, radius), (long - radius, wide - radius), (radius, wide - radius)]
    for turn, (x, y) in enumerate([*corners, (radius, radius)]):
        angle = quarter + np.deg2rad(90.0 * (turn - 1))
        parts.append(np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)]))
    return np.concatenate([*parts, parts[0]])


def job(tool: Toolpath, *, hand: str = "left", relative: bool = True, turn_deg: float = 0.0) -> GcodeJob:
    return GcodeJob(
        toolpath=tool,
        place=BedPlace(turn_deg, 0.0, 0.0, 0.0, 3.0, -2.0),
        hand=hand,
        centre_mm=CENTRE,
        filament_area_mm2=FILAMENT_AREA,
        max_speed_mm_s=150.0,
        relative=relative,
        arcs=arcs_of_path(tool, TOLERANCE),
        header=(),
        start="",
        end="",
    )


def written(tool: Toolpath, **given: object) -> Program:
    return read_program("".join(gcode_chunks(job(tool, **given))))  # type: ignore[arg-type]


def swept_rad(arc: Arc, points: np.ndarray) -> float:
    """Angle from an arc's begin to its end, the way it turns."""
    begin, end = (math.atan2(*(points[at, :2] - arc.centre)[::-1]) for at in (arc.first, arc.last))
    turn = end - begin if arc.anticlockwise else begin - end
    return turn % (2.0 * math.pi)


def along(arc: Arc, points: np.ndarray, count: int = 181) -> np.ndarray:
    """Points of an arc from its begin to its end [mm]."""
    begin = math.atan2(*(points[arc.first, :2] - arc.centre)[::-1])
    way = swept_rad(arc, points) * (1.0 if arc.anticlockwise else -1.0)
    angle = begin + way * np.linspace(0.0, 1.0, count)
    return np.asarray(arc.centre) + arc.radius_mm * np.column_stack([np.cos(angle), np.sin(angle)])


def from_run(points: np.ndarray, run: np.ndarray) -> np.ndarray:
    """Distance of points from a run of straight moves [mm]."""
    best = np.full(len(points), np.inf)
    for a, b in pairwise(run):
        share = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
        best = np.minimum(best, np.linalg.norm(points - a - share[:, None] * (b - a), axis=1))
    return best


def hold(arcs: Sequence[Arc], tool: Toolpath) -> None:
    """Hold arcs to what is promised of all of them."""
    for one, two in pairwise(arcs):
        # each move is part of one arc at most, and arcs come in the order of the moves
        assert one.last <= two.first
    for arc in arcs:
        run = tool.points[arc.first : arc.last + 1, :2]
        assert arc.last - arc.first >= 3
        out = np.linalg.norm(run - arc.centre, axis=1) - arc.radius_mm
        assert np.abs(out[[0, -1]]).max() <= ROUNDING
        assert np.abs(out).max() <= TOLERANCE + ROUNDING
        assert swept_rad(arc, tool.points) <= math.radians(300.0) + ROUNDING
        # the ends of the arc are the ends of the moves, and in between it keeps beside them
        shape = along(arc, tool.points)
        assert np.linalg.norm(shape[[0, -1]] - run[[0, -1]], axis=1).max() <= ROUNDING
        assert from_run(shape, run).max() <= 2.0 * TOLERANCE + ROUNDING
        for kept in (tool.layer, tool.speed_mm_s, tool.flow):
            assert len(set(kept[arc.first : arc.last].tolist())) == 1
        share = np.linspace(0.0, 1.0, len(run))
        # of the paths here every move of an arc turns by the same angle
        rise = tool.points[arc.first : arc.last + 1, 2]
        assert rise == pytest.approx(rise[0] + share * (rise[-1] - rise[0]), abs=1e-4 + ROUNDING)


@pytest.mark.parametrize("radius", [0.5, 4.0, 60.0, 400.0])
@pytest.mark.parametrize("turns", [1.0, -1.0])
def test_a_circle_is_arcs_about_its_middle(radius: float, turns: float) -> None:
    # so many points that the arc lies a quarter of the tolerance beside each chord
    count = math.ceil(math.pi / math.acos(1.0 - 0.25 * TOLERANCE / radius))
    tool = path(circle(radius, count, turns=turns, centre=(7.0, -3.0)))
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    for arc in arcs:
        assert arc.centre == pytest.approx((7.0, -3.0), abs=1e-6 * radius)
        assert arc.radius_mm == pytest.approx(radius, rel=1e-6)
        assert arc.anticlockwise == (turns > 0.0)
    # none goes farther than 300 degrees, so there are two, and they leave no move over
    assert len(arcs) == 2
    assert [arcs[0].first, arcs[0].last, arcs[1].last] == [0, arcs[1].first, count]
    assert sum(swept_rad(arc, tool.points) for arc in arcs) == pytest.approx(2.0 * math.pi)


def test_a_rounded_box_is_four_arcs_of_a_quarter() -> None:
    tool = path(rounded_box(30.0, 20.0, 3.0))
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    assert len(arcs) == 4
    middles = {(round(arc.centre[0], 6), round(arc.centre[1], 6)) for arc in arcs}
    assert middles == {(27.0, 3.0), (27.0, 17.0), (3.0, 17.0), (3.0, 3.0)}
    for arc in arcs:
        assert swept_rad(arc, tool.points) == pytest.approx(0.5 * math.pi)
        assert arc.radius_mm == pytest.approx(3.0)


def test_what_is_straight_or_sharp_has_no_arcs() -> None:
    x = np.linspace(0.0, 20.0, 41)
    straight = np.column_stack([x, 0.3 * x])
    zigzag = np.column_stack([x, 0.4 * (np.arange(41) % 2)])
    box = np.array([[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]], float)
    # flatter than any arc that is written
    bowed = circle(600.0, 2000)[:80]
    # a corner of a tenth of a millimetre is no curve to be followed
    tight = circle(0.2, 30)
    # two moves may lie on any circle
    short = circle(5.0, 40)[:3]
    for flat in (straight, zigzag, box, bowed, tight, short):
        assert arcs_of_path(path(flat), TOLERANCE) == ()


def test_coarse_points_on_a_circle_are_no_arc() -> None:
    """A hexagon's corners lie on a circle, and it is none."""
    assert arcs_of_path(path(circle(10.0, 6)), TOLERANCE) == ()
    # a sagitta of twice the tolerance and a little less, and a little more
    for times, found in ((1.98, True), (2.02, False)):
        count = math.pi / math.acos(1.0 - times * TOLERANCE / 10.0)
        flat = circle(10.0, 10, turns=10 / count)
        assert bool(arcs_of_path(path(flat), TOLERANCE)) == found


def test_points_beside_the_circle_count_with_the_sagitta() -> None:
    """Where points lie off by almost the tolerance, chords may not be as long as where they lie on it."""
    flat = circle(10.0, 10, turns=10.0 * math.acos(1.0 - 1.9 * TOLERANCE / 10.0) / math.pi)
    assert len(arcs_of_path(path(flat), TOLERANCE)) == 1
    shifted = flat * (1.0 + 0.09 * TOLERANCE * np.cos(np.arange(11) * math.pi / 2.5))[:, None]
    tool = path(shifted)
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    assert sum(arc.last - arc.first for arc in arcs) < 10


def test_noise_within_the_tolerance_is_passed_over_and_more_is_not() -> None:
    noise = np.random.default_rng(5).uniform(-1.0, 1.0, 121)[:, None]
    flat = circle(20.0, 120)
    out = flat / np.linalg.norm(flat, axis=1)[:, None]
    some = path(flat + 0.1 * TOLERANCE * noise * out)
    arcs = arcs_of_path(some, TOLERANCE)
    hold(arcs, some)
    assert sum(arc.last - arc.first for arc in arcs) > 100
    # bumps of ten times the tolerance, on chords of a millimetre, turn this way and that
    much = path(flat + 10.0 * TOLERANCE * noise * out)
    arcs = arcs_of_path(much, TOLERANCE)
    hold(arcs, much)
    assert sum(arc.last - arc.first for arc in arcs) < 20


def test_two_circles_that_run_into_each_other_share_no_move() -> None:
    big = circle(20.0, 400)[:101]
    small = circle(4.0, 80, centre=(0.0, 16.0))[20:61]
    tool = path(np.concatenate([big, small[1:]]))
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    assert [arc.anticlockwise for arc in arcs] == [True, True]
    assert [round(arc.radius_mm, 6) for arc in arcs] == [20.0, 4.0]
    assert sum(arc.last - arc.first for arc in arcs) == len(tool)


def test_a_bend_to_the_left_and_one_to_the_right_are_two_arcs() -> None:
    """Twenty turns of 5 degrees to the left and as many to the right, on chords of one length."""
    heading = np.deg2rad(np.cumsum(np.repeat([5.0, -5.0], 20)))
    chord = 0.35
    steps = chord * np.column_stack([np.cos(heading), np.sin(heading)])
    tool = path(np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)]))
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    assert [arc.anticlockwise for arc in arcs] == [True, False]
    for arc in arcs:
        assert arc.radius_mm == pytest.approx(0.5 * chord / math.sin(math.radians(2.5)))
    back = written(tool)
    assert [arc for arc in back.arc.tolist() if arc] == [3, 2]


def test_nothing_that_changes_lies_inside_an_arc() -> None:
    flat = circle(10.0, 200)[:151]
    parts = np.repeat([0, 1, 2], 50)
    for name, column in {
        "layer": parts,
        "speed_mm_s": 40.0 - parts,
        "flow": 0.5 + 0.01 * parts,
    }.items():
        tool = path(flat, **{name: column})
        arcs = arcs_of_path(tool, TOLERANCE)
        hold(arcs, tool)
        assert [(arc.first, arc.last) for arc in arcs] == [(0, 50), (50, 100), (100, 150)]
        # as many arcs are written, each at its own speed and with its own filament
        back = written(tool)
        assert back.arc.tolist() == [3, 3, 3]
        assert back.speed_mm_s.tolist() == tool.speed_mm_s[::50].tolist()
        laid = tool.volume_mm3.reshape(3, 50).sum(axis=1) / FILAMENT_AREA
        assert back.filament_mm == pytest.approx(laid, abs=2.0 * ROUND_E_MM)


# --- rise ------------------------------------------------------------------------------------------------


def test_a_spiral_that_rises_evenly_is_arcs_that_rise() -> None:
    count = 720
    z = HEIGHT + 0.5 * np.arange(count + 1) / 360.0
    tool = path(circle(12.0, count, turns=2.0), z=z)
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    assert sum(arc.last - arc.first for arc in arcs) == count
    back = written(tool)
    assert back.points[0, 2] == HEIGHT
    assert back.points[-1, 2] == pytest.approx(HEIGHT + 1.0, abs=5e-5)
    assert np.diff(back.points[:, 2]).min() > 0.0


def test_a_step_up_ends_an_arc() -> None:
    flat = circle(12.0, 360)[:181]
    # flat, then a rise over ten moves, then flat
    z = HEIGHT + 0.25 * np.clip((np.arange(181) - 90) / 10.0, 0.0, 1.0)
    tool = path(flat, z=z)
    arcs = arcs_of_path(tool, TOLERANCE)
    hold(arcs, tool)
    for arc in arcs:
        # the nozzle either rises on all of an arc or on none of it, but for a ten-thousandth
        rise = np.diff(tool.points[arc.first : arc.last + 1, 2])
        assert np.ptp(rise) <= 2e-4
    back = written(tool)
    for place in back.points:
        near = np.argmin(np.linalg.norm(tool.points[:, :2] + [107.0, 97.0] - place[:2], axis=1))
        assert place[2] == pytest.approx(tool.points[near, 2], abs=1e-4)


# --- written ---------------------------------------------------------------------------------------------

SHAPES = {
    "circle": circle(15.0, 300),
    "box": rounded_box(30.0, 20.0, 3.0),
    "clockwise": circle(6.0, 90, turns=-0.9),
}
LENGTHS = {
    "circle": 2.0 * math.pi * 15.0,
    "box": 2.0 * (24.0 + 14.0) + 2.0 * math.pi * 3.0,
    "clockwise": 0.9 * 2.0 * math.pi * 6.0,
}
"""In closed form, the arcs being true ones [mm]."""


@pytest.mark.parametrize("relative", [True, False])
@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("shape", SHAPES)
def test_length_and_filament_of_what_is_read_back(shape: str, hand: str, relative: bool) -> None:
    tool = path(SHAPES[shape])
    back = written(tool, hand=hand, relative=relative)
    assert (back.arc > 0).any()
    # ends are rounded to a micrometre, on few moves
    assert back.length_mm.sum() == pytest.approx(LENGTHS[shape], abs=2.0 * ROUND_MM * len(back.arc))
    assert back.filament_mm.sum() == pytest.approx(
        tool.volume_mm3.sum() / FILAMENT_AREA, abs=ROUND_E_MM + ROUNDING
    )
    assert len(back.arc) < 0.2 * len(tool)


def test_filament_is_that_of_the_moves_arc_by_arc() -> None:
    area = 0.1 + 0.0005 * np.arange(300)
    tool = path(SHAPES["circle"], area_mm2=area)
    arcs = arcs_of_path(tool, TOLERANCE)
    back = written(tool)
    assert len(back.arc) == len(arcs)
    for arc, laid in zip(arcs, back.filament_mm, strict=True):
        wanted = tool.volume_mm3[arc.first : arc.last].sum() / FILAMENT_AREA
        # both ends of the count are rounded
        assert laid == pytest.approx(wanted, abs=2.0 * ROUND_E_MM + ROUNDING)


@pytest.mark.parametrize("turn_deg", [0.0, 37.0, 180.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_the_right_hand_turns_the_other_way(shape: str, turn_deg: float) -> None:
    tool = path(SHAPES[shape])
    left, right = (written(tool, hand=hand, turn_deg=turn_deg) for hand in ("left", "right"))
    assert set(left.arc.tolist()) - {0} == ({2} if shape == "clockwise" else {3})
    assert np.where(left.arc > 0, 5 - left.arc, 0).tolist() == right.arc.tolist()
    assert right.points[:, 0] == pytest.approx(left.points[:, 0], abs=2.0 * ROUND_MM)
    assert right.points[:, 1] == pytest.approx(2.0 * CENTRE[1] - left.points[:, 1], abs=2.0 * ROUND_MM)
    assert right.length_mm == pytest.approx(left.length_mm, abs=4.0 * ROUND_MM)


@pytest.mark.parametrize("hand", ["left", "right"])
def test_centres_are_where_the_shape_has_them_on_the_bed(hand: str) -> None:
    """A disc turned by 90 degrees and shifted on the bed: all centres are the disc's own middle."""
    tool = path(circle(9.0, 200, centre=(20.0, 5.0)))
    text = "".join(gcode_chunks(job(tool, hand=hand, turn_deg=90.0)))
    back = read_program(text)
    # x' = -y, y' = x, less the middle of the footprint, (3, -2); the right hand mirrors y'
    middle = np.array([-5.0 - 3.0, 20.0 + 2.0])
    if hand == "right":
        middle[1] *= -1.0
    middle += CENTRE
    found = 0
    for row, line in enumerate(back.line):
        words = {word[0]: float(word[1:]) for word in back.lines[line].split()}
        if back.arc[row]:
            centre = back.points[row, :2] + np.array([words["I"], words["J"]])
            assert centre == pytest.approx(middle, abs=2.0 * ROUND_MM)
            found += 1
    assert found == 2


def test_arcs_are_not_written_where_the_printer_knows_none() -> None:
    tool = path(SHAPES["circle"])
    plain = read_program("".join(gcode_chunks(replace(job(tool), arcs=()))))
    assert not plain.arc.any()
    assert len(plain.arc) == len(tool)
    flat = tool.points[:, :2] - [3.0, -2.0] + CENTRE
    assert plain.points[:, :2] == pytest.approx(flat, abs=ROUND_MM + ROUNDING)


def test_straight_moves_between_arcs_stay_where_they_are() -> None:
    """The rounded box: straight, arc, straight, arc, straight, arc, straight, arc, straight."""
    back = written(path(SHAPES["box"]))
    assert back.arc.tolist() == [0, 3, 0, 3, 0, 3, 0, 3, 0]
    quarter = 1.5 * math.pi
    # the path begins in the middle of the lower side
    lengths = [12.0, quarter, 14.0, quarter, 24.0, quarter, 14.0, quarter, 12.0]
    assert back.length_mm == pytest.approx(lengths, abs=4.0 * ROUND_MM)


@pytest.mark.parametrize("radius", [0.3, 7.0, 400.0])
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_the_radius_through_neighbours_on_a_circle(radius: float, sense: float) -> None:
    # uneven steps: the circle through three points does not depend on where on it they lie
    angle = sense * np.cumsum([0.0, 0.2, 0.5, 0.1, 0.3])
    sign, found = _turns(np.column_stack([3.0 + radius * np.cos(angle), radius * np.sin(angle)]))
    assert sign == pytest.approx(sense)
    assert found == pytest.approx(radius)
