"""Pictures of what was built and judged, as bytes or text; writes no files."""
