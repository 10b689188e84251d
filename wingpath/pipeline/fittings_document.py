"""The part of the report that tells where fittings are: for drilling, gluing and hinging."""

from __future__ import annotations

from typing import Any

from wingpath.build.bores import Bore
from wingpath.pipeline.building import WingBuild
from wingpath.tune.bands import bands_of

__all__ = ["fittings_document"]


def fittings_document(build: WingBuild) -> dict[str, Any]:
    """Return bores, tab holes, bays, control surfaces and joints as plain data, in wing coordinates."""
    voids, spec = build.design.voids, build.design.spec
    slides = bands_of(build.design.filament, spec.print).bore_mm
    tabs = {bore.name: bore for bore in voids.bores if bore.kind == "tab"}
    return {
        "bores": [_bore(bore) for bore in voids.bores],
        "tube_fits": [
            {
                "name": f"tube[{number}]",
                "size_mm": sorted({tube.size_x_mm, tube.size_y_mm}),
                "clearance_mm": _rounded(tube.bore_clearance_mm),
                "slides_from_mm": _rounded(slides[0]),
                "slides_to_mm": _rounded(slides[1]),
            }
            for number, tube in enumerate(spec.tubes)
        ],
        "tab_holes": [
            {
                "name": f"tab[{number}]",
                "hole_mm": tab.hole_mm,
                "x_mm": _rounded(float(tabs[f"tab[{number}]"].start[0])),
                "span_mm": _rounded(
                    0.5 * tab.depth_mm if tab.hole_from_root_mm is None else tab.hole_from_root_mm
                ),
            }
            for number, tab in enumerate(spec.tabs)
            if tab.hole_mm is not None
        ],
        "bays": [
            {
                "name": bay.name,
                "side": bay.side,
                "from_mm": bay.from_mm,
                "to_mm": bay.to_mm,
                "x_mm": [_rounded(bay.fore_mm), _rounded(bay.aft_mm)],
                "floor_y_mm": _rounded(bay.floor_mm),
                "with_slopes_mm": [_rounded(place) for place in bay.reach_mm],
            }
            for bay in voids.bays
        ],
        "control_surfaces": [
            {
                "name": aileron.name,
                "part": f"aileron-{aileron.number}",
                "from_mm": _rounded(aileron.start_mm),
                "to_mm": _rounded(aileron.end_mm),
                "hinge_x_mm": [_rounded(float(point[0])) for point in aileron.hinge],
                "hinge_y_mm": [_rounded(float(point[1])) for point in aileron.hinge],
                "hinge_span_mm": [_rounded(float(point[2])) for point in aileron.hinge],
                "gap_mm": aileron.gap_mm,
                "wanted_up_deg": aileron.up_deg,
                "wanted_down_deg": aileron.down_deg,
                "free_up_deg": _rounded(aileron.free_deg[0]),
                "free_down_deg": _rounded(aileron.free_deg[1]),
                "horn_mm": None if aileron.horn is None else [_rounded(value) for value in aileron.horn],
            }
            for aileron in voids.ailerons
        ],
        "joints": _joints(build),
    }


def _bore(bore: Bore) -> dict[str, Any]:
    size = (2 * bore.radius_mm,) if bore.box_mm is None else (2 * bore.box_mm[0], 2 * bore.box_mm[1])
    return {
        "name": bore.name,
        "size_mm": [_rounded(value) for value in size],
        "from_mm": bore.from_mm,
        "to_mm": bore.to_mm,
        "x_mm": [_rounded(float(bore.start[0])), _rounded(float(bore.end[0]))],
        "y_mm": [_rounded(float(bore.start[1])), _rounded(float(bore.end[1]))],
    }


def _joints(build: WingBuild) -> list[dict[str, Any]]:
    """Glue line of every joint: the bead that both faces share, the shorter of the two."""
    wing, bead = build.design.wing, build.design.spec.bead_mm
    joints = []
    for inner, outer in zip(build.panels, build.panels[1:], strict=False):
        at = outer.solid.panel.start_mm
        length = min(float(inner.continuity.layers.path_mm[-1]), float(outer.continuity.layers.path_mm[0]))
        joints.append(
            {
                "between": [inner.name, outer.name],
                "span_mm": at,
                "chord_mm": _rounded(float(wing.chord_mm(at))),
                "leading_edge_mm": _rounded(float(wing.leading_edge_mm(at))),
                "glue_line_mm": _rounded(length),
                "glue_area_mm2": _rounded(length * bead),
            }
        )
    return joints


def _rounded(value: float) -> float:
    return round(float(value), 4)
