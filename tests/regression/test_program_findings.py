"""Every finding code about programs: one that just gives it, one that just does not; how words are read."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from wingpath.build.moves import Moves, judge_moves, part_of
from wingpath.core.errors import FileAccessError, InputError, MeshFileError
from wingpath.core.findings import Finding
from wingpath.io import gcode_reader
from wingpath.io.gcode_reader import is_gcode, read_gcode
from wingpath.pipeline.checking_programs import bead_run, check_program, program_document

DIGITS_MM = 1e-9
"""How closely sums of a few decimal numbers are held: rounding, far below a micrometre."""

HEAD = "G90\nM83\nG1 X0 Y0 Z0.2\n"
"""Three lines; the first bead stands in line 4."""

Read = Callable[[str | bytes], Moves]
Judge = Callable[..., tuple[Finding, ...]]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def read_text(text: str | bytes) -> Moves:
        path = tmp_path / "some.gcode"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_gcode(path)

    return read_text


@pytest.fixture
def judge(read: Read) -> Judge:
    def judge_text(text: str | bytes, **given: np.ndarray) -> tuple[Finding, ...]:
        return judge_moves(read(text), **given)

    return judge_text


def told(findings: tuple[Finding, ...]) -> list[tuple[str, int | None]]:
    return [(finding.code, finding.line) for finding in findings]


def lines_of(findings: tuple[Finding, ...], code: str) -> list[int | None]:
    return [finding.line for finding in findings if finding.code == code]


def place(finding: Finding) -> tuple[float | None, float | None, float | None]:
    return finding.x_mm, finding.y_mm, finding.z_mm


def loop(x: float, z: float, size: float = 20.0) -> str:
    """Return a square from (x, 0) and back: four lines, each of `size` and of one millimetre of filament."""
    far = x + size
    return f"G1 X{far} Y0 Z{z} E1\nG1 X{far} Y{size} E1\nG1 X{x} Y{size} E1\nG1 X{x} Y0 E1\n"


# --- travel --------------------------------------------------------------------------------------------


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


# --- filament drawn back -------------------------------------------------------------------------------


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


# --- jumps ---------------------------------------------------------------------------------------------

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


# --- far too little filament ---------------------------------------------------------------------------


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


# --- going down ----------------------------------------------------------------------------------------


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


# --- the bed -------------------------------------------------------------------------------------------

ROOM = np.array([[0.0, 0.0, 0.0], [100.0, 80.0, 60.0]])


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


# --- lines that are not understood ---------------------------------------------------------------------

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


# --- the line that fills the nozzle --------------------------------------------------------------------


def primed(begin: str, end: str, parts: str) -> str:
    return f"G90\nM83\nG0 {begin} Z0.3\nG1 {end} E9\nG1 E-1\nG0 Z2\nG0 X0 Y0 Z0.2\nG1 E1\n{parts}"


PART = "".join(loop(0.0, 0.2 * n) for n in range(1, 6))
"""Five loops of 80 mm: 400 mm, of which a fifth is 80 mm."""


@pytest.mark.parametrize(
    ("begin", "end", "counted"),
    [
        ("X-5 Y0", "X-5 Y60", False),
        ("X-5 Y-5", "X60 Y-5", False),
        ("X0 Y20.01", "X60 Y20.01", False),
        # it only ends apart from the part, or only begins there
        ("X10 Y10", "X-5 Y10", True),
        ("X-5 Y10", "X10 Y10", True),
        # it touches the part
        ("X-30 Y1", "X0 Y1", True),
        ("X-5 Y20", "X60 Y20", True),
        # it passes right over it
        ("X-5 Y10", "X40 Y10", True),
    ],
)
def test_a_line_apart_from_the_part_fills_the_nozzle(
    judge: Judge, read: Read, begin: str, end: str, counted: bool
) -> None:
    text = primed(begin, end, PART)
    findings = judge(text)
    assert lines_of(findings, "retraction") == ([5] if counted else [])
    assert lines_of(findings, "travel") == ([7] if counted else [])
    assert bool(findings) is counted
    moves = read(text)
    assert moves.line[part_of(moves).start] == (4 if counted else 9)
    assert moves.bead.start == 1


@pytest.mark.parametrize(("length", "counted"), [(79.9, False), (80.1, True)])
def test_it_is_short_beside_the_part(judge: Judge, length: float, counted: bool) -> None:
    assert bool(judge(primed("X-5 Y0", f"X-5 Y{length}", PART))) is counted


@pytest.mark.parametrize(("rise", "counted"), [(0.004, False), (0.2, True)])
def test_it_is_flat(judge: Judge, rise: float, counted: bool) -> None:
    assert bool(judge(primed("X-5 Y0", f"X-5 Y60 Z{0.3 + rise}", PART))) is counted


def test_it_may_be_of_several_strokes(judge: Judge, read: Read) -> None:
    strokes = (
        "G0 X-9 Y0 Z0.3\nG1 Y30 E5\nG1 X-8\nG1 Y0 E5\n"  # beside each other
        "G1 E-1\nG1 E1\nG1 Y-1 E1\n"  # filament drawn back on the way
        "G0 X40\nG1 Y10 E2\nG0 X0 Y0 Z0.2\n"  # one more, on the other side
    )
    text = f"G90\nM83\n{strokes}{PART}"
    assert judge(text) == ()
    moves = read(text)
    assert moves.line[part_of(moves).start] == 13


def test_a_part_of_dashes_is_no_row_of_strokes(judge: Judge) -> None:
    dashes = "".join(f"G1 X{2 * n + 1} E1\nG0 X{2 * n + 2}\n" for n in range(100))
    findings = judge(HEAD + dashes)
    # at most a sixth of a row of equal dashes is short beside the rest
    assert findings[0].line is not None
    assert findings[0].line <= 5 + 2 * 100 // 6
    assert len(findings) == 25
    assert "more such moves, the last in line 201" in findings[-1].message


@pytest.mark.parametrize("layers", [1, 2])
def test_one_part_after_another_is_a_travel(judge: Judge, layers: int) -> None:
    first, second = ("".join(loop(x, 0.2 * n) for n in range(1, layers + 1)) for x in (0.0, 60.0))
    findings = judge(f"{HEAD}{first}G0 Z5\nG0 X60 Y0\nG0 Z0.2\n{second}")
    assert lines_of(findings, "travel") == [3 + 4 * layers + 2]


def test_small_travels_are_told_where_pieces_lie_apart(judge: Judge) -> None:
    """Three strokes in a row, each begun where the last ended but for a gap: no piece is short."""
    assert told(judge(f"{HEAD}G1 X10 E1\nG0 X20\nG1 X30 E1\nG0 X40\nG1 X50 E1\n")) == [
        ("travel", 5),
        ("travel", 7),
    ]


@pytest.mark.parametrize("axis", ["X", "X-", "Y", "Y-"])
def test_a_break_of_no_length_does_not_make_a_piece(judge: Judge, axis: str) -> None:
    """A path that runs along an axis is not cut where filament is drawn back in place."""
    text = f"{HEAD}G1 {axis}1 E1\nG1 E-1\nG1 E1\nG1 {axis}90 E9\nG92 X0 Y0\nG1 {axis}9 E1\n"
    assert told(judge(text)) == [("retraction", 5), ("jump", 8)]


def test_what_is_off_the_bed_before_the_part_is_not_asked_about(judge: Judge) -> None:
    assert judge(primed("X-5 Y0", "X-5 Y60", PART), room=ROOM) == ()


# --- how words are read --------------------------------------------------------------------------------

PLAIN = "G90\nM83\nG1 X10 Y0 Z0.3\nG1 X20 Y5 E1.5\nG1 X25 E0.5 F1200\nG0 Y9\n"

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


# --- arcs ----------------------------------------------------------------------------------------------

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


# --- whole files ---------------------------------------------------------------------------------------


def test_which_files_are_programs() -> None:
    for name in ("a.gcode", "a.GCODE", "b.gco", "c.g", "d.nc", "e.ngc", "f.stl.gcode"):
        assert is_gcode(Path(name))
    for name in ("a.stl", "gcode", ".gcode", "a.gcode.stl", "a.txt", "a"):
        assert not is_gcode(Path(name))


def test_numbers_of_lines(read: Read) -> None:
    assert read("G1 X1\n\n\n").lines == 3
    assert read("G1 X1\n\nG1 X2").lines == 3
    assert read("\n" * 70000 + "G1 X2 E1").line.tolist() == [70001]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"G1 X1\nG1 \x00X2\n", "line 2: got a zero byte"),
        (PLAIN.encode("utf-16"), "line 1: got a zero byte"),
        (b"G1 X1\n" + b"X" * 10_001, "line 2: got more than 10000 characters"),
        (b"G1 X1\r" * 2000, "line 1: got more than 10000 characters"),
    ],
)
def test_files_that_are_no_program(read: Read, data: bytes, words: str) -> None:
    with pytest.raises(MeshFileError, match=words) as caught:
        read(data)
    assert "some.gcode" in str(caught.value)
    assert "G-code" in str(caught.value)


def test_long_remarks_are_passed_over(read: Read) -> None:
    moves = read(b"G1 X1\n; " + b"a" * 30_000 + b"\nG1 X2 ;" + b"b" * 10_001 + b"\n\nG1 X3 ;" + b"c" * 20_000)
    assert moves.line.tolist() == [1, 3, 5]
    assert moves.end[:, 0].tolist() == [1.0, 2.0, 3.0]
    assert moves.odd == ()
    # 10000 signs with the line end are a line like others
    assert read(b"G1 X1 ;" + b"a" * 9992 + b"\nG1 X2\n").line.tolist() == [1, 2]


@pytest.mark.parametrize(
    ("name", "most", "text", "what"),
    [
        ("MOST_BYTES", 20, "G1 X1\n" * 4, "24 bytes"),
        ("MOST_MOVES", 3, "G1 X1\n" * 4, "4 moves"),
        ("MOST_JUMPS", 3, "G28 X\n" * 2 + "G10\n" * 2, "4 jumps and retractions"),
    ],
)
def test_files_that_are_too_large(
    read: Read, monkeypatch: pytest.MonkeyPatch, name: str, most: int, text: str, what: str
) -> None:
    whole = read(text)
    assert whole.lines == 4
    monkeypatch.setattr(gcode_reader, name, most)
    with pytest.raises(MeshFileError, match=f"got {what}; allowed: up to {most}; check a part"):
        read(text)


def test_what_is_too_large_is_found_before_all_is_read(read: Read, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at every few lines, so that memory stays bounded whatever the size says."""
    monkeypatch.setattr(gcode_reader, "REPORT_EVERY", 2)
    monkeypatch.setattr(gcode_reader, "MOST_MOVES", 3)
    with pytest.raises(MeshFileError, match="got 4 moves"):
        read("G1 X1\n" * 1000)


