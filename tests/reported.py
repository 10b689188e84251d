"""A wing of two panels with a bit of everything, assessed and reported, that several tests look at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from assessed import EDGE_MM, SHORT_WING

from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.assessing import Assessment, assess_build
from wingpath.pipeline.building import WingBuild, build_wing
from wingpath.pipeline.report_document import report_document
from wingpath.pipeline.report_page import build_page

__all__ = ["REPORTED", "ROGUE", "Reported", "reported"]

ROGUE = 'Sedge <img src=x onerror="window.rogue=1"></script><script>window.rogue=2'
"""A name that would be markup and a program, if it were let."""

REPORTED: dict[str, Any] = {
    **SHORT_WING,
    "name": ROGUE,
    "slots": {"weld_spacing_mm": 0.0},
    "panels": {"joints_mm": [45.0]},
    "spar_web": [{"chord_fraction": 0.6, "from_mm": 10.0, "to_mm": 85.0}],
    "tab": [{"thickness_mm": 2.0, "width_mm": 10.0, "depth_mm": 12.0, "chord_fraction": 0.7, "hole_mm": 2.0}],
}
"""Both runs of ribs, a web, a rod, a tongue and a joint; slots are known to fuse."""


@dataclass(frozen=True)
class Reported:
    """A build with what its page says."""

    build: WingBuild
    assessed: Assessment
    document: dict[str, Any]
    page: str


@cache
def reported() -> Reported:
    """Build, assess and report the wing, once in a run."""
    build = build_wing(spec_from_dict(REPORTED))
    assessed = assess_build(build, edge_mm=EDGE_MM)
    document = report_document(build, spec_name="sedge.toml", assessed=assessed)
    return Reported(build, assessed, document, build_page(build, document, assessed))
