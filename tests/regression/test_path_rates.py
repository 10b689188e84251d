"""How hot, how fast, how high and with how much filament a path is laid, as its program says."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from programs import (
    ROUND_MM,
    Program,
    program_of,
)
from shapes import BEAD_MM, LAYER_MM
from tiny_wing import (
    FILAMENT_AREA,
    LAYERS,
    LENGTH_SHARE,
    LONG_MM,
    STEP_SHARE,
    TINY,
    Build,
    by_layer,
    codes,
    flow_of,
    heights_of,
    text_of,
    tiny,
)

from wingpath import WingBuild

# --- temperature and flow ----------------------------------------------------------------------------


def heats(program: Program) -> list[tuple[int, float]]:
    """Return the words for the nozzle's temperature inside the path, as (layer from 0, temperature)."""
    found, layer = [], -1
    for line in program.body:
        if line.startswith("; layer "):
            layer = int(line.split()[2]) - 1
        if line.startswith("M104 S"):
            found.append((layer, float(line[6:])))
        assert not line.startswith("M109")
    return found


@pytest.fixture(scope="module")
def footed(built: Build) -> WingBuild:
    return built(tiny(print={"unfoamed_mm": 2.0, "style": "stepped"}))


def test_above_an_unfoamed_foot_the_nozzle_gets_hotter_layer_by_layer(footed: WingBuild) -> None:
    program = program_of(footed)
    assert "M109 S200 ; wait for the nozzle" in program.lines
    assert program.header["heat"] == "200 C at the bed, 230 C above, bed 50 C"
    steps = heats(program)
    # 2 mm are eight layers; no waiting, a word on nearly every layer of two seconds, up to the wanted one
    assert steps[0][0] == 8
    assert len(steps) >= 10
    assert [layer for layer, _ in steps] == list(range(8, 8 + len(steps)))
    values = [200.0, *(value for _, value in steps)]
    assert np.all(np.diff(values) > 0.0)
    assert values[-1] == 230.0
    # one degree a second at the wanted speed of 40 mm/s, rounded down to whole degrees
    seconds = np.cumsum(by_layer(program, program.length_mm)[8:]) / 40.0
    for (layer, value), after in zip(steps[:-1], seconds, strict=False):
        assert value == int(value)
        assert 200.0 + after * (1.0 - STEP_SHARE) - 1.0 <= value <= 200.0 + after, layer


def test_flow_times_foaming_stays_what_it_is_at_the_end(footed: WingBuild) -> None:
    program = program_of(footed)
    rows = footed.design.filament.foaming
    table = [row.temperature_c for row in rows], [row.ratio for row in rows]
    temperature = np.full(LAYERS, 200.0)
    for layer, value in heats(program):
        temperature[layer:] = value
    ratio = np.interp(temperature, *table)
    sure = (program.layer >= 0) & (program.length_mm > LONG_MM)
    flow = flow_of(program)[sure]
    # 2.44 at 230 degrees
    assert flow * ratio[program.layer[sure]] == pytest.approx(
        np.full(sure.sum(), 0.5 * 2.44), rel=LENGTH_SHARE
    )
    high = [flow[program.layer[sure] == layer].mean() for layer in (0, 7, 12, 31)]
    assert high[0] == pytest.approx(0.5 * 2.44 / 1.08, rel=LENGTH_SHARE)
    assert high[0] == pytest.approx(high[1], rel=LENGTH_SHARE)
    assert high[1] > high[2] > high[3]
    assert high[3] == pytest.approx(0.5, rel=LENGTH_SHARE)


def test_the_foot_has_a_temperature_of_its_own(built: Build) -> None:
    printer = {"nozzle_heating_c_s": 0.25}
    print_table = {"unfoamed_mm": 2.0, "unfoamed_temperature_c": 210.0, "style": "stepped"}
    slow = program_of(built(tiny(print=print_table, printer=printer)))
    assert "M109 S210 ; wait for the nozzle" in slow.lines
    values = [value for _, value in heats(slow)]
    # a quarter of a degree a second, and 24 layers of two seconds are too few to get hot
    assert values[0] == 211.0
    assert 220.0 <= values[-1] < 225.0


def test_a_foot_as_hot_as_the_rest_is_no_foot(built: Build) -> None:
    plain = built(tiny(print={"temperature_c": 200.0, "flow": 0.9}))
    foot = built(tiny(print={"temperature_c": 200.0, "flow": 0.9, "unfoamed_mm": 2.0}))
    assert text_of(plain) == text_of(foot)
    assert not heats(program_of(plain))


def test_a_foot_as_high_as_the_part_is_all_cool(built: Build) -> None:
    program = program_of(built(tiny(print={"unfoamed_mm": 50.0, "style": "stepped"})))
    assert heats(program) == []
    sure = (program.layer >= 0) & (program.length_mm > LONG_MM)
    assert flow_of(program)[sure] == pytest.approx(0.5 * 2.44 / 1.08, rel=LENGTH_SHARE)


def test_no_bead_gets_more_filament_than_there_is_room_for(built: Build) -> None:
    # 0.65 x 2.44 / 1.08 would be 1.47
    program = program_of(built(tiny(print={"unfoamed_mm": 2.0, "flow": 0.65, "style": "stepped"})))
    sure = (program.layer >= 0) & (program.length_mm > LONG_MM)
    flow = flow_of(program)[sure]
    assert flow[program.layer[sure] < 8] == pytest.approx(1.2, rel=LENGTH_SHARE)
    assert flow[program.layer[sure] == LAYERS - 1] == pytest.approx(0.65, rel=LENGTH_SHARE)


