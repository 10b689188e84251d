"""How the words of programs are read: spelling, counting, units, arcs."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from program_texts import DIGITS_MM, HEAD, PLAIN, Judge, Read, lines_of, told

from wingpath.pipeline.checking_programs import bead_run, check_program

# --- how words are read ------------------------------------------------------------------------------


WAYS = {
    "lower case": PLAIN.lower(),
    "no blanks": PLAIN.replace(" ", ""),
    "many blanks": "  " + PLAIN.replace(" ", " \t ").replace("X", "X "),
    "two digits": PLAIN.replace("G1 ", "G01 ").replace("G0 ", "G00 "),
    "line numbers": "".join(f"N{10 * n} {line}\n" for n, line in enumerate(PLAIN.splitlines())),
    "line numbers without blanks": "".join(
        f"N{10 * n}{line}\n".replace(" ", "") for n, line in enumerate(PLAIN.splitlines())
    ),
    "checksums": "".join(f"N{n} {line}*{n + 7}\n" for n, line in enumerate(PLAIN.splitlines())),
    "remarks behind": "".join(f"{line} ; X99 E99 G92 X5\n" for line in PLAIN.splitlines()),
    "remarks close behind": "".join(f"{line};X99\n" for line in PLAIN.splitlines()),
    "remarks between": "".join(line.replace(" ", " (X99 ; E9) ", 1) + "\n" for line in PLAIN.splitlines()),
    "line ends of two signs": PLAIN.replace("\n", "\r\n"),
    "no last line end": PLAIN.rstrip("\n"),
    "signs": PLAIN.replace("X", "X+").replace("E", "E+"),
    "dots": PLAIN.replace("X10", "X10.").replace("E0.5", "E.5").replace("X25", "X25.000"),
    "other order": PLAIN.replace("X20 Y5 E1.5", "E1.5 Y5 X20"),
    "a mark of the encoding": "\ufeff" + PLAIN,
    "modal words": PLAIN.replace("G1 X25", "X25"),
    "modes on one line": "\n" + PLAIN.replace("G90\nM83", "G90 M83"),
}


@pytest.mark.parametrize("way", WAYS)
def test_the_same_program_in_other_spelling(read: Read, way: str) -> None:
    moves, plain = read(WAYS[way]), read(PLAIN)
    assert moves.start.tolist() == plain.start.tolist()
    assert moves.end.tolist() == [[10, 0, 0.3], [20, 5, 0.3], [25, 5, 0.3], [25, 9, 0.3]]
    assert moves.filament_mm.tolist() == [0.0, 1.5, 0.5, 0.0]
    assert moves.line.tolist() == [3, 4, 5, 6]
    assert moves.odd == ()
    assert moves.jumps == ()
    assert moves.length_mm.tolist() == pytest.approx([10.0, math.hypot(10.0, 5.0), 5.0, 4.0])


@pytest.mark.parametrize(
    ("modes", "filament"),
    [
        # E1, E3 and E2 stand in three moves
        ("", [1.0, 2.0, -1.0]),
        ("M82", [1.0, 2.0, -1.0]),
        ("M83", [1.0, 3.0, 2.0]),
        ("G91", [1.0, 3.0, 2.0]),
        ("G91\nM82", [1.0, 2.0, -1.0]),
        ("G90\nM83", [1.0, 3.0, 2.0]),
        ("M83\nG90", [1.0, 2.0, -1.0]),
        ("M82\nG91", [1.0, 3.0, 2.0]),
    ],
)
def test_how_filament_is_counted(read: Read, modes: str, filament: list[float]) -> None:
    moves = read(f"{modes}\nG1 X1 E1\nG1 X2 E3\nG1 X3 E2\n")
    assert moves.filament_mm.tolist() == filament
    places = [1.0, 3.0, 6.0] if "G91" in modes else [1.0, 2.0, 3.0]
    assert moves.end[:, 0].tolist() == places


def test_counting_goes_on_where_the_other_way_stopped(read: Read) -> None:
    moves = read("M82\nG1 X1 E10\nM83\nG1 X2 E2\nM82\nG1 X3 E15\nG1 F9 X4 Y1 E16\n")
    assert moves.filament_mm.tolist() == [10.0, 2.0, 3.0, 1.0]


def test_restarts_of_the_count_are_no_retraction(judge: Judge, read: Read) -> None:
    text = "M82\nG1 Z0.2\nG1 X10 E5\nG92 E0\nG1 X20 E5\nG92 E3.5\nG1 X30 E8.5\nG92 E\nG1 X40 E5\n"
    assert judge(text) == ()
    assert read(text).filament_mm.tolist() == [0.0, 5.0, 5.0, 5.0, 5.0]
    without = text.replace("G92 E0\n", "\n")
    assert told(judge(without)) == [("travel", 5)]
    # places set anew leave the count as it is
    assert read("M82\nG1 X1 E5\nG92 X0 Y0 Z0\nG1 X1 E6\n").filament_mm.tolist() == [5.0, 1.0]


def test_one_count_repeated_is_a_travel_however_large(judge: Judge) -> None:
    """Counts are held in double precision, or rounding of large ones would pass for filament."""
    counts = [7654321.1, 7654321.1 + 0.3, 7654321.7]
    text = "G92 E7654320\nM82\nG1 X-50 Z0.2\n"
    text += "".join(
        f"G1 X{n} E{count!r}\nG1 X{n + 0.5} E{count!r}\n" for n, count in enumerate(counts, start=1)
    )
    assert lines_of(judge(text + "G1 X9 E7654329\n"), "travel") == [5, 7, 9]


def test_inches(judge: Judge, read: Read) -> None:
    moves = read("G20\nM83\nG1 X1 Y2 Z0.01\nG1 X2 E.1\nG92 X0\nG91\nG1 X1 E.2\nG21\nG1 X1 E.2\n")
    assert moves.end.ravel() == pytest.approx(
        [25.4, 50.8, 0.254, 50.8, 50.8, 0.254, 25.4, 50.8, 0.254, 26.4, 50.8, 0.254]
    )
    assert moves.filament_mm == pytest.approx([0.0, 2.54, 5.08, 0.2])
    moves = read("G20\nG92 X1 Y-2 E3\nG1 X1.5 E3.5\nG28 X\nG91\nG01 Y1 E-1\n")
    assert moves.start.ravel() == pytest.approx([25.4, -50.8, 0.0, 0.0, -50.8, 0.0])
    assert moves.end.ravel() == pytest.approx([38.1, -50.8, 0.0, 0.0, -25.4, 0.0])
    assert moves.filament_mm == pytest.approx([12.7, -25.4])
    # 5000 in are 127 m, farther than a place may lie
    assert lines_of(judge("G20\nG1 X5000 E1\n"), "odd-line") == [2]
    assert lines_of(judge("G20\nG01 X5000 E1\n"), "odd-line") == [2]


def test_modal_motion(read: Read) -> None:
    moves = read("M83\nG1 X10 E1\nX20 E1\nG3 X20 Y20 J10 E1\nX20 Y0 J-10 E1\nG0 X5\nY7\nG90\nY8\n")
    assert moves.line.tolist() == [2, 3, 4, 5, 6, 7, 9]
    assert moves.length_mm == pytest.approx([10, 10, 10 * math.pi, 10 * math.pi, 15, 7, 1])
    # a setting with places of its own moves nothing
    assert read("G1 X1\nM204 X500 Y500\nM566 X5 E3\n").line.tolist() == [1]


def test_relative_moves_and_the_way_back_to_absolute(read: Read) -> None:
    moves = read("G91\nG1 X5 Y5\nG1 X-2 Z1\nG90\nG1 X1\n")
    assert moves.end.tolist() == [[5.0, 5.0, 0.0], [3.0, 5.0, 1.0], [1.0, 5.0, 1.0]]
    assert moves.start.tolist() == [[0.0, 0.0, 0.0], *moves.end[:-1].tolist()]


# --- arcs --------------------------------------------------------------------------------------------

TURN = 2.0 * math.pi


@pytest.mark.parametrize(
    ("words", "length"),
    [
        # from (10, 0) about the origin, radius 10
        ("G3 X0 Y10 I-10 J0", 10 * TURN / 4),
        ("G2 X0 Y10 I-10 J0", 10 * TURN * 3 / 4),
        ("G3 X-10 Y0 I-10", 10 * TURN / 2),
        ("G2 X-10 Y0 I-10", 10 * TURN / 2),
        ("G3 I-10 J0", 10 * TURN),
        ("G2 I-10", 10 * TURN),
        ("G3 X10 Y0 I-10 J0", 10 * TURN),
        ("G3 I-10 Z5", 10 * TURN),
        ("G3 X0 Y10 Z5 I-10 J0", 10 * TURN / 4),
        # by its radius: the short way, and with a minus the long one
        ("G3 X0 Y10 R10", 10 * TURN / 4),
        ("G2 X0 Y10 R10", 10 * TURN / 4),
        ("G3 X0 Y10 R-10", 10 * TURN * 3 / 4),
        ("G2 X0 Y10 R-10", 10 * TURN * 3 / 4),
        ("G2 X-10 Y0 R10", 10 * TURN / 2),
        ("G3 X20 Y0 R100", 200 * math.asin(0.05)),
        # lower case, no blanks, remarks
        ("g3x0y10i-10j0", 10 * TURN / 4),
        ("N5 G02 X0 Y10 (I5) I-10 J0 ; R5", 10 * TURN * 3 / 4),
    ],
)
@pytest.mark.parametrize("inches", [False, True])
def test_length_of_arcs(read: Read, words: str, length: float, inches: bool) -> None:
    unit = 25.4 if inches else 1.0
    moves = read(f"M83\n{'G20' if inches else 'G21'}\nG1 X10 Y0\n{words.replace(' ;', ' E1 ;')}\n")
    assert moves.odd == ()
    assert moves.length_mm[1] == pytest.approx(unit * length, rel=1e-12)


@pytest.mark.parametrize("words", ["G3 X0 Y10 I-10 J0", "G2 X0 Y10 I-10", "G3 X0 Y10 R-10", "G2 X0 Y10 R10"])
def test_arcs_go_where_their_centre_says(tmp_path: Path, words: str) -> None:
    """The drawn run of an arc lies on its circle, turns its way, and is as long as the arc."""
    path = tmp_path / "arc.gcode"
    path.write_text(f"M83\nG1 X10 Y0 Z0.2\n{words} Z0.4 E1\nG0 X50\nG1 X60 E1\n")
    one = check_program(path)
    points, layer, dry, layer_mm = bead_run(one)
    assert len(points) == len(layer) + 1 == len(dry) + 1
    arc = points[: np.flatnonzero(dry)[0] + 1]
    assert dry.sum() == 1
    assert layer_mm == pytest.approx(0.4)
    # about the origin, or about (10, 10) where the short way turns right and the long way left
    centre = (10.0, 10.0) if "R" in words else (0.0, 0.0)
    assert np.hypot(*(arc[:, :2] - centre).T) == pytest.approx(np.full(len(arc), 10.0), abs=DIGITS_MM)
    assert arc[0].tolist() == [10.0, 0.0, 0.2]
    assert arc[-1].tolist() == [0.0, 10.0, 0.4]
    assert np.diff(arc[:, 2]) == pytest.approx(np.full(len(arc) - 1, 0.2 / (len(arc) - 1)))
    steps = np.hypot(*np.diff(arc[:, :2], axis=0).T)
    # chords of four degrees are shorter than their arc by a part in 4900
    assert steps.sum() == pytest.approx(one.moves.length_mm[1], rel=2.1e-4)
    assert steps.sum() < one.moves.length_mm[1]
    a, b = np.diff(arc[:2, :2], axis=0)[0], np.diff(arc[1:3, :2], axis=0)[0]
    assert np.sign(a[0] * b[1] - a[1] * b[0]) == (1.0 if words.startswith("G3") else -1.0)


def test_an_arc_without_filament_is_a_travel_of_its_length(judge: Judge) -> None:
    text = f"{HEAD}G1 X10 E1\nG3 I5\nG1 X20 E1\n"
    (finding,) = judge(text)
    assert (finding.code, finding.line) == ("travel", 5)
    assert finding.found == pytest.approx(10.0 * math.pi)
    assert judge(text.replace("G3 I5", "G3 I5 E3")) == ()


def test_thin_arcs_are_judged_by_their_length(judge: Judge) -> None:
    # 2 mm of chord, but 60 mm and more of arc: a tenth of the usual filament
    text = f"{HEAD}G1 X100 E10\nG2 X102 Y0 I1 J10 E{{}}\nG1 X200 E10\n"
    assert told(judge(text.format(0.6))) == [("extrusion-gap", 5)]
    assert judge(text.format(3.0)) == ()


@pytest.mark.parametrize(
    ("end", "odd"), [("Y10.049", False), ("Y10.051", False), ("Y10.099", False), ("Y10.101", True)]
)
def test_both_ends_of_an_arc_lie_about_on_its_circle(judge: Judge, end: str, odd: bool) -> None:
    # a hundredth of the radius of 10 mm is more than 0.05 mm
    findings = judge(f"M83\nG1 X10 Y0 Z0.2\nG3 X0 {end} I-10 J0 E1\nG1 X-9 E1\n")
    assert told(findings) == ([("odd-line", 3)] if odd else [])


@pytest.mark.parametrize(("radius", "odd"), [(9.91, False), (9.89, True)])
def test_a_radius_that_just_reaches(judge: Judge, read: Read, radius: float, odd: bool) -> None:
    text = f"M83\nG1 X0 Y0 Z0.2\nG3 X20 R{radius} E1\n"
    assert told(judge(text)) == ([("odd-line", 3)] if odd else [])
    # nonsense counts as straight, the other as a half circle on the chord
    assert read(text).length_mm[1] == pytest.approx(20.0 if odd else 10.0 * math.pi)
