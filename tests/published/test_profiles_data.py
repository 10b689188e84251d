"""The shipped profiles: all load, stay in plausible ranges, say where every number comes from."""

import re
from itertools import pairwise

import pytest
from outside import BEAD, Source

from wingpath.core.errors import SpecError
from wingpath.io.profile_store import list_profiles, load_filament, load_printer, load_tube
from wingpath.io.spec_toml import parse_toml
from wingpath.io.starter import starter_spec
from wingpath.model.profile_base import SOURCE_KINDS, Profile
from wingpath.model.profiles import FilamentProfile, profile_from_dict
from wingpath.model.spec import Spec, spec_from_dict

PRACTICE = Source("no source", "common practice", "common practice, no source")
CURVE = Source("memory", "curve of foaming", "curves through remembered points, no published data")
MICROSPHERES = Source(
    "printed",
    "ACS Applied Engineering Materials 2025",
    "ACS Applied Engineering Materials 3(3):625-635, 2025, abstract: lowest density with 8 % expandable "
    "microspheres in PLA",
)
HOBBY = Source("quoted", "a print log", "a hobby's print log of April 2019, not peer reviewed")
LAYERS = Source(
    "printed",
    "doi 10.1089/3dp.2020.0109",
    "doi 10.1089/3dp.2020.0109, abstract: loss across layers of 32.4 and 47.8 %",
)
WARM = Source(
    "printed",
    "Polymers 2024",
    "printed PLA: Polymers 16(11):1526, 2024, doi 10.3390/polym16111526, abstract; heat deflection from "
    "the data sheet of a "
    "plain PLA",
)
LAMINATE = Source(
    "printed",
    "Manufacturing Review 2020",
    "Manufacturing Review 2020, mfreview190034, table 2: one-way carbon laminate",
)
HANDBOOK = Source(
    "memory", "handbook values", "Poisson's ratio of aluminium and of steel, G = E / (2 (1 + nu))"
)

PRINTERS = [entry.name for entry in list_profiles("printers")]
FILAMENTS = [entry.name for entry in list_profiles("filaments")]
TUBES = [entry.name for entry in list_profiles("tubes")]

BARE = Spec.model_validate({"station": [{"span_mm": 0, "chord_mm": 200}, {"span_mm": 500, "chord_mm": 150}]})


def numbers_of(profile: Profile) -> set[str]:
    return {key for key, value in profile if isinstance(value, float)}


def test_the_promised_profiles_are_there() -> None:
    assert {"bed-180", "bed-220", "bed-256", "bed-300", "bed-350"} <= set(PRINTERS)
    assert {"foaming-pla", "foaming-pla-gentle", "pla"} <= set(FILAMENTS)
    assert {"pultruded-carbon", "roll-wrapped-carbon", "aluminium-6061", "birch-dowel", "glass-fibre"} <= set(
        TUBES
    )


def test_the_defaults_of_a_spec_are_shipped() -> None:
    assert BARE.printer.profile in PRINTERS
    assert BARE.filament.profile in FILAMENTS
    assert "pultruded-carbon" in TUBES


@pytest.mark.parametrize("name", PRINTERS)
def test_printer(name: str) -> None:
    printer = load_printer(name)
    assert printer.name == name
    assert name == f"bed-{printer.bed_x_mm:g}"
    assert printer.title.startswith(
        f"{printer.bed_x_mm:g} x {printer.bed_y_mm:g} mm bed, {printer.height_mm:g} mm high"
    )
    assert 150 <= printer.usable_x_mm <= 400
    assert 0.3 <= printer.nozzle_mm <= 0.6
    assert BARE.print.speed_mm_s <= printer.max_speed_mm_s
    assert numbers_of(printer) <= {key for key, _ in printer.sources}


@pytest.mark.parametrize("name", PRINTERS)
def test_start_block_is_safe(name: str) -> None:
    printer = load_printer(name)
    words = [line.split(";")[0].strip() for line in printer.start_block.splitlines()]
    words = [line for line in words if line]
    assert all(re.fullmatch(r"[GM]\d+( [A-Z][-\d.]*(\{\w+\})?)*", line) for line in words)
    first_move = next(i for i, line in enumerate(words) if re.match(r"G[01] ", line))
    with BEAD.rule(
        "Start and end blocks of every shipped printer",
        source=PRACTICE,
        expected="homed before moving, heated, nothing extruded or drawn back, heaters off at the end",
    ):
        assert words.index("G28") < first_move
        assert "M109 S{temperature_c}" in words
        # the one bead fills the nozzle itself: a block that extrudes would have to travel afterwards
        assert not any(re.search(r"\bE[-\d]", line) for line in (*words, *printer.end_block.splitlines()))
        assert {"M104 S0", "M140 S0"} <= {
            line.split(";")[0].strip() for line in printer.end_block.splitlines()
        }


