"""`wingpath build` writes its drawing with everything else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pdf_pages import pages_of

SAME_MM = 0.01
"""Rounding in the file is a thousandth of this."""


def test_the_drawing_is_written_and_listed(small: Any) -> None:
    assert "drawing.pdf" in small.ran.document["files"]
    first = pages_of((small.folder / "drawing.pdf").read_bytes())[0]
    assert "Root section" in first.text
    assert abs(min(first.size) - 210.0) < SAME_MM


def test_force_replaces_it_and_letter_paper_is_letter(cli: Any, small: Any, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "drawing.pdf").write_bytes(b"of an earlier build")
    assert cli("build", small.spec, "-o", out).status == 2
    assert (out / "drawing.pdf").read_bytes() == b"of an earlier build"
    assert cli("build", small.spec, "-o", out, "--force", "--paper", "letter").status == 0
    first = pages_of((out / "drawing.pdf").read_bytes())[0]
    assert abs(min(first.size) - 8.5 * 25.4) < SAME_MM


def test_other_paper_is_refused_before_anything_is_built(cli: Any, small: Any, tmp_path: Path) -> None:
    ran = cli("build", small.spec, "-o", tmp_path / "out", "--paper", "a0")
    assert ran.status == 2
    assert "--paper: got 'a0'; allowed: a4 or letter" in ran.err
    assert list(tmp_path.iterdir()) == []
