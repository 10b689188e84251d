"""Random programs, read by our reader and by another one; and garbage, which never gets past it."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from hypothesis import example, given
from hypothesis import strategies as st

from wingpath.build.move_judging import judge_moves, part_of
from wingpath.build.moves import Moves
from wingpath.core.errors import FileAccessError, InputError
from wingpath.io.gcode_reader import read_gcode
from wingpath.pipeline.checking_programs import ProgramJudgement, bead_run, check_program, program_document

SUMS = 1e-9
"""Sums of fifty numbers up to 762 mm, added in another order, differ by rounding only [mm]."""

INCH_MM = 25.4

MOST_LINES = 50
"""A relative program of so many moves of 30 inches stays within what counts as a place."""


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a file that every example writes anew."""
    return tmp_path_factory.mktemp("programs") / "one.gcode"


def read(target: Path, text: str | bytes) -> Moves:
    target.write_bytes(text if isinstance(text, bytes) else text.encode("latin-1"))
    return read_gcode(target)


# --- another reader ------------------------------------------------------------------------------------


def read_otherwise(text: str) -> list[tuple[int, list[float], float]]:
    """Return line, place and filament of every move, by another parser and a machine of our own."""
    place = {"X": 0.0, "Y": 0.0, "Z": 0.0}
    unit, relative, e_relative, count = 1.0, False, False, 0.0
    moves = []
    for line in parse_gcode_lines(text):
        words: dict[str, Any] = line.params
        match line.command:
            case ("G", 20):
                unit = INCH_MM
            case ("G", 21):
                unit = 1.0
            case ("G", 90 | 91 as code):
                relative = e_relative = code == 91
            case ("M", 82 | 83 as code):
                e_relative = code == 83
            case ("G", 28):
                named = [axis for axis in place if axis in words]
                place.update(dict.fromkeys(named or place, 0.0))
            case ("G", 92):
                place.update({axis: words[axis] * unit for axis in place if axis in words})
                count = words["E"] * unit if "E" in words else count
                if not words:
                    place, count = dict.fromkeys(place, 0.0), 0.0
            case ("G", 0 | 1 | 2 | 3 as code):
                if not set(words) & set("XYZEIJ" if code > 1 else "XYZE"):
                    continue
                for axis in set(words) & set(place):
                    place[axis] = words[axis] * unit + (place[axis] if relative else 0.0)
                pushed = 0.0
                if "E" in words:
                    pushed = words["E"] * unit - (0.0 if e_relative else count)
                    count += pushed
                moves.append((line.line_index + 1, list(place.values()), pushed))
    return moves


# --- random programs -----------------------------------------------------------------------------------

SIGNS = st.sampled_from(["", "", "", "+"])


@st.composite
def numbers(draw: st.DrawFn, most: int = 30) -> str:
    """Write a number up to `most` in one of the ways that numbers are written."""
    digits = draw(st.integers(0, 6))
    value = draw(st.integers(-most * 10**digits, most * 10**digits)) / 10**digits
    text = f"{value:.{digits}f}"
    if draw(st.booleans()):
        # no zero before the point
        text = text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text
    return text if text.startswith("-") else draw(SIGNS) + text


@st.composite
def words(draw: st.DrawFn, letters: str) -> list[str]:
    chosen = draw(st.lists(st.sampled_from(letters), unique=True, max_size=len(letters)))
    return [letter + draw(numbers()) for letter in chosen]


@st.composite
def commands(draw: st.DrawFn) -> list[str]:
    """Return the words of one line."""
    kind = draw(
        st.sampled_from(["move", "move", "move", "move", "arc", "set", "mode", "two", "home", "other"])
    )
    if kind in ("move", "two"):
        before = [draw(st.sampled_from(["G90", "G91", "M82", "M83", "G20", "G21"]))] if kind == "two" else []
        return [*before, draw(st.sampled_from(["G0", "G1", "G1", "G01"])), *draw(words("XYZEF"))]
    if kind == "arc":
        return [draw(st.sampled_from(["G2", "G3", "G02"])), *draw(words("XYZEIJ"))]
    if kind == "set":
        return ["G92", *draw(words("XYZE"))]
    if kind == "mode":
        return [draw(st.sampled_from(["G90", "G91", "M82", "M83", "G20", "G21"]))]
    if kind == "home":
        return ["G28", *draw(st.sampled_from([[], ["X0"], ["Y", "Z"], ["X0", "Y0"], ["Z"]]))]
    return draw(st.sampled_from([["M104", "S200"], ["G4", "P10"], ["T0"], ["M106", "S255"], ["G17"], []]))


