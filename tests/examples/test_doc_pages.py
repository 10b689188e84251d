"""The pages are true: what they show is run, links lead somewhere, and the reference is that of the code."""

from __future__ import annotations

from pathlib import Path

import pytest
from build_pages import build_pages
from make_spec_reference import PAGE, spec_reference
from pages import ROOT, Page, all_pages, read_page
from run_pages import pages_with_code, run_page, same_output, update_page, updated_lines

from wingpath.model.spec import Spec
from wingpath.model.spec_base import key_of, table_of

SHOWN = pages_with_code()

NOT_RUN = {
    ("README.md", "the tests run inside what it makes"),
    ("README.md", "this wing takes half a minute; tests/examples builds it and compares its numbers"),
    ("README.md", "the first wing in docs runs the same"),
    ("README.md", "minutes; docs/ribs.md runs the same on a smaller wing"),
    ("lightening.md", "it takes minutes; the tests of the search run it on small wings"),
    ("cad.md", "it fetches packages"),
    ("cad.md", "the library is close to 2 GB; tests/published runs the same where it is installed"),
    ("first-wing.md", "it fetches packages; the tests run inside what it makes"),
    ("strength.md", "these take a minute each; choosing ribs and assembly run the same on a smaller wing"),
}
"""Every block that is not run, by its page and the reason that stands there."""


@pytest.mark.slow
@pytest.mark.parametrize("path", SHOWN, ids=[str(path.relative_to(ROOT)) for path in SHOWN])
def test_a_page_shows_what_happens(path: Path, tmp_path: Path) -> None:
    outcomes = run_page(read_page(path), tmp_path)
    assert [f"{one.what}\n{one.wrong}" for one in outcomes if one.wrong] == []


def test_only_marked_blocks_are_not_run() -> None:
    pages = [read_page(path) for path in SHOWN]
    blocks = [(page.path.name, block) for page in pages for block in page.blocks]
    assert {(name, reason) for name, block in blocks if (reason := block.mark("not run"))} == NOT_RUN
    # anything else is of a kind that is run, and every line of a console is a command or output of one
    run = [(name, block) for name, block in blocks if block.mark("not run") is None]
    assert [name for name, block in run if block.language not in ("console", "toml", "python")] == []
    consoles = [block for _, block in run if block.language == "console"]
    assert all(block.lines[0].startswith("$ ") for block in consoles)
    assert sum(bool(list(block.commands())) for block in consoles) == len(consoles) > 20


def test_pages_are_built_and_no_link_is_dead(tmp_path: Path) -> None:
    assert build_pages(tmp_path) == []
    for path in all_pages():
        built = (tmp_path / path.relative_to(ROOT)).with_suffix(".html").read_text(encoding="utf-8")
        assert built.startswith("<!doctype html>")
        # nothing is fetched when a page is looked at
        assert "<script" not in built
        assert 'src="http' not in built


def test_every_page_is_in_the_index() -> None:
    listed = {target for _, target in read_page(ROOT / "docs" / "README.md").links}
    assert {path.name for path in SHOWN} - {"README.md"} <= listed


def test_the_reference_is_that_of_the_code() -> None:
    assert PAGE.read_text(encoding="utf-8") == spec_reference(), "run docs/make_spec_reference.py"


def test_the_reference_has_every_key() -> None:
    text = spec_reference()
    for name, info in Spec.model_fields.items():
        key, held = key_of(name, info), table_of(info)
        if held is None:
            assert f"| `{key}` |" in text
            continue
        model, many = held
        section = text.split(f"## `[[{key}]]`\n" if many else f"## `[{key}]`\n")[1].split("\n## ")[0]
        for inner, field in model.model_fields.items():
            (row,) = [
                line for line in section.splitlines() if line.startswith(f"| `{key_of(inner, field)}` |")
            ]
            assert (field.description or "").partition("; left out: ")[0] in row
            assert ("**needed**" in row) == field.is_required()
    # by hand: a range, a unit made of two, a list of pairs, a default that is a list, one of a profile
    assert "| `load_factor` | a number from 1 to 100 | `6` |" in text
    assert "deg/(N m)" in text
    assert "| `pitch_along_mm` | a list of 2 to 20 pairs of numbers [mm] | pitch_mm everywhere |" in text
    assert "| `tube_length` | a list of at most 40 numbers from 0.1 to 4 | `[0.5, 0.6," in text
    assert "| `nozzle_mm` | a number from 0.1 to 1.2 mm | the profile's |" in text


# what follows breaks small pages on purpose


def _page(folder: Path, text: str) -> Page:
    path = folder / "page.md"
    path.write_text(text, encoding="utf-8")
    return read_page(path)


def _wrong(folder: Path, text: str) -> list[str]:
    work = folder / "work"
    work.mkdir()
    return [one.wrong for one in run_page(_page(folder, text), work) if one.wrong]


CONSOLE = "```console\n$ printf 'mass  12.3 g\\n3 ribs\\nend\\n'\n{}\n```\n"


