"""The tables of the report page: every number with its unit, how well it is known, and by what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

__all__ = ["Table", "bench_lines", "known_by", "number_tables", "plan_steps", "plan_tables"]

WIDE = 0.5
"""A band from here on is told as a factor: half as much is as likely as twice as much."""

MOST_MARGIN = 99.0
"""Margins above this are not told apart."""

S_PER_H = 3600.0


@dataclass(frozen=True, slots=True)
class Table:
    """One table.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Titles of the columns.
    rows : tuple of tuple of str
        Its cells; the first of each row names it.
    words : tuple of int
        Columns that hold words.
    note : str
        Written below.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: tuple[int, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        if any(len(row) != len(self.head) for row in self.rows):
            raise ValueError(
                f"{self.caption}: got rows of {sorted({len(r) for r in self.rows})} cells; "
                f"allowed: {len(self.head)}"
            )


def number_tables(
    document: Mapping[str, Any], numbers: Sequence[tuple[str, str, str, float]]
) -> tuple[Table, ...]:
    """Return the tables of numbers.

    Parameters
    ----------
    document : mapping
        The content of `report.json`.
    numbers : sequence of (str, str, str, float)
        Key, title, unit and value of each number of the assessment that there is.
    """
    tables = [_parts(document)]
    strength = document["strength"]
    if strength is not None:
        tables.append(_known(strength, numbers))
        if strength["margin_details"]:
            tables.append(_margins(strength))
        tables += [_masses(strength), _planform(document, strength)]
    tables += _fittings(document["fittings"])
    return tuple(tables)


def _all_parts(document: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [*document["panels"], *document["control_surfaces"], *document["covers"]]


def _parts(document: Mapping[str, Any]) -> Table:
    rows = tuple(
        (
            part["panel"],
            f"{part['from_mm']:.5g}",
            f"{part['to_mm']:.5g}",
            f"{part['layers']}",
            "one bead" if part["proven"] else "TORN",
            f"{part['ribs']}",
            f"{part['path_m']:.1f}",
            f"{part['printed_mass_g']:.1f}",
            f"{part['airborne_mm']:.1f}",
            f"{part['longest_step_mm']:.2f}",
        )
        for part in _all_parts(document)
    )
    share = document["bands"]["printed_mass_share"]
    mass = document["half_wing"]["printed_mass_g"]
    head = (
        "part", "from mm", "to mm", "layers", "each layer", "ribs", "path m", "mass g", "in the air mm",
        "longest step mm",
    )  # fmt: skip
    known = "calibrated" if document["bands"]["calibrated"] else "not calibrated"
    note = (
        f"Half wing: {mass:.1f} g printed, {mass * (1.0 - share):.1f} to {mass * (1.0 + share):.1f} g as far "
        f"as the filament is known ({known}). In the air: bead with nothing under it, all layers together."
    )
    surfaces = document["fittings"]["control_surfaces"]
    if surfaces:
        made = ", ".join(f"{one['part']} is made from {one['name']}" for one in surfaces)
        note += (
            f" Keys count from 0, parts from 1: {made}, the first [[aileron]] of the spec being aileron[0]."
        )
    return Table("Parts of one half wing", head, rows, note=note)


def _known(strength: Mapping[str, Any], numbers: Sequence[tuple[str, str, str, float]]) -> Table:
    rows = []
    for key, title, unit, value in numbers:
        band = strength["band"].get(key)
        share = "-" if not band else f"{100.0 * band:.0f} %" if band < WIDE else f"factor {1.0 + band:.1f}"
        rows.append(
            (title, value_text(value), unit or "-", share, known_by(key, strength["sources"].get(key)))
        )
    return Table(
        "Mass, stiffness, strength, speed",
        ("number", "value", "unit", "+/-", "known by"),
        tuple(rows),
        words=(4,),
        note="+/-: about 95 per cent of cases, as far as is known. At 20 degrees C.",
    )


def known_by(key: str, source: str | None) -> str:
    """Return by what a number is known, for people.

    Parameters
    ----------
    key : str
        Of the number.
    source : str, optional
        Where it comes from, as the document has it: measured, published or judgement.
    """
    # a formula that is published says less than what goes into it
    return GIVEN.get(key, source or "-") if source else "-"


GIVEN = {"area_dm2": "geometry", "mean_chord_mm": "geometry", "wing_loading_g_dm2": "geometry, your mass"}
"""What follows from the spec alone."""


def value_text(value: float | None) -> str:
    """Return a number as people read it: three digits, or whole ones from a thousand on."""
    if value is None:
        return "-"
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def _margins(strength: Mapping[str, Any]) -> Table:
    ranked = sorted(strength["margin_details"], key=lambda one: (one["value"] is None, one["value"] or 0.0))
    rows = tuple(
        (
            one["title"],
            "-"
            if one["value"] is None
            else f"{one['value']:+.2f}"
            if one["value"] < MOST_MARGIN
            else "over 99",
            f"{one['demand_at_ultimate']:.3g}",
            f"{one['allowable']:.3g}",
            one["unit"],
            one["place"],
            one["source"],
        )
        for one in ranked
    )
    head = ("margin", "value", "asked", "allowed", "unit", "where; load case", "allowable known by")
    return Table(
        "Margins of strength at 1.5 times the limit load",
        head,
        rows,
        words=(5, 6),
        note="Allowed over asked, less 1: 0 just holds, below 0 breaks.",
    )


def _margin_text(value: float | None) -> str:
    return "-" if value is None else f"{value:+.2f}" if value < MOST_MARGIN else "over 99"


def _masses(strength: Mapping[str, Any]) -> Table:
    rows = [
        (
            part["name"],
            f"{part['mass_g']:.1f}",
            *(f"{value:.1f}" for value in (part["centre_mm"][2], part["centre_mm"][0], part["centre_mm"][1])),
        )
        for part in [*strength["masses"]["parts"], strength["masses"]["half_wing"]]
    ]
    shares = strength["masses"]["printed_shares_g"]
    note = (
        f"Printed: skin {shares['skin']:.1f} g, ribs {shares['ribs']:.1f} g, webs {shares['webs']:.1f} g, "
        f"fittings {shares['fittings']:.1f} g; besides, brims of {shares['brim']:.1f} g that you cut off."
    )
    head = ("part", "mass g", "centre: out mm", "aft mm", "up mm")
    return Table("Masses and centres of gravity of one half wing", head, tuple(rows), note=note)


def _planform(document: Mapping[str, Any], strength: Mapping[str, Any]) -> Table:
    rows = tuple(
        (
            f"{station['span_mm']:g}",
            f"{station['chord_mm']:g}",
            f"{station['leading_edge_mm']:g}",
            f"{station['twist_deg']:g}",
            f"{station['thickness_mm']:.1f}",
            station["airfoil"],
        )
        for station in document["wing"]["stations"]
    )
    plan = strength["planform"]
    note = (
        f"Aspect ratio {plan['aspect_ratio']:.1f}; mean chord {strength['mean_chord_mm']:.1f} mm at "
        f"{plan['mean_chord_span_mm']:.0f} mm from the root, its leading edge "
        f"{plan['mean_chord_leading_edge_mm']:.1f} mm behind the root's."
    )
    head = ("span mm", "chord mm", "leading edge mm", "twist deg", "thickness mm", "airfoil")
    return Table("Stations", head, rows, words=(5,), note=note)


def _fittings(fittings: Mapping[str, Any]) -> list[Table]:
    tables = []
    if fittings["bores"]:
        rows = tuple(
            (
                bore["name"],
                " x ".join(f"{size:.2f}" for size in bore["size_mm"]),
                f"{bore['from_mm']:.5g} to {bore['to_mm']:.5g}",
                f"{bore['x_mm'][0]:.2f} to {bore['x_mm'][1]:.2f}",
                f"{bore['y_mm'][0]:.2f} to {bore['y_mm'][1]:.2f}",
            )
            for bore in fittings["bores"]
        )
        head = ("bore", "size mm", "span mm", "aft mm", "up mm")
        tables.append(Table("Bores, tongue slots (tab), ducts, pins: their axes", head, rows))
    surfaces = fittings["control_surfaces"]
    if surfaces:
        rows = tuple(
            (
                f"{one['part']} ({one['name']})",
                f"{one['from_mm']:.1f} to {one['to_mm']:.1f}",
                f"{one['free_up_deg']:.0f} / {one['wanted_up_deg']:g}",
                f"{one['free_down_deg']:.0f} / {one['wanted_down_deg']:g}",
                "-" if one["horn_mm"] is None else f"{one['horn_mm'][2]:.1f} / {one['horn_mm'][0]:.1f}",
            )
            for one in surfaces
        )
        head = (
            "surface",
            "span mm",
            "up: free / wanted deg",
            "down: free / wanted deg",
            "horn: span / aft mm",
        )
        tables.append(Table("Control surfaces", head, rows))
    if fittings["joints"]:
        rows = tuple(
            (
                f"{joint['span_mm']:g}",
                " and ".join(joint["between"]),
                f"{joint['chord_mm']:.1f}",
                f"{joint['glue_line_mm']:.0f}",
                f"{joint['glue_area_mm2']:.0f}",
            )
            for joint in fittings["joints"]
        )
        head = ("joint at mm", "between", "chord mm", "glue line mm", "glue area mm2")
        tables.append(Table("Joints", head, rows, words=(1,)))
    return tables


def bench_lines(fittings: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what a builder needs at the bench: hinges, fits, holes to drill, glue lines.

    Parameters
    ----------
    fittings : mapping
        The `fittings` of a report.
    """
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
    return tuple(lines)


def plan_tables(document: Mapping[str, Any]) -> tuple[Table, ...]:
    """Return the print plan: what each part takes.

    Parameters
    ----------
    document : mapping
        The content of `report.json`.
    """
    rows = []
    for part in _all_parts(document):
        made = part["printing"]
        if made is None:
            rows.append((part["panel"], *(["-"] * 8), "no unbroken path: do not print"))
            continue
        rows.append(
            (
                part["panel"],
                f"{part['height_mm']:.1f}",
                " x ".join(f"{size:.0f}" for size in made["on_bed_mm"]),
                f"{made['turn_on_bed_deg']:g}",
                f"{made['brim_mm']:.1f}",
                f"{made['first_temperature_c']:g}",
                f"{made['print_time_s'] / S_PER_H:.1f}",
                f"{made['filament_mm'] / 1000.0:.1f}",
                f"{made['extruded_mass_g']:.1f}",
                ", ".join(name for name in part["files"] if name.endswith(".gcode")),
            )
        )
    head = (
        "part", "height mm", "on the bed mm", "turned deg", "brim mm", "first layer at degrees C", "hours",
        "filament m", "filament g", "files",
    )  # fmt: skip
    total = document["printing"]
    note = (
        f"All {total['files']} files: {total['print_time_s'] / S_PER_H:.0f} h without heating up, "
        f"{total['filament_m']:.0f} m or {total['extruded_mass_g']:.0f} g of filament with brims, "
        f"{100.0 * total['spool_share']:.0f} per cent of a spool. Time: {total['time_model']}."
    )
    return (Table("Once each part, one hand", head, tuple(rows), words=(9,), note=note),)


def plan_steps(document: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what to do with the files, in order.

    Parameters
    ----------
    document : mapping
        The content of `report.json`.
    """
    if document["counts"]["error"]:
        return ("Do not print yet: first mend what stands under Findings as an error, then build again.",)
    setup = document["print"]
    steps = [
        f"Load {setup['filament']}; these files were made for {setup['printer']}.",
        "Read the head and the start block of one .gcode file: it was written for a size of machine, not for "
        "yours.",
    ]
    if not document["bands"]["calibrated"]:
        steps.append(
            "First wing with this printer and spool? Print the coupon of wingpath tune before: half an hour "
            "tells whether slots fuse and bores fit."
        )
    parts = sorted(_all_parts(document), key=lambda part: float(part["path_m"]))
    which = "the smallest part first" if len(parts) > 1 else "one hand first"
    steps += [
        f"Print {which} ({parts[0]['panel']}), look at it against the light, and weigh it: "
        f"{parts[0]['printed_mass_g']:.1f} g are expected without its brim. Stay with the printer, "
        "ventilate, let the bed cool before you take a part off.",
        "Then the others, each standing as the file has it, panels on their root.",
        "Cut off the brim, weigh each part, write the mass on its root, and hold it against the table.",
        "Fit dry whatever goes in and whatever is joined. Check sections against the drawing at true size. "
        "Then glue.",
        "Proof-load the wing before it flies.",
    ]
    return tuple(steps)
