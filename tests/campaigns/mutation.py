"""Does a test notice when our own code is wrong? Mutants of a package, held against the tests that run it.

Two steps, from the repository root; the first runs the quick tests once and notes which lines each one
runs, the second changes one thing in one line at a time and runs the tests of that line, quickest first::

    python tests/campaigns/mutation.py map -o build-out/lines.json
    python tests/campaigns/mutation.py run --map build-out/lines.json --package build --mutants 200

A mutant that no test notices is told with its place. Messages, docstrings and types are left alone.
"""

from __future__ import annotations

import argparse
import ast
import itertools
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]

MOST_S = 40.0
"""Tests are tried quickest first until they take so long, but always one of every file [s]."""

LONGEST_S = 240.0
"""Tests that take longer hang, or the machine is slow: the mutant counts as not noticed [s]."""

COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
TURNED = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
CALLED = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "argmin": "argmax",
    "argmax": "argmin", "floor": "ceil", "ceil": "floor", "sin": "cos", "cos": "sin", "any": "all",
    "all": "any", "union": "intersection", "intersection": "union", "ones": "zeros", "zeros": "ones",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the file, its line, what is done, and which variant of which node that is."""

    file: str
    line: int
    words: str
    node: int
    variant: int


def mutants(file: str, text: str) -> Iterator[Mutant]:
    """Yield every mutant of a file."""
    tree = ast.parse(text)
    told = _left_alone(tree)
    for index, node in enumerate(ast.walk(tree)):
        if id(node) not in told:
            for number, (_, words) in enumerate(_variants(node)):
                yield Mutant(file, getattr(node, "lineno", 0), words, index, number)


def text_of(mutant: Mutant, text: str) -> str:
    """Return the text of a file with the change of a mutant."""
    tree = ast.parse(text)
    place = next(node for index, node in enumerate(ast.walk(tree)) if index == mutant.node)
    for key, value in list(_variants(place))[mutant.variant][0].items():
        setattr(place, key, value)
    return ast.unparse(ast.fix_missing_locations(tree))


def _left_alone(tree: ast.Module) -> set[int]:
    """Nodes that tell something, or check types: changing them changes nothing that is worked out."""
    found: set[int] = set()
    for node in ast.walk(tree):
        texts = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if texts or isinstance(node, ast.JoinedStr | ast.Raise | ast.Import | ast.ImportFrom | ast.AnnAssign):
            found |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.arg | ast.FunctionDef) and getattr(node, "annotation", None) is not None:
            found |= {id(inner) for inner in ast.walk(node.annotation)}  # type: ignore[union-attr,arg-type]
        if isinstance(node, ast.FunctionDef) and node.returns is not None:
            found |= {id(inner) for inner in ast.walk(node.returns)}
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found |= {id(inner) for one in node.decorator_list for inner in ast.walk(one)}
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING":
            found |= {id(inner) for inner in ast.walk(node)}
    return found


def _variants(node: ast.AST) -> Iterator[tuple[dict[str, Any], str]]:
    """Yield what to set on a node instead, and what that does, in words."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        kind = type(node.ops[0])
        for table in (COMPARED, TURNED):
            if kind in table:
                yield {"ops": [table[kind]()]}, f"{kind.__name__} became {table[kind].__name__}"
    elif isinstance(node, ast.BinOp) and type(node.op) in COUNTED:
        new = COUNTED[type(node.op)]
        yield {"op": new()}, f"{type(node.op).__name__} became {new.__name__}"
    elif isinstance(node, ast.BoolOp):
        new_op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield {"op": new_op}, f"{type(node.op).__name__} became {type(new_op).__name__}"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield {"op": ast.UAdd()}, "a minus is gone"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield {"operand": ast.UnaryOp(op=ast.Not(), operand=node.operand)}, "a not is gone"
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield {"value": not node.value}, f"{node.value} became {not node.value}"
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        other = node.value + 1 if isinstance(node.value, int) else node.value * 1.3 + (node.value == 0.0)
        yield {"value": other}, f"{node.value} became {other}"
    elif isinstance(node, ast.Attribute) and node.attr in CALLED:
        yield {"attr": CALLED[node.attr]}, f"{node.attr} became {CALLED[node.attr]}"
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLED:
        yield (
            {"func": ast.Name(CALLED[node.func.id], ast.Load())},
            f"{node.func.id} became {CALLED[node.func.id]}",
        )


# --- which tests run which lines ---


class Lines:
    """Notes for every test how long it takes, and for every line which tests run it."""

    def __init__(self, cover: Any) -> None:
        self.cover = cover
        self.seconds: dict[str, float] = {}

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """Begin to note for this test."""
        self.cover.switch_context(nodeid)
        self.seconds[nodeid] = time.perf_counter()

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        """End it."""
        self.seconds[nodeid] = time.perf_counter() - self.seconds[nodeid]
        self.cover.switch_context("")


