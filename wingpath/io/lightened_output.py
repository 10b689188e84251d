"""What `lighten` writes: the lightest spec and what it names, tables, pictures, report, and its journal."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from wingpath.core.errors import FileAccessError, InputError, OutputExistsError
from wingpath.io.journal import in_use
from wingpath.io.leavings import lock_now
from wingpath.io.output_folder import reason, refuse_taken_folder, write_files
from wingpath.io.reading import put_back_for

__all__ = [
    "JOURNAL_NAME",
    "begin_lightened_folder",
    "is_lightened_name",
    "leave_lightened_folder",
    "write_lightened_files",
]

JOURNAL_NAME = "evaluations.jsonl"
"""The journal stays in the folder, for a search that goes on."""

EARLIER_NAME = "evaluations-before.jsonl"
"""The journal of a search that is being replaced, until the results of the new one are written."""

LIGHTENED_NAME = re.compile(
    r"evaluations-before\.jsonl|lightest\.toml|(front|judged)\.csv|front\.(png|svg)|report\.json"
)
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
        Whether an earlier search there may be replaced; its journal stays, under another name, until the
        results of the new one are written.
    resume : bool
        Whether to go on with the earlier search there.

    Raises
    ------
    InputError
        When there is nothing to go on with.
    OutputExistsError
        When the folder holds files and neither was asked for, or another search is running there.
    FileAccessError
        When it cannot be made.
    """
    journal = folder / JOURNAL_NAME
    put_back_for(journal)
    if resume:
        if not os.path.isfile(journal):
            raise InputError(
                f"--resume: got {folder}, which holds no {JOURNAL_NAME}; allowed: the folder of an earlier "
                "search. Give it with -o, or leave --resume out to begin"
            )
        refuse_taken_folder(folder, force=True)
        return journal
    try:
        refuse_taken_folder(folder, force=force)
    except OutputExistsError as error:
        if os.path.isfile(journal):
            raise OutputExistsError(
                f"{folder}: holds an earlier search; nothing was written. Go on with it by --resume, replace "
                "it by --force, or choose another folder with -o"
            ) from error
        raise
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _held(journal):
            if journal.is_file() and not (folder / EARLIER_NAME).exists():
                os.rename(journal, folder / EARLIER_NAME)
            else:
                # the earlier one that is kept belongs to the results that are there
                journal.unlink(missing_ok=True)
    except OSError as error:
        raise FileAccessError(f"{folder}: cannot be used ({reason(error)})") from error
    return journal


@contextmanager
def _held(journal: Path) -> Iterator[None]:
    """Hold a journal, if there is one, so that no search begins on it meanwhile."""
    try:
        handle = os.open(journal, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        # there is none, or something odd
        yield
        return
    try:
        if lock_now(handle) is False:
            raise OutputExistsError(in_use(journal))
        yield
    finally:
        os.close(handle)


def leave_lightened_folder(folder: Path) -> None:
    """Take back what :func:`begin_lightened_folder` made, after a search that could not begin."""
    journal = folder / JOURNAL_NAME
    try:
        with _held(journal):
            journal.unlink(missing_ok=True)
            if (folder / EARLIER_NAME).is_file():
                os.rename(folder / EARLIER_NAME, journal)
        folder.rmdir()
    except (OSError, OutputExistsError):
        # it holds other files, which stay, or another search is running there
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
    return write_files(folder, files, force=True, ours=is_lightened_name, kind="lightened")
