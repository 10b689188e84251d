"""Texts of specs, profiles, coordinate files and measurements stay texts.

They must not become markup in a page, commands in a program, or files read or written elsewhere; and no
process is started and no connection made, whatever they say.
"""

from __future__ import annotations

import re
import zipfile
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from command_line import Ran, run_command
from harness import Bounds, Case, Outcome, run_cases

from wingpath.io.airfoil_dat import read_airfoil
from wingpath.io.profile_store import profiles_folder

EVIL = """\"'><evil src=x onerror=1>&amp;{{7*7}}{%x%}</evil></script></pre></svg>]]>--><evil2 a='b"""
"""Closes what it may stand in, and opens elements of its own."""

TOML_EVIL = EVIL.replace("\\", "\\\\").replace('"', '\\"')

SPEC = f"""\
name = "{TOML_EVIL[:75]}"
[aircraft]
all_up_mass_g = 200
[[station]]
span_mm = 0
chord_mm = 60
airfoil = "own.dat"
[[station]]
span_mm = 30
chord_mm = 55
airfoil = "own.dat"
[ribs]
pitch_mm = 18
[panels]
joints_mm = []
[[item]]
name = "{TOML_EVIL[:55]}"
mass_g = 1
span_mm = 10
[[tube]]
outer_mm = 3
to_mm = 20
chord_fraction = 0.3
material = "own-tube.toml"
[printer]
profile = "own-printer.toml"
[filament]
profile = "own-filament.toml"
"""

BOUNDS = Bounds(seconds=90.0, peak_mb=1500.0, address_mb=6000.0)
"""Several whole commands in one case; what is looked for here is not time."""

HOSTILE_LINES = re.compile(r"^\s*(?:M104 S399|G1 Z-99)", re.MULTILINE)


def own_profile(kind: str, name: str, own: str) -> bytes:
    """A shipped profile under another name whose texts are hostile."""
    text = (profiles_folder() / kind / f"{name}.toml").read_text(encoding="utf-8")
    text = re.sub(r'(?m)^name = ".*"', f'name = "{own}"', text, count=1)
    text = re.sub(r'(?m)^title = ".*"', lambda _: f'title = "{TOML_EVIL}"', text, count=1)
    text = re.sub(
        r'(?m)^source = ".*"', lambda _: f'source = "{TOML_EVIL}\\nM104 S399\\nG1 Z-99"', text, count=1
    )
    return re.sub(r'note = "[^"]*"', lambda _: f'note = "{TOML_EVIL}\\nM104 S399"', text).encode()


def coordinate_file() -> bytes:
    """A shipped section under a hostile name."""
    lines = (profiles_folder() / "airfoils" / "naca2412.dat").read_text(encoding="utf-8").splitlines()
    points = [line for line in lines if re.match(r"\s*-?\d", line)]
    return "\n".join([EVIL, *points]).encode()


def make_case(seed: int, number: int) -> Case:
    files = {
        "spec.toml": SPEC.encode(),
        "own.dat": coordinate_file(),
        "own-tube.toml": own_profile("tubes", "birch-dowel", "own-tube"),
        "own-printer.toml": own_profile("printers", "bed-220", "own-printer"),
        "own-filament.toml": own_profile("filaments", "foaming-pla", "own-filament"),
    }
    return Case(number, "hostile texts", files)


class Tags(HTMLParser):
    """The elements of a page, and attributes that run something."""

    def __init__(self) -> None:
        super().__init__()
        self.found: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.add(tag)
        self.found |= {name for name, _ in attrs if name.startswith("on")}
        self.found |= {f"{name}={value}" for name, value in attrs if (value or "").startswith("javascript:")}


def page_faults(path: Path) -> list[str]:
    tags = Tags()
    tags.feed(path.read_text(encoding="utf-8"))
    odd = {tag for tag in tags.found if tag.startswith(("evil", "on", "javascript"))}
    return [f"{path.name} holds the elements {sorted(odd)}"] if odd else []


