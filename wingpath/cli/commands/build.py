"""`wingpath build`: panels, proof and report from a spec."""

from __future__ import annotations

from os.path import realpath
from pathlib import Path
from typing import Annotated

import typer

from wingpath.cli.build_words import open_in_browser, show_build, show_pictures

__all__ = ["build"]

MAKING = 0.9
"""Share of the time until files are written."""


def build(
    spec: Annotated[Path, typer.Argument(help="The spec, a TOML file.", show_default=False)],
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Folder to write; by default the spec's name beside it."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier build.")] = False,
    open_page: Annotated[bool, typer.Option("--open", help="Show the report page in the browser.")] = False,
    strength: Annotated[
        bool,
        typer.Option(
            "--strength/--no-strength",
            help="Work out mass, stiffness and strength too; without, a build takes a third of the time.",
        ),
    ] = True,
    picture: Annotated[
        Path | None,
        typer.Option(
            help="Draw the wing, its layers and paths into this folder, PNG and SVG.",
            metavar="DIR",
            show_default=False,
        ),
    ] = None,
    paper: Annotated[str, typer.Option(help="What drawing.pdf is for: a4 or letter.")] = "a4",
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
    """Make panels, prove every layer, report it all on one page."""
    from wingpath.cli.console import progress_bar, show_json
    from wingpath.core.errors import InputError
    from wingpath.io.output_folder import refuse_taken_folder
    from wingpath.pipeline.design import design_wing
    from wingpath.pipeline.full_build import BuildWishes, full_build
    from wingpath.pipeline.stepping import refuse_missing_kernel
    from wingpath.pipeline.writing import write_build, write_pictures
    from wingpath.report.tiling import paper_named

    folder = _default_folder(spec) if output is None else output
    if picture is not None and realpath(picture) == realpath(folder):
        raise InputError(f"--picture: {picture} is the folder of the build itself; give another one")
    paper_named(paper, key="--paper")
    refuse_missing_kernel(solids=step, pieces=step_parts)
    design = design_wing(spec)
    refuse_taken_folder(folder, force=force)
    if picture is not None:
        refuse_taken_folder(picture, force=force)
    drawn: tuple[Path, ...] = ()
    wishes = BuildWishes(strength=strength, step=step, step_parts=step_parts)
    with progress_bar("building") as progress:
        made = full_build(
            design, wishes, spec=spec, progress=lambda words, share: progress(words, MAKING * share)
        )
        document = made.document
        progress("writing files", MAKING)
        files = write_build(
            made.build,
            folder,
            assessed=made.assessed,
            document=document,
            paper=paper,
            step=made.step,
            force=force,
        )
        if picture is not None:
            progress("drawing pictures", MAKING)
            drawn = write_pictures(made.build, picture, assessed=made.assessed, force=force)
        progress("all written", 1.0)
    if json:
        show_json({**document, "folder": str(folder), "files": [file.name for file in files]})
    else:
        show_build(document, folder, len(files), notes=notes)
        if picture is not None:
            show_pictures(len(drawn), picture)
    if open_page:
        open_in_browser(folder / "report.html")
    raise typer.Exit(1 if document["counts"]["error"] else 0)


def _default_folder(spec: Path) -> Path:
    return spec.with_suffix("") if spec.suffix else spec.with_name(f"{spec.name}-build")
