"""The browser that the tests of the page drive: Chromium of the system, nothing is fetched.

Where there is none these tests are not collected, unless WINGPATH_NEEDS_BROWSER is set, as `.ci/run` does.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright
from reported import reported

FOUND = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)

FLAGS = [
    "--no-sandbox",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-unsafe-swiftshader",
]
"""Without these it calls home, or refuses to draw three dimensions where there is no graphics card."""

collect_ignore_glob = [] if FOUND or os.environ.get("WINGPATH_NEEDS_BROWSER") else ["test_*.py"]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if FOUND is None:
        raise FileNotFoundError("no Chromium on this machine; on Debian: apt install chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=FOUND, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(reported().page, encoding="utf-8")
    return path
