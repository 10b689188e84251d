"""Contradictions: values that are each allowed, but not together.

Every check is worded so that a comparison with a value that is not known (nan) finds nothing: the checks
also run on a spec of which some keys are wrong already, to tell everything at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from wingpath.core.errors import Problem
from wingpath.model.spec_ribs import PITCH_RANGE_MM

if TYPE_CHECKING:
    from wingpath.model.spec import Spec

__all__ = ["contradictions"]

LEAST_STATION_STEP_MM = 1.0
"""Two stations nearer than this describe a step in the wing, not a section of it [mm]."""

FARTHEST_MM = 5000.0
"""Farthest place along the span that is allowed, as for stations [mm]."""

LEAST_SHARE_OF_LAYER = 0.8
"""Highest layer in bead widths: above this a bead has no flat flanks and does not stick to the one below."""

LEAST_STUB_BEADS = 2.0
"""Least depth of a window's stubs in bead widths: the bead round an end lies beside that of the skin."""

LEAST_TUBE_MM = 0.5
"""Smallest tube, rod or strip side worth a bore [mm]."""


def contradictions(spec: Spec) -> list[Problem]:
    """Return every contradiction between keys of a spec."""
    return [
        *_stations(spec),
        *_bead(spec),
        *_windows(spec),
        *_pitch(spec),
        *_runs(spec),
        *_tubes(spec),
        *_held(spec),
        *_root_fittings(spec),
        *_ailerons(spec),
        *_joints(spec),
        *_filament(spec),
    ]


def _held(spec: Spec) -> Iterator[Problem]:
    if spec.wing.root == "held" and not spec.held_by_tube:
        yield Problem(
            "wing.root",
            '"held"',
            '"clamped", as no tube begins at the root and reaches five times its size into the wing',
            "Let a tube begin at from_mm = 0, or leave wing.root out",
        )


def _pitch(spec: Spec) -> Iterator[Problem]:
    ribs = spec.ribs
    if ribs.pitch_along_mm is None:
        return
    if "pitch_mm" in ribs.model_fields_set:
        yield Problem(
            "ribs.pitch_mm and ribs.pitch_along_mm",
            "both",
            "one of the two: one pitch everywhere, or pairs along the span",
            "Leave one of them out",
        )
    for number, (span, pitch) in enumerate(ribs.pitch_along_mm):
        if pitch < PITCH_RANGE_MM[0] or pitch > PITCH_RANGE_MM[1]:
            yield Problem(
                f"ribs.pitch_along_mm[{number}]",
                f"a pitch of {pitch:g} mm",
                f"from {PITCH_RANGE_MM[0]:g} to {PITCH_RANGE_MM[1]:g} mm",
                "Each pair is [place along the span, pitch there]",
            )
        if span < 0.0 or span > FARTHEST_MM:
            yield Problem(
                f"ribs.pitch_along_mm[{number}]",
                f"a place at {span:g} mm",
                f"from 0 to {FARTHEST_MM:g} mm",
                "Each pair is [place along the span, pitch there]",
            )
        if number and span <= ribs.pitch_along_mm[number - 1][0]:
            yield Problem(
                f"ribs.pitch_along_mm[{number}]",
                f"a place at {span:g} mm",
                f"farther out than the pair before, at {ribs.pitch_along_mm[number - 1][0]:g} mm",
                "Sort the pairs from root to tip",
            )


def _stations(spec: Spec) -> Iterator[Problem]:
    if spec.stations and abs(spec.stations[0].span_mm) > 0:
        yield Problem(
            "station[0].span_mm",
            f"{spec.stations[0].span_mm:g}",
            "0 mm: the first station is the root",
            "Measure every span_mm from the root rib",
        )
    for number, (inner, outer) in enumerate(zip(spec.stations, spec.stations[1:], strict=False), start=1):
        if outer.span_mm < inner.span_mm + LEAST_STATION_STEP_MM:
            yield Problem(
                f"station[{number}].span_mm",
                f"{outer.span_mm:g}",
                f"at least {LEAST_STATION_STEP_MM:g} mm more than station[{number - 1}].span_mm = "
                f"{inner.span_mm:g} mm",
                "List the stations from the root to the tip",
            )