REMARKS = ["", "", "", " ; over X9 E9", ";G1 X9", "; G92 X3", " (a remark)", " ( one )(two) ;(three", " ;"]


@st.composite
def programs(draw: st.DrawFn) -> str:
    """Write a program in odd spacing, with remarks, line numbers, sums and letters of both sizes."""
    lines = []
    for number, line in enumerate(draw(st.lists(commands(), max_size=MOST_LINES))):
        between = draw(st.sampled_from([" ", " ", " ", "", "  ", "\t"]))
        text = between.join(line)
        if line and draw(st.booleans()):
            text = f"N{10 * number}{between}{text}"
        text += draw(st.sampled_from(["", "", "", "*71", " *7"]))
        text += draw(st.sampled_from(REMARKS))
        if draw(st.sampled_from([True, False, False])):
            text = text.lower()
        lines.append(draw(st.sampled_from(["", "", "", " ", "\t"])) + text)
    ending = draw(st.sampled_from(["\n", "\n", "\r\n"]))
    # an empty file is refused
    return ending.join(lines) + draw(st.sampled_from(["", ending])) or ending


@given(text=programs())
@example(text="G1 X1 E1\nG91\nG1 X.5 E-.5\nM82\nG1 E0\nG92 E5 X3\nG20\nG1 Y1 E5\nG28\nG1 X1\n")
@example(text="G20\nG92 X2 Z1 E3\nG1 Y1 E3.5\nG21\nM83\nG01 Z1 E1\nM82\nG1 E0\nG92\nG91\nG3 X1 J1 E1\n")
def test_two_readers_agree(target: Path, text: str) -> None:
    moves, other = read(target, text), read_otherwise(text)
    assert moves.line.tolist() == [line for line, _, _ in other]
    assert moves.end.ravel().tolist() == pytest.approx([v for _, end, _ in other for v in end], abs=SUMS)
    assert moves.filament_mm.tolist() == pytest.approx([pushed for _, _, pushed in other], abs=SUMS)
    assert moves.lines == len(text.splitlines())
    # nothing but arcs of nonsense is odd
    assert all(" arc whose " in words for _, words in moves.odd)


@given(text=programs())
def test_moves_hang_together(target: Path, text: str) -> None:
    """A move begins where the last ended, but for jumps; lengths are those of the places."""
    moves = read(target, text)
    jumped = np.array([line for line, _ in moves.jumps], np.int64)
    for row in range(1, len(moves)):
        if not ((jumped > moves.line[row - 1]) & (jumped <= moves.line[row])).any():
            assert moves.start[row].tolist() == moves.end[row - 1].tolist()
    straight = np.ones(len(moves), bool)
    straight[moves.arc_at] = False
    chords = np.hypot(*(moves.end - moves.start)[:, :2].T)
    assert moves.length_mm[straight].tolist() == pytest.approx(chords[straight].tolist(), abs=SUMS)
    # the ends of an arc may lie on circles that differ by a hundredth, or by 0.05 mm
    assert np.all(moves.length_mm >= 0.98 * chords - 0.1)


