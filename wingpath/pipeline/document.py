"""The document of a build as plain data: every number with its unit in the key."""

from __future__ import annotations

from typing import Any

from wingpath.build.bead import bead_area_mm2, printed_mass_g
from wingpath.core.findings import count_severities
from wingpath.core.units import MM2_PER_DM2
from wingpath.pipeline.bands_document import bands_document
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.cautions import CAUTIONS
from wingpath.pipeline.fittings_document import fittings_document
from wingpath.pipeline.printing_document import path_document, printing_totals
from wingpath.pipeline.stepping import StepParts
from wingpath.tune.bands import bands_of
from wingpath.version import __version__

__all__ = ["build_document", "build_verdict"]


def build_document(build: WingBuild, *, spec_name: str, step: StepParts | None = None) -> dict[str, Any]:
    """Return the content of `report.json`.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    spec_name : str
        Name of the spec's file.
    step : StepParts, optional
        What the STEP files hold, if any are asked for.
    """
    design = build.design
    spec, wing, settings = design.spec, design.wing, design.spec.print
    panels = [_panel(build, panel) for panel in build.panels]
    surfaces = [_panel(build, surface) for surface in build.surfaces]
    covers = [_panel(build, cover) for cover in build.covers]
    parts = [*panels, *surfaces, *covers]
    return {
        "document": "wingpath build",
        "format": 1,
        "wingpath_version": __version__,
        "spec": spec_name,
        "name": spec.name,
        "verdict": build_verdict(build, errors=count_severities(build.findings)["error"]),
        "proven": build.proven,
        "counts": count_severities(build.findings),
        "wing": {
            "hands": list(build.hands),
            "semi_span_mm": wing.semi_span_mm,
            "area_dm2": _rounded(2.0 * wing.area_mm2 / MM2_PER_DM2),
            "tip": spec.wing.tip,
            "tip_cap_from_mm": None if design.body.cap is None else _rounded(design.body.cap.base_mm),
            "stations": [
                {
                    "span_mm": station.span_mm,
                    "chord_mm": station.chord_mm,
                    "leading_edge_mm": station.leading_edge_mm,
                    "twist_deg": station.twist_deg,
                    "airfoil": station.airfoil,
                    "thickness_mm": _rounded(station.thickness_mm),
                }
                for station in wing.stations
            ],
        },
        "ribs": {
            "run": spec.ribs.run,
            "pitch_mm": spec.least_pitch_mm,
            "pitch_along_mm": None
            if spec.ribs.pitch_along_mm is None
            else [list(pair) for pair in spec.ribs.pitch_along_mm],
            "angle_deg": spec.ribs.angle_deg,
            "stub_mm": spec.ribs.stub_mm,
            "slot_width_mm": spec.slots.width_mm,
            "neck_mm": _rounded(spec.neck_mm),
        },
        "fittings": fittings_document(build),
        "print": {
            "printer": design.printer.title,
            "filament": design.filament.title,
            "calibrated": design.filament.calibrated,
            "bead_mm": settings.bead_mm,
            "layer_mm": settings.layer_mm,
            "flow": settings.flow,
            "temperature_c": settings.temperature_c,
            "speed_mm_s": settings.speed_mm_s,
            "style": settings.style,
            "slot_bond_mm": _rounded(design.limits.bond_mm),
        },
        "panels": panels,
        "control_surfaces": surfaces,
        "covers": covers,
        "half_wing": {
            "path_m": _rounded(sum(part["path_m"] for part in parts)),
            "printed_mass_g": _rounded(sum(part["printed_mass_g"] for part in parts)),
        },
        "bands": bands_document(bands_of(design.filament, settings)),
        "printing": printing_totals(build),
        "step": None if step is None else step.document(),
        "findings": [finding.as_dict() for finding in build.findings],
        "cautions": list(CAUTIONS),
    }


def _panel(build: WingBuild, panel: PanelResult) -> dict[str, Any]:
    settings = build.design.spec.print
    layers = panel.continuity.layers
    path = float(layers.path_mm.sum())
    made = panel.path
    endings = ("stl", "3mf") if made is None else ("stl", "3mf", "gcode")
    return {
        "panel": panel.name,
        "from_mm": panel.solid.panel.start_mm,
        "to_mm": panel.solid.panel.end_mm,
        "height_mm": _rounded(panel.solid.panel.height_mm),
        "layers": len(layers),
        "proven": panel.continuity.proven,
        "ribs": len({slot.name for slot in panel.solid.slots if slot.run in ("aft", "forward")}),
        "path_m": _rounded(path / 1000.0),
        "solid_volume_mm3": _rounded(panel.solid.mesh.volume_mm3),
        "path_volume_mm3": _rounded(
            path * bead_area_mm2(bead_mm=settings.bead_mm, layer_mm=settings.layer_mm)
        ),
        "printed_mass_g": _rounded(
            made.printed_mass_g
            if made is not None
            else printed_mass_g(
                path_mm=path,
                bead_mm=settings.bead_mm,
                layer_mm=settings.layer_mm,
                flow=settings.flow,
                density_g_cm3=build.design.filament.density_g_cm3,
            )
        ),
        "footprint_mm": [_rounded(panel.bed.size_x_mm), _rounded(panel.bed.size_y_mm)],
        "turn_on_bed_deg": panel.bed.turn_deg,
        "longest_step_mm": _rounded(float(panel.continuity.step_mm.max(initial=0.0))),
        "airborne_mm": _rounded(float(panel.continuity.airborne_mm.sum())),
        "triangles": len(panel.solid.mesh.faces),
        "printing": path_document(made, build.design.filament),
        "files": [f"{panel.name}-{hand}.{ending}" for hand in build.hands for ending in endings],
    }


def build_verdict(build: WingBuild, *, errors: int) -> str:
    """Return in a sentence whether a wing can be printed.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    errors : int
        How many errors are told of it, all kinds together, so that one count stands everywhere.
    """
    total = sum(len(part.continuity.layers) for part in build.parts)
    counts = {"panel": len(build.panels), "aileron": len(build.surfaces), "cover": len(build.covers)}
    named = [f"{count} {name}{'s' if count != 1 else ''}" for name, count in counts.items() if count]
    pieces = " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)
    if errors:
        return f"{pieces}, {errors} error{'s' if errors != 1 else ''}: do not print this wing as it is"
    return f"{pieces}, {total} layers, each one closed bead: no travel, no support"


def _rounded(value: float) -> float:
    return round(float(value), 4)
