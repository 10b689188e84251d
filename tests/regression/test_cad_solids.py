"""Parts as exact solids: held against the kernel's booleans, facets, and the mesh that they stand for."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from cad_reading import box_of, face_kinds, product_names, read_step, solids_in, valid
from outside import CAD, Source
from wings import SMALL_WING

from wingpath import WingBuild, build_wing, design_wing, spec_from_dict
from wingpath.build.pieces import pieces_of_part
from wingpath.build.solid import panel_solid
from wingpath.build.surfaces import Facets, RoundWall, RuledStrip
from wingpath.cad import panel_cad_solid
from wingpath.cad.gate import VOLUME_SHARE, judge_shape, open_sides, volume_mm3
from wingpath.cad.patches import patches_of_mesh
from wingpath.cad.solids import CadSolid, cad_solid, mirrored_shape
from wingpath.core.errors import InputError
from wingpath.geometry.mesh import Mesh
from wingpath.io.step import write_step
from wingpath.pipeline.stepping import step_parts, with_step_findings
from wingpath.pipeline.writing import write_build

EXAMPLES = Path(__file__).parents[2] / "examples"

OPEN_CASCADE = Source(
    "library", "Open CASCADE", "Open CASCADE, an open CAD kernel with exact cylinders (LGPL): cut and volume"
)

CHORD_SHARE = 2e-4
"""What facets take off a small wing: chords of the skin, flats of a bore."""

BOOLEAN_SHARE = 1e-6
"""Our solid against the kernel's own subtraction of the same surfaces: nothing but tolerances of edges."""

READ_SHARE = 2e-4
"""The kernel's integration over a file that it reads back is off by up to 1e-4, though no face has moved."""


@pytest.fixture(scope="module")
def small_solids(small_build: WingBuild) -> tuple[CadSolid, ...]:
    return tuple(panel_cad_solid(part.solid) for part in small_build.parts)


def test_parts_of_the_small_wing_are_exact_but_for_the_tip(small_solids: tuple[CadSolid, ...]) -> None:
    root, tip = small_solids
    assert (root.exact, root.faceted, root.reason) == (True, (), "")
    assert (tip.exact, tip.faceted) == (True, ("tip cap",))
    for made in small_solids:
        assert abs(made.volume_share) < CHORD_SHARE
        kinds = face_kinds(made.shape)
        assert kinds["Cylinder"] >= 1
        assert kinds["BSplineSurface"] >= 2


def test_a_part_stands_where_the_wing_has_it(
    small_build: WingBuild, small_solids: tuple[CadSolid, ...]
) -> None:
    for part, made in zip(small_build.parts, small_solids, strict=True):
        mesh = part.solid.mesh.moved((0.0, 0.0, part.solid.panel.start_mm))
        assert box_of(made.shape) == pytest.approx(mesh.bounds, abs=0.01)


def test_the_right_hand_is_the_mirror_image(small_solids: tuple[CadSolid, ...]) -> None:
    for made in small_solids:
        other = mirrored_shape(made.shape)
        assert valid(other)
        assert volume_mm3(other) == pytest.approx(made.volume_mm3, rel=READ_SHARE)
        low, high = box_of(made.shape)
        mirrored = box_of(other)
        assert mirrored[0] == pytest.approx([low[0], low[1], -high[2]], abs=0.01)
        assert mirrored[1] == pytest.approx([high[0], high[1], -low[2]], abs=0.01)


def test_pieces_cut_by_the_kernel_give_the_part(small_build: WingBuild) -> None:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.TopTools import TopTools_ListOfShape

    design, part = small_build.design, small_build.panels[0]
    pieces = [
        cad_solid(piece.mesh, piece.shapes, piece.names, name=piece.name)
        for piece in pieces_of_part(design.body, design.voids, design.cut_settings, part.solid)
    ]
    assert all(piece.exact for piece in pieces)
    assert len({piece.name for piece in pieces}) == len(pieces)
    outer = pieces[0].shape
    # one after the other: slots that cross are no trouble for the kernel then
    for piece in pieces[1:]:
        cut, bodies, tools = BRepAlgoAPI_Cut(), TopTools_ListOfShape(), TopTools_ListOfShape()
        bodies.Append(outer)
        tools.Append(piece.shape)
        cut.SetArguments(bodies)
        cut.SetTools(tools)
        cut.Build()
        outer = cut.Shape()
    ours = panel_cad_solid(part.solid)
    assert valid(outer)
    CAD.check(
        "Volume of an exact panel with slots and bore, against the kernel's own subtraction",
        source=OPEN_CASCADE.at("volume of the cut over ours"),
        expected=1.0,
        got=volume_mm3(outer) / ours.volume_mm3,
        abs=BOOLEAN_SHARE,
        because="tolerances of edges",
    )


