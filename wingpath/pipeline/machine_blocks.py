"""The start and end blocks of a printer as a file gets them, and where they take the nozzle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from wingpath.core.findings import Finding
from wingpath.io.gcode_reader import moves_of_block
from wingpath.model.printer_blocks import block_values, fill_block
from wingpath.pipeline.print_setup import PrintSetup
from wingpath.pipeline.tracing import PartPath

__all__ = ["block_findings", "filled_blocks"]

OVER_MM = 0.05
"""The nozzle may leave the bed or sink into it by this much: rounding, and a probe's own offset [mm]."""


def filled_blocks(path: PartPath, setup: PrintSetup) -> tuple[str, str]:
    """Return the start and the end block that the file of a part gets.

    Parameters
    ----------
    path : PartPath
        The part's path.
    setup : PrintSetup
        What it is printed with.
    """
    printer, tool = setup.printer, path.toolpath
    values = block_values(
        printer,
        setup.filament,
        setup.settings,
        start_temperature_c=float(tool.temperature_c[0]),
        top_mm=float(tool.points[-1, 2]),
    )
    return fill_block(printer.start_block, values), fill_block(printer.end_block, values)


def block_findings(paths: Sequence[PartPath], setup: PrintSetup) -> list[Finding]:
    """Say where the blocks around a print take the nozzle off the bed, over the top or into the bed.

    The start block is taken to begin over the middle of the bed, at its height; the end block over the
    middle of the bed, at the top of the highest part. What homing and commands of one firmware do is not
    known.

    Parameters
    ----------
    paths : sequence of PartPath
        The paths of all parts; nothing is said without one.
    setup : PrintSetup
        What they are printed with.
    """
    if not paths:
        return []
    highest = max(paths, key=lambda path: float(path.toolpath.points[-1, 2]))
    start, end = filled_blocks(highest, setup)
    top_mm = float(highest.toolpath.points[-1, 2])
    return [
        *_strays(start, "start_block", setup, height_mm=0.0),
        *_strays(end, "end_block", setup, height_mm=top_mm),
    ]


def _strays(block: str, key: str, setup: PrintSetup, *, height_mm: float) -> Iterator[Finding]:
    printer = setup.printer
    middle_x, middle_y = printer.centre_mm
    moves = moves_of_block(block, begin_mm=(middle_x, middle_y, height_mm))
    if not len(moves):
        return
    low, high = moves.reach(slice(0, len(moves)))
    half_x, half_y = printer.bed_x_mm / 2.0, printer.bed_y_mm / 2.0
    limits = (
        (middle_x - half_x, middle_x + half_x),
        (middle_y - half_y, middle_y + half_y),
        (0.0, printer.height_mm),
    )
    # only what a line itself moves can be its fault
    for axis, (least, most) in enumerate(limits):
        moved = (low[:, axis] != moves.start[:, axis]) | (high[:, axis] != moves.start[:, axis])
        under, over = least - low[:, axis], high[:, axis] - most
        beyond = np.where(moved, np.maximum(under, over), 0.0)
        bad = np.flatnonzero(beyond > OVER_MM)
        if not len(bad):
            continue
        worst = bad[np.argmax(beyond[bad])]
        letter = "XYZ"[axis]
        value = low[worst, axis] if under[worst] > over[worst] else high[worst, axis]
        crash = axis == 2 and under[worst] > OVER_MM
        others = len(set(moves.line[bad].tolist())) - 1
        more = f"; so do {others} other lines" if others > 1 else "; so does 1 other line" if others else ""
        yield Finding(
            "block-off-bed",
            "error" if crash else "warning",
            f"line {moves.line[worst]} of printer.{key} takes the nozzle to {letter} = {value:.2f} mm, "
            + ("into the bed" if crash else f"and this printer goes from {least:g} to {most:g} mm")
            + more,
            f"change the line in printer.{key}"
            + ("" if crash else ", or leave it if you know that your machine can go there"),
            found=float(value),
            limit=float(least if under[worst] > over[worst] else most),
            unit="mm",
        )
