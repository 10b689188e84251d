"""What may be wrong with the triangles of a part, whatever file they stand in."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
from mesh_parts import Soup

Change = Callable[[random.Random, Soup], Soup]

BEAD_MM, LAYER_MM = 0.45, 0.25


def _some(rng: random.Random, soup: Soup, share: float = 0.3) -> list[int]:
    count = rng.randint(1, max(1, int(share * len(soup))))
    return sorted(rng.sample(range(len(soup)), count))


def flipped(rng: random.Random, soup: Soup) -> Soup:
    rows = _some(rng, soup)
    soup[rows] = soup[rows][:, ::-1]
    return soup


def inside_out(_rng: random.Random, soup: Soup) -> Soup:
    return soup[:, ::-1]


def missing(rng: random.Random, soup: Soup) -> Soup:
    return np.delete(soup, _some(rng, soup, 0.8), axis=0)


def doubled(rng: random.Random, soup: Soup) -> Soup:
    extra = soup[_some(rng, soup, 1.0)]
    return np.concatenate([soup, *[extra] * rng.randint(1, 4)])


def doubled_turned(rng: random.Random, soup: Soup) -> Soup:
    return np.concatenate([soup, soup[_some(rng, soup, 1.0)][:, ::-1]])


def scaled(rng: random.Random, soup: Soup) -> Soup:
    size = 10.0 ** rng.uniform(-9.0, 9.0)
    # ten thousand layers are no small file: the time goes by the layer
    return soup * (size if not 30.0 < size < 3000.0 else 30.0)


def flattened(rng: random.Random, soup: Soup) -> Soup:
    soup[..., rng.randrange(3)] *= rng.choice([0.0, 1e-9, 1e-4, 1e-2, -1.0])
    return soup


def stretched(rng: random.Random, soup: Soup) -> Soup:
    soup[..., rng.randrange(3)] *= 10.0 ** rng.uniform(-4.0, 1.5)
    return soup


def far_away(rng: random.Random, soup: Soup) -> Soup:
    return soup + np.array([rng.choice([0.0, -1.0, 1.0]) * 10.0 ** rng.uniform(1.0, 9.0) for _ in range(3)])


def not_finite(rng: random.Random, soup: Soup) -> Soup:
    for _ in range(rng.randint(1, 5)):
        soup[rng.randrange(len(soup)), rng.randrange(3), rng.randrange(3)] = rng.choice(
            [np.nan, np.inf, -np.inf, 1e38, 3.4e38, -1e30, 1e-42]
        )
    return soup


def degenerate(rng: random.Random, soup: Soup) -> Soup:
    for row in _some(rng, soup):
        kind = rng.randrange(3)
        if kind == 0:
            soup[row, 1] = soup[row, 0]
        elif kind == 1:
            soup[row] = soup[row, 0]
        else:
            soup[row, 2] = 0.5 * (soup[row, 0] + soup[row, 1])
    return soup


def all_points(rng: random.Random, soup: Soup) -> Soup:
    return np.broadcast_to(soup[:, :1] if rng.random() < 0.5 else soup[:1, :1], soup.shape).copy()


def jittered(rng: random.Random, soup: Soup) -> Soup:
    chance = np.random.default_rng(rng.randrange(2**31))
    return soup + chance.normal(0.0, 10.0 ** rng.uniform(-8.0, 1.0), soup.shape)


def crossing(rng: random.Random, soup: Soup) -> Soup:
    """Twist it about the vertical, so that walls pass through each other."""
    angle = rng.uniform(0.5, 6.0) * soup[..., 2] / max(float(np.ptp(soup[..., 2])), 1e-9)
    x, y = soup[..., 0] - soup[..., 0].mean(), soup[..., 1] - soup[..., 1].mean()
    soup[..., 0], soup[..., 1] = x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle)
    return soup


def folded(rng: random.Random, soup: Soup) -> Soup:
    """Move one corner place right through the part."""
    place = soup[rng.randrange(len(soup)), rng.randrange(3)].copy()
    hit = np.all(soup == place, axis=2)
    soup[hit] += np.array([rng.uniform(-60.0, 60.0) for _ in range(3)])
    return soup


def two_bodies(rng: random.Random, soup: Soup) -> Soup:
    aside = np.array([rng.choice([0.0, 1e-6, 0.1, 5.0, 40.0, 1e5]) for _ in range(3)])
    other = soup + aside
    return np.concatenate([soup, other[:, ::-1] if rng.random() < 0.3 else other])


def many_bodies(rng: random.Random, soup: Soup) -> Soup:
    count = rng.choice([10, 60, 150])
    steps = np.arange(count) * rng.choice([0.01, 3.0, 50.0])
    few = soup[: max(12, 2400 // count)]
    return np.concatenate([few + np.array([step, 0.0, 0.0]) for step in steps])


def nested(rng: random.Random, soup: Soup) -> Soup:
    middle = soup.reshape(-1, 3).mean(axis=0)
    inner = (soup - middle) * rng.uniform(0.1, 0.99) + middle
    return np.concatenate([soup, inner[:, ::-1] if rng.random() < 0.7 else inner])


def sheet(rng: random.Random, soup: Soup) -> Soup:
    return soup[: rng.choice([1, 2, 3, 4, 8])]


def needles(rng: random.Random, soup: Soup) -> Soup:
    """Add triangles that are far longer than wide."""
    chance = np.random.default_rng(rng.randrange(2**31))
    base = chance.uniform(-20.0, 20.0, (rng.randint(1, 400), 1, 3))
    return np.concatenate([soup, base + chance.normal(0.0, 1.0, (len(base), 3, 3)) * [1e-7, 1e-7, 30.0]])


def noise(rng: random.Random, _soup: Soup) -> Soup:
    chance = np.random.default_rng(rng.randrange(2**31))
    return chance.normal(0.0, 10.0 ** rng.uniform(-2.0, 1.5), (rng.randint(1, 120), 3, 3))


def stacked(rng: random.Random, soup: Soup) -> Soup:
    """Another copy on top, that may touch, hover or sink in."""
    lift = float(np.ptp(soup[..., 2])) + rng.choice([0.0, 1e-7, -1e-7, 0.3, -0.3, 3.0])
    return np.concatenate([soup, soup + np.array([0.0, 0.0, lift])])


def turned(rng: random.Random, soup: Soup) -> Soup:
    a = rng.uniform(-3.2, 3.2)
    turn = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    return soup @ turn.T


def split_edges(rng: random.Random, soup: Soup) -> Soup:
    """Halve edges of some triangles and not of their neighbours."""
    rows = _some(rng, soup)
    a, b, c = np.moveaxis(soup[rows], 1, 0)
    middle = 0.5 * (a + b)
    halves = [np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)]
    return np.concatenate([np.delete(soup, rows, axis=0), *halves])


def torn(rng: random.Random, soup: Soup) -> Soup | None:
    """Tear a hole into the walls that several layers cut, wider than two beads; None when there is no room.

    All triangles that reach into a box about a place of the surface are cut by planes at its sides, and what
    lies inside it is left out, so that the hole is as large as it should be whatever the triangles are.
    """
    steep = np.flatnonzero(np.ptp(soup[..., 2], axis=1) > 4.0 * LAYER_MM)
    if not len(steep):
        return None
    row = rng.choice(steep.tolist())
    weights = np.array([rng.uniform(0.3, 1.0) for _ in range(3)])
    middle = weights @ soup[row] / weights.sum()
    half = np.array([rng.uniform(1.5, 3.0), rng.uniform(1.5, 3.0), rng.uniform(2.0, 4.0) * LAYER_MM])
    left = [soup[i] for i in range(len(soup)) if not _meets(soup[i], middle - half, middle + half)]
    kept: list[Soup] = []
    for i in range(len(soup)):
        if _meets(soup[i], middle - half, middle + half):
            kept += _outside_box(soup[i], middle - half, middle + half)
    return np.array([*left, *kept])


def _meets(triangle: Soup, low: Soup, high: Soup) -> bool:
    return bool(np.all(triangle.max(axis=0) > low) and np.all(triangle.min(axis=0) < high))


def _outside_box(triangle: Soup, low: Soup, high: Soup) -> list[Soup]:
    """Return triangles that cover what of one lies outside a box."""
    outside: list[Soup] = []
    polygon = [np.asarray(corner) for corner in triangle]
    for axis in range(3):
        for sign, bound in ((1.0, high[axis]), (-1.0, -low[axis])):
            inner: list[Soup] = []
            outer: list[Soup] = []
            for a, b in zip(polygon, [*polygon[1:], *polygon[:1]], strict=True):
                over_a, over_b = sign * a[axis] - bound, sign * b[axis] - bound
                (outer if over_a > 0 else inner).append(a)
                if over_a * over_b < 0:
                    at = a + (b - a) * over_a / (over_a - over_b)
                    inner.append(at)
                    outer.append(at)
            outside += [np.array([outer[0], outer[k], outer[k + 1]]) for k in range(1, len(outer) - 1)]
            polygon = inner
            if len(polygon) < 3:
                return outside
    return outside


CHANGES: tuple[Change, ...] = (
    flipped,
    inside_out,
    missing,
    doubled,
    doubled_turned,
    scaled,
    flattened,
    stretched,
    far_away,
    not_finite,
    degenerate,
    all_points,
    jittered,
    crossing,
    folded,
    two_bodies,
    many_bodies,
    nested,
    sheet,
    needles,
    noise,
    stacked,
    turned,
    split_edges,
)
