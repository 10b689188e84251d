"""Start and end blocks, settings and profiles: what is filled in, and what is refused by key."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from programs import (
    PATH_BEGINS,
    PATH_ENDS,
    job_of,
)
from tiny_wing import (
    TINY,
    Build,
    text_of,
    tiny,
)

from wingpath import design_wing, spec_from_dict
from wingpath.core.errors import SpecError
from wingpath.io.gcode import gcode_chunks
from wingpath.io.profile_store import dump_filament, load_filament, profiles_folder

# --- blocks ------------------------------------------------------------------------------------------

NAMES_IN_BLOCKS = {
    "bed_temperature_c": "50",
    "temperature_c": "230",
    # 30 per cent of 255
    "fan_pwm": "76",
    "bed_x_mm": "220",
    "bed_y_mm": "200",
    "height_mm": "300",
    "nozzle_mm": "0.4",
    "bead_mm": "0.45",
    "layer_mm": "0.25",
    # inside the margin of 5 mm, and 60 mm on
    "prime_start_x_mm": "5",
    "prime_end_x_mm": "65",
    "prime_y_mm": "2.5",
    # the part and 5 mm
    "end_z_mm": "13",
    "park_x_mm": "5",
    "park_y_mm": "195",
}
CENTRED = {"prime_start_x_mm": "-105", "prime_end_x_mm": "-45", "prime_y_mm": "-97.5"} | {
    "park_x_mm": "-105",
    "park_y_mm": "95",
}
LISTING = "G21\nG28\n" + "\n".join(f"; {name} is {{{name}}}." for name in NAMES_IN_BLOCKS)


@pytest.mark.parametrize("origin", ["corner", "centre"])
def test_names_in_blocks_are_filled_in(built: Build, origin: str) -> None:
    printer = {"start_block": LISTING, "end_block": LISTING, "bed_y_mm": 200.0, "bed_origin": origin}
    text = text_of(built(tiny(printer=printer, filament={"fan_percent": 30.0})))
    wanted = NAMES_IN_BLOCKS | (CENTRED if origin == "centre" else {})
    block = ["G21", "G28", *(f"; {name} is {value}." for name, value in wanted.items())]
    lines = text.splitlines()
    assert lines[lines.index(PATH_BEGINS) - len(block) : lines.index(PATH_BEGINS)] == block
    assert lines[lines.index(PATH_ENDS) + 1 :] == block


def test_the_nozzle_lifts_no_higher_than_the_machine(built: Build) -> None:
    data = tiny(printer={"height_mm": 40.0, "end_block": "G1 Z{end_z_mm} F600"})
    data["station"] = [TINY["station"][0], {**TINY["station"][1], "span_mm": 37.5}]
    assert text_of(built(data)).splitlines()[-1] == "G1 Z40 F600"


def test_the_shipped_blocks_heat_home_and_end(built: Build) -> None:
    lines = text_of(built(TINY)).splitlines()
    begin, end = lines.index(PATH_BEGINS), lines.index(PATH_ENDS)
    head = [line.partition(" ;")[0] for line in lines[:begin] if not line.startswith(";")]
    assert head[:2] == ["G21", "G90"]
    # the bed is waited for, then all axes are homed, then the nozzle is waited for
    assert [word for word in head if word in ("M190 S50", "G28", "M109 S230")] == [
        "M190 S50",
        "G28",
        "M109 S230",
    ]
    assert [line.partition(" ;")[0] for line in lines[end + 2 :]] == [
        *("M104 S0", "M140 S0", "M107", "G1 Z13 F600", "G1 X5 Y215 F6000", "M84")
    ]


@pytest.mark.parametrize(
    ("block", "has"),
    [("", False), ("G28", False), ("; G21", False), ("g21", True), ("N1G21 (mm)\nG28", True)],
)
def test_millimetres_are_set_when_the_block_does_not(built: Build, block: str, has: bool) -> None:
    job = replace(job_of(built(TINY)), start=block, header=())
    lines = "".join(gcode_chunks(job)).split("\n")
    before = lines[: lines.index(PATH_BEGINS)]
    assert before == [*([] if has else ["G21"]), *block.splitlines()]


def test_blanks_around_blocks_go_and_lines_inside_stay(built: Build) -> None:
    job = replace(job_of(built(TINY)), start="\n\n  G21 \n\nG28\t\n\n", end="", header=())
    lines = "".join(gcode_chunks(job)).split("\n")
    assert lines[:4] == ["G21", "", "G28", PATH_BEGINS]
    assert lines[-2:] == [PATH_ENDS, ""]


@pytest.mark.parametrize("key", ["start_block", "end_block"])
@pytest.mark.parametrize(
    ("block", "got"),
    [
        ("G28\nM109 S{temperature}\n", "{temperature}"),
        ("G28 {}", "{}"),
        ("G28 ; {bed_x_mm } of bed", "{bed_x_mm }"),
        ("G20", "G20, inches"),
        ("g20 ; inches", "G20, inches"),
        ("G28\nG90 G20", "G20, inches"),
        ("N10G20", "G20, inches"),
        ("G90G20", "G20, inches"),
        ("G020", "G20, inches"),
        ("G 20", "G20, inches"),
        ("G20.0", "G20, inches"),
        ("(units) G20", "G20, inches"),
        ("; first\x0bG20", "G20, inches"),
        ("; " + "x" * 255, "a line of 257 characters"),
    ],
)
def test_wrong_blocks_are_refused_by_key(key: str, block: str, got: str) -> None:
    with pytest.raises(SpecError) as caught:
        design_wing(spec_from_dict(tiny(printer={key: block})))
    assert [(problem.key, problem.got) for problem in caught.value.problems] == [(key, got)]


@pytest.mark.parametrize(
    "block",
    [
        "G21",
        "G200",
        "; no G20 here",
        "(G20)",
        "G21 ; not G20",
        "G20.1",
        "G1 X20",
        "G1 X1.G2 X0",
        "M117 MAG20",
        "M117 PRINTING 20",
        "; " + "x" * 254,
    ],
)
def test_blocks_that_only_look_wrong_are_taken(block: str) -> None:
    design = design_wing(spec_from_dict(tiny(printer={"start_block": block})))
    assert design.printer.start_block == block


@pytest.mark.parametrize("key", ["start_block", "end_block"])
@pytest.mark.parametrize(
    "line",
    [
        "M104 S271",
        "M109 S271 ; hot",
        "m109 s271",
        "M109 R271",
        "M0104 S271",
        "M104 T0 S271",
        "M104 S 271",
        "M104S271",
        "N10M109S271*55",
        "M104 (not too hot) S271",
        "(now) M104 S271",
        "M104 S200 M109 S271",
        "M104 S271 M109 S200",
        "M104 S+271",
        "M104 S270.5",
        "M104 S{temperature_c}0",
        "M109 S{bed_x_mm}",
        "; quiet\x0bM104 S271",
    ],
)
def test_a_block_hotter_than_the_filament_bears_is_refused_by_key(key: str, line: str) -> None:
    bed = {"bed_x_mm": 271.0}
    with pytest.raises(SpecError) as caught:
        design_wing(spec_from_dict(tiny(printer={key: f"G21\n{line}\nG28", **bed})))
    assert {problem.key for problem in caught.value.problems} == {f"printer.{key}"}
    assert "up to 270 °C" in caught.value.problems[0].allowed


@pytest.mark.parametrize(
    "line",
    [
        "M104 S270",
        "M109 S{temperature_c}",
        "; M104 S300",
        "(M104 S300)",
        "M104 S200 ; S300",
        "M106 S300",
        "M140 S300",
        "M1040 S300",
        "G4 S300",
        "M104 S0\nG4 S300",
    ],
)
def test_a_block_that_does_not_heat_the_nozzle_too_far_is_taken(line: str) -> None:
    design_wing(spec_from_dict(tiny(printer={"start_block": line})))


# --- settings and profiles that are refused ----------------------------------------------------------


@pytest.mark.parametrize(
    ("print_table", "keys"),
    [
        ({"temperature_c": 271.0}, ["print.temperature_c"]),
        ({"temperature_c": 189.0}, ["print.temperature_c"]),
        ({"unfoamed_mm": 2.0, "unfoamed_temperature_c": 180.0}, ["print.unfoamed_temperature_c"]),
        (
            {"unfoamed_mm": 2.0, "unfoamed_temperature_c": 240.0},
            ["print.unfoamed_temperature_c and print.temperature_c"],
        ),
        (
            {"temperature_c": 280.0, "unfoamed_temperature_c": 280.0},
            ["print.temperature_c", "print.unfoamed_temperature_c"],
        ),
        ({"flow": 0.0}, ["print.flow"]),
        ({"flow": 0.19}, ["print.flow"]),
        ({"style": "spiral"}, ["print.style"]),
        ({"flat_layers": 0}, ["print.flat_layers"]),
    ],
)
def test_settings_that_cannot_be_printed_are_refused_by_key(
    print_table: dict[str, Any], keys: list[str]
) -> None:
    with pytest.raises(SpecError) as caught:
        design_wing(spec_from_dict(tiny(print=print_table)))
    assert [problem.key for problem in caught.value.problems] == keys


def test_temperatures_at_the_limits_of_the_filament_are_taken() -> None:
    for temperature in (190.0, 270.0):
        design_wing(spec_from_dict(tiny(print={"temperature_c": temperature})))
    # without a foot, its temperature does not matter
    design_wing(spec_from_dict(tiny(print={"unfoamed_temperature_c": 240.0})))


@pytest.mark.parametrize("key", ["name", "title", "source", "bed_x_mm", "bed_y_mm", "height_mm"])
def test_a_printer_without_a_key_is_refused_by_key(tmp_path: Path, key: str) -> None:
    shipped = (profiles_folder() / "printers" / "bed-220.toml").read_text(encoding="utf-8")
    refused_without(tmp_path, shipped, key, table="printer")


@pytest.mark.parametrize(
    "key", ["density_g_cm3", "temperature_min_c", "temperature_max_c", "melt_rate_mm3_s", "poisson"]
)
def test_a_filament_without_a_key_is_refused_by_key(tmp_path: Path, key: str) -> None:
    refused_without(tmp_path, dump_filament(load_filament("foaming-pla")), key, table="filament")


def refused_without(folder: Path, text: str, key: str, *, table: str) -> None:
    """Take a key out of a profile beside a spec, and its source with it."""
    name = folder / "mine.toml"
    name.write_text(text, encoding="utf-8")
    spec = spec_from_dict(tiny(**{table: {"profile": "mine.toml"}}))
    design_wing(spec, base_dir=folder)
    without, count = re.subn(rf"(?m)^{key} = [^{{\n]*\n", "", text)
    assert count == 1
    name.write_text(without, encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        design_wing(spec, base_dir=folder)
    assert [problem.key for problem in caught.value.problems] == [key]
    assert str(name) in caught.value.source
