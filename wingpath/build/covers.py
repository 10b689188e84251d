"""Covers of servo bays: the piece of skin that a bay takes away, as a part of its own.

A cover fills the seat of its bay. It stands on its inboard end, as thick as two fused beads where the skin
comes nearest to the ledge, and follows the skin outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.build.bays import Bay
from wingpath.build.body import WingBody, body_solid
from wingpath.build.kernel import from_solid, trim_by_planes
from wingpath.build.solid import PanelSolid
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.model.panels import PanelRange

__all__ = ["COVER_ROOM_MM", "Cover", "cover_solid", "covers_of_bays"]

COVER_ROOM_MM = 0.2
"""Room between a cover and the walls of its seat on every side [mm]: a fused bead is that uneven."""


@dataclass(frozen=True, slots=True)
class Cover:
    """The cover of a servo bay.

    Parameters
    ----------
    number : int
        Of its servo bay, from 1.
    from_mm, to_mm : float
        Its ends along the span [mm].
    fore_mm, aft_mm : float
        Its edges along the chord [mm].
    inside_mm : float
        Height of its flat inner side [mm].
    """

    number: int
    from_mm: float
    to_mm: float
    fore_mm: float
    aft_mm: float
    inside_mm: float

    @property
    def panel(self) -> PanelRange:
        """The stretch of span that it covers."""
        return PanelRange(self.number, self.from_mm, self.to_mm, "cover")


def covers_of_bays(bays: Sequence[Bay]) -> tuple[Cover, ...]:
    """Return the covers of all servo bays that have a seat for one, numbered like the bays."""
    return tuple(
        Cover(
            seat.number + 1,
            from_mm=seat.from_mm + COVER_ROOM_MM,
            to_mm=seat.to_mm - COVER_ROOM_MM,
            fore_mm=seat.fore_mm + COVER_ROOM_MM,
            aft_mm=seat.aft_mm - COVER_ROOM_MM,
            inside_mm=seat.floor_mm,
        )
        for seat in bays
        if seat.kind == "seat"
    )


def cover_solid(body: WingBody, cover: Cover) -> PanelSolid:
    """Make the solid of a cover: the wing's own skin, down to the flat side that lies on the ledge.

    Parameters
    ----------
    body : WingBody
        Outer shape of the half wing.
    cover : Cover
        Which part of it.
    """
    numbers = SurfaceNumbers()
    planes = [
        ("fore edge", np.array([1.0, 0.0, 0.0]), cover.fore_mm),
        ("aft edge", np.array([-1.0, 0.0, 0.0]), -cover.aft_mm),
        ("inner side", np.array([0.0, -1.0, 0.0]), -cover.inside_mm),
    ]
    solid = trim_by_planes(
        body_solid(body, cover.from_mm, cover.to_mm, numbers),
        [(normal, offset, numbers.new(name)) for name, normal, offset in planes],
    )
    panel = cover.panel
    mesh = from_solid(solid, name=panel.name).moved((0.0, 0.0, -panel.start_mm))
    return PanelSolid(panel, mesh, (), tuple(numbers.names), surface_shapes=tuple(numbers.shapes))
