"""Written programs held against the document that says what a program is, and against another reader.

Sources
-------
T. Kramer, F. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000: lines,
words, numbers and modal groups; the section stands beside each check. The numbers of sections after 3.5.2,
but for 3.5.7, and the words of 3.5.3 are from memory.

The word E, length of filament, stands in no standard (it is missing in NISTIR 6556, table 3). Conventions of
printer firmware, from open documentation of its words: F in mm/min, kept from line to line; M82 and M83 make
E absolute and relative and hold against G90; G92 E0 sets the count to 0; M104 sets the nozzle's temperature
without waiting.

Two rules are broken on purpose: comments begin with a semicolon, a later dialect of 3.3.4, and no program
ends with M2 or M30 (3.6.1), which printer firmware reads otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from outside import GCODE, Source
from programs import PATH_BEGINS, PATH_ENDS, ROUND_E_MM, ROUND_MM, Program, job_of, read_program
from wings import SMALL_WING

from wingpath import WingBuild
from wingpath.io.gcode import gcode_chunks

NIST = Source(
    "printed",
    "NISTIR 6556",
    'T. Kramer, F. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000',
)
REMEMBERED = NIST.of_kind("memory")
"""Numbers of sections after 3.5.2, but for 3.5.7, and the words of 3.5.3."""
PARSER = Source("library", "gcodeparser", "gcodeparser, an open reader of G-code (MIT)")
FIRMWARE = Source(
    "quoted",
    "printer firmware",
    "conventions of printer firmware, from open documentation of its words: no standard has the word E",
)

Build = Callable[[dict[str, Any]], WingBuild]

PRINTERS: dict[str, dict[str, Any]] = {
    "relative": {},
    "absolute": {"filament_by_move": False, "bed_origin": "centre"},
    "relative-arcs": {"arcs": True, "bed_origin": "centre"},
    "absolute-arcs": {"filament_by_move": False, "arcs": True},
}
SHORT = {"panels": {"joints_mm": [40.0]}}
"""The small wing with a short outer panel: 40 layers, a web, ribs and the closed tip."""

CASES = [(name, hand) for name in PRINTERS for hand in ("left", "right")]

WORD = re.compile(r"([A-Z])([^A-Z]*)")
NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)")
"""NISTIR 6556, 3.3.2.1: a sign or none, digits with at most one point among them, nothing else."""

MODAL_GROUPS: tuple[frozenset[float], ...] = (
    frozenset({0, 1, 2, 3, 38.2, 80, 81, 82, 83, 84, 85, 86, 87, 88, 89}),
    frozenset({17, 18, 19}),
    frozenset({90, 91}),
    frozenset({93, 94}),
    frozenset({20, 21}),
    frozenset({40, 41, 42}),
    frozenset({43, 49}),
    frozenset({98, 99}),
    frozenset({61, 61.1, 64}),
    frozenset({54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3}),
    frozenset({4, 10, 28, 30, 53, 92, 92.1, 92.2, 92.3}),
)
"""Words of table 4, of which a line may hold one of each group; those of the last row are not modal."""

LETTERS = frozenset("ABCDFGHIJKLMNPQRSTXYZ")
"""Letters of words in table 3."""

ARC_RADII_MM = 0.002
"""3.5.3: the ends of an arc may differ by this much in their distance from its centre [mm]."""

ARC_SHARE = 1e-4
"""An arc with a sagitta s over a chord c is longer than it by the share 8/3 (s / c)^2: 7e-5 for half of the
path's tolerance, 0.005 mm, over a millimetre, which few chords here are shorter than and in an arc."""

Words = list[tuple[str, float]]


def words_of(line: str) -> Words:
    """Split a line into words, without its comment; whatever is no word fails."""
    plain = "".join(line.partition(";")[0].split())
    words = WORD.findall(plain)
    assert "".join(letter + number for letter, number in words) == plain, line
    assert all(NUMBER.fullmatch(number) for _, number in words), line
    return [(letter, float(number)) for letter, number in words]


