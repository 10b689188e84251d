"""The search: guesses prune, the shell judges, and what was judged corrects the guesses.

First the most promising of each kind on a coarse grid are judged; then in each round an optimiser proposes
many candidates. A beam guesses their numbers; what the judged teach corrects these. Those that cannot be
lighter than the best, or cannot hold the targets, even if the guess is off by twice its usual error, are left
out. The most promising few are built, proven and solved. In the end the neighbourhood of the best is searched
in the same way, until nothing in it can be lighter.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Any, Protocol

import numpy as np

from wingpath.core.errors import InputError
from wingpath.lighten.correction import NUMBERS, Corrected, Correction, correction_of
from wingpath.lighten.freedom import Candidate, Freedom
from wingpath.lighten.judging import Guess, Judgement
from wingpath.lighten.measures import Measures
from wingpath.lighten.targets import Targets, numbers_of, targets_of

__all__ = ["Counts", "Evaluate", "Found", "SearchSettings", "Searcher"]

SURE = 2.0
"""Standard deviations that a guess may be off before a candidate is left out: one in fifty is lost."""

EXPLORED = 3
"""Every so many judged candidates one is the most hopeful instead of the most likely."""

MISS_WEIGHT = 3.0
"""Weight of the logarithm of a missed target against that of mass."""

REFUSED_COST = 3.0
"""Added for what cannot be drawn or built [natural logarithm of mass]."""

MAIN_SHARE = 0.6
"""Share of the judged candidates for the rounds; the rest is for the neighbourhood of the best."""

MENDED = 3
"""Lighter ones that miss a target by least, whose neighbours are looked at as those of the best are."""

FIRST_SHARE = 0.25
"""Most of the judged candidates of the rounds that are spent on one of each kind."""

LEAST_SHARE = 0.02
"""A share of a target below this is as good as none: keeps logarithms finite."""


class Evaluate(Protocol):
    """What looks at candidates."""

    def guess(self, candidates: list[Candidate]) -> list[Guess]:
        """Return the guess of each candidate."""
        ...

    def judge(self, candidates: list[Candidate]) -> list[Judgement]:
        """Return the judgement of each candidate."""
        ...


@dataclass(frozen=True, slots=True)
class SearchSettings:
    """How much is searched.

    Parameters
    ----------
    judged : int
        Most candidates that are built and solved in rounds and neighbourhood.
    pool : int
        Candidates that are guessed in each round.
    batch : int
        Most that are judged before the next guess; they may run at once.
    patience : int
        Rounds without a lighter one after which the neighbourhood is searched.
    seed : int
        Seed of the optimiser.
    prune : bool
        Whether guesses leave out candidates; without, every proposed one is judged.
    """

    judged: int = 60
    pool: int = 64
    batch: int = 6
    patience: int = 3
    seed: int = 1
    prune: bool = True


@dataclass(frozen=True, slots=True)
class Counts:
    """What was looked at.

    Parameters
    ----------
    guessed, refused, left_out, judged : int
        Different candidates whose numbers were guessed; of those, such that cannot be drawn, or whose
        wrinkles a shell of the usual size cannot show; such that no judgement was spent on; those that were
        built and solved.
    """

    guessed: int
    refused: int
    left_out: int
    judged: int


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a search knows.

    Parameters
    ----------
    freedom, targets
        What may change, what has to hold.
    judged : mapping of Candidate to Judgement
        In the order in which they were judged, what is drawn first.
    guesses : mapping of Candidate to Guess
        All that were guessed.
    best : Candidate or None
        The lightest that meets the targets; None when none does.
    counts : Counts
        What was looked at.
    """

    freedom: Freedom
    targets: Targets
    judged: Mapping[Candidate, Judgement]
    guesses: Mapping[Candidate, Guess]
    best: Candidate | None
    counts: Counts

    def measures(self, candidate: Candidate) -> Measures | None:
        """Return the measures of a candidate; None when it is not judged or cannot be built."""
        judged = self.judged.get(candidate)
        return None if judged is None else judged.measures


@dataclass(frozen=True, slots=True)
class _Hope:
    """A candidate as it is expected to come out, and at best."""

    cost: float
    best_cost: float
    mass_g: float
    best_mass_g: float
    best_share: float
    share: float


