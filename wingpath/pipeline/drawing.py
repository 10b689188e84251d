"""Pictures of judged meshes, of paths and of programs."""

from __future__ import annotations

import re
from collections.abc import Sequence

from wingpath.core.findings import SEVERITIES
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.checking import MeshJudgement
from wingpath.pipeline.checking_programs import ProgramJudgement, bead_run
from wingpath.pipeline.planform_sketch import planform_sketch
from wingpath.pipeline.spanwise import spanwise_document
from wingpath.report.layer_picture import layer_picture, layer_svg, worst_layer
from wingpath.report.panel_picture import panel_picture
from wingpath.report.path_picture import path_picture
from wingpath.report.planform_picture import planform_picture, planform_svg
from wingpath.report.span_charts import charts_picture, charts_svg, span_charts

__all__ = ["PICTURE_NAME", "build_pictures", "part_pictures", "program_picture", "worst_layer_picture"]

PICTURE_NAME = re.compile(
    r"(panel|aileron|cover)-\d+-(path\.png|layer\.(png|svg))|(planform|along-the-span)\.(png|svg)|panels\.png"
)
"""Names of the pictures of a build."""

STILL_PX = 1100
"""Width of the picture of opened panels [px]."""


def build_pictures(build: WingBuild, assessed: Assessment | None = None) -> dict[str, bytes]:
    """Draw a build for a log: from above, opened panels, diagrams along the span, layers and paths of parts.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    assessed : Assessment, optional
        What it weighs, bears and does; without it there are no diagrams along the span.

    Returns
    -------
    dict of str to bytes
        Files by their name: PNG, and SVG of what is drawn with lines.
    """
    sketch = planform_sketch(build, assessed)
    drawn: dict[str, bytes | str] = {
        "planform.png": planform_picture(sketch),
        "planform.svg": planform_svg(sketch),
    }
    if still := panels_picture(build):
        drawn["panels.png"] = still
    if assessed is not None:
        charts = span_charts(spanwise_document(assessed))
        drawn["along-the-span.png"] = charts_picture(charts, title=build.design.spec.name)
        drawn["along-the-span.svg"] = charts_svg(charts, title=build.design.spec.name)
    for part in build.parts:
        if len(part.continuity.layers):
            told = (part.continuity, worst_layer(part.continuity, part.findings))
            title = f"{build.design.spec.name}, {part.name}"
            bond = build.design.limits.bond_mm
            drawn[f"{part.name}-layer.png"] = layer_picture(
                *told, findings=part.findings, title=title, bond_mm=bond
            )
            drawn[f"{part.name}-layer.svg"] = layer_svg(
                *told, findings=part.findings, title=title, bond_mm=bond
            )
    plain = {name: one.encode("utf-8") if isinstance(one, str) else one for name, one in drawn.items()}
    return {**plain, **part_pictures(build)}


def panels_picture(build: WingBuild) -> bytes:
    """Draw the panels opened, as a PNG; nothing when none has a path.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    """
    layers = [panel.continuity.layers for panel in build.panels]
    try:
        return panel_picture(layers, title=f"{build.design.spec.name}, opened", width_px=STILL_PX)
    except ValueError:
        return b""


def part_pictures(build: WingBuild) -> dict[str, bytes]:
    """Draw the path of every part, by the name of its file; the right hand is the mirror image.

    Parameters
    ----------
    build : WingBuild
        The built half wing; parts without a path are left out.
    """
    drawn = {}
    for part in build.parts:
        if part.path is None:
            continue
        tool = part.path.toolpath
        drawn[f"{part.name}-path.png"] = path_picture(
            tool.points,
            tool.layer,
            bead_mm=tool.bead_mm,
            layer_mm=tool.layer_mm,
            title=f"{build.design.spec.name}, {part.name}",
        )
    return drawn


def program_picture(one: ProgramJudgement, *, bead_mm: float) -> bytes:
    """Draw a G-code program as a PNG.

    Parameters
    ----------
    one : ProgramJudgement
        The judged program.
    bead_mm : float
        How wide its bead is drawn [mm].
    """
    points, layer, dry, layer_mm = bead_run(one)
    return path_picture(
        points,
        layer,
        bead_mm=bead_mm,
        layer_mm=layer_mm,
        title=one.moves.source,
        loops=False,
        travel=dry,
    )


def worst_layer_picture(judged: Sequence[MeshJudgement], ending: str) -> bytes:
    """Draw the worst layer of the worst of some meshes.

    Parameters
    ----------
    judged : sequence of MeshJudgement
        One or more.
    ending : {".png", ".svg"}
        Kind of picture.
    """

    def badness(one: MeshJudgement) -> tuple[int, ...]:
        return tuple(-sum(f.severity == severity for f in one.findings) for severity in SEVERITIES)

    worst = min(judged, key=badness)
    layer = worst_layer(worst.continuity, worst.findings)
    draw = layer_svg if ending == ".svg" else layer_picture
    picture = draw(
        worst.continuity, layer, findings=worst.findings, title=worst.source, bond_mm=worst.bond_mm
    )
    return picture.encode("utf-8", "replace") if isinstance(picture, str) else picture
