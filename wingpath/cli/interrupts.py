"""An interrupt that cannot get lost.

Python raises it wherever the main thread happens to be; inside a callback of its own (a weak reference that
dies, a finaliser) it prints the exception and goes on. So it is remembered too, and raised again at the next
report of progress.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["raise_if_interrupted", "remembered_interrupts"]

_interrupted = threading.Event()


def _remember(_signal: int, _frame: FrameType | None) -> None:
    _interrupted.set()
    raise KeyboardInterrupt


@contextmanager
def remembered_interrupts() -> Iterator[None]:
    """Remember interrupts from here on; a handler that somebody else has set stays."""
    mine = (
        threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGINT) is signal.default_int_handler
    )
    _interrupted.clear()
    if mine:
        signal.signal(signal.SIGINT, _remember)
    try:
        yield
    finally:
        if mine:
            signal.signal(signal.SIGINT, signal.default_int_handler)


def raise_if_interrupted() -> None:
    """Raise an interrupt that came since.

    Raises
    ------
    KeyboardInterrupt
        In whatever thread asks.
    """
    if _interrupted.is_set():
        raise KeyboardInterrupt
