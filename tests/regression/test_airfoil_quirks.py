"""Quirks of coordinate files in circulation: each is read right.

The files are made here from equations. How often each quirk occurs was counted over a public collection of
2,174 files; none of them is copied.
"""

from __future__ import annotations

import numpy as np
import pytest

from wingpath.core.errors import AirfoilFileError
from wingpath.geometry.naca import naca_airfoil
from wingpath.io.airfoil_dat import parse_airfoil

SECTION = naca_airfoil("2412", points_per_side=41)
UPPER, LOWER = SECTION.upper, SECTION.lower
LOOP = np.concatenate([UPPER[::-1], LOWER[1:]])
PLAIN = SECTION.sampled()


def rows(points, form="{:.6f} {:.6f}"):
    return [form.format(x, y) for x, y in points]


def text(points=LOOP, head=("NACA 2412",), tail=(), form="{:.6f} {:.6f}"):
    return "\n".join([*head, *rows(points, form), *tail, ""])


def read(content):
    return parse_airfoil(content, source="wing.dat")


def check(content, tolerance=1e-5, name="NACA 2412"):
    airfoil = read(content)
    assert airfoil.sampled().loop == pytest.approx(PLAIN.loop, abs=tolerance)
    assert airfoil.name == name
    return airfoil


def refused(content, reason, line=None):
    with pytest.raises(AirfoilFileError, match=reason) as caught:
        read(content)
    assert caught.value.line == line
    assert caught.value.source == "wing.dat"


class TestOrders:
    def test_upper_first(self):
        check(text())

    def test_lower_first(self):
        check(text(LOOP[::-1]))

    @pytest.mark.parametrize("counts", ["41. 41.", "41 41", "   41.0000    41.0000", "41,41", None])
    @pytest.mark.parametrize("gap", ["", None])
    def test_two_runs(self, counts, gap):
        middle = [gap] if gap is not None else []
        lines = ["NACA 2412", *([counts] if counts else []), *middle, *rows(UPPER), *middle, *rows(LOWER)]
        check("\n".join(lines))

    def test_two_runs_lower_first(self):
        check("\n".join(["NACA 2412", "41. 41.", "", *rows(LOWER), "", *rows(UPPER)]))

    def test_two_runs_with_headings(self):
        check("\n".join(["NACA 2412", "Upper surface", *rows(UPPER), "", "LOWER:", *rows(LOWER)]))

    def test_two_runs_from_the_trailing_edge(self):
        check("\n".join(["NACA 2412", *rows(UPPER[::-1]), "", *rows(LOWER[::-1])]))

    def test_two_runs_without_a_common_nose_point(self):
        check("\n".join(["NACA 2412", "40. 40.", "", *rows(UPPER[1:]), "", *rows(LOWER[1:])]), 4e-4)

    def test_two_runs_in_per_cent_with_counts(self):
        check("\n".join(["NACA 2412", "41. 41.", *rows(100 * UPPER), *rows(100 * LOWER)]))

    def test_loop_from_the_nose(self):
        check(text(np.concatenate([UPPER, LOWER[::-1]])))

    def test_counts_that_do_not_agree(self):
        lines = ["NACA 2412", "41. 40.", "", *rows(UPPER), "", *rows(LOWER)]
        refused("\n".join(lines), r"announces 41 and 40 points, but 82 follow", 2)

    def test_two_runs_of_one_surface(self):
        refused("\n".join(["t", *rows(UPPER), "", *rows(UPPER)]), "both surfaces are the same")

    def test_two_runs_with_a_missing_front(self):
        lines = ["t", *rows(UPPER), "", *rows(LOWER[LOWER[:, 0] > 0.1])]
        refused("\n".join(lines), "starts at x = 0.1", 44)

    def test_two_runs_with_a_missing_rear(self):
        lines = ["t", *rows(UPPER), "", *rows(LOWER[LOWER[:, 0] < 0.9])]
        refused("\n".join(lines), "this surface ends at x = 0.8", 79)

    def test_several_elements(self):
        flap = LOOP * 0.3 + (1.02, -0.05)
        refused(text(np.concatenate([LOOP, flap])), "of one section", 83)


