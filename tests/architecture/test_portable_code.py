"""What Windows and macOS would trip over, read from the code, as only Linux runs these tests."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import wingpath

ROOT = Path(wingpath.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))

NOT_ON_WINDOWS = {"fcntl", "grp", "pwd", "resource", "termios"}
"""Modules of the standard library whose pages in the Python documentation say: availability Unix."""

NAMES_NOT_ON_WINDOWS = {
    "fork",
    "forkpty",
    "getuid",
    "geteuid",
    "getpgid",
    "setsid",
    "mkfifo",
    "O_NOFOLLOW",
    "chown",
}
"""Names of `os` of which the same documentation says so; `getattr` with something instead is allowed."""

TEXT_CALLS = {"open", "read_text", "write_text", "fdopen"}


def calls_without_encoding(tree: ast.Module) -> Iterator[int]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name not in TEXT_CALLS or any(word.arg == "encoding" for word in node.keywords):
            continue
        owner = node.func.value if isinstance(node.func, ast.Attribute) else None
        if isinstance(owner, ast.Name) and (owner.id, name) in {("os", "open"), ("webbrowser", "open")}:
            continue
        # entries of an archive are bytes
        if isinstance(owner, ast.Attribute) and owner.attr == "archive":
            continue
        if name == "read_text" and node.args:
            continue
        texts = [
            one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)
        ]
        if not any("b" in text for text in texts):
            yield node.lineno


def below(tree: ast.AST) -> Iterator[ast.AST]:
    """Walk a tree, but not into what asks for the system first."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "sys.platform" in ast.unparse(node.test):
            continue
        yield node
        yield from below(node)


def names_of_one_system(tree: ast.Module) -> Iterator[str]:
    for node in below(tree):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names if one.name in NOT_ON_WINDOWS)
        elif isinstance(node, ast.ImportFrom) and node.module in NOT_ON_WINDOWS:
            yield node.module
        elif (
            isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Name)
            and node.value.id == "os"
            and node.attr in NAMES_NOT_ON_WINDOWS
        ):
            yield f"os.{node.attr}"


def test_text_files_have_an_encoding_of_ours_and_not_of_the_system() -> None:
    found = {
        f"{file.relative_to(ROOT)}:{line}"
        for file in FILES
        for line in calls_without_encoding(ast.parse(file.read_text(encoding="utf-8")))
    }
    assert found == set()


def test_nothing_is_used_that_only_one_system_has() -> None:
    found = {
        (str(file.relative_to(ROOT)), name)
        for file in FILES
        for name in names_of_one_system(ast.parse(file.read_text(encoding="utf-8")))
    }
    assert found == set()


def test_what_to_type_is_quoted_for_every_shell() -> None:
    """Windows' own shell hands single quotes on to the program."""
    hint = re.compile(r"pip install '[a-z]")
    assert [file.name for file in FILES if hint.search(file.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("path.open()", [1]),
        ("path.open('rb')", []),
        ("open(path, 'w', encoding='utf-8')", []),
        ("path.read_text()", [1]),
        ("os.open(path, flags)", []),
    ],
)
def test_the_reading_of_the_code_sees_what_it_looks_for(text: str, lines: list[int]) -> None:
    assert list(calls_without_encoding(ast.parse(text))) == lines


def test_the_reading_of_the_code_sees_names_of_one_system() -> None:
    asked = "if sys.platform != 'win32':\n    import pwd\n"
    text = f"import os\nimport fcntl\nfrom resource import getrusage\nos.fork()\nos.getpid()\n{asked}"
    assert set(names_of_one_system(ast.parse(text))) == {"fcntl", "resource", "os.fork"}
