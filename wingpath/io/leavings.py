"""What a run leaves behind when it is killed: names that tell it, locks that end with the run, clearing.

A part-written file or folder lies beside the wanted one under a name of its own, and the run that writes it
holds a lock on it. The system releases the lock when the run ends, however it ends, so a left-over whose lock
is free belongs to nobody. That holds among runs of one system, containers on it too, so the name tells the
system; a left-over of another one (a shared disk), or of a disk without locks, counts by its age.
"""

from __future__ import annotations

import errno
import hashlib
import os
import platform
import re
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from wingpath.core.errors import FileAccessError

if sys.platform != "win32":
    import fcntl

__all__ = [
    "OLD",
    "Aside",
    "allowed",
    "asides_of",
    "begun_file",
    "begun_folder",
    "clear_dead",
    "lock_now",
    "put_back",
    "system_digits",
    "turn",
]

MARK = ".wingpath-part-"
"""Start of the name of what is still being written."""

OLD = "-old"
"""End of the name of a folder while it changes places with another, and is worth keeping."""

UNSURE = "00000000"
"""Stands in a name for the system where the disk knows no locks."""

STALE_S = 3600.0
"""A left-over older than this belongs to no run that is still alive, where locks cannot tell [s]."""

SWAP_S = 10.0
"""A folder that lacks its name for longer has been left, where locks cannot tell [s]."""

LONGEST_WAIT_S = 60.0
"""Changing names takes milliseconds; who holds a folder for longer has another purpose [s]."""

LONGEST_NAME = 150
"""Longest name that is told in the name of a left-over, of the 255 that disks allow [bytes]."""

NAME = re.compile(
    rf"{re.escape(MARK)}(?P<of>.*-[a-z]+-)?[a-z0-9_]{{8}}-(?P<system>[0-9a-f]{{8}})(?P<old>{OLD})?", re.DOTALL
)
"""Left-overs: of folders with the folder's name and what wrote it, of files without."""


@dataclass(frozen=True, slots=True)
class Aside:
    """A folder that was changing places when its run was killed.

    Parameters
    ----------
    path : Path
        Where it lies.
    kind : str
        What the run was writing.
    """

    path: Path
    kind: str


@cache
def system_digits() -> str:
    """Return eight digits for this system as it runs now: locks of two systems know nothing of each other."""
    try:
        # the same for all containers of one kernel
        told = Path("/proc/sys/kernel/random/boot_id").read_text("ascii")
    except (OSError, ValueError):
        told = platform.node()
    return hashlib.blake2s(told.encode("utf-8", "replace"), digest_size=4).hexdigest()


def lock_now(handle: int) -> bool | None:
    """Lock an open file or folder until it is closed; False: it is held, None: no locks here."""
    if sys.platform == "win32":
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return False if error.errno in (errno.EWOULDBLOCK, errno.EACCES) else None
    return True


@contextmanager
def turn(folder: Path) -> Iterator[bool]:
    """Let one run at a time change the names in a folder; tell whether locks work there.

    Raises
    ------
    FileAccessError
        When somebody else holds the folder.
    """
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        # it may be written to but not read, or cannot be opened on this system
        yield False
        return
    try:
        until = time.monotonic() + LONGEST_WAIT_S
        while (locked := lock_now(handle)) is False:
            if time.monotonic() > until:
                raise FileAccessError(
                    f"{folder}: another program has been holding this folder for {LONGEST_WAIT_S:.0f} s; "
                    "nothing was changed. End it and try again"
                )
            time.sleep(0.01)
        yield bool(locked)
    finally:
        os.close(handle)


def _told(name: str) -> str:
    raw = os.fsencode(name)
    return name if len(raw) <= LONGEST_NAME else hashlib.blake2s(raw, digest_size=16).hexdigest()


def begun_folder(folder: Path, kind: str, *, sure: bool) -> tuple[Path, int | None]:
    """Make a folder beside the wanted one, in a turn, and hold it; close the handle in the end."""
    end = f"-{system_digits() if sure else UNSURE}"
    path = Path(tempfile.mkdtemp(prefix=f"{MARK}{_told(folder.name)}-{kind}-", suffix=end, dir=folder.parent))
    if not sure:
        return path, None
    handle = os.open(path, os.O_RDONLY)
    lock_now(handle)
    return path, handle


def begun_file(home: Path, *, sure: bool) -> tuple[Path, int]:
    """Make a file in a folder, in a turn, and hold it until its handle is closed."""
    handle, name = tempfile.mkstemp(prefix=MARK, suffix=f"-{system_digits() if sure else UNSURE}", dir=home)
    if sure:
        lock_now(handle)
    return Path(name), handle


def allowed(mode: int) -> int:
    """Return what the user's mask leaves of a mode: temporary files are made for their owner alone."""
    # the mask can only be read by setting it; for that moment it is strict
    mask = os.umask(0o077)
    os.umask(mask)
    return mode & ~mask


def clear_dead(home: Path) -> None:
    """Remove, in a turn, all that killed runs left half written in a folder."""
    for path, found in _leavings(home):
        if found["old"] is None and _is_dead(path, found["system"], stale_s=STALE_S):
            if found["of"]:
                shutil.rmtree(path, ignore_errors=True)
            else:
                with suppress(OSError):
                    path.unlink()


def asides_of(folder: Path) -> list[Aside]:
    """Return, in a turn, what runs that were killed had moved aside for a folder, the last one first."""
    asides = []
    stale_s = STALE_S if os.path.lexists(folder) else SWAP_S
    for path, found in _leavings(folder.parent):
        of, _, kind = (found["of"] or "").removesuffix("-").rpartition("-")
        if found["old"] and of == _told(folder.name) and _is_dead(path, found["system"], stale_s=stale_s):
            asides.append(Aside(path, kind))
    return sorted(asides, key=lambda aside: -_changed(aside.path))


def put_back(folder: Path) -> None:
    """Give a folder its name again, when a run was killed while it was changing places with another."""
    with suppress(OSError):
        if os.path.lexists(folder) or not _leavings(folder.parent):
            return
        with turn(folder.parent):
            if not os.path.lexists(folder):
                for aside in asides_of(folder)[:1]:
                    os.rename(aside.path, folder)


def _leavings(home: Path) -> list[tuple[Path, re.Match[str]]]:
    try:
        names = [name for name in os.listdir(home) if name.startswith(MARK)]
    except OSError:
        return []
    return [(home / name, found) for name in names if (found := NAME.fullmatch(name)) is not None]


def _is_dead(path: Path, system: str, *, stale_s: float) -> bool:
    """Return whether the run that made a left-over has ended."""
    try:
        if stat.S_ISLNK(os.lstat(path).st_mode):
            return False
        if system != system_digits():
            return time.time() - _changed(path) > stale_s
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return False
    try:
        return lock_now(handle) is True
    finally:
        os.close(handle)


def _changed(path: Path) -> float:
    """Return when a left-over was last written to or moved [s]."""
    try:
        found = os.lstat(path)
    except OSError:
        return time.time()
    return max(found.st_mtime, found.st_ctime)
