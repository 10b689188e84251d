"""What `tune` writes: the coupon's mesh and paths, the sheet, the file to fill in; and the profile."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from wingpath.geometry.mesh import Mesh
from wingpath.io.gcode import GcodeJob, write_gcode
from wingpath.io.output_folder import write_folder
from wingpath.io.stl import write_stl
from wingpath.io.threemf import write_3mf

__all__ = ["is_coupon_name", "write_coupon_files"]

COUPON_NAME = re.compile(r"coupon\.(stl|3mf)|coupon-\d+(\.\d+)?\.gcode|sheet\.html|measurements\.toml")
"""Names of the files that a coupon comes with; a new run replaces these and no others."""


def is_coupon_name(name: str) -> bool:
    """Return whether a file of that name comes with a coupon."""
    return COUPON_NAME.fullmatch(name) is not None


def write_coupon_files(
    folder: Path,
    *,
    mesh: Mesh,
    jobs: Mapping[str, GcodeJob],
    template: str,
    sheet: str,
    force: bool,
) -> tuple[Path, ...]:
    """Write all files of a coupon, or none.

    Parameters
    ----------
    folder : Path
        Where to.
    mesh : Mesh
        The coupon.
    jobs : mapping of str to GcodeJob
        Paths by the stem of their files.
    template : str
        The file to fill in.
    sheet : str
        The page that says how to measure.
    force : bool
        Whether an existing folder may be replaced.

    Raises
    ------
    OutputExistsError, FileAccessError
        See :func:`wingpath.io.output_folder.write_folder`.
    """

    def fill(fresh: Path) -> None:
        write_stl(fresh / "coupon.stl", mesh, title="wingpath coupon")
        write_3mf(fresh / "coupon.3mf", mesh, name="wingpath coupon")
        for stem, job in jobs.items():
            write_gcode(fresh / f"{stem}.gcode", job)
        (fresh / "measurements.toml").write_text(template, encoding="utf-8")
        (fresh / "sheet.html").write_text(sheet, encoding="utf-8")

    return write_folder(folder, fill, force=force, ours=is_coupon_name, kind="coupon")
