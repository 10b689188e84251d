"""Packs the library of the report's 3-D view into the wheel, so that no one has to install all of it.

The library is one script of a package that takes 64 MB; the script packed is 1.9 MB of text. It is taken from
that package while the wheel, or an editable install, is built, and never fetched by anything at run time.
"""

from __future__ import annotations

import base64
import gzip
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class PackedLibrary(BuildHookInterface):  # type: ignore[type-arg]
    """Writes `wingpath/report/web/library.txt`: the version, a line feed, the script deflated as base64."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Write the file before the wheel is filled."""
        from plotly import __version__
        from plotly.offline import get_plotlyjs

        # without a time stamp equal sources give equal wheels
        packed = gzip.compress(get_plotlyjs().encode("utf-8"), 9, mtime=0)
        text = f"{__version__}\n{base64.b64encode(packed).decode('ascii')}\n"
        target = Path(self.root, "wingpath", "report", "web", "library.txt")
        target.write_text(text, encoding="ascii")
