"""How a long stage tells what it is doing."""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock

__all__ = ["Progress", "StepCounter", "silent"]

Progress = Callable[[str, float], None]
"""Called with a few words and the share of the work that is done, 0 to 1."""


def silent(_words: str, _share: float) -> None:
    """Tell nobody."""


class StepCounter:
    """Counts steps that run side by side and reports their share."""

    def __init__(self, total: int, progress: Progress) -> None:
        self._total, self._done, self._progress = total, 0, progress
        self._lock = Lock()

    def step(self, words: str) -> None:
        """Report one more step as done."""
        with self._lock:
            self._done += 1
            share = 0.05 + 0.9 * self._done / (self._total + 1)
        self._progress(words, share)
