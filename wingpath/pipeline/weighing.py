"""What a built half wing weighs: every part with its centre of gravity and inertia, and where the mass is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely

from wingpath.build.bead import bead_area_mm2
from wingpath.build.body import body_solid
from wingpath.build.kernel import from_solid
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.units import MM2_PER_DM2, MM3_PER_CM3
from wingpath.geometry.outline import surface_chains
from wingpath.model.profiles import TubeMaterial
from wingpath.model.spec_aircraft import CompareSpec, ItemSpec
from wingpath.model.wing import Wing
from wingpath.pipeline.bead_kinds import BEAD_KINDS, bead_kinds
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.design import WingDesign, tube_materials
from wingpath.pipeline.wing_weights import MassLine, PrintedShares, StripMasses, WingWeights, strips_of
from wingpath.structure.mass import (
    MassPart,
    combined,
    mass_of_line,
    mass_of_rod,
    point_mass,
)

__all__ = [
    "MassLine",
    "PrintedShares",
    "StripMasses",
    "WingWeights",
    "comparison_mass_g",
    "strips_of",
    "weigh_wing",
]

PIN_DENSITY_G_CM3 = 1.55
"""Of an alignment pin, as if of carbon; one of wood weighs a third: judgement, the spec does not tell."""

GLUE_DENSITY_G_CM3 = 1.1
"""Of cured cyanoacrylate or epoxy, 1.05 to 1.2 from memory."""


_Weighed = tuple[MassPart, MassLine]


def weigh_wing(build: WingBuild, *, base_dir: Path | None = None) -> WingWeights:
    """Weigh a built half wing.

    Parameters
    ----------
    build : WingBuild
        The half wing.
    base_dir : Path, optional
        Folder that paths of tube materials are relative to; the working directory when left out.

    Raises
    ------
    SpecError
        When the material of a tube is unknown.
    FileAccessError
        When its file cannot be read.

    Notes
    -----
    A printed part weighs what is extruded into it, ``density x flow x nominal section x length`` of every
    move; foaming changes no mass. The mass of each move lies along it at half the height of its bead. Without
    a path the borders of its layers stand for the moves.
    """
    design = build.design
    weighed: list[_Weighed] = []
    laid = np.zeros(len(BEAD_KINDS))
    for part in build.parts:
        line, kinds = _printed(design, part)
        laid += np.bincount(kinds, weights=line.mass_g, minlength=len(BEAD_KINDS))
        weighed.append(_along(line, part.name, part.solid.panel.kind))
    weighed += _tubes(design, tube_materials(design.spec, base_dir=base_dir))
    weighed += _pins(design)
    weighed += _glue(build)
    weighed += [_item(item, design.wing) for item in design.spec.items]
    parts = tuple(part for part, _ in weighed)
    brim = sum(p.path.extruded_mass_g - p.path.printed_mass_g for p in build.parts if p.path is not None)
    shares = PrintedShares(*(float(mass) for mass in (*laid, brim)))
    lines = tuple(line for _, line in weighed)
    return WingWeights(parts, lines, shares, combined(parts, name="half wing", kind="half wing"))


def comparison_mass_g(design: WingDesign, compare: CompareSpec) -> float:
    """Return the mass of the same half wing made otherwise: skin by its area, core by its volume [g].

    Parameters
    ----------
    design : WingDesign
        Whose outer shape it has, control surfaces included; the ends that are open are no skin.
    compare : CompareSpec
        What it is made of; what is left out weighs nothing.
    """
    numbers = SurfaceNumbers()
    mesh = from_solid(body_solid(design.body, 0.0, design.wing.semi_span_mm, numbers), name="outer shape")
    ends = [n for n, name in enumerate(numbers.names) if name in ("root face", "tip face")]
    a, b, c = np.moveaxis(mesh.corners, 1, 0)
    surfaces = np.zeros(0) if mesh.surfaces is None else mesh.surfaces
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    wetted = float(area[~np.isin(surfaces, ends)].sum())
    skin = 0.0 if compare.skin_g_dm2 is None else compare.skin_g_dm2 * wetted / MM2_PER_DM2
    core = 0.0 if compare.core_g_cm3 is None else compare.core_g_cm3 * mesh.volume_mm3 / MM3_PER_CM3
    return skin + core


def _along(line: MassLine, name: str, kind: str) -> _Weighed:
    return mass_of_line(line.points, line.mass_g, name=name, kind=kind), line


def _printed(design: WingDesign, part: PanelResult) -> tuple[MassLine, IntArray]:
    """Return the moves of a part and what each of them is laid for."""
    layers, start = part.continuity.layers, part.solid.panel.start_mm
    if part.path is None:
        settings = design.spec.print
        section = bead_area_mm2(bead_mm=settings.bead_mm, layer_mm=settings.layer_mm)
        by_mm = section * settings.flow * design.filament.density_g_cm3 / MM3_PER_CM3
        points, length = _border_moves(layers.borders, layers.z_mm + start)
        line = MassLine(points, by_mm * length)
        cut_z = 0.5 * (points[1:, 2] + points[:-1, 2])
    else:
        tool = part.path.toolpath
        first = int(np.argmax(tool.of_part))
        line = MassLine(
            tool.points[first:] + np.array([0.0, 0.0, start - 0.5 * tool.layer_mm]),
            tool.volume_mm3[first:] * part.path.density_g_cm3 / MM3_PER_CM3,
        )
        # a helix rises all along, but each of its loops follows one section
        cut_z = layers.z_mm[tool.layer[first:]] + start
    middle = 0.5 * (line.points[1:] + line.points[:-1])
    kinds = bead_kinds(
        np.column_stack([middle[:, :2], cut_z]),
        slots=part.solid.slots,
        bores=part.solid.bores,
        bays=design.voids.bays if part.solid.panel.kind == "panel" else (),
        bead_mm=layers.bead_mm,
        slot_mm=design.spec.slots.width_mm,
    )
    return line, kinds


def _border_moves(borders: FloatArray, z_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the points of many borders in a row, and the length of each move, 0 from ring to ring."""
    rings, owner = shapely.get_parts(borders, return_index=True)
    flat, ring = shapely.get_coordinates(rings, return_index=True)
    points = np.column_stack([flat, z_mm[owner[ring]]])
    length = np.hypot(*np.diff(flat, axis=0).T)
    return points, np.where(np.diff(ring) == 0, length, 0.0)


