"""The pages: what they link to, which anchors they have, and which blocks of code they show.

Both :mod:`build_pages` and :mod:`run_pages` read pages through this module.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from markdown_it import MarkdownIt

__all__ = ["ROOT", "Block", "Command", "Page", "all_pages", "markdown", "read_page"]

ROOT = Path(__file__).resolve().parents[1]
"""The repository."""

WHERE = ("*.md", "docs/*.md", "examples/*/*.md", "profiles/*/*.md", "benchmarks/*.md")
"""Where pages lie."""

MARK = re.compile(r"<!--\s*(not run:|run with|file:|edit:|fails:)\s*(.*?)\s*-->", flags=re.DOTALL)
"""A remark that says how the block below it is run; readers of the page do not see it."""


@dataclass(frozen=True)
class Command:
    """A command of a block, and what the page says that it prints."""

    text: str
    first: int
    """Number of its first output line, from 0."""
    output: tuple[str, ...]


@dataclass(frozen=True)
class Block:
    """A block of code."""

    language: str
    lines: tuple[str, ...]
    first: int
    """Number of its first line in the page, from 0, without the fence."""
    marks: tuple[tuple[str, str], ...]
    fenced: bool

    def mark(self, word: str) -> str | None:
        """Return what a remark above the block says, None without one."""
        return next((text for name, text in self.marks if name == word), None)

    @property
    def text(self) -> str:
        """The block as one text."""
        return "".join(f"{line}\n" for line in self.lines)

    def commands(self) -> Iterator[Command]:
        """Yield the commands: lines after a dollar sign, with what follows up to the next one."""
        starts = [number for number, line in enumerate(self.lines) if line.startswith("$ ")]
        for start, end in zip(starts, [*starts[1:], len(self.lines)], strict=True):
            text, next_line = self.lines[start][2:], start + 1
            while text.endswith("\\") and next_line < end:
                text, next_line = f"{text[:-1]}{self.lines[next_line].strip()}", next_line + 1
            yield Command(text, self.first + next_line, self.lines[next_line:end])


@dataclass(frozen=True)
class Page:
    """A page as it is written."""

    path: Path
    title: str
    anchors: frozenset[str]
    links: tuple[tuple[int, str], ...]
    """Line, from 1, and target of every link and picture."""
    blocks: tuple[Block, ...]
    pictures: tuple[tuple[str, str], ...]
    """Target of every picture, and the words for those who cannot see it."""


def markdown() -> MarkdownIt:
    """Return the reader of pages: the common standard, and tables."""
    return MarkdownIt("commonmark").enable("table")


def all_pages(root: Path = ROOT) -> list[Path]:
    """Return every page of the repository."""
    return sorted(path for pattern in WHERE for path in root.glob(pattern))


def anchor_of(title: str, taken: set[str]) -> str:
    """Return the name by which a heading is linked to: as common code hosts make it."""
    plain = re.sub(r"[^\w\- ]", "", title.strip().lower()).replace(" ", "-")
    name, number = plain, 0
    while name in taken:
        number += 1
        name = f"{plain}-{number}"
    taken.add(name)
    return name


def headings(tokens: list[Any]) -> Iterator[tuple[Any, str, str]]:
    """Yield the opening token, the text and the anchor of every heading."""
    taken: set[str] = set()
    for token, inner in pairwise(tokens):
        if token.type == "heading_open":
            words = "".join(part.content for part in inner.children if part.type in ("text", "code_inline"))
            yield token, words, anchor_of(words, taken)


def read_page(path: Path) -> Page:
    """Read a page.

    Parameters
    ----------
    path : Path
        A Markdown file.
    """
    tokens = markdown().parse(path.read_text(encoding="utf-8"))
    found = list(headings(tokens))
    links: list[tuple[int, str]] = []
    pictures: list[tuple[str, str]] = []
    for token in tokens:
        for part in token.children or ():
            target = part.attrGet("href") or part.attrGet("src")
            if target is not None:
                links.append((token.map[0] + 1 if token.map else 0, str(target)))
            if part.type == "image":
                pictures.append((str(target), part.content))
    return Page(
        path=path,
        title=found[0][1] if found else path.stem,
        anchors=frozenset(anchor for _, _, anchor in found),
        links=tuple(links),
        blocks=tuple(_blocks(tokens)),
        pictures=tuple(pictures),
    )


def _blocks(tokens: list[Any]) -> Iterator[Block]:
    marks: list[tuple[str, str]] = []
    for token in tokens:
        if token.type == "html_block":
            marks += [(word.rstrip(":"), text) for word, text in MARK.findall(token.content)]
        elif token.type in ("fence", "code_block"):
            fenced = token.type == "fence"
            lines = tuple(token.content.splitlines())
            language = token.info.strip()
            yield Block(language, lines, token.map[0] + int(fenced), tuple(marks), fenced)
            marks = []
        elif token.nesting == 0 or token.type.endswith("_open"):
            marks = []
