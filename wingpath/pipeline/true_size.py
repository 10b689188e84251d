"""The drawing at true size of a built wing: which sheets it has."""

from __future__ import annotations

from math import ceil

import numpy as np
import shapely

from wingpath.build.ailerons import Aileron
from wingpath.pipeline.building import PanelResult, WingBuild
from wingpath.pipeline.hinge_sheets import hinge_sheet
from wingpath.pipeline.section_sheets import SectionPlace, section_sheet
from wingpath.report.true_size import TrueSizeDrawing

__all__ = ["true_size_drawing"]

LEAST_BLOCK_MM = 10.0
"""A cradle's block is at least this high under the lowest section [mm]; judgement."""

LEVEL_STEP_MM = 5.0
"""The level line lies a multiple of this over the base line [mm]."""

SAME_MM = 0.5
"""Two sections closer than this are one [mm]."""

REACHED_MM = 0.02
"""A surface whose edge is this close behind its hinge is whole there [mm]."""

CAUTIONS = (
    "This is the design. Printed parts shrink or swell by some tenths of a millimetre: measure parts and "
    "tubes with a calliper before you drill, and try every fit dry. Estimates until the wing is "
    "proof-loaded.",
    "Knives and drills: clamp the work, cut away from yourself, wear glasses. Carbon dust harms lungs and "
    "skin: cut it wet, with mask and gloves. Glue with fresh air.",
)


def true_size_drawing(build: WingBuild) -> TrueSizeDrawing:
    """Draw the root, every joint, the last section, and ailerons with their hinge lines.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    """
    design = build.design
    places = _places(build)
    lowest = min(float(design.body.section(z)[:, 1].min()) for _, z, _ in places)
    level = LEVEL_STEP_MM * ceil((LEAST_BLOCK_MM - lowest) / LEVEL_STEP_MM)
    sheets = [
        section_sheet(build, SectionPlace(title, z, level, (*said, *(CAUTIONS if number == 0 else ()))))
        for number, (title, z, said) in enumerate(places)
    ]
    sheets += [
        hinge_sheet(build, aileron, surface)
        for aileron, surface in zip(design.voids.ailerons, build.surfaces, strict=True)
    ]
    return TrueSizeDrawing(design.spec.name, tuple(sheets))


def _places(build: WingBuild) -> list[tuple[str, float, tuple[str, ...]]]:
    """Return title, span and what is to be said of every section."""
    design = build.design
    places: list[tuple[str, float, tuple[str, ...]]] = [("root section", 0.0, ())]
    for inner, outer in zip(design.panels, design.panels[1:], strict=False):
        said = f"Both faces of the joint are this section; the walls are those of {outer.name}."
        places.append((f"joint of {inner.name} and {outer.name}", outer.start_mm, (said,)))
    cap = design.body.cap
    last = design.wing.semi_span_mm if cap is None else cap.base_mm
    if last - places[-1][1] > SAME_MM:
        title = "tip section" if cap is None else "last section before the tip's cap"
        places.append((title, float(np.floor(10.0 * last)) / 10.0, ()))
    for aileron, surface in zip(design.voids.ailerons, build.surfaces, strict=True):
        half = 0.5 * aileron.gap_mm
        said = (
            f"The wing's wall lies {half:g} mm ahead of the hinge line, the aileron's edge {half:g} mm "
            f"behind it. The bay's wall reaches from {aileron.from_mm:g} to {aileron.to_mm:g} mm of span."
        )
        places += [
            (f"aileron-{aileron.number}, {where}", z, (said,))
            for where, z in _whole_sections(aileron, surface)
        ]
    return places


def _whole_sections(aileron: Aileron, surface: PanelResult) -> list[tuple[str, float]]:
    """Return the first and the last whole millimetre of span at which the surface reaches its hinge.

    Its sloped ends keep room to those of the bay, so it gets there a little later and leaves sooner.
    """
    layers = surface.continuity.layers
    z = surface.solid.panel.start_mm + layers.z_mm
    away = shapely.bounds(layers.regions)[:, 0] - (aileron.hinge_x_mm(z) + 0.5 * aileron.gap_mm)
    whole = z[np.abs(away) < REACHED_MM]
    if len(whole):
        first, last = float(np.ceil(whole[0])), float(np.floor(whole[-1]))
        if last - first > SAME_MM:
            return [("inboard end", first), ("outboard end", last)]
    return [("middle", 0.5 * (aileron.from_mm + aileron.to_mm))]
