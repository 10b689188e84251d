"""Every finding code about programs: one that just gives it, one that just does not."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from program_texts import DIGITS_MM, HEAD, ROOM, Judge, Read, lines_of, loop, place, told

from wingpath.pipeline.checking_programs import check_program, program_document

# --- travel ------------------------------------------------------------------------------------------


def test_one_bead_gives_nothing(judge: Judge) -> None:
    assert judge(HEAD + loop(0.0, 0.2) + loop(0.0, 0.4)) == ()


@pytest.mark.parametrize(
    "words", ["G0 X10 Y{y}", "G1 X10 Y{y}", "G1 Y{y} F3000", "G1 Y{y} E0", "G1 Y{y} E-0"]
)
@pytest.mark.parametrize(("y", "found"), [(0.0049, False), (0.0051, True), (3.0, True)])
def test_travel(judge: Judge, words: str, y: float, found: bool) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\n{words.format(y=y)}\nG1 X20 E1\n")
    assert told(findings) == ([("travel", 5)] if found else [])
    for finding in findings:
        assert finding.severity == "error"
        assert finding.panel == "some.gcode"
        assert place(finding) == (10.0, 0.0, 0.2)
        assert (finding.found, finding.limit, finding.unit) == (pytest.approx(y, abs=DIGITS_MM), 0.0, "mm")
        assert f"travels {y:.2f} mm" in finding.message


def test_the_least_filament_that_is_none(judge: Judge) -> None:
    # a thousandth of a nanometre more than what counts as none is bead, if too little of it
    for words, codes in (("0.0000000009", ["travel"]), ("0.0000000011", ["extrusion-gap"])):
        findings = judge(f"{HEAD}G1 X10 E1\nG1 Y5 E{words}\nG1 X20 E1\n")
        assert [finding.code for finding in findings] == codes


def test_travel_before_the_first_bead_and_after_the_last_is_none(judge: Judge) -> None:
    away = "G0 Z5\nG0 X100 Y100\nG1 E-2\nG92 X0 Y0\nG28\n"
    assert judge(away + HEAD + loop(0.0, 0.2) + away) == ()


def test_many_moves_too_short_to_count_are_one_travel(judge: Judge) -> None:
    steps = "".join(f"G1 X{10.0 + 0.004 * n:.3f}\n" for n in range(1, 101))
    (finding,) = judge(f"{HEAD}G1 X10 E1\n{steps}G1 X20 E1\n")
    assert (finding.code, finding.line) == ("travel", 5)
    assert place(finding) == (10.0, 0.0, 0.2)
    assert finding.found == pytest.approx(0.4, abs=DIGITS_MM)
    # one such step alone is rounding, wherever it stands
    assert judge(f"{HEAD}G1 X10 E1\nG1 X10.004\nG1 X15 E1\nG1 X15.004\nG1 X20 E1\n") == ()


def test_short_steps_beside_a_long_travel_are_told_once(judge: Judge) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\nG0 X10.004\nG0 X14\nG0 X14.004\nG1 X20 E1\n")
    assert told(findings) == [("travel", 6)]


@pytest.mark.parametrize(("count", "more"), [(24, None), (25, None), (26, 1), (300, 275)])
def test_travels_are_listed_up_to_25_and_then_counted(judge: Judge, count: int, more: int | None) -> None:
    findings = judge(
        HEAD + "".join(f"G1 X10 Y{n} E1\nG0 X0 Y{n}\n" for n in range(count)) + f"G1 Y0 E{0.1 * count:.1f}\n"
    )
    assert lines_of(findings, "travel") == [5 + 2 * n for n in range(min(count, 25))]
    assert len(findings) == min(count, 25)
    told_more = [finding.message for finding in findings if " more such moves" in finding.message]
    if more is None:
        assert told_more == []
    else:
        assert told_more == [findings[-1].message]
        assert findings[-1].message.endswith(
            f"; and {more} more such moves, the last in line {3 + 2 * count}"
        )


def test_the_document_counts_all_of_them(tmp_path: Path) -> None:
    path = tmp_path / "many.gcode"
    path.write_text(HEAD + "".join(f"G1 X10 Y{n} E1\nG1 X0 Y{n} E-1\n" for n in range(40)) + "G1 Y0 E1\n")
    document = program_document(check_program(path))
    assert (document["travels"], document["retractions"]) == (40, 40)
    assert (document["lines"], document["moves"], document["bead_moves"]) == (84, 82, 41)
    assert document["unbroken"] is False
    assert document["file"] == str(path)
    assert (document["low_mm"], document["high_mm"]) == ([0.0, 0.0, 0.2], [10.0, 39.0, 0.2])
    assert document["filament_mm"] == pytest.approx(1.0)


# --- filament drawn back -----------------------------------------------------------------------------


@pytest.mark.parametrize(("back", "found"), [("0.001", True), ("0.0000000009", False)])
def test_retraction(judge: Judge, back: str, found: bool) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\nG1 E-{back}\nG1 E{back}\nG1 X20 E1\n")
    assert told(findings) == ([("retraction", 5)] if found else [])
    for finding in findings:
        assert finding.severity == "error"
        assert place(finding) == (10.0, 0.0, 0.2)
        assert finding.found == pytest.approx(float(back), abs=1e-15)
        assert "0.001 mm of filament" in finding.message


def test_drawing_back_on_the_way_is_travel_too(judge: Judge) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\nG1 Y3 E-0.5\nG1 X20 E1\n")
    assert told(findings) == [("retraction", 5), ("travel", 5)]


def test_drawing_back_by_the_machine_itself(judge: Judge) -> None:
    part = "G1 X10 E1\nG10\nG11\nG1 X20 E1\n"
    findings = judge(HEAD + part)
    assert told(findings) == [("retraction", 5)]
    assert findings[0].severity == "error"
    assert "of its own" in findings[0].message
    # the same word with P or L sets offsets, and outside the bead it is allowed
    assert judge(HEAD + part.replace("G10", "G10 P0 S200").replace("G11", "")) == ()
    assert judge(f"G10\n{HEAD}G1 X20 E1\nG10\n") == ()


def test_withdrawals_stand_in_the_document_once_each(tmp_path: Path) -> None:
    path = tmp_path / "own.gcode"
    path.write_text(f"G10\n{HEAD}G1 X10 E1\nG10\nG11\nG1 E-1\nG1 E1\nG1 X20 E1\nG10\n")
    assert program_document(check_program(path))["retractions"] == 2


# --- jumps -------------------------------------------------------------------------------------------

JUMPS = {
    "G92 X5": "G92 X ",
    "G92 X5 Y0 Z0.2 E0": "G92 X Y Z ",
    "G92": "G92 X Y Z ",
    "G92.1": "G92.1 ",
    "G28": "G28 ",
    "G28 X": "G28 ",
    "g28 y z": "G28 ",
    "G29": "G29 ",
    "G54": "G54 ",
    "G53 G1 X10 E1": "G53 ",
    "G5 X10 Y0 I1 J1 P1 Q1 E1": "G5 ",
    "G90 X7": "G90 ",
    "G21 G91 X7": "G21 ",
    "T1": "T1 ",
    "N7 T1*3": "T1 ",
    "M600": "M600 ",
}

NO_JUMPS = [
    "G92 E0",
    "G92 E",
    "T0",
    "G4 P10",
    "G17",
    "M204 X5 Y5",
    "M84 X Y E",
    "G21",
    "M83",
    "%",
    ";T1",
    "F900",
]


@pytest.mark.parametrize(("words", "shown"), JUMPS.items())
def test_jump(judge: Judge, words: str, shown: str) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\n{words}\nG90\nM83\nG1 X20 E1\n")
    assert lines_of(findings, "jump") == [5]
    (finding,) = [finding for finding in findings if finding.code == "jump"]
    assert finding.severity == "error"
    assert finding.message.startswith(f"{shown}between the first bead and the last")
    before_and_after = judge(f"{words}\n{HEAD}G1 X10 E1\nG1 X20 E1\n{words}\n")
    assert not lines_of(before_and_after, "jump")


@pytest.mark.parametrize("words", NO_JUMPS)
def test_no_jump(judge: Judge, words: str) -> None:
    assert judge(f"{HEAD}G1 X10 E1\n{words}\nG1 X20 E1\n") == ()


def test_a_tool_that_is_in_use_already_is_no_jump(judge: Judge) -> None:
    assert judge(f"T2\n{HEAD}G1 X10 E1\nT2\nG1 X20 E1\n") == ()
    assert told(judge(f"T2\n{HEAD}G1 X10 E1\nT0\nT2\nG1 X20 E1\n")) == [("jump", 5 + 1), ("jump", 6 + 1)]


def test_where_the_nozzle_is_after_a_jump(read: Read) -> None:
    moves = read(f"{HEAD}G1 X10 E1\nG92 X3 Y4\nG1 X5 E1\nG28 Y\nG1 X6 E1\nG5 X7 Y8 E1\nG1 X9 E1\n")
    assert moves.start[2:].tolist() == [[3.0, 4.0, 0.2], [5.0, 0.0, 0.2], [7.0, 8.0, 0.2]]
    assert moves.end[2:].tolist() == [[5.0, 4.0, 0.2], [6.0, 0.0, 0.2], [9.0, 8.0, 0.2]]
    nothing = read("G1 X5 Y6 Z7 E8\nG92\nM82\nG1 X1 E1\n")
    assert nothing.start[1].tolist() == [0.0, 0.0, 0.0]
    assert nothing.filament_mm.tolist() == [8.0, 1.0]


def test_many_jumps_are_counted_in_the_last(judge: Judge) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\n" + "G92 X10\n" * 30 + "G1 X20 E1\n")
    assert lines_of(findings, "jump") == list(range(5, 30))
    assert findings[-1].message.endswith("; and 5 more such lines, the last in line 34")
    assert len(findings) == 25


# --- far too little filament -------------------------------------------------------------------------


@pytest.mark.parametrize(("gap", "severity"), [(4.99, "warning"), (5.01, "error")])
def test_extrusion_gap_is_an_error_when_no_bead_bridges_it(judge: Judge, gap: float, severity: str) -> None:
    (finding,) = judge(f"{HEAD}G1 X20 E2\nG1 Y{gap} E0.01\nG1 X0 E2\n")
    assert (finding.code, finding.severity) == ("extrusion-gap", severity)


@pytest.mark.parametrize(("share", "found"), [(0.199, True), (0.201, False)])
def test_extrusion_gap_under_a_fifth_of_the_usual(judge: Judge, share: float, found: bool) -> None:
    # 20 mm with 2 mm of filament each: 0.1 mm per mm is usual
    text = f"{HEAD}G1 X20 E2\nG1 Y10 E{share:.3f}\nG1 X0 E2\n"
    findings = judge(text)
    assert told(findings) == ([("extrusion-gap", 5)] if found else [])
    for finding in findings:
        assert finding.severity == "error"
        assert place(finding) == (20.0, 0.0, 0.2)
        assert finding.found == pytest.approx(0.1 * share)
        assert (finding.limit, finding.unit) == (pytest.approx(0.02), "mm/mm")
        assert f"{0.1 * share:.4f} mm of filament per mm; the path usually gets 0.1000" in finding.message


@pytest.mark.parametrize(("long", "found"), [(0.99, False), (1.01, True)])
@pytest.mark.parametrize("between", ["", "G1 Z0.21\n", "G1 E0\n", "G1 Y0.5\n"])
def test_extrusion_gap_from_a_millimetre_on(judge: Judge, long: float, found: bool, between: str) -> None:
    """A stretch may be of several moves; what does not go sideways does not end it."""
    text = f"{HEAD}G1 X20 E2\nG1 Y0.5 E0.001\n{between}G1 Y{long} E0.001\nG1 X0 E2\n"
    lines = [5, 6 if not between else 7]
    assert lines_of(judge(text), "extrusion-gap") == (lines if found else [])


def test_a_travel_ends_a_stretch(judge: Judge) -> None:
    text = f"{HEAD}G1 X20 E2\nG1 Y0.9 E0.001\nG0 Y2\nG1 Y2.9 E0.001\nG1 X0 E2\n"
    assert told(judge(text)) == [("travel", 6)]


def test_usual_is_how_most_of_the_filament_is_laid(judge: Judge) -> None:
    # three thick moves hold more filament than the fifty thin ones, which are far more
    thin = "".join(f"G1 X{2 * (n % 2)} Y{n // 2} E0.01\n" for n in range(1, 51))
    findings = judge(f"{HEAD}G1 X120 E12\nG1 X0 E12\n{thin}G1 X120 E12\n")
    assert {finding.code for finding in findings} == {"extrusion-gap"}
    assert len(findings) == 25
    assert findings[-1].message.endswith("; and 25 more such moves, the last in line 55")


def test_usual_is_the_middle_of_the_filament(judge: Judge) -> None:
    # 40 mm of filament at 0.1 per mm, 6 at 0.03, 1 at 0.01: a tenth of the usual, a third of the thin part
    full = "G1 X100 E10\nG1 X0 E10\n"
    findings = judge(f"{HEAD}{full}G1 Y200 E6\nG1 X100 E1\nG1 X0 E10\nG1 X100 E10\n")
    assert told(findings) == [("extrusion-gap", 7)]
    assert findings[0].limit == pytest.approx(0.02)


def test_a_path_that_is_mostly_too_thin(judge: Judge) -> None:
    """A travel with a trace of filament is no bead, however long it is beside the rest."""
    text = f"{HEAD}G1 X10 E1\nG1 Y500 E{{}}\nG1 X0 E1\n"
    assert told(judge(text.format("0.000001"))) == [("extrusion-gap", 5)]
    # with half as much again as in the other moves together it is the usual way, if a thin one
    assert told(judge(text.format("3"))) == []


@pytest.mark.parametrize(
    "text",
    [
        "; nothing but a remark\n",
        "\n\n\n",
        HEAD,
        HEAD + "G1 E5\nG1 E100\n",
        HEAD + "G1 X10 E-1\nG1 X20 E0\n",
        HEAD + "G1 Z5 E1\n",
    ],
)
def test_a_program_that_lays_nothing(judge: Judge, text: str) -> None:
    (finding,) = judge(text)
    assert (finding.code, finding.severity, finding.line) == ("extrusion-gap", "error", None)
    assert "no move of this file lays filament" in finding.message
    assert "G-code" in finding.remedy


# --- going down --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("fall", "found"), [(0.0049, False), (0.0051, True), (0.15, True)])
def test_falling(judge: Judge, fall: float, found: bool) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\nG1 Y10 Z{0.2 - fall:.4f} E1\nG1 X0 E1\n")
    assert told(findings) == ([("falling", 5)] if found else [])
    for finding in findings:
        assert finding.severity == "error"
        assert place(finding) == (10.0, 0.0, 0.2)
        assert (finding.found, finding.limit) == (pytest.approx(fall, abs=DIGITS_MM), 0.005)
        assert f"goes down by {fall:.3f} mm" in finding.message


def test_many_small_steps_down_are_falls(judge: Judge) -> None:
    # each step of 0.004 mm alone is rounding; two are not
    steps = "".join(f"G1 X{n % 2} Y{n} Z{5.0 - 0.004 * n:.3f} E1\n" for n in range(1, 9))
    findings = judge(f"G90\nM83\nG1 Z5\n{steps}")
    assert lines_of(findings, "falling") == [5, 7, 9, 11]
    assert [finding.found for finding in findings] == pytest.approx([0.008] * 4, abs=DIGITS_MM)


def test_up_and_down_again_is_a_fall_and_counts_from_there(judge: Judge) -> None:
    hop = "G1 Z0.6\nG1 Z0.2\n"
    findings = judge(f"{HEAD}G1 X10 E1\n{hop}G1 Y10 E1\n{hop}G1 X0 E1\n")
    assert lines_of(findings, "falling") == [6, 9]
    # what rises again after a fall is told no more
    second = judge(f"{HEAD}{loop(0.0, 5.0)}{loop(0.0, 0.2)}{loop(0.0, 0.4)}{loop(0.0, 0.6)}")
    assert told(second) == [("falling", 8)]


def test_jitter_of_the_last_digit_is_no_fall(judge: Judge) -> None:
    heights = [0.2, 0.203, 0.199, 0.202, 0.2, 0.4, 0.397, 0.4]
    text = "".join(f"G1 X{n % 2} Y{n} Z{z} E1\n" for n, z in enumerate(heights))
    assert judge(f"{HEAD}{text}G1 Y20 E9\n") == ()


# --- the bed -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("axis", "edge", "outward"),
    [("X", 0.0, -1), ("X", 100.0, 1), ("Y", 0.0, -1), ("Y", 80.0, 1), ("Z", 60.0, 1)],
)
@pytest.mark.parametrize(("over", "found"), [(0.0049, False), (0.0051, True)])
def test_off_bed(judge: Judge, axis: str, edge: float, outward: int, over: float, found: bool) -> None:
    start = f"G90\nM83\nG1 X50 Y40 Z{edge if axis == 'Z' else 0.2}\n"
    text = f"{start}G1 X51 E5\nG1 Y41 {axis}{edge + outward * over:.4f} E40\nG1 X52 E20\n"
    if axis != "X":
        text = text.replace("Y41 ", "", 1)
    findings = judge(text, room=ROOM)
    # the path stays out there in Y and Z, for one more move
    lines = [5] if axis == "X" else [5, 6]
    assert told(findings) == ([("off-bed", line) for line in lines] if found else [])
    for finding in findings:
        assert finding.severity == "error"
        assert (finding.found, finding.limit) == (pytest.approx(over, abs=DIGITS_MM), 0.0)
    assert judge(text) == ()


def test_off_bed_where_the_first_bead_begins(judge: Judge) -> None:
    text = "G90\nM83\nG0 X{} Y1 Z0.2\nG1 X50 E1\nG1 Y50 E1\n"
    (finding,) = judge(text.format(-0.5), room=ROOM)
    assert (finding.code, finding.line, finding.found) == ("off-bed", 4, 0.5)
    assert place(finding) == (-0.5, 1.0, 0.2)
    assert judge(text.format(0), room=ROOM) == ()


def test_under_the_bed(judge: Judge) -> None:
    assert told(judge("G90\nM83\nG1 X5 Y5 Z-0.1\nG1 X9 E1\n", room=ROOM)) == [("off-bed", 4)]


@pytest.mark.parametrize(
    ("code", "end", "centre", "found"),
    [
        # half circles of radius 10 about a place on the rim, away from the bed and over it
        ("G3", "X90 Y0", "I-10 J0", []),
        ("G2", "X90 Y0", "I-10 J0", [("off-bed", 4)]),
        ("G3", "X110 Y0", "R20", [("off-bed", 4)]),
    ],
)
def test_arcs_that_bulge_over_the_rim(
    judge: Judge, code: str, end: str, centre: str, found: list[tuple[str, int]]
) -> None:
    start = "X110 Y0" if end.startswith("X90") else "X90 Y0"
    wide = np.array([[0.0, 0.0, 0.0], [120.0, 80.0, 60.0]])
    assert told(judge(f"G90\nM83\nG0 {start} Z0.2\n{code} {end} {centre} E1\n", room=wide)) == found


@pytest.mark.parametrize(("x", "y"), [(1, 0), (0, 1), (-1, 0), (0, -1)])
@pytest.mark.parametrize("over", [-0.01, 0.01])
def test_a_full_circle_reaches_its_radius_on_every_side(judge: Judge, x: int, y: int, over: float) -> None:
    # it begins between the axes, so that only the bulge reaches the rim, and only on one side
    middle = 50.0 + x * (30.0 + over), 50.0 + y * (30.0 + over)
    corner = 20.0 * math.sqrt(0.5)
    room = np.array([[0.0, 0.0, 0.0], [100.0, 100.0, 10.0]])
    for code in ("G2", "G3"):
        text = f"G90\nM83\nG0 X{middle[0] + corner:.6f} Y{middle[1] + corner:.6f} Z1\n"
        findings = judge(f"{text}{code} I{-corner:.6f} J{-corner:.6f} E1\n", room=room)
        assert told(findings) == ([("off-bed", 4)] if over > 0 else [])
        for finding in findings:
            # six digits of the centre
            assert finding.found == pytest.approx(over, abs=2e-6)


# --- lines that are not understood -------------------------------------------------------------------

ODD = [
    "G1 X1.2.3 E1",
    "G1 X--1 E1",
    "G1 X E1",
    "G1 XNAN E1",
    "G1 Xinf E1",
    "G1 X1 X2 E1",
    "G1 X1G1X2",
    "G1 X1,5 E1",
    "hello",
    "solid part",
    "G",
    "G1 (never closed X5 E1",
    "G1 X200000 E1",
    "G1 Y-200000 E1",
    "G1 Z200000 E1",
    "G1 Z200000 X5 E1",
    "G1 E20000000",
    "G92 X200000",
    "G92 E20000000",
    f"G1 X{'9' * 400} E1",
    f"G1 E{'9' * 400}",
    f"G92 Y-{'9' * 400}",
    "G2 X11 R0.1 E1",
    "G2 R5 E1",
    "G2 X11 E1",
    "G2 X11 I9 J9 E1",
    f"G2 X11 I{'9' * 400} E1",
    f"G3 X11 R{'9' * 400} E1",
    f"G3 X11 I{'9' * 300} J0 E1",
    "G3 X11 R200000 E1",
    "G18",
    "G1 X1 E1\rG1 X2 E1",
    "G1 X1 E1 ; one\rG1 X2 E1",
    "\x1b[31mred",
]

NOT_ODD = [
    "",
    "   \t ",
    "%",
    "/G1 X5",
    "; a remark (of ; any * kind",
    "(a remark; with a semicolon)",
    "(one)(two) M83 (three) ; four (",
    "N12 M117 layer 3 of 9: all is well!",
    "m117 lower case",
    'M862.3 P "some words"',
    "M486 Asome part.stl",
    "M84 X Y E",
    "G28.9",
    "M115",
    "M23 /part~1.gco",
    "T0",
    "F1200",
    "N100",
    "M83*99",
    "G4 S0",
    "G17 G21 M83",
]


@pytest.mark.parametrize("words", ODD)
def test_odd_line(judge: Judge, words: str) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\n{words}\nG1 X20 E1\n")
    assert lines_of(findings, "odd-line") == [5]
    (finding,) = [finding for finding in findings if finding.code == "odd-line"]
    assert finding.severity == "warning"
    assert finding.message.startswith("line 5 ")
    assert finding.message.isprintable()
    # whatever the line held, it is told shortly
    assert len(finding.message) < 120
    assert finding.remedy


@pytest.mark.parametrize("words", NOT_ODD)
def test_no_odd_line(judge: Judge, words: str) -> None:
    assert judge(f"{HEAD}G1 X10 E1\n{words}\nG1 X20 E1\n") == ()


def test_places_before_any_word_of_motion(judge: Judge) -> None:
    findings = judge("X5 Y5\n" + HEAD + "G1 X10 E1\n")
    assert told(findings) == [("odd-line", 1)]
    assert "before any G word" in findings[0].message


def test_what_is_odd_is_told_where_nothing_is_laid_too(judge: Judge) -> None:
    assert told(judge("facet normal 0 0 1\n")) == [("extrusion-gap", None), ("odd-line", 1)]


@pytest.mark.parametrize(("count", "more"), [(25, None), (26, 1), (2000, 1975)])
def test_odd_lines_are_listed_up_to_25_and_then_counted(judge: Judge, count: int, more: int | None) -> None:
    findings = judge(f"{HEAD}G1 X10 E1\n" + "what?\n" * count)
    assert lines_of(findings, "odd-line") == list(range(5, 30))
    last = findings[-1].message
    assert last.startswith("line 29 ")
    if more is None:
        assert last.endswith("what?")
    else:
        assert last.endswith(f"; and {more} more such lines, the last in line {4 + count}")


def test_an_odd_move_is_not_made(read: Read) -> None:
    moves = read(f"{HEAD}G1 X10 E1\nG1 X999999 E1\nG1 Y5 E1\n")
    assert moves.line.tolist() == [3, 4, 6]
    assert moves.end[-1].tolist() == [10.0, 5.0, 0.2]
