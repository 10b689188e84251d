"""The exceptions that wingpath raises, and nothing else.

::

    WingpathError
    |-- InputError (ValueError)        the input or the usage is wrong; nothing was written
    |   |-- SpecError                  one or more keys of a spec or profile are wrong
    |   |-- DesignError                two things in the design cannot both be printed
    |   |-- AirfoilFileError           a coordinate file is wrong, with the line at fault
    |   |-- MeshFileError              a mesh file holds no mesh that can be judged
    |   `-- OutputExistsError          files are in the way and overwriting was not asked for
    `-- FileAccessError (OSError)      a file could not be read or written

A message says what was got, what is allowed and what to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

__all__ = [
    "A_SPEC",
    "AirfoilFileError",
    "DesignError",
    "FileAccessError",
    "InputError",
    "MeshFileError",
    "OutputExistsError",
    "Problem",
    "SpecError",
    "WingpathError",
]


MOST_SHOWN = 120
"""Problems that a message lists; a file with more is none that somebody mistyped."""


class WingpathError(Exception):
    """Base of everything that wingpath raises on purpose."""


class InputError(WingpathError, ValueError):
    """The input or the usage is wrong; nothing was written."""


class FileAccessError(WingpathError, OSError):
    """A file could not be read or written."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with one key.

    Parameters
    ----------
    key : str
        Path of the key, for example ``station[1].chord_mm``.
    got : str
        What the file holds.
    allowed : str
        What it may hold.
    hint : str
        What to do, for example the nearest key name; may be empty.
    """

    key: str
    got: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        text = f"{self.key}: got {self.got}; allowed: {self.allowed}"
        return f"{text}. {self.hint}" if self.hint else text


LONG = 100
"""What is allowed is told once in a message if it takes more than this [characters]."""

A_SPEC = "spec"
"""Source of problems that are found where the name of the spec's file is not known."""


class SpecError(InputError):
    """One or more keys of a spec or a profile are wrong; all of them are listed, up to a hundred or so."""

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{source}: {count} problem{'s' if count != 1 else ''}"
        lines, told = [head], set[str]()
        for problem in self.problems[:MOST_SHOWN]:
            again = len(problem.allowed) > LONG and problem.allowed in told
            told.add(problem.allowed)
            lines.append(f"  {replace(problem, allowed='as above') if again else problem}")
        if count > MOST_SHOWN:
            lines.append(f"  and {count - MOST_SHOWN} more; put these right first, or start over")
        super().__init__("\n".join(lines))

    def of_spec_file(self, file: str) -> SpecError:
        """Return the same error with the name of the spec's file, if it is not of another file already."""
        return SpecError(file, self.problems) if self.source == A_SPEC else self


class DesignError(InputError):
    """Two things in the design cannot both be printed.

    Parameters
    ----------
    culprits : sequence of str
        Key paths of what is in conflict, for example ``("tube[0]", "station[1]")``.
    reason : str
        What goes wrong and where.
    remedy : str
        The smallest change that would help, with a number.
    """

    def __init__(self, culprits: Sequence[str], reason: str, remedy: str) -> None:
        self.culprits = tuple(culprits)
        self.reason = reason
        self.remedy = remedy
        super().__init__(f"{' and '.join(self.culprits)}: {reason}. {remedy}.")


class AirfoilFileError(InputError):
    """A coordinate file is wrong.

    Parameters
    ----------
    source : str
        The file.
    line : int or None
        Line at fault, counted from 1; None when it is the file as a whole.
    reason : str
        What is wrong and what is expected instead.
    """

    def __init__(self, source: str, line: int | None, reason: str) -> None:
        self.source = source
        self.line = line
        self.reason = reason
        place = f"{source}, line {line}" if line is not None else source
        super().__init__(f"{place}: {reason}")


class MeshFileError(InputError):
    """A mesh file holds nothing that can be judged."""


class OutputExistsError(InputError):
    """Files are in the way and overwriting was not asked for."""