class Searcher:
    """A search in progress: it gathers what is judged until it is told to stop.

    Parameters
    ----------
    freedom : Freedom
        What may change.
    evaluate : Evaluate
        What looks at candidates.
    settings : SearchSettings
        How much is searched.
    no_worse : bool
        Whether targets that the spec does not tell are what is drawn.

    Raises
    ------
    InputError
        When what is drawn cannot be built, or nothing has to hold.
    """

    def __init__(
        self, freedom: Freedom, evaluate: Evaluate, settings: SearchSettings, *, no_worse: bool = False
    ) -> None:
        self.freedom, self.evaluate, self.settings = freedom, evaluate, settings
        self.judged: dict[Candidate, Judgement] = {}
        self.guesses: dict[Candidate, Guess] = {}
        drawn = freedom.canonical(freedom.drawn)
        self._guess([drawn])
        self._judge([drawn])
        measures = self.judged[drawn].measures
        if measures is None:
            raise InputError(
                f"the wing as drawn cannot be built: {self.judged[drawn].refused} Mend that first: the "
                "search starts from a wing that prints"
            )
        self.drawn = measures
        self.targets: Targets = targets_of(freedom.spec, measures, no_worse=no_worse)

    def found(self) -> Found:
        """Return what is known by now."""
        refused = sum(self._unfit(guess) for guess in self.guesses.values())
        counts = Counts(
            guessed=len(self.guesses),
            refused=refused,
            left_out=sum(
                one not in self.judged and not self._unfit(guess) for one, guess in self.guesses.items()
            ),
            judged=len(self.judged),
        )
        return Found(self.freedom, self.targets, self.judged, self.guesses, self.best, counts)

    @property
    def best(self) -> Candidate | None:
        """The lightest judged candidate that meets all targets; of equal ones the first in order."""
        met = [
            (judgement.measures.mass_g, candidate)
            for candidate, judgement in self.judged.items()
            if judgement.measures is not None and self.targets.met(judgement.measures)
        ]
        return min(met)[1] if met else None

    @property
    def best_mass_g(self) -> float:
        """Mass of the best [g]; infinite without one."""
        best = self.best
        measures = None if best is None else self.judged[best].measures
        return math.inf if measures is None else measures.mass_g

    def search(self) -> None:
        """Search in rounds, then around the best."""
        self._rounds()
        self._around()

    def _rounds(self) -> None:
        import optuna

        optuna.logging.set_verbosity(optuna.logging.ERROR)
        sampler = optuna.samplers.TPESampler(seed=self.settings.seed, n_startup_trials=self.settings.pool)
        study = optuna.create_study(sampler=sampler)
        space = _space(self.freedom)
        most = max(1, round(MAIN_SHARE * self.settings.judged))
        idle = 0
        self._first(most)
        while len(self.judged) < most and idle < self.settings.patience:
            before = self.best_mass_g
            trials = [study.ask() for _ in range(self.settings.pool)]
            asked = [self.freedom.canonical(self._candidate(trial)) for trial in trials]
            # most proposals change much at once: what changes one thing about the best is tried along with
            beside = [
                one for centre in (self._centre(), *self._misses()) for one in self.freedom.neighbours(centre)
            ]
            near = [self.freedom.canonical(one) for one in beside]
            self._guess([*asked, *near])
            chosen = self._chosen([*asked, *near], most - len(self.judged))
            self._judge(chosen)
            corrections = self.corrections()
            for candidate in chosen:
                if candidate not in asked:
                    params = dict(zip(space, candidate, strict=True))
                    study.add_trial(
                        optuna.create_trial(
                            params=params, distributions=space, value=self._cost(candidate, corrections)
                        )
                    )
            for trial, candidate in zip(trials, asked, strict=True):
                study.tell(trial, self._cost(candidate, corrections))
            idle = idle + 1 if not chosen or self.best_mass_g >= before else 0

    def _first(self, most: int) -> None:
        """Judge the most promising of each kind on a coarse grid: guesses are off for whole kinds alike."""
        grid = list(dict.fromkeys(self.freedom.canonical(one) for one in self.freedom.coarse()))
        self._guess(grid)
        corrections = self.corrections()
        best: dict[Any, tuple[float, Candidate]] = {}
        for candidate in grid:
            if candidate not in self.judged and not self._unfit(self.guesses[candidate]):
                cost = self.hope(candidate, corrections).cost
                kind = self.freedom.kind(candidate)
                best[kind] = min(best.get(kind, (cost, candidate)), (cost, candidate))
        chosen = [candidate for _, candidate in sorted(best.values())]
        self._judge(chosen[: max(0, round(FIRST_SHARE * most))])

    def _around(self) -> None:
        """Search the neighbourhood of the best, one change at a time, then two, until nothing is left."""
        while len(self.judged) < self.settings.judged:
            centre = self._centre()
            near = list(self.freedom.neighbours(centre))
            mended = [other for one in self._misses() for other in self.freedom.neighbours(one)]
            if self._found_nearer(centre, [*near, *mended]):
                continue
            if not self._found_nearer(
                centre, chain.from_iterable(self.freedom.neighbours(one) for one in near)
            ):
                return

    def _found_nearer(self, centre: Candidate, candidates: Iterable[Candidate]) -> bool:
        """Judge what may be better than the centre, most promising first; return whether one was."""
        around = sorted({self.freedom.canonical(one) for one in candidates})
        self._guess(around)
        while len(self.judged) < self.settings.judged:
            chosen = self._chosen(around, self.settings.judged - len(self.judged))
            if not chosen:
                return False
            self._judge(chosen)
            if self._centre() != centre:
                return True
        return False

    def _centre(self) -> Candidate:
        """Return the best, or what comes nearest to the targets."""
        best = self.best
        if best is not None:
            return best
        shares = [
            (self.targets.worst(judgement.measures), candidate)
            for candidate, judgement in self.judged.items()
            if judgement.measures is not None
        ]
        return min(shares)[1]

    def _misses(self) -> list[Candidate]:
        """Return the lighter ones that come nearest to holding the targets: one change may mend them."""
        lighter = [
            (self.targets.worst(judgement.measures), candidate)
            for candidate, judgement in self.judged.items()
            if judgement.measures is not None
            and judgement.measures.mass_g < self.best_mass_g
            and not self.targets.barred(judgement.measures)
        ]
        return [candidate for _, candidate in sorted(lighter)[:MENDED]]

    def _candidate(self, trial: Any) -> Candidate:
        chosen = []
        for dimension in self.freedom.dimensions:
            last = len(dimension.values) - 1
            if dimension.ordered:
                chosen.append(trial.suggest_int(dimension.name, 0, last))
            else:
                chosen.append(trial.suggest_categorical(dimension.name, tuple(range(last + 1))))
        return tuple(chosen)

    def _chosen(self, candidates: Iterable[Candidate], most: int) -> list[Candidate]:
        """Return the few candidates that are worth judging, most promising first."""
        fresh = [
            candidate
            for candidate in dict.fromkeys(candidates)
            if candidate not in self.judged and not self._unfit(self.guesses[candidate])
        ]
        if not self.settings.prune:
            return fresh[:most]
        corrections = self.corrections()
        hopes = {candidate: self.hope(candidate, corrections) for candidate in fresh}
        lightest = self.best_mass_g
        open_ones = [
            candidate
            for candidate in fresh
            if hopes[candidate].best_mass_g < lightest and hopes[candidate].best_share <= 1.0
        ]
        likely = sorted(open_ones, key=lambda one: (hopes[one].cost, one))
        hopeful = iter(sorted(open_ones, key=lambda one: (hopes[one].best_cost, one)))
        chosen: list[Candidate] = []
        for number, candidate in enumerate(likely):
            if len(chosen) >= min(most, self.settings.batch):
                break
            if number % EXPLORED == EXPLORED - 1:
                candidate = next((one for one in hopeful if one not in chosen), candidate)
            if candidate not in chosen:
                chosen.append(candidate)
        return chosen

    def _unfit(self, guess: Guess) -> bool:
        """Whether a candidate cannot be drawn, or its wrinkles would not show in the shell."""
        return bool(guess.refused) or (guess.coarse and "coarse-mesh" not in self.targets.warned)

    def corrections(self) -> dict[str, Correction]:
        """Return what the judged candidates teach about guesses."""
        found = {}
        features = {candidate: self.freedom.features(candidate) for candidate in self.judged}
        for name in NUMBERS:
            rows, guessed, judged = [], [], []
            for candidate, judgement in self.judged.items():
                guess = self.guesses.get(candidate)
                if judgement.measures is None or guess is None or guess.refused:
                    continue
                number, own = numbers_of(judgement.measures)[name], _guessed(guess, name)
                if number and own and math.isfinite(own):
                    rows.append(features[candidate])
                    guessed.append(own)
                    judged.append(abs(number))
            width = len(self.freedom.features(self.freedom.drawn))
            found[name] = correction_of(name, np.array(rows).reshape(len(rows), width), guessed, judged)
        return found

    def hope(self, candidate: Candidate, corrections: Mapping[str, Correction]) -> _Hope:
        """Return a candidate as it is expected to come out, and at best."""
        guess, features = self.guesses[candidate], self.freedom.features(candidate)

        def corrected(name: str) -> Corrected | None:
            own = _guessed(guess, name)
            return None if own is None or not math.isfinite(own) else corrections[name].apply(own, features)

        mass = corrected("mass_g")
        assert mass is not None
        expected, hopeful = LEAST_SHARE, LEAST_SHARE
        for target in self.targets.targets:
            number = corrected(target.key)
            if number is None:
                continue
            up = -SURE if target.sense == "most" else SURE
            expected = max(expected, target.share(number.middle))
            hopeful = max(hopeful, target.share(number.at(up)))
        light = mass.at(-SURE)
        return _Hope(
            cost=_cost(mass.middle, expected),
            best_cost=_cost(light, hopeful),
            mass_g=mass.middle,
            best_mass_g=light,
            best_share=hopeful,
            share=expected,
        )

    def _cost(self, candidate: Candidate, corrections: Mapping[str, Correction]) -> float:
        """Return what the optimiser is told: the less the better."""
        judgement, guess = self.judged.get(candidate), self.guesses[candidate]
        if judgement is not None and judgement.measures is not None:
            share = max(self.targets.shares(judgement.measures).values(), default=0.0)
            cost = _cost(judgement.measures.mass_g, min(share, 10.0))
            return cost + (REFUSED_COST if self.targets.barred(judgement.measures) else 0.0)
        if judgement is not None or self._unfit(guess):
            return math.log(self.drawn.mass_g) + REFUSED_COST
        return self.hope(candidate, corrections).cost

    def _guess(self, candidates: Iterable[Candidate]) -> None:
        fresh = [one for one in dict.fromkeys(candidates) if one not in self.guesses]
        for candidate, guess in zip(fresh, self.evaluate.guess(fresh), strict=True):
            self.guesses[candidate] = guess

    def _judge(self, candidates: Iterable[Candidate]) -> None:
        fresh = [one for one in dict.fromkeys(candidates) if one not in self.judged]
        for candidate, judgement in zip(fresh, self.evaluate.judge(fresh), strict=True):
            self.judged[candidate] = judgement

    def judge_more(self, candidates: Iterable[Candidate]) -> None:
        """Judge candidates beyond the search, for what there is to tell about its result."""
        wanted = [self.freedom.canonical(one) for one in candidates]
        self._guess(wanted)
        self._judge(one for one in wanted if not self._unfit(self.guesses[one]))


def _space(freedom: Freedom) -> dict[str, Any]:
    """Return the choices as the optimiser knows them."""
    from optuna.distributions import CategoricalDistribution, IntDistribution

    return {
        dimension.name: IntDistribution(0, len(dimension.values) - 1)
        if dimension.ordered
        else CategoricalDistribution(tuple(range(len(dimension.values))))
        for dimension in freedom.dimensions
    }


def _cost(mass_g: float, share: float) -> float:
    return math.log(mass_g) + MISS_WEIGHT * max(0.0, math.log(max(share, LEAST_SHARE)))


def _guessed(guess: Guess, name: str) -> float | None:
    if name == "strength":
        return 1.0
    if name == "divergence_m_s":
        # pressure at divergence goes with the stiffness in twist
        return float(guess.twist_deg_per_n_m**-0.5)
    values: dict[str, float | None] = {
        "mass_g": guess.mass_g,
        "tip_deflection_mm": guess.tip_deflection_mm,
        "twist_deg_per_n_m": guess.twist_deg_per_n_m,
        "first_buckling_load_factor": guess.first_buckling_load_factor,
        "buckling_torque_n_m": guess.buckling_torque_n_m,
    }
    return values[name]
