"""The half wing from above, taken from what was built."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wingpath.build.ailerons import Aileron
from wingpath.build.bores import Bore
from wingpath.core.arrays import FloatArray
from wingpath.pipeline.assess_document import CG_RANGE
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.building import WingBuild
from wingpath.report.planform_picture import PlanFitting, PlanRib, PlanSketch, sketch_outline
from wingpath.structure.planform import planform_of_wing

__all__ = ["planform_sketch"]

SAMPLES = 1201
"""Places along the span at which the walls of an aileron's bay are taken."""


def planform_sketch(build: WingBuild, assessed: Assessment | None = None) -> PlanSketch:
    """Return what is drawn of a half wing.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    assessed : Assessment, optional
        What it weighs, for the centres of gravity.
    """
    wing = build.design.wing
    stations = tuple((s.span_mm, s.leading_edge_mm, s.chord_mm) for s in wing.stations)
    joints = [panel.solid.panel.start_mm for panel in build.panels[1:]]
    plan = planform_of_wing(wing)
    front, chord = plan.mac_leading_edge_mm, plan.mean_chord_mm
    centre = None
    if assessed is not None:
        x, _, z = assessed.weights.centre_mm.tolist()
        centre = (z, x)
    flies = build.design.spec.aircraft is not None
    return PlanSketch(
        name=build.design.spec.name,
        outline=sketch_outline(stations),
        stations=stations,
        joints=tuple((at, float(wing.leading_edge_mm(at)), float(wing.chord_mm(at))) for at in joints),
        ribs=tuple(_ribs(build)),
        fittings=tuple(_fittings(build)),
        mean_chord=(plan.mac_span_mm, front, chord),
        centre=centre,
        balance=(front + CG_RANGE[0] * chord, front + CG_RANGE[1] * chord) if flies else None,
    )


def _ribs(build: WingBuild) -> Iterator[PlanRib]:
    for panel in build.panels:
        for slot in panel.solid.slots:
            # a web keeps its name where it stands beside a fitting; slits are drawn with their bore
            if not slot.name.startswith("slit of"):
                yield PlanRib(slot.run, np.column_stack([slot.z_mm, slot.x_mm]))


def _fittings(build: WingBuild) -> Iterator[PlanFitting]:
    voids = build.design.voids
    for aileron in voids.ailerons:
        hinge = np.array([[z, x] for x, _, z in aileron.hinge.tolist()])
        yield PlanFitting("aileron", aileron.name, _aileron_outline(build, aileron), hinge)
    for bay in voids.bays:
        first, last = bay.reach_mm
        corners = np.array(
            [[first, bay.fore_mm], [last, bay.fore_mm], [last, bay.aft_mm], [first, bay.aft_mm]]
        )
        yield PlanFitting(bay.kind, bay.name, corners)
    for bore in voids.bores:
        yield PlanFitting(bore.kind, bore.name, _bore_outline(bore))


def _bore_outline(bore: Bore) -> FloatArray:
    half = bore.half_width_mm
    (x0, _), (x1, _) = bore.start.tolist(), bore.end.tolist()
    return np.array(
        [
            [bore.from_mm, x0 - half],
            [bore.to_mm, x1 - half],
            [bore.to_mm, x1 + half],
            [bore.from_mm, x0 + half],
        ]
    )


def _aileron_outline(build: WingBuild, aileron: Aileron) -> FloatArray:
    """Return the bay from above: along its wall and back along the trailing edge."""
    wing = build.design.wing
    z = np.linspace(0.0, wing.semi_span_mm, SAMPLES)
    wall = aileron.wall_mm(z)
    rear = np.array([float(wing.leading_edge_mm(at) + wing.chord_mm(at)) for at in z.tolist()])
    inside = wall < rear
    fore = np.column_stack([z[inside], wall[inside]])
    aft = np.column_stack([z[inside], rear[inside]])[::-1]
    return np.vstack([fore, aft])
