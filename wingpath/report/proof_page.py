"""The page of a proof loading, to print: which weights go where, what to expect, when to stop."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Any

from wingpath.core.errors import InputError
from wingpath.report.proof_drawing import ProofPlaces, proof_drawing
from wingpath.report.proof_style import STYLE
from wingpath.report.proof_words import BEFORE, COMPARE, NEEDED, STOP, WATCH

__all__ = ["bag_g", "proof_page", "range_mm"]

COARSE_FROM_G, COARSE_G = 100.0, 5.0
"""Heavier bags are told in steps of this [g]: a bag of sand is not filled closer; judgement."""

FINE_FROM_G, FINE_G, FINEST_G = 10.0, 1.0, 0.5
"""Lighter ones, and those lighter than the first of these [g]."""

READING_MM = 0.5
"""What a ruler is read to [mm]."""

MOVED_MM = 4.0
"""A weight that lies farther from its place at the limit has its place told at that step [mm]."""

SAME_SHARE = 1e-3
"""Shares of the limit this close are the same."""

CALLED = ((1.0, "limit"), (1.5, "ultimate, 3 s"))
"""Shares of the limit that have a name: 14 CFR 23.303 and 23.305 (text of 2014)."""

LETTERS = "ABCDEFGH"
"""What the gauges are called."""

BLANKS = ("Wing no.", "Date", "Room, °C", "By")
"""What is written in by hand."""


def bag_g(mass_g: float) -> float:
    """Return a mass rounded to what a bag is filled to [g]: 5 g over 100 g, 1 g over 10 g, else 0.5 g."""
    step = COARSE_G if mass_g > COARSE_FROM_G else FINE_G if mass_g >= FINE_FROM_G else FINEST_G
    return step * round(mass_g / step)


def range_mm(expected_mm: float, band: float) -> tuple[float, float]:
    """Return the range of a deflection [mm], rounded outward to half millimetres.

    Parameters
    ----------
    expected_mm : float
        What is expected [mm].
    band : float
        Half-width of the range, as a share of that; over 1 the range goes down to 0.
    """
    ends = [expected_mm * (1.0 - min(band, 1.0)), expected_mm * (1.0 + band)]
    low, high = min(ends), max(ends)
    # what is a half millimetre but for rounding stays one
    slack = 1e-9 * max(1.0, abs(expected_mm))
    return (
        READING_MM * math.floor((low + slack) / READING_MM),
        READING_MM * math.ceil((high - slack) / READING_MM),
    )


def proof_page(wing: Mapping[str, Any], *, cautions: Sequence[str]) -> str:
    """Return the page as HTML that needs nothing from outside.

    Parameters
    ----------
    wing : mapping
        The wing's document, with a `proof_loading`.
    cautions : sequence of str
        What to say at the end.

    Raises
    ------
    InputError
        When there is no step or no weight.
    """
    proof = wing["proof_loading"]
    steps = proof["steps"]
    if not steps or not steps[0]["weights"]:
        raise InputError("proof_loading: got no weights; allowed: one step or more, each with its weights")
    name, spec = escape(str(wing["name"])), escape(str(wing["spec"] or ""))
    band = wing["band"].get("tip_deflection_limit_mm")
    told = "".join(f"<li>{escape(text)}</li>" for text in cautions)
    blanks = "".join(f"<span>{word}<i></i></span>" for word in BLANKS)
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Proof loading: {name}</title>
<style>{STYLE}</style></head><body>
<h1>Proof loading: {name}</h1>
<p class="soft">{_from(spec)}Weights and deflections are those of one half wing. Estimates until you have done
this.</p>
<p class="blanks">{blanks}</p>
<div class="pair"><section><h2>What is needed</h2>{_list(NEEDED)}</section>
<section><h2>How the wing lies</h2>{_list([*BEFORE, *_raised(proof, steps)])}</section></div>
<h2>Where the weights lie</h2>
<p>The left half, upside down, seen from above; the right half is its mirror image. Lengths in mm: span from
the root outward, aft from the root's leading edge. Circles: middles of the weights at the limit. Diamonds:
where the deflection is read.</p>
<div class="scroll" role="region" aria-label="Drawing" tabindex="0">{_drawing(proof, steps)}</div>
<div class="pair sheet"><section><h2>At each step</h2>{_list(WATCH)}</section>
<section><h2>When to stop</h2>{_list(STOP)}</section></div>
<h2 class="page">What to lay on</h2>
<p>All that lies on the wing at that step, in grams. Small figures: place (span, aft), told again where it is
not the one in the head of the column. Dashed rows: beyond the limit, for a wing that will not fly.</p>
{_weights_table(steps)}
<h2>What to read</h2>
<p>{_range_words(wing, band)} Write down how far each place has gone down since the reading without weights,
less what the root has gone down.</p>
{_readings_table(wing, proof, band)}
<p><b>Wrinkles.</b> {_wrinkle_words(wing, steps)}</p>
<h2>How to compare, and afterwards</h2>{_list(COMPARE)}
<h2>Cautions</h2><ul class="cautions">{told}</ul>
</body></html>
"""


