"""Spec files that went wrong: keys, types, sizes, encodings, nesting."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass

GOOD = """\
name = "Bittern 80"

[aircraft]
all_up_mass_g = 300.0
load_factor = 5.0

[[station]]
span_mm = 0.0
chord_mm = 60.0
airfoil = "naca2412"

[[station]]
span_mm = 24.0
chord_mm = 50.0
leading_edge_mm = 3.0
twist_deg = -1.0
airfoil = "naca2412"

[wing]
hand = "left"
tip = "open"

[ribs]
run = "both"
pitch_mm = 18.0
angle_deg = 45.0

[slots]
width_mm = 0.08

[[spar_web]]
chord_fraction = 0.6
from_mm = 2.0
to_mm = 22.0

[[tube]]
outer_mm = 3.0
to_mm = 20.0
chord_fraction = 0.3
clearance_mm = 0.2

[[item]]
name = "lead"
mass_g = 2.0
span_mm = 10.0

[panels]
joints_mm = []

[print]
bead_mm = 0.5
layer_mm = 0.4

[printer]
profile = "bed-220"

[filament]
profile = "foaming-pla"
"""
"""A wing that builds in a third of a second, with a value of every type."""

LINE = re.compile(r"^(\w+) = (.+)$", re.MULTILINE)

ODD_NUMBERS = (
    *("nan", "inf", "-inf", "+nan", "1e400", "-1e308", "9" * 400, "-" + "9" * 30, "0x7fffffffffffffffff"),
    *("1e-320", "-0.0", "0", "5e-324", "1_000_000_000", "4294967296", "-1", "1e9"),
)

ODD_TEXTS = (
    *("../../etc/passwd", "/etc/passwd", r"C:\\x.dat", "~/x.toml", "$HOME", "`id`", "$(id)", "; rm -rf x"),
    *("<script>alert(1)</script>", "{{7*7}}", "%n%s", r"\u202eabc", r"\u0007", "con", "-", "--help"),
    *("../canary.dat", "../canary.toml", "file:///etc/passwd", r"\\\\host\\share\\a.dat", r"a\tb", " "),
    *("x/../y.dat", "spec.toml", "spec.toml/x.toml", "in/../../canary.toml", "."),
)
"""As TOML writes them between quotes."""

ODD_BYTES = (b"\x00", b"\r", b"\x1b[31m", b'"""', b"'''", b"#", b"=", b"[[", b"\xff")

ENCODINGS = (
    *("utf-16", "utf-16-le", "utf-32", "latin-1", "cp1252", "utf-8-sig", "crlf", "cr", "utf-7", "ebcdic"),
)

FILE = ("the file",)
"""What a refusal names that concerns no key."""


@dataclass(frozen=True, slots=True)
class Mutated:
    """A damaged file: what was done, its bytes, and the words one of which a refusal has to hold.

    `refused` tells whether it must be refused; else it may as well be built.
    """

    words: str
    data: bytes
    names: tuple[str, ...]
    refused: bool


Mutator = Callable[[random.Random], Mutated]


def _pick(rng: random.Random) -> re.Match[str]:
    return rng.choice(list(LINE.finditer(GOOD)))


def _swapped(found: re.Match[str], text: str) -> str:
    return GOOD[: found.start()] + text + GOOD[found.end() :]


def wrong_type(rng: random.Random) -> Mutated:
    """A value of another type."""
    found = _pick(rng)
    key, value = found[1], found[2]
    text = value.startswith('"')
    others = ["true", "[1, 2]", "{ a = 1 }", "1979-05-27", "07:32:00", "[[1], [2]]", '[{ a = "b" }]', "{}"]
    others += ["12.5", "-3"] if text else ['"12"', '"a lot"', '""']
    return Mutated(f"type: {key}", _swapped(found, f"{key} = {rng.choice(others)}").encode(), (key,), True)


def odd_number(rng: random.Random) -> Mutated:
    """A number that no wing has, or that is none."""
    numbers = [found for found in LINE.finditer(GOOD) if found[2].replace(".", "").lstrip("-").isdigit()]
    found = rng.choice(numbers)
    odd = rng.choice(ODD_NUMBERS)
    text = _swapped(found, f"{found[1]} = {odd}")
    # a few of them are legal for a few keys
    return Mutated(f"number: {found[1]} = {odd[:20]}", text.encode(), (found[1],), False)


