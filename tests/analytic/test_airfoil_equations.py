"""Sections, curves and resampling against what follows exactly from their equations."""

from __future__ import annotations

import numpy as np
import pytest

from wingpath.core.errors import InputError
from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.curve import chord_stations, outline_curve
from wingpath.geometry.mean_lines import flat_bottomed, reflexed, section
from wingpath.geometry.naca import is_naca, naca_airfoil, naca_ordinates, parse_naca, thickness_form


def joined(airfoil):
    """Upper trailing edge over the nose to the lower one."""
    return np.concatenate([airfoil.upper[::-1], airfoil.lower[1:]])


class TestThicknessForm:
    def test_trailing_edge_is_open_as_defined(self):
        # 5 t (0.2969 - 0.1260 - 0.3516 + 0.2843 - 0.1015) = 0.0105 t
        assert float(thickness_form(1.0, thickness=0.12)) == pytest.approx(0.0105 * 0.12, rel=1e-12)
        assert naca_airfoil("0012").trailing_edge_gap == pytest.approx(0.00252, rel=1e-12)

    def test_trailing_edge_closes_exactly(self):
        assert float(thickness_form(1.0, thickness=0.12, closed=True)) == 0.0

    def test_closing_moves_little_but_the_tail(self):
        opened, closed = (thickness_form([0.3, 0.9], thickness=0.12, closed=shut) for shut in (False, True))
        assert opened - closed == pytest.approx([1.0e-5, 8.3e-4], abs=5e-6)

    @pytest.mark.parametrize("suffix", ["34", "64", "65", "93", "62"])
    def test_modified_form_has_its_maximum_where_it_says(self, suffix):
        x = np.linspace(0.0, 1.0, 10001)
        upper, _ = naca_ordinates(f"0012-{suffix}", x)
        top = int(np.argmax(upper[:, 1]))
        assert upper[top] == pytest.approx([int(suffix[1]) / 10.0, 0.06], abs=1e-4)
        assert upper[-1, 1] == pytest.approx(0.01 * 0.12, rel=1e-12)

    def test_modified_form_is_smooth_at_its_maximum(self):
        x = 0.4 + 1e-4 * np.arange(-3, 4)
        y = naca_ordinates("0012-64", x)[0][:, 1]
        bend = np.diff(y, 2) / 1e-8
        assert bend[0] == pytest.approx(bend[-1], rel=2e-2)

    def test_modified_form_of_the_normal_radius_has_the_normal_nose(self):
        # index 6 is the normal radius, 9 three times it, 3 a quarter of it
        first = [
            float(naca_ordinates(f"0012-{index}4", [1e-10])[0][0, 1]) ** 2 / 2e-10 for index in (6, 9, 3)
        ]
        normal = 1.1019 * 0.12**2
        assert first == pytest.approx([normal, 3.0 * normal, normal / 4.0], rel=1e-3)

    def test_modified_form_closes_when_asked(self):
        assert naca_airfoil("0012-64", closed=True).trailing_edge_gap == pytest.approx(0.0, abs=1e-17)


class TestMeanLine:
    @pytest.mark.parametrize("code", ["2412", "6409", "4415"])
    def test_four_digits_meet_at_the_top(self, code):
        upper, lower = naca_ordinates(code, [int(code[1]) / 10.0])
        assert upper[0, 0] == pytest.approx(lower[0, 0], abs=1e-15)
        assert 0.5 * (upper + lower)[0, 1] == pytest.approx(int(code[0]) / 100.0, rel=1e-12)

    @pytest.mark.parametrize("code", ["21012", "22012", "23012", "24012", "25012", "22112", "23112", "24112"])
    def test_five_digits_are_continuous_and_end_on_the_chord(self, code):
        x = np.linspace(0.0, 1.0, 4001)
        upper, lower = naca_ordinates(code, x)
        mean = 0.5 * (upper + lower)[:, 1]
        assert mean[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-9)
        assert np.abs(np.diff(mean, 2)).max() < 2e-5

    def test_five_digits_scale_with_the_design_lift(self):
        single, double = (
            naca_ordinates(code, [0.15, 0.5])[0] + naca_ordinates(code, [0.15, 0.5])[1]
            for code in ("23001", "43001")
        )
        assert double[:, 1] == pytest.approx(2.0 * single[:, 1], rel=1e-12)

    def test_four_digit_slope_at_the_nose(self):
        upper, lower = naca_ordinates("2412", [1e-9])
        across = upper[0] - lower[0]
        # at right angles to a slope of 2 m / p = 0.1
        assert -across[0] / across[1] == pytest.approx(0.1, rel=1e-6)


