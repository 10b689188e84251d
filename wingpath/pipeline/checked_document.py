"""The document of a check as plain data: every number with its unit in the key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wingpath.core.findings import count_severities
from wingpath.pipeline.cautions import CAUTIONS
from wingpath.pipeline.checking import MeshJudgement
from wingpath.pipeline.checking_programs import ProgramJudgement, program_document
from wingpath.version import __version__

__all__ = ["check_document"]


def check_document(
    judgements: Sequence[MeshJudgement], programs: Sequence[ProgramJudgement] = ()
) -> dict[str, Any]:
    """Return the document of `check`; findings of all files stand in one list."""
    findings = [finding for judgement in judgements for finding in judgement.findings]
    findings += [finding for program in programs for finding in program.findings]
    return {
        "document": "wingpath check",
        "format": 1,
        "wingpath_version": __version__,
        "counts": count_severities(findings),
        "meshes": [_mesh(judgement) for judgement in judgements],
        "programs": [program_document(program) for program in programs],
        "findings": [finding.as_dict() for finding in findings],
        "cautions": list(CAUTIONS),
    }


def _mesh(judgement: MeshJudgement) -> dict[str, Any]:
    layers, state = judgement.continuity.layers, judgement.state
    low, high = judgement.mesh.bounds
    return {
        "file": judgement.source,
        "panel": layers.name,
        "proven": judgement.continuity.proven,
        "layers": len(layers),
        "layers_of_one_bead": int(layers.one_bead.sum()),
        "size_mm": [_rounded(float(v)) for v in high - low],
        "volume_mm3": _rounded(judgement.mesh.volume_mm3),
        "path_m": _rounded(float(layers.path_mm.sum()) / 1000.0),
        "triangles": len(judgement.mesh.faces),
        "open_edges": state.open_edges,
        "bodies": state.bodies,
        "bead_mm": layers.bead_mm,
        "layer_mm": layers.layer_mm,
        "counts": count_severities(judgement.findings),
    }


def _rounded(value: float) -> float:
    return round(float(value), 4)
