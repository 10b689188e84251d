"""What holds for every wing that can be printed: its parts are exact solids, also after a round trip."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

import pytest
from cad_reading import read_step, solids_in, valid
from hypothesis import given, note, settings
from test_random_wings import wings

from wingpath import InputError, design_wing, spec_from_dict
from wingpath.build.solid import panel_solid
from wingpath.cad import panel_cad_solid
from wingpath.cad.gate import volume_mm3
from wingpath.io.spec_toml import dump_spec
from wingpath.io.step import write_step

EXAMPLES = 100 if os.environ.get("HYPOTHESIS_PROFILE") == "thorough" else 8
"""Each example takes some three seconds."""

CHORD_SHARE = 3e-4
"""What facets take off a wing of any chord and twist in range; 50 random ones stayed below this."""

READ_SHARE = 3e-4
"""The kernel's integration over what it reads back is off by up to 1e-4, though no face has moved."""


@pytest.mark.slow
@settings(max_examples=EXAMPLES)
@given(wings())
def test_panels_of_a_random_wing_are_exact_solids_and_read_back_valid(data: dict[str, Any]) -> None:
    spec = spec_from_dict(data)
    note(dump_spec(spec))
    try:
        design = design_wing(spec)
        panels = [panel_solid(design.body, p, design.voids, design.cut_settings) for p in design.panels]
    except InputError:
        return
    for panel in panels:
        made = panel_cad_solid(panel)
        assert made.exact, made.reason
        assert set(made.faceted) <= {"tip cap"}
        assert abs(made.volume_share) < CHORD_SHARE
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "wing.step"
            write_step(path, {made.name: made.shape}, title="wing")
            back = read_step(path)
        assert valid(back)
        assert len(solids_in(back)) == 1
        assert volume_mm3(back) == pytest.approx(made.volume_mm3, rel=READ_SHARE)
