"""What may be wrong with a 3MF package: its zip, its paths, its XML, its objects."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from typing import Any

from mesh_parts import RELATIONS, Soup, mesh_xml, model_xml, one_object, package, threemf

Attack = Callable[[random.Random, Soup], tuple[str, bytes]]
"""From a part to a file: its name and what it holds."""

SLIM = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"'

ITEM = '<item objectid="1"/>'


def _object(soup: Soup, number: Any = 1, more: str = "") -> str:
    return f'<object id="{number}" type="model"{more}>{mesh_xml(soup)}</object>'


def bomb(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    size = rng.choice([2_000_000, 60_000_000, 300_000_000])
    kind = rng.randrange(4)
    if kind == 0:
        return "part.3mf", package(model=b" " * size)
    if kind == 1:
        return "part.3mf", package(
            model=one_object(soup).replace("<build>", "<!--" + "x" * size + "--><build>")
        )
    if kind == 2:
        return "part.3mf", package([("x.model", b"<" * size)], model=one_object(soup))
    many = '<vertex x="0" y="0" z="0"/>' * (size // 30)
    body = f"<mesh><vertices>{many}</vertices><triangles/></mesh>"
    return "part.3mf", package(model=model_xml(f'<object id="1">{body}</object>', ITEM))


def sly_paths(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    target = rng.choice(
        [
            "../canary.txt",
            "/../../canary.txt",
            "/etc/passwd",
            "C:\\canary.txt",
            "3D\\3dmodel.model",
            "//x/y",
            "file:///etc/passwd",
            "http://127.0.0.1/x.model",
            "",
            "%2e%2e/canary.txt",
            "3D/./3dmodel.model",
            "x\x00y",
        ]
    )
    relations = RELATIONS.replace("/3D/3dmodel.model", target.replace("\0", ""))
    entries: list[tuple[str, bytes | str]] = [
        (
            rng.choice(
                ["../evil.model", "/abs.model", "..\\evil.model", "3D/3dmodel.model", "a/" * 200 + "b"]
            ),
            "x",
        )
    ]
    if target and rng.random() < 0.5:
        entries.append((target.replace("\0", "_"), one_object(soup)))
    return "part.3mf", package(entries, model=one_object(soup), relations=relations)


def entities(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    laughs = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
    doctype = rng.choice(
        [
            f'<!DOCTYPE m [<!ENTITY a0 "ha">{laughs}]>',
            '<!DOCTYPE m [<!ENTITY x SYSTEM "../canary.txt">]>',
            '<!DOCTYPE m SYSTEM "http://127.0.0.1/x.dtd">',
            '<!DOCTYPE m [<!ENTITY % p SYSTEM "file:///etc/passwd">%p;]>',
            "<!DOCTYPE m>",
            f'<!DOCTYPE m [<!ENTITY x "{"y" * 60_000}">]>',
        ]
    )
    text = one_object(soup).replace("<build>", rng.choice(["&a11;<build>", "&x;<build>", "<build>"]))
    text = text.replace("?>", "?>" + doctype, 1)
    return "part.3mf", package(model=text)


def nesting(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    depth = rng.choice([2, 10, 31, 33, 200, 3000])
    kind = rng.randrange(5)
    objects = [_object(soup[:12] if kind else soup)]
    for number in range(2, depth + 2):
        copies = rng.choice([1, 2, 10]) if kind == 1 else 1
        below = f'<component objectid="{number - 1}"/>' * copies
        objects.append(f'<object id="{number}"><components>{below}</components></object>')
    top = depth + 1
    if kind == 2:  # a cycle
        objects.append(f'<object id="1"><components><component objectid="{top}"/></components></object>')
    if kind == 3:
        objects.append('<object id="7"><components><component objectid="7"/></components></object>')
        top = 7
    build = f'<item objectid="{top}"/>' * (rng.choice([1, 3, 300]) if kind == 4 else 1)
    return "part.3mf", package(model=model_xml("".join(objects), build if rng.random() < 0.9 else ""))


def transforms(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    value = rng.choice(
        ["1e300", "1e-300", "nan", "inf", "-1", "0", "1e6", "1e5", "x", "", "1e999", "9" * 400]
    )
    numbers = ["1", "0", "0", "0", "1", "0", "0", "0", "1", "5", "5", "5"]
    for _ in range(rng.choice([1, 1, 3])):
        numbers[rng.randrange(12)] = value
    text = " ".join(numbers[: rng.choice([12, 12, 12, 11, 0])] + rng.choice([[], [], ["1"]]))
    if rng.random() < 0.5:
        return "part.3mf", package(model=model_xml(_object(soup), f'<item objectid="1" transform="{text}"/>'))
    inner = f'<object id="2"><components><component objectid="1" transform="{text}"/></components></object>'
    return "part.3mf", package(
        model=model_xml(_object(soup) + inner, f'<item objectid="2" transform="{text}"/>')
    )


def missing_parts(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    kind = rng.randrange(9)
    if kind == 0:
        return "part.3mf", package(model=one_object(soup), types=False)
    if kind == 1:
        return "part.3mf", package(model=one_object(soup), relations=None)
    if kind == 2:
        return "part.3mf", package()
    if kind == 3:
        return "part.3mf", package(model=one_object(soup), relations="<Relationships/>")
    if kind == 4:
        return "part.3mf", package(model=one_object(soup), relations="<Relationships")
    if kind == 5:
        return "part.3mf", package([("3D/other.model", one_object(soup))], relations=None)
    if kind == 6:
        return "part.3mf", package(model="<x/>")
    if kind == 7:
        return "part.3mf", package(model="")
    return "part.3mf", package([("readme.txt", "no model")], relations=None)


def odd_model(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    text = one_object(soup)
    old, new = rng.choice(
        [
            ('unit="millimeter"', f'unit="{rng.choice(["inch", "foot", "meter", "micron", "centimeter"])}"'),
            ('unit="millimeter"', f'unit="{rng.choice(["parsec", "", "Millimeter", "mm"])}"'),
            ('unit="millimeter"', ""),
            ("xmlns=", "xmlns:x="),
            ('type="model"', f'type="{rng.choice(["support", "other", "surface", "solidsupport", ""])}"'),
            ('objectid="1"', 'objectid="2"'),
            ('objectid="1"', ""),
            ('<object id="1"', "<object"),
            ('<object id="1"', '<object id="x y\u2028"'),
            (' z="', ' q="'),
            ('v1="', 'v9="'),
            ('v1="0"', 'v1="-1"'),
            ('v1="0"', 'v1="99999999999999999999999"'),
            ('v1="0"', 'v1="4000000000"'),
            ("<triangles>", "<triangles/><x>"),
            ("</mesh>", ""),
            ("<mesh>", "<mesh><mesh>"),
            ("</object>", "</object>" + '<object id="1" type="model"/>'),
            ("<resources>", "<resources>" + "<a>" * 20_000),
            ("<build>", f'<build><item objectid="1" {SLIM} p:path="/../canary.txt"/>'),
            ("<build>", f'<build><item objectid="1" {SLIM} p:path="/3D/3dmodel.model"/>'),
            ("<build>", '<build><item objectid="' + "9" * 100_000 + '"/>'),
            ('encoding="UTF-8"', 'encoding="UTF-7"'),
            ('encoding="UTF-8"', 'encoding="ISO-8859-1"'),
            ('encoding="UTF-8"', 'encoding="rot13"'),
            ("?>", '?><?xml-stylesheet href="../canary.txt"?>'),
        ]
    )
    data: str | bytes = text.replace(old, new)
    if rng.random() < 0.1:
        data = text.encode("utf-16")
    return "part.3mf", package(model=data)


def zip_tricks(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    data = bytearray(threemf(soup))
    central = data.rfind(b"PK\x01\x02")
    local = data.rfind(b"PK\x03\x04")
    end = data.rfind(b"PK\x05\x06")
    kind = rng.randrange(9)
    if kind == 0:  # encrypted
        data[local + 6] |= 1
        data[central + 8] |= 1
    elif kind == 1:  # wrong sum
        struct.pack_into("<I", data, central + 16, rng.randrange(2**32))
        struct.pack_into("<I", data, local + 14, rng.randrange(2**32))
    elif kind == 2:  # zip64 marks without the records
        struct.pack_into("<II", data, central + 20, 0xFFFFFFFF, 0xFFFFFFFF)
    elif kind == 3:
        struct.pack_into("<H", data, central + 10, rng.choice([1, 9, 12, 14, 98, 99]))
    elif kind == 4:  # sizes
        struct.pack_into("<I", data, central + rng.choice([20, 24]), rng.choice([0, 1, 2**31, 2**32 - 2]))
    elif kind == 5:
        struct.pack_into("<I", data, end + rng.choice([12, 16]), rng.randrange(2**32))
    elif kind == 6:
        struct.pack_into("<H", data, end + rng.choice([8, 10]), rng.randrange(65536))
    elif kind == 7:
        struct.pack_into("<I", data, central + 42, rng.choice([0, 1, len(data), 2**31]))
    else:
        data += b"x" * rng.choice([1, 22, 70_000])
    return "part.3mf", bytes(data)


def doubled_names(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    other = rng.choice([one_object(soup), one_object(soup[:4]), "<x/>", ""])
    return "part.3mf", package(
        [(rng.choice(["3D/3dmodel.model", "3d/3DMODEL.MODEL", "/3D/3dmodel.model"]), other)],
        model=one_object(soup),
    )


def crowded(rng: random.Random, soup: Soup) -> tuple[str, bytes]:
    count = rng.choice([100, 3000])
    return "part.3mf", package([(f"Metadata/{n}.xml", "x") for n in range(count)], model=one_object(soup))


PACKAGE_ATTACKS: tuple[Attack, ...] = (
    bomb,
    sly_paths,
    entities,
    nesting,
    transforms,
    missing_parts,
    odd_model,
    zip_tricks,
    doubled_names,
    crowded,
)
