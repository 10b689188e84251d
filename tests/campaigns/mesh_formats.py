"""What may be wrong with a mesh file as such: its bytes, numbers, numbering, and the package that it is."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

import numpy as np
from mesh_packages import PACKAGE_ATTACKS, Attack
from mesh_parts import (
    WRITERS,
    Soup,
    binary_stl,
    mesh_xml,
    model_xml,
    obj,
    package,
    text_stl,
)


def _bytes(rng: random.Random, count: int) -> bytes:
    return bytes(rng.randrange(256) for _ in range(count))


def _any_file(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name = rng.choice(sorted(WRITERS))
    return name, WRITERS[name](soup)


def cut_off(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name, data = _any_file(rng, soup)
    return name, data[: rng.choice([rng.randrange(200), rng.randrange(len(data)), len(data) - 1])]


def trailing(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name, data = _any_file(rng, soup)
    return name, data + rng.choice([b"\0" * 10, b"\n" * 100, b"\x1a", _bytes(rng, rng.randint(1, 400)), data])


def leading(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name, data = _any_file(rng, soup)
    return name, rng.choice(
        [b"\xef\xbb\xbf", b"\n\n", b"\0", b"#x\n", _bytes(rng, rng.randint(1, 90))]
    ) + data


def smashed(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name, data = _any_file(rng, soup)
    held = bytearray(data)
    for _ in range(rng.choice([1, 3, 30, 300])):
        held[rng.randrange(len(held))] = rng.randrange(256)
    return name, bytes(held)


def spliced(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name, data = _any_file(rng, soup)
    a, b = sorted(rng.randrange(len(data)) for _ in range(2))
    return name, rng.choice([data[:a] + data[b:], data[:b] + data[a:], data[a:] + data[:a]])


def wrong_ending(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    _, data = _any_file(rng, soup)
    return rng.choice(["part.stl", "part.obj", "part.3mf", "part.STL", "part", "part.txt", "part.ply"]), data


def rubbish(rng: random.Random, _soup: Soup) -> tuple[str, bytes]:
    data = rng.choice(
        [
            b"",
            b"\x00" * 84,
            b"solid",
            b"solid\n",
            b"PK",
            b"PK\x03\x04" + _bytes(rng, 90),
            _bytes(rng, 500),
            b"\n" * 5000,
            b"v 1 2 3\n",
            b"f 1 2 3\n",
            b"facet",
            b"\xff\xfe" + _bytes(rng, 99),
            b"\xfe\xff",
            b"#",
            b"solid x\nendsolid x\n",
            b"solid x\nfacet\nendfacet\n",
            b"a " * 40000,
            b"vertex 1 2 3\n" * 9,
        ]
    )
    return rng.choice(["part.stl", "part.obj", "part.3mf"]), data


def utf16(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    name, data = rng.choice([("text.stl", text_stl(soup)), ("part.obj", obj(soup))])
    text = data.decode()
    return name, text.encode(rng.choice(["utf-16", "utf-16-be", "utf-16-le", "utf-32"]))


# --- STL ----------------------------------------------------------------------------------------------------


def lying_count(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    count = rng.choice([0, 1, len(soup) - 1, len(soup) + 1, 2**31, 2**32 - 1, 10**9, 2 * len(soup)])
    return "part.stl", binary_stl(soup, count=count)


def solid_header(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    header = rng.choice([b"solid part", b"solid \nfacet normal 0 0 0", b"SOLID", b"v 1 2 3\n", b"PK\x03\x04"])
    return "part.stl", binary_stl(soup, header=header, tail=rng.choice([b"", b"x"]))


def odd_attributes(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    data = bytearray(binary_stl(soup))
    for row in range(len(soup)):
        struct.pack_into("<H", data, 84 + 50 * row + 48, rng.randrange(65536))
        struct.pack_into("<f", data, 84 + 50 * row, rng.choice([float("nan"), float("inf"), 1e38]))
    return "part.stl", bytes(data)


def odd_text(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    data = text_stl(soup, end=rng.choice(["\n", "\r\n", "\r", "\n\n", " ", "\t\n"]))
    old, new = rng.choice(
        [
            (b"vertex", b"VERTEX"),
            (b"facet", b"Facet"),
            (b"endsolid part", b""),
            (b"endfacet", b"end facet"),
            (b"  vertex", b"vertex"),
            (b" outer loop", b""),
            (b"vertex ", b"vertex\t"),
            (b"facet normal 0 0 0", b"facet normal nan nan nan"),
            (b"facet normal 0 0 0", b"facet"),
            (b"solid part", b"solid caf\xe9 facet vertex 1 2 3"),
        ]
    )
    return "text.stl", data.replace(old, new)


def torn_text(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    lines = text_stl(soup).split(b"\n")
    for _ in range(rng.randint(1, 4)):
        row = rng.randrange(len(lines))
        kind = rng.randrange(4)
        if kind == 0:
            del lines[row]
        elif kind == 1:
            lines.insert(row, lines[rng.randrange(len(lines))])
        elif kind == 2:
            lines[row] = lines[row][: rng.randrange(len(lines[row]) + 1)]
        else:
            lines[row] += b" " + lines[rng.randrange(len(lines))]
    return "text.stl", b"\n".join(lines)


FORMS: tuple[Callable[[float], str], ...] = (
    lambda v: f"{v:.6e}",
    lambda v: f"{v:+.9f}",
    lambda v: f"{v:.7g}".replace(".", ","),
    lambda v: f"{v:.4E}".replace("E", "D"),
    lambda v: f"{v:.3f}f",
    lambda v: f"{v * 1e300:.6e}",
    lambda v: f"{v:.2e}e5",
    lambda v: float(v).hex(),
    lambda v: "NaN" if v > 5.0 else f"{v:g}",
    lambda v: "1e999" if v > 5.0 else f"{v:g}",
    lambda v: f"{int(v):_}" if abs(v) > 1.0 else f"{v:g}",
    lambda v: f"{v:.3f}".translate(str.maketrans("0123456789", "٠١٢٣٤٥٦٧٨٩")),
    lambda v: "-.5" if v < 0.0 else f"{v:.4f}".lstrip("0") or "0",
    lambda v: "9" * 5000 if v > 5.0 else f"{v:g}",
    lambda v: f"{v:.300f}",
    lambda v: "",
)


def number_forms(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    form = rng.choice(FORMS)
    kind = rng.randrange(3)
    if kind == 0:
        return "text.stl", text_stl(soup, form=form)
    if kind == 1:
        return "part.obj", obj(soup, form=form)
    body = mesh_xml(soup, form=form)
    return "part.3mf", package(model=model_xml(f'<object id="1">{body}</object>', '<item objectid="1"/>'))


# --- OBJ ----------------------------------------------------------------------------------------------------


def obj_numbers(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    lines = obj(soup).decode().splitlines()
    rows = [row for row, line in enumerate(lines) if line.startswith("f ")]
    wrong = rng.choice(
        ["0", "-1", "999999", "-999999", str(2**31), str(2**63), str(-(2**70)), "1.5", "1e3", "x"]
    )
    wrong = rng.choice(
        [wrong, f"{wrong}/1/1", f"1/{wrong}", "//", "/", "1//", "1/2/3/4", "\u0661", "9" * 5000]
    )
    for row in rng.sample(rows, rng.randint(1, 3)):
        words = lines[row].split()
        words[rng.randint(1, 3)] = wrong
        lines[row] = " ".join(words)
    return "part.obj", "\n".join(lines).encode()


def obj_polygons(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    """Caps of thousands of corners, some bent, on walls of four."""
    count = rng.choice([3, 4, 5, 50, 1000, 5000])
    turn = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    radius = 9.0 * (1.0 + rng.choice([0.0, 0.0, 0.4]) * np.cos(5.0 * turn))
    low = [f"v {r * np.cos(t):.6f} {r * np.sin(t):.6f} 0" for r, t in zip(radius, turn, strict=True)]
    high = [line.rsplit(" ", 1)[0] + " 4" for line in low]
    walls = [
        f"f {a + 1} {(a + 1) % count + 1} {count + (a + 1) % count + 1} {count + a + 1}" for a in range(count)
    ]
    caps = ["f " + " ".join(str(a) for a in range(count, 0, -1))]
    caps += ["f " + " ".join(str(count + a) for a in range(1, count + 1))]
    if rng.random() < 0.3:
        caps += ["f 1 2", "f 1", "f"][: rng.randint(1, 3)]
    return "part.obj", "\n".join([*low, *high, *walls, *caps]).encode()


def obj_extras(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    extra = rng.choice(
        [
            "mtllib ../canary.txt",
            "mtllib /etc/passwd",
            "mtllib C:\\secret.mtl",
            "mtllib http://127.0.0.1/x.mtl",
            "usemtl ../../x",
            "call ../canary.txt",
            "csh touch pwned",
            "g \u0000\u0007",
            "o \x1b[31m",
            "vn 0 0 1\nvt nan nan",
            "l 1 2 3\np 1",
            "s off \\",
            "v 1 2 3 4 5 6 7 8",
            "v 1 2",
            "curv 0 1 1 2 3",
            "f 1 2 3 \\\n 1",
            "#" + "x" * 100_000,
            "v " + "1 " * 50_000,
            "f " + "1 " * 50_000,
        ]
    )
    data = obj(soup).decode().splitlines()
    data.insert(rng.choice([0, len(data) // 2, len(data)]), extra)
    return "part.obj", "\n".join(data).encode("utf-8", "replace")


ATTACKS: tuple[Attack, ...] = (
    cut_off,
    trailing,
    leading,
    smashed,
    spliced,
    wrong_ending,
    rubbish,
    utf16,
    lying_count,
    solid_header,
    odd_attributes,
    odd_text,
    torn_text,
    number_forms,
    obj_numbers,
    obj_polygons,
    obj_extras,
    *PACKAGE_ATTACKS,
)
