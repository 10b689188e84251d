"""The command line; the only room that knows the terminal."""
