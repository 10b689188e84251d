"""`wingpath build`: panels, proof and report from a spec."""

from __future__ import annotations

from os.path import realpath
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from wingpath.pipeline import WingBuild

__all__ = ["build"]

BUILDING = 0.95
"""Share of the time that making and judging take; the rest is writing."""

STEPPING = 0.6
"""The same when solids for CAD are made after it."""


def build(
    spec: Annotated[Path, typer.Argument(help="The spec, a TOML file.", show_default=False)],
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Folder to write; by default the spec's name beside it."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier build.")] = False,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw the path of every part into this folder.", metavar="DIR", show_default=False),
    ] = None,
    step: Annotated[
        bool,
        typer.Option(
            "--step",
            help="Also write wing.step: every part as an exact solid, in wing coordinates, so assembled.",
        ),
    ] = False,
    step_parts: Annotated[
        bool,
        typer.Option(
            "--step-parts", help="Also write wing-parts.step: outer bodies and what is cut out of them."
        ),
    ] = False,
    notes: Annotated[bool, typer.Option("--notes", help="Show notes too.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Make the panels of a wing and prove every layer."""
    from wingpath.cli.console import progress_bar, show, show_json
    from wingpath.core.errors import InputError
    from wingpath.io.output_folder import refuse_taken_folder
    from wingpath.pipeline import build_document, build_wing, design_wing, write_build
    from wingpath.pipeline.stepping import refuse_missing_kernel, with_step_findings
    from wingpath.pipeline.stepping import step_parts as make_step_parts
    from wingpath.pipeline.writing import write_pictures

    folder = _default_folder(spec) if output is None else output
    if picture is not None and realpath(picture) == realpath(folder):
        raise InputError(f"--picture: {picture} is the folder of the build itself; give another one")
    refuse_missing_kernel(solids=step, pieces=step_parts)
    design = design_wing(spec)
    making = STEPPING if step or step_parts else BUILDING
    cad = None
    drawn: tuple[Path, ...] = ()
    refuse_taken_folder(folder, force=force)
    if picture is not None:
        refuse_taken_folder(picture, force=force)
    with progress_bar("building") as progress:
        made = build_wing(design, progress=lambda words, share: progress(words, making * share))
        if step or step_parts:
            cad = make_step_parts(
                made,
                solids=step,
                pieces=step_parts,
                progress=lambda words, share: progress(words, making + (BUILDING - making) * share),
            )
            made = with_step_findings(made, cad)
        document = build_document(made, spec_name=spec.name, step=cad)
        progress("writing files", BUILDING)
        files = write_build(made, folder, document=document, step=cad, force=force)
        if picture is not None:
            progress("drawing pictures", BUILDING)
            drawn = write_pictures(made, picture, force=force)
        progress("all written", 1.0)
    if json:
        show_json({**document, "folder": str(folder), "files": [file.name for file in files]})
    else:
        _show(made, document, folder, len(files), notes=notes)
        if picture is not None:
            show(f"Drew {len(drawn)} pictures into {picture}")
    raise typer.Exit(1 if document["counts"]["error"] else 0)


def _default_folder(spec: Path) -> Path:
    return spec.with_suffix("") if spec.suffix else spec.with_name(f"{spec.name}-build")


def _show(made: WingBuild, document: dict[str, Any], folder: Path, count: int, *, notes: bool) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, finding_lines, show, table_lines

    show(textwrap.fill(f"{document['name']}: {document['verdict']}.", WIDTH))
    show()
    parts = [*document["panels"], *document["control_surfaces"], *document["covers"]]
    head = ("panel", "from", "to mm", "layers", "bead", "ribs", "path m", "mass g", "hours", "base mm")
    rows = [
        (
            panel["panel"],
            f"{round(panel['from_mm'], 1):g}",
            f"{round(panel['to_mm'], 1):g}",
            f"{panel['layers']}",
            "one" if panel["proven"] else "TORN",
            f"{panel['ribs']}",
            f"{panel['path_m']:.1f}",
            f"{panel['printed_mass_g']:.1f}",
            "-" if panel["printing"] is None else f"{panel['printing']['print_time_s'] / 3600.0:.1f}",
            f"{panel['footprint_mm'][0]:.0f} x {panel['footprint_mm'][1]:.0f}",
        )
        for panel in parts
    ]
    for line in table_lines(head, rows):
        show(line)
    turned = [panel for panel in parts if panel["turn_on_bed_deg"]]
    if turned:
        turns = ", ".join(f"{panel['panel']} by {panel['turn_on_bed_deg']:g} deg" for panel in turned)
        text = (
            "The G-code lies on the bed as it has to. If you place a mesh yourself, turn the left hand "
            f"anticlockwise, the right hand clockwise: {turns}."
        )
        show(textwrap.fill(text, WIDTH))
    half = document["half_wing"]
    show(textwrap.fill(_mass_line(half, document["bands"]), WIDTH))
    show(textwrap.fill(_printing_line(document["printing"]), WIDTH))
    for line in _fitting_lines(document["fittings"]):
        show(textwrap.fill(line, WIDTH, subsequent_indent="    "))
    if document["step"] is not None:
        show(textwrap.fill(_step_line(document["step"]), WIDTH))
    lines = finding_lines(made.findings, notes=notes)
    if lines:
        show()
        for line in lines:
            show(line)
    show()
    hands = " and ".join(document["wing"]["hands"])
    show(f"Wrote {count} files for the {hands} hand to {folder}")
    show("Estimates until proof-loaded. Hot nozzle, fumes, carbon dust: see the cautions")
    show("in report.json. Next: read the head and the start block of one .gcode file,")
    show("print it, stay with the printer, and weigh the panel.")


def _mass_line(half: dict[str, Any], bands: dict[str, Any]) -> str:
    mass, share = half["printed_mass_g"], bands["printed_mass_share"]
    known = "calibrated" if bands["calibrated"] else "not calibrated"
    return (
        f"One half wing: {mass:.1f} g printed, {mass * (1.0 - share):.1f} to {mass * (1.0 + share):.1f} g as "
        f"far as the filament is known ({known}), {half['path_m']:.0f} m of bead."
    )


def _printing_line(printing: dict[str, Any]) -> str:
    if not printing["files"]:
        return "No G-code: no part has an unbroken path."
    hours = printing["print_time_s"] / 3600.0
    text = (
        f"All {printing['files']} G-code files: {hours:.0f} h of printing without heating up, "
        f"{printing['filament_m']:.0f} m or {printing['extruded_mass_g']:.0f} g of filament with brims, "
        f"{100.0 * printing['spool_share']:.0f} per cent of a spool"
    )
    cost = printing["cost"]
    return f"{text}, {cost:.2f} at your price." if cost is not None else f"{text}."


def _step_line(step: dict[str, Any]) -> str:
    solids = [*step["parts"], *step["pieces"]]
    exact = sum(solid["exact"] for solid in solids)
    return f"{' and '.join(step['files'])}: {exact} of {len(solids)} solids are exact; see report.json."


def _fitting_lines(fittings: dict[str, Any]) -> list[str]:
    """Say what a builder needs at the bench: hinges, holes to drill, glue lines."""
    lines = []
    for surface in fittings["control_surfaces"]:
        line = (
            f"{surface['part']} turns {surface['free_up_deg']:.0f} deg up and "
            f"{surface['free_down_deg']:.0f} deg down before it touches "
            f"(wanted {surface['wanted_up_deg']:g} and {surface['wanted_down_deg']:g})"
        )
        if surface["horn_mm"] is not None:
            x, _, z = surface["horn_mm"]
            line += f"; horn at span {z:g}, {x:.1f} mm behind the root's leading edge"
        lines.append(f"{line}.")
    lines += [
        f"{fit['name']}: bore {fit['clearance_mm']:.2f} mm wider than the tube, which slides in from "
        f"{fit['slides_from_mm']:.2f} to {fit['slides_to_mm']:.2f} mm as far as the filament is known."
        for fit in fittings["tube_fits"]
    ]
    lines += [
        f"{hole['name']}: drill {hole['hole_mm']:g} mm at {hole['span_mm']:g} mm from the root, "
        f"{hole['x_mm']:.1f} mm behind the root's leading edge."
        for hole in fittings["tab_holes"]
    ]
    lines += [
        f"Joint at {joint['span_mm']:g} mm: glue line {joint['glue_line_mm']:.0f} mm long, "
        f"{joint['glue_area_mm2']:.0f} mm2."
        for joint in fittings["joints"]
    ]
    return lines
