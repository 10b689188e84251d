"""Pictures of the coupon for the sheet: from above, the leaning end, and how the strip is bent."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wingpath.report.canvas import Canvas, PngCanvas, polygon_rings
from wingpath.report.colours import AXIS, BEAD, CENTRE, FUSED, INK, SOLID, WHITE
from wingpath.report.frame import Frame
from wingpath.report.svg_canvas import SvgCanvas
from wingpath.tune.coupon_plan import GAP_MM, CouponPlan, Step
from wingpath.tune.coupon_solid import coupon_region

__all__ = ["LETTERS", "bending_svg", "leaning_svg", "plan_picture", "plan_svg"]

LETTERS = {
    "wall": "A",
    "slots": "B",
    "bores": "C",
    "tabs": "D",
    "lean": "E",
    "strip": "F",
}
"""Places of the coupon by the letter that the pictures and the sheet give them."""

WIDTH_PX, MARGIN_PX, BAND_PX = 1040, 26, 30.0
"""Width of the picture from above, room beside the coupon, room above and below it [px]."""

TEXT_PX, BADGE_PX = 15.0, 12.0
"""Size of the text, radius of a letter's badge [px]."""


def _badge(canvas: Canvas, spot: tuple[float, float], letter: str) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 33)[:-1]
    ring = np.asarray(spot) + BADGE_PX * np.column_stack([np.cos(angle), np.sin(angle)])
    canvas.area([ring], INK)
    canvas.text((spot[0], spot[1] + 0.36 * TEXT_PX), letter, WHITE, size=TEXT_PX, anchor="middle")


def plan_svg(plan: CouponPlan) -> str:
    """Draw the coupon from above with its steps numbered, as SVG text."""
    canvas = SvgCanvas(WIDTH_PX, _plan_height(plan), title="The coupon from above")
    _draw_plan(canvas, plan)
    return canvas.svg()


def plan_picture(plan: CouponPlan) -> bytes:
    """Draw the same as a PNG."""
    canvas = PngCanvas(WIDTH_PX, _plan_height(plan))
    _draw_plan(canvas, plan)
    return canvas.png()


def _plan_scale(plan: CouponPlan) -> tuple[float, float]:
    """Return the least x that is drawn [mm] and the magnification [px/mm]."""
    left, right = plan.strip_end_mm - 2.0, max(plan.lower_end_mm, plan.upper_end_mm + 2.0)
    return left, (WIDTH_PX - 2 * MARGIN_PX) / (right - left)


def _plan_height(plan: CouponPlan) -> int:
    return round(plan.top_mm * _plan_scale(plan)[1] + 2 * BAND_PX)


def _draw_plan(canvas: Canvas, plan: CouponPlan) -> None:
    left, scale = _plan_scale(plan)
    box_px = (MARGIN_PX, BAND_PX, WIDTH_PX - MARGIN_PX, canvas.height - BAND_PX)
    frame = Frame(box_px, left, plan.top_mm, scale)
    rings = [frame.px(ring) for ring in polygon_rings(coupon_region(plan))]
    canvas.area(rings, SOLID)
    for ring in rings:
        canvas.line(ring, CENTRE, width=1.3, closed=True)
    _numbers(canvas, frame, plan.slots, plan.top_mm, above=True)
    _numbers(canvas, frame, plan.bores, 0.0, above=False)
    _numbers(canvas, frame, plan.tabs, 0.0, above=False)
    box = 0.5 * plan.left_mm
    for key, x, y in (
        ("wall", box, 3.4),
        ("slots", plan.slots[0].x_mm - 24.0 / scale, plan.top_mm + 14.0 / scale),
        ("bores", 0.5 * (plan.bores[0].x_mm + plan.bores[1].x_mm), plan.lower_depth_mm + 0.55 * GAP_MM),
        ("tabs", 0.5 * (plan.tabs[0].x_mm + plan.tabs[1].x_mm), plan.lower_depth_mm + 0.55 * GAP_MM),
        ("lean", plan.upper_end_mm + 5.0, plan.top_mm - 3.0),
        ("strip", 0.5 * (plan.left_mm + plan.strip_end_mm), 5.0),
    ):
        _badge(canvas, frame.spot(x, y), LETTERS[key])
    foot = frame.spot(box, 0.0)
    canvas.text((foot[0], foot[1] + 20.0), "plain wall", INK, size=TEXT_PX, anchor="middle")


def _numbers(canvas: Canvas, frame: Frame, steps: Sequence[Step], side: float, *, above: bool) -> None:
    for step in steps:
        x, y = frame.spot(step.x_mm, side)
        canvas.text((x, y - 7.0 if above else y + 20.0), f"{step.number}", INK, size=TEXT_PX, anchor="middle")


