"""The whole report as plain data: what was built, and how heavy, stiff and strong it is."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wingpath.core.errors import InputError
from wingpath.core.findings import count_severities, sort_findings
from wingpath.pipeline.assess_document import FLUTTER_CAUTION, wing_document
from wingpath.pipeline.assess_findings import assess_findings
from wingpath.pipeline.assessing import Assessment, assess_build
from wingpath.pipeline.building import WingBuild
from wingpath.pipeline.document import build_document, build_verdict
from wingpath.pipeline.progress import Progress, silent
from wingpath.pipeline.spanwise import spanwise_document
from wingpath.pipeline.stepping import StepParts

__all__ = ["report_document", "strength_of", "strength_verdict"]

TOLD_ELSEWHERE = frozenset({"spec", "name", "filament", "counts", "findings"})
"""Keys of an assessment that the report of a build has of its own."""


def report_document(
    build: WingBuild,
    *,
    spec_name: str,
    assessed: Assessment | None = None,
    why_not: str = "",
    step: StepParts | None = None,
) -> dict[str, Any]:
    """Return the content of `report.json` with mass, stiffness and strength in it.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    spec_name : str
        Name of the spec's file.
    assessed : Assessment, optional
        What it weighs, bears and does; its findings join those of the build.
    why_not : str
        Why there is no assessment.
    step : StepParts, optional
        What the STEP files hold, if any are asked for.
    """
    document = build_document(build, spec_name=spec_name, step=step)
    if assessed is None:
        return {**document, "strength": None, "strength_missing": why_not, "spanwise": None}
    said = assess_findings(assessed)
    # what the build said already stands in both lists
    new = [finding for finding in said if finding not in build.findings]
    findings = sort_findings([*build.findings, *new])
    strength = {
        key: value for key, value in wing_document(assessed, said).items() if key not in TOLD_ELSEWHERE
    }
    counts = count_severities(findings)
    verdict = document["verdict"]
    broken = sum(finding.severity == "error" for finding in new)
    if document["counts"]["error"]:
        verdict = build_verdict(build, errors=counts["error"])
    elif broken:
        errors = f"{broken} error{'s' if broken != 1 else ''}"
        verdict = f"{verdict}; but {errors} of stiffness or strength: do not fly this wing as it is"
    return {
        **document,
        "verdict": verdict,
        "counts": counts,
        "strength": {**strength, "verdict": strength_verdict(strength)},
        "strength_missing": None,
        "spanwise": spanwise_document(assessed),
        "findings": [finding.as_dict() for finding in findings],
        "cautions": [*document["cautions"], FLUTTER_CAUTION],
    }


def strength_of(
    build: WingBuild, *, base_dir: Path | None = None, source: str = "", progress: Progress = silent
) -> tuple[Assessment | None, str]:
    """Return what a built wing weighs, bears and does, or why it cannot be told.

    A wing that is built is not lost because its strength is beyond what can be worked out.

    Parameters
    ----------
    build : WingBuild
        The built half wing.
    base_dir, source, progress
        As for :func:`wingpath.pipeline.assessing.assess_build`.
    """
    try:
        return assess_build(build, base_dir=base_dir, source=source, progress=progress), ""
    except InputError as error:
        return None, str(error)


def strength_verdict(wing: Mapping[str, Any]) -> str:
    """Return in a sentence whether a wing holds.

    Parameters
    ----------
    wing : mapping
        Its document.
    """
    margins = [one["value"] for one in wing["margin_details"] if one["value"] is not None]
    first = wing["first_buckling_load_factor"]
    if not margins:
        return "stiffness without loads, as the spec has no [aircraft] table"
    broken = sum(value < 0.0 for value in margins)
    words = (
        f"{broken} of {len(margins)} margins broken"
        if broken
        else f"all {len(margins)} margins of strength hold, the least {min(margins):+.2f}"
    )
    return words if first is None else f"{words}; the skin wrinkles first at load factor {first:.3g}"
