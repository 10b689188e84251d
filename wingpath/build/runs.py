"""Turns per-layer answers into findings: one cause on consecutive layers is one finding with a range."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from wingpath.build.layers import Layers
from wingpath.core.arrays import BoolArray, FloatArray
from wingpath.core.findings import Finding, Severity, sort_findings

__all__ = ["Reporter"]

MOST_RUNS = 20
"""Findings of one cause that are listed one by one; beyond that the rest are drawn together."""


@dataclass(slots=True)
class Reporter:
    """A notebook for the findings on one part's layers.

    Kept only while the layers are judged; what leaves it are frozen values.
    """

    layers: Layers
    _found: list[Finding] = field(default_factory=list)
    _codes: dict[int, list[str]] = field(default_factory=dict)

    def error(self, code: str, mask: BoolArray, **facts: Any) -> None:
        """Report an error wherever `mask` holds; see :meth:`_add`."""
        self._add(code, "error", mask, together=False, **facts)

    def warning(self, code: str, mask: BoolArray, **facts: Any) -> None:
        """Report a warning wherever `mask` holds; see :meth:`_add`."""
        self._add(code, "warning", mask, together=False, **facts)

    def note(self, code: str, mask: BoolArray, **facts: Any) -> None:
        """Report one note for all layers where `mask` holds; see :meth:`_add`."""
        self._add(code, "note", mask, together=True, **facts)

    def _add(
        self,
        code: str,
        severity: Severity,
        mask: BoolArray,
        *,
        together: bool,
        found: FloatArray,
        limit: float,
        message: str,
        remedy: str,
        at: FloatArray | None,
        unit: str = "mm",
    ) -> None:
        rows = np.flatnonzero(mask)
        if not len(rows):
            return
        if severity != "note":
            for row in rows:
                codes = self._codes.setdefault(int(row), [])
                if code not in codes:
                    codes.append(code)
        breaks = np.flatnonzero(np.diff(rows) > 1) + 1
        runs = [rows] if together else np.split(rows, breaks)
        if len(runs) > MOST_RUNS:
            runs = [*runs[: MOST_RUNS - 1], np.concatenate(runs[MOST_RUNS - 1 :])]
        for run in runs:
            worst = int(run[np.argmax(found[run])])
            x, y = (None, None) if at is None or np.isnan(at[worst]).any() else at[worst]
            text = message.format(found=float(found[worst]))
            if len(run) < run[-1] - run[0] + 1:
                text += f" ({len(run)} of the layers in this range)"
            self._found.append(
                Finding(
                    code=code,
                    severity=severity,
                    panel=self.layers.name,
                    layers=(int(run[0]) + 1, int(run[-1]) + 1),
                    z_mm=float(self.layers.z_mm[worst]),
                    x_mm=None if x is None else float(x),
                    y_mm=None if y is None else float(y),
                    found=float(found[worst]),
                    limit=float(limit),
                    unit=unit,
                    message=text,
                    remedy=remedy,
                )
            )

    def findings(self) -> tuple[Finding, ...]:
        """Return what was found, worst first."""
        return sort_findings(self._found)

    def verdicts(self) -> tuple[str, ...]:
        """Return ``ok`` or the codes of errors and warnings for each layer."""
        return tuple(
            "+".join(self._codes[index]) if index in self._codes else "ok"
            for index in range(len(self.layers))
        )
