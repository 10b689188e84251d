"""Time how soon spec files made to hurt are refused, beside reading a plain file of usual content.

Run from the repository root::

    python benchmarks/bench_hostile_specs.py

The wanted: each refused within 2 s on an idle machine of the year.
"""

from __future__ import annotations

import sys
import tempfile
import time
import tomllib
from pathlib import Path

import wingpath

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from bombs import BOMBS  # noqa: E402


def main() -> None:
    plain = "".join(f"key{number} = {number}\n" for number in range(60_000))
    start = time.process_time()
    tomllib.loads(plain)
    usual = time.process_time() - start
    print(f"a plain file of {len(plain)} bytes: {usual:.2f} s")
    with tempfile.TemporaryDirectory() as folder:
        for name, make in BOMBS.items():
            path = Path(folder) / f"{name}.toml"
            path.write_bytes(make())
            start = time.process_time()
            try:
                wingpath.load_spec(path)
            except wingpath.InputError:
                taken = time.process_time() - start
                print(f"{name:20} {taken:6.2f} s, {taken / usual:6.1f} times the plain file")
            else:
                print(f"{name:20} was not refused")


if __name__ == "__main__":
    main()
