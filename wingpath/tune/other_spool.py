"""What was measured on another spool or printer: assumed, until it is measured again."""

from __future__ import annotations

from wingpath.model.measurements import Measurements
from wingpath.model.profile_base import ValueSource
from wingpath.model.profiles import FilamentProfile

__all__ = ["taken_over"]

OTHER_FEED, OTHER_FOAM, OTHER_MODULUS = 0.05, 0.1, 0.3
"""What another spool or printer may be off by, as shares of fed filament, of the foaming ratio and of the
modulus: judgement."""

LONGEST_NOTE = 500


def taken_over(base: FilamentProfile, given: Measurements) -> FilamentProfile:
    """Return a profile as what it is for the spool and printer that were measured now.

    Parameters
    ----------
    base : FilamentProfile
        The profile; returned as it is unless it was calibrated on another spool or printer.
    given : Measurements
        What was measured, on which spool and printer.
    """
    before = base.calibration
    if before is None or (before.printer, before.spool) == (given.printer, given.spool):
        return base
    where = f"taken over from {before.printer}, {before.spool}, {before.date}"

    def assumed(source: ValueSource) -> ValueSource:
        if source.kind != "measured":
            return source
        note = f"{where}: {source.note}"[:LONGEST_NOTE]
        return source.model_copy(update={"kind": "judgement", "note": note})

    sources = {key: assumed(source) for key, source in base.sources}
    own = sources.get("e_modulus_mpa")
    if own is not None and own.low is not None and own.high is not None:
        wide = OTHER_MODULUS * base.e_modulus_mpa
        ends = {
            "low": min(own.low, base.e_modulus_mpa - wide),
            "high": max(own.high, base.e_modulus_mpa + wide),
        }
        sources["e_modulus_mpa"] = own.model_copy(update=ends)
    return base.model_copy(
        update={
            "sources": tuple(sources.items()),
            "feed_band": max(base.feed_band, OTHER_FEED),
            "foaming_band": max(base.foaming_band, OTHER_FOAM),
            "foaming": tuple(row.model_copy(update={"measured": False}) for row in base.foaming),
            "calibration": None,
            "calibrated": False,
        }
    )