class TestTitles:
    @pytest.mark.parametrize(
        "title",
        [
            "2032c",
            "23012",
            "63 412",
            "63-412 a=0.8",
            "    indented title",
            "T" * 150,
            "12% trainer, 2.5 camber",
            "SECTION (12.00%)",
            "Mod 1.2",
            "wing #2",
            "a // b",
        ],
    )
    def test_odd_titles(self, title):
        airfoil = read(text(head=[title]))
        assert airfoil.sampled().loop == pytest.approx(PLAIN.loop, abs=1e-5)
        assert airfoil.name.strip()

    def test_number_pair_as_title_gives_the_name(self):
        assert read(text(head=["63 412"])).name == "63 412"

    def test_no_title(self):
        check(text(head=[]), name="wing")

    def test_several_lines(self):
        check(text(head=["NACA 2412", "from the equations of 1933", "Re = 200000", "12.0 30.0", "and so on"]))

    def test_long_title_is_cut(self):
        assert len(read(text(head=["T" * 150])).name) == 80

    def test_blank_lines_between(self):
        check(text(head=["", "NACA 2412", "", "  \t", ""]))

    def test_domain_line(self):
        check(text(head=["NACA 2412", " -2.000 3.000 -2.646 3.454"]))

    def test_count_line(self):
        check(text(head=["NACA 2412", "81"]))

    def test_text_without_letters(self):
        check(text(head=["----", "NACA 2412", "===="]))


class TestNotation:
    @pytest.mark.parametrize(
        "form",
        [
            "{:.6f}\t{:.6f}",
            "\t{:.6f}\t\t{:.6f}\t",
            "{:.6f},{:.6f}",
            "{:.6f}, {:.6f}",
            "{:.6f};{:.6f}",
            "{:.6f} ; {:.6f} ;",
            "{:.8E} {:.8E}",
            "{:+.6f} {:+.6f}",
            "   {:.6f}       {:.6f}    ",
            "{:.6f} {:.6f} # point",
            "{:.6f} {:.6f} ! point 3 4",
            "{:.6f} {:.6f} // point",
            "{:.6f} {:.6f} ; point",
            "\u00a0{:.6f}\u00a0{:.6f}",
        ],
    )
    def test_separators(self, form):
        check(text(form=form))

    def test_no_leading_zero(self):
        check(text().replace(" 0.", " .").replace("\n0.", "\n.").replace("-0.", "-."))

    def test_old_exponent_letter(self):
        check(text(form="{:.8E} {:.8E}").replace("E", "D").replace("NACA", "NACA"), name="NACA 2412")

    @pytest.mark.parametrize("form", ["{:.6f} {:.6f}", "{:.6f};{:.6f}", "{:.6f}\t{:.6f}"])
    def test_decimal_commas(self, form):
        check(text(form=form).replace(".", ","))

    def test_typographic_minus(self):
        check(text().replace("-", "\u2212"))

    def test_comments(self):
        lines = text().splitlines()
        lines[10:10] = ["# a", "! b 0.5 0.5", "; 0.3 0.2", "// c", "", "   # d"]
        check("\n".join(lines))

    def test_comments_only_above(self):
        check(text(head=["# NACA 2412", "# source: equation"]), name="wing")

    @pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
    def test_line_ends(self, end):
        check(text().replace("\n", end).encode())

    def test_line_numbers_count_every_line_end(self):
        lines = text().splitlines()
        lines[20] = "0.2 abc"
        for end in ("\n", "\r\n", "\r"):
            refused(end.join(lines).encode(), "abc", 21)

    def test_no_final_line_end(self):
        check(text().rstrip())

    def test_blank_lines_inside(self):
        lines = text().splitlines()
        lines[30:30] = ["", " \t "]
        check("\n".join(lines))

    @pytest.mark.parametrize(
        "data",
        [
            b"\xef\xbb\xbf" + text().encode(),
            text().encode("utf-16"),
            text().encode() + b"\x1a",
            text().encode() + b"\x1a" + 40 * b"\0",
            text(tail=["\u00fc\u00e9 \u2013 notes"]).encode(),
        ],
    )
    def test_encodings(self, data):
        check(data)

    def test_byte_order_mark_in_text(self):
        check("\ufeff" + text())

    def test_latin_title(self):
        check(text(head=["Fl\u00fcgel \u00b0"]).encode("latin-1"), name="Fl\u00fcgel \u00b0")


