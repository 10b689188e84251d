"""The stages in a row: spec, design, panels, layers, findings. Nothing here prints."""
