"""Writing a build to its folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from wingpath.io.build_output import write_build_files
from wingpath.io.gcode import GcodeJob
from wingpath.io.output_folder import write_file, write_folder
from wingpath.model.printer_blocks import block_values, fill_block
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.document import build_document
from wingpath.pipeline.drawing import PICTURE_NAME, part_pictures
from wingpath.pipeline.print_setup import PrintSetup
from wingpath.pipeline.printing_document import gcode_header
from wingpath.pipeline.stepping import StepParts
from wingpath.pipeline.tracing import PartPath

__all__ = ["gcode_job", "path_job", "write_build", "write_pictures"]


def write_build(
    build: WingBuild,
    folder: str | Path,
    *,
    spec_name: str = "spec",
    document: dict[str, Any] | None = None,
    step: StepParts | None = None,
    force: bool = False,
) -> tuple[Path, ...]:
    """Write the panels of every hand, their paths, the layer table and the report, all files or none.

    Parameters
    ----------
    build : WingBuild
        What to write.
    folder : path
        Where to; it is made if it does not exist.
    spec_name : str
        Name of the spec's file, for the report.
    document : dict, optional
        The report, when it has been made already.
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
    OutputExistsError
        When the folder is in use and `force` is not set.
    FileAccessError
        When something cannot be written; nothing has changed then.
    """
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
        report=document if document is not None else build_document(build, spec_name=spec_name, step=step),
        steps={} if step is None else step.files,
        title=build.design.spec.name,
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
    values = block_values(
        printer,
        setup.filament,
        setup.settings,
        start_temperature_c=float(tool.temperature_c[0]),
        top_mm=float(tool.points[-1, 2]),
    )
    return GcodeJob(
        toolpath=tool,
        place=path.place,
        hand=hand,
        centre_mm=printer.centre_mm,
        filament_area_mm2=path.filament_area_mm2,
        max_speed_mm_s=printer.max_speed_mm_s,
        relative=printer.relative_extrusion,
        arcs=path.arcs,
        header=header,
        start=fill_block(printer.start_gcode, values),
        end=fill_block(printer.end_gcode, values),
    )


def write_pictures(build: WingBuild, folder: str | Path, *, force: bool = False) -> tuple[Path, ...]:
    """Draw the path of every part into a folder, all files or none.

    Parameters
    ----------
    build, folder, force
        As for :func:`write_build`.
    """
    drawn = part_pictures(build)

    def fill(fresh: Path) -> None:
        for name, picture in drawn.items():
            write_file(fresh / name, picture, force=False)

    return write_folder(Path(folder), fill, force=force, ours=lambda name: bool(PICTURE_NAME.fullmatch(name)))
