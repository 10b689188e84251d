"""What `lighten` writes: the lightest spec and what it names, tables, pictures, report, and its journal."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from wingpath.core.errors import FileAccessError, InputError, OutputExistsError
from wingpath.io.output_folder import refuse_taken_folder, write_folder

__all__ = [
    "JOURNAL_NAME",
    "begin_lightened_folder",
    "is_lightened_name",
    "leave_lightened_folder",
    "write_lightened_files",
]

JOURNAL_NAME = "evaluations.jsonl"
"""The journal stays in the folder, for a search that goes on."""

LIGHTENED_NAME = re.compile(r"lightest\.toml|(front|judged)\.csv|front\.(png|svg)|report\.json")
"""Names of the files that a search writes in the end; a later one replaces these and no others."""


def is_lightened_name(name: str) -> bool:
    """Return whether a file of that name is one that a search writes in the end."""
    return LIGHTENED_NAME.fullmatch(name) is not None


def begin_lightened_folder(folder: Path, *, force: bool, resume: bool) -> Path:
    """Make the folder of a search and return the path of its journal.

    Parameters
    ----------
    folder : Path
        Where to.
    force : bool
        Whether an earlier search there may be replaced; its journal goes.
    resume : bool
        Whether to go on with the earlier search there.

    Raises
    ------
    InputError
        When there is nothing to go on with.
    OutputExistsError
        When the folder holds files and neither was asked for.
    FileAccessError
        When it cannot be made.
    """
    journal = folder / JOURNAL_NAME
    if resume:
        if not journal.is_file():
            raise InputError(
                f"--resume: got {folder}, which holds no {JOURNAL_NAME}; allowed: the folder of an earlier "
                "search. Give it with -o, or leave --resume out to begin"
            )
        refuse_taken_folder(folder, force=True)
        return journal
    try:
        refuse_taken_folder(folder, force=force)
    except OutputExistsError as error:
        if journal.is_file():
            raise OutputExistsError(
                f"{folder}: holds an earlier search; nothing was written. Go on with it by --resume, replace "
                "it by --force, or choose another folder with -o"
            ) from error
        raise
    try:
        folder.mkdir(parents=True, exist_ok=True)
        journal.unlink(missing_ok=True)
    except OSError as error:
        raise FileAccessError(f"{folder}: cannot be used ({error.strerror or error})") from error
    return journal


def leave_lightened_folder(folder: Path) -> None:
    """Take back what :func:`begin_lightened_folder` made, after a search that could not begin."""
    try:
        (folder / JOURNAL_NAME).unlink(missing_ok=True)
        folder.rmdir()
    except OSError:
        # it holds other files, which stay
        return


def write_lightened_files(folder: Path, files: Mapping[str, str | bytes]) -> tuple[Path, ...]:
    """Write the results of a search into the folder that holds its journal, all or none.

    Parameters
    ----------
    folder : Path
        The folder that :func:`begin_lightened_folder` made.
    files : mapping of str to str or bytes
        Contents by file name.

    Raises
    ------
    OutputExistsError, FileAccessError
        See :func:`wingpath.io.output_folder.write_folder`.
    """

    def fill(fresh: Path) -> None:
        for name, content in files.items():
            raw = content.encode("utf-8") if isinstance(content, str) else content
            (fresh / name).write_bytes(raw)

    return write_folder(folder, fill, force=True, ours=is_lightened_name)