CURVES = {
    "foaming-pla": (
        "R = 1 + 1.90 / (1 + exp(-(T - 222) / 7))",
        {190: 1.02, 200: 1.08, 210: 1.29, 220: 1.82, 225: 2.15, 230: 2.44, 240: 2.77, 250: 2.87, 270: 2.90},
    ),
    "foaming-pla-gentle": (
        "R = 1 + 1.25 / (1 + exp(-(T - 228) / 12))",
        {190: 1.05, 200: 1.11, 210: 1.23, 220: 1.42, 225: 1.55, 230: 1.68, 240: 1.91, 250: 2.08, 270: 2.21},
    ),
}


@pytest.mark.parametrize("name", CURVES)
def test_foaming_table_follows_the_curve_that_it_names(name: str) -> None:
    filament = load_filament(name)
    formula, table = CURVES[name]
    source = filament.source_of("foaming")
    assert source is not None
    assert source.note.startswith(formula)
    assert source.kind == "memory"
    rise, middle, width = (float(x) for x in re.findall(r"1 \+ ([\d.]+) / .*- (\d+)\) / (\d+)", formula)[0])
    for temperature, ratio in table.items():
        assert filament.foaming_ratio(temperature) == pytest.approx(ratio)
    BEAD.check(
        f"Foaming of {name} by temperature",
        source=CURVE.at(formula),
        expected=[1 + rise / (1 + 2.718281828459045 ** (-(t - middle) / width)) for t in table],
        got=list(table.values()),
        abs=0.0051,
        because="two places in the profile",
        labels=[f"{temperature} °C" for temperature in table],
    )


def test_foaming_between_and_beyond_the_rows() -> None:
    filament = load_filament("foaming-pla")
    assert filament.foaming_range_c == (190.0, 270.0)
    assert filament.foaming_ratio(227.5) == pytest.approx((2.15 + 2.44) / 2)
    assert filament.foaming_ratio(100.0) == 1.02
    assert filament.foaming_ratio(400.0) == 2.90


def test_density_of_the_foam_at_full_foaming() -> None:
    filament = load_filament("foaming-pla")
    BEAD.check(
        "Density of foaming-pla at full foaming",
        source=MICROSPHERES.at("abstract"),
        expected=0.43,
        got=filament.density_g_cm3 / filament.foaming_ratio(260.0),
        abs=0.01,
        because="a step of the printed digit",
        unit="g/cm³",
    )


def test_flow_that_just_fills_the_bead_against_a_hobby_test() -> None:
    BEAD.check(
        "Flow that just fills the bead at 225 °C, over that of solid filament",
        source=HOBBY,
        expected=0.45,
        got=1.0 / load_filament("foaming-pla").foaming_ratio(225.0),
        abs=0.03,
        because="one print, steps of 5 %",
    )


def test_bonded_gap() -> None:
    """Arithmetic: beads grow as flow x ratio at a fixed layer height: 0.45 (0.5 x 2.44 - 1) = 0.099 mm."""
    filament = load_filament("foaming-pla")
    assert filament.bonded_gap_mm(0.45, 0.5, 230.0) == pytest.approx(0.099)
    assert filament.bonded_gap_mm(0.45, 0.4, 230.0) == 0.0
    assert load_filament("pla").bonded_gap_mm(0.45, 1.0, 210.0) == 0.0
    assert load_filament("pla").bonded_gap_mm(0.45, 1.1, 210.0) == pytest.approx(0.045)


def test_default_slot_bonds_with_the_default_filament() -> None:
    filament = load_filament(BARE.filament.profile)
    gap = filament.bonded_gap_mm(BARE.bead_mm, BARE.print.flow, BARE.print.temperature_c)
    assert BARE.slots.width_mm < gap


def test_wall_density_is_mass_conservation() -> None:
    assert load_filament("foaming-pla").wall_density_g_cm3(0.5) == pytest.approx(0.62)


