"""The boundary description of a solid as the CAD kernel holds it: faces on exact surfaces, edges shared."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline

from wingpath.cad.flat import Flat
from wingpath.cad.meeting import EDGE_FIT_MM, Edge, Met
from wingpath.cad.occ_geometry import line_3d, plane_of, point, spline_2d, spline_3d, surface_of
from wingpath.cad.round import Round
from wingpath.cad.ruled import Ruled
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError

__all__ = ["Shape", "solid_of"]

Shape = Any
"""A shape of the kernel; the binding ships no types."""

LEAST_MM = 1e-7
"""Tolerance of what is exact: the kernel calls two points this close one [mm]."""

SHORTEST_MM = 1e-6
"""An edge shorter than this cannot be told from a point [mm]."""

SPARE = 1.5
"""A measured gap between edge and surface is declared this much larger: samples miss its peak."""

SPARE_MM = 5e-6
"""The least tolerance of an edge that was sampled [mm]."""

TRACE_ROUNDS = 6
"""Doublings of the nodes of an edge in a surface's parameters."""

LINE_POINTS, CHECKS = 7, 5
"""Points on a straight edge from which its curve on a surface is made; checks between two such points."""


def solid_of(met: Met) -> Shape:
    """Return the solid of exact faces, or a compound of solids where the mesh has several bodies.

    Raises
    ------
    InputError
        When an edge has no length.
    ImportError
        Without the CAD kernel; see :func:`wingpath.cad.kernel.require_kernel`.
    """
    from OCP.BRep import BRep_Builder
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
    from OCP.TopoDS import TopoDS_Face, TopoDS_Shell, TopoDS_Wire

    builder = BRep_Builder()
    curved: dict[int, Any] = {}
    for number, surface in enumerate(met.surfaces):
        if not isinstance(surface, Flat):
            curved[number] = surface_of(surface)
    vertices = {v: BRepBuilderAPI_MakeVertex(point(met.points[v])).Vertex() for v in met.patches.touching}
    loose = dict.fromkeys(vertices, LEAST_MM)
    edges = []
    for edge in met.edges:
        made, gap = _edge(builder, met, edge, vertices, curved)
        for corner in (edge.start, edge.stop):
            loose[corner] = max(loose[corner], 1.01 * gap)
        edges.append(made)
    for v, gap in loose.items():
        builder.UpdateVertex(vertices[v], gap)
    shells: dict[int, Any] = {}
    for number, patch in enumerate(met.patches.patches):
        surface = met.surfaces[number]
        face, turned = TopoDS_Face(), False
        if isinstance(surface, Flat):
            builder.MakeFace(face, plane_of(surface), LEAST_MM)
        else:
            builder.MakeFace(face, curved[number], LEAST_MM)
            turned = _inward(met, number)
        for loop in patch.loops:
            wire = TopoDS_Wire()
            builder.MakeWire(wire)
            for index, ahead in loop:
                builder.Add(wire, edges[index] if ahead else edges[index].Reversed())
            wire.Closed(True)
            builder.Add(face, wire.Reversed() if turned else wire)
        if patch.body not in shells:
            shells[patch.body] = TopoDS_Shell()
            builder.MakeShell(shells[patch.body])
        builder.Add(shells[patch.body], face.Reversed() if turned else face)
    return _joined(builder, list(shells.values()))


def _joined(builder: Any, shells: Sequence[Any]) -> Shape:
    from OCP.TopoDS import TopoDS_Compound, TopoDS_Solid

    solids = []
    for shell in shells:
        shell.Closed(True)
        solid = TopoDS_Solid()
        builder.MakeSolid(solid)
        builder.Add(solid, shell)
        solids.append(solid)
    if len(solids) == 1:
        return solids[0]
    compound = TopoDS_Compound()
    builder.MakeCompound(compound)
    for solid in solids:
        builder.Add(compound, solid)
    return compound


def _inward(met: Met, number: int) -> bool:
    """Whether the kernel's normal of a curved surface points into the solid."""
    surface, patch = met.surfaces[number], met.patches.patches[number]
    mesh = met.patches.mesh
    corners = mesh.vertices[mesh.faces[patch.triangles[0]]]
    outward = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    _, gradient = surface.offsets(corners.mean(axis=0)[None])
    # both kinds have the normal of their parameters along the gradient of their offsets
    return bool(gradient[0] @ outward < 0.0)


@dataclass(frozen=True, slots=True)
class _Run:
    """The curve of an edge as it goes to the kernel: rising parameters, and points on the way."""

    curve: Any
    nodes: FloatArray
    at: Callable[[FloatArray], FloatArray]
    ahead: bool = True


