"""From a design to panels: solids, layers, findings."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from wingpath.build.continuity import Continuity, judge_layers
from wingpath.build.covers import cover_solid
from wingpath.build.layers import layers_of_mesh
from wingpath.build.solid import PanelSolid, control_surface_solid, panel_solid
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding, sort_findings
from wingpath.geometry.mesh import Mesh
from wingpath.model.panels import BedPlace, PanelRange, place_on_bed
from wingpath.model.spec import Spec
from wingpath.pipeline.design import WingDesign, design_wing
from wingpath.pipeline.filament_findings import filament_findings
from wingpath.pipeline.machine_blocks import block_findings
from wingpath.pipeline.progress import Progress, StepCounter, silent
from wingpath.pipeline.shape_findings import shape_findings
from wingpath.pipeline.tracing import PartPath, trace_part

__all__ = ["PanelResult", "WingBuild", "build_wing"]


@dataclass(frozen=True, slots=True, eq=False)
class PanelResult:
    """One panel: its solid, its judged layers, its place on the bed, its path, and what there is to say."""

    solid: PanelSolid
    continuity: Continuity
    bed: BedPlace
    path: PartPath | None
    findings: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """Name used in files and findings."""
        return self.solid.panel.name

    def mesh(self, hand: str) -> Mesh:
        """Return the mesh to print for `hand`, ``left`` or ``right``; its layers are the same."""
        if hand not in ("left", "right"):
            raise InputError(f"hand: got {hand!r}; allowed: left or right")
        return self.solid.mesh if hand == "left" else self.solid.mesh.mirrored_y()


@dataclass(frozen=True, slots=True, eq=False)
class WingBuild:
    """A half wing, made and judged."""

    design: WingDesign
    panels: tuple[PanelResult, ...]
    surfaces: tuple[PanelResult, ...]
    covers: tuple[PanelResult, ...]
    findings: tuple[Finding, ...]

    @property
    def parts(self) -> tuple[PanelResult, ...]:
        """All printed parts: the panels, then control surfaces, then covers of servo bays."""
        return (*self.panels, *self.surfaces, *self.covers)

    @property
    def hands(self) -> tuple[str, ...]:
        """The hands that the spec asks for."""
        hand = self.design.spec.wing.hand
        return ("left", "right") if hand == "both" else (hand,)

    @property
    def proven(self) -> bool:
        """Whether every layer of every part is one closed ring."""
        return all(part.continuity.proven for part in self.parts)


def build_wing(
    spec: Spec | str | Path | WingDesign,
    *,
    base_dir: Path | None = None,
    progress: Progress = silent,
) -> WingBuild:
    """Make every panel of a spec and judge every layer of it.

    Parameters
    ----------
    spec : Spec, path or WingDesign
        What to build; see :func:`design_wing`.
    base_dir : Path, optional
        Folder that the spec's paths are relative to.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    InputError
        When the spec is wrong or asks for what cannot be printed.
    """
    progress("reading the spec", 0.0)
    design = spec if isinstance(spec, WingDesign) else design_wing(spec, base_dir=base_dir)
    ailerons = design.voids.ailerons
    jobs: list[Callable[[], PanelSolid]] = [
        *(partial(panel_solid, design.body, p, design.voids, design.cut_settings) for p in design.panels),
        *(
            partial(control_surface_solid, design.body, a, design.voids.planes, design.cut_settings)
            for a in ailerons
        ),
        *(partial(cover_solid, design.body, cover) for cover in design.covers),
    ]
    done = StepCounter(2 * len(jobs), progress)
    # the geometry libraries work outside the interpreter's lock, so parts are made side by side
    with ThreadPoolExecutor(max_workers=min(len(jobs), os.cpu_count() or 1)) as pool:
        parts = tuple(pool.map(lambda job: _judged(design, job, done), jobs))
    first, last = len(design.panels), len(parts) - len(design.covers)
    panels, surfaces, covers = parts[:first], parts[first:last], parts[last:]
    findings = [finding for part in parts for finding in part.findings]
    findings.extend(_design_findings(design, panels))
    findings.extend(block_findings([p.path for p in parts if p.path is not None], design.print_setup))
    progress("parts built and judged", 1.0)
    return WingBuild(design, panels, surfaces, covers, sort_findings(findings))


def _judged(design: WingDesign, make: Callable[[], PanelSolid], done: StepCounter) -> PanelResult:
    settings = design.spec.print
    fuses = bool(design.limits.fuse(design.spec.slots.width_mm))
    solid = make()
    panel = solid.panel
    done.step(f"{panel.name}: cutting layers")
    layers = layers_of_mesh(solid.mesh, layer_mm=settings.layer_mm, bead_mm=settings.bead_mm)
    cap = design.body.cap
    continuity = judge_layers(
        layers,
        design.limits,
        strict=True,
        excuse=lambda x, z: solid.reason_at(x, z + panel.start_mm),
        # the design's own slots have the width that it gives them; the measured mean is larger where two
        # of them cross or one ends in a slanting skin
        narrow=(lambda x, z: solid.slot_at(x, z + panel.start_mm)) if fuses else None,
        closing_from_mm=np.inf if cap is None else cap.base_mm - panel.start_mm,
    )
    done.step(f"{panel.name}: judged")
    bed = place_on_bed(solid.mesh.vertices[:, :2], design.printer)
    findings = (*continuity.findings, *_fit_findings(design, panel, bed))
    path, said = trace_part(design.print_setup, continuity, findings)
    return PanelResult(solid, continuity, bed, path, sort_findings([*findings, *said]))


def _fit_findings(design: WingDesign, panel: PanelRange, bed: BedPlace) -> list[Finding]:
    printer, found = design.printer, []
    high = panel.height_mm - printer.height_mm
    if high > 1e-6:
        found.append(
            Finding(
                "too-big",
                "error",
                f"the part is {panel.height_mm:.1f} mm high and the printer ({printer.title}) prints "
                f"{printer.height_mm:g} mm",
                _shorter(design, panel, high),
                panel=panel.name,
                z_mm=panel.height_mm,
                found=panel.height_mm,
                limit=printer.height_mm,
                unit="mm",
            )
        )
    if bed.over_mm > 0.0:
        found.append(
            Finding(
                "too-big",
                "error",
                f"the footprint of {bed.size_x_mm:.1f} x {bed.size_y_mm:.1f} mm, turned as well as it "
                f"will go, is {bed.over_mm:.1f} mm too large for the bed of the printer ({printer.title})",
                "if the wing is swept, split it into lower panels with panels.joints_mm; else use a larger "
                "bed or a smaller chord",
                panel=panel.name,
                found=bed.over_mm,
                limit=0.0,
                unit="mm",
            )
        )
    return found


def _shorter(design: WingDesign, panel: PanelRange, high_mm: float) -> str:
    """Return what to do about a part that is higher than the printer prints."""
    aileron = next((one for one in design.voids.ailerons if f"aileron-{one.number}" == panel.name), None)
    if aileron is not None:
        return (
            f"make it at least {high_mm:.1f} mm shorter with {aileron.name}.from_mm and to_mm; a joint "
            "does not split it"
        )
    return f"split it at least {high_mm:.1f} mm lower with panels.joints_mm, or leave the joints out"


def _design_findings(design: WingDesign, panels: Sequence[PanelResult]) -> list[Finding]:
    found = []
    ribs = design.spec.ribs
    if ribs.run != "none":
        bare = [p for p in panels if not any(slot.run != "web" for slot in p.solid.slots)]
        pitch = "pitch_mm" if ribs.pitch_along_mm is None else "pitch in pitch_along_mm"
        for panel in bare:
            found.append(
                Finding(
                    "no-rib",
                    "note",
                    "no rib stands in this panel: the section is too thin or the pitch too wide",
                    f"use a smaller {pitch}, a thicker section or a narrower bead if it needs ribs",
                    panel=panel.name,
                )
            )
    if design.spec.ribs.stub_mm is not None and not any(panel.solid.windowed for panel in panels):
        found.append(
            Finding(
                "no-rib-window",
                "note",
                "no rib has a window: stubs are as deep as the ribs, or there is no room between crossings",
                "intended if ribs are to be whole and cut from both skins; for windows use shallower stubs "
                "(ribs.stub_mm) or a wider pitch",
            )
        )
    found.extend(shape_findings(design))
    found.extend(filament_findings(design))
    return found
