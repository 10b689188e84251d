"""`wingpath assess`: mass, loads, stiffness, strength of one wing, or of several side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from wingpath.core.findings import Finding
    from wingpath.pipeline.comparing import ComparedRow

__all__ = ["assess"]

WIDE = 0.5
"""A band from here on is told as a factor: half as much is as likely as twice as much."""

SHOWN_CHANGE = 0.005
"""A change smaller than this share is none to speak of."""

FEW_MARGINS = 4
"""Margins that are told without --details, unless more are broken."""

ABREAST = 3
"""Wings that stand side by side in one table."""


def assess(
    specs: Annotated[
        list[Path],
        typer.Argument(help="One or more specs, TOML files.", metavar="SPEC...", show_default=False),
    ],
    preview: Annotated[
        bool, typer.Option("--preview", help="A quick look by a beam model; nothing is built.")
    ] = False,
    proof: Annotated[
        Path | None,
        typer.Option(
            "--proof",
            help="Write the plan of a proof loading, a page to print.",
            metavar="FILE.html",
            show_default=False,
        ),
    ] = None,
    edge_mm: Annotated[
        float | None,
        typer.Option(
            help="Length of the shell's edges [mm]; by default as fine as solves in seconds.",
            min=1.0,
            max=50.0,
            show_default=False,
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace existing files.")] = False,
    details: Annotated[
        bool, typer.Option("--details", help="Show all margins, states of the slots, warm wings, masses too.")
    ] = False,
    notes: Annotated[bool, typer.Option("--notes", help="Show notes too.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say how heavy, stiff and strong a wing is before it is printed."""
    from wingpath.core.errors import InputError

    if preview:
        for name, value in (("--proof", proof), ("--edge-mm", edge_mm)):
            if value is not None:
                raise InputError(f"{name}: got together with --preview; allowed: without it")
        _preview(specs, json=json)
        return
    if proof is not None:
        if len(specs) > 1:
            raise InputError(f"--proof: got with {len(specs)} specs; allowed: with one, whose plan it is")
        if proof.suffix.lower() not in (".html", ".htm"):
            raise InputError(f"--proof: got {proof.name}; allowed: a name that ends in .html")
    _assess(specs, proof=proof, edge_mm=edge_mm, force=force, details=details, notes=notes, json=json)


def _assess(
    specs: list[Path],
    *,
    proof: Path | None,
    edge_mm: float | None,
    force: bool,
    details: bool,
    notes: bool,
    json: bool,
) -> None:
    from wingpath.cli.console import progress_bar, say, show_json
    from wingpath.core.errors import InputError
    from wingpath.io.output_folder import refuse_taken_file, write_file
    from wingpath.pipeline.assess_document import assess_document
    from wingpath.pipeline.assess_findings import assess_findings
    from wingpath.pipeline.assessing import assess_wing
    from wingpath.pipeline.comparing import compared_rows, comparison_document
    from wingpath.pipeline.design import design_wing
    from wingpath.report.proof_page import proof_page

    if proof is not None:
        refuse_taken_file(proof, force=force)
    # all that is wrong with any spec is told before the first long stage
    designs = [design_wing(spec) for spec in specs]
    if proof is not None and designs[0].spec.aircraft is None:
        raise InputError(
            f"--proof: got {specs[0].name} without [aircraft]; allowed: with it, as the loads come from there"
        )
    count = len(specs)
    found = []
    with progress_bar("assessing") as progress:
        for number, (spec, design) in enumerate(zip(specs, designs, strict=True)):

            def step(words: str, share: float, number: int = number, name: str = spec.name) -> None:
                progress(words if count == 1 else f"{name}: {words}", (number + share) / count)

            folder = spec.resolve().parent
            found.append(
                assess_wing(design, base_dir=folder, source=str(spec), edge_mm=edge_mm, progress=step)
            )
    said = [assess_findings(one) for one in found]
    document = assess_document(found, said)
    rows = compared_rows(document["wings"])
    names = _names(specs)
    if count > 1:
        document["comparison"] = comparison_document(names, [one.design.spec for one in found], rows)
    written = None
    if proof is not None:
        wing = document["wings"][0]
        if wing["proof_loading"] is None:
            say(f"wingpath: no plan of a proof loading to write, because {found[0].proof_refused}")
        else:
            write_file(proof, proof_page(wing, cautions=document["cautions"]), force=force)
            written = proof
    if json:
        show_json({**document, "proof_page": None if written is None else str(written)})
    elif count == 1:
        _show_one(document["wings"][0], said[0], written, details=details, notes=notes)
    else:
        _show_several(document, names, rows, said, notes=notes)
    missing = proof is not None and written is None
    raise typer.Exit(1 if document["counts"]["error"] or missing else 0)


