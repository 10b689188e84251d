"""The report page of a build: what its drawings, layers, meshes and tables are made from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from wingpath.build.continuity import Continuity
from wingpath.core.arrays import BoolArray
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.comparing import compared_rows
from wingpath.pipeline.drawing import panels_picture
from wingpath.pipeline.planform_sketch import planform_sketch
from wingpath.report.marks import worst_layer
from wingpath.report.packed import packed_layers, packed_mesh
from wingpath.report.page import PageContent, report_page
from wingpath.report.page_tables import number_tables, plan_steps, plan_tables
from wingpath.report.planform_picture import planform_page_svg
from wingpath.report.span_charts import charts_page_svgs, span_charts

__all__ = ["build_page"]

RIBS = re.compile(r"(aft|forward) rib |spar_web\[")
"""Names of surfaces that belong to ribs and webs."""

SKIN = re.compile(
    r"(upper|lower) (skin|bevel)|trailing edge|tip |root |base|inner side|(in|out)board end|fore |aft "
)
"""Names of surfaces that are seen from outside; looked at after ribs."""


def build_page(build: WingBuild, document: Mapping[str, Any], assessed: Assessment | None = None) -> str:
    """Return the report page of a build as HTML.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    document : mapping
        The content of its `report.json`.
    assessed : Assessment, optional
        What it weighs, bears and does.
    """
    strength, spanwise = document["strength"], document["spanwise"]
    rows = [] if strength is None else compared_rows([strength])
    numbers = [
        (row.kind.key.split(".")[0], row.kind.title, row.kind.unit, float(row.values[0]))
        for row in rows
        if row.values[0] is not None and row.kind.key != "least_margin"
    ]
    charts = () if spanwise is None else span_charts(spanwise)
    drawn = [part for part in build.parts if len(part.continuity.layers)]
    first = worst_layer(drawn[0].continuity) if drawn else 0
    content = PageContent(
        document=document,
        planform_svg=planform_page_svg(planform_sketch(build, assessed)),
        charts=charts_page_svgs([chart for chart in charts if chart.lines]),
        charts_missing=tuple(f"{chart.title}: {chart.missing}." for chart in charts if not chart.lines),
        layers=tuple({"name": part.name, **packed_layers(part.continuity)} for part in drawn),
        solids=tuple(_solid(part) for part in build.parts),
        findings=tuple(_placed(build, finding) for finding in document["findings"]),
        first_layer=first,
        numbers=number_tables(document, numbers),
        plan=plan_tables(document),
        plan_steps=plan_steps(document),
        solid_words=f"The right half of {document['name']} in three dimensions.",
        still=panels_picture(build),
    )
    return report_page(content)


def _solid(part: PanelResult) -> dict[str, Any]:
    solid = part.solid
    kinds = _kinds(solid.mesh.surfaces, solid.surface_names)
    return {"name": part.name, **packed_mesh(solid.mesh.moved((0.0, 0.0, solid.panel.start_mm)), kinds)}


def _kinds(surfaces: Any, names: tuple[str, ...]) -> dict[str, BoolArray]:
    """Return which triangles are skin, ribs and fittings, by the names of their surfaces."""
    ribs = np.array([RIBS.match(name) is not None for name in names], bool)
    skin = np.array([SKIN.match(name) is not None for name in names], bool) & ~ribs
    return {"skin": skin[surfaces], "ribs": ribs[surfaces], "fittings": ~(skin | ribs)[surfaces]}


def _placed(build: WingBuild, finding: Mapping[str, Any]) -> dict[str, Any]:
    """Return a finding with the layer that it is worst on, from 1; None where it has none."""
    part = next((part for part in build.parts if part.name == finding["panel"]), None)
    layer = None
    if part is not None and len(part.continuity.layers):
        layer = _layer(part.continuity, finding)
    return {**finding, "layer": layer}


def _layer(continuity: Continuity, finding: Mapping[str, Any]) -> int | None:
    z, layers = finding["z_mm"], finding["layers"]
    if z is not None:
        return int(np.argmin(np.abs(continuity.layers.z_mm - z))) + 1
    return None if layers is None else min(max(int(layers[0]), 1), len(continuity.layers))
