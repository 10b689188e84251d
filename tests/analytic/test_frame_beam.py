"""A beam between two nodes bends, stretches and twists as a cantilever does, whichever way it lies."""

from __future__ import annotations

import numpy as np
import pytest

from wingpath.structure.frame_beam import beam_stiffness

LENGTH, EA, EI_X, EI_Y, GJ = 40.0, 5e5, 3e6, 2e6, 1e6

ROUNDED = 1e-9
"""Relative: a system of six equations."""


def held(way: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Return the stiffness of the free end of a beam that is clamped at the other, and its direction."""
    along = np.array(way) / np.linalg.norm(way)
    points = np.array([[3.0, -2.0, 1.0], np.array([3.0, -2.0, 1.0]) + LENGTH * along])
    stiff = beam_stiffness(
        points, np.array([[0, 1]]), ea_n=EA, ei_x_n_mm2=EI_X, ei_y_n_mm2=EI_Y, gj_n_mm2=GJ
    )[0]
    assert stiff == pytest.approx(stiff.T)
    # moving and turning all of it as one costs nothing
    for move in np.eye(3):
        assert stiff @ np.concatenate([move, np.zeros(3), move, np.zeros(3)]) == pytest.approx(0.0, abs=1e-6)
        turn = np.concatenate([np.zeros(3), move, np.cross(move, LENGTH * along), move])
        assert stiff @ turn == pytest.approx(0.0, abs=1e-4)
    return stiff[6:, 6:], along


@pytest.mark.parametrize(
    "way",
    [(0.0, 0.0, 1.0), (0.5, 0.0, 1.0), (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (1.0, 0.0, 1e-12), (0.3, 0.2, 1.0)],
)
def test_a_cantilever(way: tuple[float, float, float]) -> None:
    stiff, along = held(way)

    def end(force: np.ndarray, moment: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        found = np.linalg.solve(stiff, np.concatenate([force, moment]))
        return found[:3], found[3:]

    none = np.zeros(3)
    assert end(along, none)[0] == pytest.approx(LENGTH / EA * along, rel=ROUNDED, abs=1e-12)
    assert end(none, along)[1] == pytest.approx(LENGTH / GJ * along, rel=ROUNDED, abs=1e-12)
    if way[1] == 0.0:
        up = np.array([0.0, 1.0, 0.0])
        moved, turned = end(up, none)
        assert moved == pytest.approx(LENGTH**3 / (3.0 * EI_X) * up, rel=ROUNDED, abs=1e-12)
        assert np.linalg.norm(turned) == pytest.approx(LENGTH**2 / (2.0 * EI_X), rel=ROUNDED)
        aside = np.cross(along, up)
        assert end(aside, none)[0] == pytest.approx(LENGTH**3 / (3.0 * EI_Y) * aside, rel=ROUNDED, abs=1e-12)
