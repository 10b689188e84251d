"""The quick look by a beam: what it tells, what it cannot, and that it says so."""

from __future__ import annotations

from pathlib import Path

import pytest
from assessed import SHORT_WING, assessed

from wingpath.io.spec_toml import dump_toml
from wingpath.pipeline.previewing import PREVIEW_FINDING, preview_wing

NEAR = {"mass_g": 0.12, "printed_mass_g": 0.12, "twist_deg_per_n_m": 0.25, "tip_deflection_mm_per_g": 0.4}
"""A plan is not a path, and a beam keeps its sections' shape: shares by which it may be off here."""


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("preview") / "sedge.toml"
    path.write_text(dump_toml(SHORT_WING), encoding="utf-8")
    return path


def test_the_preview_is_near_the_shell(spec: Path) -> None:
    quick, one = preview_wing(spec), assessed(SHORT_WING)
    whole = {
        "mass_g": one.weights.mass_g,
        "printed_mass_g": one.weights.printed_mass_g,
        "twist_deg_per_n_m": one.solved.twist_deg_per_n_m,
        "tip_deflection_mm_per_g": one.solved.tip_mm("1 g"),
    }
    for key, share in NEAR.items():
        assert quick[key] == pytest.approx(whole[key], rel=share), key
    assert quick["root_bending_n_mm"] == pytest.approx(one.lift_bending_n_mm, rel=1e-4)
    assert quick["tip_deflection_limit_mm"] == pytest.approx(4.0 * quick["tip_deflection_mm_per_g"], rel=1e-4)


def test_what_a_beam_cannot_tell_is_null_and_said(spec: Path) -> None:
    quick = preview_wing(spec)
    for key in ("first_buckling_load_factor", "divergence_speed_m_s"):
        assert quick[key] is None
        assert quick["band"][key] is None
        assert quick["sources"][key] is None
    assert quick["sources"]["buckling_torque_n_m"] is None
    assert quick["sources"]["area_dm2"] == "published"
    assert quick["band"]["area_dm2"] == 0.0
    assert [finding["code"] for finding in quick["findings"]] == ["preview"]
    assert "wrinkles" in PREVIEW_FINDING.message
