"""A folder that appears with all of its files, or not at all; and the same for one file.

What replaces an earlier folder changes places with it in one step where the system can do that. Elsewhere the
earlier one is moved aside for a moment; a run that is killed then leaves it under a name that every command
that reads or writes there knows, and puts back.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from wingpath.core.errors import FileAccessError, OutputExistsError
from wingpath.io.exchange import exchange, undisturbed
from wingpath.io.leavings import (
    OLD,
    allowed,
    asides_of,
    begun_file,
    begun_folder,
    clear_dead,
    put_back,
    turn,
)

__all__ = [
    "reason",
    "refuse_taken_file",
    "refuse_taken_folder",
    "write_file",
    "write_files",
    "write_folder",
]

FULL = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}


def reason(error: BaseException) -> str:
    """Return why a file could not be written, in a few words."""
    while isinstance(error, FileAccessError) and error.__cause__ is not None:
        # that message names a file that is gone by now
        error = error.__cause__
    text = getattr(error, "strerror", None) or str(error)
    return f"the disk is full: {text}; free some space" if getattr(error, "errno", 0) in FULL else text


def refuse_taken_folder(folder: Path, *, force: bool) -> None:
    """Raise early when a folder cannot become the output.

    A folder that a killed run had moved aside is put back first.

    Raises
    ------
    OutputExistsError
        When it holds files and `force` is not set, when it is a file or a link, or when its place cannot be
        taken by another, as of the folder that the command runs in.
    FileAccessError
        When it cannot be looked at.
    """
    put_back(_settled(folder))
    _refuse_taken(folder, force=force)


def _refuse_taken(folder: Path, *, force: bool) -> None:
    try:
        linked = folder.is_symlink()
        kind = _kind(folder)
        odd = linked or kind not in (None, stat.S_IFDIR)
        there = not odd and kind == stat.S_IFDIR
        used = there and any(folder.iterdir())
        fixed = there and (os.path.ismount(folder) or _is_current(folder))
    except (OSError, ValueError) as error:
        raise FileAccessError(f"{folder}: cannot be used ({reason(error)})") from error
    if odd:
        what = "is a link, not a folder" if linked else "is not a folder"
        raise OutputExistsError(
            f"{folder}: {what}, so no files can be written into it; choose another with -o"
        )
    if used and not force:
        raise OutputExistsError(
            f"{folder}: exists and is not empty; nothing was written. "
            "Choose another folder with -o, or replace what is there with --force"
        )
    if fixed:
        raise OutputExistsError(
            f"{folder}: is the folder that the command runs in, or a whole disk; nothing was written. A new "
            f"folder could not take its place. Choose one inside it, like -o {folder / 'wing'}"
        )


def _kind(path: Path) -> int | None:
    """Return what stands there, as `stat.S_IFMT` tells it; None: nothing.

    From Python 3.14 on the questions of a path answer no to whatever goes wrong: a name too long, a folder
    that may not be looked into.

    Raises
    ------
    OSError
        When it cannot be looked at.
    """
    try:
        return stat.S_IFMT(os.stat(path).st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        # a link to itself leads to nothing
        if error.errno == errno.ELOOP:
            return None
        raise


def _is_current(folder: Path) -> bool:
    try:
        return os.path.samefile(folder, os.curdir)
    except OSError:
        # the folder that the command runs in is gone
        return False


def _settled(folder: Path) -> Path:
    """Return a folder with a parent and a name that is its own."""
    try:
        if folder.name in ("", os.pardir):
            return Path(os.path.realpath(folder))
        return Path(os.path.realpath(folder.parent)) / folder.name
    except (OSError, ValueError) as error:
        raise FileAccessError(f"{folder}: cannot be used ({reason(error)})") from error


def write_folder(
    folder: Path, fill: Callable[[Path], None], *, force: bool, ours: Callable[[str], bool], kind: str
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
        Whether a file of that name is one that a run of this kind writes.
    kind : str
        What is written, in lower-case letters.

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
    wanted, folder = folder, _settled(folder)
    made: list[Path] = []
    fresh, handle, done = None, None, False
    try:
        try:
            made = [parent for parent in folder.parents if not parent.exists()]
            folder.parent.mkdir(parents=True, exist_ok=True)
            # undisturbed, or an interrupt comes between making it and knowing its name
            with turn(folder.parent) as sure, undisturbed():
                _clear(folder, ours, kind)
                fresh, handle = begun_folder(folder, kind, sure=sure)
        except OSError as error:
            raise FileAccessError(f"{wanted}: cannot be made ({reason(error)})") from error
        try:
            fill(fresh)
            fresh.chmod(allowed(0o777))
            names = sorted(path.name for path in fresh.iterdir())
            with turn(folder.parent), undisturbed():
                # filling takes a while, in which another run may have put its own files there
                _refuse_taken(folder, force=force)
                _refuse_folders_in_the_way(folder, names)
                _swap(folder, fresh, ours)
                done = True
        except OSError as error:
            raise FileAccessError(
                f"{wanted}: could not be written ({reason(error)}); nothing was changed"
            ) from error
    finally:
        if fresh is not None and not done:
            shutil.rmtree(fresh, ignore_errors=True)
        if handle is not None:
            os.close(handle)
        for parent in made if not done else ():
            with suppress(OSError):
                parent.rmdir()
    return tuple(wanted.absolute() / name for name in names)


def write_files(
    folder: Path,
    files: Mapping[str, str | bytes],
    *,
    force: bool,
    ours: Callable[[str], bool],
    kind: str,
) -> tuple[Path, ...]:
    """Write files into a folder, all or none.

    Parameters
    ----------
    files : mapping of str to str or bytes
        Contents by file name.
    folder, force, ours, kind
        As for :func:`write_folder`, which see for the errors too.
    """

    def fill(fresh: Path) -> None:
        for name, content in files.items():
            raw = content.encode("utf-8") if isinstance(content, str) else content
            (fresh / name).write_bytes(raw)

    return write_folder(folder, fill, force=force, ours=ours, kind=kind)


def _refuse_folders_in_the_way(folder: Path, names: Sequence[str]) -> None:
    """Raise when a folder stands where a file is to be, as what it holds would be lost."""
    for name in names:
        if (folder / name).is_dir():
            raise OutputExistsError(
                f"{folder / name}: is a folder where a file is to be written; nothing was changed. "
                "Move it away"
            )


def _swap(folder: Path, fresh: Path, ours: Callable[[str], bool]) -> None:
    """Let a complete folder take the place of the wanted one, in a turn, undisturbed."""
    if not folder.exists():
        os.rename(fresh, folder)
        return
    # from here on what lies aside is worth keeping, whichever of the two it is
    old = fresh.with_name(f"{fresh.name}{OLD}")
    os.rename(fresh, old)
    if exchange(old, folder):
        try:
            _keep_strangers(old, folder, ours)
        except BaseException:
            _keep_strangers(folder, old, ours)
            exchange(old, folder)
            os.rename(old, fresh)
            raise
    else:
        try:
            os.rename(old, fresh)
        except BaseException:
            shutil.rmtree(old, ignore_errors=True)
            raise
        _swap_in_two(folder, fresh, old, ours)
    shutil.rmtree(old, ignore_errors=True)


def _swap_in_two(folder: Path, fresh: Path, old: Path, ours: Callable[[str], bool]) -> None:
    """Move the earlier folder aside and the new one in, or leave everything as it was."""
    os.rename(folder, old)
    try:
        os.rename(fresh, folder)
        _keep_strangers(old, folder, ours)
    except BaseException:
        if folder.exists():
            _keep_strangers(folder, old, ours)
            os.rename(folder, fresh)
        os.rename(old, folder)
        raise


def _keep_strangers(source: Path, target: Path, ours: Callable[[str], bool]) -> None:
    """Move what no run of ours has written from one folder to another."""
    for entry in list(source.iterdir()):
        # a folder is never ours, whatever its name
        if (entry.is_dir() or not ours(entry.name)) and not os.path.lexists(target / entry.name):
            os.rename(entry, target / entry.name)


def _clear(folder: Path, ours: Callable[[str], bool], kind: str) -> None:
    """Clear what killed runs left behind, in a turn, and rescue what they had moved aside."""
    clear_dead(folder.parent)
    for aside in asides_of(folder):
        if not os.path.lexists(folder):
            os.rename(aside.path, folder)
        elif aside.kind == kind and folder.is_dir():
            # only the same kind knows which of the files in it are a user's
            _keep_strangers(aside.path, folder, ours)
            shutil.rmtree(aside.path, ignore_errors=True)


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
        folder, taken = _kind(path) == stat.S_IFDIR, os.path.lexists(path)
        home = path.absolute().parent.is_dir()
    except (OSError, ValueError) as error:
        raise FileAccessError(f"{path}: cannot be used ({reason(error)})") from error
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
    home = path.absolute().parent
    part = stream = None
    try:
        with turn(home) as sure, undisturbed():
            clear_dead(home)
            part, handle = begun_file(home, sure=sure)
            stream = os.fdopen(handle, "wb")
        stream.write(raw)
        stream.flush()
        os.chmod(part, allowed(0o666))
        with turn(home):
            # another run may have written it meanwhile
            refuse_taken_file(path, force=force)
            # not every system moves a file that is open
            stream.close()
            os.replace(part, path)
    except OSError as error:
        if isinstance(error, FileAccessError):
            raise
        raise FileAccessError(f"{path}: cannot be written ({reason(error)})") from error
    finally:
        if stream is not None:
            with suppress(OSError):
                stream.close()
        # gone already when it took its place
        if part is not None:
            with suppress(OSError):
                part.unlink()