def _bead(spec: Spec) -> Iterator[Problem]:
    bead, layer, neck = spec.print.bead_mm, spec.print.layer_mm, spec.slots.neck_mm
    if layer > LEAST_SHARE_OF_LAYER * bead:
        yield Problem(
            "print.layer_mm and print.bead_mm",
            f"a layer of {layer:g} mm with a bead of {bead:g} mm",
            f"at most {LEAST_SHARE_OF_LAYER:g} bead widths, {LEAST_SHARE_OF_LAYER * bead:g} mm here",
            "Make the layer lower or the bead wider",
        )
    if neck is not None and (neck <= bead or neck >= 2.0 * bead):
        yield Problem(
            "slots.neck_mm and print.bead_mm",
            f"a neck of {neck:g} mm with a bead of {bead:g} mm",
            f"a neck over 1 and under 2 bead widths, {bead:g} to {2.0 * bead:g} mm here",
            "Leave neck_mm out for 1.7 bead widths",
        )


def _windows(spec: Spec) -> Iterator[Problem]:
    stub, run, bead = spec.ribs.stub_mm, spec.ribs.run, spec.print.bead_mm
    if stub is None:
        return
    if run != "both":
        yield Problem(
            "ribs.stub_mm and ribs.run",
            f'stub_mm = {stub:g} with run = "{run}"',
            'run = "both": ribs with windows are whole where the two runs cross, and stand on nothing else',
            "Leave stub_mm out, or let ribs run both ways",
        )
    if stub < LEAST_STUB_BEADS * bead:
        yield Problem(
            "ribs.stub_mm and print.bead_mm",
            f"stubs of {stub:g} mm with a bead of {bead:g} mm",
            f"at least {LEAST_STUB_BEADS:g} bead widths, {LEAST_STUB_BEADS * bead:g} mm here: the end of a "
            "shallower slot is part of the skin",
        )


def _runs(spec: Spec) -> Iterator[Problem]:
    """Whatever has a begin and an end along the span."""
    span = spec.semi_span_mm if spec.stations else float("nan")
    runs: list[tuple[str, float, float | None]] = [
        *((f"spar_web[{i}]", web.from_mm, web.to_mm) for i, web in enumerate(spec.spar_webs)),
        *((f"tube[{i}]", tube.from_mm, tube.to_mm) for i, tube in enumerate(spec.tubes)),
        *((f"duct[{i}]", duct.from_mm, duct.to_mm) for i, duct in enumerate(spec.ducts)),
        *((f"aileron[{i}]", aileron.from_mm, aileron.to_mm) for i, aileron in enumerate(spec.ailerons)),
    ]
    for where, start, end in runs:
        if end is None:
            if start >= span:
                yield _outside(f"{where}.from_mm", start, span)
            continue
        if end <= start:
            yield Problem(
                f"{where}.from_mm and {where}.to_mm",
                f"from {start:g} to {end:g} mm",
                "an end farther out than the begin",
                "Swap or correct the two",
            )
        if end > span:
            yield _outside(f"{where}.to_mm", end, span)
    ends = [
        *((f"servo_bay[{i}]", bay.span_mm + bay.length_mm) for i, bay in enumerate(spec.servo_bays)),
        *((f"plate_bay[{i}]", bay.span_mm + bay.length_mm) for i, bay in enumerate(spec.plate_bays)),
    ]
    for where, end in ends:
        if end > span:
            yield _outside(f"{where}.span_mm and {where}.length_mm", end, span)
    for i, item in enumerate(spec.items):
        if item.span_mm > span:
            yield _outside(f"item[{i}].span_mm", item.span_mm, span)


def _outside(key: str, place: float, span: float) -> Problem:
    return Problem(
        key,
        f"{place:g} mm",
        f"places from the root to the last station at {span:g} mm",
        "Shorten it or move it inboard",
    )


