"""Pictures: what is drawn has the measures of what was judged."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from PIL import Image

from wingpath.build.continuity import Continuity, Limits, judge_layers
from wingpath.build.layers import Layers, layers_of_mesh
from wingpath.core.findings import Finding
from wingpath.geometry.mesh import Mesh
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.building import build_wing
from wingpath.report import colours
from wingpath.report.bead_model import LIFT_DEG, TURN_DEG, View
from wingpath.report.fused import bead_runs, fused_area
from wingpath.report.layer_picture import layer_picture, layer_svg, worst_layer
from wingpath.report.marks import marks_of_layer
from wingpath.report.panel_picture import panel_picture

SVG = "{http://www.w3.org/2000/svg}"
BEAD = 0.45
LAYER = 0.5

# corners of a box in binary order (x, y, z), faces counter-clockwise seen from outside
BOX_FACES = np.array(
    [
        [0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4],
        [2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5],
    ]
)  # fmt: skip


def boxes(*solids: tuple[tuple[float, ...], tuple[float, ...], bool]) -> Mesh:
    """One mesh of boxes (low corner, high corner, hollow); a hollow one faces inward."""
    vertices, faces = [], []
    for low, high, hollow in solids:
        pick = np.array([[(k >> axis) & 1 for axis in range(3)] for k in range(8)])
        faces.append((BOX_FACES[:, ::-1] if hollow else BOX_FACES) + 8 * len(vertices))
        vertices.append(np.where(pick, high, low))
    return Mesh(np.concatenate(vertices), np.concatenate(faces), name="block")


def judged(mesh: Mesh) -> Continuity:
    layers = layers_of_mesh(mesh, layer_mm=LAYER, bead_mm=BEAD)
    return judge_layers(layers, Limits(0.1), strict=True)


@pytest.fixture(scope="module")
def plain() -> Continuity:
    return judged(boxes(((0.0, 0.0, 0.0), (40.0, 10.0, 10.0), False)))


@pytest.fixture(scope="module")
def holed() -> Continuity:
    """A block with a closed void from z = 4 to 6 mm: a second contour on four layers, begun in mid-air."""
    return judged(
        boxes(
            ((0.0, 0.0, 0.0), (40.0, 10.0, 10.0), False),
            ((10.0, 3.0, 4.0), (18.0, 7.0, 6.0), True),
        )
    )


@pytest.fixture(scope="module")
def parted() -> Continuity:
    """Two blocks, one floating above the other: empty layers between."""
    return judged(
        boxes(
            ((0.0, 0.0, 0.0), (40.0, 10.0, 4.0), False),
            ((0.0, 0.0, 6.0), (40.0, 10.0, 10.0), False),
        )
    )


def group(svg: str, *names: str) -> ElementTree.Element:
    node = ElementTree.fromstring(svg)
    for name in names:
        node = next(item for item in node.iter(f"{SVG}g") if item.get("class") == name)
    return node


def path_points(node: ElementTree.Element) -> list[np.ndarray]:
    texts = [path.get("d", "") for path in node.iter(f"{SVG}path")]
    return [
        np.array([[float(v) for v in pair.split(",")] for pair in text.strip("M Z").split(" L")])
        for text in texts
    ]


def mark_of(svg: str, code: str) -> ElementTree.Element:
    root = ElementTree.fromstring(svg)
    return next(node for node in root.iter(f"{SVG}g") if node.get("data-code") == code)


def mapping(node: ElementTree.Element) -> dict[str, float]:
    return {key[5:]: float(value) for key, value in node.attrib.items() if key.startswith("data-")}


def to_px(points: np.ndarray, m: dict[str, float]) -> np.ndarray:
    x = m["box-left"] + (points[:, 0] - m["left-mm"]) * m["scale"]
    y = m["box-top"] + (m["top-mm"] - points[:, 1]) * m["scale"]
    return np.column_stack([x, y])


@pytest.mark.parametrize("frame", ["layer", "inset"])
def test_svg_path_is_the_layers_path_to_scale(holed: Continuity, frame: str) -> None:
    index = 9
    svg = layer_svg(holed, index)
    node = group(svg, frame)
    drawn = path_points(group(svg, frame, "path"))
    path = holed.layers.paths[index]
    rings = [np.asarray(ring.coords)[:-1] for ring in (path.exterior, *path.interiors)]
    assert len(drawn) == len(rings) == 2
    for got, ring in zip(drawn, rings, strict=True):
        np.testing.assert_allclose(got, to_px(ring, mapping(node)), atol=1e-3)
    # the block is 40 mm long, so its path is a bead shorter, and y runs up while pixels run down
    long = max(drawn, key=lambda ring: np.ptp(ring[:, 0]))
    assert np.ptp(long[:, 0]) == pytest.approx((40.0 - BEAD) * mapping(node)["scale"], abs=2e-3)


@pytest.mark.parametrize("frame", ["layer", "inset"])
def test_svg_bead_is_as_wide_as_the_bead(holed: Continuity, frame: str) -> None:
    svg = layer_svg(holed, 9)
    strokes = list(group(svg, frame, "bead").iter(f"{SVG}path"))
    assert len(strokes) == 2
    for stroke in strokes:
        width = BEAD * mapping(group(svg, frame))["scale"]
        assert float(stroke.get("stroke-width", "0")) == pytest.approx(width, abs=1e-3)


def test_svg_scale_bar_is_as_long_as_it_says(plain: Continuity) -> None:
    svg = layer_svg(plain, 5)
    scale = mapping(group(svg, "layer"))["scale"]
    bar = group(svg, "scale-bar")
    line = path_points(bar)[0]
    assert line[1, 0] - line[0, 0] == pytest.approx(float(bar.get("data-length-mm", "0")) * scale, abs=1e-3)
    assert f"{bar.get('data-length-mm')} mm" in "".join(bar.itertext())


def test_inset_is_eight_times_larger_on_a_wing_sized_layer() -> None:
    wing_like = judged(boxes(((0.0, 0.0, 0.0), (200.0, 20.0, 2.0), False)))
    svg = layer_svg(wing_like, 1)
    whole, inset = mapping(group(svg, "layer")), mapping(group(svg, "inset"))
    assert inset["scale"] / whole["scale"] == pytest.approx(8.0, rel=1e-9)
    assert "8 times larger" in svg


@pytest.mark.parametrize(("size_mm", "drawn"), [(200.0, True), (60.0, True), (8.0, False), (1.5, False)])
def test_a_small_part_is_not_drawn_twice(size_mm: float, drawn: bool) -> None:
    part = judged(boxes(((0.0, 0.0, 0.0), (size_mm, size_mm, 2.0), False)))
    svg = layer_svg(part, 1)
    enlarged = re.findall(r"([\d.]+) times larger", svg)
    assert len(enlarged) == drawn
    assert all(float(times) >= 2.0 for times in enlarged)
    assert Image.open(BytesIO(layer_picture(part, 1, width_px=640))).size[0] == 640


def test_svg_escapes_names(plain: Continuity) -> None:
    name = '<script>alert("x")</script> & co\x00\n'
    svg = layer_svg(plain, 0, title=name)
    root = ElementTree.fromstring(svg)
    assert "<script" not in svg
    assert not list(root.iter(f"{SVG}script"))
    shown = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
    assert any(text.startswith('<script>alert("x")</script> & co, layer 1 of 20') for text in shown)


def test_png_has_the_size_and_place_that_the_svg_says(holed: Continuity) -> None:
    index = 9
    svg = layer_svg(holed, index, width_px=900)
    root = ElementTree.fromstring(svg)
    picture = Image.open(BytesIO(layer_picture(holed, index, width_px=900)))
    picture.load()
    assert picture.format == "PNG"
    assert picture.size == (900, int(root.get("height", "0")))
    # a cut across the wall before the hole, enlarged: the coloured band is one bead wide and ends at x = 10
    m = mapping(group(svg, "inset"))
    pixels = np.asarray(picture.convert("RGB")).astype(int)
    row = round(to_px(np.array([[0.0, 4.0]]), m)[0, 1])
    low, high = (round(to_px(np.array([[x, 0.0]]), m)[0, 0]) for x in (9.0, 10.5))
    strip = pixels[row, low:high]
    beads = np.abs(strip - colours.mixed(colours.SOLID, colours.BEAD, 0.8)).sum(axis=1) < 12
    centre = np.abs(strip - colours.CENTRE).sum(axis=1) < 400
    band = np.flatnonzero(beads | centre)
    assert len(band) == pytest.approx(BEAD * m["scale"], abs=2.5)
    assert low + band[-1] == pytest.approx(to_px(np.array([[10.0, 0.0]]), m)[0, 0], abs=2.0)


def test_png_of_a_name_that_no_font_has(plain: Continuity) -> None:
    title = "wing\n\x07 \ud800 " + "long" * 200
    assert Image.open(BytesIO(layer_picture(plain, 0, title=title, width_px=400))).size[0] == 400


def test_worst_layer_is_that_of_the_error(holed: Continuity, plain: Continuity) -> None:
    errors = {finding.code for finding in holed.findings if finding.severity == "error"}
    assert errors == {"second-contour", "airborne"}
    assert 4.0 < holed.layers.z_mm[worst_layer(holed)] < 6.0
    assert "second-contour" in holed.verdicts[worst_layer(holed)]
    assert plain.findings == ()
    assert worst_layer(plain) == 10


def test_worst_layer_goes_by_severity_then_by_size(plain: Continuity) -> None:
    def finding(severity: str, z: float, found: float) -> Finding:
        return Finding("airborne", severity, "m", "r", z_mm=z, found=found, limit=5.0)  # type: ignore[arg-type]

    found = (finding("note", 8.75, 900.0), finding("error", 2.75, 6.0), finding("error", 3.75, 7.0))
    assert worst_layer(replace(plain, findings=found)) == 7
    unplaced = Finding("open-mesh", "error", "m", "r", found=3.0)
    assert worst_layer(replace(plain, findings=(unplaced, finding("warning", 1.75, 1.0)))) == 3


def test_findings_are_ringed_where_they_are(holed: Continuity) -> None:
    index = worst_layer(holed)
    svg = layer_svg(holed, index)
    finding = next(f for f in holed.findings if f.code == "second-contour")
    mark = mark_of(svg, "second-contour")
    number = mark.get("data-number")
    assert "".join(mark.itertext()).strip() == number
    ring = path_points(mark)[0]
    place = to_px(np.array([[finding.x_mm, finding.y_mm]]), mapping(group(svg, "layer")))[0]
    np.testing.assert_allclose(ring.mean(axis=0), place, atol=2e-3)
    assert "stroke-dasharray" not in ElementTree.tostring(mark, encoding="unicode")
    text = " ".join("".join(item.itertext()) for item in ElementTree.fromstring(svg).iter(f"{SVG}text"))
    assert f"{number} error second-contour: 2 contours on one layer" in text
    # three layers on it is the same hole, whose worst layer is another
    other = layer_svg(holed, index + 3)
    assert "stroke-dasharray" in ElementTree.tostring(mark_of(other, "second-contour"), encoding="unicode")
    assert f"[worst on layer {index + 1}," in other
    assert 'class="mark"' not in layer_svg(holed, 2)
    assert "Nothing was found on this layer." in layer_svg(holed, 2)


def test_notes_are_ringed_on_their_own_layer_only(plain: Continuity) -> None:
    note = Finding(
        "steep", "note", "leans", "none", layers=(3, 9), z_mm=2.75, x_mm=20.0, y_mm=5.0, found=2.0, limit=0.0
    )
    own, other = (marks_of_layer(plain, index, [note])[0] for index in (5, 7))
    assert (own.place, own.here) == ((20.0, 5.0), True)
    assert (other.place, other.here) == (None, False)
    assert marks_of_layer(plain, 12, [note]) == ()


@pytest.mark.parametrize(("severity", "corners"), [("error", 4), ("warning", 3), ("note", 32)])
def test_badge_shape_tells_the_severity(plain: Continuity, severity: str, corners: int) -> None:
    finding = Finding("steep", severity, "m", "r", z_mm=2.75, x_mm=20.0, y_mm=5.0)  # type: ignore[arg-type]
    mark = group(layer_svg(plain, 5, findings=[finding]), "mark")
    badge = [path for path in mark.iter(f"{SVG}path") if path.get("fill") != "none"]
    assert len(badge) == 1
    assert badge[0].get("d", "").count("L") + 1 == corners


def test_empty_layer_is_drawn_and_said(parted: Continuity) -> None:
    index = 9
    assert parted.layers.regions[index].is_empty
    svg = layer_svg(parted, index)
    assert "no solid on this layer" in svg
    assert "empty-layer" in svg
    assert "times larger" not in svg
    assert path_points(group(svg, "layer", "path")) == []
    assert Image.open(BytesIO(layer_picture(parted, index, width_px=640))).size[0] == 640
    assert Image.open(BytesIO(panel_picture(parted.layers, width_px=640))).size[0] == 640


def test_start_is_drawn_at_the_start(plain: Continuity) -> None:
    svg = layer_svg(plain, 5)
    dot = path_points(group(svg, "layer", "start"))[-1]
    place = to_px(plain.starts[5:6], mapping(group(svg, "layer")))[0]
    np.testing.assert_allclose(dot.mean(axis=0), place, atol=2e-3)


@pytest.mark.parametrize(("width_px", "index"), [(100, 0), (800, 20), (800, -1)])
def test_impossible_pictures_are_refused(plain: Continuity, width_px: int, index: int) -> None:
    with pytest.raises(ValueError, match="allowed"):
        layer_svg(plain, index, width_px=width_px)


@pytest.mark.parametrize(("slot", "meets"), [(0.06, True), (0.15, False)])
def test_beads_beside_a_slot_meet_when_the_bond_bridges_it(slot: float, meets: bool) -> None:
    """A block 20 x 10 with a slot 8 deep: the two beads beside it overlap by bond less slot."""
    bond, depth = 0.1, 8.0
    region = shapely.box(0, 0, 20, 10) - shapely.box(10 - slot / 2, -1, 10 + slot / 2, depth)
    path = shapely.buffer(region, -BEAD / 2, join_style="mitre", mitre_limit=1.0)
    weld = shapely.intersection(fused_area(path, BEAD + bond), shapely.box(9, 1.0, 11, depth - 1.0))
    expected = max(0.0, bond - slot) * (depth - 2.0)
    assert weld.area == pytest.approx(expected, abs=1e-6)
    assert (weld.area > 0) == meets


@pytest.mark.parametrize("index", [3, 11])
def test_the_arrow_points_the_way_that_the_bead_is_laid(plain: Continuity, index: int) -> None:
    """Anticlockwise round the middle of the block at (20, 5), as `build.loops` turns every loop."""
    svg = layer_svg(plain, index)
    head = path_points(group(svg, "layer", "start"))[0]
    # the tip comes first, the notch between the barbs third
    way = (head[0] - head[2]) * [1.0, -1.0]
    middle = to_px(np.array([[20.0, 5.0]]), mapping(group(svg, "layer")))[0]
    out = (head[2] - middle) * [1.0, -1.0]
    assert out[0] * way[1] - out[1] * way[0] > 0.0


def test_runs_of_a_ring_do_not_depend_on_where_it_starts() -> None:
    ring = np.array([[0, 0], [10, 0], [10, 4], [6, 4], [0, 4]], dtype=float)
    for shift in range(len(ring)):
        turned = np.roll(ring, shift, axis=0)
        runs = bead_runs(np.vstack([turned, turned[:1]]))
        lengths = sorted(float(np.linalg.norm(np.diff(run, axis=0), axis=1).sum()) for run in runs)
        assert lengths == pytest.approx([4.0, 4.0, 10.0, 10.0])


def test_colours_differ_in_lightness_and_text_is_readable() -> None:
    # black on white is 21 : 1 and white has lightness 100 by definition (WCAG 2.2; ISO/CIE 11664-4:2019)
    assert colours.contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert colours.lightness((255, 255, 255)) == pytest.approx(100.0)
    # a middle grey of 119 has lightness 50.0 (worked by hand: linear 0.1845)
    assert colours.lightness((119, 119, 119)) == pytest.approx(50.0, abs=0.1)
    for colour in (colours.INK, colours.AXIS, *colours.SEVERITY_COLOURS.values()):
        assert colours.contrast(colour, colours.WHITE) >= colours.TEXT_CONTRAST
    touching = [colours.SOLID, colours.mixed(colours.SOLID, colours.BEAD, 0.8), colours.FUSED]
    steps = [abs(colours.lightness(a) - colours.lightness(b)) for a, b in pairwise(touching)]
    assert min(steps) >= colours.LEAST_STEP
    assert colours.lightness(colours.CUT) - colours.lightness(colours.WALL_DARK) >= 3 * colours.LEAST_STEP


def test_panel_view_is_no_mirror_image() -> None:
    """Right, up and towards the eye are right-handed: the lower skin is seen, the nose on the left."""
    right, up = view_axes()
    eye = np.cross(right, up)
    assert eye[1] < 0 < eye[2]
    assert right[0] > 0.8
    np.testing.assert_allclose([right @ right, up @ up, right @ up], [1.0, 1.0, 0.0], atol=1e-12)


def view_axes() -> tuple[np.ndarray, np.ndarray]:
    flat = View().flat(np.eye(3))
    return flat[:, 0], flat[:, 1]


def cut_pixels(picture: bytes) -> np.ndarray:
    """Rows and columns whose colour is that of the opening."""
    pixels = np.asarray(Image.open(BytesIO(picture)).convert("RGB")).astype(int)
    return np.argwhere(np.abs(pixels - colours.CUT).max(axis=2) < 12)


@cache
def swept_layers(sweep_mm: float) -> Layers:
    """Return the layers of a panel 160 mm high with both runs of ribs, its tip so far aft."""
    spec = {
        "station": [
            {"span_mm": 0.0, "chord_mm": 200.0, "airfoil": "naca0012"},
            {"span_mm": 160.0, "chord_mm": 180.0, "leading_edge_mm": sweep_mm, "airfoil": "naca0012"},
        ],
        "ribs": {"run": "both", "pitch_mm": 25.0},
        "wing": {"tip": "open"},
    }
    return build_wing(spec_from_dict(spec)).panels[0].continuity.layers


def test_panel_picture_has_the_measures_of_the_panel() -> None:
    layers = judged(boxes(((0.0, 0.0, 0.0), (60.0, 20.0, 40.0), False))).layers
    whole, half = (cut_pixels(panel_picture(layers, width_px=1200, open_at=at)) for at in (1.0, 0.5))
    turn, lift = np.deg2rad(abs(TURN_DEG)), np.deg2rad(LIFT_DEG)
    long, deep = 60.0 - BEAD, 20.0 - BEAD
    wide = long * np.cos(turn) + deep * np.sin(turn)
    tall = (long * np.sin(turn) + deep * np.cos(turn)) * np.sin(lift)
    span = np.ptp(whole, axis=0)
    assert span[0] / span[1] == pytest.approx(tall / wide, rel=0.02)
    scale = span[1] / wide
    fallen = half[:, 0].max() - whole[:, 0].max()
    assert fallen == pytest.approx(20.0 * np.cos(lift) * scale, abs=3.0)


def test_panel_picture_shows_the_outside_light_and_the_inside_dark() -> None:
    layers = judged(boxes(((0.0, 0.0, 0.0), (60.0, 20.0, 40.0), False))).layers
    data = panel_picture(layers, width_px=1000, open_at=1.0)
    pixels = np.asarray(Image.open(BytesIO(data)).convert("L")).astype(int)
    cut = cut_pixels(data)
    middle = round(float(cut[:, 1].mean()))
    rows = np.sort(cut[cut[:, 1] == middle, 0])
    back, front = rows[0], rows[-1]
    inside, outside = pixels[(back + front) // 2, middle], pixels[front + 40, middle]
    assert outside > inside + 40
    assert outside < 235


@pytest.mark.parametrize("width_px", [420, 600, 780])
@pytest.mark.parametrize("sweep_mm", [0.0, 80.0])
def test_the_skin_hides_the_ribs_at_any_size_of_the_picture(sweep_mm: float, width_px: int) -> None:
    layers = swept_layers(sweep_mm)
    data = panel_picture(layers, width_px=width_px, open_at=1.0)
    pixels = np.asarray(Image.open(BytesIO(data)).convert("L")).astype(int)
    cut = cut_pixels(data)
    skin = []
    for column in np.unique(cut[:, 1])[20:-20:3]:
        below = pixels[cut[cut[:, 1] == column, 0].max() + 6 :, column]
        # down to the first white below the panel
        white = np.flatnonzero(below > 235)
        skin.append(below[: white[0] if len(white) else len(below)])
    shown = np.concatenate(skin)
    assert len(shown) > 1000
    # holes between its lines would show the dark inside
    assert np.mean(shown < 160) < 0.05


def test_panel_pictures_stand_side_by_side(plain: Continuity, holed: Continuity) -> None:
    picture = Image.open(BytesIO(panel_picture([plain.layers, holed.layers], title="two", width_px=1000)))
    picture.load()
    assert picture.size[0] == 1000
    columns = cut_pixels(panel_picture([plain.layers, holed.layers], width_px=1000))[:, 1]
    gaps = np.diff(np.unique(columns))
    assert np.count_nonzero(gaps > 20) == 1


def test_panel_picture_refuses_nothing() -> None:
    with pytest.raises(ValueError, match="one or more"):
        panel_picture([])
