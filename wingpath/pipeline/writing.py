"""Writing a build to its folder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wingpath.io.build_output import write_build_files
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.document import build_document

__all__ = ["write_build"]


def write_build(
    build: WingBuild,
    folder: str | Path,
    *,
    spec_name: str = "spec",
    document: dict[str, Any] | None = None,
    force: bool = False,
) -> tuple[Path, ...]:
    """Write the panels of every hand, the layer table and the report, all files or none.

    Parameters
    ----------
    build : WingBuild
        What to write.
    folder : path
        Where to; it is made if it does not exist.
    spec_name : str
        Name of the spec's file, for the report.
    document : dict, optional
        The report, when it has been made already.
    force : bool
        Replace the files of an earlier build in that folder.

    Returns
    -------
    tuple of Path
        The files.

    Raises
    ------
    OutputExistsError
        When the folder is in use and `force` is not set.
    FileAccessError
        When something cannot be written; nothing has changed then.
    """
    meshes = {f"{panel.name}-{hand}": panel.mesh(hand) for panel in build.parts for hand in build.hands}
    return write_build_files(
        Path(folder),
        meshes=meshes,
        parts=tuple(panel.continuity for panel in build.parts),
        report=document if document is not None else build_document(build, spec_name=spec_name),
        title=build.design.spec.name,
        force=force,
    )
