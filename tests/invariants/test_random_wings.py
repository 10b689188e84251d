"""What holds for every wing: each layer is one closed bead, or the spec is refused with reasons.

A wing that fails here belongs into ``tests/fixtures/corpus`` as a TOML file, where it is built for ever.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, note, settings
from hypothesis import strategies as st
from shapes import skin_lean

from wingpath import InputError, WingBuild, build_wing, spec_from_dict, write_build
from wingpath.build.layers import layers_of_mesh
from wingpath.io.spec_toml import dump_spec

EXAMPLES = 400 if os.environ.get("HYPOTHESIS_PROFILE") == "thorough" else 25
"""Each example is a build of about half a second; several hundred are a matter of minutes."""

SECTIONS = ("naca0006", "naca0009", "naca2408", "naca2412", "naca4415", "naca6409", "naca23012", "naca23112")
SHIPPED = ("flat-10", "flat-12", "reflex-8", "reflex-10", "naca0010-64")


STEPS = 4000
"""Values are drawn as one of so many steps of their range, which spreads them evenly over it."""


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw a length that a person would write: hundredths at most."""
    return st.integers(0, STEPS).map(lambda step: round(low + (high - low) * step / STEPS, 2))


@st.composite
def sections(draw: st.DrawFn) -> str:
    kind = draw(st.integers(0, 3))
    if kind == 0:
        return draw(st.sampled_from(SECTIONS))
    if kind == 1:
        return draw(st.sampled_from(SHIPPED))
    camber, place = draw(st.integers(0, 6)), draw(st.integers(2, 6))
    thick = draw(st.integers(6, 18))
    return f"naca{camber}{place if camber else 0}{thick:02d}"


@st.composite
def wings(draw: st.DrawFn) -> dict[str, Any]:
    """Draw the data of a wing from the whole range that the tool is for, short so that it builds fast."""
    span = draw(number(30.0, 80.0))
    count = draw(st.integers(2, 4))
    inner = sorted(draw(st.sets(st.integers(1, 9), min_size=count - 2, max_size=count - 2)))
    places = [0.0, *(round(span * k / 10.0, 2) for k in inner), span]
    chord, lead, twist = draw(number(40.0, 450.0)), 0.0, draw(number(-3.0, 3.0))
    one_section = draw(st.booleans())
    section = draw(sections())
    stations: list[dict[str, Any]] = []
    for number_, place in enumerate(places):
        if number_:
            step = place - places[number_ - 1]
            # both edges lean by up to 50 degrees: beyond 45 they hang, and that must be said
            lead = round(lead + draw(number(-0.6, 1.2)) * step, 2)
            chord = round(min(450.0, max(40.0, chord + draw(number(-1.2, 0.6)) * step)), 2)
            twist = round(twist + draw(number(-1.5, 1.5)), 2)
            section = section if one_section else draw(sections())
        stations.append(
            {
                "span_mm": place,
                "chord_mm": chord,
                "leading_edge_mm": lead,
                "twist_deg": twist,
                "airfoil": section,
            }
        )
    bead = draw(number(0.35, 0.9))
    layer = draw(number(0.25, min(0.6, 0.78 * bead)))
    data: dict[str, Any] = {
        "station": stations,
        "wing": {"tip": draw(st.sampled_from(["closed", "open"]))},
        "ribs": {
            "run": draw(st.sampled_from(["both", "aft", "forward", "both", "none"])),
            "pitch_mm": draw(number(max(10.0, chord / 12.0), 90.0)),
            "angle_deg": draw(number(20.0, 50.0)),
        },
        # the stock filament at the stock setting bridges 22 per cent of a bead
        "slots": {"width_mm": round(bead * draw(number(0.06, 0.2)), 3)},
        "print": {"bead_mm": bead, "layer_mm": layer},
    }
    if draw(st.booleans()):
        data["slots"]["neck_mm"] = round(bead * draw(number(1.25, 1.9)), 3)
    data["tube"] = [
        tube
        for _ in range(draw(st.sampled_from([0, 1, 1, 2])))
        if (tube := _tube(draw, span, stations)) is not None
    ]
    data["spar_web"] = [
        {"chord_fraction": draw(number(0.05, 0.95)), **_stretch(draw, span)}
        for _ in range(draw(st.sampled_from([0, 0, 1, 2])))
    ]
    if draw(st.booleans()):
        data["panels"] = {"joints_mm": [round(span * draw(number(0.2, 0.8)), 2)]}
    return data


def _tube(draw: st.DrawFn, span: float, stations: list[dict[str, Any]]) -> dict[str, float] | None:
    """Draw a tube that leans by 45 degrees at most along the chord, as its slit has to grow."""
    stretch = _stretch(draw, span)
    ends = np.array([stretch["from_mm"], stretch["to_mm"]])
    places = [station["span_mm"] for station in stations]
    chord = np.interp(ends, places, [station["chord_mm"] for station in stations])
    lead = np.interp(ends, places, [station["leading_edge_mm"] for station in stations])
    fraction = draw(number(0.15, 0.6))
    start, reach = lead[0] + fraction * chord[0], 0.95 * (ends[1] - ends[0])
    low = max(0.1, (start - reach - lead[1]) / chord[1])
    high = min(0.7, (start + reach - lead[1]) / chord[1])
    if low >= high:
        return None
    return {
        "outer_mm": draw(number(1.0, 8.0)),
        "clearance_mm": draw(number(0.0, 0.5)),
        "chord_fraction": fraction,
        "chord_fraction_end": round(low + draw(number(0.0, 1.0)) * (high - low), 4),
        **stretch,
    }


