"""Where profiles are found: those that are shipped, and those that lie beside a spec."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Literal, TypeVar

from wingpath.core.errors import A_SPEC, FileAccessError, InputError, Problem, SpecError
from wingpath.io.spec_toml import dump_toml, read_toml
from wingpath.model.profile_base import Profile
from wingpath.model.profiles import FilamentProfile, PrinterProfile, TubeMaterial, profile_from_dict
from wingpath.model.spec_base import shown

if TYPE_CHECKING:
    from wingpath.geometry.airfoil import Airfoil

__all__ = [
    "PROFILE_KINDS",
    "ProfileEntry",
    "ProfileKind",
    "dump_filament",
    "is_shipped",
    "list_profiles",
    "load_airfoil",
    "load_filament",
    "load_printer",
    "load_tube",
    "profiles_folder",
    "resolve_inside",
]

ProfileKind = Literal["airfoils", "printers", "filaments", "tubes"]

PROFILE_KINDS: tuple[ProfileKind, ...] = ("airfoils", "printers", "filaments", "tubes")
"""The folders of profiles."""

_ENDING: dict[ProfileKind, str] = {
    "airfoils": ".dat",
    "printers": ".toml",
    "filaments": ".toml",
    "tubes": ".toml",
}

FOAMING = re.compile(r"\blw|light|foam|aero|air")
"""What a filament that foams is called on its spool: common practice, no source."""

TomlProfile = TypeVar("TomlProfile", bound=Profile)


@dataclass(frozen=True, slots=True)
class ProfileEntry:
    """One profile of the store.

    Parameters
    ----------
    kind : {"airfoils", "printers", "filaments", "tubes"}
        Its folder.
    name : str
        What a spec calls it.
    title : str
        One line that says what it is.
    source : str
        Where its data comes from.
    path : Path
        Its file.
    """

    kind: ProfileKind
    name: str
    title: str
    source: str
    path: Path


def profiles_folder() -> Path:
    """Return the folder of the shipped profiles: inside the installed package, else of a source checkout.

    Raises
    ------
    FileAccessError
        When neither is there.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "profiles", package.parent / "profiles"):
        if (folder / "printers").is_dir():
            return folder
    raise FileAccessError(f"{package / 'profiles'}: the shipped profiles are missing; install wingpath again")


def _stem(path: Path) -> str:
    return path.stem


def _names(kind: ProfileKind) -> dict[str, Path]:
    """Return the shipped profiles of one kind by name."""
    folder = profiles_folder() / kind
    return {path.stem: path for path in sorted(folder.glob(f"*{_ENDING[kind]}"), key=_stem)}


def is_shipped(kind: ProfileKind, name: str) -> bool:
    """Return whether a name is that of a shipped profile, and no path."""
    return name in _names(kind)


def list_profiles(kind: ProfileKind) -> tuple[ProfileEntry, ...]:
    """Return the shipped profiles of one kind, by name.

    Raises
    ------
    SpecError, AirfoilFileError
        When a shipped file is damaged.
    """
    entries = []
    notes = _airfoil_notes(profiles_folder() / kind) if kind == "airfoils" else {}
    for name, path in _names(kind).items():
        if kind == "airfoils":
            title, source = notes.get(name, (name, "not in the index"))
        else:
            profile = _read(_CLASSES[kind], path)
            title, source = profile.title, profile.source
        entries.append(ProfileEntry(kind, name, title, source, path))
    return tuple(entries)


def _airfoil_notes(folder: Path) -> dict[str, tuple[str, str]]:
    """Return title and source of every shipped airfoil from the index beside the files."""
    index = folder / "index.toml"
    entries = read_toml(index).get("airfoil", []) if index.is_file() else []
    return {
        str(entry["name"]): (f"{entry['title']}; {entry['use']}", str(entry["source"])) for entry in entries
    }


_CLASSES: dict[ProfileKind, type[Profile]] = {
    "printers": PrinterProfile,
    "filaments": FilamentProfile,
    "tubes": TubeMaterial,
}


def resolve_inside(text: str, *, base_dir: Path, key: str, allow_outside: bool = False) -> Path:
    """Return the path that a key of a spec names, kept inside the spec's folder.

    A spec is a file that people pass on; it must not make the reader open other files of the machine.

    Parameters
    ----------
    text : str
        The path as the spec gives it, with forward or backward slashes.
    base_dir : Path
        Folder of the spec.
    key : str
        Key path, for the message.
    allow_outside : bool
        Take any path; for paths that were typed by the user.

    Raises
    ------
    SpecError
        When the path is absolute or leads out of the folder, also by a link.
    """
    hint = "Copy the file beside the spec and give its name"
    if "\0" in text:
        raise SpecError(A_SPEC, [Problem(key, "a path with a null character", "a path", "")])
    windows = PureWindowsPath(text)
    absolute = PurePosixPath(text).is_absolute() or bool(windows.drive or windows.root)
    if absolute and not allow_outside:
        problem = Problem(key, f'the absolute path "{text}"', "paths inside the folder of the spec", hint)
        raise SpecError(A_SPEC, [problem])
    wanted = Path(text) if absolute else base_dir / PurePosixPath(text.replace("\\", "/"))
    try:
        path, folder = wanted.resolve(), base_dir.resolve()
    except (OSError, RuntimeError) as error:
        raise FileAccessError(f"{wanted}: could not be followed: {error}") from None
    if not allow_outside and not path.is_relative_to(folder):
        problem = Problem(
            key, f'"{text}", which leads out of the folder', "paths inside the folder of the spec", hint
        )
        raise SpecError(A_SPEC, [problem])
    return path


