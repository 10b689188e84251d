"""What is said of slot windows: empty ones, odd beads and layers, and what is not known."""

from __future__ import annotations

import pytest

from wingpath.io.profile_store import load_filament
from wingpath.tune.window import (
    SlotWindow,
    bead_for_nozzle_mm,
    layer_for_bead_mm,
    slot_window,
    window_findings,
)

FOAM = load_filament("foaming-pla")


def window(flow: float = 0.5, temperature_c: float = 230.0, **changes: float) -> SlotWindow:
    sizes = {"nozzle_mm": 0.4, "bead_mm": 0.45, "layer_mm": 0.25} | changes
    return slot_window(**sizes, filament=FOAM, temperature_c=temperature_c, flow=flow)  # type: ignore[arg-type]


@pytest.mark.parametrize("flow", [0.25, 0.4, 0.41, 0.42, 0.45, 0.6, 0.9])
@pytest.mark.parametrize("nozzle", [0.25, 0.4, 0.8])
def test_a_suggestion_lies_inside_its_window_or_there_is_none(flow: float, nozzle: float) -> None:
    bead = bead_for_nozzle_mm(nozzle)
    found = window(flow=flow, nozzle_mm=nozzle, bead_mm=bead, layer_mm=layer_for_bead_mm(bead))
    codes = [finding.code for finding in window_findings(found, FOAM)]
    if found.empty:
        assert found.suggested_mm is None
        assert "no-window" in codes
        assert found.widest_mm < found.least_mm
    else:
        assert found.suggested_mm is not None
        assert found.least_mm <= found.suggested_mm <= found.widest_mm
        assert "no-window" not in codes


def test_the_remedy_of_an_empty_window_opens_it() -> None:
    empty = window(flow=0.40)
    finding = next(f for f in window_findings(empty, FOAM) if f.code == "no-window")
    wanted = float(finding.remedy.split("set flow to ")[1].split()[0])
    assert not window(flow=wanted).empty


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"bead_mm": 0.35}, "odd-bead"),
        ({"bead_mm": 0.85}, "odd-bead"),
        ({"layer_mm": 0.34}, "odd-layer"),
        ({"layer_mm": 0.08}, "odd-layer"),
    ],
)
def test_beads_and_layers_that_do_not_go_with_the_nozzle(changes: dict[str, float], code: str) -> None:
    assert code in [finding.code for finding in window_findings(window(**changes), FOAM)]
    assert window_findings(window(), FOAM)[0].code == "uncalibrated"


@pytest.mark.parametrize(
    ("flow", "temperature", "code"),
    [(0.38, 230.0, "underfilled"), (0.6, 240.0, "overfilled"), (0.5, 185.0, "beyond-table")],
)
def test_other_warnings(flow: float, temperature: float, code: str) -> None:
    found = window(flow=flow, temperature_c=temperature)
    assert code in [finding.code for finding in window_findings(found, FOAM)]
