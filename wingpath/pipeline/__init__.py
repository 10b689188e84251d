"""The stages in a row: spec, design, panels, layers, findings. Nothing here prints."""

from wingpath.pipeline.building import PanelResult, WingBuild, build_wing
from wingpath.pipeline.checking import MeshJudgement, check_mesh
from wingpath.pipeline.checking_programs import ProgramJudgement, check_program
from wingpath.pipeline.design import WingDesign, design_wing
from wingpath.pipeline.document import build_document, check_document
from wingpath.pipeline.progress import Progress
from wingpath.pipeline.writing import write_build

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