class TestOwnFamilies:
    def test_lower_surface_is_straight_behind_thirty_per_cent(self):
        lower = flat_bottomed(0.12).lower
        flat = lower[lower[:, 0] >= 0.3]
        line = np.interp(flat[:, 0], flat[[0, -1], 0], flat[[0, -1], 1])
        assert flat[:, 1] == pytest.approx(line, abs=1e-15)

    def test_lower_surface_is_nowhere_hollow(self):
        x, y = flat_bottomed(0.12).lower.T
        assert (np.diff(np.diff(y) / np.diff(x)) > -1e-12).all()

    def test_trailing_edge_lies_on_the_chord(self):
        for airfoil in (flat_bottomed(0.10), reflexed(0.08)):
            assert 0.5 * (airfoil.upper[-1, 1] + airfoil.lower[-1, 1]) == pytest.approx(0.0, abs=1e-15)

    def test_reflexed_mean_line_has_no_moment(self):
        # thin-airfoil theory: the moment about the quarter chord is pi/4 (A2 - A1)
        angle = (np.arange(4000) + 0.5) * np.pi / 4000
        x = 0.5 * (1.0 - np.cos(angle))
        airfoil = reflexed(0.10, points_per_side=2001)
        mean = 0.5 * (airfoil.upper + airfoil.lower)
        slope = np.interp(x, 0.5 * (mean[1:, 0] + mean[:-1, 0]), np.diff(mean[:, 1]) / np.diff(mean[:, 0]))
        first, second = (2.0 * float(np.mean(slope * np.cos(n * angle))) for n in (1, 2))
        assert first > 0.01
        assert second == pytest.approx(first, rel=1e-3)

    def test_camber_and_thickness_are_as_said(self):
        airfoil = reflexed(0.10)
        assert airfoil.thickness == pytest.approx(0.10, abs=1e-4)
        assert 0.5 * (airfoil.upper + airfoil.lower)[:, 1].max() == pytest.approx(0.02, abs=1e-5)
        assert flat_bottomed(0.12).thickness == pytest.approx(0.12, abs=1e-4)

    def test_names(self):
        assert section("flat-12").name == "flat-12"
        assert section("reflex-8").name == "reflex-8"
        assert section("naca2412").name == "NACA 2412"

    @pytest.mark.parametrize("name", ["flat-1", "reflex-30", "flat", "flat-123"])
    def test_impossible_names(self, name):
        with pytest.raises(InputError, match="allowed"):
            section(name)

    def test_too_few_points(self):
        with pytest.raises(InputError, match="points_per_side: got 3; allowed: 5 or more"):
            section("flat-12", points_per_side=3)


class TestDesignations:
    @pytest.mark.parametrize("text", ["naca2412", "NACA 2412", "2412", " naca-2412 ", "Naca_2412"])
    def test_spellings(self, text):
        assert is_naca(text)
        assert naca_airfoil(text).name == "NACA 2412"

    def test_parts(self):
        code = parse_naca("naca2412-34")
        assert (code.camber, code.camber_place, code.thickness) == pytest.approx((0.02, 0.4, 0.12))
        assert (code.nose_index, code.thickness_place) == (3, 4)
        assert parse_naca("23112").mean_line == "231"

    @pytest.mark.parametrize(
        ("text", "reason"),
        [
            ("naca9999x", "allowed: four digits"),
            ("clark", "allowed: four digits"),
            ("", "allowed: four digits"),
            ("naca241", "allowed: four digits"),
            ("naca654415", "give a coordinate file"),
            ("0012-6", "allowed: four digits"),
            ("naca9999", "got 99; allowed: 01 to 40"),
            ("naca2400", "got 0; allowed: 01 to 40"),
            ("naca2012", "got 2 % camber at 0 tenths"),
            ("naca0412", r"symmetrical section, 0012"),
            ("naca26012", "allowed: 210, 220, 221, 230, 231, 240, 241, 250, 251"),
            ("naca21112", "there is no five-digit mean line 211"),
            ("naca93012", "first digit of 1 to 6"),
            ("naca0012-69", "got 9; allowed: 2 to 6"),
            ("naca9140", "folds over itself"),
            ("naca" + "9" * 500, r"9{36}\.\.\."),
        ],
    )
    def test_impossible(self, text, reason):
        with pytest.raises(InputError, match=reason):
            naca_airfoil(text)

    def test_is_naca_leaves_other_names_alone(self):
        assert not any(is_naca(text) for text in ("flat-12", "s1223", "mine.dat", "", "naca"))

    def test_sources(self):
        assert "460" in naca_airfoil("2412").source
        assert "537" in naca_airfoil("23012").source
        assert "492" in naca_airfoil("0012-64").source

    def test_stations_outside_the_chord(self):
        with pytest.raises(InputError, match="allowed: 0 to 1"):
            naca_ordinates("0012", [0.5, 1.5])


