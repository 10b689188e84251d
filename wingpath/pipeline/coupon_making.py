"""Coupons made and proven: the same layers, judge and path as a wing's."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from wingpath.build.continuity import Continuity, judge_layers
from wingpath.build.layers import layers_of_mesh
from wingpath.build.limits import Limits
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding, sort_findings
from wingpath.geometry.mesh import Mesh
from wingpath.io.coupon_output import write_coupon_files
from wingpath.io.gcode import GcodeJob
from wingpath.io.measurements_toml import CouponLine, measurements_template
from wingpath.model.panels import place_on_bed
from wingpath.model.spec_printing import PrintSpec
from wingpath.pipeline.machine_blocks import block_findings
from wingpath.pipeline.print_setup import PrintSetup
from wingpath.pipeline.printing_document import PRINT_CAUTIONS, path_lines
from wingpath.pipeline.progress import Progress, silent
from wingpath.pipeline.tracing import PartPath, trace_part
from wingpath.pipeline.tune_options import TuneOptions, printing_settings, temperature_list
from wingpath.pipeline.writing import path_job
from wingpath.report.sheet import SheetFacts, coupon_sheet
from wingpath.tune.coupon_plan import CouponPlan, coupon_plan
from wingpath.tune.coupon_solid import coupon_mesh
from wingpath.version import __version__

__all__ = ["CouponPrint", "Coupons", "make_coupons", "write_coupons"]

MEANT = frozenset({"open-slot", "steep"})
"""What the coupon has on purpose: slots too wide to fuse, walls that lean too far."""

TOO_LONG_S = 1800.0
"""A coupon should print in half an hour [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class CouponPrint:
    """The coupon at one temperature: settings and path."""

    settings: PrintSpec
    path: PartPath
    setup: PrintSetup

    @property
    def stem(self) -> str:
        """Name of its file without ending."""
        return f"coupon-{self.settings.temperature_c:g}"


@dataclass(frozen=True, slots=True, eq=False)
class Coupons:
    """One shape, and how it is printed at each temperature.

    Parameters
    ----------
    options : TuneOptions
        What is tuned.
    plan : CouponPlan
        Its steps and sizes.
    mesh : Mesh
        Its surface [mm].
    continuity : Continuity
        Its judged layers.
    prints : tuple of CouponPrint
        One a temperature, the wanted one first.
    findings : tuple of Finding
        What there is to say, worst first.
    """

    options: TuneOptions
    plan: CouponPlan
    mesh: Mesh
    continuity: Continuity
    prints: tuple[CouponPrint, ...]
    findings: tuple[Finding, ...]


def make_coupons(
    options: TuneOptions,
    *,
    tube_mm: float = 6.0,
    tab_mm: float = 3.0,
    temperatures_c: Sequence[float] | None = None,
    progress: Progress = silent,
) -> Coupons:
    """Make the coupon and its path at each temperature.

    Parameters
    ----------
    options : TuneOptions
        What is tuned.
    tube_mm, tab_mm : float
        Outside diameter of the tube, thickness of the tongue that are tried in it [mm].
    temperatures_c : sequence of float, optional
        Other temperatures than those of the filament's list near the wanted one [°C].
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    InputError
        When a size is out of range, or the coupon does not fit the printer.
    """
    printer, filament, settings = options.printer, options.filament, options.settings
    temperatures = temperature_list(options, temperatures_c)
    plan = coupon_plan(
        nozzle_mm=printer.nozzle_mm,
        bead_mm=settings.bead_mm,
        layer_mm=settings.layer_mm,
        tube_mm=tube_mm,
        tab_mm=tab_mm,
    )
    progress("making the coupon", 0.05)
    mesh = coupon_mesh(plan)
    layers = layers_of_mesh(mesh, layer_mm=settings.layer_mm, bead_mm=settings.bead_mm)
    progress("judging its layers", 0.2)
    bond = filament.bonded_gap_mm(
        bead_mm=settings.bead_mm, flow=settings.flow, temperature_c=settings.temperature_c
    )
    limits = Limits(
        bond_mm=bond, overhang_deg=filament.overhang_limit_deg, bridge_mm=filament.bridge_limit_mm
    )
    continuity = judge_layers(layers, limits, strict=False)
    said = [finding for finding in continuity.findings if finding.code not in MEANT]
    prints = []
    for number, temperature in enumerate(temperatures):
        progress(f"path at {temperature:g} °C", 0.4 + 0.6 * number / len(temperatures))
        own = printing_settings(options, temperature)
        # every slot counts, so outlines are followed as closely as they are known
        setup = PrintSetup(own, printer, filament, slot_mm=bond, bond_mm=bond)
        path, found = trace_part(setup, continuity, continuity.findings)
        if path is None:
            bed = place_on_bed(mesh.vertices[:, :2], printer)
            raise InputError(
                f"the coupon of {bed.size_x_mm:.0f} x {bed.size_y_mm:.0f} mm is too large for the bed of "
                f"{printer.name}, {printer.usable_x_mm:g} x {printer.usable_y_mm:g} mm inside its margin. "
                "Choose a smaller tube_mm or tab_mm, a narrower bead or a larger printer"
            )
        prints.append(CouponPrint(own, path, setup))
        said += [finding for finding in found if number == 0]
    said += list(_long(prints))
    said += block_findings([prints[0].path], prints[0].setup)
    progress("coupon made", 1.0)
    return Coupons(options, plan, mesh, continuity, tuple(prints), sort_findings(said))


def _long(prints: Sequence[CouponPrint]) -> list[Finding]:
    longest = max(one.path.time_s for one in prints)
    if longest <= TOO_LONG_S:
        return []
    return [
        Finding(
            "long-print",
            "note",
            f"the coupon takes {longest / 60.0:.0f} minutes",
            "try a smaller tube, or a lower bead and a higher layer",
            found=longest / 60.0,
            limit=TOO_LONG_S / 60.0,
            unit="min",
        )
    ]


def write_coupons(coupons: Coupons, folder: str | Path, *, force: bool = False) -> tuple[Path, ...]:
    """Write mesh, paths, the sheet and the file to fill in, all files or none.

    Parameters
    ----------
    coupons : Coupons
        What was made.
    folder : path
        Where to; it is made if it does not exist.
    force : bool
        Replace the files of an earlier run in that folder.

    Raises
    ------
    OutputExistsError, FileAccessError
        See :func:`wingpath.io.output_folder.write_folder`.
    """
    options, plan = coupons.options, coupons.plan
    lines = [
        CouponLine(
            temperature_c=one.settings.temperature_c,
            flow=one.settings.flow,
            filament_mm3=float(one.path.toolpath.volume_mm3[one.path.toolpath.of_part].sum()),
        )
        for one in coupons.prints
    ]
    template = measurements_template(plan, lines, filament=_filament_ref(options, Path(folder)))
    sheet = coupon_sheet(
        plan,
        SheetFacts(
            printer=options.printer.title,
            filament=options.filament.title,
            temperatures_c=tuple(line.temperature_c for line in lines),
            flows=tuple(line.flow for line in lines),
            minutes=max(one.path.time_s for one in coupons.prints) / 60.0,
            mass_g=coupons.prints[0].path.printed_mass_g,
            modulus_mpa=options.filament.foam_modulus_mpa(options.settings.temperature_c),
            strip_mm=plan.bead_mm * (1.0 + _fill(options)),
        ),
    )
    jobs = {one.stem: _job(coupons, one) for one in coupons.prints}
    return write_coupon_files(
        Path(folder), mesh=coupons.mesh, jobs=jobs, template=template, sheet=sheet, force=force
    )


def _filament_ref(options: TuneOptions, folder: Path) -> str:
    """Return how a file in `folder` names the filament's profile."""
    path = options.filament_path
    if path is None:
        return options.filament.name
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:
        # on another drive, which no way leads to
        return Path(path).absolute().as_posix()


def _fill(options: TuneOptions) -> float:
    settings = options.settings
    return options.filament.fill(flow=settings.flow, temperature_c=settings.temperature_c)


def _job(coupons: Coupons, one: CouponPrint) -> GcodeJob:
    plan = coupons.plan
    header = (
        f"wingpath {__version__}: coupon that tunes slots, bores and numbers; one bead, no travel",
        f"slots {plan.slots[0].size_mm:g} to {plan.slots[-1].size_mm:g} mm, bores for a tube of "
        f"{plan.tube_mm:g} mm with {plan.bores[0].size_mm:g} to {plan.bores[-1].size_mm:g} mm, tongue slots "
        f"for {plan.tab_mm:g} mm; see sheet.html",
        *path_lines(one.path, one.setup),
        *(f"caution: {caution}" for caution in PRINT_CAUTIONS),
    )
    return path_job(one.path, one.setup, hand="left", header=header)
