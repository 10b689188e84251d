"""`wingpath check`: judge any mesh layer by layer, and any G-code move by move."""

from __future__ import annotations

from enum import StrEnum
from os.path import realpath
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from wingpath.pipeline.checking import MeshJudgement
    from wingpath.pipeline.checking_programs import ProgramJudgement

__all__ = ["check"]


class Axis(StrEnum):
    """Build direction of a file."""

    x = "x"
    y = "y"
    z = "z"


def check(
    meshes: Annotated[list[Path], typer.Argument(help="STL, 3MF, OBJ or G-code files.", show_default=False)],
    bead_mm: Annotated[float, typer.Option(help="Bead width [mm].", min=0.1, max=5.0)] = 0.45,
    layer_mm: Annotated[float, typer.Option(help="Layer height [mm].", min=0.02, max=5.0)] = 0.25,
    slot_bond_mm: Annotated[
        float | None,
        typer.Option(
            help="Widest gap that two beads bridge [mm]; by default that of the filament.",
            min=0.0,
            max=5.0,
        ),
    ] = None,
    filament: Annotated[
        str, typer.Option(help="Filament profile, name or path, that meshes are held against.")
    ] = "foaming-pla",
    scale: Annotated[
        float, typer.Option(help="Millimetres in one unit of the file: 25.4 for inches.", min=1e-6, max=1e6)
    ] = 1.0,
    up: Annotated[Axis, typer.Option(help="Axis of the file that is the build direction.")] = Axis.z,
    csv: Annotated[
        Path | None, typer.Option(help="Write the layer table of the meshes to this file.")
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw the worst layer, or the path of a G-code file, to this file, .png or .svg."),
    ] = None,
    printer: Annotated[
        str | None,
        typer.Option(help="Hold G-code against the bed and height of this printer profile.", metavar="NAME"),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace existing files.")] = False,
    notes: Annotated[bool, typer.Option("--notes", help="Show notes too.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Judge any mesh layer by layer, any G-code move by move."""
    from wingpath.cli.console import progress_bar, show_json
    from wingpath.core.errors import InputError
    from wingpath.io.gcode_reader import is_gcode
    from wingpath.io.output_folder import refuse_taken_file, write_file
    from wingpath.io.tables import layers_csv
    from wingpath.pipeline.checked_document import check_document
    from wingpath.pipeline.checking import check_mesh
    from wingpath.pipeline.checking_programs import check_program

    solids = [path for path in meshes if not is_gcode(path)]
    if csv is not None and not solids:
        raise InputError("--csv: got G-code only; allowed: with a mesh, whose layers are the table's rows")
    if printer is not None and len(solids) == len(meshes):
        raise InputError(
            "--printer: got meshes only; allowed: with G-code, whose path is held against the bed"
        )
    if picture is not None and not solids and picture.suffix.lower() != ".png":
        raise InputError(f"--picture: got {picture.name}; allowed: a name that ends in .png for G-code")
    if picture is not None and picture.suffix.lower() not in (".png", ".svg"):
        raise InputError(f"--picture: got {picture.name}; allowed: a name that ends in .png or .svg")
    taken = {realpath(path) for path in meshes}
    for option, wanted in (("--csv", csv), ("--picture", picture)):
        if wanted is None:
            continue
        if realpath(wanted) in taken:
            raise InputError(f"{option}: {wanted} is in use by this command already; give another name")
        refuse_taken_file(wanted, force=force)
        taken.add(realpath(wanted))
    judged, programs = [], []
    for path in meshes:
        with progress_bar(path.name) as progress:
            if path not in solids:
                programs.append(check_program(path, printer=printer, progress=progress))
                continue
            judged.append(
                check_mesh(
                    path,
                    bead_mm=bead_mm,
                    layer_mm=layer_mm,
                    slot_bond_mm=slot_bond_mm,
                    filament=filament,
                    scale=scale,
                    up=up.value,
                    progress=progress,
                )
            )
    # both are made before either is written
    drawn = b""
    if picture is not None:
        from wingpath.pipeline.drawing import program_picture, worst_layer_picture
    if picture is not None and judged:
        drawn = worst_layer_picture(judged, picture.suffix.lower())
    elif picture is not None:
        drawn = program_picture(min(programs, key=lambda one: one.unbroken), bead_mm=bead_mm)
    if csv is not None:
        write_file(csv, layers_csv([one.continuity for one in judged]), force=force)
    if picture is not None:
        write_file(picture, drawn, force=force)
    document = check_document(judged, programs)
    if json:
        show_json(document)
    else:
        _show(judged, programs, notes=notes)
    raise typer.Exit(1 if document["counts"]["error"] else 0)


UNKNOWN_REASON = (
    "A mesh does not tell why a rib ends where it does. In a wing made by `wingpath build` ribs stop short "
    "of a tube, a bay or a closed tip on purpose, and where they begin to rise: loose-rib is then no fault, "
    "and the report of the build, which knows the design, counts it as a note."
)
"""Said once a mesh has loose ribs: its shape alone cannot excuse them."""


def _show(judged: list[MeshJudgement], programs: list[ProgramJudgement], *, notes: bool) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, finding_lines, show
    from wingpath.pipeline.checked_document import check_document

    for one in judged:
        facts = check_document([one])["meshes"][0]
        size = " x ".join(f"{value:.1f}" for value in facts["size_mm"])
        show(f"{one.source}: {size} mm, {facts['layers']} layers of {facts['layer_mm']:g} mm.")
        if facts["proven"]:
            show(f"Every layer is one closed bead, {facts['path_m']:.1f} m in all.")
        else:
            show(f"{facts['layers_of_one_bead']} of {facts['layers']} layers are one closed bead.")
        for line in finding_lines(one.findings, notes=notes):
            show(line)
        if any(finding.code == "loose-rib" and finding.severity == "warning" for finding in one.findings):
            show(textwrap.fill(UNKNOWN_REASON, WIDTH))
        show()
    for program in programs:
        facts = check_document([], [program])["programs"][0]
        size = " x ".join(f"{b - a:.1f}" for a, b in zip(facts["low_mm"], facts["high_mm"], strict=True))
        show(f"{program.source}: {facts['lines']} lines, path of {size} mm.")
        show("Sizes and lengths are of all that is laid, brim and first line included.")
        if program.unbroken:
            show(
                f"One bead without a break, {facts['path_m']:.2f} m, "
                f"{facts['filament_mm'] / 1000.0:.2f} m of filament."
            )
        else:
            show(f"Not one bead: {facts['path_m']:.2f} m of bead in all, see below.")
        for line in finding_lines(program.findings, notes=notes):
            show(line)
        show()
    show("Estimates: a check of geometry does not replace a test print and a proof load.")