def _from(spec: str) -> str:
    return f"From {spec}. " if spec else ""


def _list(texts: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>"


def _raised(proof: Mapping[str, Any], steps: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    if proof["first_factor_raised"]:
        yield (
            f"The first step is at load factor {_factor(steps[0])}: upside down, the wing's own weight is "
            "more than a smaller one would bring somewhere along the span."
        )


def _factor(step: Mapping[str, Any]) -> str:
    return _number(float(step["load_factor"]))


def _number(value: float) -> str:
    text = f"{value:.2f}"
    return text.rstrip("0").rstrip(".")


def _limit_step(steps: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    """Return the step nearest to the limit load."""
    return min(steps, key=lambda step: abs(float(step["share_of_limit"]) - 1.0))


def _drawing(proof: Mapping[str, Any], steps: Sequence[Mapping[str, Any]]) -> str:
    gauges = list(zip(proof["gauge_x_mm"], proof["gauges_mm"], strict=True))
    return proof_drawing(
        ProofPlaces(
            outline=[(float(x), float(z)) for x, z in proof["outline_mm"]],
            weights=[(float(w["x_mm"]), float(w["span_mm"])) for w in _limit_step(steps)["weights"]],
            gauges=[(float(x), float(z)) for x, z in gauges],
            letters=LETTERS[: len(gauges)],
        )
    )


def _weights_table(steps: Sequence[Mapping[str, Any]]) -> str:
    places = _limit_step(steps)["weights"]
    heads = "".join(
        f'<th scope="col"><b class="badge">{number}</b><small>{place["span_mm"]:.0f}, {place["x_mm"]:.0f}'
        "</small></th>"
        for number, place in enumerate(places, start=1)
    )
    rows = "".join(
        f"<tr{_kind(step)}>{_step_cells(number, step)}{_weight_cells(step, places)}</tr>"
        for number, step in enumerate(steps, start=1)
    )
    return (
        '<div class="scroll" role="region" aria-label="What to lay on" tabindex="0"><table class="weights">'
        f"<thead><tr>{_STEP_HEADS}{heads}"
        f'<th scope="col">total</th></tr></thead><tbody>{rows}</tbody></table></div>'
    )


_STEP_HEADS = (
    '<th scope="col">step</th><th scope="col">load<small>factor</small></th>'
    '<th scope="col">%<small>of limit</small></th>'
)


def _kind(step: Mapping[str, Any]) -> str:
    """Return the class of a row: beyond the limit a wing that is to fly is not taken."""
    return ' class="beyond"' if float(step["share_of_limit"]) > 1.0 + SAME_SHARE else ""


def _step_cells(number: int, step: Mapping[str, Any], *, wrinkled: bool = False) -> str:
    share = float(step["share_of_limit"])
    mark = '<span class="mark">wrinkles</span>' if wrinkled else ""
    called = next((word for at, word in CALLED if abs(share - at) < SAME_SHARE), "")
    small = f'<small class="called">{called}</small>' if called else ""
    return f'<th scope="row">{number}{mark}</th><td>{_factor(step)}</td><td>{100.0 * share:.0f}{small}</td>'


def _weight_cells(step: Mapping[str, Any], places: Sequence[Mapping[str, Any]]) -> str:
    cells, total = [], 0.0
    for weight, place in zip(step["weights"], places, strict=True):
        mass = bag_g(float(weight["mass_g"]))
        total += mass
        moved = max(abs(float(weight[key]) - float(place[key])) for key in ("span_mm", "x_mm"))
        where = f"<small>{weight['span_mm']:.0f}, {weight['x_mm']:.0f}</small>" if moved > MOVED_MM else ""
        cells.append(f"<td>{mass:g}{where}</td>")
    # the sum of what is told, so that it can be checked on the scale
    return "".join(cells) + f"<td><b>{_mass(total)}</b></td>"


def _mass(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _readings_table(wing: Mapping[str, Any], proof: Mapping[str, Any], band: float | None) -> str:
    steps, count = proof["steps"], len(proof["gauges_mm"])
    heads = "".join(
        f'<th scope="col">{letter} at {float(z):.0f}<small>expected, mm</small></th>'
        f'<th scope="col">{letter}<small>measured</small></th>'
        for letter, z in zip(LETTERS, proof["gauges_mm"], strict=False)
    )
    blank = '<td class="write"></td>'
    zero = "".join(f'<td class="none">reading</td>{blank}' for _ in range(count))
    back = "".join(f"<td>0</td>{blank}" for _ in range(count))
    limit, first = _limit_step(steps), _wrinkled_step(wing, steps)
    rows = [f'<tr><th scope="row">before</th><td>0</td><td>0</td>{zero}{blank}</tr>']
    for number, step in enumerate(steps, start=1):
        cells = "".join(f"<td>{_expected(value, band)}</td>{blank}" for value in step["deflection_mm"])
        head = _step_cells(number, step, wrinkled=number == first)
        rows.append(f"<tr{_kind(step)}>{head}{cells}{blank}</tr>")
        if step is limit:
            rows.append(f'<tr><th scope="row">taken off</th><td>0</td><td>0</td>{back}{blank}</tr>')
    return (
        '<div class="scroll" role="region" aria-label="What to read" tabindex="0"><table class="readings">'
        f'<thead><tr>{_STEP_HEADS}{heads}<th scope="col">seen, heard</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _expected(value: float | None, band: float | None) -> str:
    if value is None:
        return "-"
    told = f"<b>{READING_MM * round(float(value) / READING_MM):.1f}</b>"
    if band is None:
        return told
    low, high = range_mm(float(value), float(band))
    return f"{told}<small>{low:.1f} to {high:.1f}</small>"


def _range_words(wing: Mapping[str, Any], band: float | None) -> str:
    if band is None:
        return "No range is known for what is expected."
    words = f"Expected, and its range, {100.0 * float(band):.0f} per cent to either side."
    if not wing["filament"]["calibrated"]:
        words += " The filament is not calibrated; a coupon (wingpath tune) makes the range narrower."
    return words


def _wrinkled_step(wing: Mapping[str, Any], steps: Sequence[Mapping[str, Any]]) -> int | None:
    """Return the number of the first step at which the skin is expected to wrinkle."""
    first = wing["first_buckling_load_factor"]
    if first is None:
        return None
    return next(
        (n for n, step in enumerate(steps, start=1) if float(step["load_factor"]) >= float(first)), None
    )


def _wrinkle_words(wing: Mapping[str, Any], steps: Sequence[Mapping[str, Any]]) -> str:
    first, band = wing["first_buckling_load_factor"], wing["band"].get("first_buckling_load_factor")
    if first is None:
        return "It is not known at which step the skin wrinkles. Stop at the first wrinkle and look at it."
    factor, at = float(first), _wrinkled_step(wing, steps)
    when = f"at step {at}" if at is not None else "at none of these steps"
    words = f"Worked out for a faultless skin: first at load factor {factor:.1f}, so {when}."
    if band is not None:
        low = factor * max(0.0, 1.0 - float(band))
        early = next((n for n, step in enumerate(steps, start=1) if float(step["load_factor"]) >= low), None)
        if early is not None and early != at:
            words += f" It may be off by {100.0 * float(band):.0f} per cent: look out from step {early} on."
    return (
        words + " Printed skins have faults and wrinkle sooner. The deflections above are without wrinkles."
    )
