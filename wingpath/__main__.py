"""The command line as ``python -m wingpath``."""

from wingpath.cli.app import main

__all__ = ["main"]

if __name__ == "__main__":
    main()