def _tubes(spec: Spec) -> Iterator[Problem]:
    for i, tube in enumerate(spec.tubes):
        where = f"tube[{i}]"
        strip = tube.shape == "strip"
        for key, size, wanted in (
            ("outer_mm", tube.outer_mm, not strip),
            ("width_mm", tube.width_mm, strip),
            ("height_mm", tube.height_mm, strip),
        ):
            if wanted and size < LEAST_TUBE_MM:
                yield Problem(
                    f"{where}.{key}",
                    f"{size:g}" if key in tube.model_fields_set else "nothing",
                    f"a number from {LEAST_TUBE_MM:g} to 60 mm for a {tube.shape} section",
                )
            if not wanted and size > 0:
                yield Problem(
                    f"{where}.{key} and {where}.shape",
                    f'{key} = {size:g} with shape = "{tube.shape}"',
                    "outer_mm and inner_mm for round and square, width_mm and height_mm for a strip",
                )
        if strip and tube.inner_mm > 0:
            yield Problem(
                f"{where}.inner_mm and {where}.shape",
                f'inner_mm = {tube.inner_mm:g} with shape = "strip"',
                "no inner_mm: a strip is solid",
            )
        if not strip and tube.inner_mm > 0 and tube.outer_mm > 0 and tube.inner_mm >= tube.outer_mm:
            yield Problem(
                f"{where}.inner_mm and {where}.outer_mm",
                f"inner_mm = {tube.inner_mm:g} with outer_mm = {tube.outer_mm:g}",
                "an inside smaller than the outside",
            )


def _root_fittings(spec: Spec) -> Iterator[Problem]:
    span = spec.semi_span_mm if spec.stations else float("nan")
    for i, tab in enumerate(spec.tabs):
        where = f"tab[{i}]"
        if tab.depth_mm > span:
            yield _outside(f"{where}.depth_mm", tab.depth_mm, span)
        if tab.hole_mm is not None and tab.hole_mm >= tab.width_mm:
            yield Problem(
                f"{where}.hole_mm and {where}.width_mm",
                f"a hole of {tab.hole_mm:g} mm in a tongue {tab.width_mm:g} mm wide",
                "a hole smaller than the tongue is wide",
            )
        if tab.hole_from_root_mm is not None:
            if tab.hole_mm is None:
                yield Problem(
                    f"{where}.hole_from_root_mm and {where}.hole_mm",
                    "the place of a hole without its diameter",
                    "both keys or neither",
                    "Add hole_mm",
                )
            if tab.hole_from_root_mm >= tab.depth_mm:
                yield Problem(
                    f"{where}.hole_from_root_mm and {where}.depth_mm",
                    f"a hole {tab.hole_from_root_mm:g} mm from the root in a slot {tab.depth_mm:g} mm deep",
                    "a hole inside the slot",
                )


def _ailerons(spec: Spec) -> Iterator[Problem]:
    for i, aileron in enumerate(spec.ailerons):
        where = f"aileron[{i}]"
        horn = aileron.horn_mm
        if horn is not None and (horn < aileron.from_mm or horn > aileron.to_mm):
            yield Problem(
                f"{where}.horn_mm",
                f"{horn:g} mm",
                f"a place on the aileron, {aileron.from_mm:g} to {aileron.to_mm:g} mm",
            )
        for j, other in enumerate(spec.ailerons[:i]):
            if aileron.from_mm < other.to_mm and other.from_mm < aileron.to_mm:
                yield Problem(
                    f"aileron[{j}] and {where}",
                    f"{other.from_mm:g} to {other.to_mm:g} mm and "
                    f"{aileron.from_mm:g} to {aileron.to_mm:g} mm",
                    "ailerons that do not overlap along the span",
                )


def _joints(spec: Spec) -> Iterator[Problem]:
    span = spec.semi_span_mm if spec.stations else float("nan")
    joints = spec.panels.joints_mm or ()
    for i, joint in enumerate(joints):
        if joint <= 0 or joint >= span:
            yield Problem(
                f"panels.joints_mm[{i}]",
                f"{joint:g} mm",
                f"a place between the root and the last station at {span:g} mm, not on either",
            )
        if i and joint <= joints[i - 1]:
            yield Problem(
                f"panels.joints_mm[{i}]",
                f"{joint:g} mm",
                f"more than the joint before it, {joints[i - 1]:g} mm",
                "List the joints from the root to the tip",
            )


def _filament(spec: Spec) -> Iterator[Problem]:
    low, high = spec.filament.temperature_min_c, spec.filament.temperature_max_c
    if low is not None and high is not None and low >= high:
        yield Problem(
            "filament.temperature_min_c and filament.temperature_max_c",
            f"from {low:g} to {high:g} °C",
            "a lowest temperature under the highest",
        )
