"""Ailerons (and flaps): the bay cut into the wing, and the control surface as a part of its own.

The hinge is a straight line at mid thickness. The wing ends in an upright wall half a gap before it; the
surface begins half a gap behind it with a wedge whose two faces lean back by the wanted travel, so that
neither edge meets the wall at full throw. Both ends slope at 45 degrees along the span, wider at the
trailing edge: the walls that close bay and surface then print by themselves. Every face is a plane.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.build.slots import Slot
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.outline import Section

__all__ = [
    "Aileron",
    "aileron_bay_mesh",
    "aileron_planes",
    "aileron_section",
    "aileron_walls",
    "hinge_wall",
]

FAR_MM = 3000.0
"""Cutting bodies reach this far: beyond any wing in the range of the spec [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Aileron:
    """A control surface and its bay.

    Parameters
    ----------
    name : str
        Key path, for example ``aileron[0]``.
    number : int
        Number in file names, from 1.
    from_mm, to_mm : float
        Ends of the bay along the hinge [mm].
    gap_mm : float
        Gap between wing and surface [mm].
    up_deg, down_deg : float
        Wanted travel [deg].
    hinge : ndarray, shape (2, 3)
        Hinge line at both ends of the bay [mm].
    start_mm, end_mm : float
        Lowest and highest point of the surface along the span, as it stands on the bed [mm].
    bay_mm : tuple of float
        Ends of the bay at the trailing edge, where its slopes reach farthest along the span [mm].
    half_mm : tuple of float
        Greatest height of the surface above and below the hinge line [mm].
    horn : tuple of float, optional
        Place of the control horn: x, y on the lower skin, z [mm].
    """

    name: str
    number: int
    from_mm: float
    to_mm: float
    gap_mm: float
    up_deg: float
    down_deg: float
    hinge: FloatArray
    start_mm: float
    end_mm: float
    bay_mm: tuple[float, float]
    half_mm: tuple[float, float]
    horn: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "hinge", frozen_floats(self.hinge, (2, 3), name="hinge"))

    def hinge_mm(self, z_mm: float) -> tuple[float, float]:
        """Return the hinge line at `z_mm`, continued straight (x, y) [mm]."""
        (x0, y0, z0), (x1, y1, z1) = self.hinge
        share = (z_mm - z0) / (z1 - z0)
        return float(x0 + share * (x1 - x0)), float(y0 + share * (y1 - y0))

    @property
    def corners(self) -> tuple[FloatArray, FloatArray]:
        """Both corners of the bay's wall at mid height, inboard and outboard, shape (3,) [mm]."""
        wall = np.array([0.5 * self.gap_mm, 0.0, 0.0])
        return self.hinge[0] - wall, self.hinge[1] - wall

    def hinge_x_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return x of the hinge line along the span, continued straight [mm]."""
        (x0, _, z0), (x1, _, z1) = self.hinge
        return np.asarray(x0 + (z_mm - z0) / (z1 - z0) * (x1 - x0))

    def wall_mm(self, z_mm: FloatArray) -> FloatArray:
        """Return the foremost x that the bay takes along the span, its sloped ends included [mm]."""
        inner, outer = self.corners
        wall = self.hinge_x_mm(z_mm) - 0.5 * self.gap_mm
        slopes = np.maximum(inner[0] + inner[2] - z_mm, outer[0] + z_mm - outer[2])
        return np.asarray(np.maximum(wall, slopes))

    @property
    def free_deg(self) -> tuple[float, float]:
        """Angles up and down at which the surface would touch the wing's wall [deg].

        Derived here: a point `t` along a face that leans back by `b` from the hinge's apex lies at
        ``g/2 cos d + t sin(b - d)`` behind the hinge after a turn by `d` and touches the wall at ``-g/2``.
        """
        gap = self.gap_mm * np.cos(self.sweep_rad)
        return (
            _free_angle(self.up_deg, self.half_mm[0], gap),
            _free_angle(self.down_deg, self.half_mm[1], gap),
        )

    @property
    def sweep_rad(self) -> float:
        """Sweep of the hinge line, aft positive [rad]; angles are measured square to the hinge."""
        (x0, _, z0), (x1, _, z1) = self.hinge
        return float(np.arctan2(x1 - x0, z1 - z0))

    @property
    def end_room_mm(self) -> tuple[float, float]:
        """Room square to the inboard and the outboard slope of the bay, at the free angle included [mm].

        Derived here: a point of the surface at height `y` that turns by `d` to height `y'` comes nearer to
        the hinge by ``(y + y') tan(d / 2)``, at most ``half sin d``; its way shows on a slope of 45 degrees
        by the share that the sweep of the hinge leaves.
        """
        reach = max(self.half_mm) * np.sin(np.deg2rad(max(self.free_deg))) * np.sqrt(0.5)
        cosine, sine = np.cos(self.sweep_rad), np.sin(self.sweep_rad)
        return (
            float(self.gap_mm + reach * abs(cosine - sine)),
            float(self.gap_mm + reach * abs(cosine + sine)),
        )


def _free_angle(bevel_deg: float, half_mm: float, gap_mm: float) -> float:
    bevel = np.deg2rad(bevel_deg)
    along = half_mm / np.cos(bevel)

    def room(turn: float) -> float:
        return float(0.5 * gap_mm * (1.0 + np.cos(turn)) + along * np.sin(bevel - turn))

    if room(0.5 * np.pi) > 0.0:
        return 90.0
    # loaded late: a tenth of the time of a small build
    from scipy.optimize import brentq

    return float(np.rad2deg(brentq(room, bevel, 0.5 * np.pi)))


Plane = tuple[str, FloatArray, float]
"""Name, inward normal, offset: what is kept has ``normal . point >= offset``."""


def aileron_planes(aileron: Aileron) -> tuple[Plane, ...]:
    """Return the planes that cut the surface out: upper and lower bevel, both sloped ends, the flat base."""
    (x0, y0, z0), (x1, y1, z1) = aileron.hinge
    along = np.array([x1 - x0, y1 - y0, z1 - z0])
    apex = np.array([x0 + 0.5 * aileron.gap_mm, y0, z0])
    planes = []
    for name, lean, side in (("upper", aileron.up_deg, 1.0), ("lower", aileron.down_deg, -1.0)):
        # across a swept hinge the face has to lean back more inside the layer
        turn = np.arctan(np.tan(np.deg2rad(lean)) / np.cos(aileron.sweep_rad))
        face = np.array([np.sin(turn), side * np.cos(turn), 0.0])
        normal = np.cross(face, along) * side
        normal /= np.linalg.norm(normal)
        if normal[0] < 0:
            normal = -normal
        planes.append((f"{name} bevel", normal, float(normal @ apex)))
    # the bay's ends leave the wall at its corners; the surface keeps room to them, square to the slope
    half = np.sqrt(0.5)
    inner, outer = aileron.corners
    for name, corner, normal, room in (
        ("inboard end", inner, np.array([half, 0.0, half]), aileron.end_room_mm[0]),
        ("outboard end", outer, np.array([half, 0.0, -half]), aileron.end_room_mm[1]),
    ):
        planes.append((name, normal, float(normal @ corner) + room))
    planes.append(("base", np.array([0.0, 0.0, 1.0]), aileron.start_mm))
    return tuple(planes)


def aileron_section(planes: Sequence[Plane], section: Section, z_mm: float) -> FloatArray:
    """Return the ring of a surface at height `z_mm`, counter-clockwise, shape (k, 2) [mm].

    Parameters
    ----------
    planes : sequence of (name, normal, offset)
        Of the surface, see :func:`aileron_planes`.
    section : callable
        Ring of the whole half wing at a height [mm].
    z_mm : float
        Height [mm].
    """
    ring = section(z_mm)
    if len(ring) < 3:
        return np.empty((0, 2))
    wedge = shapely.box(-FAR_MM, -FAR_MM, FAR_MM, FAR_MM)
    for _, normal, offset in planes:
        nx, ny = float(normal[0]), float(normal[1])
        rest = offset - float(normal[2]) * z_mm
        size = np.hypot(nx, ny)
        if size < 1e-9:
            if rest > 1e-9:
                return np.empty((0, 2))
            continue
        foot = np.array([nx, ny]) * rest / size**2
        inward, across = np.array([nx, ny]) / size, np.array([-ny, nx]) / size
        corners = [
            foot - FAR_MM * across,
            foot + FAR_MM * across,
            foot + FAR_MM * across + FAR_MM * inward,
            foot - FAR_MM * across + FAR_MM * inward,
        ]
        wedge = wedge.intersection(shapely.Polygon(corners))
    region = shapely.Polygon(ring).intersection(wedge)
    parts = [part for part in shapely.get_parts(region) if part.geom_type == "Polygon" and part.area > 0]
    if not parts:
        return np.empty((0, 2))
    largest = shapely.orient_polygons(max(parts, key=shapely.area))
    return np.asarray(shapely.get_coordinates(largest.exterior)[:-1])


def aileron_bay_mesh(
    aileron: Aileron, *, start_mm: float, end_mm: float, numbers: SurfaceNumbers
) -> Mesh | None:
    """Return the upright prism that cuts the bay out of a panel; None when it does not reach it."""
    inner, outer = aileron.corners
    reach = FAR_MM
    if outer[2] + reach <= start_mm or inner[2] - reach >= end_mm:
        return None
    plan = [
        (inner[0], inner[2]),
        (inner[0] + reach, inner[2] - reach),
        (outer[0] + reach, outer[2] + reach),
        (outer[0], outer[2]),
    ]
    low = np.array([(x, -reach, z) for x, z in plan])
    high = np.array([(x, reach, z) for x, z in plan])
    faces: list[tuple[int, ...]] = []
    surfaces: list[int] = []
    for a in range(4):
        b = (a + 1) % 4
        number = numbers.new(f"{aileron.name} {('inboard end', 'mouth', 'outboard end', 'wall')[a]}")
        faces += [(a, b, b + 4), (a, b + 4, a + 4)]
        surfaces += [number, number]
    for name, order in (("below", (0, 2, 1, 0, 3, 2)), ("above", (4, 5, 6, 4, 6, 7))):
        number = numbers.new(f"{aileron.name} {name}")
        faces += [order[:3], order[3:]]
        surfaces += [number, number]
    mesh = Mesh(np.vstack([low, high]), np.array(faces), np.array(surfaces), aileron.name)
    if mesh.volume_mm3 > 0:
        return mesh
    return Mesh(mesh.vertices, mesh.faces[:, ::-1], mesh.surfaces, mesh.name)


def hinge_wall(aileron: Aileron) -> Slot:
    """Return the trace of the bay's upright wall before the hinge, as ribs have to see it."""
    ends = np.stack(aileron.corners)
    return Slot(f"hinge wall of {aileron.name}", "web", ends[:, 2], ends[:, 0], np.zeros(2))


def aileron_walls(aileron: Aileron) -> tuple[Slot, Slot, Slot, Slot]:
    """Return traces of the sloped ends as ribs have to see them.

    The inboard end in the wing and on the surface, then the outboard end in the wing and on the surface.
    In the wing the outboard end grows from layer to layer, on the surface the inboard one.
    """
    inner, outer = aileron.corners
    long = 0.5 * FAR_MM
    traces = []
    for name, corner, lean, room in (
        ("inboard", inner, -1.0, aileron.end_room_mm[0]),
        ("outboard", outer, 1.0, aileron.end_room_mm[1]),
    ):
        for shift in (0.0, -lean * np.sqrt(2.0) * room):
            z = np.sort(np.array([corner[2], corner[2] + lean * long]) + shift)
            x = corner[0] + lean * (z - corner[2] - shift)
            traces.append(Slot(f"{name} end of {aileron.name}", "web", z, x, np.zeros(2)))
    return traces[0], traces[1], traces[2], traces[3]