@given(text=programs(), data=st.data())
def test_spelling_does_not_matter(target: Path, text: str, data: st.DataObject) -> None:
    """Blank lines and remarks between the lines move the numbers of the lines and nothing else."""
    lines = text.splitlines()
    extra = data.draw(st.lists(st.integers(0, len(lines)), max_size=10), label="blank lines")
    filler = data.draw(st.sampled_from(["", "; remark", "(remark)", "%", "M117 G1 X5", "N3"]), label="filler")
    shift = np.array([0, *(sum(place <= n for place in extra) for n in range(len(lines)))])
    longer = [piece for n in range(len(lines) + 1) for piece in [filler] * extra.count(n) + lines[n : n + 1]]
    before, after = read(target, text), read(target, "\n".join(longer) + "\n")
    assert after.line.tolist() == (before.line + shift[before.line]).tolist()
    assert after.start.tolist() == before.start.tolist()
    assert after.end.tolist() == before.end.tolist()
    assert after.filament_mm.tolist() == before.filament_mm.tolist()
    first, second = judge_moves(before), judge_moves(after)
    assert [finding.code for finding in first] == [finding.code for finding in second]
    for one, other in zip(first, second, strict=True):
        assert other.line == (None if one.line is None else one.line + shift[one.line])
        assert (one.found, one.x_mm, one.y_mm, one.z_mm) == (other.found, other.x_mm, other.y_mm, other.z_mm)


# --- laws of the judgement -----------------------------------------------------------------------------

STEPS = st.lists(
    st.tuples(
        st.integers(-20, 20), st.integers(-20, 20), st.integers(0, 3), st.sampled_from([0, 0, 1, 1, 1, -1])
    ),
    min_size=1,
    max_size=30,
)
"""Steps of whole millimetres sideways, tenths upwards, and whether they lay, travel or draw back."""


def written(steps: list[tuple[int, int, int, int]], *, parts: int = 1, shift: float = 0.0) -> str:
    """Write steps with the same filament for every millimetre, each in some parts."""
    lines = ["G91", f"G1 X{shift} Y{shift} Z0.2"]
    for x, y, z, lays in steps:
        pushed = 0.1 * lays * math.hypot(x, y)
        lines += [
            f"G1 X{x / parts:.9f} Y{y / parts:.9f} Z{0.1 * z / parts:.9f} E{pushed / parts:.9f}"
        ] * parts
    return "\n".join(lines) + "\n"


@given(steps=STEPS)
def test_the_laws_of_travel_and_retraction(target: Path, steps: list[tuple[int, int, int, int]]) -> None:
    """Between the first bead and the last, what lays nothing travels, what draws back is told: no more."""
    moves = read(target, written(steps))
    part = part_of(moves)
    findings = judge_moves(moves)
    wanted: dict[str, list[int]] = {"travel": [], "retraction": []}
    # two lines stand before the first step
    for line, (x, y, _, lays) in enumerate(steps, start=3):
        inside = part.start < part.stop and moves.line[part][0] <= line <= moves.line[part][-1]
        if inside and lays < 1 and (x or y):
            wanted["travel"].append(line)
            if lays < 0:
                wanted["retraction"].append(line)
    for code, lines in wanted.items():
        assert [finding.line for finding in findings if finding.code == code] == lines[:25]
    beads = [line for line, (x, y, _, lays) in enumerate(steps, start=3) if lays > 0 and (x or y)]
    if not beads:
        assert [finding.code for finding in findings] == ["extrusion-gap"]
        return
    assert moves.line[part][-1] == beads[-1]
    assert moves.line[part][0] in beads
    # all that lays gets the same, nothing sinks, nothing jumps
    assert {finding.code for finding in findings} <= {"travel", "retraction"}


@given(steps=STEPS, parts=st.integers(2, 5))
def test_moves_in_parts_are_judged_like_whole_ones(
    target: Path, steps: list[tuple[int, int, int, int]], parts: int
) -> None:
    whole, cut = read(target, written(steps)), read(target, written(steps, parts=parts))
    found, other = judge_moves(whole), judge_moves(cut)
    assert {finding.code for finding in found} == {finding.code for finding in other}
    # nine digits for each part
    rounding = 1e-9 * len(cut)
    assert cut.path_mm == pytest.approx(whole.path_mm, abs=rounding)
    for one in ("travel_mm", "drawn_back_mm"):
        assert getattr(cut, one).sum() == pytest.approx(getattr(whole, one).sum(), abs=rounding)


