"""Tests against libraries that are not among the test extras are collected only where these are installed."""

from __future__ import annotations

from importlib.util import find_spec

LIBRARIES = {"pyfe3d": "test_shell_against_library.py", "cadquery": "test_cad_with_cadquery.py"}

collect_ignore = [file for library, file in LIBRARIES.items() if not find_spec(library)]