@pytest.mark.parametrize("name", FILAMENTS)
def test_filament(name: str) -> None:
    """Ranges: materials sheet of the project, section 8; each basis stands in the profile."""
    filament = load_filament(name)
    assert filament.name == name
    assert 1.18 <= filament.density_g_cm3 <= 1.26
    assert 1700 <= filament.e_modulus_mpa <= 3600
    assert 25 <= filament.strength_mpa <= 55
    assert (filament.stiffness_exponent, filament.strength_exponent) == (2.0, 1.5)
    BEAD.check(
        f"Stiffness and strength across layers over those along, {name}",
        source=LAYERS.at("abstract"),
        expected=[1 - 0.324, 1 - 0.478],
        got=[filament.z_stiffness, filament.z_strength],
        abs=[0.005, 0.003],
        because="two places in the profile",
        labels=["stiffness", "strength"],
    )
    assert filament.poisson == 0.33
    assert filament.overhang_limit_deg == 45.0
    assert 3 <= filament.bridge_limit_mm <= 15
    assert filament.bore_allowance_mm == 0.3
    assert not filament.calibrated
    assert [row.ratio for row in filament.foaming] == sorted(row.ratio for row in filament.foaming)
    assert filament.foaming[0].temperature_c >= filament.temperature_min_c
    assert filament.foaming[-1].temperature_c <= filament.temperature_max_c
    assert numbers_of(filament) | {"foaming", "warm_stiffness"} <= {key for key, _ in filament.sources}


GLASS_TRANSITION_C = 65.0

GLASSY_MPA, RUBBERY_MPA = 1045.7, 1.2
"""Modulus under and over the glass transition, same abstract."""

DEFLECTS_C = (52.0, 57.8)
"""Heat deflection at 1.8 and 0.45 MPa, data sheet of a plain PLA."""


@pytest.mark.parametrize("name", FILAMENTS)
def test_stiffness_of_a_warm_part(name: str) -> None:
    """Rows between the published ends are judgement; here only that they respect those ends."""
    filament = load_filament(name)
    assert filament.stiffness_share(20.0) == 1.0
    shares = [row.share for row in filament.warm_stiffness]
    assert shares == sorted(shares, reverse=True)
    # at the transition most is gone, but not yet all: in the middle of the fall, the mean of its logarithms
    ends = RUBBERY_MPA / GLASSY_MPA
    with BEAD.rule(
        "Stiffness of a warm part, every shipped filament: at 65 °C",
        source=WARM.at("glass transition, moduli under and over it"),
        expected="between 0.0011 and 0.034 of that at 20 °C",
    ):
        assert ends < filament.stiffness_share(GLASS_TRANSITION_C) <= ends**0.5
    # a bar that deflects has lost a good part of its stiffness
    with BEAD.rule(
        "Stiffness of a warm part, every shipped filament: where a loaded bar deflects",
        source=WARM.at("heat deflection at 1.8 and 0.45 MPa"),
        expected="half is lost between 52 and 57.8 °C",
    ):
        assert filament.stiffness_share(DEFLECTS_C[0]) > 0.5 > filament.stiffness_share(DEFLECTS_C[1])


def test_stiffness_between_and_beyond_the_rows() -> None:
    """Arithmetic: the logarithm is linear between the rows, the nearest row holds beyond."""
    filament = load_filament("pla")
    assert filament.stiffness_share(57.5) == pytest.approx((0.35 * 0.10) ** 0.5)
    assert filament.stiffness_share(42.5) == pytest.approx(0.90**0.75 * 0.65**0.25)
    assert filament.stiffness_share(55.0) == pytest.approx(0.35)
    assert filament.stiffness_share(-10.0) == 1.0
    assert filament.stiffness_share(90.0) == 0.02


def test_stiffness_that_is_lost_altogether() -> None:
    """Arithmetic: no logarithm of zero, so the share itself is linear there."""
    rows = [{"temperature_c": 20.0, "share": 0.8}, {"temperature_c": 60.0, "share": 0.0}]
    data = load_filament("pla").model_dump() | {"warm_stiffness": rows}
    filament = profile_from_dict(FilamentProfile, data, source="test")
    assert filament.stiffness_share(50.0) == pytest.approx(0.2)


def test_warm_rows_must_get_warmer() -> None:
    rows = [{"temperature_c": 40.0, "share": 0.9}, {"temperature_c": 40.0, "share": 0.5}]
    data = load_filament("pla").model_dump() | {"warm_stiffness": rows}
    with pytest.raises(SpecError, match=r"warm_stiffness\[1\]\.temperature_c"):
        profile_from_dict(FilamentProfile, data, source="test")


