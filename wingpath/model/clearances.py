"""Clearances that a spec leaves open, taken from the filament that it names."""

from __future__ import annotations

from wingpath.model.profiles import FilamentProfile
from wingpath.model.spec import Spec

__all__ = ["with_clearances"]


def with_clearances(spec: Spec, filament: FilamentProfile) -> Spec:
    """Return the spec with a clearance for every tube and tab.

    Parameters
    ----------
    spec : Spec
        As its maker wrote it.
    filament : FilamentProfile
        Whose measured or assumed fits are taken where the spec names none; never less than 0.
    """
    bore, slot = max(0.0, filament.bore_allowance_mm), max(0.0, filament.tab_allowance_mm)
    tubes = tuple(
        tube if tube.clearance_mm is not None else tube.model_copy(update={"clearance_mm": bore})
        for tube in spec.tubes
    )
    tabs = tuple(
        tab if tab.clearance_mm is not None else tab.model_copy(update={"clearance_mm": slot})
        for tab in spec.tabs
    )
    return spec.model_copy(update={"tubes": tubes, "tabs": tabs})
