"""From a built half wing to what its shell is made of: skins, walls, tubes, cut-outs, pockets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from wingpath.build.ailerons import Aileron
from wingpath.build.bead import bead_area_mm2
from wingpath.build.bores import Bore
from wingpath.build.slots import Slot
from wingpath.core.arrays import FloatArray
from wingpath.model.panels import PanelRange
from wingpath.model.profiles import FilamentProfile, TubeMaterial
from wingpath.model.ribs import RibPlane
from wingpath.model.spec_printing import PrintSpec
from wingpath.model.windows import Windows, crossing_distance_mm
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.design import WingDesign
from wingpath.structure.beam import WingBeam, beam_of_wing
from wingpath.structure.material import WallMaterial
from wingpath.structure.skins import SkinSurfaces, skin_surfaces
from wingpath.structure.tube_section import tube_section
from wingpath.structure.walls import CutOut, Pocket, TubeLine, WallKind, WallLine
from wingpath.structure.wing_section import ThinWing

__all__ = [
    "ShellInputs",
    "beam_of_inputs",
    "planned_inputs",
    "shell_inputs",
    "wall_material",
    "wall_thickness_mm",
]

BEYOND_EDGE_MM = 20.0
"""Cut-outs reach this far beyond the trailing edge, so that nothing is left of it [mm]."""

PROFILE_STEP_MM = 0.5
"""Distance of the samples of planned windows [mm]."""

BESIDE_MM = 0.01
"""So far beside the end of a slot there is none [mm]."""

STRAIGHT_MM = 0.05
"""The trace of a slot may be straightened by this much [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class ShellInputs:
    """What the shell of a half wing is made of.

    Parameters
    ----------
    skins : SkinSurfaces
        Middle surfaces of the skins.
    walls : tuple of WallLine
        Ribs, webs, slits under bores, walls of cut-outs.
    tubes : tuple of TubeLine
        Bought tubes.
    cut_outs, pockets
        Bays of ailerons, and bays of servos and plates.
    skin_mm, cap_mm : float
        Thickness of the skins and of the wall that closes the tip [mm].
    root : {"clamped", "held"}
        How the root is held.
    breaks_mm : tuple of float
        Stations at which leading and trailing edge bend [mm].
    stub_mm : float, optional
        Depth of what windows leave of ribs on both skins, beads round the ends of slots counted [mm];
        None without windows.
    """

    skins: SkinSurfaces
    walls: tuple[WallLine, ...]
    tubes: tuple[TubeLine, ...]
    cut_outs: tuple[CutOut, ...]
    pockets: tuple[Pocket, ...]
    skin_mm: float
    cap_mm: float
    root: Literal["clamped", "held"]
    breaks_mm: tuple[float, ...]
    stub_mm: float | None = None

    @property
    def ribless(self) -> ShellInputs:
        """The same wing without ribs and spar webs."""
        kept = tuple(wall for wall in self.walls if wall.kind not in ("aft", "forward", "web"))
        return replace(self, walls=kept)


def wall_thickness_mm(filament: FilamentProfile, settings: PrintSpec) -> float:
    """Return the thickness that a wall of one bead acts with [mm].

    The bead's width grows with how full it is. Its rounded edges leave grooves between layers: a modulus that
    was measured on a strip of such beads, by its outside, has them in it; with any other one the wall is as
    thick as its volume over its face.

    Parameters
    ----------
    filament, settings
        What is printed, and how.
    """
    fill = filament.fill(flow=settings.flow, temperature_c=settings.temperature_c)
    source = filament.source_of("e_modulus_mpa")
    if source is not None and source.kind == "measured":
        return float(settings.bead_mm * fill)
    area = bead_area_mm2(bead_mm=settings.bead_mm, layer_mm=settings.layer_mm)
    return float(area / settings.layer_mm * fill)


def wall_material(
    filament: FilamentProfile, settings: PrintSpec, *, part_temperature_c: float = 20.0
) -> WallMaterial:
    """Return the foamed wall at a temperature of the part.

    Parameters
    ----------
    filament, settings
        What is printed, and how.
    part_temperature_c : float
        Temperature of the wing [°C].
    """
    along = filament.foam_modulus_mpa(settings.temperature_c) * filament.stiffness_share(part_temperature_c)
    ratio = max(1.0, filament.foaming_ratio(settings.temperature_c))
    return WallMaterial(
        e_along_mpa=along,
        e_across_mpa=along * filament.z_stiffness,
        poisson=filament.poisson,
        density_g_cm3=filament.density_g_cm3 / ratio,
    )


def shell_inputs(build: WingBuild, materials: Sequence[TubeMaterial]) -> ShellInputs:
    """Return what the shell of a built wing is made of.

    Parameters
    ----------
    build : WingBuild
        The built half wing; its ribs are the slots that were cut, as high as they were cut.
    materials : sequence of TubeMaterial
        Of each tube of the spec.
    """
    thick = 2.0 * wall_thickness_mm(build.design.filament, build.design.spec.print)
    ribs = []
    for panel in build.panels:
        above = [slot for slot in panel.solid.slots if slot.side == "upper"]
        for slot in panel.solid.slots:
            if slot.side == "lower" and not _is_slit(slot, ("tube", "duct")):
                ribs.append(_slot_wall(slot, above, panel.solid.panel, thick))
    return _inputs(build.design, materials, ribs)


def planned_inputs(design: WingDesign, materials: Sequence[TubeMaterial]) -> ShellInputs:
    """Return the same of a wing that is not built yet: ribs run from edge to edge and skin to skin.

    Parameters
    ----------
    design : WingDesign
        The placed design.
    materials : sequence of TubeMaterial
        Of each tube of the spec.
    """
    thick = 2.0 * wall_thickness_mm(design.filament, design.spec.print)
    planes, windows = design.voids.planes, design.cut_settings.windows
    if windows is None:
        return _inputs(design, materials, [_plane_wall(plane, thick) for plane in planes])
    bare = _inputs(design, materials, ())
    planned = _Planned(windows, bare.skins, design.spec.neck_mm)
    ribs = [planned.wall(plane, planes, thick) for plane in planes]
    return replace(bare, walls=(*ribs, *bare.walls))


def beam_of_inputs(inputs: ShellInputs, material: WallMaterial) -> WingBeam:
    """Return the half wing as a beam: a preview of motions, and its stiffness along the span.

    Parameters
    ----------
    inputs : ShellInputs
        Its skins and walls.
    material : WallMaterial
        The wall.
    """
    return beam_of_wing(
        ThinWing(
            inputs.skins,
            material,
            inputs.skin_mm,
            walls=inputs.walls,
            tubes=inputs.tubes,
            cut_outs=inputs.cut_outs,
        )
    )


def _inputs(design: WingDesign, materials: Sequence[TubeMaterial], ribs: Sequence[WallLine]) -> ShellInputs:
    spec, cap, windows = design.spec, design.body.cap, design.cut_settings.windows
    skin = wall_thickness_mm(design.filament, spec.print)
    end = design.wing.semi_span_mm if cap is None else cap.base_mm
    skins = skin_surfaces(design.wing, end_mm=end, inset_mm=0.5 * spec.bead_mm)
    bores = [bore for bore in design.voids.bores if bore.kind in ("tube", "duct")]
    slits = [_slit(bore, 2.0 * skin, end) for bore in bores if bore.from_mm < end]
    ailerons = [aileron for aileron in design.voids.ailerons if aileron.hinge[0, 2] < end]
    walls = [*ribs, *slits]
    for aileron in ailerons:
        walls += _bay_walls(aileron, skins, skin)
    tubes = [_tube_line(design, bore, materials) for bore in bores if bore.kind == "tube"]
    return ShellInputs(
        skins=skins,
        walls=tuple(walls),
        tubes=tuple(tubes),
        cut_outs=tuple(CutOut(a.name, _bay_corners(a, skins)) for a in ailerons),
        pockets=tuple(
            Pocket(b.name, b.side, b.fore_mm, b.aft_mm, b.from_mm, b.to_mm, b.floor_mm)
            for b in design.voids.bays
        ),
        skin_mm=skin,
        cap_mm=skin if cap is not None else 0.0,
        root=spec.wing.root or ("held" if spec.held_by_tube else "clamped"),
        breaks_mm=tuple(float(z) for z in design.wing.station_spans_mm if 0.0 < z < end),
        stub_mm=None if windows is None else windows.stub_mm + 0.5 * spec.neck_mm,
    )


def _slot_wall(slot: Slot, above: Sequence[Slot], panel: PanelRange, thickness: float) -> WallLine:
    """Return the rib of a slot inside its panel, with what hangs from the upper skin over the same trace.

    Slots run a little past both ends of the panel.
    """
    first, last = max(slot.z_mm[0], panel.start_mm), min(slot.z_mm[-1], panel.end_mm)
    inside = slot.z_mm[(slot.z_mm > first) & (slot.z_mm < last)]
    heights = np.concatenate([[first], inside, [last]])
    way = np.column_stack([np.interp(heights, slot.z_mm, slot.x_mm), heights])
    x, z = shapely.get_coordinates(shapely.simplify(shapely.LineString(way), STRAIGHT_MM)).T
    kind: WallKind = "slit" if _is_slit(slot, ("tab", "pin")) else slot.run
    profile, top, hang = slot.z_mm, slot.rib_end_mm, None
    own = [other for other in above if other.name == slot.name]
    if own:
        # samples close to both ends of what hangs keep it from reaching farther than it does
        ends = np.concatenate([other.z_mm[[0, -1]] for other in own])
        places = [profile, *(other.z_mm for other in own), ends - BESIDE_MM, ends + BESIDE_MM]
        every = np.unique(np.concatenate(places))
        every = every[(every >= profile[0]) & (every <= profile[-1])]
        top = np.interp(every, profile, top)
        hang = np.full(len(every), np.inf)
        for other in own:
            there = (every >= other.z_mm[0]) & (every <= other.z_mm[-1])
            hang[there] = np.interp(every[there], other.z_mm, other.rib_end_mm)
        profile = every
    return WallLine(slot.name, kind, z, x, _square(thickness, x, z), profile, top, hang)


def _square(thickness: float, x: FloatArray, z: FloatArray) -> float:
    """Return the thickness square to a wall whose beads are that wide side by side along the chord.

    A wall that leans is laid in steps: its volume over its face is less by the cosine of its lean.
    """
    along = float(np.hypot(np.diff(x), np.diff(z)).sum())
    return thickness * abs(float(z[-1] - z[0])) / along if along > 0.0 else thickness


def _is_slit(slot: Slot, kinds: Sequence[str]) -> bool:
    """Return whether a slot is the slit of a bore of one of some kinds, whatever runs it counts with."""
    return slot.name.startswith(tuple(f"slit of {kind}[" for kind in kinds))


def _plane_wall(plane: RibPlane, thickness: float) -> WallLine:
    z, x = plane.knots_z_mm, plane.knots_x_mm
    return WallLine(plane.name, plane.run, z, x, _square(thickness, x, z))


@dataclass(frozen=True, slots=True, eq=False)
class _Planned:
    """Ribs with windows of a wing that is not built, with no regard to its fittings."""

    windows: Windows
    skins: SkinSurfaces
    neck_mm: float

    def wall(self, plane: RibPlane, planes: Sequence[RibPlane], thickness: float) -> WallLine:
        """Return one of them."""
        z = np.arange(plane.knots_z_mm[0], min(plane.knots_z_mm[-1], self.skins.end_mm), PROFILE_STEP_MM)
        upper, lower = self.skins.heights_mm(np.clip(self.skins.fraction_of(plane.x_mm(z), z), 0.0, 1.0), z)
        others = [plane, *(other for other in planes if other is not plane)]
        away = crossing_distance_mm(others, z)[0]
        full = np.maximum(0.5 * (upper - lower - self.neck_mm), 0.0)
        depth = self.windows.depth_mm(away, full) + 0.5 * self.neck_mm
        split = upper - lower >= self.windows.least_thickness_mm(self.neck_mm)
        # where there is no slot from above, the rib reaches through the upper skin
        top = np.where(split, lower + depth, upper + self.neck_mm)
        hang = np.where(split, upper - depth, np.inf)
        x, knots = plane.knots_x_mm, plane.knots_z_mm
        return WallLine(plane.name, plane.run, knots, x, _square(thickness, x, knots), z, top, hang)


def _slit(bore: Bore, thickness: float, end_mm: float) -> WallLine:
    z = np.array([max(bore.from_mm, 0.0), min(bore.to_mm, end_mm)])
    x = np.asarray(bore.slit_x_mm(z))
    return WallLine(bore.name, "slit", z, x, _square(thickness, x, z), z, np.asarray(bore.centre_mm(z)[:, 1]))


def _tube_line(design: WingDesign, bore: Bore, materials: Sequence[TubeMaterial]) -> TubeLine:
    """Return a tube as a line; it bends with the wing, but slips in twist, as glue is not sure all along."""
    number = int(bore.name.split("[")[1].rstrip("]"))
    section, material = tube_section(design.spec.tubes[number]), materials[number]
    z = np.array([max(bore.from_mm, 0.0), bore.to_mm])
    start, end = (np.append(point, height) for point, height in zip(bore.centre_mm(z), z, strict=True))
    return TubeLine(
        bore.name,
        start,
        end,
        ea_n=material.e_modulus_mpa * section.area_mm2,
        ei_x_n_mm2=material.e_modulus_mpa * section.second_x_mm4,
        ei_y_n_mm2=material.e_modulus_mpa * section.second_y_mm4,
        gj_n_mm2=0.0,
    )


def _bay_corners(aileron: Aileron, skins: SkinSurfaces) -> FloatArray:
    """Return the corners of an aileron's bay from above: along the hinge, then back beyond the edge."""
    inner, outer = aileron.corners
    aft = [_aft_end(point, lean, skins)[0] for point, lean in ((inner, -1.0), (outer, 1.0))]
    far = [[x + BEYOND_EDGE_MM, z + lean * BEYOND_EDGE_MM] for (x, z), lean in zip(aft, (-1, 1), strict=True)]
    return np.array([[inner[0], inner[2]], [outer[0], outer[2]], far[1], far[0]])


def _aft_end(corner: FloatArray, lean: float, skins: SkinSurfaces) -> tuple[tuple[float, float], float]:
    """Return where the sloping end of a bay meets the trailing edge, and how far that is behind [mm]."""
    back = 0.0
    for _ in range(50):
        z = float(np.clip(corner[2] + lean * back, 0.0, skins.end_mm))
        back = float(skins.rear_at_mm(z)) - float(corner[0])
    z = float(np.clip(corner[2] + lean * back, 0.0, skins.end_mm))
    return (float(skins.rear_at_mm(z)), z), back


def _bay_walls(aileron: Aileron, skins: SkinSurfaces, thickness: float) -> Iterator[WallLine]:
    inner, outer = aileron.corners
    yield WallLine(
        f"{aileron.name} hinge wall",
        "wall",
        np.array([inner[2], outer[2]]),
        np.array([inner[0], outer[0]]),
        thickness,
    )
    for corner, lean, side in ((inner, -1.0, "inboard"), (outer, 1.0, "outboard")):
        (x, z), _ = _aft_end(corner, lean, skins)
        if abs(z - corner[2]) > STRAIGHT_MM:
            yield WallLine(
                f"{aileron.name} {side} wall",
                "wall",
                np.array([corner[2], z]),
                np.array([corner[0], x]),
                thickness,
            )