def test_a_profile_without_warm_rows_takes_those_of_pla() -> None:
    data = load_filament("foaming-pla").model_dump()
    del data["warm_stiffness"], data["glue_shear_mpa"]
    filament = profile_from_dict(FilamentProfile, data, source="test")
    assert filament.warm_stiffness == load_filament("foaming-pla").warm_stiffness
    assert filament.glue_shear_mpa == 1.0


def test_glue_holds_less_on_foam() -> None:
    """Judgement of the project's materials sheet: 3 MPa design shear on solid PLA, 1 MPa on its foam."""
    assert load_filament("pla").glue_shear_mpa == 3.0
    assert load_filament("foaming-pla").glue_shear_mpa == load_filament("foaming-pla-gentle").glue_shear_mpa
    assert load_filament("foaming-pla").glue_shear_mpa == 1.0


def test_foaming_filaments_have_the_agreed_bridge_limit() -> None:
    assert load_filament("foaming-pla").bridge_limit_mm == 5.0
    assert load_filament("foaming-pla-gentle").bridge_limit_mm == 5.0


def test_the_default_speed_can_be_melted() -> None:
    filament = load_filament(BARE.filament.profile)
    settings = BARE.print
    volume = settings.bead_mm * settings.layer_mm * settings.speed_mm_s * settings.flow
    assert volume < filament.melt_rate_mm3_s


@pytest.mark.parametrize("name", TUBES)
def test_tube(name: str) -> None:
    tube = load_tube(name)
    assert tube.name == name
    # shear stiffness of an isotropic solid lies under half of E; of fibres along the length far under it
    assert tube.g_modulus_mpa < 0.5 * tube.e_modulus_mpa
    # strain at the allowable stress stays under 1 %
    assert tube.allowable_mpa < 0.01 * tube.e_modulus_mpa
    assert numbers_of(tube) <= {key for key, _ in tube.sources}
    assert len(tube.stock) >= 5
    for size in tube.stock:
        if size.shape == "strip":
            assert size.width_mm > size.height_mm > 0
            assert size.outer_mm == size.inner_mm == 0
        else:
            assert 0 <= size.inner_mm < size.outer_mm
            assert size.width_mm == size.height_mm == 0


def test_pultruded_carbon_against_a_published_laminate() -> None:
    tube = load_tube("pultruded-carbon")
    BEAD.check(
        "Moduli E and G of pultruded carbon",
        source=LAMINATE.at("table 2"),
        expected=[109_000, 4_300],
        got=[tube.e_modulus_mpa, tube.g_modulus_mpa],
        rel=0.15,
        because="another make and share of fibres",
        unit="MPa",
        labels=["E", "G"],
    )
    assert (tube.density_g_cm3, tube.allowable_mpa) == (1.55, 600.0)


def test_isotropic_metals_obey_their_poisson_ratio() -> None:
    tubes = {load_tube(name): poisson for name, poisson in (("aluminium-6061", 0.33), ("steel-wire", 0.29))}
    BEAD.check(
        "Shear modulus of metals from E and Poisson's ratio",
        source=HANDBOOK.at("nu 0.33 for aluminium, 0.29 for steel"),
        expected=[tube.e_modulus_mpa / (2 * (1 + poisson)) for tube, poisson in tubes.items()],
        got=[tube.g_modulus_mpa for tube in tubes],
        rel=0.01,
        because="three figures in the profile",
        unit="MPa",
        labels=[tube.name for tube in tubes],
    )


@pytest.mark.parametrize("kind", ["printers", "filaments", "tubes"])
def test_every_file_says_where_it_comes_from(kind: str) -> None:
    for entry in list_profiles(kind):  # type: ignore[arg-type]
        data = parse_toml(entry.path.read_text(encoding="utf-8"))
        assert len(data["source"]) > 20
        for key, source in data["sources"].items():
            assert source["kind"] in SOURCE_KINDS, key
            assert source["kind"] != "measured", "nothing that is shipped was measured"


def test_panels_of_the_starter_fit_its_printer() -> None:
    spec = spec_from_dict(parse_toml(starter_spec()))
    printer = load_printer(spec.printer.profile)
    ends = [0.0, *(spec.panels.joints_mm or ()), spec.semi_span_mm]
    assert max(outer - inner for inner, outer in pairwise(ends)) <= printer.height_mm
    assert max(station.chord_mm for station in spec.stations) <= printer.usable_x_mm
