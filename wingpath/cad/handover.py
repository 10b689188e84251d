"""Parts as objects of the library `cadquery`, for people who script their aircraft in it."""

from __future__ import annotations

from typing import Any

from wingpath.build.solid import PanelSolid
from wingpath.cad.kernel import require_cadquery
from wingpath.cad.solids import mirrored_shape, panel_cad_solid
from wingpath.core.errors import InputError

__all__ = ["panel_workplane"]


def panel_workplane(part: Any, *, hand: str = "left") -> Any:
    """Return a part of a build as a `cadquery` workplane that holds one solid, in wing coordinates.

    Parameters
    ----------
    part : PanelResult or PanelSolid
        A panel, a control surface or a cover.
    hand : {"left", "right"}
        The right hand is the mirror image z -> -z.

    Returns
    -------
    cadquery.Workplane
        Lengths in mm; x aft, y up, z outboard.

    Raises
    ------
    InputError
        Without the extra `cad`, for another hand, or for a part that makes no valid solid.
    """
    require_cadquery("wingpath.cad")
    import cadquery

    solid = part if isinstance(part, PanelSolid) else part.solid
    if hand not in ("left", "right"):
        raise InputError(f"hand: got {hand!r}; allowed: left or right")
    made = panel_cad_solid(solid)
    if made.shape is None:
        raise InputError(f"{made.name}: no valid solid could be made of it ({made.reason})")
    shape = made.shape if hand == "left" else mirrored_shape(made.shape)
    return cadquery.Workplane("XY").newObject([cadquery.Shape.cast(shape)])
