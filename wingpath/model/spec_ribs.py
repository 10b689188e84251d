"""The table of a spec that says how ribs run, and what its numbers may be."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike
from pydantic import Field, SerializerFunctionWrapHandler, model_serializer

from wingpath.core.arrays import FloatArray
from wingpath.model.spec_base import Number, SpecTable

__all__ = ["ANGLE_RANGE_DEG", "PITCH_RANGE_MM", "STUB_RANGE_MM", "RibsSpec", "RunName"]

RunName = Literal["aft", "forward", "both", "none"]

PITCH_RANGE_MM = (5.0, 500.0)
"""Pitches between ribs that are allowed [mm]."""

ANGLE_RANGE_DEG = (20.0, 60.0)
"""Angles of ribs to the build direction that are allowed [deg]."""

STUB_RANGE_MM = (0.5, 50.0)
"""Depths of the stubs of windows that are allowed [mm]."""

MOST_PITCHES = 20


class RibsSpec(SpecTable):
    """The printed ribs."""

    run: RunName = Field(
        default="both", description="which way the ribs run along the chord, seen going outboard"
    )
    pitch_mm: Number = Field(
        default=30.0,
        ge=PITCH_RANGE_MM[0],
        le=PITCH_RANGE_MM[1],
        description="between neighbouring ribs of one run, along the chord inside a layer",
    )
    pitch_along_mm: tuple[tuple[Number, Number], ...] | None = Field(
        default=None,
        min_length=2,
        max_length=MOST_PITCHES,
        description="pairs of a place along the span and the pitch there, straight between them; left out: "
        "pitch_mm everywhere",
    )
    angle_deg: Number = Field(
        default=45.0,
        ge=ANGLE_RANGE_DEG[0],
        le=ANGLE_RANGE_DEG[1],
        description="angle of the rib planes to the build direction",
    )
    stub_mm: Number | None = Field(
        default=None,
        ge=STUB_RANGE_MM[0],
        le=STUB_RANGE_MM[1],
        description="depth of the stubs that lightening windows between crossing ribs leave on both skins; "
        "left out: no windows",
    )

    @model_serializer(mode="wrap")
    def _one_pitch_rule(self, plain: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # the default of pitch_mm beside pairs would read back as a contradiction
        data: dict[str, Any] = plain(self)
        if self.pitch_along_mm is not None:
            data.pop("pitch_mm", None)
        return data

    def pitch_at_mm(self, span_mm: ArrayLike) -> FloatArray:
        """Return the pitch at places along the span [mm]."""
        if self.pitch_along_mm is None:
            return np.full(np.shape(span_mm), self.pitch_mm)
        places, pitches = np.array(self.pitch_along_mm).T
        z = np.asarray(span_mm, float)
        inner = np.clip(np.searchsorted(places, z, side="right") - 1, 0, len(places) - 2)
        # by shares, because the slope between two pairs that nearly coincide has no bound
        step = places[inner + 1] - places[inner]
        share = np.clip(z - places[inner], 0.0, step) / step
        return np.asarray(pitches[inner] + share * (pitches[inner + 1] - pitches[inner]))
