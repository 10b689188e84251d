"""Names, defaults and ranges of the spec, held against the contract word by word."""

from typing import Any

import pytest

from wingpath.core.errors import SpecError
from wingpath.model.spec import (
    AircraftSpec,
    CompareSpec,
    ItemSpec,
    PanelsSpec,
    RibsSpec,
    SlotsSpec,
    Spec,
    StationSpec,
    WingSpec,
    spec_from_dict,
)
from wingpath.model.spec_base import SpecTable, key_docs, key_of, table_of
from wingpath.model.spec_fittings import TubeSpec
from wingpath.model.spec_printing import PrintSpec

TWO_STATIONS: list[dict[str, Any]] = [
    {"span_mm": 0.0, "chord_mm": 200.0},
    {"span_mm": 600.0, "chord_mm": 150.0},
]

FITTINGS: dict[str, dict[str, Any]] = {
    "spar_web": {"chord_fraction": 0.55},
    "tube": {"outer_mm": 8.0, "to_mm": 420.0, "chord_fraction": 0.3},
    "tab": {"thickness_mm": 3.0, "width_mm": 18.0, "depth_mm": 25.0, "chord_fraction": 0.75},
    "duct": {"diameter_mm": 7.0, "chord_fraction": 0.45, "to_mm": 310.0},
    "servo_bay": {
        "span_mm": 310.0,
        "length_mm": 24.0,
        "width_mm": 13.0,
        "depth_mm": 10.0,
        "chord_fraction": 0.45,
    },
    "plate_bay": {
        "span_mm": 80.0,
        "length_mm": 40.0,
        "width_mm": 25.0,
        "depth_mm": 2.2,
        "chord_fraction": 0.35,
    },
    "aileron": {"from_mm": 320.0, "to_mm": 560.0, "hinge_fraction": 0.76},
    "pin": {"chord_fraction": 0.6, "diameter_mm": 2.0, "length_mm": 20.0},
    "item": {"name": "servo", "mass_g": 9.0, "span_mm": 310.0},
}
"""The least that each table needs."""

DEFAULTS: dict[str, Any] = {
    "format": 1,
    "name": "wing",
    "aircraft": None,
    "station.leading_edge_mm": 0.0,
    "station.twist_deg": 0.0,
    "station.airfoil": "naca2412",
    "wing.hand": "both",
    "wing.trailing_edge_mm": None,
    "wing.tip": "closed",
    "ribs.run": "both",
    "ribs.pitch_mm": 30.0,
    "ribs.angle_deg": 45.0,
    "slots.width_mm": 0.06,
    "slots.neck_mm": None,
    "slots.weld_spacing_mm": None,
    "item.chord_fraction": 0.3,
    "compare.skin_g_dm2": None,
    "compare.core_g_cm3": None,
    "spar_web.from_mm": 0.0,
    "spar_web.to_mm": None,
    "spar_web.chord_fraction_end": None,
    "tube.shape": "round",
    "tube.inner_mm": 0.0,
    "tube.clearance_mm": None,
    "tube.from_mm": 0.0,
    "tube.chord_fraction_end": None,
    "tube.material": "pultruded-carbon",
    "tube.e_modulus_mpa": None,
    "tab.clearance_mm": None,
    "tab.hole_mm": None,
    "tab.hole_from_root_mm": None,
    "duct.from_mm": 0.0,
    "servo_bay.frame": False,
    "plate_bay.side": "lower",
    "aileron.gap_mm": 1.0,
    "aileron.up_deg": 20.0,
    "aileron.down_deg": 20.0,
    "aileron.horn_mm": None,
    "pin.clearance_mm": 0.2,
    "panels.joints_mm": None,
    "panels.glue_mm": 0.15,
    "printer.profile": "bed-220",
    "printer.bed_x_mm": None,
    "filament.profile": "foaming-pla",
    "filament.density_g_cm3": None,
    "filament.glue_shear_mpa": None,
    "print.layer_mm": 0.25,
    "print.bead_mm": 0.45,
    "print.speed_mm_s": 40.0,
    "print.temperature_c": 230.0,
    "print.flow": 0.5,
    "print.style": "helical",
    "print.flat_layers": 3,
    "print.path_tolerance_mm": 0.02,
    "print.foot_speed_mm_s": 20.0,
    "print.brim_mm": None,
    "print.brim_gap_mm": 0.0,
    "print.unfoamed_mm": 0.0,
    "print.unfoamed_temperature_c": None,
}


