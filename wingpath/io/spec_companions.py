"""The files that a spec names by path, so that copies can lie beside a spec that is written elsewhere.

Profiles and coordinate files name no further files.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from wingpath.core.errors import FileAccessError, InputError
from wingpath.io.airfoil_rows import MAX_BYTES
from wingpath.io.profile_store import ProfileKind, resolve_inside
from wingpath.io.reading import open_plain
from wingpath.io.spec_toml import MOST_BYTES

__all__ = ["companions"]

_ENDINGS: dict[ProfileKind, str] = {
    "airfoils": ".dat",
    "tubes": ".toml",
    "filaments": ".toml",
    "printers": ".toml",
}

_MOST: dict[str, int] = {".dat": MAX_BYTES, ".toml": MOST_BYTES}
"""Largest file of an ending that is read [bytes]."""


def companions(
    spec_data: Mapping[str, Any], base_dir: Path, *, reserved: Collection[str] = ()
) -> tuple[dict[str, bytes], dict[str, str]]:
    """Return the files that a spec names by path, and what the spec has to call their copies.

    Parameters
    ----------
    spec_data : mapping
        The spec as its file holds it, already checked.
    base_dir : Path
        Folder of the spec, which its paths are relative to.
    reserved : collection of str
        File names that the copies must not have.

    Returns
    -------
    files : dict
        Contents by the name of the copy: the file's own name, numbered where two different files share
        one. Names that differ in case only count as the same.
    changes : dict
        New value by key path, as :func:`wingpath.io.spec_editing.edited_spec` takes them, where it is
        not what the spec has.

    Raises
    ------
    SpecError
        When a path leads out of the folder.
    FileAccessError
        When a file cannot be read.
    InputError
        When a file is too large to be a profile.
    """
    files: dict[str, bytes] = {}
    changes: dict[str, str] = {}
    names: dict[tuple[Path, str], str] = {}
    taken = {name.casefold() for name in reserved}
    for key, kind, text in _named(spec_data):
        if not _is_file(kind, text):
            continue
        ending = _ENDINGS[kind]
        path = resolve_inside(text, base_dir=base_dir, key=key)
        if (path, ending) not in names:
            data = _contents(path, key, _MOST[ending])
            name = _free_name(PurePosixPath(text.replace("\\", "/")).name, ending, taken)
            taken.add(name.casefold())
            names[path, ending] = name
            files[name] = data
        if names[path, ending] != text:
            changes[key] = names[path, ending]
    return files, changes


def _named(data: Mapping[str, Any]) -> Iterator[tuple[str, ProfileKind, str]]:
    """Yield key path, kind and value of every key that may name a file."""
    for table, name, kind in (("station", "airfoil", "airfoils"), ("tube", "material", "tubes")):
        for number, row in enumerate(data.get(table, ())):
            if name in row:
                yield f"{table}[{number}].{name}", kind, row[name]  # type: ignore[misc]
    for table, kind in (("filament", "filaments"), ("printer", "printers")):
        if "profile" in data.get(table, {}):
            yield f"{table}.profile", kind, data[table]["profile"]  # type: ignore[misc]


def _is_file(kind: ProfileKind, text: str) -> bool:
    """Return whether the loaders of profiles take a value for a path; nothing else looks like one."""
    return "/" in text or "\\" in text or text.lower().endswith(_ENDINGS[kind])


def _contents(path: Path, key: str, most: int) -> bytes:
    try:
        if not path.is_file():
            what = "this is not a file" if path.exists() else "there is no such file"
            raise FileAccessError(f"{path}: {what}; {key} of the spec names it")
        with open_plain(path) as stream:
            data = stream.read(most + 1)
    except FileAccessError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileAccessError(f"{path}: could not be read: {reason}") from None
    if len(data) > most:
        size = f"{most / 1e6:g} MB"
        raise InputError(f"{path}: got more than {size}; allowed: at most {size}; {key} of the spec names it")
    return data


def _free_name(name: str, ending: str, taken: Collection[str]) -> str:
    """Return a name that is still free and that a spec's reader takes for a path."""
    # a colon would make a drive of what stands before it
    name = name.replace(":", "-")
    stem = name[: -len(ending)] if name.lower().endswith(ending) else name
    last = name[len(stem) :] or ending
    number, free = 1, f"{stem}{last}"
    while free.casefold() in taken:
        number += 1
        free = f"{stem}-{number}{last}"
    return free
