"""Whether the CAD kernel is there, said in one line before anything is built."""

from __future__ import annotations

from wingpath.core.errors import InputError

__all__ = ["require_cadquery", "require_kernel"]


def require_kernel(asked: str) -> None:
    """Raise when the CAD kernel's bindings are missing or too new.

    Parameters
    ----------
    asked : str
        What needs them, for example ``--step``.

    Raises
    ------
    InputError
        Naming the extra to install, or the library of the system that is missing.
    """
    try:
        # a later major version of the bindings has dropped this module
        from OCP.TColgp import TColgp_Array1OfPnt  # noqa: F401
    except ModuleNotFoundError as error:
        found = "is missing" if error.name == "OCP" else f"does not fit ({error})"
        raise InputError(
            f'{asked}: the CAD kernel {found}. Install it with: pip install "wingpath[step]"'
        ) from error
    except ImportError as error:
        raise InputError(_not_loaded(asked, "the CAD kernel", error)) from error


def require_cadquery(asked: str) -> None:
    """Raise when the library `cadquery` is missing.

    Raises
    ------
    InputError
        Naming the extra to install.
    """
    try:
        import cadquery  # noqa: F401
    except ModuleNotFoundError as error:
        raise InputError(
            f'{asked}: the library cadquery is missing. Install it with: pip install "wingpath[cad]" '
            "in an environment without the extra step, which brings the same kernel"
        ) from error
    except ImportError as error:
        raise InputError(_not_loaded(asked, "the library cadquery", error)) from error


def _not_loaded(asked: str, what: str, error: ImportError) -> str:
    """Return what to do when something is installed and yet cannot be loaded."""
    return (
        f"{asked}: {what} is installed, but the system cannot load it ({error}). A library of the system is "
        "missing or of another kind; on Debian and Ubuntu install it with: apt install libgl1"
    )
