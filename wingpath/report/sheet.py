"""The sheet that comes with a coupon: what to measure, with what, and where to write it, on one page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from wingpath.core.units import GRAVITY_M_S2
from wingpath.report.coupon_picture import LETTERS, bending_svg, leaning_svg, plan_svg
from wingpath.tune.cantilever import (
    droop_share_of_load,
    load_of_droop_share,
    second_moment_mm4,
)
from wingpath.tune.coupon_plan import BULB_BEADS, STRIP_MM, CouponPlan, Step

__all__ = ["SheetFacts", "coupon_sheet", "hung_mass_g"]

CLAMPED_MM = 10.0
"""Length of the strip that lies in the clamp [mm]."""

WANTED_DROOP = 0.12
"""Droop over free length that is easy to read and well inside what is taken."""

CAUTIONS = (
    "Nozzle and bed burn skin and stay hot for minutes. Foaming filament printed hot gives off fumes and "
    "fine particles: ventilate the room. Never leave a printer alone.",
    "Read the head and the start block of the .gcode file first: it was written for a size of machine, not "
    "for yours.",
    "Blades cut: pry away from your hand. Everything that follows from these numbers is an estimate until "
    "the wing has been proof-loaded.",
)

_STYLE = """
body { font: 13px/1.35 Helvetica, Arial, sans-serif; color: #181c24; margin: 14px auto; padding: 0 16px;
  max-width: 1060px; }