class TestSampled:
    @pytest.mark.parametrize("code", ["0006", "0012", "4415", "23012", "23112", "0012-34", "6412"])
    def test_lies_on_the_equation(self, code):
        airfoil = naca_airfoil(code, points_per_side=81).sampled()
        fine = naca_airfoil(code, points_per_side=4001)
        for side in ("upper", "lower"):
            x, y = getattr(airfoil, side).T
            aft = x > 0.01
            at = np.interp(x[aft], *getattr(fine, side).T)
            assert y[aft] == pytest.approx(
                at, abs=5e-6
            )  # the mean line of 6412 changes its curvature at once

    @pytest.mark.parametrize("code", ["0006", "0012", "2412", "4415"])
    def test_nose_is_round_with_the_radius_of_the_equation(self, code):
        upper, lower = (
            getattr(naca_airfoil(code, points_per_side=81).sampled(161), s) for s in ("upper", "lower")
        )
        # circle through the foremost point and the third point of each side
        a, b, c = lower[3], upper[0], upper[3]
        sides = [float(np.hypot(*(p - q))) for p, q in ((a, b), (b, c), (c, a))]
        twice_area = abs(float((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]))
        radius = sides[0] * sides[1] * sides[2] / (2.0 * twice_area)
        assert radius == pytest.approx(1.1019 * (int(code[2:]) / 100.0) ** 2, rel=0.06)

    def test_every_airfoil_gets_the_same_stations(self):
        stations = chord_stations(161)
        for airfoil in (naca_airfoil("0006", points_per_side=31), naca_airfoil("6412"), flat_bottomed(0.12)):
            sampled = airfoil.sampled()
            for surface in (sampled.upper, sampled.lower):
                x = surface[:, 0]
                assert (x - x[0]) / (x[-1] - x[0]) == pytest.approx(stations, abs=1e-12)

    def test_sampling_twice_changes_nothing(self):
        once = naca_airfoil("4412").sampled()
        assert once.sampled().loop == pytest.approx(once.loop, abs=1e-6)

    def test_ends_stay(self):
        airfoil = naca_airfoil("2412")
        sampled = airfoil.sampled()
        assert sampled.upper[-1] == pytest.approx(airfoil.upper[-1], abs=1e-15)
        assert sampled.lower[-1] == pytest.approx(airfoil.lower[-1], abs=1e-15)

    def test_circle_through_few_points(self):
        # exact shape known everywhere; 24 points on a half circle open to the right
        angle = np.linspace(0.5 * np.pi, 1.5 * np.pi, 25)
        curve = outline_curve(np.column_stack([1.0 + np.cos(angle), np.sin(angle)]))
        assert curve.kind == "smooth"
        walk = curve.at(np.linspace(0.0, curve.knots[-1], 500))
        assert np.hypot(walk[:, 0] - 1.0, walk[:, 1]) == pytest.approx(1.0, abs=2e-5)
        assert curve.nose_point == pytest.approx([0.0, 0.0], abs=1e-9)

    def test_nose_between_points_is_found(self):
        airfoil = naca_airfoil("0012", points_per_side=81)
        line = np.delete(joined(airfoil), 80, axis=0)
        assert outline_curve(line).nose_point == pytest.approx([0.0, 0.0], abs=1e-5)

    def test_corner_does_not_ring(self):
        # a roof: a smooth curve through these points overshoots beside the ridge
        x = np.array([1.0, 0.75, 0.5, 0.25, 0.22, 0.1, 0.0])
        top = np.interp(x, [0.0, 0.22, 0.25, 1.0], [0.0, 0.02, 0.12, 0.0])
        line = np.concatenate([np.column_stack([x, top]), np.column_stack([x[-2::-1], -0.1 * x[-2::-1]])])
        curve = outline_curve(line)
        assert curve.kind != "smooth"
        walk = curve.at(np.linspace(0.0, curve.knots[-1], 2000))
        assert walk[:, 1].max() <= 0.12 + 1e-9

    def test_step_does_not_run_back(self):
        # a small step in the lower surface: a smooth curve would swing forward between its two corners
        airfoil = naca_airfoil("0012", points_per_side=161)
        lower = airfoil.lower[1:].copy()
        fade = 0.008 * (1.0 - lower[:, 0])
        lower[80:, 1] += fade[80:]
        lower = np.insert(lower, 80, lower[79] + (0.0, fade[79]), axis=0)
        curve = outline_curve(np.concatenate([airfoil.upper[::-1], lower]))
        assert curve.kind == "shape-preserving"
        assert (np.diff(curve.at(np.linspace(curve.nose, curve.knots[-1], 3000))[:, 0]) >= -1e-12).all()

    def test_too_few_points(self):
        with pytest.raises(InputError, match="allowed: 5 or more"):
            naca_airfoil("0012").sampled(4)
        with pytest.raises(ValueError, match="at least 5"):
            outline_curve([[1.0, 0.0], [1.0, 0.0], [0.5, 0.1], [0.0, 0.0], [1.0, 0.0]])


