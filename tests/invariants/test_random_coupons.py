"""Coupons of any nozzle, bead, layer, tube and tongue are one bead, and their program never travels."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from programs import read_program

from wingpath.build.continuity import judge_layers
from wingpath.build.layers import layers_of_mesh
from wingpath.build.limits import Limits
from wingpath.io.gcode import gcode_chunks
from wingpath.pipeline.coupon_making import make_coupons
from wingpath.pipeline.tune_options import tune_options
from wingpath.pipeline.writing import path_job
from wingpath.tune.coupon_plan import coupon_plan
from wingpath.tune.coupon_solid import coupon_mesh


@st.composite
def sizes(draw: st.DrawFn) -> dict[str, float]:
    bead = draw(st.floats(0.2, 1.2))
    layer = draw(st.floats(0.05, 0.6))
    assume(0.2 * bead <= layer <= 0.8 * bead)
    nozzle = bead / draw(st.floats(1.0, 1.6))
    return {"nozzle_mm": max(0.1, nozzle), "bead_mm": bead, "layer_mm": layer}


@settings(max_examples=40)
@given(size=sizes(), tube=st.floats(2.0, 16.0), tab=st.floats(0.5, 8.0))
def test_any_coupon_is_one_bead(size: dict[str, float], tube: float, tab: float) -> None:
    plan = coupon_plan(**size, tube_mm=tube, tab_mm=tab)
    layers = layers_of_mesh(coupon_mesh(plan), layer_mm=plan.layer_mm, bead_mm=plan.bead_mm)
    assert np.all(layers.contours == 1)
    assert np.all(layers.rings == 1)
    assert len(layers) == round(plan.height_mm / plan.layer_mm)
    verdict = judge_layers(layers, Limits(bond_mm=0.22 * plan.bead_mm), strict=False)
    assert not [finding for finding in verdict.findings if finding.severity == "error"]
    assert plan.leans_deg[0] == 45.0
    steepest = plan.layer_mm * math.tan(math.radians(plan.leans_deg[-1]))
    assert steepest <= plan.bead_mm or plan.leans_deg == (45.0,)


@settings(max_examples=6)
@given(size=sizes(), tube=st.floats(2.0, 10.0))
def test_any_program_of_a_coupon_never_travels(size: dict[str, float], tube: float) -> None:
    options = tune_options(**size, printer="bed-350")
    one = make_coupons(options, tube_mm=tube, temperatures_c=()).prints[0]
    program = read_program("".join(gcode_chunks(path_job(one.path, one.setup, hand="left", header=()))))
    assert np.all(program.filament_mm > 0.0)
    assert np.all(np.diff(program.points[:, 2]) >= 0.0)
