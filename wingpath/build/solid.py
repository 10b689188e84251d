"""The solid of a panel: body less slots, bores and slits, by one boolean subtraction.

``panel = body - (slots + bores + slits)``. The solid that is made here is the one that is written,
sliced and judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wingpath.build.ailerons import (
    Aileron,
    aileron_bay_mesh,
    aileron_planes,
    aileron_section,
    aileron_walls,
    hinge_wall,
)
from wingpath.build.bays import Bay, bay_mesh, bay_walls
from wingpath.build.body import WingBody, body_solid
from wingpath.build.bores import Bore, bore_mesh, bore_slit
from wingpath.build.ceiling import ceiling_of_sections
from wingpath.build.kernel import (
    Solid,
    from_solid,
    heights_mm,
    subtract,
    to_solid,
    trim_by_planes,
    unite,
)
from wingpath.build.slot_planning import WINDOW_REASON, Keepout, slots_of_planes
from wingpath.build.slots import Slot, slot_mesh
from wingpath.build.surfaces import SurfaceNumbers, SurfaceShape
from wingpath.core.arrays import FloatArray
from wingpath.geometry.mesh import Mesh
from wingpath.model.panels import PanelRange
from wingpath.model.ribs import RibPlane
from wingpath.model.windows import Windows

__all__ = [
    "BEYOND_MM",
    "CutSettings",
    "PanelSolid",
    "Voids",
    "WingBody",
    "control_surface_body",
    "control_surface_solid",
    "panel_solid",
]

CROSSING_SPARE_MM = 0.02
"""What layers and paths are straightened by does not make a strip hang that lies within this [mm]."""

SURFACE_ROW_STEP_MM = 0.5
"""Distance of ceiling rows along a control surface, whose sloped ends change quickly [mm]."""

AT_SLOT_MM = 1.5
"""A gap whose inner end is measured this close to a slot is that slot: the end of a short one under a
slanting skin is known no better [mm]."""

BEYOND_MM = 3.0
"""Slots begin this far under the lowest point of the wing, or over the highest [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class PanelSolid:
    """One panel, made.

    Parameters
    ----------
    panel : PanelRange
        Which stretch of the half wing.
    mesh : Mesh
        Its surface in the print frame of the left hand, root on z = 0 [mm].
    slots : tuple of Slot
        Its slots and slits, in wing coordinates.
    surface_names : tuple of str
        Names of the surface numbers of `mesh`.
    bores : tuple of Bore
        Bores that reach into it.
    surface_shapes : tuple of SurfaceShape or None
        Shapes of the surface numbers in wing coordinates; None for planes.
    """

    panel: PanelRange
    mesh: Mesh
    slots: tuple[Slot, ...]
    surface_names: tuple[str, ...]
    bores: tuple[Bore, ...] = ()
    surface_shapes: tuple[SurfaceShape | None, ...] = ()

    @property
    def windowed(self) -> bool:
        """Whether any of its ribs has a lightening window."""
        return any(why == WINDOW_REASON for slot in self.slots for *_, why in slot.trimmed_z_mm)

    def slot_at(self, x_mm: float, z_mm: float) -> bool:
        """Return whether a slot of the design stands at a place of the wing's planform."""
        return any(
            slot.z_mm[0] <= z_mm <= slot.z_mm[-1]
            and abs(float(np.interp(z_mm, slot.z_mm, slot.x_mm)) - x_mm) < AT_SLOT_MM
            for slot in self.slots
        )

    def reason_at(self, x_mm: float, z_mm: float) -> str | None:
        """Return why a slot of the design stops short at a place of the wing's planform, or None."""
        for bore in self.bores:
            # a bore narrower than a gap may be looks like one
            inside = bore.seed_mm <= z_mm <= bore.to_mm
            if inside and abs(float(bore.centre_mm(z_mm)[0]) - x_mm) < bore.half_width_mm + bore.neck_mm:
                return f"make way for {bore.name} or grow back beside it"
        reasons = (slot.reason_at(x_mm, z_mm) for slot in self.slots)
        return next((reason for reason in reasons if reason is not None), None)


@dataclass(frozen=True, slots=True)
class CutSettings:
    """How slots are cut.

    Parameters
    ----------
    bead_mm, width_mm, neck_mm : float
        Bead width, slot width, neck [mm].
    rise : float
        Steepest growth of a wall: tan of the overhang limit.
    carried_mm, layer_mm : float
        How far a bead may miss the one below and still lie on it, layer height [mm].
    angle_deg : float
        Of ribs to the span [deg].
    windows : Windows, optional
        Lightening windows in the ribs of panels; the ribs of control surfaces have none.
    """

    bead_mm: float
    width_mm: float
    neck_mm: float
    rise: float
    carried_mm: float
    layer_mm: float
    angle_deg: float
    windows: Windows | None = None

    @property
    def crossing_mm(self) -> float:
        """Widest slot that may cross another [mm].

        The strip between them is lost while it is narrower than a bead. The beads that come back lie a slot
        width beside the outer beads of the layer below, less what the ribs went on by.
        """
        went = self.layer_mm * float(np.tan(np.deg2rad(self.angle_deg)))
        return self.carried_mm + max(0.0, went - CROSSING_SPARE_MM)

    def recedes(self, wall: Slot) -> bool:
        """Return whether a wall leans aft so fast that a strip beside it comes back beside all beads below.

        The strip is lost while it is narrower than a bead. The bead that comes back at the wall then misses
        the one beyond the slot by up to a slot width and what the wall went on by.
        """
        lean = float((wall.x_mm[-1] - wall.x_mm[0]) / (wall.z_mm[-1] - wall.z_mm[0]))
        return self.width_mm + lean * self.layer_mm > self.carried_mm


@dataclass(frozen=True, slots=True, eq=False)
class Voids:
    """Everything of the whole half wing that is cut out of its panels."""

    planes: tuple[RibPlane, ...] = ()
    bores: tuple[Bore, ...] = ()
    bays: tuple[Bay, ...] = ()
    ailerons: tuple[Aileron, ...] = ()


def panel_solid(body: WingBody, panel: PanelRange, voids: Voids, settings: CutSettings) -> PanelSolid:
    """Make the solid of one panel.

    Parameters
    ----------
    body : WingBody
        Outer shape of the half wing.
    panel : PanelRange
        Stretch of span.
    voids : Voids
        Ribs, webs and fittings of the whole wing.
    settings : CutSettings
        How slots are cut.
    """
    numbers = SurfaceNumbers()
    start, end = panel.start_mm, panel.end_mm
    solid = body_solid(body, start, end, numbers)
    present = [bore for bore in voids.bores if bore.to_mm > start and bore.seed_mm < end]
    slits = [
        slit
        for bore in present
        if (slit := bore_slit(bore, body.section, start_mm=start, end_mm=end, rise=settings.rise)) is not None
    ]
    cuts = [bore_mesh(bore, start_mm=start, end_mm=end, numbers=numbers) for bore in present]
    cuts += [bay_mesh(bay, start_mm=start, end_mm=end, numbers=numbers) for bay in voids.bays]
    cuts += [
        aileron_bay_mesh(aileron, start_mm=start, end_mm=end, numbers=numbers) for aileron in voids.ailerons
    ]
    keepouts: list[Keepout] = [*present, *voids.bays]
    ceiling = ceiling_of_sections(body.rows_mm(start, end), body.section, neck_mm=settings.neck_mm)
    hinges = [hinge_wall(aileron) for aileron in voids.ailerons]
    slots = slots_of_planes(
        voids.planes,
        ceiling,
        keepouts,
        leaders=[aileron_walls(aileron)[0] for aileron in voids.ailerons],
        slits=slits,
        growing=[aileron_walls(aileron)[2] for aileron in voids.ailerons],
        fore_walls=[*hinges, *(bay_walls(bay)[0] for bay in voids.bays)],
        aft_walls=[bay_walls(bay)[1] for bay in voids.bays],
        receding=[wall for wall in hinges if settings.recedes(wall)],
        start_mm=start,
        end_mm=end,
        bead_mm=settings.bead_mm,
        width_mm=settings.width_mm,
        rise=settings.rise,
        crossing_mm=settings.crossing_mm,
        windows=settings.windows,
    )
    made = _cut(solid, panel, (*slots, *slits), cuts, settings, numbers)
    return replace(made, bores=tuple(present))


def control_surface_solid(
    body: WingBody, aileron: Aileron, planes: Sequence[RibPlane], settings: CutSettings
) -> PanelSolid:
    """Make the solid of a control surface: the body behind the hinge, with the wing's ribs running on.

    Parameters
    ----------
    body : WingBody
        Outer shape of the half wing.
    aileron : Aileron
        The control surface.
    planes : sequence of RibPlane
        Ribs of the whole wing.
    settings : CutSettings
        How slots are cut.
    """
    numbers = SurfaceNumbers()
    panel = PanelRange(aileron.number, aileron.start_mm, aileron.end_mm, "aileron")
    planes_of_surface = aileron_planes(aileron)
    solid = control_surface_body(body, aileron, numbers)

    def section(z_mm: float) -> FloatArray:
        return aileron_section(planes_of_surface, body.section, z_mm)

    count = max(3, int(np.ceil(panel.height_mm / SURFACE_ROW_STEP_MM)))
    rows = np.linspace(panel.start_mm + 1e-4, panel.end_mm - 1e-4, count)
    slots = slots_of_planes(
        [plane for plane in planes if plane.run != "web"],
        ceiling_of_sections(rows, section, neck_mm=settings.neck_mm),
        (),
        leaders=[aileron_walls(aileron)[3]],
        growing=[aileron_walls(aileron)[1]],
        start_mm=panel.start_mm,
        end_mm=panel.end_mm,
        bead_mm=settings.bead_mm,
        width_mm=settings.width_mm,
        rise=settings.rise,
        crossing_mm=settings.crossing_mm,
    )
    return _cut(solid, panel, slots, [], settings, numbers)


def control_surface_body(body: WingBody, aileron: Aileron, numbers: SurfaceNumbers) -> Solid:
    """Return a control surface without its slots."""
    whole = body_solid(body, max(aileron.start_mm - 1.0, 0.0), aileron.end_mm, numbers)
    planes = aileron_planes(aileron)
    return trim_by_planes(whole, [(normal, offset, numbers.new(name)) for name, normal, offset in planes])


def _cut(
    solid: Solid,
    panel: PanelRange,
    slots: tuple[Slot, ...],
    cuts: Sequence[Mesh | None],
    settings: CutSettings,
    numbers: SurfaceNumbers,
) -> PanelSolid:
    low, high = heights_mm(solid)
    meshes = [
        slot_mesh(
            slot,
            width_mm=settings.width_mm,
            below_mm=low - BEYOND_MM,
            above_mm=high + BEYOND_MM,
            numbers=numbers,
        )
        for slot in slots
    ]
    meshes += [cut for cut in cuts if cut is not None]
    made = subtract(solid, unite([to_solid(mesh) for mesh in meshes]))
    mesh = from_solid(made, name=panel.name).moved((0.0, 0.0, -panel.start_mm))
    return PanelSolid(panel, mesh, slots, tuple(numbers.names), surface_shapes=tuple(numbers.shapes))
