"""Whatever pitches a maker writes down: ribs in order, no closer and no wider than the pitches say."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import event, given
from hypothesis import strategies as st

from wingpath.core.errors import DesignError
from wingpath.io.profile_store import load_airfoil
from wingpath.model.ribs import RibPlane, rib_planes
from wingpath.model.spec import Spec, spec_from_dict
from wingpath.model.wing import Wing, wing_from_spec

ROUNDING_MM = 1e-6
"""Places along the root are sums of up to some thousand steps [mm]."""

MOVED_MM = 1e-5
"""The pitch of the added pair is rounded, and up to a thousand ribs add that up [mm]."""

AIRFOIL = load_airfoil("naca2412")


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@st.composite
def pitched(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a wing and any legal pairs, also ones that lie a hair apart or beyond the tip."""
    spans = [0.0]
    for step in draw(st.lists(number(1.0, 500.0), min_size=1, max_size=3)):
        spans.append(spans[-1] + step)
    edge = 0.0
    stations = []
    for inner, outer in zip([0.0, *spans], spans, strict=False):
        edge += (outer - inner) * draw(number(-0.9, 0.9))
        stations.append({"span_mm": outer, "chord_mm": draw(number(20, 300)), "leading_edge_mm": edge})
    places = draw(
        st.lists(number(0.0, 5000.0) | number(0.0, spans[-1]), min_size=2, max_size=20, unique=True)
    )
    run = draw(st.sampled_from(["aft", "forward", "both"]))
    pairs = [[place, draw(number(5.0, 500.0))] for place in sorted(places)]
    return {
        "station": stations,
        "ribs": {"run": run, "angle_deg": draw(number(20.0, 60.0)), "pitch_along_mm": pairs},
    }


def spec_and_wing(data: dict[str, Any]) -> tuple[Spec, Wing]:
    spec = spec_from_dict(data)
    return spec, wing_from_spec(spec, lambda _: AIRFOIL)


def planes_of(data: dict[str, Any]) -> dict[str, list[RibPlane]]:
    """Return the planes by run; empty where the design is refused."""
    spec, wing = spec_and_wing(data)
    try:
        found = rib_planes(spec, wing)
    except DesignError:
        event("refused")
        return {}
    event("placed")
    return {run: [p for p in found if p.run == run] for run in ("aft", "forward")}


@given(pitched())
def test_planes_are_in_order_and_as_far_apart_as_the_pitches_say(data: dict[str, Any]) -> None:
    spec, wing = spec_and_wing(data)
    ribs = spec.ribs
    assert ribs.pitch_along_mm is not None
    inside = [z for z, _ in ribs.pitch_along_mm if 0.0 < z < wing.semi_span_mm]
    seen = ribs.pitch_at_mm([0.0, *inside, wing.semi_span_mm])
    for planes in planes_of(data).values():
        apart = np.diff([float(plane.x_mm(0.0)) for plane in planes])
        assert (apart >= seen.min() - ROUNDING_MM).all()
        assert (apart <= seen.max() + ROUNDING_MM).all()


@given(pitched())
def test_planes_are_straight_and_lean_as_one_run(data: dict[str, Any]) -> None:
    spec, wing = spec_and_wing(data)
    slope = np.tan(np.deg2rad(spec.ribs.angle_deg))
    for run, planes in planes_of(data).items():
        lean = slope if run == "aft" else -slope
        for plane in planes:
            assert plane.knots_z_mm.tolist() == [0.0, wing.semi_span_mm]
            moved = plane.knots_x_mm[1] - plane.knots_x_mm[0]
            assert abs(moved - lean * wing.semi_span_mm) < ROUNDING_MM


@given(pitched())
def test_ribs_reach_over_the_whole_wing(data: dict[str, Any]) -> None:
    """Every run begins before the foremost point of the wing and ends behind the last, at root and tip."""
    _, wing = spec_and_wing(data)
    x = np.concatenate([station.outline[:, 0] for station in wing.stations])
    for planes in planes_of(data).values():
        if planes:
            assert min(float(planes[0].x_mm(z)) for z in (0.0, wing.semi_span_mm)) <= x.min() + ROUNDING_MM
            assert max(float(planes[-1].x_mm(z)) for z in (0.0, wing.semi_span_mm)) >= x.max() - ROUNDING_MM


@given(pitched())
def test_a_pair_between_two_that_changes_nothing_moves_no_rib(data: dict[str, Any]) -> None:
    """A pair put halfway between the first two, with the pitch that is there anyway."""
    pairs = data["ribs"]["pitch_along_mm"]
    middle = 0.5 * (pairs[0][0] + pairs[1][0])
    if len(pairs) == 20 or not pairs[0][0] < middle < pairs[1][0]:
        return
    pitch = float(spec_from_dict(data).ribs.pitch_at_mm(middle))
    more = {**data, "ribs": {**data["ribs"], "pitch_along_mm": [pairs[0], [middle, pitch], *pairs[1:]]}}
    before, after = planes_of(data), planes_of(more)
    assert before.keys() == after.keys()
    for run, planes in before.items():
        one = np.array([float(plane.x_mm(0.0)) for plane in planes])
        two = np.array([float(plane.x_mm(0.0)) for plane in after[run]])
        # a rib that stands on the very end of the reach may come or go with the rounding
        assert abs(len(one) - len(two)) <= 1
        assert all(np.abs(two - x).min() < MOVED_MM for x in one[1:-1])