def comma(rng: random.Random) -> Mutated:
    """A decimal comma."""
    found = rng.choice([one for one in LINE.finditer(GOOD) if re.fullmatch(r"-?\d+\.\d+", one[2])])
    line = GOOD.count("\n", 0, found.start()) + 1
    text = _swapped(found, f"{found[1]} = {found[2].replace('.', ',')}")
    return Mutated(f"comma: {found[1]}", text.encode(), (f"line {line}",), True)


def unknown_key(rng: random.Random) -> Mutated:
    """A key with a letter wrong, or in the wrong table."""
    found = _pick(rng)
    key = found[1]
    place = rng.randrange(len(key))
    less, more = key[:place] + key[place + 1 :], key[:place] + "x" + key[place:]
    wrong = rng.choice([less, more, key.upper(), f"{key}s"])
    if wrong in ("", key):
        wrong = "x" + key
    return Mutated(f"key: {wrong}", _swapped(found, f"{wrong} = {found[2]}").encode(), (wrong,), True)


def dropped_key(rng: random.Random) -> Mutated:
    """A line missing."""
    found = _pick(rng)
    needed = found[1] in ("span_mm", "chord_mm", "all_up_mass_g", "mass_g")
    return Mutated(
        f"dropped: {found[1]}", _swapped(found, "").encode(), (found[1], "station", "tube"), needed
    )


def duplicate_key(rng: random.Random) -> Mutated:
    """A key twice in one table."""
    found = _pick(rng)
    text = _swapped(found, f"{found[0]}\n{found[0]}")
    return Mutated(f"twice: {found[1]}", text.encode(), (found[1], "line "), True)


def duplicate_table(rng: random.Random) -> Mutated:
    """A table twice."""
    name = rng.choice(["wing", "ribs", "slots", "print", "printer", "aircraft"])
    return Mutated(f"table twice: {name}", f"{GOOD}\n[{name}]\n".encode(), (name, "line "), True)


def brackets(rng: random.Random) -> Mutated:
    """Single brackets where double ones belong, and the reverse."""
    name = rng.choice(["ribs", "wing", "slots", "panels", "print", "spar_web", "tube", "item"])
    many = f"[[{name}]]" in GOOD
    text = GOOD.replace(f"[[{name}]]", f"[{name}]") if many else GOOD.replace(f"[{name}]", f"[[{name}]]")
    return Mutated(f"brackets: {name}", text.encode(), (name,), True)


def long_text(rng: random.Random) -> Mutated:
    """A text of up to ten million letters."""
    found = rng.choice([one for one in LINE.finditer(GOOD) if one[2].startswith('"')])
    length = rng.choice([500, 10_000, 900_000, 10_000_000])
    letter = rng.choice(["x", "/", ".", "../", "ü", "\\\\", "{", "<b>", "𝔸", "%s", "\\u0000", " "])
    text = _swapped(found, f'{found[1]} = "{letter * (length // len(letter))}"')
    return Mutated(f"long text: {found[1]}, {length} of {letter}", text.encode(), (found[1], *FILE), True)


def odd_text(rng: random.Random) -> Mutated:
    """A text that is a path, a format or markup."""
    found = rng.choice([one for one in LINE.finditer(GOOD) if one[2].startswith('"')])
    odd = rng.choice(ODD_TEXTS)
    text = _swapped(found, f'{found[1]} = "{odd}"')
    return Mutated(f"odd text: {found[1]} = {odd}", text.encode(), (found[1],), found[1] != "name")


def many(rng: random.Random) -> Mutated:
    """One table very many times."""
    blocks = {
        "station": "[[station]]\nspan_mm = 1.0\nchord_mm = 50.0\n",
        "spar_web": "[[spar_web]]\nchord_fraction = 0.5\n",
        "tube": "[[tube]]\nouter_mm = 1.0\nto_mm = 5.0\nchord_fraction = 0.5\n",
        "aileron": "[[aileron]]\nfrom_mm = 1.0\nto_mm = 9.0\nhinge_fraction = 0.7\n",
        "item": '[[item]]\nname = "a"\nmass_g = 1.0\nspan_mm = 1.0\n',
    }
    name = rng.choice(list(blocks))
    count = rng.choice([300, 3000, 15_000, 60_000])
    return Mutated(f"many: {count} {name}", (GOOD + blocks[name] * count).encode(), (name, *FILE), True)