class TestTails:
    @pytest.mark.parametrize(
        "tail",
        [
            ["", "Thin section, after 400,000 hours of thought", "see http://example.org/a?b=1.0"],
            ["400,000 and 0.5 are numbers"],
            ["0.00000 0.00102 -> smoothed by hand"],
            ["alpha\tCl\tCd\tCm", "-2.0\t0.01\t0.012\t-0.05", "0.0\t0.25\t0.011\t-0.05"],
            ["", "alpha cl", "0.0 0.25", "1.0 0.36", "2.0 0.47"],
            ["0.0 0.25 0.011 -0.05", "1.0 0.36 0.011 -0.05"],
            ["12.5 %"],
            ["end"],
            ["Notes:", "1.0 0.5", "was the old value"],
        ],
    )
    def test_prose_and_tables(self, tail):
        check(text(tail=tail))


class TestScales:
    @pytest.mark.parametrize("factor", [100.0, 1000.0])
    def test_per_cent_and_per_mille(self, factor):
        airfoil = check(text(factor * LOOP))
        assert airfoil.upper[-1] == pytest.approx(UPPER[-1], abs=1e-6)

    def test_per_cent_with_a_short_chord(self):
        airfoil = read(text(99.3 * LOOP))
        assert airfoil.upper[-1, 0] == pytest.approx(0.993 * UPPER[-1, 0], abs=1e-6)

    @pytest.mark.parametrize("factor", [0.01, 0.3, 2.54, 180.0, 240.5])
    def test_other_units(self, factor):
        # only scaled: the chord line stays that of the equation
        check(text(factor * LOOP, form="{:.9f} {:.9f}"))


class TestTrailingEdges:
    @pytest.mark.parametrize("gap", [0.0, 0.00005, 0.002, 0.02, 0.14, 0.234])
    def test_any_gap(self, gap):
        closed = naca_airfoil("0012", points_per_side=41, closed=True)
        upper = np.column_stack([closed.upper[:, 0], closed.upper[:, 1] + 0.5 * gap * closed.upper[:, 0]])
        lower = upper * (1.0, -1.0)
        airfoil = read(text(np.concatenate([upper[::-1], lower[1:]])))
        assert airfoil.trailing_edge_gap == pytest.approx(gap, abs=2e-6)
        assert airfoil.sampled().upper[:, 1] == pytest.approx(-airfoil.sampled().lower[:, 1], abs=1e-9)

    @pytest.mark.parametrize("shift", [-0.01, -0.001, 0.001, 0.01])
    def test_ends_at_different_x(self, shift):
        points = LOOP.copy()
        points[-1, 0] = max(points[-1, 0] + shift, points[-2, 0] + 1e-3)
        airfoil = read(text(points))
        assert airfoil.lower[-1] == pytest.approx(points[-1], abs=1e-6)

    @pytest.mark.parametrize("count", [1, 2, 3])
    def test_base_drawn_with_points(self, count):
        base = np.linspace(LOOP[0], LOOP[-1], 2 * count + 1)
        middle = base[count : count + 1]
        points = np.concatenate([middle, base[count - 1 : 0 : -1], LOOP, base[-2:count:-1], middle])
        airfoil = check(text(points))
        assert airfoil.trailing_edge_gap == pytest.approx(SECTION.trailing_edge_gap, abs=2e-6)

    def test_first_point_repeated_to_close_the_outline(self):
        check(text(np.concatenate([LOOP, LOOP[:1]])))

    @pytest.mark.parametrize("count", [49, 121])
    def test_rounded_edge_stays(self, count):
        angle = np.linspace(0.0, 2.0 * np.pi, count)
        ellipse = np.column_stack([0.5 + 0.5 * np.cos(angle), 0.06 * np.sin(angle)])
        airfoil = read(text(ellipse))
        assert airfoil.upper[-1] == pytest.approx([1.0, 0.0], abs=1e-6)
        assert airfoil.thickness == pytest.approx(0.12, abs=1e-4)

    @pytest.mark.parametrize("end", [0.9905, 1.002, 1.009])
    def test_greatest_x_is_not_one(self, end):
        airfoil = read(text(LOOP * (end, 1.0)))
        assert airfoil.upper[-1, 0] == pytest.approx(end * UPPER[-1, 0], abs=1e-6)


