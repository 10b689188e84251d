"""Many evaluations at once, by whatever engine joblib knows: processes here, or a cluster."""

from __future__ import annotations

import os
import signal
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from wingpath.core.errors import InputError

if TYPE_CHECKING:
    import joblib

__all__ = ["ENGINES", "Engine", "open_engine", "refuse_unknown_engine"]

ENGINES = ("processes", "threads", "dask")
"""What evaluations run on; ``dask`` needs the extra ``cluster`` and may carry the address of a scheduler."""

_BACKENDS = {"processes": "loky", "threads": "threading"}

WATCH_S = 0.5
"""How often a process looks whether the one that it works for is still there [s]."""

Job = TypeVar("Job")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, eq=False)
class Engine:
    """Something that evaluations run on.

    Parameters
    ----------
    pool : joblib.Parallel or None
        What runs them; None: this process, one after the other.
    processes : int
        How many run at once.
    """

    pool: joblib.Parallel | None
    processes: int

    def run(self, function: Callable[[Job], Result], jobs: Sequence[Job]) -> Iterator[tuple[int, Result]]:
        """Yield the number and the result of each job, in the order in which they end.

        Parameters
        ----------
        function : callable
            What to do with a job; both travel to other processes.
        jobs : sequence
            The jobs.
        """
        if self.pool is None:
            for number, job in enumerate(jobs):
                yield number, function(job)
            return
        import joblib

        owner = os.getpid()
        calls = [joblib.delayed(_run)(owner, function, number, job) for number, job in enumerate(jobs)]
        yield from self.pool(calls)


def _run(owner: int, function: Callable[[Job], Result], number: int, job: Job) -> tuple[int, Result]:
    if os.getpid() != owner:
        _leave_interrupts_to_owner()
    return number, function(job)


def _serve(owner: int) -> None:
    """Begin a process that works for another one: it ends with it, even when that is killed."""
    _leave_interrupts_to_owner()
    threading.Thread(target=_end_with, args=(owner,), daemon=True).start()


def _end_with(owner: int) -> None:
    while os.getppid() == owner:
        time.sleep(WATCH_S)
    os._exit(1)


def _leave_interrupts_to_owner() -> None:
    """Ignore interrupts: a terminal sends them to all processes, and the owner of the results heeds them.

    So does who stops a service with requests to end.
    """
    try:
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), signal.SIG_IGN)
    except ValueError:
        # not the main thread of its process: the interrupt does not come here
        return


def refuse_unknown_engine(name: str) -> None:
    """Raise when there is no engine of a name.

    Raises
    ------
    InputError
        Naming those that there are.
    """
    kind, _, address = name.partition(":")
    if kind not in ENGINES or (address and kind != "dask"):
        raise InputError(
            f"--engine: got {name!r}; allowed: {', '.join(ENGINES)}, or dask:ADDRESS. Leave it out for "
            "processes on this machine"
        )


@contextmanager
def open_engine(name: str = "processes", *, processes: int = 1) -> Iterator[Engine]:
    """Start an engine and stop it in the end.

    Parameters
    ----------
    name : str
        ``processes``, ``threads``, ``dask``, or ``dask:ADDRESS`` for the scheduler of a cluster.
    processes : int
        How many evaluations run at once; with an address the cluster decides.

    Raises
    ------
    InputError
        When there is no such engine, or it is not installed.
    """
    refuse_unknown_engine(name)
    kind, _, address = name.partition(":")
    if kind != "dask" and processes == 1:
        yield Engine(None, 1)
        return
    import joblib

    if kind == "dask":
        with _dask_client(address, processes) as workers, joblib.parallel_config("dask"):
            pool = joblib.Parallel(n_jobs=workers, return_as="generator_unordered", batch_size=1)
            with pool:
                yield Engine(pool, workers)
        return
    options: dict[str, Any] = {}
    if kind == "processes":
        options = {"inner_max_num_threads": 1, "initializer": _serve, "initargs": (os.getpid(),)}
    with _quiet_renewal(), _quiet_end(), joblib.parallel_config(_BACKENDS[kind], n_jobs=processes, **options):
        pool = joblib.Parallel(return_as="generator_unordered", batch_size=1, pre_dispatch="all")
        with pool:
            yield Engine(pool, processes)


@contextmanager
def _quiet_renewal() -> Iterator[None]:
    """Say nothing when a process that has grown is replaced: solvers keep memory, and nothing is lost."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="A worker stopped while some jobs", category=UserWarning)
        yield


@contextmanager
def _quiet_end() -> Iterator[None]:
    """Say nothing when the thread that hands out work stumbles, which it may when a search is stopped.

    What has gone wrong with the work itself comes as the result of that work.
    """
    before = threading.excepthook

    def hook(given: threading.ExceptHookArgs) -> None:
        if given.thread is None or not given.thread.name.startswith("ExecutorManagerThread"):
            before(given)

    threading.excepthook = hook
    try:
        yield
    finally:
        threading.excepthook = before


@contextmanager
def _dask_client(address: str, processes: int) -> Iterator[int]:
    try:
        import distributed
    except ImportError:
        raise InputError(
            "--engine: got dask, which is not installed; allowed: processes, threads. Install it with "
            'pip install "wingpath[cluster]"'
        ) from None
    client_of: Any = distributed.Client
    try:
        if address:
            client: Any = client_of(address, timeout="10s")
        else:
            client = client_of(n_workers=processes, threads_per_worker=1, dashboard_address=None)
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(
            f"--engine: got dask:{address}, where no scheduler answers ({error}); allowed: the address of a "
            "running one, like dask:tcp://127.0.0.1:8786. Start it, or leave the address out"
        ) from None
    with client:
        yield max(1, sum(client.nthreads().values()))
