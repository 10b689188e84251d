"""How it is made and proven: solid, slices, layers, continuity."""
