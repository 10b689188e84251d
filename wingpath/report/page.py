"""The report as one page: it stands alone, works without a network, on a phone, in the dark and on paper.

Every text goes through the template's escaping; what is marked safe there are drawings of our own, numbers
packed as base64 and JSON in which ``<`` is written as an escape (ECMA-404 allows that), so that nothing can
end the element that holds it.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from wingpath.report.packed import packed_text
from wingpath.report.page_colours import colour_rules
from wingpath.report.page_tables import Table, bench_lines

__all__ = ["BUDGET_MB", "PageContent", "report_page"]

BUDGET_MB = 15.0
"""A page of a wing as large as the demo stays below this; the demo takes a fifth of it."""

LIBRARY = "library.txt"
"""The packed library of the three-dimensional view: see hatch_build.py."""

SIGNS = {"error": "NO", "warning": "!", "note": "OK"}
"""What stands in the verdict's box, by the worst severity."""


@dataclass(frozen=True, slots=True)
class PageContent:
    """What the page shows.

    Parameters
    ----------
    document : mapping
        The content of `report.json`.
    planform_svg : str
        The half wing from above.
    charts : tuple of str
        Diagrams along the span as SVG; empty when there is no assessment.
    charts_missing : tuple of str
        What is told in place of diagrams that have no numbers.
    layers, solids : tuple of mapping
        Packed layers and meshes of the parts, each with its `name`.
    findings : tuple of mapping
        The findings with their `layer` in the part that they belong to.
    first_layer : int
        Layer of the first part that is shown first, from 0.
    numbers, plan : tuple of Table
        Tables of numbers and of printing.
    plan_steps : tuple of str
        What to do, in order.
    solid_words : str
        The three-dimensional view in words.
    still : bytes
        A picture of the panels for paper and for browsers without three dimensions; may be empty.
    """

    document: Mapping[str, Any]
    planform_svg: str
    charts: tuple[str, ...]
    charts_missing: tuple[str, ...]
    layers: tuple[Mapping[str, Any], ...]
    solids: tuple[Mapping[str, Any], ...]
    findings: tuple[Mapping[str, Any], ...]
    first_layer: int
    numbers: tuple[Table, ...]
    plan: tuple[Table, ...]
    plan_steps: tuple[str, ...]
    solid_words: str
    still: bytes = b""


def report_page(content: PageContent) -> str:
    """Return the page as HTML.

    Parameters
    ----------
    content : PageContent
        What it shows.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    document = content.document
    loader = PackageLoader("wingpath.report", "web")
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = environment.get_template("report.html.j2")
    strength = document["strength"]
    worst = next((kind for kind in ("error", "warning") if document["counts"][kind]), "note")
    found = [
        {**finding, "place": _place(finding), "number": number}
        for number, finding in enumerate(content.findings)
    ]
    data = {
        "parts": content.layers,
        "solids": content.solids if _library()[0] else (),
        "findings": [
            {
                key: finding[key]
                for key in ("code", "severity", "message", "panel", "layers", "layer", "x_mm", "y_mm")
            }
            for finding in content.findings
        ],
        "first_layer": content.first_layer,
    }
    return template.render(
        name=document["name"],
        from_words=_from_words(document),
        verdict=document["verdict"],
        strength_verdict=None if strength is None else strength["verdict"],
        worst=worst,
        sign=SIGNS[worst],
        counts_words=_counts_words(document["counts"]),
        planform_svg=content.planform_svg,
        charts=content.charts,
        charts_missing=content.charts_missing,
        no_charts=f"No numbers along the span: {document['strength_missing'] or 'not worked out'}.",
        numbers=content.numbers,
        plan=content.plan,
        plan_steps=content.plan_steps,
        blocks=_blocks(document["printing"]),
        bench=bench_lines(document["fittings"]),
        loud=[one for one in found if one["severity"] != "note"],
        quiet=[one for one in found if one["severity"] == "note"],
        cautions=document["cautions"],
        solid_words=content.solid_words,
        still=base64.b64encode(content.still).decode("ascii"),
        version=document["wingpath_version"],
        library_words=_library()[1],
        style=colour_rules() + loader.get_source(environment, "report.css")[0],
        data=json.dumps(data, allow_nan=False, separators=(",", ":")).replace("<", "\\u003c"),
        library=_library()[0],
        script=loader.get_source(environment, "report.js")[0],
    ).lstrip()


@cache
def _library() -> tuple[str, str]:
    """Return the packed library of the three-dimensional view, and whose it is; nothing where there is none.

    An installed wheel carries it; a bare copy of the sources takes it from the package that it comes from.
    """
    from jinja2 import Environment, PackageLoader, TemplateNotFound

    try:
        text = PackageLoader("wingpath.report", "web").get_source(Environment(autoescape=True), LIBRARY)[0]
        version, packed = text.split()
    except TemplateNotFound:
        try:
            import plotly
            from plotly.offline import get_plotlyjs
        except ImportError:
            return "", "No 3-D view: these sources were never installed."
        version, packed = plotly.__version__, packed_text(get_plotlyjs().encode("utf-8"))
    return packed, f"3-D view: plotly.js of plotly {version}, MIT licence, embedded."


def _from_words(document: Mapping[str, Any]) -> str:
    wing, setup = document["wing"], document["print"]
    hands = " and ".join(wing["hands"])
    return (
        f"From {document['spec']}: half span {wing['semi_span_mm']:g} mm, both halves {wing['area_dm2']:.1f} "
        f"dm2, {hands} hand; {setup['filament']}, bead {setup['bead_mm']:g} mm, layers "
        f"{setup['layer_mm']:g} mm."
    )


def _counts_words(counts: Mapping[str, int]) -> str:
    told = [f"{count} {kind}{'s' if count != 1 else ''}" for kind, count in counts.items() if count]
    return f"Found: {', '.join(told)}." if told else "Nothing was found."


def _place(finding: Mapping[str, Any]) -> str:
    told: list[str] = [] if finding["panel"] is None else [str(finding["panel"])]
    layers: Sequence[int] | None = finding["layers"]
    if layers is not None:
        first, last = layers
        told.append(f"layer {first}" if first == last else f"layers {first} to {last}")
    spot = [
        f"{axis} {finding[key]:.1f}"
        for axis, key in (("z", "z_mm"), ("x", "x_mm"), ("y", "y_mm"))
        if finding[key] is not None
    ]
    if spot:
        told.append(f"worst at {' '.join(spot)} mm")
    return ", ".join(told)


def _blocks(printing: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Return what stands in the files before and after the path, each with its title."""
    blocks = (("Before", printing["start_block"].strip()), ("After", printing["end_block"].strip()))
    return tuple((title, text) for title, text in blocks if text)