def make_map(tests: list[str], output: Path) -> int:
    """Run tests and write which of them run which lines of the package."""
    import coverage
    import pytest

    cover = coverage.Coverage(source=[str(ROOT / "wingpath")], data_file=None)
    lines = Lines(cover)
    cover.start()
    status = pytest.main(
        ["-q", "-m", "not slow", "-p", "no:xdist", "-p", "no:cacheprovider", *tests], [lines]
    )
    cover.stop()
    data = cover.get_data()
    told: dict[str, Any] = {"seconds": {}, "lines": {}}
    if output.exists():
        told = json.loads(output.read_text(encoding="utf-8"))
    told["seconds"].update(lines.seconds)
    for file in data.measured_files():
        own = told["lines"].setdefault(Path(file).relative_to(ROOT).as_posix(), {})
        for line, names in data.contexts_by_lineno(file).items():
            own[str(line)] = sorted({*own.get(str(line), []), *names} - {""})
    output.parent.mkdir(parents=True, exist_ok=True)
    output.write_text(json.dumps(told), encoding="utf-8")
    return int(status)


def tests_of(told: dict[str, Any], mutant: Mutant) -> list[str]:
    """Return the tests to try on a mutant: the quickest, and one of every file at least."""
    seconds, lines = told["seconds"], told["lines"].get(mutant.file, {})
    running = lines.get(str(mutant.line), [])
    if len(running) <= 1:
        # a constant is set when the first test loads the module; what uses it is somewhere in the file
        running = {name for names in lines.values() for name in names}
    names = sorted(running, key=lambda n: seconds.get(n, 9e9))
    files: dict[str, str] = {}
    for name in names:
        files.setdefault(name.partition("::")[0], name)
    taken = itertools.accumulate(seconds.get(name, 9e9) for name in names)
    first = [name for name, total in zip(names, taken, strict=True) if total < MOST_S]
    return first + [name for name in files.values() if name not in first]


# --- trying mutants ---


def tried(mutant: Mutant, names: list[str], tree: Path) -> str:
    """Run tests on a mutant in a process of its own: "noticed", "survived" or "hung"."""
    target = tree / mutant.file
    whole = target.read_text(encoding="utf-8")
    target.write_text(text_of(mutant, whole), encoding="utf-8")
    child = os.fork()
    if child == 0:
        with suppress(BaseException):
            os.chdir(tree)
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            sys.path[:0] = [str(tree)]
            # the tests that run the program as a process of its own run the mutant too
            os.environ["PYTHONPATH"] = str(tree)
            import pytest

            options = ["-x", "-q", "-p", "no:xdist", "-p", "no:cacheprovider", "--no-header"]
            os._exit(0 if pytest.main([*options, *names]) == 0 else 1)
        os._exit(1)
    begin = time.monotonic()
    try:
        while time.monotonic() - begin < LONGEST_S:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                return "survived" if status == 0 else "noticed"
            time.sleep(0.05)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return "hung"
    finally:
        target.write_text(whole, encoding="utf-8")


def run(wishes: argparse.Namespace) -> int:
    """Try mutants of a package and tell those that no test notices."""
    told = json.loads(wishes.map.read_text(encoding="utf-8"))
    chance = random.Random(f"{wishes.package} {wishes.seed}")
    every = [
        mutant
        for path in sorted((ROOT / "wingpath" / wishes.package).glob("*.py"))
        for mutant in mutants(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
    ]
    chosen = chance.sample(every, min(wishes.mutants, len(every)))
    counts: dict[str, int] = defaultdict(int)
    survivors = []
    # loaded once, and shared by the processes of all mutants
    import numpy  # noqa: F401

    with tempfile.TemporaryDirectory(prefix="mutants-") as home:
        tree = Path(home) / "tree"
        ignore = shutil.ignore_patterns(
            ".git", ".venv", "build-out", "__pycache__", ".*_cache", ".hypothesis"
        )
        shutil.copytree(ROOT, tree, ignore=ignore)
        for number, mutant in enumerate(chosen, start=1):
            names = tests_of(told, mutant)
            what = tried(mutant, names, tree) if names else "not run"
            counts[what] += 1
            if what != "noticed":
                survivors.append(
                    {"file": mutant.file, "line": mutant.line, "words": mutant.words, "what": what}
                )
                print(
                    f"{number}: {what}: {mutant.file}:{mutant.line} {mutant.words}",
                    file=sys.stderr,
                    flush=True,
                )
    summary = {
        "package": wishes.package,
        "seed": wishes.seed,
        "possible": len(every),
        "tried": len(chosen),
        **dict(sorted(counts.items())),
        "score": round(counts["noticed"] / max(1, len(chosen)), 3),
        "survivors": survivors,
    }
    text = json.dumps(summary, indent=2)
    print(text)
    if wishes.summary is not None:
        wishes.summary.write_text(text + "\n", encoding="utf-8")
    return 0


def main() -> int:
    """Make the map or try mutants."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    steps = parser.add_subparsers(dest="step", required=True)
    mapping = steps.add_parser("map")
    mapping.add_argument("--tests", nargs="+", default=["tests"])
    mapping.add_argument("-o", "--output", type=Path, required=True, help="an earlier map is added to")
    running = steps.add_parser("run")
    running.add_argument("--map", type=Path, required=True)
    running.add_argument("--package", required=True, help="build, structure or tune")
    running.add_argument("--mutants", type=int, default=100)
    running.add_argument("--seed", type=int, default=1)
    running.add_argument("--summary", type=Path)
    wishes = parser.parse_args()
    return make_map(wishes.tests, wishes.output) if wishes.step == "map" else run(wishes)


if __name__ == "__main__":
    sys.exit(main())
