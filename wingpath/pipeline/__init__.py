"""The stages in a row: spec, design, panels, layers, findings. Nothing here prints.

Names are loaded when they are first used: who checks a mesh does not wait for what builds a wing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wingpath.pipeline.building import PanelResult as PanelResult
    from wingpath.pipeline.building import WingBuild as WingBuild
    from wingpath.pipeline.building import build_wing as build_wing
    from wingpath.pipeline.checked_document import check_document as check_document
    from wingpath.pipeline.checking import MeshJudgement as MeshJudgement
    from wingpath.pipeline.checking import check_mesh as check_mesh
    from wingpath.pipeline.checking_programs import ProgramJudgement as ProgramJudgement
    from wingpath.pipeline.checking_programs import check_program as check_program
    from wingpath.pipeline.design import WingDesign as WingDesign
    from wingpath.pipeline.design import design_wing as design_wing
    from wingpath.pipeline.document import build_document as build_document
    from wingpath.pipeline.progress import Progress as Progress
    from wingpath.pipeline.writing import write_build as write_build

_HOMES = {
    "MeshJudgement": "checking",
    "PanelResult": "building",
    "ProgramJudgement": "checking_programs",
    "Progress": "progress",
    "WingBuild": "building",
    "WingDesign": "design",
    "build_document": "document",
    "build_wing": "building",
    "check_document": "checked_document",
    "check_mesh": "checking",
    "check_program": "checking_programs",
    "design_wing": "design",
    "write_build": "writing",
}

__all__ = [
    "MeshJudgement",
    "PanelResult",
    "ProgramJudgement",
    "Progress",
    "WingBuild",
    "WingDesign",
    "build_document",
    "build_wing",
    "check_document",
    "check_mesh",
    "check_program",
    "design_wing",
    "write_build",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
