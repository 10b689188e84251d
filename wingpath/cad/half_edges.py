"""Half edges of a closed mesh: each side of each triangle, and the one that runs against it."""

from __future__ import annotations

import numpy as np

from wingpath.core.arrays import BoolArray, IntArray
from wingpath.core.errors import InputError

__all__ = ["HalfEdges"]


class HalfEdges:
    """The half edges of a closed mesh; number 3 t + k is side k of triangle t.

    Parameters
    ----------
    faces : ndarray of int, shape (m, 3)
        Triangles.

    Attributes
    ----------
    start, end, twin : ndarray of int, shape (3 m,)
        First and last vertex of each half edge, and the half edge that runs against it.

    Raises
    ------
    InputError
        When a side has no other triangle.
    """

    def __init__(self, faces: IntArray) -> None:
        self.start = faces.ravel()
        self.end = np.roll(faces, -1, axis=1).ravel()
        size = int(faces.max(initial=0)) + 1
        here, against = self.start * size + self.end, self.end * size + self.start
        order = np.argsort(here)
        place = np.minimum(np.searchsorted(here[order], against), len(order) - 1)
        self.twin: IntArray = order[place]
        if not np.array_equal(here[self.twin], against) or len(np.unique(here)) != len(here):
            raise InputError("the mesh is not closed, so there is no solid to describe")

    def groups(self, label: IntArray, key: IntArray) -> tuple[IntArray, int]:
        """Return a group for every triangle, and their count.

        Triangles that share a side, a label and a key are of one group.
        """
        from scipy.sparse import coo_matrix
        from scipy.sparse.csgraph import connected_components

        count = len(label)
        one, other = np.arange(3 * count) // 3, self.twin // 3
        same = (label[one] == label[other]) & (key[one] == key[other])
        links = (np.ones(int(same.sum()), np.int8), (one[same], other[same]))
        groups, of = connected_components(coo_matrix(links, shape=(count, count)), directed=False)
        return np.asarray(of, np.int64), int(groups)

    def border(self, own: IntArray) -> BoolArray:
        """Return which half edges part two groups."""
        mine = own[np.arange(len(self.start)) // 3]
        return np.asarray(mine != mine[self.twin])

    def next_on_border(self, border: BoolArray) -> dict[int, int]:
        """Return the half edge that follows each one along the border of its group."""
        after = {}
        edge, twin = border.tolist(), self.twin.tolist()
        for h in np.flatnonzero(border).tolist():
            following = h - 2 if h % 3 == 2 else h + 1
            while not edge[following]:
                following = twin[following]
                following = following - 2 if following % 3 == 2 else following + 1
            after[h] = following
        return after
