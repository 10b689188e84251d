r"""The plan of the coupon: which steps it holds and where each of them stands.

Seen from above, a box of plain walls with a strip to the left and two arms to the right::

                    box
                +---------+---------------------+
                |         |  | | | | slots       \  leaning end
                |         +---------------------+
                |         |
                |         +------------------------------+
    strip       |         |  O  O  O  bores  [] [] tabs   |
    ============+---------+------------------------------+

The strip is flush with the lower side: the coupon, laid on that side, rests on a table, and the strip sticks
out.
Notches on the inner side of each arm count the steps: one before the first, two before the second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wingpath.core.errors import InputError
from wingpath.model.spec import NECK_BEADS

__all__ = ["BULB_BEADS", "GAP_MM", "STRIP_MM", "CouponPlan", "Notches", "Step", "coupon_plan"]

SLOT_STEPS, BORE_STEPS, TAB_STEPS = 6, 5, 4
"""Steps of each row."""

SLOT_STEP_BEADS = 0.075
"""Slots get wider by this share of a bead a step: six of them reach 45 per cent of swelling."""

LEAST_SLOT_STEP_MM = 0.02
"""A narrower slot could not be told from a line [mm]."""

CLEARANCE_STEP_MM = 0.1
"""Bores and tab slots get wider by this a step, on the diameter or the thickness [mm]."""

LEANS_DEG = (45.0, 50.0, 55.0, 60.0)
"""Leans of the end wall, from the bed upward [deg]."""

MOST_STEP_BEADS = 0.98
"""A wall that steps out by more than this share of a bead a layer is left out: it lies on nothing."""

HEIGHT_LAYERS = 48
"""Layers of the coupon, within the limits below."""

LEAST_HEIGHT_MM, MOST_HEIGHT_MM = 8.0, 12.0
"""Height: fingers hold the lowest, the highest still prints in half an hour [mm]."""

THICK_LAYER_MM, LOWER_BY = 0.25, 8.0
"""Layers over this are melted slower than they are laid, so the coupon gets lower by this many times what
they are higher [mm], [-]."""

BOX_MM = 24.0
"""Length of the box along x [mm]: a calliper's jaws go in from above."""

GAP_MM = 10.0
"""Between the two arms [mm]."""

CLEAR_MM = 2.2
"""Free side between the box and the first notch [mm]: nearer ones would read as a slot."""

BULB_BEADS = 4.0
"""Size of the thick end of the strip, behind which a thread stays, in beads."""

STRIP_MM = 70.0
"""Length of the strip [mm]."""

SLOT_DEPTH_MM = 5.0
"""Depth of the graded slots [mm]: enough to take hold of their two beads."""

TAB_WIDTH_MM = 8.0
"""Width of the tab slots along y [mm]."""

LARGEST_TUBE_MM, LARGEST_TAB_MM = 16.0, 8.0
"""Larger ones make the coupon print longer than half an hour [mm]."""

LEAST_TUBE_MM, LEAST_TAB_MM = 2.0, 0.5
"""Smaller ones do not slide in a bead's roughness [mm]."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a row.

    Parameters
    ----------
    number : int
        From 1; as many notches stand before it.
    x_mm : float
        Its middle [mm].
    size_mm : float
        Width of the slot, or clearance of the bore or tab slot [mm].
    """

    number: int
    x_mm: float
    size_mm: float