def test_pieces_of_a_surface_and_a_cover_begin_with_their_outer_body(
    fitted: WingBuild,
) -> None:
    design = fitted.design
    for part in (*fitted.surfaces, *fitted.covers):
        pieces = pieces_of_part(design.body, design.voids, design.cut_settings, part.solid)
        assert pieces[0].name == f"{part.name} outer body"
        whole = cad_solid(pieces[0].mesh, pieces[0].shapes, pieces[0].names, name=part.name)
        assert whole.exact
        cut = len(pieces) > 1
        assert (whole.mesh_volume_mm3 > part.solid.mesh.volume_mm3 * (1.0 + 1e-9)) == cut


@pytest.fixture(scope="module")
def fitted() -> WingBuild:
    """Return a wing with an aileron, a servo bay with its cover, a duct and a plate bay."""
    data = {
        "name": "Sedge 300",
        "station": [
            {"span_mm": 0.0, "chord_mm": 170.0, "airfoil": "naca2415"},
            {"span_mm": 150.0, "chord_mm": 150.0, "leading_edge_mm": 8.0, "twist_deg": -1.0},
        ],
        "ribs": {"pitch_mm": 40.0},
        "wing": {"tip": "open"},
        "servo_bay": [
            {
                "span_mm": 60.0,
                "length_mm": 22.0,
                "width_mm": 13.0,
                "depth_mm": 8.0,
                "chord_fraction": 0.4,
                "frame": True,
            }
        ],
        "duct": [{"diameter_mm": 5.0, "chord_fraction": 0.4, "from_mm": 0.0, "to_mm": 60.0}],
        "aileron": [{"from_mm": 70.0, "to_mm": 110.0, "hinge_fraction": 0.76}],
        "panels": {"joints_mm": []},
    }
    return build_wing(spec_from_dict(data))


def test_a_wing_with_aileron_bay_and_cover_is_exact_everywhere(fitted: WingBuild) -> None:
    step = step_parts(fitted, solids=True, pieces=False)
    assert [solid.name for solid in step.solids] == ["panel-1", "aileron-1", "cover-1"]
    assert all(solid.exact and not solid.faceted for solid in step.solids)
    assert step.findings == ()


def test_files_hold_every_part_of_both_hands_under_its_name(small_build: WingBuild, tmp_path: Path) -> None:
    step = step_parts(small_build, solids=True, pieces=True)
    build = with_step_findings(small_build, step)
    said = [finding for finding in build.findings if finding.code == "step-facets"]
    assert [(finding.severity, finding.panel) for finding in said] == [("note", "panel-2")]
    files = write_build(build, tmp_path / "wing", step=step)
    assert {"wing.step", "wing-parts.step"} <= {file.name for file in files}
    whole = tmp_path / "wing" / "wing.step"
    hands = small_build.hands
    wanted = [f"{part.name}-{hand}" for hand in hands for part in small_build.parts]
    assert sorted(product_names(whole)) == sorted(["Sedge 90", *wanted])
    shape = read_step(whole)
    assert valid(shape)
    solids = solids_in(shape)
    assert len(solids) == len(wanted)
    volumes = sorted(volume_mm3(solid) for solid in solids)
    meshes = sorted(part.solid.mesh.volume_mm3 for part in small_build.parts for _ in hands)
    # the proof of the issue: within half a per cent of the mesh
    assert volumes == pytest.approx(meshes, rel=0.005)
    assert volumes == pytest.approx(meshes, rel=CHORD_SHARE + READ_SHARE)
    text = whole.read_text(encoding="ascii")
    assert "PCURVE" not in text
    assert "SI_UNIT(.MILLI.,.METRE.)" in text
    apart = product_names(tmp_path / "wing" / "wing-parts.step")
    assert "panel-1 outer body-left" in apart
    assert "panel-1 cut tube[0]-left" in apart


