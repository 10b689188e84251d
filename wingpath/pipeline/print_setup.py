"""What the path of a part is made with, whatever the part is."""

from __future__ import annotations

from dataclasses import dataclass

from wingpath.model.profiles import FilamentProfile, PrinterProfile
from wingpath.model.spec_printing import PrintSpec

__all__ = ["PrintSetup"]


@dataclass(frozen=True, slots=True)
class PrintSetup:
    """Printer, filament and settings that a path is made with.

    Parameters
    ----------
    settings : PrintSpec
        How the bead is laid.
    printer, filament : profiles
        What it is laid with.
    slot_mm, bond_mm : float
        Width of the narrowest slots whose beads have to stay together, and widest gap that they bridge [mm].
    """

    settings: PrintSpec
    printer: PrinterProfile
    filament: FilamentProfile
    slot_mm: float
    bond_mm: float
