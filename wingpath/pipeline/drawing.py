"""Pictures of judged meshes, of paths and of programs."""

from __future__ import annotations

import re
from collections.abc import Sequence

from wingpath.core.findings import SEVERITIES
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.checking import MeshJudgement
from wingpath.pipeline.checking_programs import ProgramJudgement, bead_run
from wingpath.report.layer_picture import layer_picture, layer_svg, worst_layer
from wingpath.report.path_picture import path_picture

__all__ = ["PICTURE_NAME", "part_pictures", "program_picture", "worst_layer_picture"]

PICTURE_NAME = re.compile(r"(panel|aileron|cover)-\d+-path\.png")
"""Names of the pictures of a build."""


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
