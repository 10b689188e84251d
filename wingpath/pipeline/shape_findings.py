"""What there is to say about the shape of a wing before its layers are looked at."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wingpath.build.bay_placing import ends_in
from wingpath.core.findings import Finding
from wingpath.core.units import MM2_PER_DM2
from wingpath.model.wing import Wing
from wingpath.pipeline.design import WingDesign
from wingpath.tune.window import bead_findings

__all__ = ["shape_findings"]

WIDE_PITCH = 0.5
"""Ribs of one run farther apart than this share of the chord leave sections with one or none: judgement."""

MOST_GROWTH = 2.5
"""Chords that grow by more than this towards the tip are a slip of the unit, as a rule: judgement."""

USUAL_G_DM2 = (1.5, 300.0)
"""Wing loadings from an indoor model to a fast heavy one, with room on both sides: common practice, no
source [g/dm2]."""

LOW_PANEL_MM = 5.0
"""A panel lower than this holds nothing that its joints would not hold: judgement [mm]."""

LEAN_SLACK_DEG = 1.0
"""Edges may lean by this much more than the filament's limit before it is said: it is a judgement itself."""


def shape_findings(design: WingDesign) -> list[Finding]:
    """Return what there is to say about the drawn shape, before anything is cut.

    Sizes that look like a slip, edges that lean, ribs far apart, low panels, ducts that lead nowhere, and a
    bead that suits no nozzle.
    """
    settings = design.spec.print
    return [
        *_odd_sizes(design),
        *_leaning_edges(design),
        *_wide_pitch(design),
        *_low_panels(design),
        *_blind_ducts(design),
        *bead_findings(
            nozzle_mm=design.printer.nozzle_mm, bead_mm=settings.bead_mm, layer_mm=settings.layer_mm
        ),
    ]


def _odd_sizes(design: WingDesign) -> Iterator[Finding]:
    wing, aircraft = design.wing, design.spec.aircraft
    root, tip = (float(wing.chord_mm(place)) for place in (0.0, wing.semi_span_mm))
    if tip > MOST_GROWTH * root:
        yield Finding(
            "odd-size",
            "warning",
            f"the chord grows from {root:g} mm at the root to {tip:g} mm at the tip",
            f"see whether one of them is in centimetres ({root:g} cm are {10.0 * root:g} mm), and whether "
            "the stations run from the root outward",
            found=tip,
            limit=MOST_GROWTH * root,
        )
    if aircraft is None:
        return
    area = 2.0 * wing.area_mm2 / MM2_PER_DM2
    loading = aircraft.all_up_mass_g / area
    low, high = USUAL_G_DM2
    if not low <= loading <= high:
        yield Finding(
            "odd-size",
            "warning",
            f"{aircraft.all_up_mass_g:g} g on {area:.2f} dm2 of wing are {loading:.2f} g/dm2, and models "
            f"have {low:g} to {high:g}",
            "lengths are in millimetres (1 cm is 10), masses in grams (1 kg is 1000), and span_mm counts "
            "from the root of one half to its tip",
            found=loading,
            limit=low if loading < low else high,
            unit="g/dm2",
        )


def _low_panels(design: WingDesign) -> Iterator[Finding]:
    for panel in design.panels:
        if panel.height_mm < LOW_PANEL_MM:
            yield Finding(
                "low-panel",
                "warning",
                f"the panel from span {panel.start_mm:g} to {panel.end_mm:g} mm is {panel.height_mm:.1f} mm "
                "high",
                "leave one of its joints out of panels.joints_mm, or move it",
                panel=panel.name,
                found=panel.height_mm,
                limit=LOW_PANEL_MM,
            )


def _blind_ducts(design: WingDesign) -> Iterator[Finding]:
    ducts = [bore for bore in design.voids.bores if bore.kind == "duct"]
    for bay in design.voids.bays:
        if bay.kind != "servo" or not ducts or any(ends_in(duct, bay) for duct in ducts):
            continue
        nearest = min(ducts, key=lambda duct: abs(duct.to_mm - bay.from_mm))
        given = design.spec.servo_bays[bay.number]
        yield Finding(
            "blind-duct",
            "warning",
            f"no duct leads into {bay.name}, so no lead gets there: {nearest.name} ends at span "
            f"{nearest.to_mm:g} mm, {nearest.end[0]:.0f} mm aft of the root's nose, and the bay lies from "
            f"{bay.from_mm:.0f} to {bay.to_mm:.0f} mm and from {bay.fore_mm:.0f} to {bay.aft_mm:.0f} mm",
            f"let {nearest.name} end at to_mm = {given.span_mm:g} with chord_fraction_end = "
            f"{given.chord_fraction:g}, add a duct for it, or lead the wire along the skin",
            z_mm=nearest.to_mm,
        )


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
