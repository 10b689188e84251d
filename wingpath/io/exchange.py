"""Two folders that change places at once, and the short while in which no signal may come between."""

from __future__ import annotations

import ctypes
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import FrameType
from typing import Any

__all__ = ["exchange", "undisturbed"]

AT_FDCWD = -100
RENAME_EXCHANGE = 2
"""Constants of Linux, from its manual page renameat2(2)."""

SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")


@cache
def _renameat2() -> Any:
    """Return the system's call; None where there is none."""
    try:
        return ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError, TypeError):
        return None


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places, at once even for who is killed; False where that cannot be done.

    Linux can, on its usual disks; others and network disks cannot.
    """
    call = _renameat2()
    if call is None:
        return False
    return bool(
        call(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), ctypes.c_uint(RENAME_EXCHANGE)) == 0
    )


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back signals that end a program until this is done; in other threads none arrive anyway."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def later(number: int, _frame: FrameType | None) -> None:
        came.append(number)

    before = {}
    try:
        for name in SIGNALS:
            number = getattr(signal, name, None)
            # one that is ignored stays so, and one of another language cannot be put back
            if number is not None and signal.getsignal(number) not in (signal.SIG_IGN, None):
                before[number] = signal.signal(number, later)
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for number in dict.fromkeys(came):
            signal.raise_signal(number)
