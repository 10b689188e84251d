"""A journal of evaluations, one JSON line each, so that a search goes on where it was stopped.

The first line says which wing and which version of wingpath the lines hold for. Lines are only ever added;
a run that is killed leaves a torn last line at worst.
"""

from __future__ import annotations

import json
import math
import numbers
import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Literal, get_args

from wingpath.core.errors import FileAccessError, InputError, OutputExistsError
from wingpath.io.leavings import lock_now
from wingpath.io.output_folder import reason
from wingpath.io.reading import open_plain
from wingpath.version import __version__

__all__ = [
    "LONGEST_LINE",
    "MOST_BYTES",
    "Journal",
    "JournalContents",
    "Kind",
    "in_use",
    "journal_contents",
    "read_journal",
]

FORMAT = 1
"""Version of this file format."""

MOST_BYTES = 200_000_000
"""Largest journal [bytes]: an evaluation takes a few thousand, and a search makes some thousand of them."""

LONGEST_LINE = 1_000_000
"""Longest line with its end [bytes]; a longer one is no line of ours."""

Kind = Literal["judged", "previewed"]

KINDS = get_args(Kind)

REMEDY = "delete it or name another file, and the search begins anew"


@dataclass(frozen=True, slots=True)
class JournalContents:
    """What a journal holds.

    Parameters
    ----------
    entries : dict
        Values by (key, kind); the last one written counts.
    skipped : int
        Garbled lines before the last one, which were left out.
    """

    entries: dict[tuple[str, str], Mapping[str, Any]]
    skipped: int


def in_use(path: Path) -> str:
    """Say that another search is writing a journal."""
    return (
        f"{path}: another search is writing here; nothing was changed. Wait for it, stop it, or choose "
        "another folder with -o"
    )


def read_journal(path: str | Path, *, wing: str) -> dict[tuple[str, str], Mapping[str, Any]]:
    """Return what a journal holds, by (key, kind); see :func:`journal_contents`."""
    return journal_contents(path, wing=wing).entries


def journal_contents(path: str | Path, *, wing: str) -> JournalContents:
    """Read a journal.

    Parameters
    ----------
    path : str or Path
        The file.
    wing : str
        Digest of the wing that the search is about.

    Returns
    -------
    JournalContents
        Its last line is left out silently when it is torn or garbled. A file that broke off within its
        first line holds nothing.

    Raises
    ------
    FileAccessError
        When it is not there or cannot be read.
    InputError
        When it is no journal, is one of another wing or another version of wingpath, or is too large.
    """
    file = Path(path)
    try:
        if not file.is_file():
            what = "this is not a file" if file.exists() else "there is no such file"
            raise FileAccessError(f"{file}: {what}; give the path of a journal")
        with open_plain(file) as stream:
            return _contents(stream, file, wing)
    except FileAccessError:
        raise
    except OSError as error:
        raise FileAccessError(f"{file}: could not be read ({error.strerror or error})") from error


def _contents(stream: BinaryIO, file: Path, wing: str) -> JournalContents:
    size = os.fstat(stream.fileno()).st_size
    if size > MOST_BYTES:
        raise InputError(f"{file}: got {size} bytes; allowed: a journal of up to {MOST_BYTES}; {REMEDY}")
    first = stream.readline(LONGEST_LINE + 1)
    entries: dict[tuple[str, str], Mapping[str, Any]] = {}
    if _broke_off(first, wing):
        return JournalContents(entries, 0)
    _check_head(first, file, wing)
    skipped, garbled = 0, False
    while raw := stream.readline(LONGEST_LINE + 1):
        if raw.isspace():
            continue
        # the one before was not the last
        skipped += garbled
        entry = _entry(_whole(raw, stream))
        garbled = entry is None
        if entry is not None:
            entries[entry[0]] = entry[1]
    return JournalContents(entries, skipped)


def _whole(raw: bytes, stream: BinaryIO) -> bytes:
    """Return a line, or nothing in place of one that is too long, whose rest is passed over."""
    if len(raw) <= LONGEST_LINE:
        return raw
    while raw and not raw.endswith(b"\n"):
        raw = stream.readline(LONGEST_LINE)
    return b""


def _parsed(raw: bytes) -> Any:
    """Return what a JSON line holds; None when it is garbled."""
    try:
        return json.loads(raw.decode("utf-8"), parse_constant=_refused)
    except (ValueError, RecursionError):
        return None


def _refused(name: str) -> Any:
    raise ValueError(name)


def _entry(raw: bytes) -> tuple[tuple[str, str], Mapping[str, Any]] | None:
    data = _parsed(raw)
    if not isinstance(data, dict):
        return None
    key, kind, value = data.get("key"), data.get("kind"), data.get("value")
    if not isinstance(key, str) or not isinstance(kind, str) or not isinstance(value, dict):
        return None
    if kind not in KINDS:
        return None
    return (key, kind), value


def _head(wing: str) -> bytes:
    return _as_line({"format": FORMAT, "wingpath": __version__, "wing": wing})


def _broke_off(first: bytes, wing: str) -> bool:
    """Return whether a file ends within the first line of a journal of this wing."""
    head = _head(wing)
    return len(first) < len(head) - 1 and head.startswith(first)


def _check_head(first: bytes, file: Path, wing: str) -> None:
    data = _parsed(first)
    if not isinstance(data, dict) or not {"format", "wingpath", "wing"} <= data.keys():
        begin = first[:40].decode("utf-8", "replace").strip()
        raise InputError(
            f"{file}: got a file that begins with {begin!r}; allowed: a journal that wingpath has written; "
            "name another file"
        )
    for key, allowed, what in (
        ("format", FORMAT, "a journal of format"),
        ("wingpath", __version__, "a journal of wingpath"),
        ("wing", wing, "a journal of the wing"),
    ):
        got = data[key]
        if key == "wing" and got != allowed:
            raise InputError(
                f"{file}: got the journal of another wing, or the spec or a file that it names has changed "
                "since; allowed: that of this wing. Begin anew with --force, or choose another folder with -o"
            )
        if got != allowed or isinstance(got, bool):
            raise InputError(f"{file}: got {what} {str(got)[:80]!r}; allowed: {str(allowed)!r}; {REMEDY}")