def _names(specs: list[Path]) -> list[str]:
    """Return short names that tell the specs apart."""
    stems = [spec.stem if spec.stem != "spec" else spec.resolve().parent.name for spec in specs]
    if len(set(stems)) == len(stems):
        return stems
    return [f"{stem}-{number}" for number, stem in enumerate(stems, start=1)]


def _preview(specs: list[Path], *, json: bool) -> None:
    from wingpath.cli.console import finding_lines, show, show_json, table_lines
    from wingpath.pipeline.assess_document import ALL_CAUTIONS
    from wingpath.pipeline.comparing import compared_rows
    from wingpath.pipeline.previewing import PREVIEW_FINDING, preview_wing
    from wingpath.version import __version__

    wings = [preview_wing(spec) for spec in specs]
    if json:
        show_json(
            {
                "document": "wingpath assess",
                "format": 1,
                "wingpath_version": __version__,
                "preview": True,
                "counts": {"error": 0, "warning": 0, "note": 1},
                "wings": wings,
                "findings": [PREVIEW_FINDING.as_dict()],
                "cautions": list(ALL_CAUTIONS),
            }
        )
        return
    rows, names = compared_rows(wings), _names(specs)
    for first in range(0, len(names), ABREAST):
        part = range(first, min(first + ABREAST, len(names)))
        head = ("preview", *(names[number] for number in part))
        cells = [[_label(row), *(_value(row.values[number]) for number in part)] for row in rows]
        for line in table_lines(head, cells):
            show(line)
        show()
    for line in finding_lines([PREVIEW_FINDING], notes=True):
        show(line)


def _label(row: ComparedRow) -> str:
    return f"{row.kind.title}, {row.kind.unit}" if row.kind.unit else row.kind.title