@pytest.fixture(scope="module", params=CASES, ids=["-".join(case) for case in CASES])
def written(request: pytest.FixtureRequest, built: Build) -> tuple[str, WingBuild, str]:
    """Return the program of the outer panel, what was built, and the name of the case."""
    name, hand = request.param
    build = built({**SMALL_WING, **SHORT, "printer": PRINTERS[name]})
    return "".join(gcode_chunks(job_of(build, 1, hand))), build, name


@pytest.fixture(scope="module")
def text(written: tuple[str, WingBuild, str]) -> str:
    return written[0]


@pytest.fixture(scope="module")
def rows(text: str) -> list[Words]:
    """Return the words of every line that has any."""
    return [words for line in text.splitlines() if (words := words_of(line))]


@pytest.fixture(scope="module")
def program(text: str) -> Program:
    return read_program(text)


def gs(words: Words) -> list[float]:
    return [number for letter, number in words if letter == "G"]


def moving(words: Words) -> bool:
    return bool({0, 1, 2, 3}.intersection(gs(words)))


def test_lines_are_short_plain_and_ended(text: str) -> None:
    with GCODE.rule(
        "Lines of a program",
        source=NIST.at("3.3"),
        expected="256 characters at most, plain, each ended, nothing behind the last word",
    ):
        # the code of 7 bits is what any machine reads
        assert max(len(line) for line in text.split("\n")) <= 256
        assert text.isascii()
        assert text.endswith("\n")
        assert set(text) - {"\n"} <= {chr(code) for code in range(32, 127)}
        assert not any(line != line.rstrip() for line in text.split("\n"))


def test_numbers_are_plain_and_words_have_letters_of_the_table(text: str, rows: list[Words]) -> None:
    with GCODE.rule(
        "Numbers and letters",
        source=NIST.at("3.3.2.1, 3.3.3, table 3"),
        expected="a sign, digits and one point; letters of the table, and E for filament",
    ):
        # `words_of` fails where a number holds anything but a sign, digits and one point
        letters = {letter for words in rows for letter, _ in words}
        assert letters - LETTERS == {"E"}
        assert {"X", "Y", "Z", "F", "G", "M", "S"} <= letters
        # an exponent would be the word E a second time, and no lonely sign or point is left of a small number
        assert not re.search(
            r"\d[Ee][-+]?\d", "\n".join(line.partition(";")[0] for line in text.splitlines())
        )


def test_another_parser_reads_the_same_words(text: str, rows: list[Words]) -> None:
    with GCODE.rule(
        "Words of whole programs, read by another parser",
        source=PARSER,
        expected="the same words, line by line",
    ):
        theirs = [
            {line.command[0]: float(line.command[1] or 0), **line.params} for line in parse_gcode_lines(text)
        ]
        assert theirs == [dict(words) for words in rows]


def test_no_line_says_a_thing_twice(rows: list[Words]) -> None:
    with GCODE.rule(
        "Words of one line",
        source=NIST.at("3.3.5, table 4"),
        expected="one of a letter, one of each modal group, four M words at most; one command",
    ):
        for words in rows:
            # one word of a letter, but for G and M; no two G words of one modal group; four M words
            once = [letter for letter, _ in words if letter not in "GM"]
            assert len(once) == len(set(once))
            for group in MODAL_GROUPS:
                assert sum(number in group for number in gs(words)) <= 1
            assert sum(letter == "M" for letter, _ in words) <= 4
            # firmware takes one command a line
            assert sum(letter in "GMT" for letter, _ in words) == 1


def test_every_move_has_an_axis_word(rows: list[Words]) -> None:
    with GCODE.rule(
        "Lines that move",
        source=REMEMBERED.at("3.5.1, 3.5.2, 3.5.3"),
        expected="a place on each, and a feed on no other line",
    ):
        count = 0
        for words in rows:
            letters = {letter for letter, _ in words}
            if moving(words):
                # an error without one
                assert letters & set("XYZ")
                count += 1
            else:
                # F stands on a moving line only
                assert "F" not in letters
        assert count > 1000


