"""From a spec to what its wing weighs, bears and does: everything `assess` tells about one wing."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding
from wingpath.pipeline.aeroelastics import Aeroelastics, aeroelastics_of
from wingpath.pipeline.building import WingBuild, build_wing
from wingpath.pipeline.design import WingDesign, design_wing, tube_materials
from wingpath.pipeline.progress import Progress, StepCounter, silent
from wingpath.pipeline.proving import ProofExpectation, proof_edges, prove_wing
from wingpath.pipeline.shell_inputs import ShellInputs, beam_of_inputs, shell_inputs, wall_material
from wingpath.pipeline.shell_solving import (
    NOSE_DOWN,
    NOSE_UP,
    ShellState,
    coarsest_mm,
    edge_for,
    held_wing,
    refuse_odd_edge,
    solve_state,
)
from wingpath.pipeline.span_margins import SpanMargins, margins_of_cases
from wingpath.pipeline.weighing import comparison_mass_g, weigh_wing
from wingpath.pipeline.wing_loads import aileron_throws, flight_limits, loaded_wing, sections_of
from wingpath.pipeline.wing_weights import WingWeights, strips_of
from wingpath.structure.atmosphere import NEWTON_PER_G
from wingpath.structure.beam import WingBeam
from wingpath.structure.columns import Fusion
from wingpath.structure.lift import lift_loads
from wingpath.structure.load_cases import FlightLimits, LoadCase, load_cases
from wingpath.structure.margins import Margin
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform import Planform, planform_of_wing
from wingpath.structure.shell_results import HeldWing, SpanMotion
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.thin_airfoil import SectionLift
from wingpath.tune.bands import Bands, bands_of, slots_were_tried

__all__ = ["HOT_C", "PARTLY_MM", "Assessment", "assess_build", "assess_wing"]

HOT_C = (40.0, 50.0)
"""Temperatures of a wing on a hot field besides the 20 °C that all numbers are for [°C]."""

PARTLY_MM = 20.0
"""Weld spacing of a partly fused slot where nothing is known: judgement; a third of this changes little."""

LIMITS = ("limit", "limit slow")
"""Cases at the limit load factor, at the highest speed and at the lowest that bears it."""

BUILD_SHARE = 0.4
"""Share of the time that building takes."""

ONE_G = "1 g"
"""Name of the load of lift and own mass at one g, without twist and moments of sections."""

STATIONS = 11
"""Stations along the span at which bending and twist are told, root and tip among them."""

MOST_STRIPS, EDGES_PER_STRIP = 36, 2.5
"""Strips that loads are spread on: no more, and each wide enough for a row of nodes."""


@dataclass(frozen=True, slots=True, eq=False)
class Assessment:
    """What there is to tell about one wing.

    Parameters
    ----------
    source : str
        Where its spec came from.
    build, weights
        The built half wing and what it weighs.
    planform, sections
        It from above, and lift and moment of its sections.
    limits : FlightLimits or None
        What the aircraft is asked to bear; None when the spec does not tell.
    cases : tuple of LoadCase
        Load cases; none without `limits`.
    main : str
        Name of the state that the numbers are for.
    states : tuple of ShellState
        That state first, then those that bound it, then the wing without ribs.
    hot : tuple of (float, ShellState)
        The main state at other temperatures [°C].
    margins, along, aeroelastics, proof
        Margins of strength, at their least and along the span, twist at speed, and plan of a proof loading;
        None or empty without `limits`.
    beam : WingBeam or None
        The built wing as a beam: its stiffness along the span; None without `bounds`, or where sections close
        up to nothing that is stiff.
    bands : Bands
        How well the filament is known.
    fusion_known : bool
        Whether it is known how far slots fuse.
    comparison_g : float or None
        Mass of the same half wing made otherwise, if the spec asks for it [g].
    stations_mm : ndarray, shape (k,)
        Stations of all motions [mm].
    edge_mm, coarsest_mm : float
        Length of the shell's edges, and the longest that bays between ribs allow [mm].
    findings : tuple of Finding
        What there is to say about building it.
    """

    source: str
    build: WingBuild
    weights: WingWeights
    planform: Planform
    sections: tuple[SectionLift, ...]
    limits: FlightLimits | None
    cases: tuple[LoadCase, ...]
    main: str
    states: tuple[ShellState, ...]
    hot: tuple[tuple[float, ShellState], ...]
    margins: tuple[Margin, ...]
    along: SpanMargins | None
    beam: WingBeam | None
    aeroelastics: Aeroelastics | None
    proof: ProofExpectation | None
    proof_refused: str
    bands: Bands
    fusion_known: bool
    comparison_g: float | None
    stations_mm: FloatArray
    edge_mm: float
    coarsest_mm: float
    findings: tuple[Finding, ...]

    @property
    def design(self) -> WingDesign:
        """The design."""
        return self.build.design

    def limit_motion(self, state: ShellState) -> SpanMotion | None:
        """Return the motion at the limit load factor that moves the tip farthest; None without loads."""
        motions = [state.motions[name] for name in LIMITS if name in state.motions]
        return max(motions, key=lambda motion: abs(motion.tip_mm), default=None)

    def limit_tip_mm(self, state: ShellState) -> float | None:
        """Return the greatest deflection of the tip at the limit load factor [mm]; None without loads."""
        motion = self.limit_motion(state)
        return None if motion is None else motion.tip_mm

    @property
    def lift_bending_n_mm(self) -> float | None:
        """Bending moment of the lift alone at the root, at the limit load factor [N mm]."""
        case = self.case("limit")
        if case is None or self.limits is None:
            return None
        half = 0.5 * self.limits.load_factor * self.limits.all_up_mass_g * NEWTON_PER_G
        return lift_loads(self.planform, case.lift.edges_mm, half_lift_n=half).total_bending_n_mm

    @property
    def twist_axis_mm(self) -> float:
        """Axis that torques are told about: the foremost tube at the root, else the quarter chord [mm]."""
        tubes = [bore for bore in self.design.voids.bores if bore.kind == "tube"]
        if tubes:
            return min(float(tube.start[0]) for tube in tubes)
        return float(self.planform.quarter_chord_at_mm(0.0))

    def state(self, name: str) -> ShellState | None:
        """Return a state by its name."""
        return next((state for state in self.states if state.name == name), None)

    @property
    def solved(self) -> ShellState:
        """The state that the numbers are for."""
        return self.states[0]

    def case(self, name: str) -> LoadCase | None:
        """Return a load case by its name."""
        return next((case for case in self.cases if case.name == name), None)


def assess_wing(
    spec: str | Path | WingDesign,
    *,
    base_dir: Path | None = None,
    source: str = "",
    edge_mm: float | None = None,
    bounds: bool = True,
    progress: Progress = silent,
) -> Assessment:
    """Build a wing and work out what it weighs, bears and does.

    Parameters
    ----------
    spec : path or WingDesign
        The spec's file, or a design.
    base_dir : Path, optional
        Folder that the spec's paths are relative to; the file's own folder for a file.
    source : str
        Where a design came from, for the document; a path tells itself.
    edge_mm : float, optional
        Length of the shell's edges; left out: as fine as solves in seconds [mm].
    bounds : bool
        Whether to solve what bounds and explains the numbers too: slots fused otherwise, no ribs, a hot wing,
        the proof loading. Without, the numbers are the same and there are fewer of them.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    InputError
        When the spec is wrong or asks for what cannot be printed.
    FileAccessError
        When a file cannot be read.
    """
    refuse_odd_edge(edge_mm)
    if isinstance(spec, WingDesign):
        design = spec
    else:
        source = str(spec)
        base_dir = Path(spec).resolve().parent if base_dir is None else base_dir
        design = design_wing(spec, base_dir=base_dir)
    build = build_wing(design, progress=lambda words, share: progress(words, BUILD_SHARE * share))
    return assess_build(
        build,
        base_dir=base_dir,
        source=source,
        edge_mm=edge_mm,
        bounds=bounds,
        progress=lambda words, share: progress(words, BUILD_SHARE + (1.0 - BUILD_SHARE) * share),
    )


def _solved_words(state: ShellState) -> str:
    """Return in a builder's words which of the wing's states has been worked out."""
    slots = state.name in ("fused", "partly fused", "open")
    return f"stiffness and wrinkles worked out: {'slots ' if slots else ''}{state.name}"


def assess_build(
    build: WingBuild,
    *,
    base_dir: Path | None = None,
    source: str = "",
    edge_mm: float | None = None,
    bounds: bool = True,
    progress: Progress = silent,
) -> Assessment:
    """Work out what a wing that is built already weighs, bears and does; see :func:`assess_wing`.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    base_dir, source, edge_mm, bounds, progress
        As for :func:`assess_wing`.

    Raises
    ------
    InputError
        When the wing is beyond what can be worked out.
    FileAccessError
        When a file cannot be read.
    """
    refuse_odd_edge(edge_mm)
    progress("weighing", 0.0)
    design, spec = build.design, build.design.spec
    materials = tube_materials(spec, base_dir=base_dir)
    weights = weigh_wing(build, base_dir=base_dir)
    planform = planform_of_wing(design.wing)
    sections = sections_of(design, base_dir=base_dir)
    inputs = shell_inputs(build, materials)
    edge = edge_mm or edge_for(inputs, pitch_mm=spec.least_pitch_mm, angle_deg=spec.ribs.angle_deg)
    limits = None if spec.aircraft is None else flight_limits(spec.aircraft)
    cases: tuple[LoadCase, ...] = ()
    if limits is not None:
        length = max(EDGES_PER_STRIP * edge, planform.semi_span_mm / MOST_STRIPS)
        strips = max(4, int(planform.semi_span_mm / length))
        edges = np.linspace(0.0, planform.semi_span_mm, strips + 1)
        loaded = loaded_wing(design, planform, sections, edges, strips_of(weights, edges))
        cases = load_cases(loaded, limits, aileron_throws(design))
    loads = {case.name: case.loads for case in cases}
    if limits is not None:
        half = 0.5 * limits.all_up_mass_g * NEWTON_PER_G
        lift = lift_loads(planform, loaded.edges_mm, half_lift_n=half)
        loads = {ONE_G: lift.plus(loaded.inertia(1.0)), **loads}
    stations = np.linspace(0.0, inputs.skins.end_mm, STATIONS)
    known, main, others = _fusions(design)
    if not any(wall.split for wall in inputs.walls):
        known, main, others = True, ("fused", None), []
    solve = _Solver(inputs, design, edge, loads, stations)
    temperatures = HOT_C if bounds else ()
    jobs: list[Callable[[], ShellState]] = [
        solve.bound(name, fusion) for name, fusion in (others if bounds else ())
    ]
    ribbed = any(wall.kind in ("aft", "forward", "web") for wall in inputs.walls)
    if ribbed and bounds:
        jobs.append(solve.ribless())
    progress("working out stiffness and wrinkles, the longest step", 0.0)
    wing = held_wing(inputs, solve.material, edge_mm=edge, fusion=main[1])
    jobs += [solve.hot(temperature, wing) for temperature in temperatures]
    done = StepCounter(1 + len(jobs), progress)

    def counted(job: Callable[[], ShellState]) -> ShellState:
        state = job()
        done.step(_solved_words(state))
        return state

    with ThreadPoolExecutor(max_workers=max(1, min(2, os.cpu_count() or 1))) as pool:
        # the solver of linear systems works outside the interpreter's lock
        rest = [pool.submit(counted, job) for job in jobs]
        buckled = [name for name in ("level", "limit", "aileron down") if name in loads]
        state, moved = solve_state(
            main[0], wing, loads, stations_mm=stations, buckled=[*buckled, NOSE_UP, NOSE_DOWN]
        )
        done.step(_solved_words(state))
        margins, along = margins_of_cases(build, materials, wing, moved, cases)
        twisted, proof, refused = None, None, ""
        if limits is not None:
            twisted = aeroelastics_of(
                wing, planform, limits.air, aileron_throws(design), max_speed_m_s=limits.max_speed_m_s
            )
            if bounds:
                proof, refused = _proof(wing, design, planform, sections, weights, limits)
        states = [job.result() for job in rest]
    cold = len(states) - len(temperatures)
    hot = tuple(zip(temperatures, states[cold:], strict=True))
    wanted = spec.compare
    compared = wanted.skin_g_dm2 is not None or wanted.core_g_cm3 is not None
    progress("assessed", 1.0)
    return Assessment(
        source=source,
        build=build,
        weights=weights,
        planform=planform,
        sections=sections,
        limits=limits,
        cases=cases,
        main=main[0],
        states=(state, *states[:cold]),
        hot=hot,
        margins=margins,
        along=along,
        beam=_beam(inputs, solve.material) if bounds else None,
        aeroelastics=twisted,
        proof=proof,
        proof_refused=refused,
        bands=bands_of(design.filament, spec.print),
        fusion_known=known,
        comparison_g=comparison_mass_g(design, wanted) if compared else None,
        stations_mm=stations,
        edge_mm=edge,
        coarsest_mm=coarsest_mm(inputs, pitch_mm=spec.least_pitch_mm, angle_deg=spec.ribs.angle_deg),
        findings=build.findings,
    )


def _beam(inputs: ShellInputs, material: WallMaterial) -> WingBeam | None:
    """Return the wing as a beam; None where sections close up to nothing that is stiff."""
    try:
        return beam_of_inputs(inputs, material)
    except InputError:
        return None


def _proof(
    wing: HeldWing,
    design: WingDesign,
    planform: Planform,
    sections: tuple[SectionLift, ...],
    weights: WingWeights,
    limits: FlightLimits,
) -> tuple[ProofExpectation | None, str]:
    """Return the plan of a proof loading, or why there is none."""
    edges = proof_edges(planform)
    masses = strips_of(weights, edges)
    loaded = loaded_wing(design, planform, sections, edges, masses)
    try:
        return prove_wing(wing, loaded, masses, limits), ""
    except ValueError as error:
        return None, str(error)


@dataclass(frozen=True, slots=True, eq=False)
class _Solver:
    """What all shells of one wing have in common."""

    inputs: ShellInputs
    design: WingDesign
    edge_mm: float
    loads: Mapping[str, StripLoads]
    stations_mm: FloatArray

    @property
    def material(self) -> WallMaterial:
        """The wall at 20 °C."""
        return wall_material(self.design.filament, self.design.spec.print)

    @property
    def _limit(self) -> dict[str, StripLoads]:
        return {name: self.loads[name] for name in LIMITS if name in self.loads}

    def bound(self, name: str, fusion: Fusion | None) -> Callable[[], ShellState]:
        """Return the job that solves the wing with slots fused so far."""
        return lambda: self._solved(name, self._held(self.inputs, fusion))

    def ribless(self) -> Callable[[], ShellState]:
        """Return the job that solves the wing without ribs and webs."""
        return lambda: self._solved("no ribs", self._held(self.inputs.ribless, None))

    def hot(self, temperature_c: float, wing: HeldWing) -> Callable[[], ShellState]:
        """Return the job that solves the same shell at a temperature."""
        material = wall_material(
            self.design.filament, self.design.spec.print, part_temperature_c=temperature_c
        )
        return lambda: self._solved(
            f"{temperature_c:g} °C", wing.with_material(material, root=self.inputs.root), torques=()
        )

    def _held(self, inputs: ShellInputs, fusion: Fusion | None) -> HeldWing:
        return held_wing(inputs, self.material, edge_mm=self.edge_mm, fusion=fusion)

    def _solved(
        self, name: str, wing: HeldWing, *, torques: tuple[str, ...] = (NOSE_UP, NOSE_DOWN)
    ) -> ShellState:
        buckled = ["limit", *torques]
        state, _ = solve_state(name, wing, self._limit, stations_mm=self.stations_mm, buckled=buckled)
        return state


def _fusions(
    design: WingDesign,
) -> tuple[bool, tuple[str, Fusion | None], list[tuple[str, Fusion | None]]]:
    """Return whether it is known how slots fuse, the state to tell, and the states that bound it."""
    spec, settings = design.spec, design.spec.print
    given = spec.slots.weld_spacing_mm
    if given is not None:
        if given <= 0.0:
            return True, ("fused", None), []
        return True, (f"fused every {given:g} mm", Fusion(given)), []
    fuses = bool(design.limits.fuse(spec.slots.width_mm))
    tried = slots_were_tried(
        design.filament,
        temperature_c=settings.temperature_c,
        flow=settings.flow,
        bead_mm=settings.bead_mm,
        layer_mm=settings.layer_mm,
    )
    states: list[tuple[str, Fusion | None]] = [
        ("fused", None),
        ("partly fused", Fusion(PARTLY_MM)),
        ("open", Fusion(float("inf"))),
    ]
    if tried:
        return True, states[0] if fuses else states[2], []
    if fuses:
        return False, states[0], states[1:]
    return False, states[2], states[:2]
