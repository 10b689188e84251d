"""Build the pages as HTML, and tell every link, anchor and picture that leads nowhere.

Run from the repository root::

    python docs/build_pages.py                  # into build-out/docs
    python docs/build_pages.py -o some/folder

The exit status is 1 if anything is wrong. Nothing is fetched: links to other sites are not followed.
"""

from __future__ import annotations

import argparse
import html
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import unquote, urlsplit

from pages import ROOT, Page, all_pages, headings, markdown, read_page

__all__ = ["build_pages", "dead_links"]

STYLE = """
body { font: 17px/1.55 system-ui, sans-serif; color: #1b1f24; }
body { max-width: 52em; margin: 2em auto; padding: 0 1em; }
pre { background: #f3f4f6; padding: .8em 1em; overflow-x: auto; font-size: .85em; line-height: 1.4; }
code { font-family: ui-monospace, monospace; }
table { border-collapse: collapse; margin: 1em 0; }
th, td { border-bottom: 1px solid #c9ced6; padding: .3em .7em; text-align: left; vertical-align: top; }
img { max-width: 100%; height: auto; }
nav { border-bottom: 1px solid #c9ced6; padding-bottom: .5em; }
"""

INDEX = "docs/README.md"
"""The page that lists all others."""


def dead_links(pages: Mapping[Path, Page], *, root: Path) -> list[str]:
    """Return a line for every link or picture that leads nowhere, and every picture without words.

    Parameters
    ----------
    pages : mapping
        Pages by their resolved paths.
    root : Path
        The repository: a link out of it is dead too.
    """
    wrong = []
    for page in pages.values():
        here = page.path.relative_to(root)
        for line, target in page.links:
            why = _why_dead(page, target, pages, root)
            if why:
                wrong.append(f"{here}, line {line}: {target}: {why}")
        wrong += [f"{here}: {target}: no words" for target, words in page.pictures if not words.strip()]
    return wrong


def _why_dead(page: Page, target: str, pages: Mapping[Path, Page], root: Path) -> str:
    parts = urlsplit(target)
    if parts.scheme:
        return "" if parts.scheme == "https" else "not https"
    path = (page.path.parent / unquote(parts.path)).resolve() if parts.path else page.path
    if not path.is_relative_to(root):
        return "outside the repository"
    if not path.exists():
        return "is not there"
    if parts.fragment:
        other = pages.get(path)
        if other is None:
            return "an anchor in what is no page"
        if parts.fragment not in other.anchors:
            return "no such heading"
    return ""


def build_pages(folder: Path, *, root: Path = ROOT) -> list[str]:
    """Write all pages as HTML with what they link to, and return what is wrong with their links.

    Parameters
    ----------
    folder : Path
        Where to write; made if need be.
    root : Path
        The repository.
    """
    pages = {path: read_page(path) for path in all_pages(root)}
    for page in pages.values():
        out = folder / page.path.relative_to(root).with_suffix(".html")
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_text(_page_html(page, pages, root), encoding="utf-8")
        for _, target in page.links:
            path = (page.path.parent / unquote(urlsplit(target).path)).resolve()
            if path.is_file() and path not in pages and path.is_relative_to(root):
                copy = folder / path.relative_to(root)
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(path, copy)
    return dead_links(pages, root=root)


def _page_html(page: Page, pages: Mapping[Path, Page], root: Path) -> str:
    reader = markdown()
    tokens = reader.parse(page.path.read_text(encoding="utf-8"))
    for token, _, anchor in headings(tokens):
        token.attrSet("id", anchor)
    for token in tokens:
        for part in token.children or ():
            if part.attrGet("href"):
                part.attrSet("href", _built_target(page, str(part.attrGet("href")), pages))
    up = "../" * (len(page.path.relative_to(root).parts) - 1)
    index = f"{up}{INDEX.removesuffix('.md')}.html"
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape(page.title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        f'<nav><a href="{up}README.html">wingpath</a> · <a href="{index}">all pages</a></nav>\n'
        f"<main>\n{reader.renderer.render(tokens, reader.options, {})}</main>\n</body>\n</html>\n"
    )


def _built_target(page: Page, target: str, pages: Mapping[Path, Page]) -> str:
    parts = urlsplit(target)
    if parts.scheme or not parts.path:
        return target
    path = (page.path.parent / unquote(parts.path)).resolve()
    if path in pages:
        return parts._replace(path=parts.path.removesuffix(".md") + ".html").geturl()
    if path / "README.md" in pages:
        return parts._replace(path=parts.path.rstrip("/") + "/README.html").geturl()
    return target


def main() -> int:
    """Build the pages and say what is wrong."""
    parser = argparse.ArgumentParser(description="Build the pages as HTML and check their links.")
    parser.add_argument("-o", "--output", type=Path, default=ROOT / "build-out" / "docs")
    folder = parser.parse_args().output
    wrong = build_pages(folder)
    for line in wrong:
        print(line, file=sys.stderr)
    print(f"{len(all_pages())} pages in {folder}, {len(wrong)} dead links")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