def test_feeds_are_positive_and_known_before_the_first_cut(rows: list[Words]) -> None:
    with GCODE.rule(
        "Feed of every move",
        source=NIST.at("3.5.2"),
        expected="known before the first move, above 0",
    ):
        # G1 with a feed of 0 is an error
        feed = 0.0
        for words in rows:
            given = dict(words)
            feed = given.get("F", feed)
            if moving(words):
                assert feed > 0.0


def test_units_and_distances_are_set_once_and_before_they_matter(text: str, rows: list[Words]) -> None:
    with GCODE.rule(
        "Unit of a program",
        source=NIST.at("3.5.7"),
        expected="millimetres, set once, before any motion",
    ):
        # either of G20, G21, near the beginning, before any motion, and nowhere else
        units = [at for at, words in enumerate(rows) if {20, 21}.intersection(gs(words))]
        first = next(at for at, words in enumerate(rows) if moving(words) or 28 in gs(words))
        assert len(units) == 1
        assert units[0] < first
        assert gs(rows[units[0]]) == [21]
    with GCODE.rule(
        "Places, planes and origins",
        source=REMEMBERED.at("3.5.6, 3.5.13, 3.5.17 to 3.5.19"),
        expected="places count from one origin all the way; no inverse time, no other plane",
    ):
        # places count from the origin all the way
        assert not any(91 in gs(words) for words in rows)
        body = text[text.index(PATH_BEGINS) :]
        assert body.splitlines()[1] == "G90"
        # no inverse time, no other plane, no shifted origin but that of E
        assert not any({18, 19, 93, 10, *range(54, 60)}.intersection(gs(words)) for words in rows)
        assert all([letter for letter, _ in words] == ["G", "E"] for words in rows if 92 in gs(words))


def test_arcs_have_a_centre_as_far_from_both_ends(written: tuple[str, WingBuild, str]) -> None:
    text, _, name = written
    with GCODE.rule(
        "Arcs",
        source=REMEMBERED.at("3.5.3"),
        expected="a centre from the current point, as far from both ends to 0.002 mm, no full circle",
    ):
        place = np.zeros(2)
        count = 0
        for words in map(words_of, text.splitlines()):
            given = dict(words)
            before = place.copy()
            if moving(words):
                place = np.array([given.get("X", place[0]), given.get("Y", place[1])])
            if given.get("G") in (2.0, 3.0) and moving(words):
                count += 1
                # centre by I and J from the current point, in the plane of X and Y
                assert {"X", "Y", "I", "J"} <= set(given)
                centre = before + np.array([given["I"], given["J"]])
                radii = [np.linalg.norm(before - centre), np.linalg.norm(place - centre)]
                assert abs(radii[1] - radii[0]) <= ARC_RADII_MM
                # a full circle from two equal ends is not what is meant
                assert np.linalg.norm(place - before) > 10.0 * ROUND_MM
            else:
                assert not {"I", "J", "K", "R"} & set(given)
        assert (count > 300) == ("arcs" in name)
        assert count == 0 or "arcs" in name


# --- conventions of firmware -----------------------------------------------------------------------------


def test_filament_counts_from_zero_in_one_way_from_the_first_move_on(
    written: tuple[str, WingBuild, str], rows: list[Words]
) -> None:
    name = written[2]
    way = 83.0 if name.startswith("relative") else 82.0
    with GCODE.rule(
        "Count of filament",
        source=FIRMWARE.at("M82, M83, G92"),
        expected="one way, set behind G90 and before the first move; from zero; no move draws back",
    ):
        ways = [at for at, words in enumerate(rows) if words[0][0] == "M" and words[0][1] in (82, 83)]
        assert [rows[at] for at in ways] == [[("M", way)]]
        assert rows[ways[0] - 1] == [("G", 90.0)]
        assert rows[ways[0] + 1] == [("G", 92.0), ("E", 0.0)]
        first = next(at for at, words in enumerate(rows) if moving(words) and "E" in dict(words))
        assert first > ways[0] + 1
        count = 0.0
        for words in rows[ways[0] + 1 :]:
            given = dict(words)
            if given.get("G") == 92:
                assert given["E"] == 0.0
                count = 0.0
            elif "E" in given:
                # every move lays something, and nothing is drawn back
                assert given["E"] > (0.0 if way == 83.0 else count)
                count = given["E"]


