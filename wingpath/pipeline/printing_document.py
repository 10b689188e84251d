"""What printing takes, as plain data and as the head of a G-code file."""

from __future__ import annotations

from typing import Any

import numpy as np

from wingpath.build.toolpath import BRIM, LEAD_IN
from wingpath.core.units import S_PER_MIN
from wingpath.model.profiles import FilamentProfile
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.machine_blocks import filled_blocks
from wingpath.pipeline.print_setup import PrintSetup
from wingpath.pipeline.tracing import PartPath
from wingpath.version import __version__

__all__ = [
    "PRINT_CAUTIONS",
    "gcode_header",
    "path_document",
    "path_lines",
    "printing_totals",
    "time_text",
]

PRINT_CAUTIONS = (
    "Nozzle and bed burn skin, and stay hot for minutes after the print.",
    "Foaming filament printed hot gives off fumes and fine particles: ventilate the room.",
    "Never leave a printer alone while it heats or prints; have a smoke alarm and a way to cut the power.",
    "Read the start block below: it was written for a size of machine, not for yours.",
    "All numbers are estimates until the wing has been proof-loaded.",
)
"""What is said at the head of every file that makes a machine hot and moving."""

TIME_MODEL = (
    "one constant acceleration, unlimited look-ahead, changes of velocity at corners up to corner_mm_s at "
    "once; without heating, homing and what the controller adds"
)
"""What the time of a print assumes."""


def time_text(seconds: float) -> str:
    """Return a time as hours and minutes."""
    minutes = round(seconds / S_PER_MIN)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{max(minutes, 1)} min"


def path_document(path: PartPath | None, filament: FilamentProfile) -> dict[str, Any] | None:
    """Return what printing one part once takes; None for a part without a path."""
    if path is None:
        return None
    tool = path.toolpath
    length, part = tool.length_mm, tool.of_part
    return {
        "style": "helical" if tool.helical_from < len(tool.temperature_c) else "stepped",
        "flat_layers": min(tool.helical_from, len(tool.temperature_c)),
        "moves": len(tool),
        "path_tolerance_mm": _rounded(path.tolerance_mm),
        "loops_m": _rounded(path.loops_mm / 1000.0),
        "steps_mm": _rounded(float(length[part].sum()) - path.loops_mm),
        "brim_mm": _rounded(path.brim_mm),
        "brim_loops": path.brim.loops,
        "brim_path_mm": _rounded(float(length[tool.layer == BRIM].sum())),
        "lead_in_mm": _rounded(float(length[tool.layer == LEAD_IN].sum())),
        "slenderness": _rounded(path.slenderness),
        "turn_on_bed_deg": path.place.turn_deg,
        "on_bed_mm": [_rounded(path.place.size_x_mm), _rounded(path.place.size_y_mm)],
        "print_time_s": round(path.time_s, 1),
        "filament_mm": _rounded(path.filament_mm),
        "filament_volume_mm3": _rounded(float(tool.volume_mm3.sum())),
        "extruded_mass_g": _rounded(path.extruded_mass_g),
        "printed_mass_g": _rounded(path.printed_mass_g),
        "spool_share": _rounded(path.extruded_mass_g / filament.spool_g),
        "cost": _cost(filament, path.extruded_mass_g),
        "slowest_mm_s": _rounded(float(tool.speed_mm_s.min())),
        "fastest_mm_s": _rounded(float(tool.speed_mm_s.max())),
        "first_temperature_c": float(tool.temperature_c[0]),
        "first_flow": _rounded(float(tool.flow[part][0])),
    }


def printing_totals(build: WingBuild) -> dict[str, Any]:
    """Return what printing every file of a build takes, all hands together."""
    paths = [part.path for part in build.parts if part.path is not None]
    hands = len(build.hands)
    blocks = filled_blocks(paths[0], build.design.print_setup) if paths else ("", "")
    mass = hands * sum(path.extruded_mass_g for path in paths)
    return {
        "files": hands * len(paths),
        "print_time_s": round(hands * sum(path.time_s for path in paths), 1),
        "filament_m": _rounded(hands * sum(path.filament_mm for path in paths) / 1000.0),
        "extruded_mass_g": _rounded(mass),
        "spool_share": _rounded(mass / build.design.filament.spool_g),
        "spool_g": build.design.filament.spool_g,
        "cost": _cost(build.design.filament, mass),
        "time_model": TIME_MODEL,
        "start_block": blocks[0],
        "end_block": blocks[1],
    }


def _cost(filament: FilamentProfile, mass_g: float) -> float | None:
    price = filament.price_per_kg
    return None if price is None else round(price * mass_g / 1000.0, 2)


def gcode_header(build: WingBuild, part: PanelResult, path: PartPath, hand: str) -> tuple[str, ...]:
    """Return what a person wants to read at the printer, line by line."""
    design = build.design
    panel = part.solid.panel
    lines = [
        f"wingpath {__version__}: one bead from the first line to the last layer, no travel",
        f"name: {design.spec.name}",
        f"part: {part.name}, {hand} hand, {panel.start_mm:.4g} to {panel.end_mm:.4g} mm from the root",
        *path_lines(path, design.print_setup),
    ]
    errors = sum(finding.severity == "error" for finding in part.findings)
    if errors:
        count = "1 error was" if errors == 1 else f"{errors} errors were"
        lines.append(f"DO NOT PRINT: {count} found in this part, see report.json")
    return (*lines, *(f"caution: {caution}" for caution in PRINT_CAUTIONS))


def path_lines(path: PartPath, setup: PrintSetup) -> list[str]:
    """Return what there is to say about the path of any part, line by line."""
    settings, filament, printer, tool = setup.settings, setup.filament, setup.printer, path.toolpath
    facts = path_document(path, filament) or {}
    lines = [
        f"height: {len(tool.temperature_c) * tool.layer_mm:.2f} mm, {len(tool.temperature_c)} layers of "
        f"{tool.layer_mm:g} mm, bead {tool.bead_mm:g} mm, {facts['style']}",
        f"mass: {path.printed_mass_g:.1f} g without the brim, {path.extruded_mass_g:.1f} g of filament",
        f"time: {time_text(path.time_s)}, without heating up",
        f"filament: {path.filament_mm / 1000.0:.2f} m of {printer.filament_diameter_mm:g} mm, "
        f"{100.0 * facts['spool_share']:.1f} per cent of a spool of {filament.spool_g:g} g: "
        f"{filament.title}",
        f"heat: {_heat(tool.temperature_c)}, bed {filament.bed_temperature_c:g} C",
        f"flow: {settings.flow:g} of the bead's volume, bead section (w - h) h + pi h^2 / 4",
        f"brim: {path.brim_mm:.1f} mm, {path.brim.loops} turns",
        f"printer: {printer.title}; the part is {path.place.size_x_mm:.0f} x "
        f"{path.place.size_y_mm:.0f} mm on the bed, brim included, without the "
        "line beside it that fills the nozzle",
    ]
    if facts["cost"] is not None:
        lines.append(f"cost: {facts['cost']:.2f} at {filament.price_per_kg:g} a kilogram")
    return lines


def _heat(temperature_c: np.ndarray) -> str:
    low, high = float(temperature_c[0]), float(temperature_c[-1])
    return f"{low:g} C" if low == high else f"{low:g} C at the bed, {high:g} C above"


def _rounded(value: float) -> float:
    return round(float(value), 4)
