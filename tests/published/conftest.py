"""Tests against libraries that are not among the test extras are collected only where these are installed."""

from __future__ import annotations

from importlib.util import find_spec

collect_ignore = [] if find_spec("pyfe3d") else ["test_shell_against_library.py"]