@dataclass(frozen=True, slots=True)
class Notches:
    """Where the notches of one step stand: places of their middles along x [mm]."""

    x_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CouponPlan:
    """Everything that the coupon's shape follows from.

    Parameters
    ----------
    nozzle_mm, bead_mm, layer_mm : float
        What it is printed with [mm].
    tube_mm, tab_mm : float
        Outside diameter of the tube and thickness of the tongue that are tried in it [mm].
    slots, bores, tabs : tuple of Step
        The rows, narrowest first.
    leans_deg : tuple of float
        Leans of the end wall, lowest first [deg].
    slot_notches, bore_notches, tab_notches : tuple of Notches
        The marks of the rows.
    height_mm : float
        A whole number of layers [mm].
    lower_depth_mm, upper_depth_mm : float
        Depth of the arm of bores and of the arm of slots, along y [mm].
    lower_end_mm, upper_end_mm : float
        Where the arms end along x [mm].
    """

    nozzle_mm: float
    bead_mm: float
    layer_mm: float
    tube_mm: float
    tab_mm: float
    slots: tuple[Step, ...]
    bores: tuple[Step, ...]
    tabs: tuple[Step, ...]
    leans_deg: tuple[float, ...]
    slot_notches: tuple[Notches, ...]
    bore_notches: tuple[Notches, ...]
    tab_notches: tuple[Notches, ...]
    height_mm: float
    lower_depth_mm: float
    upper_depth_mm: float
    lower_end_mm: float
    upper_end_mm: float

    @property
    def neck_mm(self) -> float:
        """Solid between the end of a void and the skin that it should touch [mm]."""
        return NECK_BEADS * self.bead_mm

    @property
    def slit_mm(self) -> float:
        """Width of the slits of bores and tab slots: that of the narrowest slot [mm]."""
        return self.slots[0].size_mm

    @property
    def top_mm(self) -> float:
        """Greatest y: the open side of the graded slots [mm]."""
        return self.lower_depth_mm + GAP_MM + self.upper_depth_mm

    @property
    def upper_foot_mm(self) -> float:
        """Lower side of the arm of slots [mm]."""
        return self.lower_depth_mm + GAP_MM

    @property
    def left_mm(self) -> float:
        """Least x of the box; the strip begins there [mm]."""
        return -BOX_MM

    @property
    def strip_end_mm(self) -> float:
        """Least x of the strip [mm]."""
        return self.left_mm - STRIP_MM

    @property
    def strip_thickness_mm(self) -> float:
        """Thickness of the strip as drawn: two beads [mm]."""
        return 2.0 * self.bead_mm

    @property
    def notch_mm(self) -> tuple[float, float, float]:
        """Height, base and top of a notch [mm]."""
        return 1.2 * self.bead_mm, 2.2 * self.bead_mm, 1.1 * self.bead_mm

    def bore_centre_mm(self, step: Step) -> tuple[float, float]:
        """Return the middle of a bore; its top is one neck below the arm's inner side [mm]."""
        return step.x_mm, self.lower_depth_mm - self.neck_mm - self.bore_radius_mm(step)

    def bore_radius_mm(self, step: Step) -> float:
        """Return the radius of a bore: half of tube and clearance [mm]."""
        return 0.5 * (self.tube_mm + step.size_mm)

    def tab_corners_mm(self, step: Step) -> tuple[float, float, float, float]:
        """Return least x, least y, greatest x, greatest y of a tab slot [mm]."""
        half = 0.5 * (self.tab_mm + step.size_mm)
        top = self.lower_depth_mm - self.neck_mm
        return step.x_mm - half, top - TAB_WIDTH_MM - step.size_mm, step.x_mm + half, top

    def lean_profile_mm(self) -> tuple[tuple[float, float], ...]:
        """Return height and reach of the leaning end wall, corner by corner [mm].

        Each step begins with two upright layers, which part it visibly from the one below.
        """
        corners = [(0.0, 0.0)]
        upright = 2.0 * self.layer_mm
        rise = self.height_mm / len(self.leans_deg)
        reach = 0.0
        for number, lean in enumerate(self.leans_deg):
            foot = number * rise
            corners.append((foot + upright, reach))
            reach += (rise - upright) * math.tan(math.radians(lean))
            corners.append((foot + rise, reach))
        return tuple(corners)


