"""The section of a wing at a place along the span, and what its leaning ribs add as a grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import ArrayLike

from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.structure.material import WallMaterial
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.thin_section import Rods, ThinSection, parts_of
from wingpath.structure.walls import MEET_MM, CutOut, TubeLine, WallLine

__all__ = ["RibGrid", "ThinWing", "rib_grid", "wing_section"]

SKIN_PLACES = 61
"""Points kept along each skin: GJ, EI and shear stiffness are within 0.3 per cent of those of 161 points."""

OPEN_MM = 0.02
"""Skins nearer to each other than this at an end share the point; further apart a bead joins them [mm]."""

GLUED_MM = 3.0
"""A tube is glued to a wall whose trace passes its axis within this, else to the nearest skin [mm]."""

GRAIN = 1e-5
"""Walls that lie nearer to each other along the chord than this share of it stand on one point."""

EDGE_MM = 0.05
"""A wall within this of the border of a cut-out stands on the border and stays [mm]."""

RIBS = ("aft", "forward")
"""Kinds of wall that are ribs of one of the two runs."""


@dataclass(frozen=True, slots=True, eq=False)
class ThinWing:
    """A printed half wing as its skins, walls and tubes.

    Parameters
    ----------
    skins : SkinSurfaces
        Middle surfaces of the skins.
    material : WallMaterial
        The printed wall; the span runs across its layers.
    skin_mm : float
        Thickness of the skins, of one bead [mm].
    walls, tubes, cut_outs : tuple
        What stands between the skins, and where there are none.
    """

    skins: SkinSurfaces
    material: WallMaterial
    skin_mm: float
    walls: tuple[WallLine, ...] = ()
    tubes: tuple[TubeLine, ...] = ()
    cut_outs: tuple[CutOut, ...] = ()
    segments: FloatArray = field(init=False, repr=False)
    is_rib: BoolArray = field(init=False, repr=False)
    holes: tuple[shapely.Polygon, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if not self.skin_mm > 0.0:
            raise InputError(f"skin: got {self.skin_mm:g} mm; allowed: over 0. Give the width of the bead")
        rows = [
            np.column_stack([w.z_mm[:-1], w.x_mm[:-1], w.z_mm[1:], w.x_mm[1:], np.full(len(w.z_mm) - 1, k)])
            for k, w in enumerate(self.walls)
        ]
        holes = tuple(shapely.Polygon(cut.corners_mm).buffer(-EDGE_MM) for cut in self.cut_outs)
        object.__setattr__(
            self, "segments", frozen_floats(np.vstack([np.empty((0, 5)), *rows]), (None, 5), name="segments")
        )
        object.__setattr__(self, "is_rib", np.array([wall.kind in RIBS for wall in self.walls], bool))
        object.__setattr__(self, "holes", holes)

    @property
    def poisson_across(self) -> float:
        """Contraction along the chord under stress along the span."""
        return self.material.poisson * self.material.e_across_mpa / self.material.e_along_mpa

    def in_cut_out(self, x_mm: ArrayLike, z_mm: ArrayLike) -> BoolArray:
        """Return which points lie inside a cut-out, its border not counted."""
        x, z = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(z_mm, float))
        inside = np.zeros(x.shape, bool)
        for hole in self.holes:
            inside |= shapely.contains_xy(hole, x, z)
        return inside


@dataclass(frozen=True, slots=True, eq=False)
class RibGrid:
    """What ribs add by bending in their own plane when two runs cross.

    Parameters
    ----------
    ei_n_mm2, gj_n_mm2 : float
        Added to bending and to torsion stiffness [N mm2].
    coupling_n_mm2 : float
        Bending moment that goes with a twist of one radian a millimetre, nose-up, at no curvature [N mm2].
    ga_n : float
        Added to the stiffness against vertical shear [N].
    """

    ei_n_mm2: float
    gj_n_mm2: float
    coupling_n_mm2: float
    ga_n: float


@dataclass(frozen=True, slots=True, eq=False)
class _Met:
    """Walls met by cuts, arrays of shape (k,): cut, number of the wall, place, ends, cosine and sine."""

    cut: IntArray
    wall: IntArray
    fraction: FloatArray
    foot_mm: FloatArray
    head_mm: FloatArray
    hang_mm: FloatArray  # infinite where nothing hangs from the upper skin
    roof_mm: FloatArray
    cos: FloatArray
    sin: FloatArray

    def only(self, kept: BoolArray) -> _Met:
        """Return those that are kept."""
        return _Met(*(getattr(self, name)[kept] for name in self.__slots__))


def _met(shell: ThinWing, z_mm: ArrayLike, *, ribs: bool | None = None) -> _Met:
    """Return the walls met by the cuts at `z_mm`: all, only the ribs of the runs, or only the others."""
    places = np.atleast_1d(np.asarray(z_mm, float))
    skins, lines = shell.skins, shell.segments
    z0, x0, z1, x1, number = lines.T
    met = (np.minimum(z0, z1) <= places[:, None]) & (places[:, None] < np.maximum(z0, z1))
    cut, row = np.nonzero(met)
    wall = number[row].astype(np.int64)
    if ribs is not None:
        kept = shell.is_rib[wall] == ribs
        cut, row, wall = cut[kept], row[kept], wall[kept]
    z = places[cut]
    along, aft = z1[row] - z0[row], x1[row] - x0[row]
    x = x0[row] + aft * (z - z0[row]) / along
    fraction = np.round(skins.fraction_of(x, z) / GRAIN) * GRAIN
    upper, lower = skins.heights_mm(fraction, z)
    top, hang = np.full(len(z), np.inf), np.full(len(z), np.inf)
    for index in {int(k) for k in wall if shell.walls[k].profile_z_mm is not None}:
        top[wall == index] = shell.walls[index].top_mm(z[wall == index])
        hang[wall == index] = shell.walls[index].hang_mm(z[wall == index])
    head = np.maximum(np.minimum(upper, top), lower)
    # halves that meet are one wall, as is what hangs down to the lower skin; a stub of no depth is none
    head = np.where(hang <= head + MEET_MM, upper, head)
    hang = np.where((hang <= head + MEET_MM) | (upper - hang <= OPEN_MM), np.inf, hang)
    length = np.hypot(along, aft)
    cos, sin = np.abs(along) / length, np.sign(along) * aft / length
    found = _Met(cut, wall, fraction, lower, head, hang, upper, cos, sin)
    inside = (fraction > GRAIN) & (fraction < 1.0 - GRAIN) & ((head - lower > OPEN_MM) | np.isfinite(hang))
    return found.only(inside & ~shell.in_cut_out(x, z))


def wing_section(shell: ThinWing, z_mm: float, *, with_ribs: bool = True) -> ThinSection:
    """Return the section of a wing as a graph of thin walls.

    Parameters
    ----------
    shell : ThinWing
        The wing.
    z_mm : float
        Place along the span [mm].
    with_ribs : bool
        Whether ribs of the two runs stand as walls; left out when :func:`rib_grid` counts them.

    Raises
    ------
    InputError
        When the place is not on the wing, or nothing of the section is left.

    Notes
    -----
    A wall that leans by an angle from the span has its thickness over the cosine in the cut. Along the span
    it bears ``(c^2 - nu s^2)^2`` of its modulus, as it is stretched obliquely and free to contract upwards,
    and ``c^2`` of its shear modulus, as only that share of the shear of the section is in its plane; both are
    1 for a wall along the span. Where cut-outs leave several pieces, the stiffest in stretching stays.
    """
    skins = shell.skins
    if not skins.z_mm[0] <= z_mm <= skins.end_mm:
        raise InputError(
            f"section: got {z_mm:g} mm along the span; allowed: {skins.z_mm[0]:g} to {skins.end_mm:g} mm. "
            "Choose a place on the wing"
        )
    met = _met(shell, z_mm, ribs=None if with_ribs else False)
    tubes = [tube for tube in shell.tubes if tube.start_mm[2] <= z_mm <= tube.end_mm[2]]
    graph = _Graph(shell, z_mm, met.fraction)
    for k in range(len(met.wall)):
        graph.add_wall(met, k, [tube.centre_mm(z_mm) for tube in tubes])
    for tube in tubes:
        graph.add_tube(tube)
    return graph.section()


class _Graph:
    """The graph of a section while it grows."""

    def __init__(self, shell: ThinWing, z_mm: float, fractions: FloatArray) -> None:
        self.shell, self.z_mm = shell, z_mm
        skins = shell.skins
        places = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, SKIN_PLACES)))
        self.fraction = np.unique(np.round(np.concatenate([places, fractions]) / GRAIN) * GRAIN)
        upper, lower = skins.heights_mm(self.fraction, np.full(len(self.fraction), z_mm))
        x = skins.x_of_mm(self.fraction, z_mm)
        count = len(x)
        self.points = [*map(tuple, np.column_stack([x, lower])), *map(tuple, np.column_stack([x, upper]))]
        self.walls: list[tuple[int, int, float, float, float]] = []
        self.rods: list[tuple[int, TubeLine]] = []
        material = shell.material
        self.skin = (shell.skin_mm, material.e_across_mpa, material.shear_mpa)
        # at the ends the upper skin takes the point of the lower one when they touch
        above = np.arange(count, 2 * count)
        for end in (0, count - 1):
            if upper[end] - lower[end] <= OPEN_MM:
                above[end] = end
            elif not shell.in_cut_out(x[end], z_mm):
                self.walls.append((end, int(above[end]), *self.skin))
        gone = shell.in_cut_out(0.5 * (x[1:] + x[:-1]), z_mm)
        for chain in (np.arange(count), above):
            self.walls += [
                (int(chain[k]), int(chain[k + 1]), *self.skin) for k in range(count - 1) if not gone[k]
            ]
        self.above = above

    def add_wall(self, met: _Met, index: int, tubes: Sequence[FloatArray]) -> None:
        """Stand or hang a wall between the skins, with a point at the height of each tube that it holds."""
        material = self.shell.material
        ends = (met.cos, met.foot_mm, met.head_mm, met.hang_mm, met.roof_mm)
        cos, foot, head, hang, roof = (float(value[index]) for value in ends)
        share, _ = _shares(met.cos[index], met.sin[index], self.shell.poisson_across)
        column = int(np.argmin(np.abs(self.fraction - met.fraction[index])))
        x, _ = self.points[column]
        upper = int(self.above[column])
        thick = self.shell.walls[int(met.wall[index])].thickness_mm / cos
        given = (thick, float(material.e_across_mpa * share), material.shear_mpa * cos**2)
        reaches = head >= self.points[upper][1] - OPEN_MM
        held = [float(y) for place, y in tubes if abs(float(place) - x) <= GLUED_MM]
        parts = []
        if head - foot > OPEN_MM:
            parts.append((foot, column, head, upper if reaches else self._point(x, head)))
        if np.isfinite(hang):
            parts.append((hang, self._point(x, hang), roof, upper))
        for low, first, high, last in parts:
            heights = {low: first}
            heights |= {y: self._point(x, y) for y in held if low + OPEN_MM < y < high - OPEN_MM}
            chain = [*(heights[height] for height in sorted(heights)), last]
            self.walls += [(a, b, *given) for a, b in pairwise(chain)]

    def add_tube(self, tube: TubeLine) -> None:
        """Put a tube on its axis and glue it to what is nearest, walls first."""
        x, y = (float(value) for value in tube.centre_mm(self.z_mm))
        own = self._point(x, y)
        ends = np.array(sorted({end for wall in self.walls for end in wall[:2]}))
        at = np.array(self.points)[ends]
        away = np.hypot(at[:, 0] - x, at[:, 1] - y)
        stands = (ends >= 2 * len(self.fraction)) & (np.abs(at[:, 0] - x) <= GLUED_MM)
        nearest = int(ends[np.argmin(np.where(stands, away, away + np.ptp(at[:, 0])))])
        if away.min() <= OPEN_MM:
            own = int(ends[np.argmin(away)])
        else:
            thickness, _, shear = self.skin
            self.walls.append((own, nearest, 2.0 * thickness, 0.0, shear))
        self.rods.append((own, tube))

    def section(self) -> ThinSection:
        """Return what hangs together, with the points that are used."""
        if not self.walls:
            raise InputError(
                f"section at {self.z_mm:g} mm: got no skin at all; allowed: cut-outs that leave a piece of "
                "the section. Make them smaller"
            )
        ends = np.array([wall[:2] for wall in self.walls], np.int64)
        values = np.array([wall[2:] for wall in self.walls], float)
        points = np.array(self.points, float)
        part = parts_of(len(points), ends)
        length = np.hypot(*(points[ends[:, 1]] - points[ends[:, 0]]).T)
        stiff = np.bincount(part[ends[:, 0]], values[:, 0] * values[:, 1] * length)
        kept = part[ends[:, 0]] == int(np.argmax(stiff))
        ends, values = ends[kept], values[kept]
        used, flat = np.unique(ends, return_inverse=True)
        place: dict[int, int] = {int(point): k for k, point in enumerate(used)}
        held = [(place[point], tube) for point, tube in self.rods if point in place]
        rods = Rods(
            _ints([point for point, _ in held]),
            *(
                np.array([getattr(tube, name) for _, tube in held], float)
                for name in ("ea_n", "ei_x_n_mm2", "ei_y_n_mm2", "gj_n_mm2")
            ),
        )
        return ThinSection(
            points[used], flat.reshape(-1, 2), values[:, 0], values[:, 1], values[:, 2], rods=rods
        )

    def _point(self, x_mm: float, y_mm: float) -> int:
        """Add a point and return its index."""
        self.points.append((x_mm, y_mm))
        return len(self.points) - 1


def _ints(values: Sequence[int]) -> IntArray:
    return np.array(values, np.int64)


def _shares(cos: ArrayLike, sin: ArrayLike, poisson: float) -> tuple[FloatArray, FloatArray]:
    """Return the shares of a rib's stiffness in bending the wing up and in the coupling with twist."""
    c, s = np.asarray(cos, float), np.asarray(sin, float)
    along = c**2 - poisson * s**2
    return np.asarray(along**2), np.asarray(2.0 * c * s * along)


