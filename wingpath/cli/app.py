"""The command line. Each command is a file of its own and loads what it needs when it runs."""

from __future__ import annotations

import os
import sys
from typing import Annotated, NoReturn

import typer

from wingpath.cli.commands import assess, build, check, lighten, new, profiles, tune
from wingpath.cli.console import EXIT_FILE, open_streams, say
from wingpath.cli.interrupts import interrupted_status, raise_if_interrupted, remembered_interrupts
from wingpath.core.errors import FileAccessError, InputError
from wingpath.version import __version__

__all__ = ["app", "main"]

EXIT_INPUT = 2
EXIT_BUG = 70
"""The usual status for a fault of the program itself (sysexits.h, EX_SOFTWARE)."""
EXIT_INTERRUPTED = 130
"""What an interrupt inside a command arrives as, whatever signal it was."""

STOPPED = "stopped; no file was left half written"

app = typer.Typer(
    name="wingpath",
    help="From an airfoil and a planform to printed wing panels, each layer one closed bead, "
    "proven before a gram is printed.",
    epilog="Exit status: 0 clean; 1 done, with at least one error found; 2 the input or the usage is "
    "wrong, nothing written; 3 a file could not be read or written; 129, 130, 143 stopped by a closed "
    "terminal, Ctrl-C or a request to end.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"wingpath {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Show the version, or run a command."""


app.command(name="new")(new.new)
app.command(name="build")(build.build)
app.command(name="check")(check.check)
app.command(name="tune")(tune.tune)
app.command(name="assess")(assess.assess)
app.command(name="lighten")(lighten.lighten)
app.command(name="profiles")(profiles.profiles)


def main() -> None:
    """Run the command line and end with the documented exit status."""
    open_streams()
    try:
        with remembered_interrupts():
            app()
    except InputError as error:
        _stop_if_interrupted()
        _stop(str(error), EXIT_INPUT)
    except FileAccessError as error:
        _stop(str(error), EXIT_FILE)
    except KeyboardInterrupt:
        _stop(STOPPED, interrupted_status())
    except SystemExit as end:
        if end.code == EXIT_INTERRUPTED:
            _stop(STOPPED, interrupted_status())
        raise
    except Exception as error:
        if os.environ.get("WINGPATH_TRACEBACK"):
            raise
        _stop_if_interrupted()
        _stop(
            f"a fault of wingpath itself, nothing was written: {type(error).__name__}: {error}. "
            "Please report it with the input; WINGPATH_TRACEBACK=1 shows where",
            EXIT_BUG,
        )


def _stop_if_interrupted() -> None:
    """Stop where an interrupt has become another error on its way, as in a library that was being loaded."""
    try:
        raise_if_interrupted()
    except KeyboardInterrupt:
        _stop(STOPPED, interrupted_status())


def _stop(message: str, status: int) -> NoReturn:
    say(f"wingpath: {message}")
    sys.exit(status)
