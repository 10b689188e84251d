"""Make the pictures of the documents anew, from the tables that the documents show and from the demo.

Run from the repository root, and look at every picture afterwards::

    python docs/make_pictures.py
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import how_pictures
import numpy as np
from report_pictures import report_pictures

import wingpath
from wingpath.pipeline.tune_options import tune_options
from wingpath.pipeline.tuning import tune_windows, tuning_picture
from wingpath.report.coupon_picture import plan_picture
from wingpath.report.layer_picture import layer_picture
from wingpath.report.panel_picture import panel_picture
from wingpath.report.path_picture import path_picture
from wingpath.tune.coupon_plan import coupon_plan

DOCS = Path(__file__).parent
PICTURES = DOCS / "pictures"

WING: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 160.0, "airfoil": "naca2414"},
        {"span_mm": 120.0, "chord_mm": 150.0, "leading_edge_mm": 4.0, "airfoil": "naca2414"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"pitch_mm": 28.0},
    "panels": {"joints_mm": []},
}

STRIP = {
    "tube": [{"shape": "strip", "width_mm": 3.0, "height_mm": 10.0, "to_mm": 100.0, "chord_fraction": 0.3}]
}

LAYERS = {
    "tube": ("tube", "panel-1", 40.0),
    "tab": ("tab", "panel-1", 12.0),
    "servo-bay": ("servo_bay", "panel-1", 60.0),
    "duct": ("servo_bay", "panel-1", 46.0),
    "plate-bay": ("plate_bay", "panel-1", 55.0),
    "pin": ("pin", "panel-2", 4.0),
    "aileron-bay": ("aileron", "panel-1", 60.0),
    "aileron": ("aileron", "aileron-1", 42.0),
}
"""For each picture of a layer: a key of the table, the part, the place along the span from its foot [mm]."""


def tables() -> dict[str, dict[str, Any]]:
    """Return the tables of the page on fittings by every key in them."""
    text = (DOCS / "fittings.md").read_text(encoding="utf-8")
    found = [tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", text, flags=re.DOTALL)]
    return {key: table for table in found for key in table}


def built(table: dict[str, Any]) -> wingpath.WingBuild:
    """Build the wing of all pictures with a table of the page."""
    joints = {"panels": {"joints_mm": [60.0]}} if "pin" in table else {}
    return wingpath.build_wing(wingpath.spec_from_dict({**WING, **joints, **table}))


def layer(build: wingpath.WingBuild, part_name: str, height_mm: float, *, title: str, width_px: int) -> bytes:
    """Draw the layer nearest to a height, with what was found on it but notes."""
    (part,) = [part for part in build.parts if part.name == part_name]
    index = int(np.argmin(np.abs(part.continuity.layers.z_mm - height_mm)))
    return layer_picture(
        part.continuity,
        index,
        findings=[one for one in part.findings if one.severity != "note"],
        title=title,
        width_px=width_px,
        bond_mm=build.design.limits.bond_mm,
    )


def main() -> None:
    """Make all pictures."""
    page = tables()
    for name, (key, part, height) in LAYERS.items():
        data = layer(built(page[key]), part, height, title=name.replace("-", " "), width_px=1100)
        (PICTURES / f"fitting-{name}.png").write_bytes(data)
    (PICTURES / "fitting-strip.png").write_bytes(
        layer(built(STRIP), "panel-1", 40.0, title="strip", width_px=1100)
    )
    both, one = (built({"ribs": {"pitch_mm": 40.0, "run": run}}) for run in ("both", "aft"))
    for name, data in (
        ("loop", how_pictures.loop_picture(both, 44.0)),
        ("bead", how_pictures.bead_picture()),
        ("neck", how_pictures.neck_picture(both, 44.0)),
        ("growth", how_pictures.growth_picture(one, (40.0, 44.0, 48.0))),
        ("crossing", how_pictures.crossing_picture(both, (26.0, 28.0, 30.0, 32.0, 34.0), 70.0)),
    ):
        (PICTURES / f"how-{name}.png").write_bytes(data)
    windows = built({"ribs": {"pitch_mm": 40.0, "stub_mm": 4.0}, **page["tube"]})
    (PICTURES / "rib-windows.png").write_bytes(
        layer(windows, "panel-1", 44.0, title="ribs with windows", width_px=1100)
    )
    (PICTURES / "rib-windows-cut.png").write_bytes(
        panel_picture(windows.panels[0].continuity.layers, width_px=900, open_at=0.6)
    )
    cover = built(page["servo_bay"]).covers[0].continuity.layers
    (PICTURES / "fitting-cover.png").write_bytes(panel_picture(cover, width_px=700, open_at=0.75))
    tip = built({"wing": {"tip": "closed"}})
    base = tip.design.body.cap
    assert base is not None
    (PICTURES / "fitting-closed-tip.png").write_bytes(
        panel_picture(
            tip.panels[0].continuity.layers, width_px=1100, open_at=(base.base_mm + base.top_mm) / 2 / 120.0
        )
    )
    demo = wingpath.build_wing(DOCS.parent / "examples/osier-1240/spec.toml")
    name = demo.design.spec.name
    report_pictures(demo, PICTURES)
    (PICTURES / "layer.png").write_bytes(layer(demo, "panel-2", 42.0, title=name, width_px=1500))
    (PICTURES / "panel.png").write_bytes(
        panel_picture([panel.continuity.layers for panel in demo.panels], width_px=1500)
    )
    path = demo.panels[1].path
    assert path is not None
    tool = path.toolpath
    (PICTURES / "path.png").write_bytes(
        path_picture(
            tool.points,
            tool.layer,
            bead_mm=tool.bead_mm,
            layer_mm=tool.layer_mm,
            title=f"{name}, panel-2",
            width_px=1200,
        )
    )
    tuning = tune_windows(tune_options())
    (PICTURES / "window.png").write_bytes(tuning_picture(tuning, ".png"))
    plan = coupon_plan(nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25)
    (PICTURES / "coupon.png").write_bytes(plan_picture(plan))


if __name__ == "__main__":
    main()
