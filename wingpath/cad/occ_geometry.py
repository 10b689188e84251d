"""Curves and surfaces as the CAD kernel's own objects."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline

from wingpath.cad.flat import Flat
from wingpath.cad.round import Round
from wingpath.cad.ruled import Ruled
from wingpath.core.arrays import FloatArray

__all__ = ["line_3d", "plane_of", "point", "spline_2d", "spline_3d", "surface_of"]

CIRCLE_PIECES, CIRCLE_DEGREE = 64, 5
"""A cone's circles as curves of degree 5 in 64 pieces: off by a ten-millionth of the radius at most."""


def point(at: FloatArray) -> Any:
    """Return a point of the kernel."""
    from OCP.gp import gp_Pnt

    return gp_Pnt(*(float(value) for value in at))


def _direction(along: FloatArray) -> Any:
    from OCP.gp import gp_Dir

    return gp_Dir(*(float(value) for value in along))


def _knots(knots: FloatArray) -> tuple[Any, Any]:
    """Return distinct knots and how often each stands, as arrays of the kernel."""
    from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

    values, counts = np.unique(knots, return_counts=True)
    reals = TColStd_Array1OfReal(1, len(values))
    often = TColStd_Array1OfInteger(1, len(values))
    for i, (value, count) in enumerate(zip(values.tolist(), counts.tolist(), strict=True)):
        reals.SetValue(i + 1, value)
        often.SetValue(i + 1, count)
    return reals, often


def spline_3d(knots: FloatArray, poles: FloatArray, degree: int) -> Any:
    """Return a curve in space."""
    from OCP.Geom import Geom_BSplineCurve
    from OCP.TColgp import TColgp_Array1OfPnt

    array = TColgp_Array1OfPnt(1, len(poles))
    for i, pole in enumerate(poles):
        array.SetValue(i + 1, point(pole))
    return Geom_BSplineCurve(array, *_knots(knots), degree)


def spline_2d(knots: FloatArray, poles: FloatArray, degree: int) -> Any:
    """Return a curve in the parameters of a surface."""
    from OCP.Geom2d import Geom2d_BSplineCurve
    from OCP.gp import gp_Pnt2d
    from OCP.TColgp import TColgp_Array1OfPnt2d

    array = TColgp_Array1OfPnt2d(1, len(poles))
    for i, (u, v) in enumerate(poles.tolist()):
        array.SetValue(i + 1, gp_Pnt2d(u, v))
    return Geom2d_BSplineCurve(array, *_knots(knots), degree)


def line_3d(start: FloatArray, stop: FloatArray) -> Any:
    """Return a straight line through two points, its parameter the distance from the first."""
    from OCP.Geom import Geom_Line

    return Geom_Line(point(start), _direction(stop - start))


def plane_of(flat: Flat) -> Any:
    """Return a plane whose normal points the same way."""
    from OCP.Geom import Geom_Plane

    return Geom_Plane(point(flat.origin), _direction(flat.normal))


def surface_of(surface: Ruled | Round) -> Any:
    """Return a curved surface; its parameters are those of :class:`Ruled` and :class:`Round`."""
    if isinstance(surface, Ruled):
        return _between(surface.knots, surface.section_poles(0), surface.section_poles(1), surface.degree)
    if surface.cylinder:
        return _cylinder(surface)
    angle = np.linspace(0.0, 2.0 * np.pi, CIRCLE_PIECES + 1)
    rings = [surface.at(np.column_stack([angle, np.full_like(angle, z)])) for z in _ends(surface)]
    splines: list[BSpline] = [make_interp_spline(angle, ring, k=CIRCLE_DEGREE) for ring in rings]
    for spline, z in zip(splines, _ends(surface), strict=True):
        spline.c[:, 2] = z
    return _between(splines[0].t, splines[0].c, splines[1].c, CIRCLE_DEGREE)


def _ends(surface: Round) -> tuple[float, float]:
    return float(surface.near[2]), float(surface.far[2])


def _between(knots: FloatArray, near: FloatArray, far: FloatArray, degree: int) -> Any:
    from OCP.Geom import Geom_BSplineSurface
    from OCP.TColgp import TColgp_Array2OfPnt

    array = TColgp_Array2OfPnt(1, len(near), 1, 2)
    for i, (one, other) in enumerate(zip(near, far, strict=True)):
        array.SetValue(i + 1, 1, point(one))
        array.SetValue(i + 1, 2, point(other))
    heights = np.array([near[0, 2], near[0, 2], far[0, 2], far[0, 2]])
    along, often = _knots(knots)
    across, twice = _knots(heights)
    return Geom_BSplineSurface(array, along, across, often, twice, degree, 1)


def _cylinder(surface: Round) -> Any:
    from OCP.Geom import Geom_CylindricalSurface
    from OCP.gp import gp_Ax3

    first, second, axis = surface.frame
    seam = np.cos(surface.seam_rad) * first + np.sin(surface.seam_rad) * second
    frame = gp_Ax3(point(surface.near), _direction(axis), _direction(seam))
    return Geom_CylindricalSurface(frame, surface.radius_mm[0])
