"""Whatever fittings a wing carries: each layer is one closed bead, or the spec is refused with reasons.

A wing that fails here belongs into ``tests/fixtures/corpus`` as a TOML file, where it is built for ever.
"""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pytest
from hypothesis import event, given, note, settings
from hypothesis import strategies as st
from shapes import skin_lean

from wingpath import InputError, WingBuild, build_wing, spec_from_dict
from wingpath.io.spec_toml import dump_spec

EXAMPLES = 400 if os.environ.get("HYPOTHESIS_PROFILE") == "thorough" else 15
"""Each example is a build of one to two seconds."""

STEPS = 4000
"""Values are drawn as one of so many steps of their range, which spreads them evenly over it."""

FAMILIES = ("naca00", "naca24", "naca44", "naca230", "naca64")

BED = {"bed_x_mm": 800.0, "bed_y_mm": 800.0, "height_mm": 800.0}
"""Large enough for everything drawn here: whether a panel fits a printer is another test's matter."""


Shape = tuple[float, float, float]
"""Of a station: place along the span, chord, leading edge [mm]."""


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw a length that a person would write: hundredths at most."""
    return st.integers(0, STEPS).map(lambda step: round(low + (high - low) * step / STEPS, 2))


def chance(draw: st.DrawFn, one_in: int) -> bool:
    return bool(draw(st.integers(1, one_in)) == 1)


def _tapered(draw: st.DrawFn, span: float, chord: float) -> tuple[Shape, ...]:
    # both edges lean by less than 45 degrees, so that the skin itself never hangs
    lead = draw(number(-0.5, 0.8)) * span
    trail = chord + draw(number(-0.6, 0.6)) * span
    return (0.0, chord, 0.0), (span, float(np.clip(trail - lead, 0.45 * chord, chord)), lead)


def _swept(draw: st.DrawFn, span: float, chord: float) -> tuple[Shape, ...]:
    lean = float(np.tan(np.deg2rad(draw(number(-55.0, 55.0)))))
    return (0.0, chord, 0.0), (span, chord * draw(number(0.7, 1.0)), lean * span)


def _crescent(draw: st.DrawFn, span: float, chord: float) -> tuple[Shape, ...]:
    shapes = []
    for share in np.linspace(0.0, 1.0, draw(st.integers(5, 9))):
        own = chord * float(np.sqrt(1.0 - (0.9 * share) ** 2))
        shapes.append((share * span, own, 0.5 * (chord - own) + 0.3 * span * share**2))
    return tuple(shapes)


@st.composite
def fitted_wings(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a short wing with a few fittings, most of them where a builder would put them."""
    span = draw(number(80.0, 160.0))
    chord = draw(st.one_of(number(90.0, 260.0), number(40.0, 450.0)))
    planform = draw(st.sampled_from([_tapered, _tapered, _swept, _crescent]))
    shapes = planform(draw, span, chord)
    outer = shapes[-1][1]
    family = draw(st.sampled_from(FAMILIES))
    root, tip = draw(st.integers(6, 18)), draw(st.integers(6, 18))
    twist = draw(number(-4.0, 2.0))
    bead = draw(number(0.35, 0.9))
    data: dict[str, Any] = {
        "station": [
            {
                "span_mm": round(place, 2),
                "chord_mm": round(max(own, 40.0), 2),
                "leading_edge_mm": round(lead, 2),
                "twist_deg": round(twist * place / span, 2),
                "airfoil": f"{family}{round(root + (tip - root) * place / span):02d}",
            }
            for place, own, lead in shapes
        ],
        "wing": {"tip": draw(st.sampled_from(["closed", "open"]))},
        "ribs": {
            "run": draw(st.sampled_from(["both", "both", "aft", "forward", "none"])),
            "pitch_mm": draw(number(max(18.0, chord / 8.0), 70.0)),
            "angle_deg": draw(number(30.0, 45.0)),
        },
        # the stock filament at the stock setting bridges 22 per cent of a bead
        "slots": {"width_mm": round(0.14 * bead, 3)},
        "print": {"bead_mm": bead, "layer_mm": round(bead * draw(number(0.45, 0.75)), 3)},
        "printer": BED,
    }
    room = 0.01 * min(root, tip) * min(chord, outer)
    for kind in draw(st.sets(st.sampled_from(sorted(FITTINGS)), min_size=1, max_size=4)):
        FITTINGS[kind](draw, data, span, room)
    if "pin" in data or chance(draw, 4):
        data["panels"] = {"joints_mm": [round(span * draw(number(0.3, 0.7)), 1)]}
    else:
        data["panels"] = {"joints_mm": []}
    return data


def _stretch(draw: st.DrawFn, span: float) -> dict[str, float]:
    start = 0.0 if chance(draw, 2) else draw(number(0.0, 0.6 * span))
    return {"from_mm": start, "to_mm": round(draw(number(min(start + 15.0, span), span)), 2)}


