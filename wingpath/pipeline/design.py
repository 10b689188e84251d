"""From a spec to a design: everything it names looked up and placed, nothing cut yet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wingpath.build.aileron_placing import ailerons_from_spec, refuse_cramped_ailerons
from wingpath.build.bay_placing import bays_from_spec, refuse_cramped_bays, refuse_cut_bays
from wingpath.build.bore_room import refuse_close_bores
from wingpath.build.covers import Cover, covers_of_bays
from wingpath.build.fittings import bores_from_spec, pins_from_spec
from wingpath.build.limits import Limits
from wingpath.build.solid import CutSettings, Voids, WingBody
from wingpath.build.support import carried_mm
from wingpath.build.tip import tip_cap
from wingpath.core.errors import DesignError, SpecError
from wingpath.geometry.airfoil import Airfoil
from wingpath.io.profile_store import load_airfoil, load_filament, load_printer, load_tube
from wingpath.io.spec_toml import load_spec
from wingpath.model.clearances import with_clearances
from wingpath.model.panels import PanelRange, plan_panels
from wingpath.model.printing_checks import refuse_unfit_settings
from wingpath.model.profiles import (
    FilamentProfile,
    PrinterProfile,
    TubeMaterial,
    with_filament_overrides,
    with_printer_overrides,
    with_tube_overrides,
)
from wingpath.model.ribs import rib_planes, web_planes
from wingpath.model.spec import Spec
from wingpath.model.wing import Wing, wing_from_spec
from wingpath.pipeline.print_setup import PrintSetup

__all__ = ["WingDesign", "design_wing", "tube_materials"]

STEEPEST_GROWTH_DEG = 45.0
"""Walls grow no faster than one layer height sideways a layer, whatever the filament could do [deg]."""


@dataclass(frozen=True, slots=True, eq=False)
class WingDesign:
    """A spec with everything it names looked up and placed; nothing is cut yet."""

    spec: Spec
    wing: Wing
    body: WingBody
    printer: PrinterProfile
    filament: FilamentProfile
    voids: Voids
    panels: tuple[PanelRange, ...]
    covers: tuple[Cover, ...] = ()

    @property
    def cut_settings(self) -> CutSettings:
        """How slots are cut, from the spec and the filament."""
        lean = min(self.filament.overhang_limit_deg, STEEPEST_GROWTH_DEG)
        rise = float(np.tan(np.deg2rad(lean)))
        return CutSettings(
            bead_mm=self.spec.bead_mm,
            width_mm=self.spec.slots.width_mm,
            neck_mm=self.spec.neck_mm,
            rise=rise,
            carried_mm=carried_mm(bead_mm=self.spec.bead_mm, bond_mm=self.limits.bond_mm),
            layer_mm=self.spec.print.layer_mm,
            angle_deg=self.spec.ribs.angle_deg,
            windows=self.spec.windows(rise=rise),
        )

    @property
    def limits(self) -> Limits:
        """What the layers are held against, from the filament and the print settings."""
        settings = self.spec.print
        return Limits(
            bond_mm=self.filament.bonded_gap_mm(
                bead_mm=settings.bead_mm, flow=settings.flow, temperature_c=settings.temperature_c
            ),
            overhang_deg=self.filament.overhang_limit_deg,
            bridge_mm=self.filament.bridge_limit_mm,
        )

    @property
    def print_setup(self) -> PrintSetup:
        """What the paths of its parts are made with."""
        return PrintSetup(
            self.spec.print,
            self.printer,
            self.filament,
            slot_mm=self.spec.slots.width_mm,
            bond_mm=self.limits.bond_mm,
        )


def design_wing(spec: Spec | str | Path, *, base_dir: Path | None = None) -> WingDesign:
    """Look up and place everything a spec names.

    Parameters
    ----------
    spec : Spec or path
        The spec, or the TOML file that holds it.
    base_dir : Path, optional
        Folder that the spec's paths are relative to; the file's own folder for a file.

    Raises
    ------
    SpecError, DesignError, AirfoilFileError
        When the spec or what it names is wrong, or cannot be printed.
    FileAccessError
        When a file cannot be read.
    """
    if not isinstance(spec, Spec):
        base_dir = Path(spec).resolve().parent if base_dir is None else base_dir
        source = str(spec)
        try:
            return _placed(load_spec(spec), base_dir)
        except SpecError as error:
            raise error.of_spec_file(source) from None
    return _placed(spec, Path.cwd() if base_dir is None else base_dir)


def _placed(spec: Spec, folder: Path) -> WingDesign:
    printer = with_printer_overrides(load_printer(spec.printer.profile, base_dir=folder), spec.printer)
    filament = with_filament_overrides(load_filament(spec.filament.profile, base_dir=folder), spec.filament)
    spec = with_clearances(spec, filament)
    refuse_unfit_settings(spec.print, printer=printer, filament=filament)
    # not needed to place anything, but a wrong name is told before the work is done
    tube_materials(spec, base_dir=folder)
    wing = wing_from_spec(spec, _airfoil_finder([station.airfoil for station in spec.stations], folder))
    closed = spec.wing.tip == "closed"
    cap = tip_cap(wing, bead_mm=spec.bead_mm, layer_mm=spec.print.layer_mm) if closed else None
    body = WingBody(wing, cap)
    webs = web_planes(spec, wing)
    bays = bays_from_spec(spec, wing, body.section)
    bores = bores_from_spec(spec, wing, body.section, bays)
    tip_base = cap.base_mm if cap is not None else wing.semi_span_mm
    panels = plan_panels(spec, wing, printer, tip_base_mm=tip_base)
    if cap is not None and len(panels) > 1 and panels[-1].start_mm >= cap.base_mm:
        raise DesignError(
            ("panels.joints_mm", "wing.tip"),
            f"a joint at {panels[-1].start_mm:g} mm lies inside the closed tip, which begins at "
            f"{cap.base_mm:.1f} mm",
            f"Move the joint inboard by {panels[-1].start_mm - cap.base_mm + 5:.0f} mm",
        )
    joints = [panel.start_mm for panel in panels[1:]]
    bores = (*bores, *pins_from_spec(spec, wing, body.section, joints))
    refuse_close_bores(bores, webs, wing, bead_mm=spec.bead_mm)
    refuse_cramped_bays(bays, bores, webs, bead_mm=spec.bead_mm)
    refuse_cut_bays(bays, panels)
    planes = (*rib_planes(spec, wing), *webs)
    ailerons = ailerons_from_spec(spec, wing, body.section, end_mm=tip_base)
    refuse_cramped_ailerons(ailerons, bores, bays, webs, bead_mm=spec.bead_mm)
    voids = Voids(planes, bores, bays, ailerons)
    return WingDesign(spec, wing, body, printer, filament, voids, panels, covers_of_bays(bays))


def tube_materials(spec: Spec, *, base_dir: Path | None = None) -> tuple[TubeMaterial, ...]:
    """Return what each tube of a spec is made of, with what the spec sets instead.

    Raises
    ------
    SpecError
        When there is no such material.
    FileAccessError
        When its file cannot be read.
    """
    return tuple(
        with_tube_overrides(load_tube(tube.material, base_dir=base_dir, key=f"tube[{number}].material"), tube)
        for number, tube in enumerate(spec.tubes)
    )


def _airfoil_finder(names: Sequence[str], folder: Path) -> Callable[[str], Airfoil]:
    found: dict[str, Airfoil] = {}
    for number, name in enumerate(names):
        if name not in found:
            found[name] = load_airfoil(name, base_dir=folder, key=f"station[{number}].airfoil")
    return lambda name: found[name]
