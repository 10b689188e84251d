"""The file of measurements: written with a coupon, filled in by the builder, read back."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from wingpath.core.errors import FileAccessError, OutputExistsError, SpecError
from wingpath.io.reading import put_back_for
from wingpath.io.spec_toml import read_toml, toml_text
from wingpath.model.measurements import (
    CouponReadings,
    Measurements,
    Tools,
    measurements_from_dict,
)
from wingpath.tune.coupon_plan import CouponPlan

__all__ = ["CouponLine", "load_measurements", "measurements_template", "refuse_filled_in"]

READINGS = frozenset(CouponReadings.model_fields) - {"temperature_c", "flow", "filament_mm3"}
"""Keys of a coupon that somebody fills in."""

_HEAD = """\
# What was measured on the coupons. Fill in what you have, take the # away in front of it, leave out the rest,
# then run `wingpath tune --read` on this file. The sheet beside it shows where and how to measure.

format = 1                     # version of this file format
name = "my-filament"           # name of the profile that will be written: small letters, digits, dashes
base_profile = @BASE@@PAD@# the profile that is corrected; what you did not measure stays as it is there
date = "@DATE@"            # day of the measurements
printer = "my printer"         # in your own words, so that you know it again
spool = "my spool"             # in your own words: colour, day opened

# What the coupons were made with. Leave these lines as they are.
[printed]
@PRINTED@

# How far your readings may be off: half of the range that holds the true value 95 times in 100.
[tools]
@TOOLS@
"""

_COUPON = """
# The coupon at @T@ °C.@FIRST@
[[coupon]]
temperature_c = @T@
flow = @FLOW@
filament_mm3 = @V@@PAD@# filament in it before foaming; printed with other software: what that says

# mass_g = 0.00                # scale: the coupon, without the line that fills the nozzle, without strings
# wall_mm = [0.0, 0.0, 0.0]    # calliper: plain wall of the box, in three places or more
# slot_fused = 0               # widest slot that a thin blade does not part; count its notches, 0 for none
# bore_push = 0                # tightest bore that the tube of @TUBE@ mm can be pushed into, 0 for none
# bore_slide = 0               # tightest bore that it slides in by hand
# bore_loose = 0               # tightest bore that it falls through by itself
# tab_slide = 0                # tightest slot that a tongue of @TAB@ mm slides in
# lean_clean = 0               # highest step of the leaning end that is clean below: 1 is the lowest
# strip_mm = [0.0, 0.0, 0.0]   # calliper: thickness of the strip, in three places or more
# strip_height_mm = 0.0        # calliper: height of the strip as it stood on the bed; as drawn if left out
# [[coupon.droop]]             # free this line too, then the three below; all four again for another mass
# mass_g = 0.0                 # scale: what was hung, with its thread
# length_mm = 0.0              # ruler: from the clamp to the thread
# droop_mm = 0.0               # ruler: how much lower the strip is at the thread, with the mass than without
"""

FIRST_WORDS = " Put first the one that you will print wings with."


@dataclass(frozen=True, slots=True)
class CouponLine:
    """What one coupon was printed with: nozzle [°C], flow, filament before foaming [mm3]."""

    temperature_c: float
    flow: float
    filament_mm3: float


def load_measurements(path: str | Path) -> Measurements:
    """Read and check a file of measurements.

    Parameters
    ----------
    path : str or Path
        The TOML file.

    Raises
    ------
    FileAccessError
        When there is no such file or it cannot be read.
    SpecError
        With everything that is wrong with it.
    """
    return measurements_from_dict(read_toml(path), source=str(path))


def refuse_filled_in(path: Path) -> None:
    """Raise when a file of measurements holds readings, so that they are not written over.

    Raises
    ------
    OutputExistsError
        When it does.
    FileAccessError
        When it cannot be read.
    """
    put_back_for(path)
    try:
        if not path.is_file():
            return
    except OSError as error:
        raise FileAccessError(f"{path}: cannot be used ({error.strerror or error})") from error
    try:
        rows = read_toml(path).get("coupon", [])
    except SpecError as error:
        raise OutputExistsError(
            f"{path}: may hold readings, but cannot be read ({error.problems[0].got}); nothing was written. "
            "Choose another folder with -o, or move the file away"
        ) from None
    for number, row in enumerate(rows if isinstance(rows, list) else []):
        found = sorted(READINGS.intersection(row)) if isinstance(row, dict) else []
        if found:
            raise OutputExistsError(
                f"{path}: holds readings, coupon[{number}].{found[0]} for one; nothing was written. "
                "Choose another folder with -o, or move the file away"
            )


def measurements_template(
    plan: CouponPlan, coupons: Sequence[CouponLine], *, filament: str, date: str | None = None
) -> str:
    """Return the file to fill in.

    Parameters
    ----------
    plan : CouponPlan
        What the coupons were made with.
    coupons : sequence of CouponLine
        One a temperature, the wanted one first.
    filament : str
        Name or path of the profile that is corrected.
    date : str, optional
        Day that stands in it, year-month-day; today by default.
    """
    printed = {
        "nozzle_mm": plan.nozzle_mm,
        "bead_mm": plan.bead_mm,
        "layer_mm": plan.layer_mm,
        "tube_mm": plan.tube_mm,
        "tab_mm": plan.tab_mm,
        "slots_mm": [step.size_mm for step in plan.slots],
        "bores_mm": [step.size_mm for step in plan.bores],
        "tabs_mm": [step.size_mm for step in plan.tabs],
        "leans_deg": list(plan.leans_deg),
        "strip_height_mm": round(plan.height_mm, 6),
    }
    tools = [
        f"{f'{name} = {info.default!r}':31}# {info.description}" for name, info in Tools.model_fields.items()
    ]
    text = _HEAD
    for mark, value in (
        ("@BASE@@PAD@", f"{toml_text(filament):15} "),
        ("@DATE@", date or datetime.datetime.now(tz=datetime.UTC).astimezone().date().isoformat()),
        ("@PRINTED@", "\n".join(f"{key} = {value!r}" for key, value in printed.items())),
        ("@TOOLS@", "\n".join(tools)),
    ):
        text = text.replace(mark, value)
    for number, line in enumerate(coupons):
        volume = f"{line.filament_mm3:.2f}"
        part = _COUPON
        for mark, value in (
            ("@T@", repr(float(line.temperature_c))),
            ("@FIRST@", FIRST_WORDS if number == 0 and len(coupons) > 1 else ""),
            ("@FLOW@", repr(float(line.flow))),
            ("@V@", volume),
            ("@PAD@", " " * max(1, 16 - len(volume))),
            ("@TUBE@", f"{plan.tube_mm:g}"),
            ("@TAB@", f"{plan.tab_mm:g}"),
        ):
            part = part.replace(mark, value)
        text += part
    return text