def _tube(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    shape = draw(st.sampled_from(["round", "round", "square", "strip"]))
    tube: dict[str, Any] = {
        "shape": shape,
        "chord_fraction": draw(number(0.22, 0.38)),
        "clearance_mm": draw(number(0.1, 0.4)),
        **_stretch(draw, span),
    }
    if chance(draw, 2):
        tube["chord_fraction_end"] = round(tube["chord_fraction"] + draw(number(-0.1, 0.1)), 3)
    if shape == "strip":
        tube |= {"width_mm": draw(number(0.8, 6.0)), "height_mm": draw(number(1.0, 0.5 * room))}
    else:
        tube["outer_mm"] = draw(number(1.5, max(2.0, 0.6 * room)))
    data.setdefault("tube", []).append(tube)


def _tab(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    data.setdefault("tab", []).append(
        {
            "thickness_mm": draw(number(1.5, max(2.0, 0.25 * room))),
            "width_mm": draw(number(8.0, 20.0)),
            "depth_mm": draw(number(10.0, 30.0)),
            "chord_fraction": draw(number(0.45, 0.7)),
        }
    )


def _servo(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    length, place = draw(number(15.0, 26.0)), draw(number(0.42, 0.6))
    bay = {
        "span_mm": draw(number(12.0, max(14.0, span - length - 15.0))),
        "length_mm": length,
        "width_mm": draw(number(8.0, 14.0)),
        "depth_mm": draw(number(3.0, max(4.0, 0.7 * room))),
        "chord_fraction": place,
        "frame": chance(draw, 4),
    }
    data.setdefault("servo_bay", []).append(bay)
    if chance(draw, 2):
        data.setdefault("duct", []).append(
            {
                "diameter_mm": draw(number(2.5, max(3.0, 0.4 * room))),
                "chord_fraction": round(place + draw(number(-0.04, 0.04)), 3),
                "chord_fraction_end": place,
                "to_mm": round(bay["span_mm"] + draw(number(-2.0, 3.0)), 2),
            }
        )


def _plate(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    length = draw(number(15.0, 40.0))
    data.setdefault("plate_bay", []).append(
        {
            "span_mm": draw(number(5.0, max(6.0, span - length - 5.0))),
            "length_mm": length,
            "width_mm": draw(number(8.0, 25.0)),
            "depth_mm": draw(number(1.0, 3.0)),
            "chord_fraction": draw(number(0.2, 0.6)),
            "side": draw(st.sampled_from(["lower", "upper"])),
        }
    )


def _aileron(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    hinge = draw(number(0.7, 0.82))
    reach = 0.3 * data["station"][0]["chord_mm"]
    start = draw(number(min(reach, 0.4 * span), 0.5 * span))
    data.setdefault("aileron", []).append(
        {
            "from_mm": start,
            "to_mm": round(draw(number(start + 20.0, max(start + 21.0, span - 0.6 * reach))), 2),
            "hinge_fraction": hinge,
            "hinge_fraction_end": round(hinge + draw(number(-0.05, 0.05)), 3),
            "gap_mm": draw(number(0.6, 1.5)),
            "up_deg": draw(number(5.0, 35.0)),
            "down_deg": draw(number(5.0, 35.0)),
        }
    )


def _pin(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    data.setdefault("pin", []).append(
        {
            "chord_fraction": draw(number(0.12, 0.65)),
            "diameter_mm": draw(number(1.0, max(1.5, 0.35 * room))),
            "length_mm": draw(number(6.0, 20.0)),
        }
    )


def _web(draw: st.DrawFn, data: dict[str, Any], span: float, room: float) -> None:
    data.setdefault("spar_web", []).append(
        {"chord_fraction": draw(number(0.15, 0.85)), **_stretch(draw, span)}
    )


FITTINGS = {
    "tube": _tube,
    "second tube": _tube,
    "tab": _tab,
    "servo": _servo,
    "plate": _plate,
    "aileron": _aileron,
    "pin": _pin,
    "web": _web,
}


def judge(build: WingBuild) -> list[str]:
    """Say what is wrong with a build that the tool let pass."""
    wrong = [] if build.proven else ["not proven"]
    for part in build.parts:
        layers = part.continuity.layers
        odd = np.flatnonzero((layers.contours != 1) | (layers.rings != 1))
        if len(odd):
            where = f"layers {odd[0] + 1} to {odd[-1] + 1}"
            wrong.append(f"{part.name}, {where}: without exactly one contour and one ring")
    # a skin that hangs was asked for, and is said
    allowed = {"airborne", "long-step"} if skin_lean(build.design.wing) > 0.95 else set()
    errors = [one for one in build.findings if one.severity == "error" and one.code not in allowed]
    return wrong + [str(finding) for finding in errors]


@pytest.mark.slow
@settings(max_examples=EXAMPLES)
@given(fitted_wings())
def test_a_wing_with_random_fittings_is_proven_or_refused(data: dict[str, Any]) -> None:
    refusal, build = "", None
    try:
        spec = spec_from_dict(data)
        note(dump_spec(spec))
        build = build_wing(spec)
    except InputError as error:
        refusal = str(error)
    if build is None:
        event("refused")
        # both culprits and a number
        assert len(refusal) > 40
        assert any(letter.isdigit() for letter in refusal)
        return
    event("built")
    assert judge(build) == []
