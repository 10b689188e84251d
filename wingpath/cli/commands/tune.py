"""`wingpath tune`: slot width against nozzle, bead and filament; the coupon; and its measurements."""

from __future__ import annotations

from os.path import realpath
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from wingpath.pipeline.calibrating import ReadCoupons
    from wingpath.pipeline.coupon_making import Coupons
    from wingpath.pipeline.tuning import Tuning
    from wingpath.tune.coupon_values import CouponValues

__all__ = ["tune"]


def tune(
    nozzle_mm: Annotated[
        float | None,
        typer.Option(
            "--nozzle-mm", "--nozzle", help="Nozzle [mm]; by default the printer's.", show_default=False
        ),
    ] = None,
    bead_mm: Annotated[
        float | None,
        typer.Option(
            "--bead-mm", "--bead", help="Bead width [mm]; by default by the nozzle.", show_default=False
        ),
    ] = None,
    layer_mm: Annotated[
        float | None,
        typer.Option(
            "--layer-mm", "--layer", help="Layer height [mm]; by default by the bead.", show_default=False
        ),
    ] = None,
    filament: Annotated[
        str | None, typer.Option(help="Filament profile, name or path.", show_default="foaming-pla")
    ] = None,
    temperature_c: Annotated[
        float | None,
        typer.Option("--temperature-c", "--temperature", help="Nozzle temperature [°C].", show_default="230"),
    ] = None,
    flow: Annotated[
        float | None,
        typer.Option(help="Extruded over nominal volume of the bead.", show_default="0.5"),
    ] = None,
    printer: Annotated[
        str | None, typer.Option(help="Printer profile, name or path.", show_default="bed-220")
    ] = None,
    resolution_mm: Annotated[
        float | None,
        typer.Option(
            help="If another program lays your paths: how near it joins outlines [mm].", show_default="0"
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            help="Write the coupon into this folder; with --read, the profile to this file.",
            show_default=False,
        ),
    ] = None,
    tube_mm: Annotated[
        float | None, typer.Option(help="Tube to try in the coupon [mm].", show_default="6")
    ] = None,
    tab_mm: Annotated[
        float | None, typer.Option(help="Tongue to try in the coupon [mm].", show_default="3")
    ] = None,
    temperatures: Annotated[
        str | None,
        typer.Option(
            help="Coupons for these temperatures too, like 215,225; by default those of the filament's list "
            "within 10 °C; none for no other.",
            metavar="LIST",
            show_default=False,
        ),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw the slot windows to this file, .png or .svg.", show_default=False),
    ] = None,
    read: Annotated[
        Path | None,
        typer.Option(
            help="Read measurements back and write a filament profile.", metavar="FILE", show_default=False
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace existing files.")] = False,
    notes: Annotated[bool, typer.Option("--notes", help="Show notes too.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Fit slots to nozzle, bead and filament, by one small print."""
    from wingpath.core.errors import InputError

    if read is not None:
        others = {
            "--nozzle-mm": nozzle_mm,
            "--bead-mm": bead_mm,
            "--layer-mm": layer_mm,
            "--filament": filament,
            "--temperature-c": temperature_c,
            "--flow": flow,
            "--printer": printer,
            "--resolution-mm": resolution_mm,
            "--tube-mm": tube_mm,
            "--tab-mm": tab_mm,
            "--temperatures": temperatures,
            "--picture": picture,
        }
        stray = [name for name, value in others.items() if value is not None]
        if stray:
            raise InputError(
                f"{stray[0]}: got together with --read; allowed: without it. What the coupons were printed "
                "with stands in the file of measurements"
            )
        _read_back(read, output, force=force, notes=notes, json=json)
        return
    from wingpath.cli.console import progress_bar, show_json
    from wingpath.io.measurements_toml import refuse_filled_in
    from wingpath.io.output_folder import refuse_taken_file, refuse_taken_folder, write_file
    from wingpath.pipeline.coupon_making import make_coupons, write_coupons
    from wingpath.pipeline.tune_options import tune_options
    from wingpath.pipeline.tuning import tune_windows, tuning_document, tuning_picture

    if picture is not None and picture.suffix.lower() not in (".png", ".svg"):
        raise InputError(f"--picture: got {picture.name}; allowed: a name that ends in .png or .svg")
    if output is None:
        for name, value in (("--tube-mm", tube_mm), ("--tab-mm", tab_mm), ("--temperatures", temperatures)):
            if value is not None:
                raise InputError(f"{name}: got without -o; allowed: with -o DIR, where the coupon is written")
    options = tune_options(
        nozzle_mm=nozzle_mm,
        bead_mm=bead_mm,
        layer_mm=layer_mm,
        filament="foaming-pla" if filament is None else filament,
        printer="bed-220" if printer is None else printer,
        temperature_c=temperature_c,
        flow=flow,
        resolution_mm=resolution_mm or 0.0,
    )
    listed = None if temperatures is None else _temperatures(temperatures)
    tuning = tune_windows(options)
    coupons: Coupons | None = None
    files: tuple[Path, ...] = ()
    if picture is not None:
        refuse_taken_file(picture, force=force)
    if output is not None:
        if picture is not None and realpath(output) in (realpath(picture), realpath(picture.parent)):
            raise InputError(f"--picture: {picture} lies in the folder of the coupon; give another place")
        refuse_filled_in(output / "measurements.toml")
        refuse_taken_folder(output, force=force)
        with progress_bar("coupon") as progress:
            coupons = make_coupons(
                options,
                tube_mm=6.0 if tube_mm is None else tube_mm,
                tab_mm=3.0 if tab_mm is None else tab_mm,
                temperatures_c=listed,
                progress=lambda words, share: progress(words, 0.8 * share),
            )
            progress("writing files", 0.8)
            files = write_coupons(coupons, output, force=force)
            progress("all written", 1.0)
    if picture is not None:
        write_file(picture, tuning_picture(tuning, picture.suffix.lower()), force=force)
    document = tuning_document(tuning, coupons, folder=output, files=files)
    if json:
        show_json(document)
    else:
        _show(tuning, coupons, output, notes=notes)
    raise typer.Exit(1 if document["counts"]["error"] else 0)


def _temperatures(text: str) -> list[float]:
    from wingpath.core.errors import InputError

    if text.strip().lower() == "none":
        return []
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        raise InputError(
            f"--temperatures: got {text[:60]!r}; allowed: numbers with commas between them, like 215,225, "
            "or none"
        ) from None


def _show(tuning: Tuning, coupons: Coupons | None, folder: Path | None, *, notes: bool) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, finding_lines, show, table_lines
    from wingpath.core.findings import sort_findings
    from wingpath.tune.window import OVERHANG_ANGLES_DEG

    settings, chosen = tuning.options.settings, tuning.chosen
    show(
        f"{tuning.options.filament.name} at {settings.temperature_c:g} °C, flow {settings.flow:g}: grows "
        f"{chosen.foaming_ratio:.2f} times, fills {100.0 * chosen.fill:.0f} per cent."
    )
    show()
    head = ("nozzle", "bead", "layer", "slot from", "to", "use", "neck", "section", "45 deg", "mm/s")
    rows = [
        (
            f"{window.nozzle_mm:g}{' <' if window is chosen else ''}",
            f"{window.bead_mm:g}",
            f"{window.layer_mm:g}",
            f"{window.least_mm:.3f}",
            f"{window.widest_mm:.3f}",
            "-" if window.suggested_mm is None else f"{window.suggested_mm:.3f}",
            f"{window.neck_mm[1]:.2f}",
            f"{window.least_thickness_mm:.2f}",
            f"{100.0 * window.overlap_share(45.0):.0f} %",
            f"{window.fastest_mm_s:.0f}",
        )
        for window in tuning.side_by_side
    ]
    for line in table_lines(head, rows):
        show(line)
    show()
    low, _, high = chosen.neck_mm
    for text in (
        "Lengths in mm. For the nozzle marked <:",
        f"slot: not under {chosen.least_mm:.3f} mm, because {chosen.least_reason}; not over "
        f"{chosen.widest_mm:.3f} mm (anywhere from {chosen.widest_low_mm:.3f} to "
        f"{chosen.widest_high_mm:.3f}), the gap that two beads close when flow x foaming - 1 >= gap / bead",
        f"neck, the solid between a slot's end and the far skin: over {low:.2f} mm, or the path pinches off; "
        f"under {high:.2f} mm, or the rib is loose",
        f"section: thinnest that carries a rib, {chosen.least_thickness_mm:.2f} mm",
        "share of the bead that lies on the one below, by lean of the wall: "
        + ", ".join(
            f"{lean:g} deg {100.0 * chosen.overlap_share(lean):.0f} %" for lean in OVERHANG_ANGLES_DEG
        ),
        "mm/s: fastest that the nozzle melts enough",
    ):
        for line in textwrap.wrap(text, WIDTH, subsequent_indent="  "):
            show(line)
    found = [*tuning.findings, *(coupons.findings if coupons is not None else ())]
    lines = finding_lines(sort_findings(found), notes=notes)
    if lines:
        show()
        for line in lines:
            show(line)
    if coupons is not None:
        show()
        _show_coupons(coupons, folder)
    show()
    show("Estimates until proof-loaded. Hot nozzle, fumes: ventilate, stay beside it.")


def _show_coupons(coupons: Coupons, folder: Path | None) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, show

    layers = coupons.continuity.layers
    show(f"Coupon: {len(layers)} layers, each one closed bead: no travel.")
    for one in coupons.prints:
        show(
            f"  {one.stem}.gcode: {one.settings.temperature_c:g} °C, flow {one.settings.flow:g}, "
            f"{one.path.time_s / 60.0:.0f} min, {one.path.printed_mass_g:.1f} g"
        )
    text = (
        f"Wrote them to {folder}. Print {coupons.prints[0].stem}.gcode, open sheet.html, fill in "
        f"measurements.toml, then run: wingpath tune --read {folder}/measurements.toml"
    )
    show(textwrap.fill(text, WIDTH, break_on_hyphens=False))


def _read_back(path: Path, output: Path | None, *, force: bool, notes: bool, json: bool) -> None:
    from wingpath.cli.console import show_json
    from wingpath.core.errors import InputError
    from wingpath.io.calibrated_profile_toml import write_calibrated_profile
    from wingpath.io.output_folder import refuse_taken_file
    from wingpath.pipeline.calibrating import calibration_document, read_coupons

    read = read_coupons(path)
    target = path.with_name(f"{read.calibration.measurements.name}.toml") if output is None else output
    if realpath(target) == realpath(path):
        raise InputError(
            f"-o: {target} is the file of measurements itself; give another one, or another name"
        )
    if target.suffix.lower() != ".toml":
        raise InputError(f"-o: got {target.name}; allowed: a name that ends in .toml, for the profile")
    written = None
    if read.profile is not None:
        refuse_taken_file(target, force=force)
        write_calibrated_profile(target, read.profile, force=force)
        written = target
    document = calibration_document(read, written)
    if json:
        show_json(document)
    else:
        _show_read(read, document, written, notes=notes)
    raise typer.Exit(1 if document["counts"]["error"] else 0)


def _show_read(read: ReadCoupons, document: dict[str, object], written: Path | None, *, notes: bool) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, finding_lines, show, table_lines

    given = read.calibration.measurements
    show(textwrap.fill(f"{read.source}: {given.printer}, {given.spool}, {given.date}.", WIDTH))
    show()
    for one in read.calibration.coupons:
        show(textwrap.fill(_coupon_line(one), WIDTH, subsequent_indent="    "))
    show()
    values = document["values"]
    assert isinstance(values, dict)
    if values:
        rows = [
            (
                key,
                f"{one['value']:.4g}",
                "-" if one["low"] is None else f"{one['low']:.4g} to {one['high']:.4g}",
                one["unit"] or "-",
                "measured" if one["kind"] == "measured" else f"assumed: {one['kind']}",
            )
            for key, one in values.items()
        ]
        for line in table_lines(("value", "", "95 per cent", "unit", "how"), rows):
            show(line)
        show()
    if read.profile is not None and read.window is not None:
        _show_gain(read)
    lines = finding_lines(read.findings, notes=notes)
    for line in lines:
        show(line)
    if lines:
        show()
    if written is None:
        show("No profile was written: readings contradict each other. Measure them again,")
        show("or leave one of each pair out.")
    else:
        show(f"Wrote {written}. Put it beside a spec and name it there:")
        show()
        show("    [filament]")
        show(f'    profile = "{written.name}"')
        show()
    show("Estimates until proof-loaded.")


def _coupon_line(one: CouponValues) -> str:
    """Say what one coupon showed by itself."""
    slot = None if one.slot is None else one.slot.estimate
    parts = [
        f"{words} {value.value:.{digits}f} +- {value.half_width:.{digits}f}{unit}"
        for words, value, digits, unit in (
            ("bead", one.wall, 3, " mm wide"),
            ("foaming ratio", one.ratio, 2, ""),
            ("filament", one.density, 3, " g/cm3"),
            ("slots fuse up to", slot, 3, " mm"),
            ("modulus of the strip", one.modulus, 0, " MPa"),
        )
        if value is not None
    ]
    return (
        f"Coupon at {one.temperature_c:g} °C, flow {one.flow:g}: {', '.join(parts) or 'bead not measured'}."
    )


def _show_gain(read: ReadCoupons) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, show
    from wingpath.tune.bands import bands_of

    assert read.profile is not None
    assert read.window is not None
    before, after = (bands_of(one, read.settings) for one in (read.calibration.base, read.profile))
    window = read.window
    width = (
        "no slot fuses"
        if window.suggested_mm is None
        else f"slots of {window.suggested_mm:.3f} mm suggested, up to {window.widest_mm:.3f} mm fuse"
    )
    text = (
        f"At {read.settings.temperature_c:g} °C and flow {read.settings.flow:g}: {width}. "
        f"Bands: mass +-{100.0 * after.mass:.0f} % (before "
        f"{100.0 * before.mass:.0f} %), stiffness of a wall +-{100.0 * after.wall_stiffness:.0f} % (before "
        f"{100.0 * before.wall_stiffness:.0f} %)."
    )
    show(textwrap.fill(text, WIDTH, break_on_hyphens=False))
    show()
