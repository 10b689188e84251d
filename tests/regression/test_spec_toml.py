"""Reading and writing TOML: odd files give a clear message, never a traceback."""

from pathlib import Path

import pytest
from bombs import BOMBS

from wingpath.core.errors import FileAccessError, SpecError
from wingpath.io.spec_toml import dump_spec, dump_toml, load_spec, parse_toml
from wingpath.io.starter import starter_spec
from wingpath.model.spec import Spec, spec_from_dict

SPEC = """\
name = "Rush 900"
[[station]]
span_mm = 0
chord_mm = 180
[[station]]
span_mm = 450
chord_mm = 120
"""


def written(folder: Path, raw: bytes) -> Path:
    path = folder / "spec.toml"
    path.write_bytes(raw)
    return path


@pytest.mark.parametrize(
    "raw",
    [
        SPEC.encode(),
        b"\xef\xbb\xbf" + SPEC.encode(),
        SPEC.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + SPEC.replace("\n", "\r\n").encode(),
        SPEC.rstrip().encode(),
    ],
    ids=["plain", "mark", "crlf", "mark-crlf", "no-last-line-end"],
)
def test_usual_ways_to_save(tmp_path: Path, raw: bytes) -> None:
    assert load_spec(written(tmp_path, raw)).name == "Rush 900"


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("name = ", "the end of the file"),
        ("name = 3x\n", "line 1, column 9"),
        (SPEC + "chord_mm = 3\n", "line 8"),
        (SPEC + "[wing]\nhand = both\n", "line 9, column 8"),
        (SPEC + "[wing\n", "line 8"),
        (SPEC + 'x = "abc', "the end of the file"),
        (SPEC.replace("span_mm = 0\n", "span_mm = 0,5\n"), "line 3, column 12"),
    ],
)
def test_syntax_errors_have_a_place(tmp_path: Path, text: str, place: str) -> None:
    with pytest.raises(SpecError) as caught:
        load_spec(written(tmp_path, text.encode()))
    assert len(caught.value.problems) == 1
    assert place in caught.value.problems[0].got
    assert "broken TOML" in str(caught.value)


def test_the_line_at_fault_is_shown(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match=r"The line reads: hand = both"):
        load_spec(written(tmp_path, (SPEC + "[wing]\nhand = both\n").encode()))


def test_not_utf8(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match="a byte that is not UTF-8 in line 2"):
        load_spec(written(tmp_path, b'format = 1\nname = "F\xfchl"\n'))


def test_utf16_is_told_to_be_saved_again(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match="encoding UTF-8"):
        load_spec(written(tmp_path, SPEC.encode("utf-16")))


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(FileAccessError, match="there is no such file"):
        load_spec(tmp_path / "none.toml")
    with pytest.raises(FileAccessError, match="not a file"):
        load_spec(tmp_path)
    with pytest.raises(FileAccessError, match=r"could not be read|no such file"):
        load_spec("a\0b.toml")
    with pytest.raises(FileAccessError, match=r"could not be read|no such file"):
        load_spec("x" * 5000)


@pytest.mark.parametrize("bomb", BOMBS)
def test_hostile_files_are_refused_in_few_words(tmp_path: Path, bomb: str) -> None:
    # how long that takes is a matter for benchmarks/bench_hostile_specs.py
    path = written(tmp_path, BOMBS[bomb]())
    with pytest.raises(SpecError) as caught:
        load_spec(path)
    assert len(str(caught.value)) < 100_000


def test_a_dotted_key_of_ordinary_length_is_fine() -> None:
    assert parse_toml("wing.hand = 'left'\na.b.c.d = 1")["wing"] == {"hand": "left"}


def test_dump_reads_back_with_every_table() -> None:
    data = {
        "name": 'Täl "7" \\',
        "station": [{"span_mm": 0, "chord_mm": 180, "airfoil": "a b.dat"}, {"span_mm": 450, "chord_mm": 120}],
        "aircraft": {"all_up_mass_g": 700},
        "tube": [
            {"outer_mm": 6, "to_mm": 300, "chord_fraction": 0.3},
            {"shape": "strip", "width_mm": 5, "height_mm": 1, "to_mm": 300, "chord_fraction": 0.6},
        ],
        "panels": {"joints_mm": []},
        "servo_bay": [
            {"span_mm": 3, "length_mm": 9, "width_mm": 9, "depth_mm": 9, "chord_fraction": 0.5, "frame": True}
        ],
        "printer": {"start_block": 'G28 ; "home"\n\tM83\r\n\n"""\\ \x7f\r', "end_block": "", "arcs": False},
    }
    spec = spec_from_dict(data)
    text = dump_spec(spec)
    assert spec_from_dict(parse_toml(text)) == spec
    assert "\n[[tube]]\n" in text
    assert "\nwidth_mm = 0.0\n" not in text


def test_dump_refuses_what_toml_does_not_know() -> None:
    with pytest.raises(TypeError, match="NoneType"):
        dump_toml({"a": None})


def test_starter_is_a_good_spec() -> None:
    spec = spec_from_dict(parse_toml(starter_spec()))
    assert spec.name == "Reed 1000"
    assert len(spec.stations) == 2
    assert spec.panels.joints_mm is not None
    assert len(spec.panels.joints_mm) == 1


def test_starter_with_a_new_name() -> None:
    assert spec_from_dict(parse_toml(starter_spec('My "first"'))).name == 'My "first"'
    with pytest.raises(SpecError, match="name"):
        starter_spec("two\nlines")
    with pytest.raises(SpecError, match="name"):
        starter_spec("")


def test_starter_explains_every_key() -> None:
    lines = [line for line in starter_spec().splitlines() if "=" in line and not line.startswith("#")]
    bare = {line.split("=")[0].strip() for line in lines if "#" not in line}
    assert bare <= {
        "name",
        "outer_mm",
        "from_mm",
        "to_mm",
        "span_mm",
        "chord_mm",
        "leading_edge_mm",
        "airfoil",
    }


def test_defaults_of_the_starter_are_the_defaults() -> None:
    """What the starter shows in passing is what holds when the line is deleted."""
    spec = spec_from_dict(parse_toml(starter_spec()))
    bare = Spec(stations=spec.stations)
    assert spec.print == bare.print
    assert spec.ribs == bare.ribs
    assert spec.slots.width_mm == bare.slots.width_mm
    assert spec.neck_mm == pytest.approx(bare.neck_mm)
    assert spec.trailing_edge_mm == pytest.approx(bare.trailing_edge_mm)
