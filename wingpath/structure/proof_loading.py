"""Proof loading: which weights go where on a wing that lies upside down, step by step."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.structure.atmosphere import NEWTON_PER_G
from wingpath.structure.strip_loads import StripLoads

__all__ = [
    "PROOF_SHARE",
    "STEPS_TO_LIMIT",
    "ULTIMATE_SHARE",
    "OwnMass",
    "ProofPlan",
    "ProofStation",
    "ProofStep",
    "bag_masses_g",
    "proof_plan",
]

ULTIMATE_SHARE = 1.5
"""Ultimate over limit load: 14 CFR 23.303 (text of 2014)."""

PROOF_SHARE = 1.25
"""A step between limit and ultimate: judgement, so that a wing that will fail shows it sooner."""

STEPS_TO_LIMIT = 5
"""Steps from the first factor to the limit: with the 6 g of many models a little over 1 g each;
E. Stewart in *Kitplanes* (March 2021) goes up by 1 g."""

MARGIN = 1.05
"""How far over the least factor the first step lies when it must be raised: at the least itself the weights
would be nothing; judgement."""

GROUPED_FROM = 0.5
"""Share of the limit from which every weight must be over 0: lower, the steps begin later rather than that
more strips share one weight, which would blur the loads where they count; judgement."""

LEAST_BAG_G = 1e-9
"""A lighter weight is none [g]."""


@dataclass(frozen=True, slots=True)
class ProofStation:
    """One weight.

    Parameters
    ----------
    z_mm, x_mm : float
        Where its middle lies: along the span, and aft of the root's leading edge [mm].
    mass_g : float
        The weight [g].
    """

    z_mm: float
    x_mm: float
    mass_g: float


@dataclass(frozen=True, slots=True, eq=False)
class ProofStep:
    """The weights of one step, all that lie on the wing then.

    Parameters
    ----------
    factor : float
        Load factor that the step stands for.
    share_of_limit : float
        The same over the limit load factor.
    stations : tuple of ProofStation
        The weights, root first.
    missing_torque_n_mm : float
        Nose-up torque that the flight loads have over the step's, because weights cannot lie off the wing;
        summed over the stations [N mm].
    deflection_mm : ndarray, shape (k,)
        What the stations should go down from the wing's state without weights; empty when not asked for
        [mm].
    """

    factor: float
    share_of_limit: float
    stations: tuple[ProofStation, ...]
    missing_torque_n_mm: float
    deflection_mm: FloatArray

    @property
    def total_g(self) -> float:
        """Sum of the weights [g]."""
        return sum(station.mass_g for station in self.stations)


@dataclass(frozen=True, slots=True, eq=False)
class ProofPlan:
    """All steps of a proof loading.

    Parameters
    ----------
    steps : tuple of ProofStep
        The lightest first.
    groups : tuple of tuple of int
        First strip of each weight, and the one after its last. More than one strip when a heavy part, such
        as a servo, would ask for a weight below 0 on its own strip, or for one that lies outside it.
    first_factor_raised : bool
        Whether the first factor is higher than asked, because somewhere the wing's own weight is already
        more than that factor brings.
    """

    steps: tuple[ProofStep, ...]
    groups: tuple[tuple[int, int], ...]
    first_factor_raised: bool


@dataclass(frozen=True, slots=True, eq=False)
class OwnMass:
    """The wing's own mass in strips.

    Parameters
    ----------
    mass_g, z_mm, x_mm : array_like, shape (k,)
        Mass of each strip of the half wing and its centre [g, mm].
    """

    mass_g: FloatArray
    z_mm: FloatArray
    x_mm: FloatArray

    def __post_init__(self) -> None:
        mass = frozen_floats(self.mass_g, (None,), name="mass_g")
        object.__setattr__(self, "mass_g", mass)
        for name in ("z_mm", "x_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), mass.shape, name=name))


def bag_masses_g(
    share: ArrayLike, own_mass_g: ArrayLike, *, all_up_mass_g: float, factor: float
) -> FloatArray:
    """Return the weights on the strips of a wing upside down, shape (k,) [g]; below 0 where none would do.

    Parameters
    ----------
    share : array_like, shape (k,)
        Share of the half wing's lift on each strip.
    own_mass_g : array_like, shape (k,)
        The wing's own mass in each strip [g].
    all_up_mass_g, factor : float
        Mass of the whole aircraft [g] and load factor n.

    Notes
    -----
    ``n (m/2 f_i - w_i) - w_i``: the own mass relieves n-fold in flight, and hangs from the wing besides when
    it lies upside down.
    """
    own = np.asarray(own_mass_g, dtype=np.float64)
    lift = 0.5 * all_up_mass_g * np.asarray(share, dtype=np.float64)
    return np.asarray(factor * (lift - own) - own)


def proof_plan(
    limit: StripLoads,
    own: OwnMass,
    *,
    limit_factor: float,
    chord_limits_mm: Callable[[FloatArray], tuple[ArrayLike, ArrayLike]],
    first_factor: float = 1.0,
    steps_to_limit: int = STEPS_TO_LIMIT,
    shares_beyond: Sequence[float] = (PROOF_SHARE, ULTIMATE_SHARE),
    deflection_mm: Callable[[tuple[ProofStation, ...]], ArrayLike] | None = None,
) -> ProofPlan:
    """Plan a proof loading.

    With its own weight, each step loads the root with the shear and the bending moment of its share of the
    limit loads, and so does each gap between two groups of strips.

    Parameters
    ----------
    limit : StripLoads
        Flight loads of the half wing at the limit, the wing's inertia taken off.
    own : OwnMass
        The wing's own mass in the same strips.
    limit_factor : float
        Load factor of those loads.
    chord_limits_mm : callable
        Gives the foremost and the aftmost place for a weight at places along the span (k,), both (k,) [mm].
    first_factor : float
        Load factor of the first step.
    steps_to_limit : int
        Steps up to the limit, both ends counted, at least 2.
    shares_beyond : sequence of float
        Further steps, as shares of the limit.
    deflection_mm : callable, optional
        Gives what the stations go down under the weights of a step alone, shape (k,) [mm].

    Raises
    ------
    InputError
        When the own mass has other strips than the loads, the factors do not rise, or no weights make even
        half the limit load.

    Notes
    -----
    A weight on strip i is ``n F_i / (n_limit g) - w_i``, and lies where the moments of these forces balance;
    see :func:`bag_masses_g`. All loads grow with the factor, the couples of the sections too. A strip whose
    weight would be below 0, or lie outside it, at half the limit joins the neighbour that has the heavier
    weight. If after that some weight would be below 0 at the first factor, the first factor is raised.
    """
    count = len(limit.force_n)
    if len(own.mass_g) != count:
        raise InputError(f"own mass: got {len(own.mass_g)} strips; allowed: {count}, those of the loads")
    if steps_to_limit < 2 or not 0.0 < first_factor < limit_factor:
        raise InputError(
            f"steps: got {steps_to_limit} from factor {first_factor:g} to {limit_factor:g}; "
            "allowed: two or more, from a factor over 0 to a higher one"
        )
    surely = max(first_factor, GROUPED_FROM * limit_factor) / limit_factor
    groups = _groups(limit, own, np.array([surely, 1.0, *shares_beyond]))
    first = max(first_factor, MARGIN * limit_factor * _least_share(limit, own, groups))
    shares = np.concatenate([np.linspace(first, limit_factor, steps_to_limit) / limit_factor, shares_beyond])
    steps = []
    for share in shares:
        stations, missing = _stations(limit, own, float(share), groups, chord_limits_mm)
        down = np.zeros(0) if deflection_mm is None else deflection_mm(stations)
        shape = (0,) if deflection_mm is None else (len(stations),)
        steps.append(
            ProofStep(
                factor=float(share) * limit_factor,
                share_of_limit=float(share),
                stations=stations,
                missing_torque_n_mm=missing,
                deflection_mm=frozen_floats(down, shape, name="deflection_mm"),
            )
        )
    return ProofPlan(tuple(steps), groups, first_factor_raised=first > first_factor)


def _weights(
    limit: StripLoads, own: OwnMass, share: float, groups: Sequence[tuple[int, int]]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return weight [g], its moment about z = 0 [g mm] and that about x = 0 [g mm] for each group."""
    scale = share / NEWTON_PER_G
    mass = scale * limit.force_n - own.mass_g
    along = scale * (limit.force_n * limit.z_mm + limit.bend_n_mm) - own.mass_g * own.z_mm
    # a nose-up couple is a force farther forward
    across = scale * (limit.force_n * limit.x_mm - limit.couple_n_mm) - own.mass_g * own.x_mm
    starts = [start for start, _ in groups]
    mass, along, across = (np.add.reduceat(values, starts) for values in (mass, along, across))
    return mass, along, across


