"""Pictures of the page on the report: the drawings of the demo, and the page itself as a browser shows it."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from wingpath.pipeline.assessing import assess_build
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.drawing import build_pictures
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page

BROWSERS = ("chromium", "chromium-browser", "google-chrome")

SIZE = {"width": 1180, "height": 1250}
"""Part of the page that is shown [px]: down to the end of the drawing from above."""


def report_pictures(build: WingBuild, folder: Path) -> None:
    """Draw the report of a build into a folder; the page itself only where a browser is found."""
    assessed = assess_build(build)
    drawn = build_pictures(build, assessed)
    for name in ("planform.png", "along-the-span.png"):
        (folder / name).write_bytes(drawn[name])
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        print("no Chromium: report-page.png was left as it is")
        return
    from playwright.sync_api import sync_playwright

    document = report_document(build, spec_name="spec.toml", assessed=assessed)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        page_file = Path(scratch) / "report.html"
        page_file.write_text(build_page(build, document, assessed), encoding="utf-8")
        started = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox"])
        page = started.new_page(viewport=SIZE, color_scheme="light")
        page.goto(page_file.as_uri())
        page.wait_for_function("document.getElementById('layer-canvas').dataset.layer !== undefined")
        page.screenshot(path=folder / "report-page.png")
        started.close()