def coupon_plan(
    *, nozzle_mm: float, bead_mm: float, layer_mm: float, tube_mm: float = 6.0, tab_mm: float = 3.0
) -> CouponPlan:
    """Lay out the coupon for a nozzle, a bead, a tube and a tongue.

    Parameters
    ----------
    nozzle_mm, bead_mm, layer_mm : float
        What it is printed with; the layer at most as high as the bead is wide [mm].
    tube_mm, tab_mm : float
        Outside diameter of the tube, 2 to 16, and thickness of the tongue, 0.5 to 8, that are at hand [mm].

    Raises
    ------
    InputError
        When a size is out of range.
    """
    for name, value, low, high in (
        ("tube", tube_mm, LEAST_TUBE_MM, LARGEST_TUBE_MM),
        ("tab", tab_mm, LEAST_TAB_MM, LARGEST_TAB_MM),
    ):
        if not low <= value <= high:
            raise InputError(
                f"{name}_mm: got {value:g}; allowed: {low:g} to {high:g} mm, what a coupon of half an hour "
                "holds. The clearance of another size is nearly the same"
            )
    if layer_mm > bead_mm:
        raise InputError(
            f"layer: got {layer_mm:g} mm, more than the bead width {bead_mm:g} mm; a bead is wider than high"
        )
    grade = max(LEAST_SLOT_STEP_MM, round(SLOT_STEP_BEADS * bead_mm, 2))
    pitch = 3.0 * bead_mm
    margin = max(1.2, 2.6 * bead_mm)
    slots, slot_notches, upper_end = _row(SLOT_STEPS, grade, 0.0, pitch=pitch, margin=margin, start=CLEAR_MM)
    bores, bore_notches, middle = _row(
        BORE_STEPS, CLEARANCE_STEP_MM, tube_mm, pitch=pitch, margin=margin, start=CLEAR_MM, overlap=True
    )
    tabs, tab_notches, lower_end = _row(
        TAB_STEPS, CLEARANCE_STEP_MM, tab_mm, pitch=pitch, margin=margin, start=middle
    )
    neck = NECK_BEADS * bead_mm
    slit = max(2.0, 3.0 * bead_mm)
    largest = max(
        tube_mm + BORE_STEPS * CLEARANCE_STEP_MM,
        TAB_WIDTH_MM + TAB_STEPS * CLEARANCE_STEP_MM,
    )
    leans = tuple(
        lean
        for lean in LEANS_DEG
        if layer_mm * math.tan(math.radians(lean)) <= MOST_STEP_BEADS * bead_mm or lean == LEANS_DEG[0]
    )
    most = MOST_HEIGHT_MM - LOWER_BY * max(0.0, layer_mm - THICK_LAYER_MM)
    wanted = max(LEAST_HEIGHT_MM, min(most, HEIGHT_LAYERS * layer_mm))
    # a whole number of layers a step
    rows = max(4, round(wanted / layer_mm / len(leans)))
    return CouponPlan(
        nozzle_mm=nozzle_mm,
        bead_mm=bead_mm,
        layer_mm=layer_mm,
        tube_mm=tube_mm,
        tab_mm=tab_mm,
        slots=slots,
        bores=bores,
        tabs=tabs,
        leans_deg=leans,
        slot_notches=slot_notches,
        bore_notches=bore_notches,
        tab_notches=tab_notches,
        height_mm=rows * len(leans) * layer_mm,
        lower_depth_mm=slit + largest + neck,
        upper_depth_mm=SLOT_DEPTH_MM + neck,
        lower_end_mm=lower_end,
        upper_end_mm=upper_end,
    )


def _row(
    count: int,
    grade_mm: float,
    base_mm: float,
    *,
    pitch: float,
    margin: float,
    start: float,
    overlap: bool = False,
) -> tuple[tuple[Step, ...], tuple[Notches, ...], float]:
    """Place steps one after the other, each behind its notches, and return where the row ends.

    Parameters
    ----------
    count, grade_mm, base_mm
        Steps, growth a step, and size of what goes in, 0 for a slot.
    pitch, margin
        Of the notches; free solid on both sides of a step [mm].
    start
        Where the row begins [mm].
    overlap
        Whether notches may stand beside the flank of a round bore, away from its top.
    """
    steps, notches = [], []
    x = start
    for number in range(1, count + 1):
        size = number * grade_mm
        half = 0.5 * (base_mm + size) if base_mm else 0.5 * size
        marks = number * pitch
        ahead = max(marks + margin, half + margin) if overlap else marks + half + margin
        notches.append(Notches(tuple(x + 0.5 * margin + (k + 0.5) * pitch for k in range(number))))
        middle = x + ahead + (0.5 * margin if overlap else 0.0)
        steps.append(Step(number, round(middle, 6), round(size, 6)))
        x = middle + half + margin
    return tuple(steps), tuple(notches), x
