"""Pure geometry: curves, airfoils, outlines, meshes."""