def _run(met: Met, edge: Edge) -> _Run:
    ends = met.points[[edge.start, edge.stop]]
    if edge.section is not None:
        strip, end = met.surfaces[edge.section[0]], edge.section[1]
        assert isinstance(strip, Ruled)
        u = _section_range(strip, end, ends)
        height = (strip.near_mm, strip.far_mm)[end]

        def on_section(t: FloatArray) -> FloatArray:
            return strip.at(np.column_stack([t, np.full_like(t, height)]))

        curve = spline_3d(strip.knots, strip.section_poles(end), strip.degree)
        inside = strip.knots[(strip.knots > u.min()) & (strip.knots < u.max())]
        return _Run(curve, np.unique([*u, *inside]), on_section, bool(u[0] < u[1]))
    if edge.curve is not None and edge.nodes is not None:
        return _Run(spline_3d(edge.curve.t, edge.curve.c, edge.curve.k), edge.nodes, edge.curve)
    length = float(np.linalg.norm(ends[1] - ends[0]))
    if length < SHORTEST_MM:
        raise InputError(f"an edge is only {length:.1g} mm long")
    along = (ends[1] - ends[0]) / length

    def on_line(t: FloatArray) -> FloatArray:
        return np.asarray(ends[0] + t[:, None] * along)

    return _Run(line_3d(*ends), np.linspace(0.0, length, LINE_POINTS), on_line)


def _edge(
    builder: Any, met: Met, edge: Edge, vertices: dict[int, Any], curved: dict[int, Any]
) -> tuple[Any, float]:
    """Return an edge with its curves on curved surfaces, and its tolerance [mm]."""
    from OCP.TopAbs import TopAbs_Orientation
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Edge

    run = _run(met, edge)
    made, place = TopoDS_Edge(), TopLoc_Location()
    builder.MakeEdge(made, run.curve, LEAST_MM)
    first, last = (edge.start, edge.stop) if run.ahead else (edge.stop, edge.start)
    builder.Add(made, vertices[first].Oriented(TopAbs_Orientation.TopAbs_FORWARD))
    builder.Add(made, vertices[last].Oriented(TopAbs_Orientation.TopAbs_REVERSED))
    builder.Range(made, float(run.nodes[0]), float(run.nodes[-1]))
    checks = _finer(run.nodes)
    points = run.at(checks)
    gap = LEAST_MM
    for number in (edge.left, edge.right):
        surface = met.surfaces[number]
        if isinstance(surface, Flat):
            off = float(np.abs(surface.offsets(points)[0]).max())
        else:
            trace, off = _trace(surface, run, checks, points, level=edge.section is not None)
            pcurve = spline_2d(np.asarray(trace.t), trace.c, int(trace.k))
            builder.UpdateEdge(made, pcurve, curved[number], place, LEAST_MM)
        if off > 0.5 * LEAST_MM:
            gap = max(gap, SPARE_MM, SPARE * off)
    builder.UpdateEdge(made, gap)
    return made if run.ahead else made.Reversed(), gap


def _trace(
    surface: Ruled | Round, run: _Run, checks: FloatArray, points: FloatArray, *, level: bool
) -> tuple[BSpline, float]:
    """Return the curve of an edge in a surface's parameters, and how far the two lie apart [mm].

    An edge that is nearly straight in space need not be so in the parameters, so it gets more nodes there
    until it fits. One along the end of a skin is straight in them.
    """
    nodes = run.nodes[[0, -1]] if level and isinstance(surface, Ruled) else run.nodes
    before = np.inf
    for _ in range(TRACE_ROUNDS):
        on = surface.parameters(run.at(nodes))
        if isinstance(surface, Round):
            on[:, 0] = np.unwrap(on[:, 0])
        trace = make_interp_spline(nodes, on, k=3 if len(nodes) > 3 else 1)
        off = float(np.linalg.norm(surface.at(trace(checks)) - points, axis=1).max())
        if off < EDGE_FIT_MM or off > 0.5 * before:
            # what is left then is how far the edge itself lies off the surface
            break
        before = off
        nodes = np.sort(np.concatenate([nodes, 0.5 * (nodes[1:] + nodes[:-1])]))
    return trace, off


def _section_range(strip: Ruled, end: int, ends: FloatArray) -> FloatArray:
    """Return the parameters of both ends of an edge on the end curve of a skin."""
    height = (strip.near_mm, strip.far_mm)[end]
    level = np.column_stack([ends[:, :2], np.full(2, height)])
    u = strip.parameters(level)[:, 0]
    # the corners of a skin are its curve's own ends
    u[u < LEAST_MM] = 0.0
    u[u > strip.length - LEAST_MM] = strip.length
    if u[0] == u[1]:
        raise InputError("an edge along the end of a skin has no length")
    return u


def _finer(nodes: FloatArray) -> FloatArray:
    parts = np.linspace(0.0, 1.0, CHECKS, endpoint=False)
    fine = nodes[:-1, None] + parts * np.diff(nodes)[:, None]
    return np.append(fine.ravel(), nodes[-1])