def _value(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def _show_one(
    wing: dict[str, Any],
    findings: tuple[Finding, ...],
    written: Path | None,
    *,
    details: bool,
    notes: bool,
) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, finding_lines, show, table_lines
    from wingpath.pipeline.comparing import compared_rows
    from wingpath.pipeline.report_document import strength_verdict
    from wingpath.report.page_tables import known_by

    show(textwrap.fill(f"{wing['name']}: {strength_verdict(wing)}.", WIDTH))
    show()
    rows = []
    for row in compared_rows([wing]):
        key = row.kind.key.split(".")[0]
        if key == "least_margin":
            continue
        band = wing["band"].get(key)
        share = "-" if not band else f"{100.0 * band:.0f} %" if band < WIDE else f"factor {1.0 + band:.1f}"
        rows.append((_label(row), _value(row.values[0]), share, known_by(key, wing["sources"].get(key))))
    for line in table_lines(("number", "value", "+/-", "known by"), rows):
        show(line)
    show()
    for line in [*_mass_lines(wing), *_place_lines(wing)] if details else _place_lines(wing)[:1]:
        show(textwrap.fill(line, WIDTH, subsequent_indent="    "))
    for line in _margin_lines(wing, None if details else FEW_MARGINS):
        show(line)
    if details:
        show()
        for line in _state_lines(wing):
            show(line)
    lines = finding_lines(findings, notes=notes)
    if lines:
        show()
        for line in lines:
            show(line)
    show()
    if written is not None:
        show(f"Wrote the plan of the proof loading to {written}")
    tail = (
        "Estimates, no statement of airworthiness: proof-load before flight. Follow the national rules for "
        "model aircraft and the practice of your club."
    )
    show(textwrap.fill(tail, WIDTH))
    if not details:
        show("--details shows all margins, what open slots or a warm wing would do, masses.")
    if written is None and wing["proof_loading"] is not None:
        show("Next: --proof FILE.html writes the weights and what to expect, to print.")


def _margin_lines(wing: dict[str, Any], most: int | None) -> list[str]:
    """Return the table of margins, least first; `most` of them, or all."""
    from wingpath.cli.console import table_lines

    if not wing["margin_details"]:
        return []
    ranked = sorted(wing["margin_details"], key=lambda one: one["value"] if one["value"] is not None else 1e9)
    broken = sum(one["value"] is not None and one["value"] < 0.0 for one in ranked)
    shown = ranked if most is None else ranked[: max(most, broken)]
    cells = [(one["title"], _margin_text(one["value"]), one["source"]) for one in shown]
    lines = table_lines(("margin at 1.5 x limit, 0 just holds", "margin", "allowable"), cells)
    more = len(ranked) - len(shown)
    return ["", *lines, *([f"and {more} more, all greater"] if more else [])]


def _margin_text(value: float | None) -> str:
    return "-" if value is None else f"{value:+.2f}" if value < 99.0 else "over 99"


def _mass_lines(wing: dict[str, Any]) -> list[str]:
    masses = wing["masses"]
    shares = masses["printed_shares_g"]
    x, y, z = masses["half_wing"]["centre_mm"]
    lines = [
        f"Printed: skin {shares['skin']:.1f} g, ribs {shares['ribs']:.1f}, webs {shares['webs']:.1f}, "
        f"fittings {shares['fittings']:.1f}; besides, brims of {shares['brim']:.1f} g that you cut off.",
        f"Centre of gravity of a half wing: {z:.0f} mm from the root, {x:.0f} mm behind the root's leading "
        f"edge, {y:.0f} mm up.",
    ]
    if masses["otherwise_made_g"] is not None:
        lines.append(f"The same half wing made as [compare] says: about {masses['otherwise_made_g']:.0f} g.")
    plan = wing["planform"]
    air = plan.get("reynolds_numbers")
    tail = (
        ""
        if air is None
        else f"; Reynolds numbers {air['mean_chord_at_stall']:,} at the stall (tip {air['tip_at_stall']:,}), "
        f"{air['mean_chord_at_max_speed']:,} at the highest speed"
    )
    lines.append(
        f"Aspect ratio {plan['aspect_ratio']:.1f}; mean chord {plan['mean_chord_span_mm']:.0f} mm from the "
        f"root, its leading edge {plan['mean_chord_leading_edge_mm']:.0f} mm behind the root's{tail}."
    )
    if air is None:
        return lines
    front, aft = plan["suggested_cg_mm"]
    lines.append(
        f"Aircraft's centre of gravity: with a tail usually {front:.0f} to {aft:.0f} mm behind the root's "
        "leading edge (common practice, no source); without one farther forward."
    )
    return lines


def _place_lines(wing: dict[str, Any]) -> list[str]:
    buckled = wing["states"][0]["buckling"]
    lines = []
    for key, words, unit in (
        ("limit", "Under lift", ""),
        ("torque_nose_up", "Twisted nose up", "N m"),
        ("torque_nose_down", "Twisted nose down", "N m"),
    ):
        place = buckled[key]
        if place is not None:
            lines.append(
                f"{words} it wrinkles at {_sized(place['factor'], unit)}: {place['part']}, span "
                f"{place['span_mm']:.0f} mm, {100.0 * place['chord_fraction']:.0f} % of the chord."
            )
    return lines


def _sized(factor: float, unit: str) -> str:
    """Return a torque with its unit, or a load factor called one."""
    return f"{_value(factor)} {unit}" if unit else f"load factor {_value(factor)}"


def _state_lines(wing: dict[str, Any]) -> list[str]:
    from wingpath.cli.console import table_lines

    def cell(value: float | None) -> str:
        return "-" if value is None else f"{value:.3g}"

    rows = []
    for state in wing["states"]:
        buckled = state["buckling"]
        torques = [buckled[key] for key in ("torque_nose_up", "torque_nose_down") if buckled[key] is not None]
        rows.append(
            (
                state["state"],
                cell(state["tip_deflection_limit_mm"]),
                cell(state["twist_deg_per_n_m"]),
                cell(None if buckled["limit"] is None else buckled["limit"]["factor"]),
                cell(min((torque["factor"] for torque in torques), default=None)),
            )
        )
    for warm in wing["heat"][1:]:
        rows.append(
            (
                f"at {warm['part_temperature_c']:g} °C",
                cell(warm["tip_deflection_limit_mm"]),
                cell(warm["twist_deg_per_n_m"]),
                cell(warm["first_buckling_load_factor"]),
                "-",
            )
        )
    head = ("if slots are ... / warm", "tip mm", "deg per N m", "wrinkles at factor", "at N m")
    return table_lines(head, rows)


def _show_several(
    document: dict[str, Any],
    names: list[str],
    rows: tuple[ComparedRow, ...],
    said: list[tuple[Finding, ...]],
    *,
    notes: bool,
) -> None:
    import textwrap

    from wingpath.cli.console import WIDTH, finding_lines, show, table_lines

    for first in range(0, len(names), ABREAST):
        part = range(first, min(first + ABREAST, len(names)))
        head = ("* best, change against the first", *(names[number][:18] for number in part))
        cells = [[_label(row), *(_compared(row, number) for number in part)] for row in rows]
        for line in table_lines(head, cells):
            show(line)
        show()
    for words in document["comparison"]["words"]:
        show(textwrap.fill(words, WIDTH, subsequent_indent="    "))
    for name, findings in zip(names, said, strict=True):
        lines = finding_lines(findings, notes=notes)
        if lines:
            show()
            show(f"{name}:")
            for line in lines:
                show(line)
    show()
    show("Estimates, no statement of airworthiness: proof-load before flight.")


def _compared(row: ComparedRow, number: int) -> str:
    text = _value(row.values[number])
    share = row.against_first[number]
    if number and share is not None and abs(share) >= SHOWN_CHANGE:
        text += f" {100.0 * share:+.0f}%"
    return f"*{text}" if row.best == number else text
