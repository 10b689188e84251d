"""One candidate looked at: quickly by a beam, or built, proven and solved. Runs in whatever process."""

from __future__ import annotations

import copy
import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from wingpath.core.errors import InputError
from wingpath.io.key_changes import key_path, plain_value, put_value
from wingpath.lighten.measures import Measures, digits, measures_of
from wingpath.model.spec import Spec, spec_from_dict
from wingpath.pipeline.assessing import assess_wing
from wingpath.pipeline.design import design_wing, tube_materials
from wingpath.pipeline.previewing import plan_beam
from wingpath.pipeline.shell_solving import coarsest_mm, edge_for
from wingpath.structure.beam import tip_twist_deg_per_n_m
from wingpath.structure.wrinkle_guess import wrinkle_guess

__all__ = ["Guess", "Job", "Judgement", "guess_candidate", "judge_candidate", "spec_with"]

BARE_SHARE = 0.5
"""Width of plates over the chord where there are no ribs: judgement, the fit to judged wings mends it."""

CROSSED_SHARE = 0.6
"""Width of plates between crossing ribs over that between ribs of one run: the same."""


@dataclass(frozen=True, slots=True)
class Job:
    """What there is to look at.

    Parameters
    ----------
    data : mapping
        The spec as drawn, plain data.
    changes : tuple of (str, object)
        What a candidate changes, by key path.
    base_dir : str
        Folder that the spec's paths are relative to.
    edge_mm : float or None
        Length of the shell's edges; None: as fine as solves in seconds [mm].
    """

    data: Mapping[str, Any]
    changes: tuple[tuple[str, Any], ...]
    base_dir: str
    edge_mm: float | None = None

    @property
    def key(self) -> str:
        """Digest of what is changed."""
        text = json.dumps([sorted(self.changes), self.edge_mm], default=list)
        return hashlib.sha256(text.encode()).hexdigest()[:24]


@dataclass(frozen=True, slots=True)
class Guess:
    """What a beam and plate formulas say of a candidate.

    Parameters
    ----------
    refused : str
        Why it cannot be drawn; empty where it can.
    coarse : bool
        Whether its ribs stand so close that the shell is too coarse to show wrinkles between them.
    mass_g, tip_deflection_mm, twist_deg_per_n_m, first_buckling_load_factor, buckling_torque_n_m
        As in the measures; infinite or None where there are none.
    """

    refused: str = ""
    coarse: bool = False
    mass_g: float = math.inf
    tip_deflection_mm: float | None = None
    twist_deg_per_n_m: float = math.inf
    first_buckling_load_factor: float | None = None
    buckling_torque_n_m: float = math.inf

    def as_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What building and solving say of a candidate: its measures, or why it cannot be built."""

    measures: Measures | None
    refused: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "measures": None if self.measures is None else self.measures.as_dict(),
            "refused": self.refused,
        }


def spec_with(data: Mapping[str, Any], changes: Mapping[str, Any]) -> Spec:
    """Return the spec that data with changes make.

    Raises
    ------
    SpecError
        When the changes contradict what is kept.
    """
    changed = copy.deepcopy(dict(data))
    for key, value in changes.items():
        put_value(changed, key_path(key), plain_value(key, value))
    return spec_from_dict(changed)


def guess_candidate(job: Job) -> Guess:
    """Return what a beam says of a candidate; nothing is built."""
    folder = Path(job.base_dir)
    try:
        design = design_wing(spec_with(job.data, dict(job.changes)), base_dir=folder)
    except InputError as error:
        return Guess(refused=_one_line(error))
    spec = design.spec
    plan = plan_beam(design, tube_materials(spec, base_dir=folder))
    z = 0.5 * (plan.beam.z_mm[1:] + plan.beam.z_mm[:-1])
    runs = {wall.kind for wall in plan.inputs.walls} & {"aft", "forward"}
    if runs:
        pitch = spec.ribs.pitch_at_mm(z)
        bay = pitch * math.cos(math.radians(spec.ribs.angle_deg))
        bay = bay * (CROSSED_SHARE if len(runs) == 2 else 1.0)
    else:
        bay = BARE_SHARE * plan.inputs.skins.length_at_mm(z)
    shape, aircraft = plan.per_g, spec.aircraft
    moment = None if shape is None else np.interp(z, shape.z_mm, shape.moment_n_mm)
    wrinkles = wrinkle_guess(
        plan.inputs.skins,
        plan.beam,
        plan.material,
        skin_mm=plan.inputs.skin_mm,
        bay_mm=bay,
        moment_n_mm=moment,
    )
    tip = None
    if shape is not None and aircraft is not None:
        tip = abs(float(shape.deflection_mm[-1])) * aircraft.load_factor
    bays = {"pitch_mm": spec.least_pitch_mm, "angle_deg": spec.ribs.angle_deg}
    edge = job.edge_mm or edge_for(plan.inputs, **bays)
    return Guess(
        coarse=edge > coarsest_mm(plan.inputs, **bays),
        mass_g=digits(plan.mass_g),
        tip_deflection_mm=None if tip is None else digits(tip),
        twist_deg_per_n_m=digits(tip_twist_deg_per_n_m(plan.beam)),
        first_buckling_load_factor=None if tip is None else digits(wrinkles.lift_factor),
        buckling_torque_n_m=digits(wrinkles.torque_n_m),
    )


def judge_candidate(job: Job) -> Judgement:
    """Build a candidate, prove it layer by layer, and solve its shell."""
    folder = Path(job.base_dir)
    try:
        design = design_wing(spec_with(job.data, dict(job.changes)), base_dir=folder)
        found = assess_wing(design, base_dir=folder, edge_mm=job.edge_mm, bounds=False)
    except InputError as error:
        return Judgement(None, _one_line(error))
    return Judgement(measures_of(found))


def _one_line(error: InputError) -> str:
    return " ".join(str(error).split())
