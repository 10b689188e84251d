"""`wingpath lighten`: the lightest rib layout that meets the targets, found by search."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from wingpath.lighten.lightening import Lightening
    from wingpath.lighten.searching import Counts

__all__ = ["counted_words", "lighten"]

MOST_ROWS = 12
"""Rows of the front that are shown; all are in front.csv."""


def lighten(
    spec: Annotated[Path, typer.Argument(help="The spec, a TOML file.", show_default=False)],
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", help="Folder to write; by default the spec's name with -lighter beside it."
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier search.")] = False,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on with the search that is in the folder.")
    ] = False,
    no_worse: Annotated[
        bool,
        typer.Option(
            "--no-worse", help="Targets that the spec does not give are what the wing does as drawn."
        ),
    ] = False,
    judged: Annotated[
        int, typer.Option(help="Most layouts that are built and solved.", min=1, max=10_000)
    ] = 60,
    pool: Annotated[
        int, typer.Option(help="Layouts that are guessed in each round.", min=4, max=10_000)
    ] = 64,
    batch: Annotated[
        int, typer.Option(help="Layouts that are built between two guesses.", min=1, max=1000)
    ] = 6,
    seed: Annotated[int, typer.Option(help="Seed of the search.", min=0, max=2**31 - 1)] = 1,
    processes: Annotated[
        int | None,
        typer.Option(
            help="Layouts that are looked at side by side; by default one a core.",
            min=1,
            max=1024,
            show_default=False,
        ),
    ] = None,
    engine: Annotated[
        str, typer.Option(help="What they run on: processes, threads, dask, or dask:ADDRESS.")
    ] = "processes",
    edge_mm: Annotated[
        float | None,
        typer.Option(
            help="Length of the shell's edges [mm]; by default as fine as solves in seconds.",
            min=1.0,
            max=50.0,
            show_default=False,
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Search the lightest layout that is stiff and strong enough."""
    import os

    from wingpath.cli.console import progress_bar, show_json
    from wingpath.cli.interrupts import interrupted_status
    from wingpath.core.errors import InputError
    from wingpath.io.lightened_output import (
        begin_lightened_folder,
        leave_lightened_folder,
        write_lightened_files,
    )
    from wingpath.io.tables import json_text
    from wingpath.lighten.engine import refuse_unknown_engine
    from wingpath.lighten.lighten_document import front_csv, front_pictures, judged_csv, lighten_document
    from wingpath.lighten.lightening import LIGHTEST_FILE, Run, lighten_wing, lightest_text
    from wingpath.lighten.searching import SearchSettings
    from wingpath.pipeline.design import design_wing

    if force and resume:
        raise InputError("--force: got together with --resume; allowed: one of them")
    folder = _default_folder(spec) if output is None else output
    # all that is wrong with the spec is told before a folder is made
    design_wing(spec)
    refuse_unknown_engine(engine)
    journal = begin_lightened_folder(folder, force=force, resume=resume)
    run = Run(engine, processes or os.cpu_count() or 1, journal)
    settings = SearchSettings(judged=judged, pool=pool, batch=batch, seed=seed)
    try:
        with progress_bar("lightening") as progress:
            one = lighten_wing(
                spec, settings=settings, no_worse=no_worse, edge_mm=edge_mm, run=run, progress=progress
            )
    except InputError:
        # wrong input leaves nothing behind
        if not resume:
            leave_lightened_folder(folder)
        raise
    files: dict[str, str | bytes] = {
        "front.csv": front_csv(one),
        "judged.csv": judged_csv(one),
        **front_pictures(one),
    }
    if one.best is not None:
        text, beside = lightest_text(one)
        files |= {LIGHTEST_FILE: text, **beside}
    names = sorted([*files, "report.json"])
    document = lighten_document(one, files=names)
    files["report.json"] = json_text(document)
    write_lightened_files(folder, files)
    if json:
        show_json({**document, "folder": str(folder)})
    else:
        _show(one, document, folder)
    if one.stopped:
        raise typer.Exit(interrupted_status())
    raise typer.Exit(0 if one.best is not None else 1)


def _default_folder(spec: Path) -> Path:
    return spec.with_name(f"{spec.stem}-lighter")


