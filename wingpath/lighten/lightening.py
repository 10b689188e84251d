"""From a spec to a lighter one: freedom, search, what there is to tell."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wingpath.core.errors import WingpathError
from wingpath.io.journal import Journal
from wingpath.io.spec_companions import companions
from wingpath.io.spec_editing import edited_spec
from wingpath.io.spec_toml import parse_toml, read_toml, read_toml_text
from wingpath.lighten.bench import Bench
from wingpath.lighten.changes_words import changes_words
from wingpath.lighten.engine import open_engine
from wingpath.lighten.freedom import Freedom, freedom_of
from wingpath.lighten.judging import Judgement, spec_with
from wingpath.lighten.measures import Measures
from wingpath.lighten.outcome import (
    LEVELS,
    Bought,
    FrontRow,
    NearMiss,
    bought_changes,
    bought_of,
    front_candidates,
    front_of,
    near_misses,
)
from wingpath.lighten.searching import Found, Searcher, SearchSettings
from wingpath.lighten.targets import MARGIN_TITLE
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.design import design_wing, tube_materials
from wingpath.pipeline.progress import Progress, silent
from wingpath.pipeline.shell_solving import refuse_odd_edge
from wingpath.version import __version__

__all__ = ["LIGHTEST_FILE", "Lightening", "Run", "lighten_wing", "lightest_text"]

LIGHTEST_FILE = "lightest.toml"
"""Name of the file that the lightest spec is written to."""

MOST_BOUGHT = 7
"""Judgements at most for what each kind of rib bought."""

SEARCH_TABLES = ("targets", "freedom")
"""Tables of a spec that say what to search and nothing about the wing."""


@dataclass(frozen=True, slots=True)
class Run:
    """How a search is run; none of it changes what is found.

    Parameters
    ----------
    engine : str
        See :func:`wingpath.lighten.engine.open_engine`.
    processes : int
        How many evaluations run at once.
    journal : Path or None
        Where results are kept as they come, and taken from.
    """

    engine: str = "processes"
    processes: int = 1
    journal: Path | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Lightening:
    """What the search for a lighter wing found.

    Parameters
    ----------
    source : Path
        The spec as drawn.
    freedom, settings, found
        What could change, how much was searched, what is known.
    drawn, best : Measures
        Of the wing as drawn and of the lightest that holds; None when none does.
    changes : mapping
        What makes the lightest from the one drawn.
    front, misses, bought
        See :mod:`wingpath.lighten.outcome`.
    stopped : bool
        Whether it was interrupted.
    no_worse : bool
        Whether the wing as drawn set the targets that the spec does not tell.
    edge_mm : float or None
        Length of the shell's edges that was asked for [mm].
    """

    source: Path
    freedom: Freedom
    settings: SearchSettings
    found: Found
    drawn: Measures
    best: Measures | None
    changes: Mapping[str, Any]
    front: tuple[FrontRow, ...]
    misses: tuple[NearMiss, ...]
    bought: tuple[Bought, ...]
    stopped: bool
    no_worse: bool
    edge_mm: float | None = None

    @property
    def saved_g(self) -> float | None:
        """How much lighter the lightest is than what is drawn [g]; None without one."""
        return None if self.best is None else self.drawn.mass_g - self.best.mass_g


@dataclass(slots=True)
class _State:
    searcher: Searcher | None = None
    bought: list[tuple[str, Judgement]] = field(default_factory=list)
    stopped: bool = False


def lighten_wing(
    spec: Path,
    *,
    settings: SearchSettings | None = None,
    no_worse: bool = False,
    edge_mm: float | None = None,
    run: Run | None = None,
    progress: Progress = silent,
) -> Lightening:
    """Search the lightest wing that meets the targets of a spec.

    Parameters
    ----------
    spec : Path
        The spec's file.
    settings : SearchSettings, optional
        How much is searched, and by which seed.
    no_worse : bool
        Whether targets that the spec does not tell are what is drawn.
    edge_mm : float, optional
        Length of the shell's edges; left out: as fine as solves in seconds [mm].
    run : Run, optional
        On what it runs.
    progress : callable
        Told what is being done and how far it is. An interrupt that it raises ends the search with the best
        that is known, once what is drawn has been judged.

    Raises
    ------
    InputError
        When the spec is wrong, what is drawn cannot be built, or nothing may change or has to hold.
    FileAccessError
        When a file cannot be read or written.
    """
    refuse_odd_edge(edge_mm)
    settings, run = settings or SearchSettings(), run or Run()
    data = read_toml(spec)
    folder = spec.resolve().parent
    design = design_wing(spec, base_dir=folder)
    freedom = freedom_of(
        spec_from_dict(data, source=str(spec)),
        filament=design.filament,
        printer=design.printer,
        materials=tube_materials(design.spec, base_dir=folder),
        root_mm=design.wing.stations[0].thickness_mm,
    )
    state = _State()
    with ExitStack() as stack:
        notebook = None
        if run.journal is not None:
            notebook = stack.enter_context(Journal(run.journal, wing=_digest(data, folder)))
        engine = stack.enter_context(open_engine(run.engine, processes=run.processes))
        bench = Bench(
            freedom,
            data,
            str(folder),
            engine,
            progress,
            expected=settings.judged + len(LEVELS) + MOST_BOUGHT,
            edge_mm=edge_mm,
            known={} if notebook is None else notebook.earlier.entries,
            notebook=notebook,
            describe=lambda: _best_words(state),
        )
        state.searcher = Searcher(freedom, bench, settings, no_worse=no_worse)
        try:
            state.searcher.search()
            state.searcher.judge_more(front_candidates(state.searcher))
            _buy(state, bench, data)
        except KeyboardInterrupt:
            # what is known by now is worth telling
            state.stopped = True
    return _told(spec, freedom, settings, state, no_worse=no_worse, edge_mm=edge_mm)


def _digest(data: Mapping[str, Any], folder: Path) -> str:
    """Return what tells one wing from another: its spec and the files that it names."""
    wing = {key: value for key, value in data.items() if key not in SEARCH_TABLES}
    files, _ = companions(data, folder)
    digest = hashlib.sha256(json.dumps(wing, sort_keys=True, default=str).encode())
    for name in sorted(files):
        digest.update(name.encode() + files[name])
    return digest.hexdigest()


def _best_words(state: _State) -> str:
    searcher = state.searcher
    if searcher is None:
        return ""
    best = searcher.best_mass_g
    if best == float("inf"):
        return "none holds yet"
    return f"best {best:.1f} g ({100.0 * (best / searcher.drawn.mass_g - 1.0):+.0f} %)"


def _buy(state: _State, bench: Bench, data: Mapping[str, Any]) -> None:
    searcher = state.searcher
    assert searcher is not None
    if searcher.best is None:
        return
    changes = searcher.freedom.changes(searcher.best)
    without = bought_changes(spec_with(data, changes), changes)
    names = list(without)[:MOST_BOUGHT]
    state.bought = list(zip(names, bench.judge_changes([without[name] for name in names]), strict=True))


def _told(
    spec: Path,
    freedom: Freedom,
    settings: SearchSettings,
    state: _State,
    *,
    no_worse: bool,
    edge_mm: float | None,
) -> Lightening:
    assert state.searcher is not None
    found = state.searcher.found()
    best = None if found.best is None else found.measures(found.best)
    return Lightening(
        source=spec,
        freedom=freedom,
        settings=settings,
        found=found,
        drawn=state.searcher.drawn,
        best=best,
        changes={} if found.best is None else freedom.changes(found.best),
        front=front_of(found),
        misses=near_misses(found),
        bought=() if best is None else bought_of(best, state.bought),
        stopped=state.stopped,
        no_worse=no_worse,
        edge_mm=edge_mm,
    )


def lightest_text(one: Lightening) -> tuple[str, dict[str, bytes]]:
    """Return the lightest spec as the text of a file, and the files that have to lie beside it.

    Parameters
    ----------
    one : Lightening
        A search that found one.

    Raises
    ------
    WingpathError
        When the text does not hold the spec that was judged: a fault of the program.
    """
    assert one.best is not None
    data, folder = read_toml(one.source), one.source.resolve().parent
    files, renamed = companions(data, folder, reserved=(LIGHTEST_FILE,))
    text = edited_spec(read_toml_text(one.source), {**one.changes, **renamed}, heading=_heading(one))
    if spec_from_dict(parse_toml(text)) != spec_with(data, {**one.changes, **renamed}):
        raise WingpathError("the lightest spec could not be written as it was judged")
    return text, files


def _heading(one: Lightening) -> list[str]:
    assert one.best is not None
    lines = [
        f"The lightest wing that `wingpath lighten` {__version__} found: {one.best.mass_g:.1f} g a half, "
        f"{one.drawn.mass_g:.1f} g as drawn.",
        f"Changed: {changes_words(one.changes) or 'nothing'}.",
        "What had to hold: "
        + "; ".join(
            f"{MARGIN_TITLE if target.key == 'strength' else target.title} {target.asked}"
            for target in one.found.targets.targets
        )
        + ".",
        "Estimates until it is proof-loaded. `wingpath assess` tells all numbers of this file.",
        "What follows is your spec with the changes made; its comments were written for the wing as drawn.",
    ]
    return lines
