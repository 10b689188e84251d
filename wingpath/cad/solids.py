"""Solids for CAD programs: exact where they can be, facets where they cannot, and which of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wingpath.build.solid import PanelSolid
from wingpath.build.surfaces import SurfaceShape
from wingpath.cad.brep import Shape, solid_of
from wingpath.cad.gate import Verdict, judge_shape
from wingpath.cad.kernel import require_kernel
from wingpath.cad.meeting import meet
from wingpath.cad.patches import Patches, patches_of_mesh
from wingpath.core.arrays import IntArray
from wingpath.core.errors import InputError
from wingpath.geometry.mesh import Mesh

__all__ = ["CadSolid", "cad_solid", "mirrored_shape", "panel_cad_solid"]


@dataclass(frozen=True, slots=True, eq=False)
class CadSolid:
    """One solid for CAD programs, in wing coordinates.

    Parameters
    ----------
    name : str
        Its name in a file.
    shape : Shape or None
        The kernel's solid, or compound of solids; None when not even its facets make a valid one.
    exact : bool
        Whether every surface is exact but those in `faceted`.
    faceted : tuple of str
        Names of surfaces that are facets in an otherwise exact solid.
    reason : str
        Why it is not exact; empty when it is.
    faces : int
        Number of its faces.
    volume_mm3, mesh_volume_mm3 : float
        Its volume and that of the mesh that is printed [mm3].
    """

    name: str
    shape: Shape | None
    exact: bool
    faceted: tuple[str, ...]
    reason: str
    faces: int
    volume_mm3: float
    mesh_volume_mm3: float

    @property
    def volume_share(self) -> float:
        """How much larger the solid is than the mesh, as a share of the mesh."""
        return self.volume_mm3 / self.mesh_volume_mm3 - 1.0


def panel_cad_solid(solid: PanelSolid) -> CadSolid:
    """Return a printed part as a solid in wing coordinates.

    Parameters
    ----------
    solid : PanelSolid
        The part: a panel, a control surface or a cover.

    Raises
    ------
    InputError
        Without the CAD kernel.
    """
    require_kernel("wingpath.cad")
    mesh = solid.mesh.moved((0.0, 0.0, solid.panel.start_mm))
    return cad_solid(mesh, solid.surface_shapes, solid.surface_names, name=solid.panel.name)


def cad_solid(
    mesh: Mesh, shapes: Sequence[SurfaceShape | None], names: Sequence[str], *, name: str
) -> CadSolid:
    """Return a mesh as a solid: exact if that passes the gate, else facets, and why.

    Parameters
    ----------
    mesh : Mesh
        A closed mesh in wing coordinates.
    shapes : sequence of SurfaceShape or None
        Shapes of its surface numbers; none at all makes facets of everything.
    names : sequence of str
        Names of its surface numbers.
    name : str
        Name of the solid.
    """
    if shapes:
        shape, verdict, patches = _made(mesh, shapes)
        if shape is not None and patches is not None and verdict.passed:
            faceted = _faceted(mesh, patches, names)
            return _kept(name, mesh, shape, verdict, exact=True, faceted=faceted, reason="")
        reason = verdict.reason
    else:
        reason = "its surfaces are not known"
    shape, verdict, _ = _made(mesh, ())
    if verdict.passed:
        return _kept(name, mesh, shape, verdict, exact=False, faceted=(), reason=reason)
    both = f"{reason}; as facets: {verdict.reason}"
    return _kept(name, mesh, None, verdict, exact=False, faceted=(), reason=both)


def mirrored_shape(shape: Shape) -> Shape:
    """Return the mirror image z -> -z: the other half wing, its root on the same plane."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

    mirror = gp_Trsf()
    mirror.SetMirror(gp_Ax2(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(0.0, 0.0, 1.0)))
    return BRepBuilderAPI_Transform(shape, mirror, True).Shape()


def _made(mesh: Mesh, shapes: Sequence[SurfaceShape | None]) -> tuple[Shape | None, Verdict, Patches | None]:
    from OCP.Standard import Standard_Failure

    try:
        patches = patches_of_mesh(mesh, shapes)
        shape = solid_of(meet(patches, shapes))
        return shape, judge_shape(shape, mesh_volume_mm3=mesh.volume_mm3), patches
    except (InputError, np.linalg.LinAlgError, ValueError, RuntimeError, Standard_Failure) as error:
        return None, Verdict(False, str(error) or type(error).__name__, 0.0, 0), None


def _faceted(mesh: Mesh, patches: Patches, names: Sequence[str]) -> tuple[str, ...]:
    numbers: IntArray = np.zeros(len(mesh.faces), np.int64) if mesh.surfaces is None else mesh.surfaces
    found = {names[int(numbers[patch.triangles[0]])] for patch in patches.patches if patch.facet}
    return tuple(sorted(found))


def _kept(
    name: str,
    mesh: Mesh,
    shape: Any,
    verdict: Verdict,
    *,
    exact: bool,
    faceted: tuple[str, ...],
    reason: str,
) -> CadSolid:
    return CadSolid(name, shape, exact, faceted, reason, verdict.faces, verdict.volume_mm3, mesh.volume_mm3)