class TestNoses:
    def test_no_nose_point(self):
        check(text(np.delete(LOOP, 40, axis=0)), tolerance=4e-4)

    def test_no_nose_point_in_coarse_points(self):
        coarse = np.concatenate([UPPER[:0:-2], LOOP[42::2]])
        airfoil = read(text(coarse))
        assert coarse[:, 0].min() > 0.002
        assert abs(airfoil.nose[0]) < 0.0015
        sampled = airfoil.sampled()
        for x in (0.02, 0.1, 0.3, 0.9):
            assert sampled.thickness_at(x) == pytest.approx(PLAIN.thickness_at(x), abs=1e-3)

    def test_nose_ahead_of_the_axis(self):
        moved = LOOP - (0.004, 0.0)
        airfoil = read(text(moved))
        assert airfoil.upper[-1, 0] == pytest.approx(UPPER[-1, 0] - 0.004, abs=1e-6)

    def test_few_points(self):
        airfoil = read(text(np.concatenate([UPPER[::-5], LOOP[45::5]])))
        assert len(airfoil.upper) + len(airfoil.lower) < 20
        sampled = airfoil.sampled()
        for x in (0.02, 0.1, 0.3, 0.9):
            assert sampled.thickness_at(x) == pytest.approx(PLAIN.thickness_at(x), abs=3e-3)

    def test_thick_section(self):
        airfoil = read(text(LOOP * (1.0, 3.5)))
        assert airfoil.thickness == pytest.approx(0.42, abs=2e-3)


class TestRepeatedPoints:
    @pytest.mark.parametrize("at", [0, 10, 40, 60, 80])
    def test_twice_the_same(self, at):
        check(text(np.insert(LOOP, at, LOOP[at], axis=0)))

    @pytest.mark.parametrize("at", [10, 39, 40, 60])
    def test_almost_the_same(self, at):
        check(text(np.insert(LOOP, at, LOOP[at] + (1e-5, 1e-5), axis=0)), tolerance=5e-5)

    def test_trailing_edge_that_hooks_back(self):
        points = naca_loop(161)
        points[0] = points[1] - (2e-4, 2e-4)
        airfoil = read(text(points))
        assert airfoil.upper[-1] == pytest.approx(points[0], abs=1e-6)
        assert (np.diff(airfoil.sampled().upper[:, 0]) > 0.0).all()

    def test_rounding_that_runs_back(self):
        points = LOOP.copy()
        points[20, 0] = points[19, 0] + 1e-4
        airfoil = read(text(points))
        assert (np.diff(airfoil.upper[:, 0]) >= 0.0).all()


def naca_loop(points_per_side):
    section = naca_airfoil("2412", points_per_side=points_per_side)
    return np.concatenate([section.upper[::-1], section.lower[1:]])
