"""The margins of a half wing at its limit load: tubes, skins, layers, joints, tongues, plates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray
from wingpath.model.profiles import FilamentProfile, TubeMaterial
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.fittings_document import fittings_document
from wingpath.structure.atmosphere import NEWTON_PER_G
from wingpath.structure.margins import ULTIMATE_FACTOR, Margin
from wingpath.structure.shell_results import HeldWing
from wingpath.structure.tube_section import tube_section

__all__ = ["FoamStrength", "foam_strength", "tube_stresses_mpa", "wing_margins"]

AT_ROOT_MM = 15.0
"""The root bending of a tube is the greatest within this of the root [mm]."""

TUBE_END_DIAMETERS = 4.0
"""The end of a tube is felt over this many of its diameters."""

SHEAR_SHARE = 0.5
"""Shear strength of a wall over its tensile strength: judgement, between 1/sqrt 3 and less for foam."""

INSIDE_MM = 1.0
"""A tube that ends this far inside the wing ends in mid span [mm]."""


@dataclass(frozen=True, slots=True)
class FoamStrength:
    """What the foamed wall bears.

    Parameters
    ----------
    along_mpa, across_mpa : float
        Tensile strength along a bead and across the layers [MPa].
    source : str
        Where they come from.
    basis : str
        The same in words.
    """

    along_mpa: float
    across_mpa: float
    source: str
    basis: str


def foam_strength(filament: FilamentProfile, temperature_c: float) -> FoamStrength:
    """Return what the wall bears: ``s R^-m`` along a bead, a share of it across the layers.

    Power law of cellular solids, Gibson and Ashby, Cellular Solids, 2nd ed. 1997, from memory.

    Parameters
    ----------
    filament : FilamentProfile
        The filament.
    temperature_c : float
        Temperature of the nozzle [°C].
    """
    ratio = max(1.0, filament.foaming_ratio(temperature_c))
    along = float(filament.strength_mpa * ratio**-filament.strength_exponent)
    sources = [filament.source_of(key) for key in ("strength_mpa", "strength_exponent", "z_strength")]
    measured = all(source is not None and source.kind == "measured" for source in sources)
    return FoamStrength(
        along,
        along * filament.z_strength,
        "measured" if measured else "judgement",
        f"strength of the filament's profile, foamed {ratio:.2f} times",
    )


def wing_margins(
    build: WingBuild,
    materials: Sequence[TubeMaterial],
    wing: HeldWing,
    limit: FloatArray,
    *,
    root_torque_n_mm: float,
) -> tuple[Margin, ...]:
    """Return the margins at the limit load.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    materials : sequence of TubeMaterial
        Of each tube.
    wing : HeldWing
        Its shell.
    limit : ndarray, shape (n, 6)
        Displacements at the limit load.
    root_torque_n_mm : float
        Torque at the root about the foremost tube, at the limit load [N mm].
    """
    spec = build.design.spec
    strength = foam_strength(build.design.filament, spec.print.temperature_c)
    stresses = wing.stresses_mpa(limit)
    found = [*_tubes(build, materials, wing, limit, stresses, strength)]
    found += _skins(wing, stresses, strength)
    found += _joints(build, wing, stresses)
    if spec.aircraft is not None:
        mass, hard = spec.aircraft.all_up_mass_g, spec.aircraft.landing_factor
        found += _tongues(build, strength, abs(root_torque_n_mm), mass=mass, hard=hard)
        found += _plates(build, strength, mass=mass, hard=hard)
    return tuple(found)


def tube_stresses_mpa(
    build: WingBuild, wing: HeldWing, moved: FloatArray
) -> Iterator[tuple[int, FloatArray, FloatArray]]:
    """Yield of each tube its number, the middles of its pieces [mm], and their greatest stress [MPa].

    Parameters
    ----------
    build, wing
        As for :func:`wing_margins`.
    moved : ndarray, shape (n, 6)
        Displacements.
    """
    for forces in wing.tube_forces(moved):
        number = int(forces.name.split("[")[1].rstrip("]"))
        section = tube_section(build.design.spec.tubes[number])
        modulus = min(section.modulus_x_mm3, section.modulus_y_mm3)
        yield number, forces.z_mm, forces.bending_n_mm / modulus + np.abs(forces.pull_n) / section.area_mm2


def _tubes(
    build: WingBuild,
    materials: Sequence[TubeMaterial],
    wing: HeldWing,
    limit: FloatArray,
    stresses: FloatArray,
    strength: FoamStrength,
) -> Iterator[Margin]:
    for number, z_mm, stress in tube_stresses_mpa(build, wing, limit):
        tube, material, key = build.design.spec.tubes[number], materials[number], f"tube[{number}]"
        own = material.source_of("allowable_mpa")
        source = "measured" if own is not None and own.kind == "measured" else "judgement"
        tail = "" if number == 0 else f"_{number + 1}"
        near = z_mm <= AT_ROOT_MM
        for mask, name, title in (
            (near, "tube_bending_root", "tube bending at the root"),
            (~near, "tube_bending_span", "tube bending outboard"),
        ):
            if mask.any():
                worst = int(np.argmax(np.where(mask, stress, -1.0)))
                yield Margin(
                    f"{name}{tail}",
                    title,
                    ULTIMATE_FACTOR * float(stress[worst]),
                    material.allowable_mpa,
                    "MPa",
                    f"{key} at span {z_mm[worst]:.0f} mm",
                    source,
                    f"allowable of {material.title}",
                )
        end = tube.to_mm
        if end < wing.shell.end_mm - INSIDE_MM:
            reach = TUBE_END_DIAMETERS * max(tube.size_x_mm, tube.size_y_mm)
            yield _worst(
                f"tube_end{tail}",
                f"skins where {key} ends in mid span, a weak point",
                stresses,
                wing.near(end, reach) & wing.shell.skin,
                strength,
                wing,
            )


def _skins(wing: HeldWing, stresses: FloatArray, strength: FoamStrength) -> Iterator[Margin]:
    clear = wing.away_from_root() & wing.shell.skin
    # along the bead and across the layers the wall bears different stresses: the worst share counts
    allowed = np.array([strength.along_mpa, strength.across_mpa])
    share = np.where(clear[:, None], np.maximum(-stresses[:, :2], 0.0) / allowed, 0.0)
    worst, way = (int(number) for number in np.unravel_index(np.argmax(share), share.shape))
    yield Margin(
        "skin_compression",
        "skin pressed, without wrinkling",
        ULTIMATE_FACTOR * float(share[worst, way] * allowed[way]),
        float(allowed[way]),
        "MPa",
        _where(wing, worst),
        strength.source,
        f"{strength.basis}; taken the same pressed as pulled",
    )
    pulled = np.where(clear, stresses[:, 1], 0.0)
    worst = int(np.argmax(pulled))
    yield Margin(
        "layer_tension",
        "layers pulled apart",
        ULTIMATE_FACTOR * float(max(pulled[worst], 0.0)),
        strength.across_mpa,
        "MPa",
        _where(wing, worst),
        strength.source,
        f"{strength.basis}, across the layers",
    )


def _worst(
    name: str, title: str, stresses: FloatArray, mask: BoolArray, strength: FoamStrength, wing: HeldWing
) -> Margin:
    share = np.maximum(
        np.abs(stresses[:, 0]) / strength.along_mpa, np.abs(stresses[:, 1]) / strength.across_mpa
    )
    worst = int(np.argmax(np.where(mask, share, -1.0)))
    return Margin(
        name,
        title,
        ULTIMATE_FACTOR * float(share[worst]) * strength.across_mpa,
        strength.across_mpa,
        "MPa",
        _where(wing, worst),
        strength.source,
        strength.basis,
    )


def _joints(build: WingBuild, wing: HeldWing, stresses: FloatArray) -> Iterator[Margin]:
    filament = build.design.filament
    own = filament.source_of("glue_shear_mpa")
    source = "measured" if own is not None and own.kind == "measured" else "judgement"
    worst: Margin | None = None
    for joint in fittings_document(build)["joints"]:
        near = wing.near(float(joint["span_mm"]), 0.0)
        pulled = np.where(near, stresses[:, 1], 0.0)
        at = int(np.argmax(pulled))
        margin = Margin(
            "joint_glue",
            "glue line of a joint pulled apart",
            ULTIMATE_FACTOR * float(max(pulled[at], 0.0)),
            filament.glue_shear_mpa,
            "MPa",
            f"joint at {joint['span_mm']:g} mm, {_where(wing, at)}",
            source,
            "stress that a glued joint of the filament may bear, in shear; taken the same for tension",
        )
        worst = margin if worst is None or margin.value < worst.value else worst
    if worst is not None:
        yield worst


def _tongues(
    build: WingBuild, strength: FoamStrength, torque_n_mm: float, *, mass: float, hard: float
) -> Iterator[Margin]:
    """Tongue in its slot, and its screw; the tongue keeps the wing from turning about the tube."""
    bores = {bore.name: bore for bore in build.design.voids.bores}
    tubes = [bore for bore in build.design.voids.bores if bore.kind == "tube"]
    wall = build.design.spec.bead_mm
    for number, tab in enumerate(build.design.spec.tabs):
        tail = "" if number == 0 else f"_{number + 1}"
        tongue = bores.get(f"tab[{number}]")
        if tongue is not None and tubes:
            arm = abs(float(tongue.start[0]) - float(tubes[0].start[0]))
            force = torque_n_mm / max(arm, 1.0)
            # pressed over half of its depth on either side, like a stake in the ground
            area = tab.width_mm * 0.5 * tab.depth_mm
            yield Margin(
                f"tongue_bearing{tail}",
                "tongue pressing on its slot",
                ULTIMATE_FACTOR * 2.0 * force / area,
                strength.across_mpa,
                "MPa",
                f"tab[{number}], {arm:.0f} mm from the tube",
                strength.source,
                strength.basis,
            )
        if tab.hole_mm is not None:
            pull = hard * 0.5 * mass * NEWTON_PER_G
            yield Margin(
                f"screw_bearing{tail}",
                "screw pulling on the skins round it",
                ULTIMATE_FACTOR * pull / (2.0 * tab.hole_mm * 2.0 * wall),
                strength.along_mpa,
                "MPa",
                f"tab[{number}], half of the aircraft pulling along the span times the landing factor",
                "judgement",
                f"{strength.basis}; two walls of two beads",
            )


def _plates(build: WingBuild, strength: FoamStrength, *, mass: float, hard: float) -> Iterator[Margin]:
    """Plates of landing gear: half of the aircraft on each half wing, times the landing factor."""
    count = len(build.design.spec.plate_bays)
    wall = build.design.spec.bead_mm
    for number, plate in enumerate(build.design.spec.plate_bays):
        tail = "" if number == 0 else f"_{number + 1}"
        force = ULTIMATE_FACTOR * hard * 0.5 * mass * NEWTON_PER_G / count
        yield Margin(
            f"plate_punch{tail}",
            "plate pushing through the skin round it",
            force / (2.0 * (plate.length_mm + plate.width_mm) * wall),
            SHEAR_SHARE * strength.along_mpa,
            "MPa",
            f"plate_bay[{number}]",
            "judgement",
            f"half of the {strength.basis}",
        )
        yield Margin(
            f"plate_glue{tail}",
            "glue under the plate",
            force / (plate.length_mm * plate.width_mm),
            build.design.filament.glue_shear_mpa,
            "MPa",
            f"plate_bay[{number}]",
            "judgement",
            "stress that a glued joint of the filament may bear",
        )


def _where(wing: HeldWing, triangle: int) -> str:
    owner = int(wing.shell.owner[triangle])
    part = {-1: "upper skin", -2: "lower skin"}.get(owner, "")
    x, _, z = wing.shell.centre_mm[triangle]
    return f"{part or wing.shell.walls[owner].name} at span {z:.0f} mm, {x:.0f} mm aft"
