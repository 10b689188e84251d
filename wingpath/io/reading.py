"""Opening a file to read it: a plain one, as a pipe may never say anything."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

from wingpath.io.leavings import put_back

__all__ = ["open_plain", "put_back_for"]


def put_back_for(path: Path) -> None:
    """Give the folder of a file its name again, if a run was killed while it was replacing that folder."""
    path = path.absolute()
    if os.path.lexists(path):
        return
    for folder in reversed(path.parents):
        if not os.path.lexists(folder):
            put_back(folder)
            return


def open_plain(path: Path) -> BinaryIO:
    """Open a file to read its bytes.

    Raises
    ------
    OSError
        When it cannot be opened, or is a folder, a pipe or a device.
    """
    put_back_for(path)
    # so that opening a pipe to which nobody writes comes back
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags)
    try:
        mode = os.fstat(handle).st_mode
        if stat.S_ISDIR(mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
        if not stat.S_ISREG(mode):
            raise OSError(errno.EINVAL, "this is not a plain file; copy what it gives into one", str(path))
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise
