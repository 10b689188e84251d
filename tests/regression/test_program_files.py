"""Programs as a whole: lines that fill the nozzle, files that are none, the judgement."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from program_texts import HEAD, PLAIN, ROOM, Judge, Read, lines_of, loop, told

from wingpath.build.move_judging import part_of
from wingpath.core.errors import FileAccessError, InputError, MeshFileError
from wingpath.io import gcode_reader
from wingpath.io.gcode_reader import is_gcode, read_gcode
from wingpath.pipeline.checking_programs import bead_run, check_program, program_document

# --- the line that fills the nozzle ------------------------------------------------------------------


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


# --- whole files -------------------------------------------------------------------------------------


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


# --- the judgement as a whole ------------------------------------------------------------------------


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
