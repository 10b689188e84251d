"""Damaged coordinate files: each is refused with the line at fault and a reason.

The files are made here from equations.
"""

from __future__ import annotations

import numpy as np
import pytest

from wingpath.core.errors import AirfoilFileError, FileAccessError
from wingpath.geometry.naca import naca_airfoil
from wingpath.io.airfoil_dat import MAX_POINTS, parse_airfoil, read_airfoil
from wingpath.io.airfoil_rows import MAX_BYTES

SECTION = naca_airfoil("2412", points_per_side=41)
UPPER, LOWER = SECTION.upper, SECTION.lower
LOOP = np.concatenate([UPPER[::-1], LOWER[1:]])


def rows(points, form="{:.6f} {:.6f}"):
    return [form.format(x, y) for x, y in points]


def text(points=LOOP, head=("NACA 2412",), tail=(), form="{:.6f} {:.6f}"):
    return "\n".join([*head, *rows(points, form), *tail, ""])


def read(content):
    return parse_airfoil(content, source="wing.dat")


def refused(content, reason, line=None):
    with pytest.raises(AirfoilFileError, match=reason) as caught:
        read(content)
    assert caught.value.line == line
    assert caught.value.source == "wing.dat"


def naca_loop(points_per_side):
    section = naca_airfoil("2412", points_per_side=points_per_side)
    return np.concatenate([section.upper[::-1], section.lower[1:]])


