"""The parts of a build for CAD programs: which are exact, what to say about the others, what is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from wingpath.build.pieces import pieces_of_part
from wingpath.cad.kernel import require_kernel
from wingpath.cad.solids import CadSolid, cad_solid, mirrored_shape, panel_cad_solid
from wingpath.core.findings import Finding, sort_findings
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.progress import Progress, silent

__all__ = [
    "PIECES_NAME",
    "WING_NAME",
    "StepParts",
    "refuse_missing_kernel",
    "step_parts",
    "with_step_findings",
]

WING_NAME = "wing.step"
"""File that holds every part of the build, assembled."""

PIECES_NAME = "wing-parts.step"
"""File that holds outer bodies and what is cut out of them."""


@dataclass(frozen=True, slots=True, eq=False)
class StepParts:
    """What goes into the STEP files.

    Parameters
    ----------
    solids : tuple of CadSolid
        The parts of the left hand, in the order of the build; empty when they are not asked for.
    pieces : tuple of CadSolid
        Outer bodies and cutting solids of the left hand; empty when they are not asked for.
    hands : tuple of str
        Hands to write.
    """

    solids: tuple[CadSolid, ...]
    pieces: tuple[CadSolid, ...]
    hands: tuple[str, ...]

    @property
    def files(self) -> dict[str, dict[str, Any]]:
        """Shapes by the name of their product, by the name of the file."""
        files = {}
        for file, solids in ((WING_NAME, self.solids), (PIECES_NAME, self.pieces)):
            if solids:
                files[file] = self._named(solids)
        return files

    def _named(self, solids: tuple[CadSolid, ...]) -> dict[str, Any]:
        return {
            # the part first, so that a sorted list keeps both hands of a part together
            f"{solid.name}-{hand}": solid.shape if hand == "left" else mirrored_shape(solid.shape)
            for hand in self.hands
            for solid in solids
            if solid.shape is not None
        }

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What there is to say about parts and pieces that are not exact."""
        # what stands as facets in a part does so in its outer body too
        pieces = [piece for piece in self.pieces if not (self.solids and piece.exact)]
        found = (_finding(solid) for solid in (*self.solids, *pieces))
        return tuple(finding for finding in found if finding is not None)

    def document(self) -> dict[str, Any]:
        """Return the `step` object of `report.json`."""
        return {
            "files": sorted(self.files),
            "frame": "wing: x aft, y up, z outboard; the right hand is the mirror image z -> -z",
            "parts": [_described(solid) for solid in self.solids],
            "pieces": [_described(solid) for solid in self.pieces],
        }


def refuse_missing_kernel(*, solids: bool, pieces: bool) -> None:
    """Raise before anything is built when STEP files are asked for and the CAD kernel is missing.

    Raises
    ------
    InputError
        Naming the extra to install.
    """
    if solids or pieces:
        require_kernel("--step" if solids else "--step-parts")


def step_parts(build: WingBuild, *, solids: bool, pieces: bool, progress: Progress = silent) -> StepParts:
    """Make the solids for the STEP files of a build.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    solids, pieces : bool
        Whether the parts, and whether outer bodies and cutting solids are asked for.
    progress : callable
        Told what is being done and how far it is.
    """
    made: list[CadSolid] = []
    apart: list[CadSolid] = []
    design = build.design
    for number, part in enumerate(build.parts):
        progress(f"{part.name}: solid for CAD", number / len(build.parts))
        if solids:
            made.append(panel_cad_solid(part.solid))
        if pieces:
            apart += [
                cad_solid(piece.mesh, piece.shapes, piece.names, name=piece.name)
                for piece in pieces_of_part(design.body, design.voids, design.cut_settings, part.solid)
            ]
    progress("solids for CAD made", 1.0)
    return StepParts(tuple(made), tuple(apart), build.hands)


def with_step_findings(build: WingBuild, step: StepParts) -> WingBuild:
    """Return the build with what there is to say about its solids among its findings."""
    return replace(build, findings=sort_findings([*build.findings, *step.findings]))


def _finding(solid: CadSolid) -> Finding | None:
    if solid.shape is None:
        return Finding(
            "step-facets",
            "warning",
            f"{solid.name} is missing in the STEP file: {solid.reason}",
            "use its mesh in the CAD program; the printed part is not concerned",
            panel=solid.name.split(" ")[0],
        )
    if not solid.exact:
        return Finding(
            "step-facets",
            "note",
            f"{solid.name} stands as facets in the STEP file, not as exact surfaces: {solid.reason}",
            "nothing to do for printing; in CAD it is as close as the mesh, but slow to work on",
            panel=solid.name.split(" ")[0],
        )
    if solid.faceted:
        return Finding(
            "step-facets",
            "note",
            f"{solid.name}: {', '.join(solid.faceted)} stands as facets in an otherwise exact solid",
            "nothing to do; an open tip (wing.tip) is exact everywhere",
            panel=solid.name.split(" ")[0],
        )
    return None


def _described(solid: CadSolid) -> Mapping[str, Any]:
    return {
        "name": solid.name,
        "exact": solid.exact,
        "facets_of": list(solid.faceted),
        "reason": solid.reason or None,
        "written": solid.shape is not None,
        "faces": solid.faces,
        "volume_mm3": round(solid.volume_mm3, 3),
        "mesh_volume_mm3": round(solid.mesh_volume_mm3, 3),
        "volume_share": round(solid.volume_share, 7) if solid.shape is not None else None,
    }
