"""What there is to say about the shape of a wing before its layers are looked at."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wingpath.core.findings import Finding
from wingpath.model.wing import Wing
from wingpath.pipeline.design import WingDesign
from wingpath.tune.window import bead_findings

__all__ = ["shape_findings"]

WIDE_PITCH = 0.5
"""Ribs of one run farther apart than this share of the chord leave sections with one or none: judgement."""

LEAN_SLACK_DEG = 1.0
"""Edges may lean by this much more than the filament's limit before it is said: it is a judgement itself."""


def shape_findings(design: WingDesign) -> list[Finding]:
    """Return what there is to say about edges that lean, ribs far apart, and a bead that suits no nozzle."""
    settings = design.spec.print
    return [
        *_leaning_edges(design),
        *_wide_pitch(design),
        *bead_findings(
            nozzle_mm=design.printer.nozzle_mm, bead_mm=settings.bead_mm, layer_mm=settings.layer_mm
        ),
    ]


def edge_leans_deg(wing: Wing) -> tuple[np.ndarray, np.ndarray]:
    """Return how far both edges lean between stations, shape (n - 1,) each [deg].

    A shell one bead thick has nothing under a bead that lies farther in either, so both ways count.
    """
    spans = wing.station_spans_mm
    lead = wing.chord_point_mm(0.0, spans)[:, 0]
    trail = wing.chord_point_mm(1.0, spans)[:, 0]
    step = np.diff(spans)
    return (
        np.asarray(np.rad2deg(np.arctan2(np.abs(np.diff(lead)), step))),
        np.asarray(np.rad2deg(np.arctan2(np.abs(np.diff(trail)), step))),
    )


def _leaning_edges(design: WingDesign) -> Iterator[Finding]:
    limit = design.filament.overhang_limit_deg
    spans = design.wing.station_spans_mm
    for words, lean in zip(("leading", "trailing"), edge_leans_deg(design.wing), strict=True):
        worst = int(np.argmax(lean))
        if lean[worst] <= limit + LEAN_SLACK_DEG:
            continue
        most = np.tan(np.deg2rad(limit)) * (spans[worst + 1] - spans[worst])
        over = np.tan(np.deg2rad(lean[worst])) * (spans[worst + 1] - spans[worst]) - most
        yield Finding(
            "leaning-edge",
            "warning",
            f"the {words} edge itself leans by {lean[worst]:.0f} degrees between station[{worst}] and "
            f"station[{worst + 1}], and {design.filament.name} bears {limit:g}: its beads have little below",
            f"let it lean less there, by {over:.0f} mm at station[{worst + 1}], or expect a rough edge and "
            "print a short piece first",
            z_mm=float(spans[worst]),
            found=float(lean[worst]),
            limit=limit,
            unit="deg",
        )


def _wide_pitch(design: WingDesign) -> Iterator[Finding]:
    ribs = design.spec.ribs
    if ribs.run == "none":
        return
    wing = design.wing
    z = np.linspace(0.0, wing.semi_span_mm, 50)
    chord = wing.chord_mm(z)
    pitch = ribs.pitch_at_mm(z)
    share = pitch / chord
    # towards the tip ribs get few on every wing
    inner = share[z <= 0.5 * wing.semi_span_mm]
    worst = int(np.argmax(inner))
    if inner[worst] <= WIDE_PITCH:
        return
    yield Finding(
        "wide-pitch",
        "warning",
        f"ribs of one run stand {pitch[worst]:g} mm apart at span {z[worst]:.0f} mm, where the chord is "
        f"{chord[worst]:.0f} mm: most of the skin there has no rib",
        f"use a pitch of {WIDE_PITCH * chord[worst]:.0f} mm or less, and let `wingpath assess` tell at which "
        "load the skin wrinkles",
        z_mm=float(z[worst]),
        found=float(pitch[worst]),
        limit=float(WIDE_PITCH * chord[worst]),
        unit="mm",
    )
