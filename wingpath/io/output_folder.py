"""A folder that appears with all of its files, or not at all."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from wingpath.core.errors import FileAccessError, OutputExistsError

__all__ = ["refuse_taken_file", "refuse_taken_folder", "write_file", "write_folder"]

MARK = ".wingpath-part-"
"""Start of the name of a folder that is still being written."""

OLD = "-old"
"""End of the name of the folder that it replaces, while the two change places."""


def refuse_taken_folder(folder: Path, *, force: bool) -> None:
    """Raise early when a folder cannot become the output.

    Raises
    ------
    OutputExistsError
        When it holds files and `force` is not set, or when it is a file.
    FileAccessError
        When it cannot be looked at.
    """
    try:
        odd = folder.is_symlink() or (folder.exists() and not folder.is_dir())
        used = not odd and folder.is_dir() and any(folder.iterdir())
    except OSError as error:
        raise FileAccessError(f"{folder}: cannot be used ({error.strerror or error})") from error
    if odd:
        raise OutputExistsError(
            f"{folder}: is not a folder, so no files can be written into it; choose another with -o"
        )
    if used and not force:
        raise OutputExistsError(
            f"{folder}: exists and is not empty; nothing was written. "
            "Choose another folder with -o, or replace what is there with --force"
        )


def write_folder(
    folder: Path, fill: Callable[[Path], None], *, force: bool, ours: Callable[[str], bool]
) -> tuple[Path, ...]:
    """Fill a folder, all files or none.

    Everything is written into a folder beside the wanted one, which then takes its place. Files of an
    earlier run go; files that are not ours stay.

    Parameters
    ----------
    folder : Path
        The wanted folder.
    fill : callable
        Writes all files into the folder that it is given.
    force : bool
        Whether an existing folder may be replaced.
    ours : callable
        Whether a file of that name is one that a run writes.

    Returns
    -------
    tuple of Path
        The files.

    Raises
    ------
    OutputExistsError
        See :func:`refuse_taken_folder`.
    FileAccessError
        When something could not be written; the earlier contents are then untouched.
    """
    refuse_taken_folder(folder, force=force)
    folder = folder.absolute()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        _sweep(folder, ours)
        fresh = Path(tempfile.mkdtemp(prefix=f"{MARK}{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise FileAccessError(f"{folder}: cannot be made ({error.strerror or error})") from error
    try:
        refuse_taken_folder(folder, force=force)
        fill(fresh)
        fresh.chmod(0o755)
        names = sorted(path.name for path in fresh.iterdir())
        _refuse_folders_in_the_way(folder, names)
        # filling takes a while, in which another run may have put its own files there
        refuse_taken_folder(folder, force=force)
        _swap(folder, fresh, ours)
    except OSError as error:
        raise FileAccessError(
            f"{folder}: could not be written ({error.strerror or error}); nothing was changed"
        ) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return tuple(folder / name for name in names)


def _refuse_folders_in_the_way(folder: Path, names: Sequence[str]) -> None:
    """Raise when a folder stands where a file is to be, as what it holds would be lost."""
    for name in names:
        if (folder / name).is_dir():
            raise OutputExistsError(
                f"{folder / name}: is a folder where a file is to be written; nothing was changed. "
                "Move it away"
            )


def _swap(folder: Path, fresh: Path, ours: Callable[[str], bool]) -> None:
    if not folder.exists():
        os.rename(fresh, folder)
        return
    old = fresh.with_name(f"{fresh.name}{OLD}")
    os.rename(folder, old)
    try:
        os.rename(fresh, folder)
        _keep_strangers(old, folder, ours)
    except BaseException:  # an interrupt too
        if folder.exists():
            _keep_strangers(folder, old, ours)
            os.rename(folder, fresh)
        os.rename(old, folder)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _keep_strangers(source: Path, target: Path, ours: Callable[[str], bool]) -> None:
    """Move what no run of ours has written from one folder to another."""
    for entry in list(source.iterdir()):
        # a folder is never ours, whatever its name
        if (entry.is_dir() or not ours(entry.name)) and not (target / entry.name).exists():
            os.rename(entry, target / entry.name)


def _sweep(folder: Path, ours: Callable[[str], bool]) -> None:
    """Clear what a run that was killed left behind, and put back what it had moved aside."""
    # the middle is what tempfile makes up, so that `wing` does not take the leavings of `wing-2`
    name = re.compile(rf"{re.escape(MARK + folder.name)}-[a-z0-9_]{{8}}(?:{OLD})?")
    for left in folder.parent.iterdir():
        if not name.fullmatch(left.name):
            continue
        if left.name.endswith(OLD) and not folder.exists():
            os.rename(left, folder)
        elif not _fresh_enough(left):
            if left.name.endswith(OLD):
                _keep_strangers(left, folder, ours)
            shutil.rmtree(left, ignore_errors=True)


STALE_S = 3600.0
"""A part-written folder older than this belongs to no run that is still alive [s]."""


def _fresh_enough(path: Path) -> bool:
    import time

    try:
        return time.time() - path.stat().st_mtime < STALE_S
    except OSError:
        return False


def refuse_taken_file(path: Path, *, force: bool) -> None:
    """Raise early when a file cannot be written.

    Raises
    ------
    OutputExistsError
        When it exists and `force` is not set, or when it is a folder.
    FileAccessError
        When it cannot be looked at, or its folder is not there.
    """
    try:
        folder, taken = path.is_dir(), os.path.lexists(path)
        home = path.absolute().parent.is_dir()
    except OSError as error:
        raise FileAccessError(f"{path}: cannot be used ({error.strerror or error})") from error
    if not home:
        raise FileAccessError(f"{path}: its folder does not exist; make it first")
    if folder:
        raise OutputExistsError(f"{path}: is a folder; give the name of a file")
    if taken and not force:
        raise OutputExistsError(f"{path}: exists; nothing was written. Replace it with --force")


def write_file(path: Path, data: bytes | str, *, force: bool) -> None:
    """Write one file, whole or not at all.

    Raises
    ------
    OutputExistsError
        When it exists and `force` is not set.
    FileAccessError
        When it cannot be written.
    """
    refuse_taken_file(path, force=force)
    # a file name that is not UTF-8 may stand in a table
    raw = data.encode("utf-8", "replace") if isinstance(data, str) else data
    try:
        handle, name = tempfile.mkstemp(prefix=MARK, dir=path.absolute().parent)
    except OSError as error:
        raise FileAccessError(f"{path}: cannot be written ({error.strerror or error})") from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(raw)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except OSError as error:
        raise FileAccessError(f"{path}: cannot be written ({error.strerror or error})") from error
    finally:
        # gone already when it took its place
        Path(name).unlink(missing_ok=True)