def _show(one: Lightening, document: dict[str, Any], folder: Path) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, show, table_lines

    def tell(text: str) -> None:
        show(textwrap.fill(text, WIDTH, subsequent_indent="    "))

    tell(_verdict(one, document))
    show()
    rows = []
    for target in one.found.targets.targets:
        cells = [target.told(number) for number in _numbers_of(one, target.key)]
        rows.append((target.called, *cells, target.bound))
    for key, title in (("mass_g", "mass of a half wing, g"), ("twist_deg_per_n_m", "twist, deg per N m")):
        if all(target.key != key for target in one.found.targets.targets):
            rows.append((title, *(_cell(number) for number in _numbers_of(one, key)), "-"))
    for line in table_lines(("", "as drawn", "lightest", "asked"), rows):
        show(line)
    if one.front:
        show()
        for line in _front_lines(document):
            show(line)
        show("Load factor and N m: at which the skin wrinkles first, under lift and in twist.")
    if document["bought"]:
        show()
        show("What each kind of rib bought in the lightest:")
        for row in document["bought"]:
            tell(f"  {row['words']}.")
    if document["near_misses"]:
        show()
        show("Near misses, and what stops them:")
        for miss in document["near_misses"]:
            tell(f"  {miss['mass_g']:.1f} g, {miss['layout']}: {miss['stops'][0]['words']}.")
    counts = one.found.counts
    show()
    told = counted_words(counts, len(document["bought"]))
    tell(f"{told}. Seed {one.settings.seed}: the same search finds the same.")
    tell(f"Wrote {len(document['files'])} files to {folder}")
    tell(
        "Estimates until proof-loaded, no statement of airworthiness. The numbers are as good as the "
        "filament is known: calibrate it with `wingpath tune`."
    )
    if one.best is not None:
        tell(f"Next: wingpath assess {folder / 'lightest.toml'}")
    if one.stopped:
        tell("Stopped early: these are the best so far. Go on with --resume.")


def counted_words(counts: Counts, bought: int) -> str:
    """Return how many layouts were looked at, as many as the progress counted.

    Parameters
    ----------
    counts : Counts
        Of the search.
    bought : int
        How many more were built to tell what each kind of rib bought.
    """
    guessed = f"{counts.guessed} layout{'' if counts.guessed == 1 else 's'} guessed"
    more = f", and {bought} more to tell what each kind of rib bought" if bought else ""
    return (
        f"{guessed}, {counts.refused} of them cannot be drawn; {counts.judged} built, "
        f"proven layer by layer and solved{more}"
    )


def _verdict(one: Lightening, document: dict[str, Any]) -> str:
    name, drawn = one.freedom.spec.name, one.drawn.mass_g
    if one.best is None:
        return (
            f"{name}: no layout that was built meets the targets. Loosen [targets], widen [freedom], or "
            "build more with --judged; the near misses say what stops them."
        )
    share = -100.0 * document["saved_share"]
    holds = "meets" if one.found.targets.met(one.drawn) else "misses"
    layout = document["lightest"]["layout"]
    if not one.changes:
        return f"{name}: nothing lighter than the wing as drawn was found, {drawn:.1f} g a half."
    return (
        f"{name}: {one.best.mass_g:.1f} g a half instead of {drawn:.1f} g ({share:+.0f} %): {layout}. "
        f"The wing as drawn {holds} the targets."
    )


def _numbers_of(one: Lightening, key: str) -> tuple[float | None, float | None]:
    from wingpath.lighten.targets import numbers_of

    drawn = numbers_of(one.drawn)[key]
    return drawn, None if one.best is None else numbers_of(one.best)[key]


def _cell(value: float | None) -> str:
    return "-" if value is None else f"{abs(value):.0f}" if abs(value) >= 1000.0 else f"{abs(value):.3g}"


def _front_lines(document: dict[str, Any]) -> list[str]:
    from wingpath.cli.console import table_lines

    # the last two but one: where the skin wrinkles first, under lift and in twist
    head = ("lightest by stiffness", "mass g", "tip mm", "deg/N m", "load factor", "N m", "of target")
    front = document["front"]
    lightest = document["lightest"]
    told = {document["drawn"]["layout"]} | (set() if lightest is None else {lightest["layout"]})
    # evenly thinned, but the two that matter stay
    step = max(1, -(-len(front) // MOST_ROWS))
    shown = [row for number, row in enumerate(front) if number % step == 0 or row["layout"] in told]
    rows = []
    for row in shown:
        marks = "meets the targets" if row["meets_targets"] else "misses a target"
        if lightest is not None and row["layout"] == lightest["layout"]:
            marks = "the lightest"
        if row["layout"] == document["drawn"]["layout"]:
            marks = "as drawn"
        cells = [
            _cell(row[key])
            for key in (
                "mass_g",
                "tip_deflection_limit_mm",
                "twist_deg_per_n_m",
                "first_buckling_load_factor",
                "buckling_torque_n_m",
            )
        ]
        rows.append((marks, *cells, f"{100.0 * row['worst_target_share']:.0f} %"))
    return table_lines(head, rows)