def test_one_line_makes_one_jump(read: Read) -> None:
    """Or a long line of them would fill the memory."""
    moves = read("G28" * 3000 + "\n" + "G10" * 3000 + "\n")
    assert moves.jumps == ((1, "G28"),)
    assert moves.withdrawals == (2,)


def test_progress_runs_up_to_one(tmp_path: Path) -> None:
    path = tmp_path / "long.gcode"
    path.write_text(HEAD + "G1 X1 E1\nG1 X0 E1\n" * 60_000)
    shares: list[float] = []
    check_program(path, progress=lambda _words, share: shares.append(share))
    # two while it reads, one before the judging, one when done
    assert len(shares) == 4
    assert shares == sorted(shares)
    assert 0.0 < shares[0] < shares[-1] == 1.0


def test_long_files_are_not_reported_line_by_line(tmp_path: Path) -> None:
    path = tmp_path / "blank.gcode"
    path.write_text("\n" * 3_000_000)
    shares: list[float] = []
    read_gcode(path, progress=lambda _words, share: shares.append(share))
    assert 15 <= len(shares) <= 20
    assert shares == sorted(set(shares))


def test_folders_and_missing_files(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "nowhere.gcode"):
        with pytest.raises(FileAccessError, match="cannot be read"):
            read_gcode(path)