def full() -> Spec:
    return spec_from_dict({"station": TWO_STATIONS} | {key: [table] for key, table in FITTINGS.items()})


def looked_up(spec: Spec, place: str) -> Any:
    value: Any = spec
    for step in place.split("."):
        names = {key_of(name, info): name for name, info in type(value).model_fields.items()}
        value = getattr(value, names[step])
        if isinstance(value, tuple) and value and isinstance(value[0], SpecTable):
            value = value[0]
    return value


@pytest.mark.parametrize("place", DEFAULTS)
def test_default(place: str) -> None:
    assert looked_up(full(), place) == DEFAULTS[place]


def test_two_stations_are_enough() -> None:
    spec = spec_from_dict({"station": TWO_STATIONS})
    assert (spec.tubes, spec.spar_webs, spec.ailerons) == ((), (), ())
    assert spec.semi_span_mm == 600.0


def test_aircraft_needs_its_mass_only() -> None:
    spec = spec_from_dict({"station": TWO_STATIONS, "aircraft": {"all_up_mass_g": 1150}})
    assert spec.aircraft is not None
    assert (spec.aircraft.load_factor, spec.aircraft.max_speed_m_s) == (6.0, 25.0)
    assert (spec.aircraft.max_lift_coefficient, spec.aircraft.gust_m_s) == (1.1, 3.0)
    assert (spec.aircraft.landing_factor, spec.aircraft.altitude_m) == (3.0, 0.0)


def test_resolved_values_follow_the_bead() -> None:
    spec = spec_from_dict({"station": TWO_STATIONS, "print": {"bead_mm": 0.5}})
    assert spec.bead_mm == 0.5
    assert spec.neck_mm == pytest.approx(0.85)
    assert spec.trailing_edge_mm == pytest.approx(1.0)


def test_given_values_win_over_resolved_ones() -> None:
    spec = spec_from_dict(
        {"station": TWO_STATIONS, "slots": {"neck_mm": 0.6}, "wing": {"trailing_edge_mm": 1.3}}
    )
    assert (spec.neck_mm, spec.trailing_edge_mm) == (0.6, 1.3)


def test_end_fraction_is_the_begin_unless_given() -> None:
    assert TubeSpec(outer_mm=8, to_mm=100, chord_fraction=0.3).end_fraction == 0.3
    assert TubeSpec(outer_mm=8, to_mm=100, chord_fraction=0.3, chord_fraction_end=0.25).end_fraction == 0.25


def test_sizes_of_a_strip_and_of_a_round_tube() -> None:
    strip = TubeSpec(shape="strip", width_mm=6, height_mm=1, to_mm=100, chord_fraction=0.3)
    assert (strip.size_x_mm, strip.size_y_mm) == (6.0, 1.0)
    tube = TubeSpec(outer_mm=8, to_mm=100, chord_fraction=0.3)
    assert (tube.size_x_mm, tube.size_y_mm) == (8.0, 8.0)


def test_code_may_use_field_names_and_keys() -> None:
    stations = (StationSpec(span_mm=0, chord_mm=200), StationSpec(span_mm=500, chord_mm=100))
    assert Spec(stations=stations) == Spec.model_validate({"station": stations})


def test_values_are_frozen_and_hashable() -> None:
    spec = full()
    hash(spec)
    with pytest.raises(ValueError, match="frozen"):
        spec.name = "other"  # type: ignore[misc]


