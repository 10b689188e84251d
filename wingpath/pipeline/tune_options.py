"""What `tune` is asked for, looked up and checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from wingpath.core.errors import InputError, Problem, SpecError
from wingpath.io.profile_store import is_shipped, load_filament, load_printer
from wingpath.model.printing_checks import refuse_unfit_settings
from wingpath.model.profiles import HARDLY_FOAMED, FilamentProfile, PrinterProfile, with_printer_overrides
from wingpath.model.spec_base import SpecTable
from wingpath.model.spec_checks import LEAST_SHARE_OF_LAYER
from wingpath.model.spec_printing import BEAD_RANGE_MM, FLOW_RANGE, LAYER_RANGE_MM, PrinterRef, PrintSpec
from wingpath.model.spec_problems import field_problems
from wingpath.tune.window import bead_for_nozzle_mm, layer_for_bead_mm

__all__ = ["NOZZLES_MM", "TuneOptions", "printing_settings", "temperature_list", "tune_options"]

Table = TypeVar("Table", bound=SpecTable)

NOZZLES_MM = (0.25, 0.3, 0.4, 0.5, 0.6, 0.8)
"""Nozzles that are shown side by side: sizes that are commonly sold [mm]."""

NEIGHBOUR_C = 10.0
"""Coupons are made for the temperatures of the filament's list up to this far from the wanted one [°C]."""

SOLID_FLOW = 1.0
"""Flow of filament that does not foam, where none is asked for."""

SAME_C = 0.1
"""Temperatures nearer than this are one [°C]."""

MOST_TEMPERATURES = 12
"""Coupons made at once."""

RESOLUTION_RANGE_MM = (0.0, 0.5)


@dataclass(frozen=True, slots=True)
class TuneOptions:
    """What is tuned.

    Parameters
    ----------
    printer, filament : profiles
        Looked up, the printer with the nozzle that was asked for.
    settings : PrintSpec
        Bead, layer, temperature, flow.
    resolution_mm : float
        How near another program joins outlines; 0 for none [mm].
    filament_path : Path or None
        Where the filament's profile lies, when it is none of those that are shipped.
    """

    printer: PrinterProfile
    filament: FilamentProfile
    settings: PrintSpec
    resolution_mm: float
    filament_path: Path | None = None


def tune_options(
    *,
    nozzle_mm: float | None = None,
    bead_mm: float | None = None,
    layer_mm: float | None = None,
    filament: str = "foaming-pla",
    printer: str = "bed-220",
    temperature_c: float | None = None,
    flow: float | None = None,
    resolution_mm: float = 0.0,
    base_dir: Path | None = None,
) -> TuneOptions:
    """Look up and check what is tuned.

    Parameters
    ----------
    nozzle_mm : float, optional
        Nozzle diameter; by default the printer's [mm].
    bead_mm, layer_mm : float, optional
        Bead width and layer height; by default by the nozzle [mm].
    filament, printer : str
        Names of profiles, or paths.
    temperature_c, flow : float, optional
        Of the nozzle [°C], extruded over nominal volume; by default what a calibrated filament was measured
        at, else those of a spec, and flow 1 for filament that does not foam.
    resolution_mm : float
        How near another program that lays paths joins outlines [mm].
    base_dir : Path, optional
        Folder that paths are relative to.

    Raises
    ------
    SpecError
        With every option that is wrong.
    """
    low, high = RESOLUTION_RANGE_MM
    if not low <= resolution_mm <= high:
        raise InputError(f"--resolution-mm: got {resolution_mm:g}; allowed: {low:g} to {high:g} mm")
    machine = load_printer(printer, key="--printer", base_dir=base_dir, allow_outside=True)
    plastic = load_filament(filament, key="--filament", base_dir=base_dir, allow_outside=True)
    if nozzle_mm is not None:
        machine = with_printer_overrides(machine, _checked(PrinterRef, {"nozzle_mm": nozzle_mm}))
    defaults = PrintSpec()
    foams = max(row.ratio for row in plastic.foaming) > HARDLY_FOAMED
    record = plastic.calibration
    least, most = BEAD_RANGE_MM
    usual = min(max(bead_for_nozzle_mm(machine.nozzle_mm), least), most)
    bead = _checked(PrintSpec, {"bead_mm": usual if bead_mm is None else bead_mm}).bead_mm
    given: dict[str, Any] = {
        "bead_mm": bead,
        "layer_mm": min(layer_for_bead_mm(bead), LAYER_RANGE_MM[1]) if layer_mm is None else layer_mm,
        "temperature_c": temperature_c,
        "flow": flow,
    }
    for key, known, plain in (
        ("temperature_c", record.temperature_c[0] if record else None, defaults.temperature_c),
        ("flow", record.flow[0] if record else None, defaults.flow if foams else SOLID_FLOW),
    ):
        if given[key] is None:
            given[key] = plain if known is None else known
    if temperature_c is None:
        given["temperature_c"] = min(
            max(given["temperature_c"], plastic.temperature_min_c), plastic.temperature_max_c
        )
    settings = _checked(PrintSpec, given)
    highest = LEAST_SHARE_OF_LAYER * settings.bead_mm
    if settings.layer_mm > highest + 1e-9:
        raise SpecError(
            "options",
            [
                Problem(
                    "--layer-mm",
                    f"{settings.layer_mm:g} mm",
                    f"at most {LEAST_SHARE_OF_LAYER:g} of the bead width, {highest:.3g} mm here",
                    "A higher bead has no flanks and does not stick",
                )
            ],
        )
    try:
        refuse_unfit_settings(settings, printer=machine, filament=plastic)
    except SpecError as error:
        # where a spec has keys, this command has options
        named = [
            replace(problem, key=problem.key.replace("print.temperature_c", "--temperature-c"))
            for problem in error.problems
        ]
        raise SpecError("options", named) from None
    path = None if is_shipped("filaments", filament) else (base_dir or Path()) / filament
    return TuneOptions(machine, plastic, settings, resolution_mm, path)