def _tubes(design: WingDesign, materials: Sequence[TubeMaterial]) -> list[_Weighed]:
    bores = [bore for bore in design.voids.bores if bore.kind == "tube"]
    weighed = []
    for bore, tube, material in zip(bores, design.spec.tubes, materials, strict=True):
        ends = np.array([[*bore.start, bore.from_mm], [*bore.end, bore.to_mm]])
        part = mass_of_rod(
            *ends,
            density_g_cm3=material.density_g_cm3,
            outer_mm=(tube.size_x_mm, tube.size_y_mm),
            inner_mm=tube.inner_mm,
            round_section=tube.shape == "round",
            name=bore.name,
            kind="tube",
        )
        weighed.append((part, MassLine(ends, np.array([part.mass_g]))))
    return weighed


def _pins(design: WingDesign) -> list[_Weighed]:
    bores = [bore for bore in design.voids.bores if bore.kind == "pin"]
    # pin by pin, and for each of them joint by joint
    pins = [pin for pin in design.spec.pins for _ in design.panels[1:]]
    weighed = []
    for bore, pin in zip(bores, pins, strict=True):
        ends = np.array([[*bore.start, bore.from_mm], [*bore.end, bore.to_mm]])
        part = mass_of_rod(
            *ends,
            density_g_cm3=PIN_DENSITY_G_CM3,
            outer_mm=(pin.diameter_mm, pin.diameter_mm),
            name=bore.name,
            kind="pin",
        )
        weighed.append((part, MassLine(ends, np.array([part.mass_g]))))
    return weighed


def _glue(build: WingBuild) -> list[_Weighed]:
    """Weigh the glue line of every joint: along the bead that both faces share, the shorter of the two."""
    spec, weighed = build.design.spec, []
    for inner, outer in zip(build.panels, build.panels[1:], strict=False):
        last, first = inner.continuity.layers, outer.continuity.layers
        shorter = first.borders[:1] if first.path_mm[0] < last.path_mm[-1] else last.borders[-1:]
        points, length = _border_moves(shorter, np.array([outer.solid.panel.start_mm]))
        by_mm = spec.panels.glue_mm * spec.bead_mm * GLUE_DENSITY_G_CM3 / MM3_PER_CM3
        name = f"glue between {inner.name} and {outer.name}"
        weighed.append(_along(MassLine(points, by_mm * length), name, "glue"))
    return weighed


def _item(item: ItemSpec, wing: Wing) -> _Weighed:
    """Weigh a thing on board as a point at mid thickness."""
    x = float(wing.chord_point_mm(item.chord_fraction, item.span_mm)[0, 0])
    under, over = surface_chains(wing.loops(item.span_mm)[0])
    y = 0.5 * float(np.interp(x, *under.T) + np.interp(x, *over.T))
    place = np.array([x, y, item.span_mm])
    line = MassLine(np.stack([place, place]), np.array([item.mass_g]))
    return point_mass(item.mass_g, place, name=item.name, kind="item"), line
