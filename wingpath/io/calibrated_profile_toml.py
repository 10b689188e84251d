"""A calibrated filament profile as a file: measured or assumed beside each value."""

from __future__ import annotations

from pathlib import Path

from wingpath.io.output_folder import write_file
from wingpath.io.spec_toml import dump_toml
from wingpath.model.profiles import FilamentProfile
from wingpath.model.spec_base import unit_of

__all__ = ["calibrated_profile_text", "write_calibrated_profile"]

REMARK_COLUMN = 34
"""Where remarks begin, if the value leaves room."""

HEAD = """\
# A filament profile, calibrated with a printed coupon. Put it beside a spec and name it there:
#     [filament]
#     profile = "@FILE@"
# Beside each value stands whether it was measured, with the range that holds it 95 times in 100, or assumed.
# Estimates until the wing has been proof-loaded. It holds for this printer, spool and settings only.
"""


def calibrated_profile_text(profile: FilamentProfile, *, file_name: str) -> str:
    """Return a profile as TOML that reads back as the same profile.

    Parameters
    ----------
    profile : FilamentProfile
        The profile.
    file_name : str
        What the file will be called, for the remark at its head.
    """
    data = profile.model_dump(exclude_none=True)
    data["sources"] = dict(data["sources"])
    lines = dump_toml(data).splitlines()
    text = []
    in_head = True
    for line in lines:
        in_head = in_head and not line.startswith("[")
        key = line.split(" = ")[0]
        text.append(_remarked(line, _remark(profile, key)) if in_head and " = " in line else line)
    # a name that breaks the line would end the remark
    plain = "".join(sign if sign.isprintable() else "?" for sign in file_name)
    return HEAD.replace("@FILE@", plain) + "\n" + "\n".join(text) + "\n"


def _remarked(line: str, remark: str) -> str:
    return f"{line.ljust(REMARK_COLUMN)} # {remark}" if remark else line


def _remark(profile: FilamentProfile, key: str) -> str:
    source = profile.source_of(key)
    if source is None:
        return ""
    word = "measured" if source.kind == "measured" else f"assumed ({source.kind})"
    if source.low is None or source.high is None:
        return word
    unit = unit_of(key)
    return f"{word}, {source.low:.5g} to {source.high:.5g}{f' {unit}' if unit else ''}"


def write_calibrated_profile(path: Path, profile: FilamentProfile, *, force: bool) -> None:
    """Write a profile, whole or not at all.

    Raises
    ------
    OutputExistsError
        When the file exists and `force` is not set.
    FileAccessError
        When it cannot be written.
    """
    write_file(path, calibrated_profile_text(profile, file_name=path.name), force=force)
