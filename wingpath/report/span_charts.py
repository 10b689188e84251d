"""The diagrams along the span: chord, mass, stiffness, deflection, margins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import PngCanvas, shortened
from wingpath.report.chart import Chart, ChartLine, draw_chart
from wingpath.report.colours import INK
from wingpath.report.svg_canvas import PageCanvas, SvgCanvas

__all__ = ["charts_page_svgs", "charts_picture", "charts_svg", "span_charts"]

WIDTH_PX, HEIGHT_PX = 560, 300
"""Size of one diagram [px]."""

COLUMNS, TITLE_PX = 2, 48
"""Diagrams abreast in the picture of all, and the height of its title [px]."""

MOST_MARGIN = 5.0
"""Margins above this are of no interest and are left out of the diagram, unless all are larger."""

ROOM_ABOVE = 1.5
"""Where all are larger the diagram reaches up to so many times the least."""

NO_LOADS = "no loads: the spec has no [aircraft] table"


def span_charts(spanwise: Mapping[str, Any]) -> tuple[Chart, ...]:
    """Return the diagrams of a wing.

    Parameters
    ----------
    spanwise : mapping
        The `spanwise` of a report.
    """
    chord, mass = spanwise["chord"], spanwise["mass"]
    stiff, motion, margin = spanwise["stiffness"], spanwise["motion"], spanwise["margin"]
    end = float(chord["span_mm"][-1])
    charts = [
        Chart("chord", "Chord", "mm", (_line("", chord["span_mm"], chord["chord_mm"]),), end),
        Chart(
            "mass",
            "Mass, prints, tubes and all on board",
            "g per 100 mm",
            (_line("", mass["edges_mm"], mass["g_per_100_mm"]),),
            end,
        ),
    ]
    lines: tuple[ChartLine, ...]
    for key, title in (("bending", "Bending stiffness"), ("twisting", "Twisting stiffness")):
        lines = () if stiff is None else (_line("", stiff["edges_mm"], stiff[f"{key}_n_m2"]),)
        charts.append(Chart(key, title, "N m2", lines, end))
    lines = ()
    if motion is not None:
        limit = f"at the limit, load factor {motion['limit_load_factor']:g}"
        lines = (
            _line(limit, motion["span_mm"], motion["deflection_limit_mm"]),
            _line("at load factor 1", motion["span_mm"], motion["deflection_mm_per_g"]),
        )
    charts.append(Chart("deflection", "Deflection, up", "mm", lines, end, missing=NO_LOADS))
    lines = ()
    if margin is not None:
        lines = (
            _line("skin pressed", margin["edges_mm"], margin["skin_compression"]),
            _line("layers pulled apart", margin["edges_mm"], margin["layer_tension"]),
            _line("tubes bent", margin["edges_mm"], margin["tube_bending"]),
        )
        lines = tuple(line for line in lines if np.isfinite(line.values).any())
    least = min((float(np.nanmin(line.values)) for line in lines), default=0.0) if margin is not None else 0.0
    charts.append(
        Chart(
            "margin",
            "Margin of strength at 1.5 x limit, 0 just holds",
            "",
            lines,
            end,
            most=max(MOST_MARGIN, ROOM_ABOVE * least),
            floor=0.0,
            missing=NO_LOADS,
        )
    )
    return tuple(charts)


def charts_picture(charts: Sequence[Chart], *, title: str) -> bytes:
    """Draw diagrams side by side as a PNG.

    Parameters
    ----------
    charts : sequence of Chart
        The diagrams.
    title : str
        Written above.
    """
    canvas = PngCanvas(*_size(charts))
    _draw(canvas, charts, title)
    return canvas.png()


def charts_svg(charts: Sequence[Chart], *, title: str) -> str:
    """Draw diagrams side by side as SVG text; see :func:`charts_picture`."""
    canvas = SvgCanvas(*_size(charts), title=" ".join(chart.words for chart in charts))
    _draw(canvas, charts, title)
    return canvas.svg()


def charts_page_svgs(charts: Sequence[Chart]) -> tuple[str, ...]:
    """Draw each diagram by itself, with the colours of a page."""
    drawn = []
    for chart in charts:
        canvas = PageCanvas(WIDTH_PX, HEIGHT_PX, title=chart.words)
        draw_chart(canvas, chart, (0.0, 0.0, float(WIDTH_PX), float(HEIGHT_PX)))
        drawn.append(canvas.svg())
    return tuple(drawn)


def _size(charts: Sequence[Chart]) -> tuple[int, int]:
    rows = max(1, -(-len(charts) // COLUMNS))
    return COLUMNS * WIDTH_PX, TITLE_PX + rows * HEIGHT_PX


def _draw(canvas: PngCanvas | SvgCanvas, charts: Sequence[Chart], title: str) -> None:
    canvas.text((12.0, 30.0), shortened(title, size=20.0, width=canvas.width - 24.0), INK, size=20.0)
    for number, chart in enumerate(charts):
        row, column = divmod(number, COLUMNS)
        left, top = float(column * WIDTH_PX), float(TITLE_PX + row * HEIGHT_PX)
        draw_chart(canvas, chart, (left, top, left + WIDTH_PX, top + HEIGHT_PX))


def _line(name: str, at_mm: Sequence[float], values: Sequence[float | None]) -> ChartLine:
    return ChartLine(name, np.array(at_mm, float), _floats(values))


def _floats(values: Sequence[float | None]) -> FloatArray:
    return np.array([np.nan if value is None else value for value in values], float)
