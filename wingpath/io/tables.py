"""Tables and documents of a run: `layers.csv` and JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from wingpath.build.continuity import Continuity

__all__ = ["LAYER_COLUMNS", "json_text", "layers_csv"]

LAYER_COLUMNS = (
    "panel",
    "layer",
    "z_mm",
    "contours",
    "rings",
    "path_mm",
    "open_slot_mm",
    "airborne_mm",
    "step_mm",
    "verdict",
    "steep_mm",
    "thin_lost_mm2",
    "area_mm2",
    "start_x_mm",
    "start_y_mm",
)
"""Columns of the layer table."""


def layers_csv(parts: Sequence[Continuity]) -> str:
    """Return the layer table of several parts, a row a layer, layers counted from 1."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(LAYER_COLUMNS)
    for part in parts:
        layers = part.layers
        for index in range(len(layers)):
            writer.writerow(
                (
                    layers.name,
                    index + 1,
                    f"{layers.z_mm[index]:.4f}",
                    layers.contours[index],
                    layers.rings[index],
                    f"{layers.path_mm[index]:.3f}",
                    f"{part.open_slot_mm[index]:.3f}",
                    f"{part.airborne_mm[index]:.3f}",
                    f"{part.step_mm[index]:.3f}",
                    part.verdicts[index],
                    f"{part.steep_mm[index]:.3f}",
                    f"{part.lost_mm2[index]:.4f}",
                    f"{layers.area_mm2[index]:.4f}",
                    f"{part.starts[index, 0]:.3f}",
                    f"{part.starts[index, 1]:.3f}",
                )
            )
    return text.getvalue()


def json_text(document: dict[str, Any]) -> str:
    """Return a JSON document as text; NaN and infinity are refused."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
