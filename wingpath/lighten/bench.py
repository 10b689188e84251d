"""Where candidates are looked at: a journal of what is known, an engine for the rest, progress told."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from wingpath.lighten.engine import Engine
from wingpath.lighten.freedom import Candidate, Freedom
from wingpath.lighten.judging import Guess, Job, Judgement, guess_candidate, judge_candidate
from wingpath.lighten.measures import measures_from_dict
from wingpath.pipeline.progress import Progress

__all__ = ["Bench", "Notebook"]

LONG_S = 90.0
"""From here on the time left is told in minutes [s]."""


class Notebook(Protocol):
    """Where results are kept."""

    def append(self, key: str, kind: Any, value: Mapping[str, Any]) -> None:
        """Keep a result."""
        ...


@dataclass(slots=True)
class Bench:
    """Looks at candidates, each once.

    Parameters
    ----------
    freedom : Freedom
        What candidates mean.
    data, base_dir, edge_mm
        See :class:`wingpath.lighten.judging.Job`.
    engine : Engine
        What the work runs on.
    expected : int
        How many judgements there will be at most, for the time left.
    known : mapping of (str, str) to mapping
        Results of an earlier run, by key and kind.
    notebook : Notebook or None
        Where new results go.
    progress : callable
        Told what is being done and how far it is.
    describe : callable
        Returns the best so far in words.
    """

    freedom: Freedom
    data: Mapping[str, Any]
    base_dir: str
    engine: Engine
    progress: Progress
    expected: int
    edge_mm: float | None = None
    known: Mapping[tuple[str, str], Mapping[str, Any]] = field(default_factory=dict)
    notebook: Notebook | None = None
    describe: Callable[[], str] = lambda: ""
    judged: int = 0
    fresh: int = 0
    spent_s: float = 0.0
    began_s: float | None = None

    def job(self, changes: Mapping[str, Any]) -> Job:
        """Return the job of changes to the spec."""
        return Job(self.data, tuple(sorted(changes.items())), self.base_dir, self.edge_mm)

    def guess(self, candidates: list[Candidate]) -> list[Guess]:
        """Return the guess of each candidate."""
        jobs = [self.job(self.freedom.changes(candidate)) for candidate in candidates]
        words = f"guessing {len(jobs)} layouts"
        return self._looked("previewed", jobs, guess_candidate, _guess_from, lambda _: self._tell(words))

    def judge(self, candidates: list[Candidate]) -> list[Judgement]:
        """Return the judgement of each candidate."""
        return self.judge_changes([self.freedom.changes(candidate) for candidate in candidates])

    def judge_changes(self, changes: Sequence[Mapping[str, Any]]) -> list[Judgement]:
        """Return the judgement of each set of changes."""
        jobs = [self.job(one) for one in changes]

        def counted(fresh: bool) -> None:
            self.judged += 1
            self.fresh += fresh
            self._tell(f"{self.judged} built and solved")

        self.began_s = began = time.monotonic()
        before = self.fresh
        try:
            return self._looked("judged", jobs, judge_candidate, _judgement_from, counted)
        finally:
            self.began_s = None
            if self.fresh > before:
                self.spent_s += time.monotonic() - began

    def _tell(self, words: str) -> None:
        share = min(0.99, self.judged / max(self.expected, 1))
        best, left = self.describe(), self._left()
        self.progress(", ".join(part for part in (words, best, left) if part), share)

    def _left(self) -> str:
        if not self.fresh or self.judged >= self.expected:
            return ""
        # what is being judged now counts too: its results come in before its time is added up
        running = 0.0 if self.began_s is None else time.monotonic() - self.began_s
        seconds = (self.spent_s + running) / self.fresh * (self.expected - self.judged)
        left = f"{seconds / 60.0:.0f} min" if seconds >= LONG_S else f"{seconds:.0f} s"
        return f"about {left} left"

    def _looked(
        self,
        kind: str,
        jobs: Sequence[Job],
        look: Callable[[Job], Any],
        read: Callable[[Mapping[str, Any]], Any],
        told: Callable[[bool], None],
    ) -> list[Any]:
        found: dict[int, Any] = {}
        missing = []
        for number, job in enumerate(jobs):
            kept = self.known.get((job.key, kind))
            value = None if kept is None else _readable(read, kept)
            if value is None:
                missing.append(number)
            else:
                found[number] = value
                told(False)
        for place, value in self.engine.run(look, [jobs[number] for number in missing]):
            number = missing[place]
            if self.notebook is not None:
                self.notebook.append(jobs[number].key, kind, value.as_dict())
            # as it would be read back, so that a search that goes on sees the same numbers
            found[number] = value
            told(True)
        return [found[number] for number in range(len(jobs))]


def _readable(read: Callable[[Mapping[str, Any]], Any], kept: Mapping[str, Any]) -> Any:
    """Return what was kept; None when it cannot be read, and is looked at again."""
    try:
        return read(kept)
    except (KeyError, TypeError, ValueError):
        return None


def _guess_from(data: Mapping[str, Any]) -> Guess:
    values = {key: value for key, value in data.items() if value is not None}
    return Guess(**values)


def _judgement_from(data: Mapping[str, Any]) -> Judgement:
    measures = data["measures"]
    return Judgement(None if measures is None else measures_from_dict(measures), str(data["refused"]))
