"""What an assessment has to say: limits that are broken, weak points, numbers that cannot be had."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wingpath.core.findings import Finding, sort_findings
from wingpath.pipeline.aeroelastics import SPEED_MARGIN
from wingpath.pipeline.assessing import HOT_C, Assessment
from wingpath.pipeline.shell_solving import NOSE_DOWN, NOSE_UP
from wingpath.structure.margins import Margin

__all__ = ["assess_findings"]

FAR_SHARE = 0.1
"""A tip that goes up by more than this share of the half span at the limit is called far: judgement."""

BEYOND_SHARE = 0.5
"""A tip that moves by more than this share of the half span is beyond small deflections."""

WEAK_AILERON = 0.5
"""An aileron that rolls less than this share of what it would on a stiff wing is called weak: judgement."""

HOT_SHARE = 0.75
"""Buckling below this share of its value at 20 °C is told: judgement."""

PRESSED = {"limit": "lift", NOSE_UP: "a nose-up torque", NOSE_DOWN: "a nose-down torque"}
"""Loads whose wrinkles are promised."""

KEPT = frozenset({"error", "warning"})


def assess_findings(one: Assessment) -> tuple[Finding, ...]:
    """Return what there is to say about a wing, worst first; of its build, errors and warnings."""
    said = [finding for finding in one.findings if finding.severity in KEPT or finding.code == "uncalibrated"]
    said += _missing(one)
    said += _broken(one)
    said += _wrinkles(one)
    said += _speeds(one)
    said += _bends(one)
    said += _contradictions(one)
    said += _coarse(one)
    said += _heat(one)
    return sort_findings(said)


def _missing(one: Assessment) -> Iterator[Finding]:
    if one.limits is None:
        yield Finding(
            "no-aircraft",
            "note",
            "the spec has no [aircraft] table, so there are no loads, deflections, margins and speeds; what "
            "does not depend on them is told",
            "add [aircraft] with all_up_mass_g, load_factor and max_speed_m_s",
        )
    elif one.proof is None and one.proof_refused:
        yield Finding(
            "no-number",
            "note",
            f"there is no plan of a proof loading, because {one.proof_refused}",
            "check all_up_mass_g and load_factor; or load the wing the right way up, pulled from above",
        )
    if one.aeroelastics is not None and one.aeroelastics.divergence_m_s == float("inf"):
        yield Finding(
            "no-number",
            "note",
            "no speed at which the wing twists off (divergence): lift does not twist it nose up",
            "nothing; swept wings and wings that turn about their front do so",
        )
    lost = [
        words
        for key, words in PRESSED.items()
        if key in one.solved.buckling and one.solved.buckling[key] is None
    ]
    if lost:
        yield Finding(
            "no-number",
            "note",
            f"no wrinkles under {' and '.join(lost)}: nothing is pressed there, or the search did not settle",
            "nothing; with another --edge-mm it may settle",
        )
    if not one.fusion_known:
        opened, words = one.state("open"), "`wingpath assess --details` shows what open slots would do"
        if opened is not None:
            words = (
                f"with open slots the tip would twist {opened.twist_deg_per_n_m:.3g} instead of "
                f"{one.solved.twist_deg_per_n_m:.3g} deg per N m (`wingpath assess --details`)"
            )
        yield Finding(
            "unknown-fusion",
            "note",
            f"it is not known how far the beads of slots fuse; the numbers are for '{one.main}', the band "
            f"reaches to partly fused, and {words}",
            "print the coupon of `wingpath tune` and read it back, or set slots.weld_spacing_mm",
        )


def _broken(one: Assessment) -> Iterator[Finding]:
    for margin in one.margins:
        if margin.value < 0.0:
            yield Finding(
                "broken-margin",
                "error",
                f"{margin.title}: {margin.demand:.3g} {margin.unit} at 1.5 times the limit load, allowed "
                f"{margin.allowable:.3g} {margin.unit} ({margin.source}); {margin.place}",
                REMEDIES.get(_kind(margin), "lower the load factor, or make the place stronger"),
                found=margin.demand,
                limit=margin.allowable,
                unit=margin.unit,
            )
    ends = [margin for margin in one.margins if _kind(margin) == "tube_end" and margin.value >= 0.0]
    for margin in ends:
        yield Finding(
            "tube-end",
            "note",
            f"{margin.title}: {margin.demand:.3g} {margin.unit} there at 1.5 times the limit load, margin "
            f"{margin.value:+.2f}; {margin.place}",
            "let a spar web overlap the tube, or end the tube away from a joint, a bay or an aileron's end",
        )


REMEDIES = {
    "tube_bending_root": "a thicker tube, a stiffer wall, or a lower load factor",
    "tube_bending_span": "a thicker tube, or a lower load factor",
    "tube_end": "a longer tube, or a spar web that overlaps it",
    "skin_compression": "a wider bead, a tube or a longer one, or a lower load factor",
    "layer_tension": "a tube, a longer one, or a wider bead; less foaming gives stronger layers",
    "joint_glue": "let a tube reach farther past the joint, or move the joint outboard",
    "tongue_bearing": "a deeper or wider tongue, or one farther from the tube",
    "screw_bearing": "a larger screw or a glued-in plate under it",
    "plate_punch": "a larger plate",
    "plate_glue": "a larger plate",
}
"""What to do about a margin below 0."""


def _kind(margin: Margin) -> str:
    return margin.name.rstrip("0123456789").rstrip("_")


def _wrinkles(one: Assessment) -> Iterator[Finding]:
    first = one.solved.buckling.get("limit")
    if first is None or one.limits is None or first.factor >= 1.0:
        return
    yield Finding(
        "wrinkles",
        "warning",
        f"the {first.part} wrinkles first at load factor {first.factor * one.limits.load_factor:.3g}, below "
        f"the limit of {one.limits.load_factor:g}, at span {first.z_mm:.0f} mm, "
        f"{100.0 * first.chord_fraction:.0f} per cent of the chord",
        "a smaller rib pitch, both rib runs, slots from both skins (ribs.stub_mm), a spar web near that "
        "place, or a wider bead",
        z_mm=first.z_mm,
        x_mm=first.x_mm,
        found=first.factor * one.limits.load_factor,
        limit=one.limits.load_factor,
    )


def _speeds(one: Assessment) -> Iterator[Finding]:
    found, limits = one.aeroelastics, one.limits
    if found is None or limits is None:
        return
    asked = SPEED_MARGIN * limits.max_speed_m_s
    speeds = [("twists off", found.divergence_m_s)]
    speeds += [("loses its ailerons", speed) for speed in found.reversal_m_s]
    for words, speed in speeds:
        if speed < asked:
            yield Finding(
                "twists-off" if words == "twists off" else "reversal",
                "error" if speed < limits.max_speed_m_s else "warning",
                f"the wing {words} at {speed:.0f} m/s; {asked:.0f} m/s are asked, {SPEED_MARGIN:g} times the "
                "highest speed",
                "both rib runs, a smaller pitch, better fused slots, or a lower max_speed_m_s",
                found=speed,
                limit=asked,
                unit="m/s",
            )
    for number, share in enumerate(found.effectiveness):
        if share is not None and share < WEAK_AILERON:
            yield Finding(
                "weak-aileron",
                "warning",
                f"aileron[{number}] rolls {100.0 * max(share, 0.0):.0f} per cent of what it would on a stiff "
                f"wing at {limits.max_speed_m_s:g} m/s: it twists the wing against itself",
                "both rib runs, a smaller pitch, an aileron farther inboard, or a lower max_speed_m_s",
                found=share,
                limit=WEAK_AILERON,
            )


def _bends(one: Assessment) -> Iterator[Finding]:
    tip = one.limit_tip_mm(one.solved)
    most = FAR_SHARE * one.planform.semi_span_mm
    if tip is not None and abs(tip) > most:
        beyond = abs(tip) > BEYOND_SHARE * one.planform.semi_span_mm
        yield Finding(
            "bends-far",
            "error" if beyond else "warning",
            f"the tip goes {'up' if tip > 0.0 else 'down'} by {abs(tip):.0f} mm at the limit load, more than "
            + (
                "half of the half span: no number of this wing holds"
                if beyond
                else "a tenth of the half span"
            ),
            "a longer or thicker tube, or a spar web along the whole span",
            found=tip,
            limit=most,
            unit="mm",
        )


def _contradictions(one: Assessment) -> Iterator[Finding]:
    limits, case = one.limits, one.case("limit")
    if limits is None or case is None:
        return
    if 2.0 * one.weights.mass_g > limits.all_up_mass_g:
        yield Finding(
            "outweighs",
            "error",
            f"both half wings weigh {2.0 * one.weights.mass_g:.0f} g, more than the whole aircraft with "
            f"{limits.all_up_mass_g:g} g",
            "weigh the aircraft and set all_up_mass_g",
            found=2.0 * one.weights.mass_g,
            limit=limits.all_up_mass_g,
            unit="g",
        )
    if case.lift_coefficient > limits.max_lift_coefficient:
        yield Finding(
            "cannot-lift",
            "warning",
            f"load factor {limits.load_factor:g} at {limits.max_speed_m_s:g} m/s asks for a lift coefficient "
            f"of {case.lift_coefficient:.2f}, and the wing stalls at {limits.max_lift_coefficient:g}: it "
            "cannot reach that load",
            "a lower load_factor or a higher max_speed_m_s, whichever is true",
            found=case.lift_coefficient,
            limit=limits.max_lift_coefficient,
        )


def _coarse(one: Assessment) -> Iterator[Finding]:
    if one.edge_mm > one.coarsest_mm:
        yield Finding(
            "coarse-mesh",
            "warning",
            f"edges of {one.edge_mm:.1f} mm are too long for bays between ribs: wrinkles are missed",
            f"let `wingpath assess --edge-mm {math.floor(10.0 * one.coarsest_mm) / 10.0:.1f}` work it out, "
            "which is slower, or take a wider pitch",
            found=one.edge_mm,
            limit=one.coarsest_mm,
            unit="mm",
        )


def _heat(one: Assessment) -> Iterator[Finding]:
    cold = one.solved.buckling.get("limit")
    if cold is None or one.limits is None:
        return
    for temperature, state in one.hot:
        warm = state.buckling.get("limit")
        if warm is None or temperature != HOT_C[-1]:
            continue
        if warm.factor < HOT_SHARE * cold.factor or warm.factor < 1.0 <= cold.factor:
            yield Finding(
                "hot",
                "note",
                f"at {temperature:g} °C the skin wrinkles at load factor "
                f"{warm.factor * one.limits.load_factor:.3g} instead of "
                f"{cold.factor * one.limits.load_factor:.3g}, and the filament is close to going soft",
                "light colours, shade on the field, no closed car in the sun",
                found=warm.factor * one.limits.load_factor,
                limit=one.limits.load_factor,
            )
