"""The version, alone in its file so that `--version` loads nothing else."""

__all__ = ["__version__"]

__version__ = "0.1.0"
