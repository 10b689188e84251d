"""From anyone's mesh to findings: the same judging, entered at the mesh."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wingpath.build.continuity import Continuity, judge_layers
from wingpath.build.layers import layers_of_mesh
from wingpath.build.limits import Limits
from wingpath.build.mesh_check import MeshState, prepared_mesh
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding, sort_findings
from wingpath.geometry.mesh import Mesh
from wingpath.io.mesh_files import UpAxis, read_mesh
from wingpath.io.profile_store import load_filament
from wingpath.model.spec_printing import PrintSpec
from wingpath.pipeline.progress import Progress, silent

__all__ = ["MeshJudgement", "check_mesh"]

MOST_LAYERS = 40_000
"""More layers than any printer's height holds: ten metres at a quarter of a millimetre."""


@dataclass(frozen=True, slots=True, eq=False)
class MeshJudgement:
    """A stranger's mesh, judged."""

    source: str
    mesh: Mesh
    state: MeshState
    continuity: Continuity
    findings: tuple[Finding, ...]
    bond_mm: float


def check_mesh(
    path: str | Path,
    *,
    bead_mm: float = 0.45,
    layer_mm: float = 0.25,
    slot_bond_mm: float | None = None,
    filament: str = "foaming-pla",
    scale: float = 1.0,
    up: UpAxis = "z",
    progress: Progress = silent,
) -> MeshJudgement:
    """Judge any STL, 3MF or OBJ file, layer by layer.

    Parameters
    ----------
    path : path
        The file.
    bead_mm, layer_mm : float
        Bead width and layer height to judge with [mm].
    slot_bond_mm : float, optional
        Widest gap that the bead bridges [mm]; by default what the filament bridges.
    filament : str
        Name or path of the filament's profile: its limits, and the gap that it bridges at the temperature and
        flow it was calibrated with, or at those of a spec.
    scale : float
        Millimetres in one unit of the file.
    up : {"z", "x", "y"}
        Axis of the file that is the build direction.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    InputError
        When a width or a height is beyond what is allowed.
    MeshFileError
        When the file holds no mesh that can be judged.
    FileAccessError
        When it cannot be read.
    """
    for name, value, low, high in (
        ("bead_mm", bead_mm, 0.1, 5.0),
        ("layer_mm", layer_mm, 0.02, 5.0),
        ("slot_bond_mm", slot_bond_mm, 0.0, 5.0),
    ):
        # not a number is between no limits
        if value is not None and not low <= value <= high:
            raise InputError(f"{name}: got {value:g}; allowed: {low:g} to {high:g} mm")
    if layer_mm > bead_mm:
        raise InputError(
            f"layer_mm: got {layer_mm:g}, more than the bead width {bead_mm:g}; a bead is wider than high"
        )
    plastic = load_filament(filament, key="--filament", allow_outside=True)
    bond = slot_bond_mm
    if bond is None:
        settings, record = PrintSpec(), plastic.calibration
        bond = plastic.bonded_gap_mm(
            bead_mm=bead_mm,
            flow=settings.flow if record is None else record.flow[0],
            temperature_c=settings.temperature_c if record is None else record.temperature_c[0],
        )
    progress("reading the mesh", 0.02)
    mesh = read_mesh(Path(path), scale=scale, up=up)
    progress("looking at the surface", 0.15)
    solid, state, findings = prepared_mesh(mesh)
    height = float(np.ptp(solid.bounds[:, 2]))
    if height < 0.5 * layer_mm:
        raise InputError(
            f"{path}: is only {height:.4g} mm high, less than one layer; is it in another unit? "
            "Try --scale 25.4 for inches, --scale 1000 for metres, or --up for another build direction"
        )
    if height / layer_mm > MOST_LAYERS:
        raise InputError(
            f"{path}: is {height:.0f} mm high, {height / layer_mm:.0f} layers; allowed: up to {MOST_LAYERS}. "
            "Is it in another unit? Try --scale 0.001 for micrometres, or a larger --layer-mm"
        )
    progress("cutting layers", 0.3)
    # a hole in the surface is closed by a straight line, so that the rest can be judged
    # where the engine of regions rounds, it leaves the processor's mark for numbers that are none
    with np.errstate(invalid="ignore"):
        layers = layers_of_mesh(solid, layer_mm=layer_mm, bead_mm=bead_mm, join_mm=math.inf)
        progress("judging layers", 0.5)
        continuity = judge_layers(
            layers,
            Limits(
                bond_mm=bond,
                overhang_deg=plastic.overhang_limit_deg,
                bridge_mm=plastic.bridge_limit_mm,
            ),
            strict=False,
            at_once=True,
        )
    progress("done", 1.0)
    return MeshJudgement(
        str(path), solid, state, continuity, sort_findings([*findings, *continuity.findings]), bond
    )
