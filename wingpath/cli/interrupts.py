"""An interrupt that cannot get lost, and other signals that ask a program to end.

Python raises an interrupt wherever the main thread happens to be; inside a callback of its own (a weak
reference that dies, a finaliser) it prints the exception and goes on. So it is remembered too, and raised
again at the next report of progress. A request to end (SIGTERM) and a terminal that is closed (SIGHUP) come
the same way, so that they find nothing half written either.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["interrupted_status", "raise_if_interrupted", "remembered_interrupts"]

BY_SIGNAL = 128
"""What shells add to the number of the signal that ended a program."""

_interrupted = threading.Event()
_came: list[int] = []


def _remember(number: int, _frame: FrameType | None) -> None:
    _came.append(number)
    _interrupted.set()
    raise KeyboardInterrupt


@contextmanager
def remembered_interrupts() -> Iterator[None]:
    """Remember interrupts from here on; a handler that somebody else has set, or who ignores them, stays."""
    _interrupted.clear()
    _came.clear()
    before = {}
    if threading.current_thread() is threading.main_thread():
        for name, usual in (
            ("SIGINT", signal.default_int_handler),
            ("SIGTERM", signal.SIG_DFL),
            ("SIGHUP", signal.SIG_DFL),
        ):
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is usual:
                before[number] = signal.signal(number, _remember)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def interrupted_status() -> int:
    """Return the exit status of a command that was stopped: 130 Ctrl-C, 143 SIGTERM, 129 SIGHUP."""
    return BY_SIGNAL + int(_came[0] if _came else signal.SIGINT)


def raise_if_interrupted() -> None:
    """Raise an interrupt that came since.

    Raises
    ------
    KeyboardInterrupt
        In whatever thread asks.
    """
    if _interrupted.is_set():
        raise KeyboardInterrupt