def test_the_first_stretch_fills_the_nozzle_with_solid_plastic(built: Build) -> None:
    program = program_of(built(TINY))
    assert (program.layer == -2).sum() == 1
    assert program.layer[0] == -2
    assert program.length_mm[0] == pytest.approx(40.0, abs=4.0 * ROUND_MM)
    assert flow_of(program)[0] == pytest.approx(1.0, rel=1e-3)
    brim = (program.layer == -1) & (program.length_mm > LONG_MM)
    assert flow_of(program)[brim] == pytest.approx(0.5, rel=LENGTH_SHARE)
    # the brim is one run that leads into the first layer
    assert np.all(np.diff(program.layer[program.layer < 1]) >= 0)


# --- speed -------------------------------------------------------------------------------------------

NO_HURRY: dict[str, Any] = {"least_layer_s": 0.0}


def test_speeds_are_those_of_the_spec(built: Build) -> None:
    program = program_of(built(tiny(filament=NO_HURRY)))
    assert set(program.speed_mm_s[program.layer < 1]) == {20.0}
    assert set(program.speed_mm_s[program.layer >= 1]) == {40.0}
    slow = program_of(built(tiny(filament=NO_HURRY, printer={"max_speed_mm_s": 15.0})))
    assert set(slow.speed_mm_s) == {15.0}
    assert "G0 X" in "".join(slow.body[4])
    assert slow.body[4].endswith("F900")


@pytest.mark.parametrize("style", ["helical", "stepped"])
@pytest.mark.parametrize("flow", [0.5, 1.2])
def test_the_nozzle_is_never_asked_to_melt_more_than_it_can(built: Build, style: str, flow: float) -> None:
    most = 0.8
    build = built(
        tiny(
            filament={**NO_HURRY, "melt_rate_mm3_s": most},
            print={"style": style, "flow": flow, "temperature_c": 200.0},
        )
    )
    assert codes(build)["slowed"] == "note"
    program = program_of(build)
    rate = program.filament_mm * FILAMENT_AREA * program.speed_mm_s / program.length_mm
    sure = program.length_mm > LONG_MM
    # F is rounded to a millimetre a minute
    share = 1.0 + LENGTH_SHARE + 0.5 / (60.0 * program.speed_mm_s.min())
    assert rate[sure].max() <= most * share
    # where a helix begins its beads are a quarter higher, and the cap is for those
    inside = sure & (program.layer >= 0)
    assert rate[inside].max() > most * (0.95 if style == "helical" else 0.75)
    assert program.speed_mm_s.max() < 40.0


def test_what_melts_fast_enough_is_not_slowed(built: Build) -> None:
    assert "slowed" not in codes(built(TINY))


def test_short_layers_take_their_least_time(built: Build) -> None:
    build = built(TINY)
    assert "short-layer" not in codes(build)
    program = program_of(build)
    time = by_layer(program, program.length_mm / program.speed_mm_s)
    # the foaming filament wants 6 s; steps from loop to loop come on top of it
    assert time.min() > 6.0 * (1.0 - 1e-3)
    assert time.max() < 6.0 * (1.0 + STEP_SHARE)
    assert program.speed_mm_s[program.layer >= 0].max() < 20.0


def test_but_not_slower_than_the_least_speed(built: Build) -> None:
    build = built(tiny(filament={"least_layer_s": 30.0, "least_speed_mm_s": 12.0}))
    program = program_of(build)
    assert set(program.speed_mm_s[program.layer >= 0]) == {12.0}
    (finding,) = [finding for finding in build.findings if finding.code == "short-layer"]
    assert finding.layers == (1, LAYERS)
    assert finding.found == LAYERS


# --- heights -----------------------------------------------------------------------------------------


def test_a_stepped_path_is_flat_but_for_the_begin_of_each_loop(built: Build) -> None:
    program = program_of(built(tiny(print={"style": "stepped"})))
    assert "stepped" in program.header["height"]
    for layer in range(LAYERS):
        rows = program.layer == layer
        z = heights_of(program, layer)
        run = np.cumsum(program.length_mm[rows])
        # the step up is made on the first bead width of the loop, after the step aside
        assert z[run > 1.5 + BEAD_MM] == pytest.approx((layer + 1) * LAYER_MM, abs=1e-9)
        # which is as high as the loop below
        assert z[0] == pytest.approx(max(1, layer) * LAYER_MM, abs=1e-9)


@pytest.mark.parametrize("flat", [1, 3, 7])
def test_a_helix_rises_all_the_time_above_its_flat_layers(built: Build, flat: int) -> None:
    program = program_of(built(tiny(print={"flat_layers": flat})))
    assert "helical" in program.header["height"]
    for layer in range(LAYERS):
        z = heights_of(program, layer)
        rise = np.diff(z[4:])
        if layer < flat or layer == LAYERS - 1:
            assert z[4:] == pytest.approx((layer + 1) * LAYER_MM, abs=1e-9)
        else:
            # Z has steps of a ten-thousandth, and 80 mm of path rise by a layer: moves over 0.03 mm rise
            assert rise.min() > 0.0
    # no drop anywhere, and the top is flat at the height of the part
    assert np.diff(program.points[:, 2]).min() >= 0.0
    assert program.points[-1, 2] == 8.0


def test_a_part_too_low_for_a_helix_is_stepped(built: Build) -> None:
    program = program_of(built(tiny(print={"flat_layers": LAYERS - 11})))
    assert "stepped" in program.header["height"]
    turns = program_of(built(tiny(print={"flat_layers": LAYERS - 12})))
    assert "helical" in turns.header["height"]


def test_both_styles_lay_the_same_filament(built: Build) -> None:
    helix, steps = (program_of(built(tiny(print={"style": style}))) for style in ("helical", "stepped"))
    # loops differ by a taper of a few per cent
    assert helix.filament_mm.sum() == pytest.approx(steps.filament_mm.sum(), rel=2e-3)