def rib_grid(shell: ThinWing, z_mm: ArrayLike) -> RibGrid | None:
    """Return what ribs add over a piece of the span when both runs are met there, else nothing.

    Parameters
    ----------
    shell : ThinWing
        The wing.
    z_mm : array_like, shape (k,)
        Evenly spread places of the piece, over which is averaged [mm].

    Notes
    -----
    A rib of height h bends in its own plane with ``R = E t h^3 / 12``, over ``cos`` a millimetre of span: the
    sum over the ribs met by a cut is the integral of ``E t h^3 / (12 p)`` over the chord for ribs p apart. It
    is bent by ``c^2 - nu s^2`` of the wing's curvature less ``2 c s`` of its nose-up twist (a rib that runs
    aft is lowered by it), so it adds ``R (c^2 - nu s^2)^2``, ``R (2 c s)^2`` and, to the coupling,
    ``-R (c^2 - nu s^2) 2 c s``. Own derivation from the bending of a grid. In a window
    the two stubs are taken as flanges of one rib, as the whole places on either side of it are close by: on a
    wing with windows the twist by the shell lay within a few per cent.
    """
    met = _met(shell, z_mm, ribs=True)
    if len({shell.walls[k].kind for k in np.unique(met.wall)}) < len(RIBS):
        return None
    height = met.head_mm - met.foot_mm
    hung = np.maximum(met.roof_mm - met.hang_mm, 0.0)
    thick = np.array([wall.thickness_mm for wall in shell.walls])[met.wall]
    # apart: between the middles of what stands and what hangs
    apart = np.where(hung > 0.0, met.roof_mm - met.foot_mm - 0.5 * (height + hung), 0.0)
    with np.errstate(invalid="ignore"):
        both = np.where(hung > 0.0, height * hung / (height + hung), 0.0) * apart**2
    second = (height**3 + hung**3) / 12.0 + both
    stiff = shell.material.e_across_mpa * thick * second / met.cos
    share, mixed = _shares(met.cos, met.sin, shell.poisson_across)
    shear = shell.material.shear_mpa * thick * (height + hung) * met.cos
    sums = (stiff * share, stiff * (2.0 * met.cos * met.sin) ** 2, -stiff * mixed, shear)
    return RibGrid(*(float(values.sum()) / np.size(z_mm) for values in sums))
