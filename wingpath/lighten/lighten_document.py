"""What a search found as plain data: the document of `lighten`, its tables and its picture."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import Any, Literal

from wingpath.lighten.changes_words import changes_words
from wingpath.lighten.freedom import Candidate
from wingpath.lighten.lightening import Lightening
from wingpath.lighten.measures import Measures
from wingpath.lighten.targets import numbers_of
from wingpath.pipeline.assess_document import ALL_CAUTIONS
from wingpath.report.front_picture import FrontPanel, FrontPoint, Mark, front_picture, front_svg
from wingpath.version import __version__

__all__ = ["front_csv", "front_panels", "front_pictures", "judged_csv", "lighten_document"]

COLUMNS = (
    "mass_g",
    "printed_mass_g",
    "skin_g",
    "ribs_g",
    "webs_g",
    "tip_deflection_limit_mm",
    "twist_deg_per_n_m",
    "first_buckling_load_factor",
    "buckling_torque_n_m",
    "divergence_m_s",
    "strength_share",
)
"""Numbers of a wing in the tables."""

PANELS: tuple[tuple[str, str, str, Literal["less", "more"]], ...] = (
    ("twist_deg_per_n_m", "Twist of the tip", "deg per N m", "less"),
    ("buckling_torque_n_m", "First wrinkle in twist", "N m", "more"),
    ("tip_deflection_mm", "Tip deflection at the limit load", "mm", "less"),
    ("first_buckling_load_factor", "Load factor at the first wrinkle", "", "more"),
)
"""What mass is drawn against."""


def lighten_document(one: Lightening, *, files: Sequence[str] = ()) -> dict[str, Any]:
    """Return the document of `lighten`.

    Parameters
    ----------
    one : Lightening
        What the search found.
    files : sequence of str
        Names of the files that were written.
    """
    found, freedom = one.found, one.freedom
    return {
        "document": "wingpath lighten",
        "format": 1,
        "wingpath_version": __version__,
        "spec": str(one.source),
        "name": freedom.spec.name,
        "stopped": one.stopped,
        "holds": one.best is not None,
        "saved_g": _rounded(one.saved_g),
        "saved_share": None if one.saved_g is None else _rounded(one.saved_g / one.drawn.mass_g),
        "targets": [target.as_dict() for target in found.targets.targets],
        "no_worse": one.no_worse,
        "drawn": _wing(one, freedom.canonical(freedom.drawn), one.drawn),
        "lightest": None if one.best is None or found.best is None else _wing(one, found.best, one.best),
        "changes": {key: _listed(value) for key, value in one.changes.items()},
        "front": [
            {**_wing(one, row.candidate, row.measures), "worst_target_share": _rounded(row.worst)}
            for row in one.front
        ],
        "near_misses": [
            {
                **_wing(one, miss.candidate, miss.measures),
                "stops": [
                    {"key": stop.key, "words": stop.words, "target_share": _rounded(stop.share)}
                    for stop in miss.stops
                ],
            }
            for miss in one.misses
        ],
        "bought": [
            {
                "what": row.what,
                "mass_g": _rounded(row.mass_g),
                "buckling_torque_n_m": _rounded(row.torque_n_m),
                "tip_deflection_mm": _rounded(row.tip_mm),
                "twist_deg_per_n_m": _rounded(row.twist_deg_per_n_m),
                "first_buckling_load_factor": _rounded(row.first_buckling_g),
                "g_per_n_m": _rounded(row.g_per_n_m),
                "g_per_mm": _rounded(row.g_per_mm),
                "words": row.words,
            }
            for row in one.bought
        ],
        "search": {
            "seed": one.settings.seed,
            "judged_at_most": one.settings.judged,
            "layouts": freedom.size,
            "guessed": found.counts.guessed,
            "refused": found.counts.refused,
            "left_out": found.counts.left_out,
            "judged": found.counts.judged,
            "edge_mm": one.edge_mm,
            "freedom": [
                {"what": dimension.name, "values": [_listed(value) for value in dimension.values]}
                for dimension in freedom.dimensions
            ],
        },
        "files": list(files),
        "cautions": list(ALL_CAUTIONS),
    }


def _wing(one: Lightening, candidate: Candidate, measures: Measures) -> dict[str, Any]:
    changes = one.freedom.changes(candidate)
    return {
        "layout": changes_words(changes) or "as drawn",
        "meets_targets": one.found.targets.met(measures),
        **_numbers(measures),
        "errors": list(measures.errors),
        "warnings": list(measures.warnings),
        "target_shares": {key: _rounded(share) for key, share in one.found.targets.shares(measures).items()},
    }


def _numbers(measures: Measures) -> dict[str, float | None]:
    values = (
        measures.mass_g,
        measures.printed_mass_g,
        measures.skin_g,
        measures.ribs_g,
        measures.webs_g,
        measures.tip_mm,
        measures.twist_deg_per_n_m,
        measures.first_buckling_g,
        measures.buckling_torque_n_m,
        measures.divergence_m_s,
        measures.strength_share,
    )
    return {key: _rounded(value) for key, value in zip(COLUMNS, values, strict=True)}


def front_csv(one: Lightening) -> str:
    """Return the front as a table, lightest first, the wing as drawn last."""
    drawn = one.freedom.canonical(one.freedom.drawn)
    rows = [(row.candidate, row.measures, _mark(one, row.candidate)) for row in one.front]
    if all(candidate != drawn for candidate, _, _ in rows):
        rows.append((drawn, one.drawn, "drawn"))
    return _table(one, rows)


def judged_csv(one: Lightening) -> str:
    """Return every wing that was built and solved, in the order in which it was."""
    rows = [
        (candidate, judgement.measures, _mark(one, candidate))
        for candidate, judgement in one.found.judged.items()
        if judgement.measures is not None
    ]
    return _table(one, rows)


def _table(one: Lightening, rows: Iterable[tuple[Candidate, Measures, str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("mark", *COLUMNS, "worst_target_share", "stopped_by", "layout"))
    for candidate, measures, mark in rows:
        numbers = [("" if value is None else f"{value:.6g}") for value in _numbers(measures).values()]
        stops = "; ".join(stop.words for stop in one.found.targets.stops(measures))
        worst = max(one.found.targets.shares(measures).values(), default=0.0)
        share = f"{worst:.4f}" if math.isfinite(worst) else ""
        writer.writerow((mark, *numbers, share, stops, one.freedom.words(candidate)))
    return text.getvalue()


def _mark(one: Lightening, candidate: Candidate) -> Mark:
    if candidate == one.freedom.canonical(one.freedom.drawn):
        return "drawn"
    if candidate == one.found.best:
        return "lightest"
    measures = one.found.measures(candidate)
    return "met" if measures is not None and one.found.targets.met(measures) else "missed"


def front_panels(one: Lightening) -> tuple[FrontPanel, ...]:
    """Return what the picture shows: mass against each stiffness that there is a number for."""
    targets = {target.key: target.value for target in one.found.targets.targets}
    panels = []
    for key, title, unit, better in PANELS:
        sound: list[tuple[float, float, Mark]] = []
        others: list[tuple[float, float, Mark]] = []
        for candidate, judgement in one.found.judged.items():
            measures = judgement.measures
            value = None if measures is None else numbers_of(measures)[key]
            if measures is None or value is None:
                continue
            point = (measures.mass_g, abs(value), _mark(one, candidate))
            (sound if one.found.targets.sound(measures) else others).append(point)
        if sound or others:
            marked = _with_front(sound, more=better == "more")
            marked += tuple(FrontPoint(*point) for point in others)
            panels.append(FrontPanel(title, unit, better, targets.get(key), marked))
    return tuple(panels)


def _with_front(points: Sequence[tuple[float, float, Mark]], *, more: bool) -> tuple[FrontPoint, ...]:
    """Mark the points that no other one beats in mass and value; those with a mark of their own keep it."""
    marked = []
    for mass, value, mark in points:
        beaten = any(
            (m <= mass and (v >= value if more else v <= value)) and (m, v) != (mass, value)
            for m, v, _ in points
        )
        own = mark if beaten or mark in ("drawn", "lightest") else "front"
        marked.append(FrontPoint(mass, value, own))
    return tuple(marked)


def front_pictures(one: Lightening) -> dict[str, str | bytes]:
    """Return the picture of the front as files."""
    title = f"{one.freedom.spec.name}: mass of a half wing against stiffness, estimates"
    panels = front_panels(one)
    return {"front.png": front_picture(panels, title=title), "front.svg": front_svg(panels, title=title)}


def _rounded(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(f"{value:.6g}")


def _listed(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_listed(item) for item in value]
    return {key: _listed(item) for key, item in value.items()} if isinstance(value, dict) else value
