"""Findings: what a check has to say, as data.

A check reports and never repairs; whoever called it decides what is fatal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

__all__ = [
    "CODES",
    "SEVERITIES",
    "Finding",
    "Severity",
    "count_severities",
    "sort_findings",
    "worst_severity",
]

Severity = Literal["error", "warning", "note"]

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
"""From worst to mildest."""

CODES: dict[str, str] = {
    "second-contour": "a layer has a hole or an island: the nozzle must travel",
    "pinch": "one contour, but the path inside it falls apart or closes a second ring",
    "long-step": "the next layer's path cannot start where this one ends",
    "airborne": "bead with no bead under it",
    "steep": "bead beyond the overhang limit",
    "open-slot": "beads beside a slot farther apart than the filament bridges",
    "loose-rib": "a slot ends too far from the skin it should touch",
    "thin-lost": "solid thinner than a bead that the path drops",
    "open-mesh": "the mesh is not watertight",
    "torn-outline": "a piece of a layer's outline is missing, because the mesh is open there",
    "too-big": "a panel does not fit the build volume",
    "empty-layer": "a layer inside the part holds no solid to print",
    "overlapping-solids": "the mesh holds bodies or faces that overlap",
    "inside-out": "the surface faces the wrong way",
    "odd-scale": "the size suggests another unit than millimetres",
    "travel": "the nozzle moves sideways without extruding, between the first bead and the last",
    "retraction": "filament is drawn back between the first bead and the last",
    "jump": "the place of the nozzle is not known or is set anew between the first bead and the last",
    "extrusion-gap": "a stretch of moves lays far less filament than the rest of the path",
    "falling": "the nozzle goes down into what is printed",
    "off-bed": "the path leaves the bed or the height of the printer",
    "block-off-bed": "a start or end block takes the nozzle off the bed, too high or into the bed",
    "odd-line": "a line of a program is not understood",
    "no-path": "no G-code is written for a part, because no unbroken path through it exists",
    "step-facets": "a part or a surface of it stands as facets in the STEP file, or is missing there",
    "slender": "a part is high for its foot and may tip or sway while it prints",
    "brim-cut": "the bed has no room for a brim as wide as the part wants",
    "short-lead-in": "the bed has little room for the line that fills the nozzle",
    "underfilled": "flow and foaming together do not fill the bead",
    "short-layer": "layers take less than the least time even at the slowest speed",
    "slowed": "the nozzle melts too little for the wanted speed",
    "rib-window": "slots from both skins leave a window in a rib",
    "no-rib-window": "the spec asks for windows in ribs and there is room for none",
    "no-rib": "the spec asks for ribs but no section is thick enough for one",
    "no-window": "no slot is both wide enough to be kept and narrow enough to fuse",
    "leaning-edge": "the leading or trailing edge itself leans farther than the filament bears",
    "wide-pitch": "ribs stand so far apart that most of the skin has none",
    "odd-size": "a size or a mass that looks like another unit, or like the whole span for half of it",
    "low-panel": "joints so close to each other that a panel is hardly more than its glue",
    "blind-duct": "a servo bay that no duct leads into, though there are ducts",
    "cut-short": "a program says where its path ends and does not get there",
    "odd-bead": "a bead that is narrower than its nozzle or twice as wide",
    "odd-layer": "a layer that is very low or very high for its nozzle",
    "overfilled": "flow and foaming together press the bead far beyond its drawn width",
    "beyond-table": "the filament's foaming is not known at that temperature",
    "tight-bore": "a bore has less clearance than its tube needs with this filament",
    "long-print": "a coupon takes longer than half an hour",
    "disagreement": "two measurements that cannot both be right",
    "vague": "a measurement whose own uncertainty is too large to tell anything",
    "not-measured": "a coupon was read back without some of its measurements",
    "beyond-row": "a limit lies beyond the steps of its row",
    "off-calibration": "a filament is printed otherwise than it was calibrated",
    "preview": "numbers by a beam model of the plan, nothing built",
    "no-aircraft": "the spec does not tell the aircraft, so there are no loads",
    "no-number": "a number that cannot be had, and why",
    "unknown-fusion": "it is not known how far the beads of slots fuse",
    "broken-margin": "something breaks below 1.5 times the limit load",
    "tube-end": "a tube ends in mid span, a weak point",
    "wrinkles": "a skin wrinkles below the limit load",
    "outweighs": "the wings are heavier than the aircraft",
    "cannot-lift": "the wing stalls before it bears the load",
    "coarse-mesh": "the mesh of the shell model is too coarse for its bays",
    "twists-off": "the wing twists off below the speed that is asked",
    "reversal": "ailerons no longer roll the wing below the speed that is asked",
    "weak-aileron": "an aileron twists the wing against itself",
    "bends-far": "the tip bends far at the limit load",
    "hot": "a warm wing is much weaker",
    "uncalibrated": "the filament's values are published or judged, not measured on this printer",
}
"""Every code a finding may carry, with its meaning. The codes are stable: scripts rely on them."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check found.

    Parameters
    ----------
    code : str
        One of :data:`CODES`.
    severity : {"error", "warning", "note"}
        ``error``: the print would travel, the part does not fit or a limit is broken.
    panel : str or None
        The panel or the mesh that it concerns.
    layers : tuple of int or None
        First and last layer, counted from 1.
    z_mm, x_mm, y_mm : float or None
        The worst place, in the frame of the printed part [mm].
    found, limit : float or None
        What was found and what it was held against, in `unit`.
    unit : str
        Unit of `found` and `limit`; empty for a count.
    line : int or None
        Line of a G-code file, counted from 1.
    message : str
        What is the matter, in words.
    remedy : str
        What to do about it.
    """

    code: str
    severity: Severity
    message: str
    remedy: str
    panel: str | None = None
    layers: tuple[int, int] | None = None
    z_mm: float | None = None
    x_mm: float | None = None
    y_mm: float | None = None
    found: float | None = None
    limit: float | None = None
    unit: str = ""
    line: int | None = None

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"unknown finding code {self.code!r}; known: {', '.join(CODES)}")
        if self.severity not in SEVERITIES:
            raise ValueError(f"unknown severity {self.severity!r}; known: {', '.join(SEVERITIES)}")

    def as_dict(self) -> dict[str, Any]:
        """Return the finding as plain values for JSON, lengths rounded to a micrometre."""
        data = asdict(self)
        data["layers"] = list(self.layers) if self.layers is not None else None
        for key in ("z_mm", "x_mm", "y_mm", "found", "limit"):
            if data[key] is not None:
                data[key] = round(float(data[key]), 4)
        return data

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Finding:
        """Return the finding that :meth:`as_dict` wrote."""
        layers = data["layers"]
        return cls(**{**data, "layers": None if layers is None else (int(layers[0]), int(layers[1]))})


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings, worst first, then by panel and height."""
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                SEVERITIES.index(f.severity),
                f.panel or "",
                f.layers or (0, 0),
                f.line or 0,
                f.code,
            ),
        )
    )


def worst_severity(findings: Iterable[Finding]) -> Severity | None:
    """Return the worst severity present, or None without findings."""
    present = {finding.severity for finding in findings}
    return next((severity for severity in SEVERITIES if severity in present), None)


def count_severities(findings: Sequence[Finding]) -> dict[str, int]:
    """Return how many findings there are of each severity."""
    return {severity: sum(f.severity == severity for f in findings) for severity in SEVERITIES}
