"""Paths of plain solids for tests: layers, loops and toolpath with the defaults of a spec."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from shapes import BEAD_MM, LAYER_MM, layers_of

from wingpath.build.brim import Brim, brim_spiral
from wingpath.build.layers import Layers
from wingpath.build.loops import Loops, loops_of_layers
from wingpath.build.path_heights import path_heights
from wingpath.build.path_rates import path_rates
from wingpath.build.support import path_starts
from wingpath.build.toolpath import Toolpath, toolpath_from_loops
from wingpath.geometry.mesh import Mesh
from wingpath.io.profile_store import load_filament, load_printer
from wingpath.model.spec_printing import PrintSpec

TOLERANCE_MM = 0.02
"""How far a path may lie from the proven one: the default of a spec [mm]."""


@dataclass(frozen=True)
class Traced:
    """A solid's layers, their loops and the path through them."""

    layers: Layers
    loops: Loops
    brim: Brim
    path: Toolpath


def traced(mesh: Mesh, *, brim_mm: float = 0.0, lead: Any = None, **given: Any) -> Traced:
    """Trace a solid; further keys are those of ``[print]``."""
    settings = PrintSpec(**given)
    layers = layers_of(mesh)
    starts, _ = path_starts(layers)
    loops = loops_of_layers(layers, starts, tolerance_mm=TOLERANCE_MM)
    assert loops is not None
    brim = brim_spiral(
        layers.regions[0],
        loops.points[0],
        width_mm=brim_mm,
        gap_mm=settings.brim_gap_mm,
        bead_mm=BEAD_MM,
        layer_mm=LAYER_MM,
    )
    heights = path_heights(
        len(layers),
        layer_mm=LAYER_MM,
        helical=settings.style == "helical",
        flat_layers=settings.flat_layers,
    )
    rates = path_rates(
        loops.length_mm, settings, filament=load_filament("foaming-pla"), printer=load_printer("bed-220")
    )
    path = toolpath_from_loops(
        layers.name,
        loops,
        heights,
        rates,
        brim=brim,
        lead=np.empty((0, 2)) if lead is None else np.asarray(lead, float),
        bead_mm=BEAD_MM,
        layer_mm=LAYER_MM,
    )
    return Traced(layers, loops, brim, path)
