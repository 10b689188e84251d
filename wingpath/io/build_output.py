"""What `build` writes: panels, their paths, layer table and report, all or none."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wingpath.build.continuity import Continuity
from wingpath.geometry.mesh import Mesh
from wingpath.io.gcode import GcodeJob, write_gcode
from wingpath.io.output_folder import write_folder
from wingpath.io.step import write_step
from wingpath.io.stl import write_stl
from wingpath.io.tables import json_text, layers_csv
from wingpath.io.threemf import write_3mf

__all__ = ["is_output_name", "write_build_files"]

OUTPUT_NAME = re.compile(
    r"(panel|aileron|cover)-\d+-(left|right)\.(stl|3mf|gcode)"
    r"|layers\.csv|report\.(json|html)|drawing\.pdf|wing(-parts)?\.step"
)
"""Names of the files that a build may write; a new build replaces these and no others."""


def is_output_name(name: str) -> bool:
    """Return whether a file of that name is a build's."""
    return OUTPUT_NAME.fullmatch(name) is not None


def write_build_files(
    folder: Path,
    *,
    meshes: Mapping[str, Mesh],
    jobs: Mapping[str, GcodeJob],
    parts: tuple[Continuity, ...],
    report: dict[str, Any],
    page: str,
    title: str,
    drawing: bytes,
    force: bool,
    steps: Mapping[str, Mapping[str, Any]] | None = None,
) -> tuple[Path, ...]:
    """Write all files of a build.

    Parameters
    ----------
    folder : Path
        Where to.
    meshes : mapping of str to Mesh
        Meshes by the stem of their files, for example ``panel-1-left``.
    jobs : mapping of str to GcodeJob
        Paths by the stem of their files.
    parts : tuple of Continuity
        The judged layers, once for both hands.
    report : dict
        The content of `report.json`.
    page : str
        `report.html`.
    title : str
        Name of the aircraft, for the headers of mesh files.
    drawing : bytes
        The drawing at true size, a PDF.
    force : bool
        Whether an existing folder may be replaced.
    steps : mapping of str to mapping of str to Shape, optional
        Solids of STEP files by the names of file and product.

    Raises
    ------
    OutputExistsError, FileAccessError
        See :func:`wingpath.io.output_folder.write_folder`.
    """

    def fill(fresh: Path) -> None:
        for stem, mesh in meshes.items():
            name = f"wing {title} {stem}"
            write_stl(fresh / f"{stem}.stl", mesh, title=name)
            write_3mf(fresh / f"{stem}.3mf", mesh, name=name)
        for stem, job in jobs.items():
            write_gcode(fresh / f"{stem}.gcode", job)
        for name, shapes in (steps or {}).items():
            write_step(fresh / name, shapes, title=title)
        (fresh / "layers.csv").write_text(layers_csv(parts), encoding="utf-8")
        (fresh / "report.json").write_text(json_text(report), encoding="utf-8")
        (fresh / "report.html").write_text(page, encoding="utf-8")
        (fresh / "drawing.pdf").write_bytes(drawing)

    return write_folder(folder, fill, force=force, ours=is_output_name, kind="build")
