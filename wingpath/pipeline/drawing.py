"""Pictures of judged meshes."""

from __future__ import annotations

from collections.abc import Sequence

from wingpath.core.findings import SEVERITIES
from wingpath.pipeline.checking import MeshJudgement
from wingpath.report.layer_picture import layer_picture, layer_svg, worst_layer

__all__ = ["worst_layer_picture"]


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