def leaning_svg(plan: CouponPlan) -> str:
    """Draw the leaning end from the side, its steps numbered."""
    profile = np.array([(reach, z) for z, reach in plan.lean_profile_mm()])
    width, height, band = 420, 260, 26.0
    span = float(profile[:, 0].max()) + 9.0
    scale = min((width - 2 * band) / span, (height - 2 * band) / plan.height_mm)
    canvas = SvgCanvas(width, height, title="The leaning end from the side")
    box = (band, band, width - band, height - band)
    frame = Frame(box, -6.0, (height - 2 * band) / scale, scale)
    shape = np.vstack([[-6.0, 0.0], profile, [-6.0, plan.height_mm]])
    canvas.area([frame.px(shape)], SOLID)
    canvas.line(frame.px(profile), CENTRE, width=2.0)
    floor = frame.px(np.array([[-6.0, 0.0], [span - 6.0, 0.0]]))
    canvas.line(floor, AXIS, width=1.5)
    canvas.text((width - band, floor[0, 1] + 18.0), "bed", AXIS, size=TEXT_PX, anchor="end")
    for number, lean in enumerate(plan.leans_deg):
        low, high = profile[2 * number + 1], profile[2 * number + 2]
        x, y = frame.spot(*(0.5 * (low + high)).tolist())
        canvas.text((x + 12.0, y + 14.0), f"{number + 1}: {lean:g} deg", INK, size=TEXT_PX, anchor="start")
    _badge(canvas, (width - band - 14.0, band + 10.0), LETTERS["lean"])
    return canvas.svg()


def bending_svg() -> str:
    """Draw how the strip is clamped and loaded."""
    width, height = 600, 300
    canvas = SvgCanvas(width, height, title="How the strip is bent")
    table = np.array([[20.0, 116.0], [190.0, 116.0], [190.0, 280.0], [20.0, 280.0]])
    canvas.area([table], SOLID)
    canvas.line(table, AXIS, width=1.4, closed=True)
    canvas.line(np.array([[20.0, 114.0], [120.0, 114.0], [120.0, 58.0], [20.0, 58.0]]), CENTRE, width=2.0)
    bar = np.array([[130.0, 92.0], [190.0, 92.0], [190.0, 111.0], [130.0, 111.0]])
    canvas.area([bar], BEAD)
    canvas.line(bar, CENTRE, width=1.2, closed=True)
    level, reach, droop = 113.0, 300.0, 70.0
    share = np.linspace(0.0, 1.0, 40)
    bent = np.column_stack([190.0 + reach * share, level + droop * (1.5 * share**2 - 0.5 * share**3)])
    canvas.line(np.vstack([[[20.0, level]], bent]), FUSED, width=4.0)
    canvas.line(np.array([[190.0, level], [190.0 + reach, level]]), AXIS, width=1.2, dash=5.0)
    canvas.line(bent[-2:], FUSED, width=11.0)
    # the thread hangs just inside the thick end, and there both lengths are read
    x, y = bent[-3].tolist()
    canvas.line(np.array([[x, y], [x, y + 36.0]]), CENTRE, width=1.2)
    mass = np.array([[x - 13, y + 36], [x + 13, y + 36], [x + 13, y + 62], [x - 13, y + 62]])
    canvas.area([mass], INK)
    canvas.text((x + 22.0, y + 54.0), "mass", INK, size=TEXT_PX)
    _span(canvas, (190.0, 66.0), (x, 66.0), "length_mm", along=True)
    _span(canvas, (x + 24.0, level), (x + 24.0, y), "droop_mm", along=False)
    for number, words in enumerate(
        (
            "The coupon lies on the side with the",
            "slits; a straight bar presses the strip",
            "onto the table's edge.",
        )
    ):
        canvas.text((200.0, 190.0 + 20.0 * number), words, INK, size=TEXT_PX)
    canvas.text((46.0, 92.0), "box", INK, size=TEXT_PX)
    _badge(canvas, (340.0, 96.0), LETTERS["strip"])
    return canvas.svg()


def _span(
    canvas: Canvas, start: tuple[float, float], end: tuple[float, float], text: str, *, along: bool
) -> None:
    canvas.line(np.array([start, end]), INK, width=1.2)
    tick = np.array([0.0, 5.0]) if along else np.array([5.0, 0.0])
    for place in (np.array(start), np.array(end)):
        canvas.line(np.array([place - tick, place + tick]), INK, width=1.2)
    middle = 0.5 * (np.array(start) + np.array(end))
    if along:
        canvas.text((float(middle[0]), float(middle[1]) - 8.0), text, INK, size=TEXT_PX, anchor="middle")
    else:
        canvas.text((float(middle[0]) + 9.0, float(middle[1]) + 5.0), text, INK, size=TEXT_PX)