h1 { font-size: 19px; margin: 0 0 4px; } h2 { font-size: 14px; margin: 10px 0 3px; }
p { margin: 3px 0; } table { border-collapse: collapse; width: 100%; margin: 4px 0; }
th, td { border: 1px solid #8a8e98; padding: 3px 6px; text-align: left; vertical-align: top; }
th { background: #ece8de; } code { font: 12px Menlo, Consolas, monospace; }
td.box { width: 110px; } svg { max-width: 100%; height: auto; display: block; }
.pair { display: flex; gap: 10px; } .pair > div { flex: 1; }
@page { size: A4; margin: 9mm; }
@media print {
  body { margin: 0; padding: 0; font-size: 10px; line-height: 1.25; }
  .pair svg { max-height: 45mm; }
}
"""


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What the sheet says beside the plan.

    Parameters
    ----------
    printer, filament : str
        Titles of the profiles.
    temperatures_c, flows : tuple of float
        Of the coupons, the wanted one first.
    minutes, mass_g : float
        Of the longest print [min], of the first one [g]; estimates.
    modulus_mpa, strip_mm : float
        What the strip is expected to be: modulus [MPa], thickness [mm].
    """

    printer: str
    filament: str
    temperatures_c: tuple[float, ...]
    flows: tuple[float, ...]
    minutes: float
    mass_g: float
    modulus_mpa: float
    strip_mm: float


def hung_mass_g(plan: CouponPlan, facts: SheetFacts) -> float:
    """Return a mass that makes the strip droop by about an eighth of its free length [g], a round number."""
    length = _free_mm(plan)
    inertia = second_moment_mm4(height_mm=plan.height_mm, thickness_mm=facts.strip_mm)
    force = load_of_droop_share(WANTED_DROOP) * facts.modulus_mpa * inertia / length**2
    mass = 1e3 * force / GRAVITY_M_S2
    step = 0.5 if mass < 5.0 else 1.0 if mass < 20.0 else 5.0
    return max(step, step * round(mass / step))


def _free_mm(plan: CouponPlan) -> float:
    """Return the length from the clamp to the thread, just inside the thick end [mm]."""
    return STRIP_MM - CLAMPED_MM - BULB_BEADS * plan.bead_mm


def _droop_mm(plan: CouponPlan, facts: SheetFacts, mass_g: float) -> float:
    length = _free_mm(plan)
    inertia = second_moment_mm4(height_mm=plan.height_mm, thickness_mm=facts.strip_mm)
    load = 1e-3 * mass_g * GRAVITY_M_S2 * length**2 / (facts.modulus_mpa * inertia)
    return droop_share_of_load(load) * length


def coupon_sheet(plan: CouponPlan, facts: SheetFacts) -> str:
    """Return the sheet as one HTML page that needs nothing from outside.

    Parameters
    ----------
    plan : CouponPlan
        The coupon.
    facts : SheetFacts
        What else it says.
    """
    which = ", ".join(
        f"{t:g} °C with flow {flow:g}" for t, flow in zip(facts.temperatures_c, facts.flows, strict=True)
    )
    more = (
        " Print the first one first; the others, each with its own readings, tell how foaming goes with "
        "temperature."
        if len(facts.temperatures_c) > 1
        else ""
    )
    rows = "".join(
        f"<tr><td><b>{LETTERS[key]}</b></td><td>{escape(what)}</td><td>{escape(tool)}</td>"
        f'<td><code>{escape(name)}</code></td><td class="box"></td></tr>'
        for key, what, tool, name in _readings(plan, facts)
    )
    cautions = "".join(f"<p>{escape(text)}</p>" for text in CAUTIONS)
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>Coupon: what to measure</title>
<style>{_STYLE}</style></head><body>
<h1>Coupon: what to measure, with what, and where to write it</h1>
<p>{escape(facts.filament)}; {escape(facts.printer)}; nozzle {plan.nozzle_mm:g} mm, bead {plan.bead_mm:g} mm,
layer {plan.layer_mm:g} mm. Files: {escape(which)}.{escape(more)} About {facts.minutes:.0f} minutes and
{facts.mass_g:.1f} g for the first, without heating up.</p>
<h2>From above</h2>
{plan_svg(plan)}
<p>Steps are counted by the notches before them: one before step 1, two before step 2. Slots, from 1:
{_listed(plan.slots)} mm wide. Bores, wider than the tube of {plan.tube_mm:g} mm by {_listed(plan.bores)} mm.
Tongue slots, wider than the tongue of {plan.tab_mm:g} mm by {_listed(plan.tabs)} mm.</p>
<div class="pair"><div><h2>Leaning end, from the side</h2>{leaning_svg(plan)}</div>
<div><h2>Bending the strip</h2>{bending_svg()}</div></div>
<h2>Readings</h2>
<p>Let the coupon cool for ten minutes, snip off the line that fills the nozzle (a straight bead on the bed
that leads to the end of the lower arm), pull off strings, do not sand. Write into
<code>measurements.toml</code>, take the # away in front of the line, then run
<code>wingpath tune --read measurements.toml</code>. What you leave out stays as assumed.
Write its temperature on each coupon: they look alike.</p>
<table><tr><th></th><th>what</th><th>tool</th><th>key</th><th>reading</th></tr>{rows}</table>
<h2>Cautions</h2>{cautions}
</body></html>
"""


def _listed(steps: Sequence[Step]) -> str:
    return ", ".join(f"{step.size_mm:g}" for step in steps)


def _readings(plan: CouponPlan, facts: SheetFacts) -> list[tuple[str, str, str, str]]:
    mass = hung_mass_g(plan, facts)
    droop = _droop_mm(plan, facts, mass)
    return [
        ("wall", "Weigh the whole coupon.", "scale to 0.01 g", "mass_g"),
        (
            "wall",
            "Thickness of the box's plain wall, jaws from above, three places or more, between the corners.",
            "calliper",
            "wall_mm",
        ),
        (
            "slots",
            "From the narrowest on: push a razor blade into the mouth and twist a little. The last slot that "
            "holds before the first that parts.",
            "thin blade",
            "slot_fused",
        ),
        (
            "bores",
            "From the tightest bore on, from above: first that takes the tube when pushed; first that it "
            "slides in by hand; first that it falls through.",
            f"tube, {plan.tube_mm:g} mm",
            "bore_push, bore_slide, bore_loose",
        ),
        (
            "tabs",
            "Tightest slot that the tongue slides in: cut a strip, 8 mm wide, of the sheet that your tongues "
            "are made of.",
            f"tongue, {plan.tab_mm:g} mm",
            "tab_slide",
        ),
        (
            "lean",
            "Look at the underside: highest step without drooping or curled beads. The lowest is 1.",
            "eye, lamp",
            "lean_clean",
        ),
        (
            "strip",
            "Thickness of the strip, three places or more, away from its ends; its height as it stood.",
            "calliper",
            "strip_mm, strip_height_mm",
        ),
        (
            "strip",
            "Lay the coupon on the side with the slits of bores and tongue slots, the strip sticking out "
            f"over the table's edge but for {CLAMPED_MM:g} mm, and press a bar on that. Tie a thread just "
            "inside the thick end: length from the table's edge to the thread. Hang about "
            f"{mass:g} g, wait ten seconds, and read at the thread how much lower the strip is than without "
            f"the mass: about {droop:.0f} mm. Again with about {0.5 * mass:g} g. Weigh masses with their "
            "thread.",
            "ruler, known mass",
            "droop: mass_g, length_mm, droop_mm",
        ),
    ]