RANGES: list[tuple[type[SpecTable], str, float, float]] = [
    (StationSpec, "chord_mm", 20, 1000),
    (StationSpec, "span_mm", 0, 5000),
    (StationSpec, "twist_deg", -20, 20),
    (WingSpec, "trailing_edge_mm", 0.2, 5),
    (RibsSpec, "pitch_mm", 5, 500),
    (RibsSpec, "angle_deg", 20, 60),
    (SlotsSpec, "width_mm", 0.005, 0.5),
    (PrintSpec, "bead_mm", 0.2, 1.2),
    (PrintSpec, "layer_mm", 0.05, 0.6),
    (PrintSpec, "speed_mm_s", 5, 300),
    (PrintSpec, "temperature_c", 150, 300),
    (PrintSpec, "flow", 0.2, 1.2),
    (AircraftSpec, "max_lift_coefficient", 0.3, 3),
    (AircraftSpec, "gust_m_s", 0, 30),
    (AircraftSpec, "landing_factor", 0, 20),
    (AircraftSpec, "altitude_m", -400, 5000),
    (ItemSpec, "mass_g", 0, 10_000),
    (ItemSpec, "span_mm", 0, 5000),
    (ItemSpec, "chord_fraction", 0, 1),
    (CompareSpec, "skin_g_dm2", 0.1, 100),
    (CompareSpec, "core_g_cm3", 0.005, 1),
    (SlotsSpec, "weld_spacing_mm", 0, 1000),
    (PanelsSpec, "glue_mm", 0, 2),
]
"""Written down by hand from what was agreed, not read from the code."""


@pytest.mark.parametrize(("table", "key", "low", "high"), RANGES)
def test_hard_range(table: type[SpecTable], key: str, low: float, high: float) -> None:
    needed = {
        StationSpec: {"span_mm": 0, "chord_mm": 100},
        AircraftSpec: {"all_up_mass_g": 900},
        ItemSpec: {"name": "servo", "mass_g": 9, "span_mm": 100},
    }.get(table, {})
    step = 1e-6 * max(1.0, abs(high))
    for good in (low, high, (low + high) / 2):
        assert getattr(table.model_validate(needed | {key: good}), key) == good
    for bad in (low - step, high + step):
        with pytest.raises(ValueError, match=key):
            table.model_validate(needed | {key: bad})


def every_table() -> dict[str, type[SpecTable]]:
    found = {}
    for name, info in Spec.model_fields.items():
        held = table_of(info)
        if held is not None:
            found[key_of(name, info)] = held[0]
    return found


def test_every_table_of_the_contract_is_there() -> None:
    assert set(every_table()) == {
        *FITTINGS,
        *("aircraft", "station", "wing", "ribs", "slots", "panels", "printer", "filament", "print"),
        *("compare", "targets", "freedom"),
    }


@pytest.mark.parametrize("table", every_table())
def test_every_key_is_documented_with_what_it_may_hold(table: str) -> None:
    for doc in key_docs(every_table()[table]):
        assert len(doc.description) > 5, doc
        assert doc.allowed.startswith(
            ("a number from", "a whole number from", "text of", "true or", "a list of", '"')
        ), doc


BEGINNINGS = ("a number from", "a whole number from", "text of", "true or", "a list of", '"')


@pytest.mark.parametrize("bad", [True, "0.25", float("nan"), float("inf"), [0.25], {}, 10**400])
def test_only_finite_numbers_are_numbers(bad: object) -> None:
    with pytest.raises(SpecError, match=r"print\.layer_mm: got .*; allowed: a number from 0.05 to 0.6 mm"):
        spec_from_dict({"station": TWO_STATIONS, "print": {"layer_mm": bad}})


def test_whole_numbers_are_numbers() -> None:
    spec = spec_from_dict({"station": [{"span_mm": 0, "chord_mm": 200}, {"span_mm": 600, "chord_mm": 150}]})
    assert isinstance(spec.stations[1].span_mm, float)


@pytest.mark.parametrize("bad", [1, 0, "true", 1.0])
def test_only_true_and_false_are_switches(bad: object) -> None:
    with pytest.raises(SpecError, match=r"printer\.arcs: got .*; allowed: true or false"):
        spec_from_dict({"station": TWO_STATIONS, "printer": {"arcs": bad}})


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), True, "300"])
def test_lists_hold_finite_numbers_only(bad: object) -> None:
    with pytest.raises(SpecError, match=r"panels\.joints_mm\[1\]: got .*; allowed: a list of .*numbers"):
        spec_from_dict({"station": TWO_STATIONS, "panels": {"joints_mm": [300.0, bad]}})