def test_between_begin_and_end_every_line_extrudes(text: str) -> None:
    with GCODE.rule(
        "Between begin and end of the path",
        source=FIRMWARE.at("E"),
        expected="every line extrudes, none is rapid",
    ):
        lines = text.splitlines()
        body = lines[lines.index(PATH_BEGINS) + 1 : lines.index(PATH_ENDS)]
        commands = [words for line in body if (words := words_of(line))]
        # G90, M82 or M83, G92 and three moves to where the path begins
        head, path = commands[:6], commands[6:]
        assert [words[0] for words in head[3:]] == [("G", 0.0)] * 3
        assert not any(letter == "E" for words in head[3:] for letter, _ in words)
        assert all("E" in dict(words) and moving(words) and 0 not in gs(words) for words in path)


def test_the_path_is_the_planned_one(written: tuple[str, WingBuild, str], program: Program) -> None:
    _, build, name = written
    path = build.parts[1].path
    assert path is not None
    with GCODE.rule(
        "Path and filament, read by another parser",
        source=PARSER,
        expected="as planned: filament to its last digit, each length to the rounding of places",
    ):
        assert program.filament_mm.sum() == pytest.approx(path.filament_mm, abs=2.0 * ROUND_E_MM)
        planned = path.toolpath.length_mm
        # the ends of each move are rounded, at random
        slack = 4.0 * ROUND_MM * np.sqrt(len(planned))
        if name.endswith("arcs"):
            assert len(program.length_mm) < 0.7 * len(planned)
            assert planned.sum() - slack < program.length_mm.sum() < planned.sum() * (1.0 + ARC_SHARE) + slack
        else:
            assert len(program.length_mm) == len(planned)
            assert program.length_mm == pytest.approx(planned, abs=4.0 * ROUND_MM)
            assert program.length_mm.sum() == pytest.approx(planned.sum(), abs=slack)
        top = float(path.toolpath.points[-1, 2])
        assert program.points[-1, 2] == pytest.approx(top, abs=1e-4)


def test_places_are_on_the_bed_and_never_go_down(
    written: tuple[str, WingBuild, str], program: Program
) -> None:
    _, build, name = written
    with GCODE.rule(
        "Places read back",
        source=PARSER,
        expected="on the bed, never going down, up to the height of the part",
    ):
        centre = 0.0 if "centre" in PRINTERS[name].values() else 110.0
        # bed-220 with margins of 5 mm; the line's middle stays half a bead inside
        reach = np.abs(program.points[:, :2] - centre).max()
        assert reach <= 105.0 + ROUND_MM
        z = program.points[:, 2]
        assert z[0] == z[1] == 0.25
        assert np.diff(z).min() >= 0.0
        assert z[-1] == z.max() == pytest.approx(build.parts[1].solid.panel.height_mm)


def test_feeds_are_millimetres_a_minute(written: tuple[str, WingBuild, str], program: Program) -> None:
    path = written[1].parts[1].path
    assert path is not None
    with GCODE.rule(
        "Feeds",
        source=FIRMWARE.at("F"),
        expected="millimetres a minute; the time is as planned to 0.1 %",
    ):
        wanted = path.toolpath.speed_mm_s
        # F is written as a whole number
        assert {round(60.0 * speed) for speed in program.speed_mm_s} == {round(60.0 * s) for s in wanted}
        time = (program.length_mm / program.speed_mm_s).sum()
        assert time == pytest.approx((path.toolpath.length_mm / wanted).sum(), rel=1e-3)


def test_a_feed_is_written_where_it_changes_and_nowhere_else(text: str) -> None:
    with GCODE.rule(
        "Feed written",
        source=FIRMWARE.at("F is kept from line to line"),
        expected="where it changes and nowhere else",
    ):
        lines = text.splitlines()
        path = lines[lines.index("; fills the nozzle") : lines.index(PATH_ENDS)]
        feeds = [dict(words)["F"] for line in path if (words := words_of(line)) and "F" in dict(words)]
        assert len(feeds) >= 2
        assert all(a != b for a, b in pairwise(feeds))
