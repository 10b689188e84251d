"""Cylinders and cones: the walls of bores."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wingpath.build.surfaces import RoundWall
from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["Round", "round_surface"]


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """A round wall about a leaning axis; its angle is measured square to the axis.

    Parameters
    ----------
    near, far : ndarray, shape (3,)
        Ends of the axis [mm].
    radius_mm : tuple of float
        Radius at both ends [mm].
    seam_rad : float
        Angle at which its first parameter is 0 and 2 pi: outside of every face on it.
    """

    near: FloatArray
    far: FloatArray
    radius_mm: tuple[float, float]
    seam_rad: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "near", frozen_floats(self.near, (3,), name="near"))
        object.__setattr__(self, "far", frozen_floats(self.far, (3,), name="far"))

    @property
    def cylinder(self) -> bool:
        """Whether the radius is the same everywhere."""
        return self.radius_mm[0] == self.radius_mm[1]

    @property
    def frame(self) -> FloatArray:
        """Unit vectors square to the axis, angle 0 and 90 degrees, and along it, shape (3, 3)."""
        axis = self.far - self.near
        axis = axis / np.linalg.norm(axis)
        first = np.cross([0.0, 1.0, 0.0], axis)
        first /= np.linalg.norm(first)
        return np.stack([first, np.cross(axis, first), axis])

    def with_seam(self, seam_rad: float) -> Round:
        """Return the same wall with its seam elsewhere."""
        return replace(self, seam_rad=seam_rad)

    def angles(self, points: FloatArray) -> FloatArray:
        """Return the angle of each point about the axis, from the frame's first vector [rad]."""
        across, _ = self._across(points)
        return np.asarray(np.arctan2(across[:, 1], across[:, 0]))

    def parameters(self, points: FloatArray) -> FloatArray:
        """Return angle from the seam [rad] and, for a cylinder, length along the axis, else z [mm]."""
        angle = np.mod(self.angles(points) - self.seam_rad, 2.0 * np.pi)
        along = (points - self.near) @ self.frame[2] if self.cylinder else points[:, 2]
        return np.column_stack([angle, along])

    def at(self, parameters: FloatArray) -> FloatArray:
        """Return points of the wall, shape (k, 3) [mm]."""
        angle = parameters[:, 0] + self.seam_rad
        first, second, axis = self.frame
        circle = np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second
        if self.cylinder:
            return np.asarray(self.near + self.radius_mm[0] * circle + parameters[:, 1:] * axis)
        share = (parameters[:, 1:] - self.near[2]) / (self.far[2] - self.near[2])
        radius = self.radius_mm[0] * (1.0 - share) + self.radius_mm[1] * share
        lifted = radius * (circle - circle[:, 2:] / axis[2] * axis)
        return np.asarray(self.near * (1.0 - share) + self.far * share + lifted)

    def offsets(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return signed distances from the wall, outside positive, and unit gradients."""
        across, back = self._across(points)
        size = np.linalg.norm(across, axis=1)
        rate = (self.radius_mm[1] - self.radius_mm[0]) / (self.far[2] - self.near[2])
        radius = self.radius_mm[0] + (points[:, 2] - self.near[2]) * rate
        outward = (across / size[:, None]) @ back
        lean = (self.far - self.near)[:2] / (self.far[2] - self.near[2])
        gradient = np.column_stack([outward, -outward @ lean - rate])
        steep = np.linalg.norm(gradient, axis=1)
        return (size - radius) / steep, gradient / steep[:, None]

    def _across(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return points square to the axis, shape (k, 2), and the matrix that takes them there.

        A point is moved along the axis into its own layer's circle, so that in a layer the wall is the
        ellipse that a leaning cylinder leaves there.
        """
        first, second, axis = self.frame
        layer = np.stack([first - first[2] / axis[2] * axis, second - second[2] / axis[2] * axis])[:, :2]
        back = np.linalg.inv(layer.T)
        share = ((points[:, 2] - self.near[2]) / (self.far[2] - self.near[2]))[:, None]
        centre = self.near[:2] * (1.0 - share) + self.far[:2] * share
        return np.asarray((points[:, :2] - centre) @ back.T), np.asarray(back)


def round_surface(wall: RoundWall) -> Round:
    """Return the surface of a bore's wall."""
    return Round(
        np.array([*wall.near, wall.near_mm]),
        np.array([*wall.far, wall.far_mm]),
        (wall.near_radius_mm, wall.far_radius_mm),
    )