class TestAirfoil:
    def test_loop_is_counter_clockwise_with_the_nose_once(self):
        airfoil = naca_airfoil("2412", points_per_side=41)
        loop = airfoil.loop
        assert loop.shape == (81, 2)
        assert (loop[0] == airfoil.nose).all()
        assert (loop[40] == airfoil.lower[-1]).all()
        assert (loop[41] == airfoil.upper[-1]).all()
        x, y = loop.T
        area = 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
        # area of the thickness form: t (2/3 0.2969 - 0.126/2 - 0.3516/3 + 0.2843/4 - 0.1015/5) 10
        assert area == pytest.approx(0.12 * 0.685008, rel=2e-3)

    def test_wedge_grows_from_the_nose(self):
        airfoil = naca_airfoil("0012")
        thick = airfoil.with_trailing_edge(0.01)
        assert thick.trailing_edge_gap == pytest.approx(0.01, rel=1e-12)
        added = 0.01 - 0.00252
        for x in (0.0, 0.25, 0.5, 1.0):
            assert thick.thickness_at(x) - airfoil.thickness_at(x) == pytest.approx(added * x, abs=1e-12)
        assert thick.upper[:, 1] == pytest.approx(-thick.lower[:, 1], abs=1e-15)

    def test_wedge_never_thins(self):
        airfoil = naca_airfoil("0012")
        assert airfoil.with_trailing_edge(0.001) is airfoil

    @pytest.mark.parametrize("least", [-0.1, float("nan"), float("inf")])
    def test_impossible_wedge(self, least):
        with pytest.raises(InputError, match="allowed: a height in chords, 0 or more"):
            naca_airfoil("0012").with_trailing_edge(least)

    @pytest.mark.parametrize("code", ["0006", "2412", "4415", "2430"])
    def test_thickness(self, code):
        # few points: the polygon's own greatest depth is up to 3e-4 too small
        assert naca_airfoil(code, points_per_side=25).thickness == pytest.approx(
            int(code[2:]) / 100.0, abs=4e-4 + 0.002 * int(code[0]) / 10
        )

    def test_thickness_between_points(self):
        # the deepest of 16 points a side is 6e-4 short; the parabola through three of them is not
        airfoil = naca_airfoil("0012", points_per_side=16)
        assert max(airfoil.thickness_at(x) for x in airfoil.upper[:, 0]) < 0.12 - 5e-4
        assert airfoil.thickness == pytest.approx(0.12003, abs=1.5e-4)

    def test_thickness_at(self):
        assert naca_airfoil("0012").thickness_at(0.5) == pytest.approx(2.0 * 0.052940, abs=1e-5)
        assert naca_airfoil("0012").thickness_at(-1.0) == pytest.approx(0.0, abs=1e-12)

    def test_values_are_read_only(self):
        with pytest.raises(ValueError, match="read-only"):
            naca_airfoil("0012").upper[0, 0] = 1.0

    def test_surfaces_must_share_the_nose(self):
        x = np.linspace(0.0, 1.0, 6)
        upper, lower = np.column_stack([x, 0.1 - 0.1 * x]), np.column_stack([x, -0.1 + 0.1 * x])
        with pytest.raises(InputError, match="must start at the same point, the nose"):
            Airfoil("a", upper, lower)

    def test_surfaces_must_run_aft(self):
        x = np.array([0.0, 0.2, 0.4, 0.39, 0.8, 1.0])
        with pytest.raises(InputError, match=r"lower surface: doubles back in x at point 3, \(0.39"):
            Airfoil("a", np.column_stack([np.linspace(0, 1, 6), 0.1 * x]), np.column_stack([x, -0.1 * x]))

    def test_surfaces_must_not_start_far_behind_the_nose(self):
        x = np.array([0.0, -0.06, 0.2, 0.4, 0.8, 1.0])
        with pytest.raises(InputError, match="ahead of the nose"):
            Airfoil("a", np.column_stack([x, 0.1 * x]), np.column_stack([x, -0.1 * x]))

    def test_surfaces_need_points(self):
        with pytest.raises(InputError, match="got 3 points; allowed: 5 or more"):
            Airfoil("a", [[0, 0], [0.5, 0.1], [1, 0]], [[0, 0], [0.5, -0.1], [1, 0]])
