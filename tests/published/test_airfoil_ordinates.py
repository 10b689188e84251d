"""NACA sections against published ordinates.

Source of the tables: appendix tables of I. H. Abbott, A. E. von Doenhoff, "Theory of Wing Sections" (1959),
recomputed to four decimals by R. L. Carmichael in the public-domain Public Domain Aeronautical Software
pages (profiles, sections). All values in per cent of the chord. The tolerances are half a printed digit,
or what the recomputation's own roundings explain.
"""

from __future__ import annotations

import numpy as np
import pytest
from outside import AIRFOILS, Source

from wingpath.geometry.naca import MEAN_LINES, naca_airfoil, naca_ordinates, thickness_form

TABLES = Source(
    "printed",
    "Abbott and von Doenhoff 1959",
    'I. H. Abbott, A. E. von Doenhoff, "Theory of Wing Sections" (1959), appendix, as recomputed to four '
    "decimals "
    "by R. L. Carmichael, Public Domain Aeronautical Software, pages profiles and sections",
)
REPORT_460 = Source(
    "printed",
    "NACA Report 460",
    'E. N. Jacobs, K. E. Ward, R. M. Pinkerton, "The characteristics of 78 related airfoil sections from '
    "tests in "
    'the variable-density wind tunnel", NACA Report 460 (1933)',
)
TM_4741 = Source(
    "printed",
    "NASA TM 4741",
    'C. L. Ladson et al., "Computer program to obtain ordinates for NACA airfoils", NASA TM 4741 (1996)',
)

HALF_DIGIT = 6e-5
"""Half of the last printed digit, rounded up [% chord]."""

MODIFIED_TOLERANCE = 1e-2
"""The source used unrounded constants d1 for the place of the greatest thickness: up to 0.0084 % apart."""

NACA_23012_TOLERANCE = 2e-3
"""The recomputation rounded the slope of the mean line at the nose: up to 0.0012 % apart."""

REASONS = {
    HALF_DIGIT: "half a printed digit",
    MODIFIED_TOLERANCE: "the source did not round its constants d1",
    NACA_23012_TOLERANCE: "the source rounded the slope at the nose",
    1e-3: "the source interpolates",
    2.5e-3: "the source interpolates, and rounded the slope at the nose",
}

NACA_0012 = {
    0.5: 1.2213, 0.75: 1.4849, 1.25: 1.8939, 2.5: 2.6147, 5: 3.5547, 7.5: 4.1999, 10: 4.6828, 15: 5.3452,
    20: 5.7375, 25: 5.9412, 30: 6.0017, 35: 5.9486, 40: 5.8030, 45: 5.5807, 50: 5.2940, 55: 4.9524,
    60: 4.5634, 65: 4.1325, 70: 3.6639, 75: 3.1603, 80: 2.6231, 85: 2.0526, 90: 1.4477, 95: 0.8066,
    100: 0.1260,
}  # fmt: skip

NACA_0006 = {
    0.5: 0.6107, 1.25: 0.9470, 5: 1.7773, 10: 2.3414, 20: 2.8688, 30: 3.0009, 40: 2.9015, 50: 2.6470,
    70: 1.8320, 90: 0.7239, 95: 0.4033, 100: 0.0630,
}  # fmt: skip

NACA_0012_64 = {
    0.5: 1.1855, 1.25: 1.8074, 5: 3.2647, 10: 4.2378, 20: 5.2938, 30: 5.8267, 40: 6.0, 50: 5.8256,
    60: 5.3114, 70: 4.4704, 80: 3.3161, 90: 1.8615, 95: 1.0258,
}  # fmt: skip
NACA_0012_34 = {
    0.5: 0.6867, 1.25: 1.1348, 5: 2.4874, 10: 3.6546, 20: 5.0953, 30: 5.8003, 40: 6.0, 50: 5.8256,
    70: 4.4704, 90: 1.8615, 95: 1.0258, 100: 0.12,
}  # fmt: skip
NACA_0010_65 = {
    0.5: 0.9728, 5: 2.5862, 10: 3.3005, 30: 4.5820, 50: 5.0, 70: 4.3932, 90: 2.1003, 100: 0.1,
}  # fmt: skip

