"""Errors, findings, units, tolerances and arrays; knows nothing of wings."""
