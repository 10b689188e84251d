"""The only room that touches files."""
