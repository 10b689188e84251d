"""Everything that a build is asked for: parts, strength, solids for CAD, and the report on all of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.building import WingBuild, build_wing
from wingpath.pipeline.design import WingDesign
from wingpath.pipeline.progress import Progress, silent
from wingpath.pipeline.report_document import report_document, strength_of
from wingpath.pipeline.stepping import StepParts, step_parts, with_step_findings

__all__ = ["BuildWishes", "FullBuild", "full_build"]

WEIGHTS = {"build": 0.35, "strength": 0.65, "step": 0.6}
"""How the time of stages compares; measured on the examples."""

LEFT_OUT = "left out with --no-strength"


@dataclass(frozen=True, slots=True)
class BuildWishes:
    """What a build is asked for besides the parts.

    Parameters
    ----------
    strength : bool
        Mass, stiffness and strength.
    step, step_parts : bool
        Solids of the parts; outer bodies and what is cut out of them.
    """

    strength: bool = True
    step: bool = False
    step_parts: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class FullBuild:
    """What came of it.

    Parameters
    ----------
    build : WingBuild
        The parts, with all findings on them.
    assessed : Assessment or None
        What the wing weighs, bears and does.
    step : StepParts or None
        Solids for CAD programs.
    document : dict
        The content of `report.json`.
    """

    build: WingBuild
    assessed: Assessment | None
    step: StepParts | None
    document: dict[str, Any]


def full_build(
    design: WingDesign, wishes: BuildWishes, *, spec: Path, progress: Progress = silent
) -> FullBuild:
    """Build a design, with all that is wished for.

    Parameters
    ----------
    design : WingDesign
        The placed design.
    wishes : BuildWishes
        What is asked for besides the parts.
    spec : Path
        The spec's file; its folder is what paths in it are relative to.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    InputError
        When the design cannot be printed, or the CAD kernel is missing.
    FileAccessError
        When a file cannot be read.
    """
    solids = wishes.step or wishes.step_parts
    stages = ["build", *(["strength"] if wishes.strength else []), *(["step"] if solids else [])]
    total, done = sum(WEIGHTS[stage] for stage in stages), 0.0

    def stage(name: str) -> Progress:
        nonlocal done
        start, part = done, WEIGHTS[name] / total
        done += part
        return lambda words, share: progress(words, start + part * share)

    build = build_wing(design, progress=stage("build"))
    assessed, why_not = None, LEFT_OUT
    if wishes.strength:
        folder = spec.resolve().parent
        assessed, why_not = strength_of(build, base_dir=folder, source=str(spec), progress=stage("strength"))
    step = None
    if solids:
        step = step_parts(build, solids=wishes.step, pieces=wishes.step_parts, progress=stage("step"))
        build = with_step_findings(build, step)
    document = report_document(build, spec_name=spec.name, assessed=assessed, why_not=why_not, step=step)
    return FullBuild(build, assessed, step, document)