def file_faults(path: Path) -> list[str]:
    """Say what a hostile text has become in a file that was written."""
    if path.suffix == ".html":
        return page_faults(path)
    if path.suffix == ".svg":
        tree = ElementTree.fromstring(path.read_bytes())
        return [f"{path.name} holds an evil element" for one in tree.iter() if "evil" in str(one.tag)]
    if path.suffix == ".3mf":
        with zipfile.ZipFile(path) as packed:
            tree = ElementTree.fromstring(packed.read("3D/3dmodel.model"))
        return [f"{path.name} holds an evil element" for one in tree.iter() if "evil" in str(one.tag)]
    if path.suffix == ".gcode":
        text = path.read_text(encoding="utf-8")
        return [f"{path.name}: a text became a command"] if HOSTILE_LINES.search(text) else []
    return []


def judge(case: Case, folder: Path) -> Outcome:
    faults: list[str] = []

    def run(*words: str, statuses: tuple[int, ...] = (0, 1)) -> Ran:
        ran = run_command(*words)
        if ran.status not in statuses:
            faults.append(f"{words[0]} ended with {ran.status}: {ran.message:.400}")
        stray = {sign for sign in ran.out + ran.err if not (sign.isprintable() or sign in "\n\u00a0\r")}
        if stray:
            faults.append(f"{words[0]} showed control characters {sorted(stray)!r}")
        return ran

    run("build", "spec.toml", "-o", "out", "--picture", "pictures", "--notes")
    run("assess", "spec.toml", "--details")
    run("assess", "spec.toml", "spec.toml", "--json")
    run("check", "out/panel-1-left.stl", "--picture", "layer.svg", "--filament", "own-filament.toml")
    run("check", "out/panel-1-left.gcode", "--printer", "own-printer.toml", "--picture", "path.png")
    tuned = ("--filament", "own-filament.toml", "--printer", "own-printer.toml")
    run("tune", *tuned, "--picture", "window.svg")
    run("tune", *tuned, "-o", "coupon", "--temperatures", "none")
    sheet = folder / "coupon" / "measurements.toml"
    if sheet.is_file():
        text = sheet.read_text(encoding="utf-8")
        text = re.sub(r'(?m)^(printer|spool) = ".*"', lambda m: f'{m[1]} = "{TOML_EVIL}"', text)
        (folder / "read.toml").write_text(text, encoding="utf-8")
        run("tune", "--read", "read.toml", "-o", "profile.toml", statuses=(0, 1, 2))
    written = [path for path in folder.rglob("*") if path.is_file()]
    kinds = {path.suffix for path in written}
    if not {".html", ".svg", ".3mf", ".gcode", ".json", ".pdf"} <= kinds:
        faults.append(f"only files of these kinds were written: {sorted(kinds)}")
    faults += [fault for path in written for fault in file_faults(path)]
    return Outcome("judged", tuple(faults), frozenset(str(path.relative_to(folder)) for path in written))


def test_hostile_texts_stay_texts(tmp_path: Path) -> None:
    summary = run_cases(make_case, judge, name="hostile texts", numbers=[1], bounds=BOUNDS)
    assert summary["failures"] == []
    assert summary["judged"] == 1


def test_the_hostile_section_is_read_with_its_name(tmp_path: Path) -> None:
    (tmp_path / "own.dat").write_bytes(coordinate_file())
    assert "evil" in read_airfoil(tmp_path / "own.dat").name


@pytest.mark.parametrize("kind", ["html", "svg", "gcode"])
def test_what_is_looked_for_would_be_found(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"x.{kind}"
    path.write_text(
        {
            "html": f"<p>{EVIL}</p>",
            "svg": "<svg><evil/></svg>",
            "gcode": "; printer: x\nM104 S399\n",
        }[kind],
        encoding="utf-8",
    )
    assert file_faults(path)
