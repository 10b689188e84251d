"""Parts as exact solids of a CAD kernel. Needs the extra `step`; handing over to `cadquery` needs `cad`."""

from wingpath.cad.handover import panel_workplane
from wingpath.cad.solids import CadSolid, panel_cad_solid

__all__ = ["CadSolid", "panel_cad_solid", "panel_workplane"]