def _conditions(
    limit: StripLoads, own: OwnMass, groups: Sequence[tuple[int, int]]
) -> tuple[FloatArray, FloatArray]:
    """Return A and B, shape (3, k) each, of what must hold for each group at a share s: ``s A - B >= 0``.

    A weight over 0, not inside of the group's inner edge, not outside of its outer edge.
    """
    inner = np.array([limit.edges_mm[start] for start, _ in groups])
    outer = np.array([limit.edges_mm[end] for _, end in groups])

    def slack(share: float) -> FloatArray:
        mass, along, _ = _weights(limit, own, share, groups)
        return np.array([mass - LEAST_BAG_G, along - inner * mass, outer * mass - along])

    least = slack(0.0)
    return slack(1.0) - least, -least


def _groups(limit: StripLoads, own: OwnMass, shares: FloatArray) -> tuple[tuple[int, int], ...]:
    """Return runs of strips that each have a weight over 0, inside the run, at all of some shares."""
    groups = [(strip, strip + 1) for strip in range(len(own.mass_g))]
    while True:
        rise, held = _conditions(limit, own, groups)
        wrong = (shares[:, None, None] * rise - held < 0.0).any(axis=(0, 1))
        if not wrong.any():
            return tuple(groups)
        if len(groups) == 1:
            raise InputError(
                f"proof loading: no weights on the wing upside down make {100.0 * shares[0]:.0f} % of the "
                "limit load; its own weight is too much, or the resultant lies off it. Load it the right way "
                "up, pulled from above"
            )
        mass = _weights(limit, own, float(shares[0]), groups)[0]
        at = int(np.argmin(np.where(wrong, mass, np.inf)))
        sides = [side for side in (at - 1, at + 1) if 0 <= side < len(groups)]
        other = max(sides, key=lambda side: float(mass[side]))
        low, high = min(at, other), max(at, other)
        groups[low : high + 1] = [(groups[low][0], groups[high][1])]


def _least_share(limit: StripLoads, own: OwnMass, groups: Sequence[tuple[int, int]]) -> float:
    """Return the least share of the limit at which every group has a weight over 0, inside it."""
    rise, held = _conditions(limit, own, groups)
    # straight lines that hold at higher shares: only rising ones can fail at lower ones
    rising = rise > 0.0
    return float(np.max(held[rising] / rise[rising], initial=0.0))


def _stations(
    limit: StripLoads,
    own: OwnMass,
    share: float,
    groups: Sequence[tuple[int, int]],
    chord_limits_mm: Callable[[FloatArray], tuple[ArrayLike, ArrayLike]],
) -> tuple[tuple[ProofStation, ...], float]:
    """Return the weights of one step, and the nose-up torque that they lack [N mm]."""
    mass, along, across = _weights(limit, own, share, groups)
    z, wanted = along / mass, across / mass
    foremost, aftmost = chord_limits_mm(z)
    x = np.clip(wanted, foremost, aftmost)
    missing = float((mass * (x - wanted)).sum()) * NEWTON_PER_G
    places = zip(z.tolist(), x.tolist(), mass.tolist(), strict=True)
    return tuple(ProofStation(*place) for place in places), missing