class TestRefused:
    @pytest.mark.parametrize("content", ["", b"", "\n\n \t\n", b"\x1a", b"\xef\xbb\xbf"])
    def test_empty(self, content):
        refused(content, "the file is empty")

    @pytest.mark.parametrize("content", ["only a title\n", "a\nb\nc\n", "# 1.0 0.0\n"])
    def test_no_points(self, content):
        refused(content, "found no points; expected two numbers a line")

    def test_three_columns(self):
        refused(text(form="{:.6f} {:.6f} 0.0"), "the fullest line holds 3")

    def test_binary(self):
        refused(bytes(range(256)) * 8, "a binary file")
        refused(b"\x7fELF\x02\x01\x01" + 64 * b"\0", "a binary file")

    def test_random_bytes(self):
        refused(np.random.default_rng(1).bytes(5000).replace(b"\x1a", b" "), "a binary file")

    def test_too_few_points(self):
        refused(text(LOOP[::20]), "got 5 points; expected 10 or more")

    def test_one_surface_with_too_few_points(self):
        refused(text(np.concatenate([UPPER[::-1], LOWER[[20, 40]]])), "one surface has only 3 points")

    def test_one_surface(self):
        refused(text(UPPER), "the file holds one surface")
        refused(text(LOWER[::-1]), "the file holds one surface")

    @pytest.mark.parametrize(
        "row", ["0.5 nan", "NaN NaN", "0.5 -inf", "inf 0.2", "0.5 1.#QNAN", "-1.#IND 0.1"]
    )
    @pytest.mark.parametrize("at", [1, 12, 60, 81])
    def test_not_finite(self, row, at):
        lines = text().splitlines()
        lines[at] = row
        refused("\n".join(lines), "expected two numbers|cannot be read as two numbers", at + 1)

    def test_huge_numbers_beside_a_line_of_words(self):
        lines = text().splitlines()
        lines[1:4] = ["1e999 1e999", "hello", "1e999 1e999"]
        with pytest.raises(AirfoilFileError):
            read("\n".join(lines))

    @pytest.mark.parametrize("at", [1, 12, 60, 81])
    def test_huge_number(self, at):
        lines = text().splitlines()
        lines[at] = "0.5 1e999"
        refused("\n".join(lines), "too large", at + 1)
        lines[at] = "1e12 0.1"
        refused("\n".join(lines), "too large", at + 1)

    @pytest.mark.parametrize(
        "row",
        ["0.5 abc", "hello", "0.5", "0.5 0.1 0.2", "0.5 0.1.2", "O.5 0.1", "0.5 ....", "****** 0.1", "{}"],
    )
    @pytest.mark.parametrize("at", [12, 40, 60])
    def test_damaged_line_in_the_middle(self, row, at):
        lines = text().splitlines()
        lines[at] = row
        refused("\n".join(lines), "expected two numbers|cannot be read as two numbers", at + 1)

    @pytest.mark.parametrize("row", ["0.98 x", "hello", "0.1 0.2 0.3"])
    @pytest.mark.parametrize("at", [2, 3, -2, -3])
    def test_damaged_line_near_the_trailing_edge(self, at, row):
        # what remains on the one side is a whole section
        lines = text(naca_loop(161)).splitlines()
        at = at % len(lines)
        lines[at] = row
        refused("\n".join(lines), "expected two numbers|cannot be read as two numbers", at + 1)

    @pytest.mark.parametrize(
        "row",
        ["1.0000 ......", "1.0000 (0.0022)", "1.0000 -", "1.0 abc", "1.000 ?", "1.0 n/a", "l.OO 0.0013"],
    )
    @pytest.mark.parametrize("place", ["first", "last"])
    def test_placeholder_for_the_trailing_edge(self, row, place):
        # a printed table with its stations; the ordinate of the trailing edge is left open
        lines = text(LOOP[4:-4]).splitlines()
        lines.insert(1 if place == "first" else len(lines), row)
        refused("\n".join(lines), r'".*" stands among the points; expected two numbers', lines.index(row) + 1)

    def test_placeholders_at_all_four_places(self):
        lines = [
            "t",
            "1.0000 ......",
            "1.0000 (0.0022)",
            *rows(LOOP[4:-4]),
            "1.0000 (-.0022)",
            "1.0000 ......",
        ]
        refused("\n".join(lines), r'"1.0000 \(0.0022\)" stands among the points', 3)

    def test_number_too_many_at_the_end(self):
        lines = [*text().rstrip().splitlines()[:-1], "0.999916 -0.001257 0.0"]
        refused("\n".join(lines), "stands among the points", 82)

    def test_surface_doubles_back_far(self):
        points = np.concatenate([LOOP[:15], LOOP[5:]])
        refused(text(points), "doubles back", 16)

    def test_surface_doubles_back_a_little(self):
        points = LOOP.copy()
        points[[20, 21]] = points[[21, 20]]
        refused(text(points), "the surface doubles back; expected x to run one way", 22)

    def test_surface_doubles_back_by_more_than_rounding(self):
        points = LOOP.copy()
        points[20, 0] = points[19, 0] + 2e-3
        refused(text(points), "lies 0.002 chord ahead of a point nearer the nose", 21)

    def test_surfaces_cross(self):
        upper, lower = UPPER.copy(), LOWER.copy()
        upper[25:, 1] -= 0.2 * (upper[25:, 0] - upper[25, 0])
        refused(text(np.concatenate([upper[::-1], lower[1:]])), "the surfaces cross: the lower one is", 82)

    def test_surfaces_cross_in_the_middle(self):
        points = LOOP.copy()
        points[60:66, 1] = 0.09
        refused(text(points), "the surfaces cross", 67)

    def test_tail_is_not_blamed_for_what_is_wrong_with_the_points(self):
        points = LOOP.copy()
        points[60:66, 1] = 0.09
        refused(text(points, tail=["alpha cl", "0.0 0.25", "1.0 0.36"]), "the surfaces cross", 67)

    def test_both_surfaces_the_same(self):
        refused(text(np.concatenate([UPPER[::-1], UPPER[1:]])), "both surfaces are the same")

    def test_spike(self):
        points = LOOP.copy()
        points[20, 1] = 0.6
        refused(text(points), "turns by 1[0-9]{2} degrees", 22)

    def test_wild_ordinate(self):
        points = LOOP.copy()
        points[20, 1] = 60.0
        refused(text(points), "chords high", 22)

    def test_points_the_other_way(self):
        refused(text((1.0, 0.0) - LOOP * (1.0, -1.0)), "it seems to point the other way")

    def test_no_chord(self):
        refused(text(LOOP * (0.0, 1.0)), "expected x to run along the chord")

    def test_cut_off_at_the_end(self):
        refused(text(LOOP[:-6]), "this surface ends at x = 0.8", 76)

    def test_too_many_points(self):
        points = naca_loop(MAX_POINTS // 2 + 2)
        refused(text(points), "allowed: 20000 or fewer", MAX_POINTS + 2)

    def test_too_many_bytes(self):
        refused(text() + " " * MAX_BYTES, "larger than 2 MB")
        refused((text() + " " * MAX_BYTES).encode(), "larger than 2 MB")

    def test_message_shows_no_control_characters(self):
        lines = text().splitlines()
        lines[20] = "\x07" + "z" * 200
        with pytest.raises(AirfoilFileError) as caught:
            read("\n".join(lines))
        assert "\x07" not in str(caught.value)
        assert len(str(caught.value)) < 300


class TestAccess:
    def test_missing(self, tmp_path):
        with pytest.raises(FileAccessError, match=r"none\.dat: could not be read"):
            read_airfoil(tmp_path / "none.dat")

    def test_folder(self, tmp_path):
        with pytest.raises(FileAccessError, match="could not be read"):
            read_airfoil(tmp_path)

    def test_null_in_the_name(self):
        with pytest.raises(FileAccessError, match="could not be read"):
            read_airfoil("a\0b.dat")

    def test_no_permission(self, tmp_path, monkeypatch):
        # root may read anything, so the operating system's answer is put in its mouth
        def denied(*_args, **_keywords):
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr("wingpath.io.airfoil_dat.open_plain", denied)
        with pytest.raises(FileAccessError, match="Permission denied"):
            read_airfoil(tmp_path / "a.dat")

    def test_large_file_is_not_read_whole(self, tmp_path):
        path = tmp_path / "large.dat"
        path.write_bytes(b"1.0 0.0\n" * (MAX_BYTES // 4))
        with pytest.raises(AirfoilFileError, match="larger than 2 MB"):
            read_airfoil(path)
