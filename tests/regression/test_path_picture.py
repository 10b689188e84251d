"""Pictures of paths show what they are said to show: bead, start, brim, travel, last layer."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
import pytest
import shapely
from paths import Traced, traced
from PIL import Image
from shapes import BEAD_MM, LAYER_MM, prism

from wingpath.report.colours import CUT, GHOST, INK, SEVERITY_COLOURS
from wingpath.report.path_picture import LAID, path_picture

TRAVEL = SEVERITY_COLOURS["error"]

NEAR = 12
"""Steps of 255 by which a colour may be off where edges are smoothed."""


@pytest.fixture(scope="module")
def box() -> Traced:
    return traced(prism(shapely.box(0.0, 0.0, 60.0, 20.0), 10.0), brim_mm=3.0, lead=[[90.0, 10.0]])


def drawn(one: Traced, **given: Any) -> np.ndarray:
    path = one.path
    png = path_picture(path.points, path.layer, bead_mm=BEAD_MM, layer_mm=LAYER_MM, width_px=700, **given)
    return np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int)


def count(picture: np.ndarray, colour: tuple[int, int, int]) -> int:
    return int((np.abs(picture - colour).max(axis=2) <= NEAR).sum())


def test_bead_brim_and_last_layer_are_seen(box: Traced) -> None:
    picture = drawn(box)
    assert picture.shape[1] == 700
    for colour in (LAID, GHOST, CUT, INK):
        assert count(picture, colour) > 100
    assert count(picture, TRAVEL) == 0


def test_a_brim_by_itself_is_grey(box: Traced) -> None:
    path = box.path
    moves = int((path.layer < 0).sum())
    png = path_picture(
        path.points[: moves + 1], path.layer[:moves], bead_mm=BEAD_MM, layer_mm=LAYER_MM, width_px=700
    )
    picture = np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int)
    assert count(picture, GHOST) > 1000
    assert count(picture, CUT) == 0


def test_travel_is_drawn_as_an_error(box: Traced) -> None:
    dry = np.zeros(len(box.path), bool)
    dry[np.flatnonzero(box.path.layer == 20)[2]] = True
    assert count(drawn(box, travel=dry), TRAVEL) > 100


def test_the_loop_is_drawn_where_it_is_and_its_start_enlarged(box: Traced) -> None:
    """The box is three times as long as wide, and so is what is drawn of it; its start is in a corner."""
    picture = drawn(box, index=20)
    laid = np.abs(picture - LAID).max(axis=2) <= NEAR
    rows = np.flatnonzero(laid.any(axis=1))
    # the two drawings are parted by rows without bead: the layer above, its start below
    parted = np.flatnonzero(np.diff(rows) > 20)
    whole = laid[rows[0] : rows[parted[0]] + 1]
    wide = np.ptp(np.flatnonzero(whole.any(axis=0)))
    assert wide / len(whole) == pytest.approx(3.0, rel=0.03)
    near = laid[rows[parted[0] + 1] :][:140]
    # an angle of two straight beads: one reaches the left or right border, one the upper or lower
    assert near.any(axis=0).sum() > 200
    assert near.any(axis=1).sum() > 60


def test_a_path_that_covers_itself_is_drawn() -> None:
    """Once more round and round: joining such a bead into one area took gigabytes."""
    turn = np.arange(60_000) * 0.628
    points = np.column_stack([20.0 * np.cos(turn), 20.0 * np.sin(turn), np.full(len(turn), 0.25)])
    png = path_picture(
        points, np.zeros(len(turn) - 1, np.int64), bead_mm=BEAD_MM, layer_mm=LAYER_MM, width_px=700
    )
    assert count(np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int), LAID) > 100


def test_what_cannot_be_drawn_is_refused(box: Traced) -> None:
    path = box.path
    given: dict[str, Any] = {"bead_mm": BEAD_MM, "layer_mm": LAYER_MM}
    with pytest.raises(ValueError, match="got no moves"):
        path_picture(np.zeros((1, 3)), np.zeros(0, np.int64), **given)
    with pytest.raises(ValueError, match="width_px: got 100; allowed: 480 and more"):
        path_picture(path.points, path.layer, width_px=100, **given)
    with pytest.raises(ValueError, match="index: got 99; allowed: a layer of the path, -2 to 39"):
        path_picture(path.points, path.layer, index=99, **given)