@pytest.mark.parametrize(
    ("shown", "holds"),
    [
        ("mass 12.3 g\n3 ribs\nend", True),
        ("mass 12.4 g\n3 ribs\nend", True),  # the last digit of a rounded number
        ("mass 12.5 g\n3 ribs\nend", False),
        ("mass 12.30 g\n3 ribs\nend", False),
        ("mass 12.3 g\n4 ribs\nend", False),
        ("mass 12.3 kg\n3 ribs\nend", False),
        ("mass 12.3 g\n...", True),
        ("...\nend", True),
        ("mass ... g\n3 ribs\nend", True),
        ("...\n4 ribs\n...", False),
        ("mass 12.3 g\n3 ribs", False),
        ("", True),  # no output is shown
    ],
)
def test_a_wrong_output_is_found(shown: str, holds: bool, tmp_path: Path) -> None:
    assert (_wrong(tmp_path, CONSOLE.format(shown)) == []) == holds


@pytest.mark.parametrize(
    "text",
    [
        "```console\n$ false\n```\n",
        "<!-- fails: 2 -->\n```console\n$ true\n```\n",
        "```toml\n[ribs]\npich_mm = 30.0\n```\n",
        "```toml\n[ribs\n```\n",
        "```python\nimport warnings\nwarnings.warn('old')\n```\n",
        "    $ an indented block\n",
        "```text\nsome output\n```\n",
        "<!-- file: a.toml -->\n```toml\n[ribs]\nrun = 1\n```\n\n"
        "<!-- edit: a.toml -->\n```toml\n[ribs]\npitch_mm = 20.0\n```\n",
        "<!-- run with --json -->\n```console\n$ true\n```\n",
    ],
    ids=[
        "status",
        "no status",
        "key",
        "not toml",
        "warning",
        "indented",
        "text",
        "nothing to edit",
        "no reason",
    ],
)
def test_a_block_that_does_not_hold_is_found(text: str, tmp_path: Path) -> None:
    assert len(_wrong(tmp_path, text)) == 1


def test_blocks_of_a_page_share_a_folder_and_files(tmp_path: Path) -> None:
    text = (
        "<!-- file: a.txt -->\n```toml\n[[x]]\nn = 1\n[[x]]\nn = 2\n[y]\nn = 3\n```\n\n"
        "<!-- edit: a.txt -->\n```toml\n[[x]]\n[[x]]\nn = 5   # new\n```\n\n"
        "```console\n$ cat \\\n    a.txt\n[[x]]\nn = 1\n[[x]]\nn = 5   # new\n[y]\nn = 3\n"
        "$ echo $PWD | grep -c work\n1\n```\n"
        "\n<!-- not run: needs a printer -->\n```console\n$ false\n```\n"
        "\n<!-- run with b: a smaller one -->\n```console\n$ test b =\nnot compared\n```\n"
    )
    assert _wrong(tmp_path, text) == []


def test_dead_links_are_found(tmp_path: Path) -> None:
    docs = tmp_path / "docs"
    docs.mkdir()
    (tmp_path / "picture.png").write_bytes(b"")
    (tmp_path / "README.md").write_text(
        "# A page\n\n## One and only\n\n## One and only\n\n[docs](docs/a.md#b-c), [here](#one-and-only-1)\n"
    )
    (docs / "a.md").write_text(
        "# A\n\n## `b` c?\n\n![A wing](../picture.png) [back](../README.md#a-page) [site](https://toml.io)\n"
    )
    assert build_pages(tmp_path / "out", root=tmp_path) == []
    assert 'href="../README.html#a-page"' in (tmp_path / "out" / "docs" / "a.html").read_text()
    assert (tmp_path / "out" / "picture.png").exists()
    (docs / "b.md").write_text(
        "# B\n\n[1](c.md) [2](a.md#d) [3](#e) ![4](no.png) ![](../picture.png) [6](../../x) [7](http://a.b)\n"
    )
    wrong = build_pages(tmp_path / "out", root=tmp_path)
    assert [line.split(": ", 1)[1] for line in wrong] == [
        "c.md: is not there",
        "a.md#d: no such heading",
        "#e: no such heading",
        "no.png: is not there",
        "../../x: outside the repository",
        "http://a.b: not https",
        "../picture.png: no words",
    ]


@pytest.mark.parametrize(
    ("shown", "printed", "new"),
    [
        (["a 1"], ["a 2", "b"], ["a 2", "b"]),
        (["a 1", "..."], ["a 2", "b 3"], ["a 2", "..."]),
        (["...", "end 1"], ["a 2", "b 3", "end 7"], ["...", "end 7"]),
        (["m 1", "...", "tip 2", "..."], ["m 3", "x", "tip 44", "y"], ["m 3", "...", "tip 44", "..."]),
        (["mass 1 g", "...", "gone"], ["mass 3 g", "12"], ["mass 3 g", "12"]),
        (["...", "gone", "..."], ["12", "34"], ["12", "34"]),
        (["tool ...: 1 g", "b 1"], ["tool v7: 1 g", "b 2"], ["tool ...: 1 g", "b 2"]),
    ],
)
def test_outputs_are_brought_up_to_date(shown: list[str], printed: list[str], new: list[str]) -> None:
    assert updated_lines(shown, printed) == new
    assert same_output(updated_lines(shown, printed), printed)


def test_a_page_is_brought_up_to_date(tmp_path: Path) -> None:
    text = "# T\n\n" + CONSOLE.format("mass 1.0 g\n...") + "\nWords.\n\n" + CONSOLE.format("...\nend")
    page = _page(tmp_path, text)
    work = tmp_path / "work"
    work.mkdir()
    assert update_page(page, run_page(page, work)) == 1
    assert page.path.read_text() == text.replace("mass 1.0 g", "mass  12.3 g")