def _as_line(data: Mapping[str, Any]) -> bytes:
    # escapes keep every text, half characters too
    return json.dumps(data, allow_nan=False, separators=(",", ":")).encode("ascii") + b"\n"


def _plain(value: Any) -> Any:
    """Return a value as JSON can hold it; None in place of what is no finite number."""
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real):
        return float(value) if math.isfinite(value) else None
    raise TypeError(
        f"got a {type(value).__name__}; a journal holds texts, numbers, true/false, lists, mappings"
    )


class Journal:
    """A journal that is being written; use it in a ``with`` statement, one at a time for a file.

    A journal that exists is gone on with, on a new line where its last one is torn.

    Parameters
    ----------
    path : str or Path
        The file; its folder has to be there. A link is not written through.
    wing : str
        Digest of the wing that the search is about.

    Attributes
    ----------
    earlier : JournalContents
        What it held when it was opened.
    """

    def __init__(self, path: str | Path, *, wing: str) -> None:
        self.path = Path(path)
        self.wing = wing
        self.earlier = JournalContents({}, 0)
        self._stream: BinaryIO | None = None
        self._size = 0
        self._torn = False

    def __enter__(self) -> Journal:
        """Open the file.

        Raises
        ------
        FileAccessError
            When it cannot be read or written.
        InputError
            As :func:`journal_contents`.
        OutputExistsError
            When it is a link or a folder, or another search is writing it.
        """
        if self._stream is not None:
            raise ValueError("the journal is open already")
        try:
            self._refuse_odd()
            flags = os.O_RDWR | os.O_APPEND | os.O_CREAT
            # not everywhere there is
            flags |= getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
            stream = os.fdopen(os.open(self.path, flags, 0o644), "r+b", buffering=0)
        except (OSError, ValueError) as error:
            if isinstance(error, InputError):
                raise
            raise self._unusable(error) from error
        try:
            self._hold(stream)
            self._begin(stream)
        except BaseException:
            stream.close()
            self._stream = None
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close()

    def _hold(self, stream: Any) -> None:
        """Keep other searches out, where the disk knows locks, until the file is closed."""
        if lock_now(stream.fileno()) is False or not os.path.samestat(
            os.fstat(stream.fileno()), os.stat(self.path)
        ):
            raise OutputExistsError(in_use(self.path))

    def append(self, key: str, kind: Kind, value: Mapping[str, Any]) -> None:
        """Write one evaluation, at once.

        Parameters
        ----------
        key : str
            What was evaluated.
        kind : {"judged", "previewed"}
            How.
        value : mapping
            What came out: texts, numbers, true/false, None, lists and mappings of them. Numbers that are
            not finite become None.

        Raises
        ------
        FileAccessError
            When it cannot be written, or the journal is full.
        ValueError, TypeError
            When the journal is not open, the kind is none, or the value cannot be written.
        """
        if kind not in KINDS:
            raise ValueError(f"kind: got {kind!r}; allowed: {', '.join(KINDS)}")
        line = _as_line({"key": key, "kind": kind, "value": _plain(value)})
        if len(line) > LONGEST_LINE:
            raise ValueError(f"value: got {len(line)} bytes as a line; allowed: {LONGEST_LINE}")
        self._write(line)

    def _refuse_odd(self) -> None:
        if not os.path.lexists(self.path):
            return
        mode = os.lstat(self.path).st_mode
        if not stat.S_ISREG(mode):
            what = "a link" if stat.S_ISLNK(mode) else "a folder" if stat.S_ISDIR(mode) else "no plain file"
            raise OutputExistsError(
                f"{self.path}: is {what}; allowed: a journal, or a new file; name another file"
            )

    def _begin(self, stream: Any) -> None:
        """Read what is there, and write the first line if there is none."""
        try:
            with open(stream.fileno(), "rb", closefd=False) as reader:
                self.earlier = _contents(reader, self.path, self.wing)
                reader.seek(0)
                broke_off = _broke_off(reader.readline(LONGEST_LINE), self.wing)
                self._size = 0 if broke_off else reader.seek(0, os.SEEK_END)
                if self._size:
                    reader.seek(-1, os.SEEK_END)
                    self._torn = reader.read(1) != b"\n"
            self._stream = stream
            if broke_off:
                stream.truncate(0)
                self._torn = False
        except OSError as error:
            raise self._unusable(error) from error
        if not self._size:
            self._write(_head(self.wing))

    def _write(self, line: bytes) -> None:
        if self._stream is None:
            raise ValueError("the journal is not open; use it in a with statement")
        rest = b"\n" + line if self._torn else line
        if self._size + len(rest) > MOST_BYTES:
            raise FileAccessError(f"{self.path}: is full with {MOST_BYTES} bytes; {REMEDY}")
        # an interrupt or a full disk may come between two parts
        self._torn = True
        try:
            while rest:
                written = self._stream.write(rest)
                self._size += written
                rest = rest[written:]
        except OSError as error:
            raise FileAccessError(
                f"{self.path}: could not be written ({reason(error)}); go on then"
            ) from error
        self._torn = False

    def _unusable(self, error: Exception) -> FileAccessError:
        reason = getattr(error, "strerror", None) or str(error)
        return FileAccessError(f"{self.path}: cannot be used as a journal ({reason})")
