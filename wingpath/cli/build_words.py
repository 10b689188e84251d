"""What `build` tells in the terminal: one screen, and what to do next."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wingpath.cli.console import WIDTH, finding_lines, say, show, table_lines
from wingpath.core.findings import Finding

__all__ = ["open_in_browser", "show_build", "show_pictures"]


def show_build(document: Mapping[str, Any], folder: Path, count: int, *, notes: bool) -> None:
    """Print what was built.

    Parameters
    ----------
    document : mapping
        The content of `report.json`.
    folder : Path
        Where the files are.
    count : int
        How many there are.
    notes : bool
        Whether to print notes too.
    """
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
    show()
    codes = {one["code"] for one in document["findings"]}
    for text in (
        _mass_line(document["half_wing"], document["bands"]),
        _strength_line(document["strength"], document["strength_missing"]),
        _printing_line(document["printing"], too_big="too-big" in codes),
        _turning_line(parts) if document["printing"]["files"] else "",
        _step_line(document["step"]),
    ):
        if text:
            show(textwrap.fill(text, WIDTH))
    lines = finding_lines([Finding.from_dict(one) for one in document["findings"]], notes=notes)
    if lines:
        show()
        for line in lines:
            show(line)
    show()
    hands = " and ".join(document["wing"]["hands"])
    show(f"Wrote {count} files for the {hands} hand to {folder}")
    for line in _next_lines(document):
        show(line)


def _next_lines(document: Mapping[str, Any]) -> list[str]:
    if document["counts"]["error"]:
        text = "Next: do what stands under ERROR, build again; report.html shows where it is."
    else:
        text = (
            "Next: look at report.html, with fits, holes, hinges and the print plan in it; read the head and "
            "the start block of one .gcode file, print it, stay with the printer, weigh the panel."
        )
    cautions = "Estimates until proof-loaded. Nozzle, fumes, carbon dust: read its cautions."
    return [*textwrap.wrap(text, WIDTH), *textwrap.wrap(cautions, WIDTH)]


def show_pictures(count: int, folder: Path) -> None:
    """Print where the pictures are."""
    show(f"Drew {count} pictures into {folder}")


def open_in_browser(page: Path) -> None:
    """Show a page in the browser that the system names; where there is none, say where it is."""
    import webbrowser

    try:
        shown = webbrowser.open(page.resolve().as_uri())
    except (webbrowser.Error, OSError):
        shown = False
    if not shown:
        say(f"wingpath: no browser could be started; open this file yourself: {page}")


def _step_line(step: Mapping[str, Any] | None) -> str:
    if step is None:
        return ""
    solids = [*step["parts"], *step["pieces"]]
    exact = sum(solid["exact"] for solid in solids)
    return f"{' and '.join(step['files'])}: {exact} of {len(solids)} solids are exact; see report.json."


def _turning_line(parts: list[dict[str, Any]]) -> str:
    turns = [(part["panel"], _turn_deg(part)) for part in parts]
    told = ", ".join(f"{name} by {turn:g} deg" for name, turn in turns if turn)
    if not told:
        return ""
    return (
        "Some parts have to lie turned on the bed. The G-code is turned already; if you place an STL or 3MF "
        f"file yourself, turn the left hand anticlockwise, the right hand clockwise: {told}."
    )


def _turn_deg(part: Mapping[str, Any]) -> float:
    """Return how far the G-code is turned, brim and all, as the print plan tells; else the bare part."""
    made = part["printing"]
    return float(part["turn_on_bed_deg"] if made is None else made["turn_on_bed_deg"])


def _mass_line(half: Mapping[str, Any], bands: Mapping[str, Any]) -> str:
    mass, share = half["printed_mass_g"], bands["printed_mass_share"]
    known = "calibrated" if bands["calibrated"] else "not calibrated"
    return (
        f"One half wing: {mass:.1f} g printed, {mass * (1.0 - share):.1f} to {mass * (1.0 + share):.1f} g as "
        f"far as the filament is known ({known}), {half['path_m']:.0f} m of bead."
    )


def _strength_line(strength: Mapping[str, Any] | None, missing: str | None) -> str:
    if strength is None:
        return f"Stiffness and strength: {missing}."
    text = f"By estimate {strength['mass_g']:.1f} g with tubes and all on board; {strength['verdict']}"
    limit, twist = strength["tip_deflection_limit_mm"], strength["twist_deg_per_n_m"]
    if limit is not None:
        text += f"; the tip goes up {limit:{'.1f' if limit < 10.0 else '.0f'}} mm at the limit"
    if twist is not None:
        text += f"; it twists {twist:.1f} deg per N m at the tip"
    return f"{text}."


def _printing_line(printing: Mapping[str, Any], *, too_big: bool) -> str:
    if not printing["files"]:
        return f"No G-code: no part {'fits the printer' if too_big else 'has an unbroken path'}."
    hours = printing["print_time_s"] / 3600.0
    text = (
        f"All {printing['files']} G-code files: {hours:.0f} h of printing without heating up, "
        f"{printing['filament_m']:.0f} m or {printing['extruded_mass_g']:.0f} g of filament with brims, "
        f"{100.0 * printing['spool_share']:.0f} per cent of a spool"
    )
    cost = printing["cost"]
    return f"{text}, {cost:.2f} at your price." if cost is not None else f"{text}."