# --- the judgement as a whole --------------------------------------------------------------------------


def checked(folder: Path, text: str, **given: str) -> dict[str, object]:
    path = folder / "one.gcode"
    path.write_text(text)
    return program_document(check_program(path, **given))


def test_a_bead_that_leaves_the_bed_or_falls_is_unbroken(tmp_path: Path) -> None:
    text = HEAD + loop(0.0, 0.2)
    assert checked(tmp_path, text)["unbroken"] is True
    assert checked(tmp_path, text + "G1 X-50 Z0.1 E2\n", printer="bed-180")["unbroken"] is True
    assert checked(tmp_path, text + "G1 E-1\nG1 X50 E2\n")["unbroken"] is False
    assert checked(tmp_path, text + "G28 Z\nG1 X50 E2\n")["unbroken"] is False
    assert checked(tmp_path, "; nothing\n")["unbroken"] is False


def test_the_printers_room(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    path = tmp_path / "one.gcode"
    path.write_text(HEAD + loop(0.0, 0.2, 100.0) + loop(0.0, 60.0, 100.0))
    for origin, wide, deep, high, lines in (
        ("corner", 100, 100, 60, []),
        ("corner", 99, 100, 60, [4, 5, 8, 9]),
        ("corner", 100, 99, 60, [5, 6, 9, 10]),
        ("corner", 100, 100, 59, [8, 9, 10, 11]),
        ("centre", 200, 200, 60, []),
        ("centre", 198, 200, 60, [4, 5, 8, 9]),
    ):
        own.write_text(
            f'name = "mine"\ntitle = "mine"\nsource = "a test"\nbed_x_mm = {wide}\nbed_y_mm = {deep}\n'
            f'height_mm = {high}\nbed_origin = "{origin}"\n'
        )
        findings = check_program(path, printer=str(own)).findings
        assert told(findings) == [("off-bed", line) for line in lines], (origin, wide, deep)


def test_the_document_of_a_program_with_a_line_that_fills_the_nozzle(tmp_path: Path) -> None:
    document = checked(tmp_path, primed("X-5 Y0", "X-5 Y60", PART))
    assert (document["low_mm"], document["high_mm"]) == ([0.0, 0.0, 0.2], [20.0, 20.0, 1.0])
    assert document["bead_moves"] == 20
    assert document["filament_mm"] == pytest.approx(20.0)
    assert (document["travels"], document["retractions"]) == (0, 0)


def test_the_document_knows_how_far_arcs_reach(tmp_path: Path) -> None:
    document = checked(tmp_path, "M83\nG1 X20 Y0 Z1\nG3 I-10 E5\nG3 X0 Y0 Z2 R10 E3\n")
    assert (document["low_mm"], document["high_mm"]) == ([0.0, -10.0, 1.0], [20.0, 10.0, 2.0])
    straight = checked(tmp_path, "M83\nG1 X3 Y4 Z1\nG1 X9 Y9 E1\n")
    assert (straight["low_mm"], straight["high_mm"]) == ([3.0, 4.0, 1.0], [9.0, 9.0, 1.0])
    # path_m has four digits
    assert document["path_m"] == pytest.approx(0.03 * math.pi, abs=5e-5)


def test_the_run_that_is_drawn(tmp_path: Path) -> None:
    path = tmp_path / "one.gcode"
    path.write_text(primed("X-5 Y0", "X-5 Y60", f"{loop(0.0, 0.2)}G0 X3\n{loop(3.0, 0.4)}{PART}"))
    points, layer, dry, layer_mm = bead_run(check_program(path))
    assert points[0].tolist() == [0.0, 0.0, 0.2]
    assert points[5].tolist() == [3.0, 0.0, 0.2]
    assert np.flatnonzero(dry).tolist() == [4]
    assert layer[:9].tolist() == [0, 0, 0, 0, 0, 1, 1, 1, 1]
    assert layer_mm == pytest.approx(0.2)
    assert np.all(np.diff(layer) >= 0)


def test_nothing_laid_is_nothing_to_draw(tmp_path: Path) -> None:
    path = tmp_path / "none.gcode"
    path.write_text("G1 X5\n")
    with pytest.raises(InputError, match="lays filament, so there is nothing to draw"):
        bead_run(check_program(path))
