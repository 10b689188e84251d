"""Specs with some keys changed: everything else stays as its maker wrote it."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import wingpath
import wingpath.io.spec_editing as editing
from wingpath.core.errors import FileAccessError, InputError, SpecError, WingpathError
from wingpath.io.spec_editing import edited_spec
from wingpath.io.spec_toml import load_spec, parse_toml
from wingpath.io.starter import starter_spec

EXAMPLES = Path(wingpath.__file__).parents[1] / "examples"

SPEC = """\
# Finch: a small wing.
name = "Finch"   # Fink

[[station]]
span_mm = 0
chord_mm = 180_0e-1            # at the root
[[station]]
span_mm = 450
chord_mm = 120

# the ribs
[ribs]                         # as drawn
pitch_mm = 30.00               # between ribs
# angle_deg = 45.0

# webs go here
[[spar_web]]                   # behind the tube
chord_fraction = 0.55          # fixed
from_mm = 250.0

[[spar_web]]
chord_fraction = 0.30

# the tube
[[tube]]
outer_mm = 8.0
to_mm = 420.0

# the end
"""


def osier() -> str:
    return (EXAMPLES / "osier-1240" / "spec.toml").read_text(encoding="utf-8")


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_only_the_changed_line_changes_and_its_comment_stays_in_its_column() -> None:
    text = edited_spec(SPEC, {"ribs.pitch_mm": 25.0})
    assert text == SPEC.replace("pitch_mm = 30.00 ", "pitch_mm = 25.0  ")


def test_nothing_to_change_changes_nothing() -> None:
    assert edited_spec(SPEC, {}) == SPEC
    # an equal value is not written anew, so its style stays
    same = {"ribs.pitch_mm": 30.0, "station[0].chord_mm": 180, "tube[0].material": None, "compare": None}
    assert edited_spec(SPEC, {**same, "duct": []}) == SPEC
    assert edited_spec("", {}) == ""


def test_new_keys_go_behind_the_last_one_of_their_table() -> None:
    text = edited_spec(SPEC, {"ribs.run": "aft", "ribs.pitch_along_mm": [(0.0, 25.0), (600.0, 45.0)]})
    gone, new = changed_lines(SPEC, text)
    assert gone == []
    assert new == ['run = "aft"', "pitch_along_mm = [[0.0, 25.0], [600.0, 45.0]]"]
    assert '# between ribs\nrun = "aft"\npitch_along_mm = ' in text
    assert "45.0]]\n# angle_deg = 45.0\n\n# webs go here\n" in text


def test_a_removed_key_takes_its_comment_along_and_nothing_else() -> None:
    text = edited_spec(SPEC, {"spar_web[0].chord_fraction": None})
    assert text == SPEC.replace("chord_fraction = 0.55          # fixed\n", "")
    assert "[ribs]                         # as drawn\n# angle" in edited_spec(SPEC, {"ribs.pitch_mm": None})


def test_a_removed_table_leaves_the_comments_of_its_neighbours() -> None:
    text = edited_spec(SPEC, {"ribs": None, "tube": []})
    assert "ribs" not in tomllib.loads(text)
    assert "# the ribs" not in text
    assert "chord_mm = 120\n\n# webs go here\n[[spar_web]]" in text
    assert text.endswith("chord_fraction = 0.30\n\n# the end\n")


def test_a_list_of_tables_is_replaced_and_equal_ones_stay_as_they_are() -> None:
    kept = {"chord_fraction": 0.3}
    text = edited_spec(SPEC, {"spar_web": [kept, {"chord_fraction": 0.6, "to_mm": 100.0}]})
    assert tomllib.loads(text)["spar_web"] == [kept, {"chord_fraction": 0.6, "to_mm": 100.0}]
    assert (
        "chord_fraction = 0.30\n\n[[spar_web]]\nchord_fraction = 0.6\nto_mm = 100.0\n\n# the tube\n" in text
    )
    assert "0.55" not in text


def test_a_changed_table_of_a_list_keeps_its_comments() -> None:
    text = edited_spec(SPEC, {"spar_web": [{"chord_fraction": 0.4, "from_mm": 250.0}]})
    assert "# webs go here\n[[spar_web]]                   # behind the tube\n" in text
    assert "chord_fraction = 0.4           # fixed\nfrom_mm = 250.0\n\n# the tube\n" in text


def test_a_table_before_the_first_of_a_list() -> None:
    rows = [{"chord_fraction": 0.1}, {"chord_fraction": 0.55, "from_mm": 250.0}, {"chord_fraction": 0.3}]
    text = edited_spec(SPEC, {"spar_web": rows})
    assert tomllib.loads(text)["spar_web"] == rows
    assert "\n\n[[spar_web]]\nchord_fraction = 0.1\n\n# webs go here\n[[spar_web]]         " in text


@pytest.mark.parametrize(
    ("changes", "behind", "before"),
    [
        ({"aircraft.load_factor": 5.0}, 'name = "Finch"   # Fink\n\n', "\n[[station]]\n"),
        ({"slots.width_mm": 0.1}, "# angle_deg = 45.0\n\n", "\n# webs go here\n"),
        ({"duct": [{"diameter_mm": 4.0}, {"diameter_mm": 5.0}]}, "to_mm = 420.0\n\n", "\n# the end\n"),
        ({"print.bead_mm": 0.5}, "to_mm = 420.0\n\n", "\n# the end\n"),
        ({"format": 1}, "# Fink\n", "\n[[station]]\n"),
    ],
)
def test_new_tables_go_where_they_usually_stand(changes: dict[str, Any], behind: str, before: str) -> None:
    text = edited_spec(SPEC, changes)
    gone, new = changed_lines(SPEC, text)
    assert gone == []
    first = text.index(behind) + len(behind)
    last = text.index(before, first)
    assert set(new) <= set(text[first:last].splitlines())


def test_tables_between_two_of_a_list_stay_in_place() -> None:
    text = "[[tube]] # a\nto_mm = 1\n[[spar_web]] # b\ny = 1\n# c\n[[tube]] # d\nto_mm = 2\n# e\n[ribs]\n"
    assert edited_spec(text, {"tube[1].to_mm": 3}) == text.replace("to_mm = 2", "to_mm = 3")
    more = edited_spec(text, {"tube": [{"to_mm": 1}, {"to_mm": 2}, {"to_mm": 4}]})
    assert more == text.replace("# e\n", "\n[[tube]]\nto_mm = 4\n\n# e\n")
    fewer = edited_spec(text, {"tube": [{"to_mm": 2}]})
    assert fewer == text.removeprefix("[[tube]] # a\nto_mm = 1\n")


@pytest.mark.parametrize(
    ("text", "changes", "wanted"),
    [
        ('ribs = {run = "aft", a=1}  # c\n', {"ribs.run": "both"}, 'ribs = {run = "both", a=1} # c\n'),
        ("ribs = { a = 1 } # c\n", {"ribs": None}, ""),
        ('ribs.run = "aft"  # c\n', {"ribs.run": "both"}, 'ribs.run = "both" # c\n'),
        ('ribs.run = "aft" # c\n', {"ribs.a": 1.0}, 'ribs.run = "aft" # c\nribs.a = 1.0\n'),
        ("ribs . 'run' = 1\nx = 1\n", {"ribs.a": 2}, "ribs . 'run' = 1\nribs.a = 2\nx = 1\n"),
        ("ribs.a = 1\nribs.b = 2\n", {"ribs.a": None}, "ribs.b = 2\n"),
        ("ribs.a = 1\n", {"ribs.a": None}, "[ribs]\n"),
        ("[ribs]\na.b = 1\n", {"ribs.a.c": 2}, "[ribs]\na.b = 1\na.c = 2\n"),
        ("w = [{y=1}, {y=2}] # c\n", {"w[1].y": 3}, "w = [{y=1}, {y=3}] # c\n"),
        ("w = [{y=1}]\n", {"w": [{"y": 2}, {"z": "a"}]}, 'w = [{y = 2}, {z = "a"}]\n'),
        ("w = [ # a\n  1.0, # b\n] # c\n", {"w": [2.0]}, "# a\n# b\nw = [2.0] # c\n"),
        ("w = [{y=1}]\n", {"w": []}, ""),
        ("w = []\n", {"w": [{"y": 1}]}, "w = [{y = 1}]\n"),
        ("[panels]\nj = [1.0] # c\n", {"panels.j": []}, "[panels]\nj = [] # c\n"),
        ("  [ ribs ]\n  a = 1\n", {"ribs.b": 2}, "  [ ribs ]\n  a = 1\n  b = 2\n"),
        ("[ribs]\na = '''\n[x]\ny = 1\n''' # c\n", {"ribs.a": "z"}, '[ribs]\na = "z" # c\n'),
        ("[ribs]\na = '''\n[x]\n# '''\n", {"ribs.b": 1}, "[ribs]\na = '''\n[x]\n# '''\nb = 1\n"),
        ('a = """x""""" # c\nb = 1\n', {"b": 2}, 'a = """x""""" # c\nb = 2\n'),
        ('a = """x"""" # "["\nb = 1\n', {"b": 2}, 'a = """x"""" # "["\nb = 2\n'),
        ("a = '''x''''' # '['\nb = 1\n", {"b": 2}, "a = '''x''''' # '['\nb = 2\n"),
        ("a = '''x'''' # '['\nb = 1\n", {"b": 2}, "a = '''x'''' # '['\nb = 2\n"),
        ('a = "#[" # c\nb = \'"\'\n', {"b": "]"}, 'a = "#[" # c\nb = "]"\n'),
        ("# c\n[ribs]\n", {"name": "a"}, '# c\nname = "a"\n\n[ribs]\n'),
        ("# c\n\n[ribs]\n", {"name": "a"}, '# c\nname = "a"\n\n[ribs]\n'),
        ("[ribs]\na = 1\n", {"ribs": {"b": 1}}, "[ribs]\nb = 1\n"),
        ("[ribs]\na = 1\n", {"ribs": {}}, "[ribs]\n"),
        ("a = 1\n", {"a": {"b": 1}}, "\n[a]\nb = 1\n"),
        ("[[a]]\nb = 1\n[a.c]\nd = 1\n", {"a[0].c.d": 2}, "[[a]]\nb = 1\n[a.c]\nd = 2\n"),
        ("[[a]]\nb = 1\n[a.c]\nd = 1\n", {"a[0].e": 2}, "[[a]]\nb = 1\ne = 2\n[a.c]\nd = 1\n"),
        ("[[a]]\n[[a]]\n[a.c]\nd = 1\n", {"a[1].c.d": 2}, "[[a]]\n[[a]]\n[a.c]\nd = 2\n"),
        ("a = 1\n# on a\n\n[b]\n", {"name": "c"}, 'a = 1\nname = "c"\n# on a\n\n[b]\n'),
        ("[ribs]\n[y]\na = 1\n", {"x.a": 1}, "[ribs]\n[y]\na = 1\n\n[x]\na = 1\n"),
        ("[y]\n\n# far\n\n# near\n[a]\n[b]\n", {"a": None}, "[y]\n\n# far\n\n[b]\n"),
        ("[a.c]\nd = 1\n", {"a.c": None}, "[a]\n"),
        ("name = 'Täl ⟂'\n", {"name": 'Å "\\\n\x7f'}, 'name = "Å \\"\\\\\\n\\u007f"\n'),
        ("[a]\nb = 1\n[z]\n", {"a": 2}, "a = 2\n\n[z]\n"),
    ],
)
def test_other_ways_to_write(text: str, changes: dict[str, Any], wanted: str) -> None:
    assert edited_spec(text, changes).strip() == wanted.strip()
    # the same with the line ends of another system, without a last one, and with a byte order mark
    windows = edited_spec(text.replace("\n", "\r\n"), changes)
    assert windows == edited_spec(text, changes).replace("\n", "\r\n")
    assert edited_spec(text.removesuffix("\n"), changes) == edited_spec(text, changes).removesuffix("\n")
    assert edited_spec("\ufeff" + text, changes) == edited_spec(text, changes)


def test_keys_of_tables_on_one_line_come_and_go() -> None:
    text = "ribs = {a=1} # c\n[wing]\nx = { a = 1, b = 2 }\n"
    new = edited_spec(text, {"ribs.b": 2.5, "wing.x.a": None, "wing.x.c.d": 3})
    assert tomllib.loads(new) == {"ribs": {"a": 1, "b": 2.5}, "wing": {"x": {"b": 2, "c": {"d": 3}}}}
    assert len(new.splitlines()) == 3
    assert new.splitlines()[0].endswith("} # c")


def test_line_ends_that_are_mixed_become_those_of_most_lines() -> None:
    assert edited_spec("a = 1\r\nb = 2\r\nc = 3\n", {"b": 4}) == "a = 1\r\nb = 4\r\nc = 3\r\n"
    assert edited_spec("a = 1\r\nb = 2\nc = 3\n", {"b": 4}) == "a = 1\nb = 4\nc = 3\n"


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (25.0, "25.0"),
        (0.1, "0.1"),
        (1e-7, "1e-07"),
        (3, "3"),
        (True, "true"),
        (np.float64(0.45), "0.45"),
        (np.float32(0.5), "0.5"),
        (np.int64(3), "3"),
        ((25.0, (1.5, "a")), '[25.0, [1.5, "a"]]'),
        ({"b": {"c": [1]}}, "{c = [1]}"),
    ],
)
def test_values_are_as_short_as_they_are(value: Any, written: str) -> None:
    inline = edited_spec("[t]\na = {b = 2}\n" if isinstance(value, dict) else "[t]\na = 0\n", {"t.a": value})
    assert f" = {written}" in inline


def test_true_is_not_one() -> None:
    assert edited_spec("a = true\n", {"a": 1}) == "a = 1\n"
    assert edited_spec("a = 1\n", {"a": True}) == "a = true\n"


def test_heading_stands_at_the_top_and_stays_a_comment() -> None:
    text = edited_spec(SPEC, {}, heading=["Lighter: 31 g", "", "two\nname = 'x'\r\x1b[31m\u2028", "Ü"])
    head = "# Lighter: 31 g\n#\n# two?name = 'x'??[31m?\n# Ü\n"
    assert text == head + SPEC
    assert edited_spec("a = 1\n", {}, heading=["b"]) == "# b\n\na = 1\n"
    assert edited_spec("\ufeff# a\r\nb = 1\r\n", {}, heading=["c"]) == "# c\r\n# a\r\nb = 1\r\n"


def test_changes_are_made_in_order() -> None:
    text = edited_spec(SPEC, {"tube": [{"to_mm": 1.0}, {"to_mm": 2.0}], "tube[1].to_mm": 3.0, "ribs": None})
    assert tomllib.loads(text)["tube"] == [{"to_mm": 1.0}, {"to_mm": 3.0}]


def test_the_starter_and_an_example_are_still_good_specs(tmp_path: Path) -> None:
    changes = {
        "ribs.run": "aft",
        "ribs.pitch_mm": 41.0,
        "print.bead_mm": 0.5,
        "spar_web": [{"chord_fraction": 0.25, "from_mm": 0.0, "to_mm": 200.0}],
        "tube": None,
        "freedom.webs": 0,
    }
    for text in (osier(), starter_spec()):
        path = tmp_path / "spec.toml"
        path.write_bytes(edited_spec(text, changes, heading=["Lighter"]).encode())
        spec = load_spec(path)
        assert (spec.ribs.pitch_mm, spec.print.bead_mm, spec.tubes) == (41.0, 0.5, ())
        assert [web.chord_fraction for web in spec.spar_webs] == [0.25]


@pytest.mark.parametrize("key", ["", "a..b", "a b", "tube[0]", "tube[x].a", "a.b[1]", "[0].a", "a]"])
def test_key_paths_that_are_none(key: str) -> None:
    with pytest.raises(ValueError, match="key path: got"):
        edited_spec(SPEC, {key: 1})


def test_values_that_cannot_be_written() -> None:
    with pytest.raises(ValueError, match=r"ribs\.pitch_mm: got nan; allowed: finite"):
        edited_spec(SPEC, {"ribs.pitch_mm": float("nan")})
    with pytest.raises(ValueError, match=r"there is no item 3"):
        edited_spec(SPEC, {"tube[3].to_mm": 1.0})
    for value in (object(), [None], {"a": b"x"}):
        with pytest.raises(TypeError, match="allowed: texts, numbers"):
            edited_spec(SPEC, {"ribs.a": value})


def test_a_text_that_is_no_toml() -> None:
    with pytest.raises(SpecError, match="broken TOML at line 1"):
        edited_spec("a = = 1\n", {"a": 2})


def test_a_fault_of_the_editing_itself_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """It must reach the user as a fault of the program, not of the input."""
    monkeypatch.setattr(editing, "_changed", lambda text, path, value: text)
    with pytest.raises(WingpathError, match="does not hold what was asked for: ribs") as caught:
        edited_spec(SPEC, {"ribs.pitch_mm": 1.0})
    assert not isinstance(caught.value, InputError | FileAccessError)
    monkeypatch.setattr(editing, "_changed", lambda text, path, value: text + "a = \n")
    with pytest.raises(WingpathError, match="no TOML any more"):
        edited_spec(SPEC, {"ribs.pitch_mm": 1.0})


def test_a_long_block_of_text_is_passed_over_whole() -> None:
    block = "G1 X1 ; [a] {b} \"c\" 'd' # e\n" * 3000
    text = f"[printer]\nstart_block = '''\n{block}'''\n[ribs]\n".replace("'d'", '"d"')
    assert parse_toml(edited_spec(text, {"ribs.a": 1}))["ribs"] == {"a": 1}
