"""Time the report page: how long it takes to make, how large it is, and a frame of its layer view.

Run from the repository root, with Chromium installed::

    python benchmarks/bench_page.py

The same wing in thick and thin layers: a frame must not cost more when there are ten times as many layers.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

import wingpath
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page

ROOT = Path(__file__).parents[1]

WING: dict[str, Any] = {
    "name": "tall",
    "station": [{"span_mm": 0.0, "chord_mm": 210.0}, {"span_mm": 400.0, "chord_mm": 150.0}],
    "ribs": {"run": "both", "pitch_mm": 30.0},
    "panels": {"joints_mm": []},
    "printer": {"height_mm": 500.0},
}
"""One panel of 400 mm: 2,000 layers of 0.2 mm."""

FRAMES = """async () => {
    const slider = document.getElementById('layer-slider'), most = Number(slider.max), times = [];
    const frame = () => new Promise(done => requestAnimationFrame(done));
    for (let k = 0; k < 90; k++) {
        slider.value = 1 + Math.floor(most * k / 90);
        slider.dispatchEvent(new Event('input'));
        await Promise.resolve();
        const start = performance.now();
        await frame();
        times.push(performance.now() - start);
    }
    return times;
}"""
"""Ninety layers all over the part, one a frame: time until the frame is drawn [ms]."""


def main() -> None:
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        raise SystemExit("no Chromium: install it first")
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        medians = []
        for name, spec in (
            ("200 layers", WING | {"print": {"layer_mm": 0.2}, "station": _short()}),
            ("2000 layers", WING | {"print": {"layer_mm": 0.2}}),
            ("the README's wing", ROOT / "examples/osier-1240/spec.toml"),
        ):
            build = wingpath.build_wing(wingpath.spec_from_dict(spec) if isinstance(spec, dict) else spec)
            document = report_document(build, spec_name="bench.toml", why_not="bench")
            begin = time.perf_counter()
            page = build_page(build, document)
            made = time.perf_counter() - begin
            path = Path(folder) / "report.html"
            path.write_text(page, encoding="utf-8")
            view = browser.new_page(viewport={"width": 1440, "height": 900})
            begin = time.perf_counter()
            view.goto(path.as_uri())
            view.wait_for_function("document.getElementById('layer-canvas').dataset.layer !== undefined")
            opened = time.perf_counter() - begin
            medians.append(statistics.median(view.evaluate(FRAMES)))
            layers = sum(len(part.continuity.layers) for part in build.parts)
            print(
                f"{name}: {layers} layers, made in {made:.2f} s, {len(page) / 1e6:.2f} MB, first layer after "
                f"{opened:.2f} s, a frame {medians[-1]:.1f} ms"
            )
            view.close()
        browser.close()
    print(f"a frame of 2000 layers over one of 200: {medians[1] / medians[0]:.2f}")


def _short() -> list[dict[str, float]]:
    return [{"span_mm": 0.0, "chord_mm": 210.0}, {"span_mm": 40.0, "chord_mm": 204.0}]


if __name__ == "__main__":
    main()