# station on the mean line, x and y of the upper point, x and y of the lower point
NACA_2412 = [
    (0.5, 0.3800, 1.2651, 0.6200, -1.1657),
    (1.25, 1.0674, 2.0081, 1.4326, -1.7620),
    (2.5, 2.2559, 2.8455, 2.7441, -2.3611),
    (5, 4.6901, 4.0099, 5.3099, -3.0724),
    (7.5, 7.1599, 4.8658, 7.8401, -3.5064),
    (10, 9.6498, 5.5447, 10.3502, -3.7947),
    (15, 14.6666, 6.5535, 15.3334, -4.1160),
    (20, 19.7135, 7.2304, 20.2865, -4.2304),
    (25, 24.7774, 7.6558, 25.2226, -4.2183),
    (30, 29.8500, 7.8749, 30.1500, -4.1249),
    (40, 40.0, 7.8030, 40.0, -3.8030),
    (50, 50.0588, 7.2381, 49.9412, -3.3493),
    (60, 60.1014, 6.3400, 59.8986, -2.7845),
    (70, 70.1221, 5.1619, 69.8779, -2.1619),
    (80, 80.1165, 3.7316, 79.8835, -1.5094),
    (90, 90.0803, 2.0566, 89.9197, -0.8344),
    (95, 95.0492, 1.1245, 94.9508, -0.4856),
    (100, 100.0084, 0.1257, 99.9916, -0.1257),
]
NACA_23012 = [
    (0.5, 0.1606, 1.3218, 0.8394, -1.0246),
    (1.25, 0.7630, 2.1871, 1.7370, -1.4734),
    (2.5, 1.9153, 3.2148, 3.0847, -1.8822),
    (5, 4.4262, 4.6635, 5.5738, -2.3526),
    (7.5, 7.0503, 5.6682, 7.9497, -2.6833),
    (10, 9.7113, 6.3761, 10.2887, -2.9716),
    (15, 15.0005, 7.1850, 14.9995, -3.5054),
    (20, 20.1265, 7.5040, 19.8735, -3.9683),
    (25, 25.1313, 7.5971, 24.8687, -4.2825),
    (30, 30.1326, 7.5471, 29.8674, -4.4534),
    (40, 40.1282, 7.1275, 39.8718, -4.4757),
    (50, 50.1170, 6.3976, 49.8830, -4.1878),
    (60, 60.1008, 5.4462, 59.8992, -3.6783),
    (70, 70.0809, 4.3259, 69.9191, -3.0001),
    (80, 80.0580, 3.0644, 79.9420, -2.1805),
    (90, 90.0320, 1.6683, 89.9680, -1.2264),
    (95, 95.0178, 0.9169, 94.9822, -0.6959),
    (100, 100.0028, 0.1260, 99.9972, -0.1260),
]

# the same sections read at stations of the chord: x, upper y, lower y
NACA_2412_AT_X = [
    (1.25, 2.1606, -1.6513), (5, 4.1304, -3.0054), (10, 5.6291, -3.7608), (20, 7.2607, -4.2278),
    (30, 7.8785, -4.1286), (40, 7.8030, -3.8030), (50, 7.2425, -3.3462), (70, 5.1778, -2.1540),
    (90, 2.0711, -0.8289), (95, 1.1341, -0.4821),
]  # fmt: skip
NACA_23012_AT_X = [
    (1.25, 2.6754, -1.2594), (5, 4.9164, -2.2616), (10, 6.4385, -2.9371), (15, 7.1849, -3.5054),
    (20, 7.4994, -3.9784), (30, 7.5500, -4.4563), (50, 6.4076, -4.1830), (70, 4.3356, -2.9940),
    (90, 1.6730, -1.2231),
]  # fmt: skip


@pytest.mark.parametrize(
    ("designation", "table", "tolerance"),
    [
        ("0012", NACA_0012, HALF_DIGIT),
        ("0006", NACA_0006, HALF_DIGIT),
        ("0012-64", NACA_0012_64, MODIFIED_TOLERANCE),
        ("0012-34", NACA_0012_34, MODIFIED_TOLERANCE),
        ("0010-65", NACA_0010_65, MODIFIED_TOLERANCE),
    ],
)
def test_symmetrical_sections(designation, table, tolerance):
    upper, lower = naca_ordinates(designation, np.array(list(table)) / 100.0)
    AIRFOILS.check(
        f"Half thickness of NACA {designation}",
        source=TABLES.at("table of the thickness form"),
        expected=list(table.values()),
        got=100.0 * upper[:, 1],
        abs=tolerance,
        because=REASONS[tolerance],
        unit="% chord",
        labels=[f"at {station} %" for station in table],
    )
    assert lower == pytest.approx(upper * (1.0, -1.0), abs=0.0)


@pytest.mark.parametrize(
    ("designation", "table", "tolerance"),
    [
        ("2412", NACA_2412, HALF_DIGIT),
        ("23012", NACA_23012, NACA_23012_TOLERANCE),
    ],
)
def test_cambered_sections(designation, table, tolerance):
    stations, *columns = np.array(table).T
    upper, lower = naca_ordinates(designation, stations / 100.0)
    AIRFOILS.check(
        f"Points of NACA {designation}, normal to the mean line",
        source=TABLES.at("table of the section"),
        expected=np.column_stack(columns),
        got=100.0 * np.column_stack([upper, lower]),
        abs=tolerance,
        because=REASONS[tolerance],
        unit="% chord",
        labels=[
            f"{value} at {at:g} %"
            for at in stations
            for value in ("upper x", "upper y", "lower x", "lower y")
        ],
    )