def _checked(table: type[Table], given: dict[str, Any]) -> Table:
    try:
        return table.model_validate(given)
    except ValidationError as error:
        problems = [
            Problem(f"--{problem.key.replace('_', '-')}", problem.got, problem.allowed, problem.hint)
            for problem in field_problems(table, error.errors(include_url=False))
        ]
        raise SpecError("options", problems) from None


def temperature_list(options: TuneOptions, asked: Sequence[float] | None) -> tuple[float, ...]:
    """Return the temperatures that coupons are made for, the wanted one first [°C].

    Parameters
    ----------
    options : TuneOptions
        What is tuned.
    asked : sequence of float, optional
        Other temperatures than those of the filament's own list near the wanted one.

    Raises
    ------
    SpecError
        When the filament does not bear one of them, or there are too many.
    """
    wanted, filament = options.settings.temperature_c, options.filament
    rows = [row.temperature_c for row in filament.foaming]
    near = [t for t in rows if abs(t - wanted) <= NEIGHBOUR_C] if asked is None else list(asked)
    near = [wanted if abs(t - wanted) < SAME_C else round(t, 1) for t in near]
    low, high = filament.temperature_min_c, filament.temperature_max_c
    odd = [t for t in near if not low <= t <= high]
    if odd:
        listed = ", ".join(f"{t:g}" for t in odd)
        allowed = f"{low:g} to {high:g} °C, what {filament.name} prints at"
        raise SpecError("options", [Problem("--temperatures", f"{listed} °C", allowed)])
    found = (wanted, *sorted({t for t in near if t != wanted}))
    if len(found) > MOST_TEMPERATURES:
        raise SpecError(
            "options", [Problem("--temperatures", f"{len(found)} of them", f"up to {MOST_TEMPERATURES}")]
        )
    return found


def printing_settings(options: TuneOptions, temperature_c: float) -> PrintSpec:
    """Return how the coupon of one temperature is printed: its bead filled as at the wanted one.

    Parameters
    ----------
    options : TuneOptions
        What is tuned.
    temperature_c : float
        Of the nozzle [°C].

    Notes
    -----
    ``flow = wanted fill / ratio``, with the ratio that the filament's table has so far, within what a print
    may have. No brim: the coupon is weighed as it comes off the bed.
    """
    settings, filament = options.settings, options.filament
    flow = settings.flow
    if temperature_c != settings.temperature_c:
        fill = filament.fill(flow=settings.flow, temperature_c=settings.temperature_c)
        flow = round(min(max(fill / filament.foaming_ratio(temperature_c), FLOW_RANGE[0]), FLOW_RANGE[1]), 3)
    return settings.model_copy(update={"temperature_c": temperature_c, "flow": flow, "brim_mm": 0.0})
