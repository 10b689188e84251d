"""What may be wrong with any file of text: its lines, numbers, signs, encoding and line ends."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

__all__ = ["CHANGES", "change_text"]

NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")

ABSURD = (
    *("0", "-0", "-1", "1e308", "1e309", "-1e999", "1e-320", "nan", "NaN", "-nan", "inf", "-inf", "infinity"),
    *(
        "",
        "x",
        "--1",
        "1..2",
        "1,5",
        "1.2.3",
        "0x10",
        "1_000",
        "+5",
        ".5",
        "5.",
        "1e",
        "1e+",
        "٣",
        "½",
        "１２",
    ),
    *(
        "9" * 400,
        "0." + "0" * 400 + "1",
        str(2**63),
        str(-(2**63) - 1),
        "1e5",
        "99999",
        "1e-9",
        "true",
        "[1]",
    ),
)

JUNK = (
    *(
        "",
        " ",
        "\t",
        "x",
        "= = =",
        "[[[",
        "]]]",
        "}}}",
        '"',
        "'''",
        '"""',
        "#",
        ";",
        "//",
        "\\",
        "%",
        "$(touch x)",
    ),
    *(
        "\x00",
        "\x07\x1b[31m",
        "\x1a",
        "\u2028",
        "\u202e",
        "\ufeff",
        "\ud7ff",
        "é",
        "日本",
        "🙂",
        "\r",
        "\x0b\x0c",
    ),
    *("../canary.txt", "/etc/passwd", "C:\\x", "a" * 5000, "(" * 3000, "[" * 3000, "1 " * 3000, "{a=" * 200),
)


def drop_lines(rng: random.Random, lines: list[str]) -> list[str]:
    for _ in range(rng.choice([1, 1, 2, 10])):
        if len(lines) > 1:
            del lines[rng.randrange(len(lines))]
    return lines


def drop_block(rng: random.Random, lines: list[str]) -> list[str]:
    a, b = sorted(rng.randrange(len(lines) + 1) for _ in range(2))
    return lines[:a] + lines[b:]


def double_lines(rng: random.Random, lines: list[str]) -> list[str]:
    for _ in range(rng.choice([1, 1, 3, 30])):
        at = rng.randrange(len(lines))
        lines[at:at] = [lines[at]] * rng.choice([1, 1, 2, 50])
    return lines


def move_lines(rng: random.Random, lines: list[str]) -> list[str]:
    for _ in range(rng.choice([1, 3, 20])):
        a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
        lines[a], lines[b] = lines[b], lines[a]
    return lines


def turn_round(rng: random.Random, lines: list[str]) -> list[str]:
    head = rng.choice([0, 1, 3])
    return lines[:head] + lines[head:][::-1]


def join_lines(rng: random.Random, lines: list[str]) -> list[str]:
    at = rng.randrange(len(lines))
    stop = at + rng.choice([2, 2, 5, 500])
    return [*lines[:at], rng.choice(["", " ", "\t"]).join(lines[at:stop]), *lines[stop:]]


def cut_lines(rng: random.Random, lines: list[str]) -> list[str]:
    for _ in range(rng.choice([1, 2, 8])):
        at = rng.randrange(len(lines))
        lines[at] = lines[at][: rng.randrange(len(lines[at]) + 1)]
    return lines


def absurd_numbers(rng: random.Random, lines: list[str]) -> list[str]:
    rows = [row for row, line in enumerate(lines) if NUMBER.search(line)]
    for row in rng.sample(rows, min(len(rows), rng.choice([1, 1, 2, 5]))):
        spots = list(NUMBER.finditer(lines[row]))
        spot = rng.choice(spots)
        lines[row] = lines[row][: spot.start()] + rng.choice(ABSURD) + lines[row][spot.end() :]
    return lines


def scaled_number(rng: random.Random, lines: list[str]) -> list[str]:
    rows = [row for row, line in enumerate(lines) if NUMBER.search(line)]
    for row in rng.sample(rows, min(len(rows), rng.choice([1, 3]))):
        spot = rng.choice(list(NUMBER.finditer(lines[row])))
        value = float(spot[0]) * rng.choice([-1.0, 0.0, 0.1, 0.5, 2.0, 10.0, 1000.0, 1e6])
        lines[row] = f"{lines[row][: spot.start()]}{value:g}{lines[row][spot.end() :]}"
    return lines


