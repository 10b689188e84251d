"""Coordinate files written from equations and read back: the ordinates come back."""

from __future__ import annotations

import numpy as np
import pytest

from wingpath.geometry.mean_lines import section
from wingpath.geometry.naca import naca_airfoil
from wingpath.io.airfoil_dat import airfoil_text, parse_airfoil, read_airfoil

CODES = ["naca0006", "naca0012", "naca2412", "naca4415", "naca6409", "naca23012", "naca23112", "naca0012-64"]


def farthest(airfoil, designation):
    """Greatest difference between the resampled file and the equation, read at the file's stations."""
    fine = section(designation, points_per_side=8001)
    sampled = airfoil.sampled()
    worst = 0.0
    for side in ("upper", "lower"):
        x, y = getattr(sampled, side).T
        surface = getattr(fine, side)
        surface = surface[int(np.argmin(surface[:, 0])) :]
        aft = x > 1e-3
        worst = max(worst, float(np.abs(y - np.interp(x, *surface.T))[aft].max()))
    return worst


@pytest.mark.parametrize("designation", [*CODES, "flat-12", "reflex-8"])
@pytest.mark.parametrize("order", ["one loop", "two runs"])
# rounding to 5 decimals, seen across the steep front of the nose
@pytest.mark.parametrize(("decimals", "tolerance"), [(5, 6e-5), (6, 3e-5)])
def test_equation_comes_back(designation, order, decimals, tolerance):
    written = section(designation, points_per_side=61)
    airfoil = parse_airfoil(airfoil_text(written, order=order, decimals=decimals), source="a.dat")
    assert farthest(airfoil, designation) < tolerance
    assert airfoil.name == written.name
    assert airfoil.trailing_edge_gap == pytest.approx(written.trailing_edge_gap, abs=2.0 * 10.0**-decimals)


@pytest.mark.parametrize("designation", CODES)
def test_points_of_the_file_stay_where_they_are(designation):
    written = naca_airfoil(designation, points_per_side=61)
    airfoil = parse_airfoil(airfoil_text(written, decimals=6), source="a.dat")
    there = {(round(x, 6), round(y, 6)) for x, y in np.concatenate([airfoil.upper, airfoil.lower])}
    for x, y in np.concatenate([written.upper, written.lower]):
        assert (round(x, 6) + 0.0, round(y, 6) + 0.0) in there


@pytest.mark.parametrize("designation", ["naca0012", "naca2412", "naca23012"])
def test_stations_of_a_printed_table(designation):
    # the coarse stations of the old reports, four decimals: no nose point but (0, 0), steps of a tenth
    x = [0, 0.0125, 0.025, 0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0]
    fine = naca_airfoil(designation, points_per_side=4001)
    rows = ["table", "18. 18.", ""]
    for side in (fine.upper, fine.lower):
        aft = side[int(np.argmin(side[:, 0])) :]
        rows += [f"{at:.4f} {0.0 if at == 0 else np.interp(at, *aft.T):.4f}" for at in x] + [""]
    airfoil = parse_airfoil("\n".join(rows), source="a.dat")
    assert farthest(airfoil, designation) < 6e-4


@pytest.mark.parametrize(
    ("factor", "turn_deg", "shift"),
    [(150.0, 0.0, (0.0, 0.0)), (1.0, 5.0, (0.0, 0.0)), (2.5, -12.0, (3.0, -1.0)), (1.0, 0.0, (0.5, 0.1))],
)
def test_any_frame_is_brought_to_the_chord(factor, turn_deg, shift):
    written = naca_airfoil("naca0012", points_per_side=61)
    cosine, sine = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    loop = np.concatenate([written.upper[::-1], written.lower[1:]])
    moved = factor * loop @ np.array([[cosine, sine], [-sine, cosine]]) + shift
    airfoil = parse_airfoil("t\n" + "\n".join(f"{x:.7f} {y:.7f}" for x, y in moved), source="a.dat")
    assert farthest(airfoil, "naca0012") < 3e-5
    assert airfoil.nose == pytest.approx([0.0, 0.0], abs=1e-5)
    assert 0.5 * (airfoil.upper[-1] + airfoil.lower[-1]) == pytest.approx([1.0, 0.0], abs=1e-9)


def test_the_farthest_point_is_found_where_no_point_is():
    written = naca_airfoil("naca0012", points_per_side=81)
    loop = np.concatenate([written.upper[:0:-1], written.lower[2:]])  # the gap of the nose is lopsided
    cosine, sine = np.cos(0.1), np.sin(0.1)
    turned = loop @ np.array([[cosine, sine], [-sine, cosine]])
    airfoil = parse_airfoil("t\n" + "\n".join(f"{x:.9f} {y:.9f}" for x, y in turned), source="a.dat")
    assert airfoil.nose == pytest.approx([0.0, 0.0], abs=1e-6)
    assert farthest(airfoil, "naca0012") < 2e-4


def test_own_frame_is_kept():
    # a chord line through the ends of the mean line, not through the farthest point: nothing may move
    written = naca_airfoil("naca6412", points_per_side=61)
    airfoil = parse_airfoil(airfoil_text(written), source="a.dat")
    assert airfoil.upper[-1] == pytest.approx(written.upper[-1], abs=1e-6)
    assert airfoil.upper[:, 0].min() == pytest.approx(written.upper[:, 0].min(), abs=2e-5)


def test_own_frame_is_kept_with_the_nose_off_the_axis():
    loop = np.concatenate([(s := naca_airfoil("naca2412", points_per_side=61)).upper[::-1], s.lower[1:]])
    moved = loop + np.array([0.0, 0.012])
    airfoil = parse_airfoil("t\n" + "\n".join(f"{x:.7f} {y:.7f}" for x, y in moved), source="a.dat")
    assert airfoil.lower[-1, 1] == pytest.approx(s.lower[-1, 1] + 0.012, abs=1e-7)


def test_file_on_disk(tmp_path):
    path = tmp_path / "mine.dat"
    path.write_text(airfoil_text(naca_airfoil("2412", points_per_side=61), notes=["by hand"]), "utf-8")
    airfoil = read_airfoil(path)
    assert airfoil.name == "NACA 2412"
    assert airfoil.source == str(path)
    assert read_airfoil(str(path)).upper == pytest.approx(airfoil.upper, abs=0.0)