def _unknown(kind: ProfileKind, text: str, key: str, more: str = "") -> SpecError:
    names = list(_names(kind))
    near = difflib.get_close_matches(text.lower()[:60], names, n=3, cutoff=0.5)
    if kind == "filaments" and FOAMING.search(text.lower()):
        # plain PLA has the nearer name, and would be the wrong one
        near = [name for name in names if "foaming" in name]
    hint = f"Did you mean {' or '.join(near)}?" if near else ""
    clipped = text if len(text) <= 60 else text[:60] + "..."
    allowed = f"{', '.join(names)}{more}"
    source = "options" if key.startswith("--") else A_SPEC
    return SpecError(source, [Problem(key, f'"{clipped}", which is no profile', allowed, hint)])


def _is_path(text: str, ending: str) -> bool:
    return "/" in text or "\\" in text or text.lower().endswith(ending)


def _read(profile: type[TomlProfile], path: Path) -> TomlProfile:
    return profile_from_dict(profile, read_toml(path), source=str(path))


def _named_by(key: str, error: FileAccessError) -> FileAccessError:
    """Return an error on a file together with the key that names the file."""
    return FileAccessError(f"{error}; {key} names it")


def _load(
    profile: type[TomlProfile],
    kind: ProfileKind,
    text: str,
    *,
    base_dir: Path | None,
    key: str,
    allow_outside: bool,
) -> TomlProfile:
    names = _names(kind)
    if text in names:
        return _read(profile, names[text])
    if not _is_path(text, ".toml"):
        raise _unknown(kind, text, key, ", or the path of a .toml file")
    path = resolve_inside(text, base_dir=base_dir or Path(), key=key, allow_outside=allow_outside)
    try:
        return _read(profile, path)
    except FileAccessError as error:
        raise _named_by(key, error) from None
    except SpecError as error:
        raise SpecError(f"{error.source}, named by {key}", error.problems) from None


def load_printer(
    name_or_path: str,
    *,
    base_dir: Path | None = None,
    key: str = "printer.profile",
    allow_outside: bool = False,
) -> PrinterProfile:
    """Return a printer by the name of a shipped profile or by the path of one.

    Parameters
    ----------
    name_or_path : str
        For example ``bed-220``, or ``my-printer.toml``.
    base_dir : Path, optional
        Folder that paths are relative to, the spec's; the working directory when left out.
    key : str
        Key path, for messages.
    allow_outside : bool
        Take paths that lead out of `base_dir`.

    Raises
    ------
    SpecError
        When there is no such profile, its path leads out of the folder, or its values are wrong.
    FileAccessError
        When its file cannot be read.
    """
    return _load(
        PrinterProfile, "printers", name_or_path, base_dir=base_dir, key=key, allow_outside=allow_outside
    )


def load_filament(
    name_or_path: str,
    *,
    base_dir: Path | None = None,
    key: str = "filament.profile",
    allow_outside: bool = False,
) -> FilamentProfile:
    """Return a filament by the name of a shipped profile or by the path of one; see :func:`load_printer`."""
    return _load(
        FilamentProfile, "filaments", name_or_path, base_dir=base_dir, key=key, allow_outside=allow_outside
    )


def load_tube(
    name_or_path: str,
    *,
    base_dir: Path | None = None,
    key: str = "tube.material",
    allow_outside: bool = False,
) -> TubeMaterial:
    """Return a tube material by the name of a shipped profile or its path; see :func:`load_printer`."""
    return _load(TubeMaterial, "tubes", name_or_path, base_dir=base_dir, key=key, allow_outside=allow_outside)


def load_airfoil(
    name_or_designation_or_path: str,
    *,
    base_dir: Path | None = None,
    key: str = "station.airfoil",
    allow_outside: bool = False,
) -> Airfoil:
    """Return an airfoil: a shipped profile, else a NACA designation, else a coordinate file.

    Parameters
    ----------
    name_or_designation_or_path : str
        For example ``naca2412`` or ``airfoils/mine.dat``.
    base_dir, key, allow_outside
        As for :func:`load_printer`.

    Raises
    ------
    SpecError
        When it is none of the three, or its path leads out of the folder.
    AirfoilFileError
        When a coordinate file is wrong.
    FileAccessError
        When a coordinate file cannot be read.
    """
    from wingpath.geometry.naca import is_naca, naca_airfoil

    text = name_or_designation_or_path
    names = _names("airfoils")
    shipped = names.get(text.lower())
    if shipped is None and is_naca(text):
        try:
            return naca_airfoil(text)
        except InputError as error:
            raise SpecError(
                A_SPEC, [Problem(key, shown(text), "a section that exists", str(error))]
            ) from None
    if shipped is None and not _is_path(text, ".dat"):
        more = ", a NACA 4- or 5-digit designation, or the path of a .dat file"
        raise _unknown("airfoils", text, key, more)

    from wingpath.io.airfoil_dat import read_airfoil

    if shipped is not None:
        return read_airfoil(shipped)
    path = resolve_inside(text, base_dir=base_dir or Path(), key=key, allow_outside=allow_outside)
    try:
        return read_airfoil(path)
    except FileAccessError as error:
        raise _named_by(key, error) from None


def dump_filament(profile: FilamentProfile) -> str:
    """Return a filament profile as TOML that reads back as the same profile."""
    data = profile.model_dump(exclude_none=True)
    data["sources"] = dict(data["sources"])
    return dump_toml(data)
