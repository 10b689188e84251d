"""Ribs with windows, whatever the wing: each layer is one closed bead, slots in line keep a neck apart."""

from __future__ import annotations

import os
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import event, given, note, settings
from hypothesis import strategies as st
from test_random_fittings import fitted_wings
from test_random_wings import judge, wings

from wingpath import InputError, build_wing, spec_from_dict
from wingpath.build.solid import PanelSolid
from wingpath.io.spec_toml import dump_spec

EXAMPLES = 300 if os.environ.get("HYPOTHESIS_PROFILE") == "thorough" else 15
"""Each example is a build of one to two seconds."""

SLOPED = 0.9
"""Slots of two ribs end on the middle of the section a slot's width apart, and the middle slopes."""

STRAIGHTENED_MM = 0.03
"""Both profiles are straightened by a hundredth of a millimetre, and the middle bends between samples."""


@st.composite
def windowed(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a wing with ribs both ways and windows in them."""
    data = draw(st.one_of(wings(), fitted_wings()))
    thickest = max(_thickness(station) for station in data["station"])
    bead = data["print"]["bead_mm"]
    share = draw(st.integers(5, 45)) / 100.0
    data["ribs"] |= {"run": "both", "stub_mm": round(max(2.05 * bead, share * thickest), 2)}
    return data


def _thickness(station: dict[str, Any]) -> float:
    """Return about how thick a section is: a NACA name ends in its per cents, others have 10."""
    name = str(station["airfoil"])
    return (
        0.01
        * (float(name[-2:]) if name.startswith("naca") and "-" not in name else 10.0)
        * station["chord_mm"]
    )


def least_necks(solid: PanelSolid, width_mm: float) -> list[float]:
    """Return the least solid between the slots of each pair that come towards each other."""
    found = []
    lower = [slot for slot in solid.slots if slot.side == "lower"]
    upper = [slot for slot in solid.slots if slot.side == "upper"]
    for below, above in product(lower, upper):
        # slots run on beyond the ends of a panel
        start = max(below.z_mm[0], above.z_mm[0], solid.panel.start_mm)
        end = min(below.z_mm[-1], above.z_mm[-1], solid.panel.end_mm)
        if start >= end:
            continue
        z = np.linspace(start, end, 400)
        aside = np.abs(np.interp(z, below.z_mm, below.x_mm) - np.interp(z, above.z_mm, above.x_mm))
        apart = np.interp(z, above.z_mm, above.inner_mm) - np.interp(z, below.z_mm, below.inner_mm)
        near = aside <= width_mm
        if near.any():
            found.append(float(apart[near].min()))
    return found


@pytest.mark.slow
@settings(max_examples=EXAMPLES)
@given(windowed())
def test_a_wing_with_windows_is_proven_or_refused(data: dict[str, Any]) -> None:
    refusal, build = "", None
    try:
        spec = spec_from_dict(data)
        note(dump_spec(spec))
        build = build_wing(spec)
    except InputError as error:
        refusal = str(error)
    if build is None:
        event("refused")
        assert len(refusal) > 40
        return
    event("windows" if any(panel.solid.windowed for panel in build.panels) else "no room for windows")
    assert judge(build) == []
    for panel in build.panels:
        necks = least_necks(panel.solid, build.design.spec.slots.width_mm)
        assert all(neck >= SLOPED * build.design.spec.neck_mm - STRAIGHTENED_MM for neck in necks)
