"""Writing a build to its folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from wingpath.io.build_output import write_build_files
from wingpath.io.gcode import GcodeJob
from wingpath.io.output_folder import write_files
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.drawing import PICTURE_NAME, build_pictures
from wingpath.pipeline.machine_blocks import filled_blocks
from wingpath.pipeline.print_setup import PrintSetup
from wingpath.pipeline.printing_document import gcode_header
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page
from wingpath.pipeline.stepping import StepParts
from wingpath.pipeline.tracing import PartPath
from wingpath.pipeline.true_size import true_size_drawing
from wingpath.report.tiling import paper_named
from wingpath.report.true_size_pdf import true_size_pdf

__all__ = ["gcode_job", "path_job", "write_build", "write_pictures"]


def write_build(
    build: WingBuild,
    folder: str | Path,
    *,
    spec_name: str = "spec",
    assessed: Assessment | None = None,
    document: dict[str, Any] | None = None,
    paper: str = "a4",
    step: StepParts | None = None,
    force: bool = False,
) -> tuple[Path, ...]:
    """Write the panels of every hand, their paths, layer table, reports and drawing, all files or none.

    Parameters
    ----------
    build : WingBuild
        What to write.
    folder : path
        Where to; it is made if it does not exist.
    spec_name : str
        Name of the spec's file, for the report.
    assessed : Assessment, optional
        What the wing weighs, bears and does, for the reports.
    document : dict, optional
        The content of `report.json`, when it has been made already.
    paper : {"a4", "letter"}
        What the drawing at true size is laid out for.
    step : StepParts, optional
        What to write as STEP files; see :func:`wingpath.pipeline.stepping.step_parts`.
    force : bool
        Replace the files of an earlier build in that folder.

    Returns
    -------
    tuple of Path
        The files.

    Raises
    ------
    InputError
        When there is no such paper.
    OutputExistsError
        When the folder is in use and `force` is not set.
    FileAccessError
        When something cannot be written; nothing has changed then.
    """
    if document is None:
        document = report_document(
            build, spec_name=spec_name, assessed=assessed, why_not="not asked for", step=step
        )
    meshes = {f"{panel.name}-{hand}": panel.mesh(hand) for panel in build.parts for hand in build.hands}
    return write_build_files(
        Path(folder),
        meshes=meshes,
        jobs={
            f"{part.name}-{hand}": job
            for part in build.parts
            for hand in build.hands
            if (job := gcode_job(build, part, hand)) is not None
        },
        parts=tuple(panel.continuity for panel in build.parts),
        report=document,
        page=build_page(build, document, assessed),
        steps={} if step is None else step.files,
        title=build.design.spec.name,
        drawing=true_size_pdf(true_size_drawing(build), paper_named(paper)),
        force=force,
    )


def gcode_job(build: WingBuild, part: PanelResult, hand: str) -> GcodeJob | None:
    """Return what the G-code file of one part and hand holds; None for a part without a path.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    part : PanelResult
        One of its parts.
    hand : {"left", "right"}
        Which of the two.
    """
    path = part.path
    if path is None:
        return None
    return path_job(path, build.design.print_setup, hand=hand, header=gcode_header(build, part, path, hand))


def path_job(path: PartPath, setup: PrintSetup, *, hand: str, header: Sequence[str]) -> GcodeJob:
    """Return what the G-code file of one path holds.

    Parameters
    ----------
    path : PartPath
        The path.
    setup : PrintSetup
        What it is printed with.
    hand : {"left", "right"}
        The right part is the mirror image.
    header : sequence of str
        What a person reads at the top.
    """
    printer, tool = setup.printer, path.toolpath
    start, end = filled_blocks(path, setup)
    return GcodeJob(
        toolpath=tool,
        place=path.place,
        hand=hand,
        centre_mm=printer.centre_mm,
        filament_area_mm2=path.filament_area_mm2,
        max_speed_mm_s=printer.max_speed_mm_s,
        relative=printer.filament_by_move,
        arcs=path.arcs,
        header=header,
        start=start,
        end=end,
    )


def write_pictures(
    build: WingBuild, folder: str | Path, *, assessed: Assessment | None = None, force: bool = False
) -> tuple[Path, ...]:
    """Draw a build into a folder, all files or none: the pages's drawings, and the path of every part.

    Parameters
    ----------
    build, folder, assessed, force
        As for :func:`write_build`.
    """
    drawn = build_pictures(build, assessed)

    def ours(name: str) -> bool:
        return PICTURE_NAME.fullmatch(name) is not None

    return write_files(Path(folder), drawn, force=force, ours=ours, kind="pictures")