def _stretch(draw: st.DrawFn, span: float) -> dict[str, float]:
    start = draw(st.one_of(st.just(0.0), number(0.0, 0.7 * span)))
    return {"from_mm": start, "to_mm": round(draw(number(start + 5.0, span)), 2)}


def judge(build: WingBuild) -> list[str]:
    """Say what is wrong with a build that the tool let pass."""
    wrong = []
    if not build.proven:
        wrong.append("not proven")
    for panel in build.panels:
        layers = panel.continuity.layers
        if not (np.all(layers.contours == 1) and np.all(layers.rings == 1)):
            wrong.append(f"{panel.name}: a layer without exactly one contour and one ring")
    # a limit is broken by the shape that was asked for, and said: the only errors a proven build may have
    allowed = {"too-big"}
    if skin_lean(build.design.wing) > 0.95:
        allowed |= {"airborne", "long-step"}
    wrong += [str(f) for f in build.findings if f.severity == "error" and f.code not in allowed]
    return wrong


@pytest.mark.slow
@settings(max_examples=EXAMPLES)
@given(wings())
def test_a_random_wing_is_proven_or_refused(data: dict[str, Any]) -> None:
    spec = spec_from_dict(data)
    note(dump_spec(spec))
    refusal, build = "", None
    try:
        build = build_wing(spec)
    except InputError as error:
        refusal = str(error)
    if build is None:
        assert len(refusal) > 40
        return
    assert judge(build) == []


# --- laws of one wing ----------------------------------------------------------------------------------

LAWS: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 80.0, "airfoil": "naca2412"},
        {"span_mm": 30.0, "chord_mm": 70.0, "leading_edge_mm": 4.0, "airfoil": "naca2412"},
    ],
    "ribs": {"pitch_mm": 20.0},
    "slots": {"width_mm": 0.06},
    "tube": [{"outer_mm": 4.0, "clearance_mm": 0.3, "to_mm": 20.0, "chord_fraction": 0.3}],
    "panels": {"joints_mm": []},
}

LENGTHS = (
    "span_mm",
    "chord_mm",
    "leading_edge_mm",
    "outer_mm",
    "clearance_mm",
    "to_mm",
    "pitch_mm",
    "width_mm",
)


def times(data: Any, factor: float, key: str = "") -> Any:
    """Return the data with every length of the design multiplied."""
    if isinstance(data, dict):
        return {name: times(value, factor, name) for name, value in data.items()}
    if isinstance(data, list):
        return [times(value, factor, key) for value in data]
    return data * factor if key in LENGTHS else data


def test_a_wing_of_twice_the_size_is_twice_the_size() -> None:
    bead = {"bead_mm": 0.35, "layer_mm": 0.25}
    one = build_wing(spec_from_dict({**LAWS, "print": bead})).panels[0]
    large = {**times(LAWS, 2.0), "print": {name: 2.0 * value for name, value in bead.items()}}
    two = build_wing(spec_from_dict(large)).panels[0]
    # cuts are sampled every quarter of a millimetre in both, so slots end a little differently
    assert two.solid.mesh.volume_mm3 == pytest.approx(8.0 * one.solid.mesh.volume_mm3, rel=1e-3)
    assert two.continuity.layers.area_mm2 == pytest.approx(4.0 * one.continuity.layers.area_mm2, rel=5e-3)
    whole = float(two.continuity.layers.path_mm.sum())
    assert whole == pytest.approx(2.0 * float(one.continuity.layers.path_mm.sum()), rel=5e-3)


def test_the_same_spec_gives_the_same_bytes(small_build: WingBuild, tmp_path: Path) -> None:
    again = build_wing(small_build.design.spec)
    files = []
    for number, build in enumerate((small_build, again)):
        written = write_build(build, tmp_path / str(number), spec_name="small")
        files.append({path.name: path.read_bytes() for path in written})
    assert files[0].keys() == files[1].keys()
    assert len(files[0]) >= 10
    for name, content in files[0].items():
        assert content == files[1][name], name


def test_left_and_right_have_the_same_layers(small_build: WingBuild) -> None:
    for panel in small_build.panels:
        mine = panel.continuity.layers
        other = layers_of_mesh(panel.mesh("right"), layer_mm=mine.layer_mm, bead_mm=mine.bead_mm)
        # straightening may begin at another corner of the mirrored outline
        assert other.area_mm2 == pytest.approx(mine.area_mm2, rel=1e-5)
        assert other.contours.tolist() == mine.contours.tolist()
        assert other.rings.tolist() == mine.rings.tolist()


@pytest.mark.parametrize("swap", [("left", "right"), ("both", "left")])
def test_the_hand_changes_nothing_but_the_files(
    built: Callable[[dict[str, Any]], WingBuild], swap: tuple[str, str]
) -> None:
    one, two = (built({**LAWS, "wing": {"hand": hand}}) for hand in swap)
    mine, other = one.panels[0].continuity.layers, two.panels[0].continuity.layers
    assert mine.area_mm2.tolist() == other.area_mm2.tolist()
    assert one.hands != two.hands