@given(steps=STEPS, shift=st.integers(-500, 500))
def test_where_a_program_stands_does_not_matter(
    target: Path, steps: list[tuple[int, int, int, int]], shift: int
) -> None:
    here, there = (judge_moves(read(target, written(steps, shift=at))) for at in (0, shift))
    assert len(here) == len(there)
    for one, other in zip(here, there, strict=True):
        assert (one.code, one.line) == (other.code, other.line)
        if one.x_mm is not None:
            assert other.x_mm == pytest.approx(one.x_mm + shift, abs=1e-6)
    low, high = shift - 1000.0, shift + 1000.0
    room = np.array([[low, low, 0.0], [high, high, 100.0]])
    assert judge_moves(read(target, written(steps, shift=shift)), room=room) == there


@given(
    x=st.floats(-50, 50),
    y=st.floats(-50, 50),
    radius=st.floats(1, 80),
    begin=st.floats(0, 2 * math.pi),
    turn=st.floats(0.01, 6.2),
    code=st.sampled_from([2, 3]),
    by_radius=st.booleans(),
)
def test_arcs_are_as_long_and_reach_as_far_as_they_do(
    target: Path, x: float, y: float, radius: float, begin: float, turn: float, code: int, by_radius: bool
) -> None:
    """Against many points on the circle; places with twelve digits."""
    sign = 1 if code == 3 else -1
    angles = begin + sign * np.linspace(0.0, turn, 2001)
    run = np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])
    (a, b), (c, d) = run[0], run[-1]
    how = f"R{radius if turn < math.pi else -radius:.12f}" if by_radius else f"I{x - a:.12f} J{y - b:.12f}"
    moves = read(target, f"M83\nG0 X{a:.12f} Y{b:.12f} Z1\nG{code} X{c:.12f} Y{d:.12f} Z2 {how} E1\n")
    assert moves.odd == ()
    # near a half circle a radius alone tells the centre badly
    close = 1e-7 if not by_radius else 1e-3 if abs(turn - math.pi) < 0.01 else 1e-5
    assert moves.length_mm[1] == pytest.approx(radius * turn, rel=close)
    low, high = moves.reach(slice(1, 2))
    low, high = np.minimum(low, moves.start[1]), np.maximum(high, moves.start[1])
    # the points of the run lie at most this far inside the arc
    inside = radius * (turn / 2000) ** 2 / 8 + close * 100
    assert low[0, :2] == pytest.approx(run.min(axis=0), abs=inside)
    assert high[0, :2] == pytest.approx(run.max(axis=0), abs=inside)
    points = bead_run(ProgramJudgement("arc", moves, ()))[0][:, :2]
    assert np.hypot(*(points - [x, y]).T) == pytest.approx(np.full(len(points), radius), abs=close * 100)


# --- garbage -------------------------------------------------------------------------------------------

NASTY = [
    *(b"NaN inf 1e9 1e400 -- +- . - E X Y Z I J R G M N T ( ) ; * % /".split()),
    *(b"G2 G3 G5 G28 G92 G10 G20 G91 M83".split()),
    *(b"\x00 \xff \xef\xbb\xbf \x1b[2J".split()),
    *(b"G92X1 G1X5E1 G2X5R3 G3I5E9 G92E9 X99999 E9999999 I1e-9 R0 -R G-1 G1.5 M1e9 0x10".split()),
    *(b"9" * 400, b"0." + b"0" * 400 + b"1", b"X" * 300, b"G1" * 300),
    *(b"\r", b"\n", b"\r\n", b" ", b"\t", b"\v", b"\f"),
]


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    """Take a program and put garbage into it."""
    data = draw(programs()).encode()
    for _ in range(draw(st.integers(0, 12))):
        at, gone = draw(st.integers(0, len(data))), draw(st.integers(0, 4))
        data = data[:at] + draw(st.sampled_from(NASTY) | st.binary(max_size=6)) + data[at + gone :]
    return data