def deep(rng: random.Random) -> Mutated:
    """Lists, tables or keys nested very deeply."""
    count = rng.choice([40, 400, 5_000, 100_000])
    key = rng.choice(["name", "ribs2", "x"])
    text = rng.choice(
        [
            f"{key} = {'[' * count}{']' * count}\n",
            f"{key} = {'{a=' * count}1{'}' * count}\n",
            f"{'.'.join(['a'] * count)} = 1\n",
            f"[{'.'.join(['a'] * count)}]\nb = 1\n",
            f"{key} = {'[' * count}\n",
        ]
    )
    if text.startswith("["):
        return Mutated(f"deep: header {count}", (GOOD + text).encode(), ("a", *FILE), True)
    return Mutated(f"deep: {text[:12]} {count}", (text + GOOD).encode(), (key, "a", *FILE), True)


def encoding(rng: random.Random) -> Mutated:
    """Another encoding, a byte order mark, other line ends."""
    name = rng.choice(ENCODINGS)
    text = GOOD.replace("Bittern", "Fl\u00fcgel")
    if name == "crlf":
        return Mutated("encoding: crlf", text.replace("\n", "\r\n").encode(), (), False)
    if name == "cr":
        return Mutated("encoding: cr", text.replace("\n", "\r").encode(), ("line 1",), True)
    data = text.encode("cp500" if name == "ebcdic" else name)
    return Mutated(f"encoding: {name}", data, FILE, name != "utf-8-sig" and name != "utf-7")


def bytes_changed(rng: random.Random) -> Mutated:
    """Bytes changed, lost or put in at random."""
    data = bytearray(GOOD.encode())
    for _ in range(rng.choice([1, 1, 3, 20])):
        place = rng.randrange(len(data))
        kind = rng.randrange(4)
        if kind == 0:
            data[place] = rng.randrange(256)
        elif kind == 1:
            del data[place : place + rng.choice([1, 1, 10, 200])]
        elif kind == 2:
            data[place:place] = bytes(rng.randrange(256) for _ in range(rng.choice([1, 4])))
        else:
            data[place:place] = rng.choice(ODD_BYTES)
        if not data:
            break
    return Mutated("bytes", bytes(data), (), False)


def cut(rng: random.Random) -> Mutated:
    """The end lost."""
    data = GOOD.encode()
    end = rng.randrange(len(data))
    return Mutated(f"cut: at {end}", data[:end], (), False)


def lines_shuffled(rng: random.Random) -> Mutated:
    """Lines in another order, or repeated."""
    lines = GOOD.splitlines()
    for _ in range(rng.choice([1, 2, 10])):
        a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
        if rng.random() < 0.5:
            lines[a], lines[b] = lines[b], lines[a]
        else:
            lines.insert(a, lines[b])
    return Mutated("lines", "\n".join(lines).encode(), (), False)


def noise(rng: random.Random) -> Mutated:
    """No TOML at all."""
    kind = rng.randrange(6)
    data = [
        b"",
        rng.randbytes(rng.choice([1, 100, 100_000])),
        b"\x00" * 5000,
        b'{"name": "wing", "station": []}',
        b"<?xml version='1.0'?><!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]><a>&b;</a>",
        b"solid x\nendsolid x\n" * 1000,
    ][kind]
    return Mutated(f"noise: {kind}", data, ("line", "station", *FILE), True)


MUTATORS: tuple[Mutator, ...] = (
    wrong_type,
    odd_number,
    comma,
    unknown_key,
    dropped_key,
    duplicate_key,
    duplicate_table,
    brackets,
    long_text,
    odd_text,
    many,
    deep,
    encoding,
    bytes_changed,
    cut,
    lines_shuffled,
    noise,
)


def mutated(rng: random.Random) -> Mutated:
    """Return one damaged file."""
    return rng.choice(MUTATORS)(rng)
