"""Margins of strength over all load cases: the least of each kind, and how they run along the span."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.model.profiles import TubeMaterial
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.wing_margins import foam_strength, tube_stresses_mpa, wing_margins
from wingpath.structure.load_cases import LoadCase
from wingpath.structure.margins import ULTIMATE_FACTOR, Margin
from wingpath.structure.shell_results import HeldWing

__all__ = ["SpanMargins", "margins_of_cases"]

STRIPS = 24
"""Strips of span whose least margin is told."""


@dataclass(frozen=True, slots=True, eq=False)
class SpanMargins:
    """The least margin of each strip of span, over all load cases, at 1.5 times the limit load.

    Parameters
    ----------
    edges_mm : ndarray, shape (k + 1,)
        Borders of the strips [mm].
    skin, layers, tubes : ndarray, shape (k,)
        Margin of the skins pressed, of layers pulled apart, of tubes bent; infinite where nothing is asked or
        nothing is there. Close to the root the skins are not judged, as at one place there.
    """

    edges_mm: FloatArray
    skin: FloatArray
    layers: FloatArray
    tubes: FloatArray

    def __post_init__(self) -> None:
        edges = frozen_floats(self.edges_mm, (None,), name="edges_mm")
        object.__setattr__(self, "edges_mm", edges)
        for name in ("skin", "layers", "tubes"):
            values = np.array(getattr(self, name), float)
            if values.shape != (len(edges) - 1,) or np.isnan(values).any():
                raise ValueError(f"{name}: got shape {values.shape}; allowed: one number a strip")
            values.setflags(write=False)
            object.__setattr__(self, name, values)


def margins_of_cases(
    build: WingBuild,
    materials: Sequence[TubeMaterial],
    wing: HeldWing,
    moved: Mapping[str, FloatArray],
    cases: Sequence[LoadCase],
) -> tuple[tuple[Margin, ...], SpanMargins | None]:
    """Return the least margin of each kind, with its load case in its place, and all along the span.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    materials : sequence of TubeMaterial
        Of each tube.
    wing : HeldWing
        Its shell.
    moved : mapping of str to ndarray, shape (n, 6)
        Displacements by load case.
    cases : sequence of LoadCase
        The load cases; without any there is nothing to tell.
    """
    if not cases:
        return (), None
    worst: dict[str, Margin] = {}
    tubes = [bore for bore in build.design.voids.bores if bore.kind == "tube"]
    axis = float(tubes[0].start[0]) if tubes else 0.0
    edges = np.linspace(0.0, wing.shell.end_mm, STRIPS + 1)
    asked = np.zeros((3, STRIPS))
    for case in cases:
        torque = float(case.loads.torque_n_mm(0.0, axis))
        found = wing_margins(build, materials, wing, moved[case.name], root_torque_n_mm=torque)
        for margin in found:
            named = replace(margin, place=f"{margin.place}; {case.name}")
            if margin.name not in worst or named.value < worst[margin.name].value:
                worst[margin.name] = named
        asked = np.maximum(asked, _asked(build, materials, wing, moved[case.name], edges))
    with np.errstate(divide="ignore"):
        margins = 1.0 / asked - 1.0
    return tuple(worst.values()), SpanMargins(edges, *margins)


def _asked(
    build: WingBuild,
    materials: Sequence[TubeMaterial],
    wing: HeldWing,
    moved: FloatArray,
    edges: FloatArray,
) -> FloatArray:
    """Return what is asked over what is allowed, greatest in each strip, shape (3, k)."""
    strength = foam_strength(build.design.filament, build.design.spec.print.temperature_c)
    stresses = wing.stresses_mpa(moved)
    clear = wing.away_from_root() & wing.shell.skin
    pressed = np.maximum(-stresses[:, 0] / strength.along_mpa, -stresses[:, 1] / strength.across_mpa)
    pulled = stresses[:, 1] / strength.across_mpa
    most = np.zeros((3, len(edges) - 1))
    place = _strip(wing.shell.centre_mm[:, 2], edges)
    for row, share in enumerate((pressed, pulled)):
        np.maximum.at(most[row], place[clear], np.maximum(share[clear], 0.0))
    for number, z_mm, stress in tube_stresses_mpa(build, wing, moved):
        np.maximum.at(most[2], _strip(z_mm, edges), stress / materials[number].allowable_mpa)
    return ULTIMATE_FACTOR * most


def _strip(z_mm: FloatArray, edges: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    return np.clip(np.searchsorted(edges, z_mm, side="right") - 1, 0, len(edges) - 2)