def junk(rng: random.Random, lines: list[str]) -> list[str]:
    for _ in range(rng.choice([1, 1, 2, 5])):
        text, at = rng.choice(JUNK), rng.randrange(len(lines))
        if rng.random() < 0.5:
            lines.insert(at, text)
        else:
            spot = rng.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:spot] + text + lines[at][spot:]
    return lines


def other_signs(rng: random.Random, lines: list[str]) -> list[str]:
    for _ in range(rng.choice([1, 3, 20])):
        at = rng.randrange(len(lines))
        if lines[at]:
            spot = rng.randrange(len(lines[at]))
            lines[at] = (
                lines[at][:spot] + rng.choice(["", chr(rng.randrange(1, 300))]) + lines[at][spot + 1 :]
            )
    return lines


def decimal_commas(_rng: random.Random, lines: list[str]) -> list[str]:
    return [re.sub(r"(\d)\.(\d)", r"\1,\2", line) for line in lines]


def capitals(rng: random.Random, lines: list[str]) -> list[str]:
    return [line.upper() if rng.random() < 0.5 else line.lower() for line in lines]


def one_long_line(rng: random.Random, lines: list[str]) -> list[str]:
    at = rng.randrange(len(lines))
    lines[at] += rng.choice([" ", "x", "1", " 1", ";", "(", "="]) * rng.choice([5000, 20_000, 1_000_000])
    return lines


def wide_blanks(rng: random.Random, lines: list[str]) -> list[str]:
    blank = rng.choice(["\t", "   ", "\u00a0", "\u3000", ""])
    return [line.replace(" ", blank) for line in lines]


CHANGES: tuple[Callable[[random.Random, list[str]], list[str]], ...] = (
    drop_lines,
    drop_block,
    double_lines,
    move_lines,
    turn_round,
    join_lines,
    cut_lines,
    absurd_numbers,
    absurd_numbers,
    scaled_number,
    scaled_number,
    junk,
    junk,
    other_signs,
    decimal_commas,
    capitals,
    one_long_line,
    wide_blanks,
)

ENCODINGS = ("utf-16", "utf-16-le", "utf-16-be", "utf-8-sig", "latin-1", "cp1252", "utf-32", "cp037")


def encoded(rng: random.Random, lines: list[str], *, plain: float) -> tuple[str, bytes]:
    """Return what was done, and the text as bytes; as it is with a chance of `plain`."""
    if rng.random() < plain:
        return "", "\n".join(lines).encode("utf-8", "replace")
    end = rng.choice(["\r\n", "\r", "\n\r", "\n\n", "\u2028", "\x0b", "\x00", ""])
    if rng.random() < 0.4:
        return " line ends", end.join(lines).encode("utf-8", "replace")
    if rng.random() < 0.7:
        name = rng.choice(ENCODINGS)
        return f" {name}", "\n".join(lines).encode(name, "replace")
    data = bytearray("\n".join(lines).encode("utf-8", "replace"))
    kind = rng.randrange(4)
    for _ in range(rng.choice([1, 5, 50])):
        if data and kind == 0:
            data[rng.randrange(len(data))] = rng.randrange(256)
        elif kind == 1:
            data.insert(rng.randrange(len(data) + 1), 0)
    if kind == 2:
        data = data[: rng.randrange(len(data) + 1)]
    if kind == 3:
        data += bytes(rng.randrange(256) for _ in range(300))
    return " bytes", bytes(data)


def change_text(rng: random.Random, text: str, *, plain: float = 0.7) -> tuple[str, bytes]:
    """Change a text a little; return in words what was done, and the file."""
    lines, done = text.split("\n"), []
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        change = rng.choice(CHANGES)
        lines = change(rng, lines) or [""]
        done.append(change.__name__)
    more, data = encoded(rng, lines, plain=plain)
    return f"{done[0]}: {' '.join(done)}{more}", data