def refusal(target: Path) -> str:
    """Return with what words a file is refused, if it is: by an error of our own or not at all."""
    try:
        check_program(target)
    except (InputError, FileAccessError) as error:
        return str(error)
    return ""


def check_garbage(target: Path, data: bytes) -> None:
    """Read and judge whatever it is: no other error than our own, no number that is none."""
    target.write_bytes(data)
    refused = refusal(target)
    if refused:
        assert refused.startswith(str(target))
        return
    one = check_program(target)
    moves = one.moves
    for values in (
        moves.start,
        moves.end,
        moves.length_mm,
        moves.filament_mm,
        moves.arcs,
        *moves.reach(slice(0, len(moves))),
    ):
        assert np.isfinite(values).all()
    assert np.all(moves.length_mm >= 0.0)
    assert np.all(np.diff(moves.line) >= 0)
    assert moves.line.max(initial=0) <= moves.lines
    # neither plain data nor words of a finding hold anything that JSON does not
    json.dumps([program_document(one), *(finding.as_dict() for finding in one.findings)], allow_nan=False)
    assert all(finding.message.isprintable() for finding in one.findings)
    assert all(finding.line is None or 1 <= finding.line <= moves.lines for finding in one.findings)
    if part_of(moves) != slice(0, 0):
        points, layer, dry, layer_mm = bead_run(one)
        assert np.isfinite(points).all()
        assert len(points) == len(layer) + 1 == len(dry) + 1
        assert np.all(np.diff(layer, prepend=0) >= 0)
        assert math.isfinite(layer_mm)


@given(data=mutated())
@example(data=b"G1 X1 E" + b"9" * 400 + b"\nG1 X2 E1\n")
@example(data=b"G1 X1 E1\nG92 X" + b"9" * 400 + b"\nG1 Y1 E1\n")
@example(data=b"G1 X1 E1\nG2 X5 R" + b"9" * 400 + b" E1\n")
@example(data=b"G1 X1 E1\nG2 X5 I" + b"9" * 300 + b" E1\n")
@example(data=b"G1 X1 E1\nG2 X5 R0 E1\nG2 R5 E1\nG3 E1 I0 J0\n")
@example(data=b"M83\nG1 X1 E1\nG91\nG5 X99999\nG5 X99999\nG20\nG5 X99999\nG1 X2 E1\n")
@example(data=b"G1 X1 E1\nG1 X\nG1 \xc2\xbd\xe2\x82\xac X5\nG1 X2 E5\n")
def test_programs_with_garbage_in_them(target: Path, data: bytes) -> None:
    check_garbage(target, data)


@given(data=st.binary(max_size=400))
@example(data=bytes(range(256)) * 9)
@example(data=b"solid x\nfacet normal 0 0 1\nouter loop\nvertex 1 2 3\nendloop\nendfacet\nendsolid\n")
@example(data=b"PK\x03\x04rubbish")
def test_garbage_alone(target: Path, data: bytes) -> None:
    check_garbage(target, data)


@given(text=st.text(max_size=200))
def test_any_text(target: Path, text: str) -> None:
    check_garbage(target, text.encode("utf-8", "surrogatepass"))


@given(text=programs(), line=st.integers(0, MOST_LINES), data=st.sampled_from(NASTY))
def test_garbage_in_one_line_leaves_the_lines_before_it(
    target: Path, text: str, line: int, data: bytes
) -> None:
    lines = text.encode().splitlines()[:line]
    before = b"".join(one + b"\n" for one in lines)
    target.write_bytes(before + data)
    refused = refusal(target)
    if refused:
        assert refused.startswith(f"{target}, line {len(lines) + 1}: ")
        return
    moves = read_gcode(target)
    clean = read(target, before or b"\n")
    count = len(clean)
    assert moves.line[:count].tolist() == clean.line.tolist()
    assert moves.end[:count].tolist() == clean.end.tolist()
    assert moves.filament_mm[:count].tolist() == clean.filament_mm.tolist()
