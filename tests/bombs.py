"""Spec files made to hurt: huge, deep, or endless."""

from __future__ import annotations

from collections.abc import Callable

from wingpath.io.spec_toml import MOST_BYTES

AILERON = b"[[aileron]]\nfrom_mm=1\nto_mm=2\nhinge_fraction=0.7\n"

STATIONS = b"[[station]]\nspan_mm=0\nchord_mm=180\n[[station]]\nspan_mm=450\nchord_mm=120\n"

BOMBS: dict[str, Callable[[], bytes]] = {
    "ten-megabytes": lambda: b'name = "' + b"x" * 10_000_000 + b'"\n',
    "just-too-large": lambda: b"#" * (MOST_BYTES + 1),
    "deep-lists": lambda: b"a = " + b"[" * 400_000,
    "deep-tables": lambda: b"a = " + b"{a=" * 200_000,
    "long-dotted-key": lambda: b".".join([b"a"] * 400_000) + b" = 1\n",
    "long-dotted-header": lambda: b"[" + b" . ".join([b'"a"'] * 200_000) + b"]\n",
    "long-number": lambda: b"a = " + b"9" * 900_000 + b"\n",
    "many-keys": lambda: b"".join(b"k%d=1\n" % number for number in range(90_000)),
    "many-stations": lambda: b"[[station]]\n" * 80_000,
    "many-ailerons": lambda: STATIONS + AILERON * 15_000,
    "many-dots": lambda: b"name = '" + b"." * 900_000 + b"'\n",
    "many-spaces": lambda: b"name = '" + b". " * 450_000 + b"'\n",
    "many-quotes": lambda: b"# " + b".\"'" * 300_000 + b"\n",
    "nothing": lambda: b"",
    "nulls": lambda: b"\0" * 1000,
}