def test_writing_twice_gives_the_same_file(small_solids: tuple[CadSolid, ...], tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_step(tmp_path / name / "wing.step", {"part": small_solids[0].shape}, title="wing")
    one, two = ((tmp_path / name / "wing.step").read_text(encoding="ascii") for name in ("one", "two"))
    # the kernel counts the places of parts in assemblies for as long as it runs
    counted = re.compile(r"NEXT_ASSEMBLY_USAGE_OCCURRENCE\('\d+'")
    assert counted.sub("", one) == counted.sub("", two)


@pytest.mark.parametrize(
    ("given", "written"),
    [
        ("it's; a /* wing */", "it_s; a /* wing */"),
        ("Grünspecht 'α' \\X2\\ \n);", "Grunspecht __ _X2_ _);"),
        ("\n\t", "__"),
        ("翼", "wing"),
        ("w" * 300, "w" * 60),
    ],
)
def test_odd_names_are_written_plainly(
    given: str, written: str, small_solids: tuple[CadSolid, ...], tmp_path: Path
) -> None:
    path = tmp_path / "odd.step"
    write_step(path, {given: small_solids[0].shape}, title=given)
    assert set(product_names(path)) == {written}
    assert valid(read_step(path))


# --- what is not exact ---------------------------------------------------------------------------------


PLAIN_WING = {
    "name": "Sedge 15",
    "station": [
        {"span_mm": 0.0, "chord_mm": 60.0, "airfoil": "naca2412"},
        {"span_mm": 15.0, "chord_mm": 55.0, "leading_edge_mm": 2.0},
    ],
    "ribs": {"run": "none"},
    "wing": {"tip": "open"},
    "tube": [{"outer_mm": 3.0, "to_mm": 15.0, "chord_fraction": 0.3}],
    "panels": {"joints_mm": []},
}
"""No twist, so few facets."""


def test_a_solid_that_the_gate_refuses_stands_as_facets_and_says_so() -> None:
    design = design_wing(spec_from_dict(PLAIN_WING))
    solid = panel_solid(design.body, design.panels[0], design.voids, design.cut_settings)
    assert panel_cad_solid(solid).exact
    # a bore that is said to be twice as wide as it is
    wrong = tuple(
        RoundWall(s.near, s.far, s.near_mm, s.far_mm, 2 * s.near_radius_mm, 2 * s.far_radius_mm)
        if isinstance(s, RoundWall)
        else s
        for s in solid.surface_shapes
    )
    made = cad_solid(solid.mesh, wrong, solid.surface_names, name="panel-1")
    assert not made.exact
    assert "corner" in made.reason
    assert valid(made.shape)
    assert set(face_kinds(made.shape)) == {"Plane"}
    assert made.volume_mm3 == pytest.approx(solid.mesh.volume_mm3, rel=1e-9)


def test_whatever_fails_is_said_in_a_finding(small_build: WingBuild) -> None:
    from dataclasses import replace

    step = step_parts(small_build, solids=True, pieces=False)
    root = step.solids[0]
    faceted = replace(root, exact=False, reason="the CAD kernel finds it invalid")
    lost = replace(root, exact=False, shape=None, reason="no")
    said = replace(step, solids=(faceted, lost)).findings
    assert [(finding.code, finding.severity) for finding in said] == [
        ("step-facets", "note"),
        ("step-facets", "warning"),
    ]
    assert "finds it invalid" in said[0].message
    assert list(replace(step, solids=(lost,)).files["wing.step"]) == []


def test_the_gate_sees_what_is_wrong(small_solids: tuple[CadSolid, ...]) -> None:
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    made = small_solids[0]
    assert judge_shape(made.shape, mesh_volume_mm3=made.mesh_volume_mm3).passed
    too_large = judge_shape(made.shape, mesh_volume_mm3=made.mesh_volume_mm3 * (1.0 - 2.0 * VOLUME_SHARE))
    assert not too_large.passed
    assert "volume is off by +0.2" in too_large.reason
    # without one small face: a hole that the volume does not show
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    builder.MakeSolid(solid)
    faces = []
    walk = TopExp_Explorer(made.shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while walk.More():
        faces.append(walk.Current())
        walk.Next()
    for face in faces[:-1]:
        builder.Add(shell, face)
    builder.Add(solid, shell)
    assert not judge_shape(solid, mesh_volume_mm3=made.mesh_volume_mm3).passed
    # also on its own, since a face that the kernel cannot cut into triangles may pass as valid
    coarse = {"off_mm": 0.1, "off_rad": 0.5}
    assert open_sides(made.shape, **coarse) == 0
    assert open_sides(solid, **coarse) >= 3


def test_a_mesh_with_a_hole_is_refused_as_a_solid() -> None:
    mesh = Mesh(np.eye(3), np.array([[0, 1, 2]]), name="leaf")
    with pytest.raises(InputError, match="not closed"):
        patches_of_mesh(mesh, ())


# --- what build keeps for it ---------------------------------------------------------------------------


def test_every_vertex_lies_close_to_the_shape_that_its_number_names(small_build: WingBuild) -> None:
    from wingpath.cad.round import round_surface
    from wingpath.cad.ruled import ruled_surfaces

    for part in small_build.parts:
        solid = part.solid
        mesh = solid.mesh.moved((0.0, 0.0, solid.panel.start_mm))
        assert len(solid.surface_shapes) == len(solid.surface_names)
        assert mesh.surfaces is not None
        seen = set()
        for number in np.unique(mesh.surfaces).tolist():
            shape = solid.surface_shapes[number]
            points = mesh.vertices[np.unique(mesh.faces[mesh.surfaces == number])]
            if isinstance(shape, RuledStrip):
                off = ruled_surfaces([shape])[0].offsets(points)[0]
            elif isinstance(shape, RoundWall):
                off = round_surface(shape).offsets(points)[0]
            else:
                continue
            seen.add(type(shape))
            # chords of 161 points a side, flats of a bore
            assert np.abs(off).max() < 0.01
        assert seen == {RuledStrip, RoundWall}


def test_the_flat_end_of_a_closed_tip_has_a_number_of_its_own(small_build: WingBuild) -> None:
    solid = small_build.panels[-1].solid
    mesh = solid.mesh
    assert mesh.surfaces is not None
    top = mesh.bounds[1, 2]
    flat = np.all(mesh.corners[:, :, 2] > top - 1e-9, axis=1)
    names = {solid.surface_names[n] for n in mesh.surfaces[flat]}
    assert names == {"tip flat"}
    assert any(isinstance(shape, Facets) for shape in solid.surface_shapes)


@pytest.mark.slow
def test_triangles_without_height_do_not_stick_out_as_spikes() -> None:
    # where the end of a slot meets a crossing slot at its very edge the mesh has needles without height
    design = design_wing(EXAMPLES / "fescue-340" / "lighter.toml")
    solid = panel_solid(design.body, design.panels[0], design.voids, design.cut_settings)
    sides = np.roll(solid.mesh.corners, -1, axis=1) - solid.mesh.corners
    area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    assert (area / np.linalg.norm(sides, axis=2).max(axis=1) < 1e-7).sum() > 3
    made = panel_cad_solid(solid)
    assert (made.exact, made.reason) == (True, "")


# --- without the kernel ---------------------------------------------------------------------------------

BLOCKED = """
import sys
class Block:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {names!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name.split(".")[0])
sys.meta_path.insert(0, Block())
"""


def run_blocked(code: str, *names: str) -> subprocess.CompletedProcess[str]:
    text = BLOCKED.format(names=names) + code
    return subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, check=False)


@pytest.mark.parametrize("option", ["--step", "--step-parts"])
def test_without_the_kernel_one_line_names_the_extra_before_anything_is_built(
    option: str, tmp_path: Path
) -> None:
    spec = tmp_path / "wing.toml"
    spec.write_text("this is not even a spec", encoding="utf-8")
    code = f"""
sys.argv = ["wingpath", "build", {str(spec)!r}, "-o", {str(tmp_path / "out")!r}, {option!r}]
from wingpath.cli.app import main
main()
"""
    ran = run_blocked(code, "OCP")
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert " ".join(ran.stderr.split()).endswith(
        f'{option}: the CAD kernel is missing. Install it with: pip install "wingpath[step]"'
    )
    assert not (tmp_path / "out").exists()


UNLOADED = """
import sys
class Unloaded:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {names!r}:
            raise ImportError("libGL.so.1: cannot open shared object file", name=name.split(".")[0])
sys.meta_path.insert(0, Unloaded())
"""
"""A system without a screen has no such library: the bindings are there and cannot be loaded."""


@pytest.mark.parametrize(
    ("module", "call", "what"),
    [
        ("OCP", "require_kernel", "the CAD kernel"),
        ("cadquery", "require_cadquery", "the library cadquery"),
    ],
)
def test_what_is_installed_and_cannot_be_loaded_is_not_called_missing(
    module: str, call: str, what: str
) -> None:
    code = f"""
import wingpath
from wingpath.cad import kernel
try:
    kernel.{call}("--step")
except wingpath.InputError as error:
    print(error)
"""
    text = UNLOADED.format(names=(module,)) + code
    ran = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, check=False)
    assert ran.stdout.startswith(f"--step: {what} is installed, but the system cannot load it (libGL.so.1: ")
    assert "apt install libgl1" in ran.stdout
    assert "wingpath[" not in ran.stdout


def test_without_the_kernel_the_python_door_says_so_too() -> None:
    ran = run_blocked(
        """
import wingpath.cad
try:
    wingpath.cad.panel_cad_solid(None)
except wingpath.InputError as error:
    print(error)
""",
        "OCP",
    )
    assert ran.stdout.startswith("wingpath.cad: the CAD kernel is missing. Install it with: ")


def test_without_cadquery_one_line_names_the_extra() -> None:
    ran = run_blocked(
        """
import wingpath.cad
try:
    wingpath.cad.panel_workplane(None)
except wingpath.InputError as error:
    print(error)
""",
        "cadquery",
    )
    assert ran.stdout.startswith("wingpath.cad: the library cadquery is missing. Install it with: ")
    assert 'pip install "wingpath[cad]"' in ran.stdout


def test_building_without_step_loads_no_kernel() -> None:
    ran = run_blocked(
        f"""
from wingpath import build_wing, build_document, spec_from_dict
build = build_wing(spec_from_dict({SMALL_WING!r}))
print(build.proven, build_document(build, spec_name="x")["step"])
""",
        "OCP",
    )
    assert ran.stdout.split() == ["True", "None"], ran.stderr