@pytest.mark.parametrize(
    ("designation", "table", "tolerance"),
    # the source interpolates between its points, here it is 1601 points a side: for 23012 the rounded slope
    # of the source (see above) comes on top, most where the surface is steep
    [
        ("2412", NACA_2412_AT_X, 1e-3),
        ("23012", NACA_23012_AT_X, 2.5e-3),
    ],
)
def test_cambered_sections_at_stations_of_the_chord(designation, table, tolerance):
    x, top, bottom = np.array(table).T / 100.0
    section = naca_airfoil(designation).sampled(1601)
    AIRFOILS.check(
        f"Surfaces of NACA {designation} over the chord",
        source=TABLES.at("table of the section at stations of the chord"),
        expected=100.0 * np.concatenate([top, bottom]),
        got=100.0 * np.concatenate([np.interp(x, *section.upper.T), np.interp(x, *section.lower.T)]),
        abs=tolerance,
        because=REASONS[tolerance],
        unit="% chord",
        labels=[f"{side} at {100.0 * at:g} %" for side in ("upper", "lower") for at in x],
    )


NOSE_RADII = {"0012": 1.587, "0006": 0.397, "0012-34": 0.397}
"""Leading-edge radii [% chord]."""


def test_nose_radius():
    # y^2 / (2 x) tends to the radius at the nose
    x = np.array([1e-10])
    upper = [naca_ordinates(designation, x)[0][0, 1] for designation in NOSE_RADII]
    AIRFOILS.check(
        "Radius of the nose",
        source=TABLES.at("appendix"),
        expected=list(NOSE_RADII.values()),
        got=100.0 * np.array(upper) ** 2 / (2.0 * x[0]),
        abs=6e-4,
        because="half a printed digit",
        unit="% chord",
        labels=[f"NACA {designation}" for designation in NOSE_RADII],
    )


def test_nose_radius_formula():
    # r = 1.1019 t^2
    thickness = np.array([0.06, 0.12, 0.21])
    half = np.array([float(thickness_form(1e-10, thickness=t)) for t in thickness])
    AIRFOILS.check(
        "Radius of the nose by thickness t, 1.1019 t²",
        source=REPORT_460.at("equation of the radius"),
        expected=1.1019 * thickness**2,
        got=half**2 / 2e-10,
        rel=1e-4,
        because="digits of the factor",
        unit="chords",
        labels=[f"t = {t}" for t in thickness],
    )


FIVE_DIGIT_LINES = {
    "210": (0.01113, 0.0499, 0.59612),
    "220": (0.01534, 0.1002, 0.39270),
    "230": (0.01839, 0.1499, 0.30508),
    "240": (0.02080, 0.1998, 0.25234),
    "250": (0.02263, 0.2498, 0.21472),
}
"""Greatest height, its station, slope at the nose: computed by hand from the equations by a second route."""


def test_five_digit_mean_lines():
    x = np.linspace(0.0, 1.0, 20001)
    found = []
    for line in FIVE_DIGIT_LINES:
        upper, lower = naca_ordinates(f"{line}01", x)
        mean = 0.5 * (upper + lower)
        top = int(np.argmax(mean[:, 1]))
        found.append((mean[top, 1], x[top], mean[1, 1] / x[1]))
    AIRFOILS.check(
        "Five-digit mean lines 210 to 250: height, its station, slope at the nose",
        source=TM_4741.of_kind("worked again").at("constants of the lines"),
        expected=list(FIVE_DIGIT_LINES.values()),
        got=found,
        abs=np.tile([6e-6, 1e-4, 2e-3], (len(found), 1)),
        because="digits worked out, and the grid of 20001 points",
        unit="chords",
        labels=[
            f"{value} of {line}" for line in FIVE_DIGIT_LINES for value in ("height", "station", "slope")
        ],
    )


def test_reflexed_mean_line():
    # equation and constants of line 231; spot value computed from them
    upper, lower = naca_ordinates("23112", [0.15])
    AIRFOILS.check(
        "Reflexed mean line 231 at 15 % of the chord",
        source=TM_4741.of_kind("worked again").at("equation and constants of line 231"),
        expected=0.020787,
        got=0.5 * (upper + lower)[0, 1],
        abs=6e-7,
        because="half of the last digit worked out",
        unit="chords",
    )


def test_reflexed_ratio_formula():
    # k2/k1 = (3 (r - p)^2 - r^3) / (1 - r)^3 gives the printed digits
    places = {"221": (0.10, 6e-7), "231": (0.15, 6e-6), "241": (0.20, 6e-5), "251": (0.25, 6e-5)}
    wanted, found = [], []
    for line, (p, _) in places.items():
        r, _, ratio = MEAN_LINES[line]
        wanted.append(ratio)
        found.append((3.0 * (r - p) ** 2 - r**3) / (1.0 - r) ** 3)
    AIRFOILS.check(
        "Ratio k2/k1 of reflexed mean lines, by its formula",
        source=TM_4741.at("table of constants"),
        expected=wanted,
        got=found,
        abs=[half_digit for _, half_digit in places.values()],
        because="half a printed digit",
        labels=[f"line {line}" for line in places],
    )
