"""Travel-free printed wings for radio-controlled model aircraft.

The whole pipeline for people who script it::

    import wingpath

    spec = wingpath.load_spec("wing.toml")
    build = wingpath.build_wing(spec)
    print(build.proven, [finding.code for finding in build.findings])
    wingpath.write_build(build, "wing")
    print(wingpath.assess_wing("wing.toml").weights.mass_g)

Lengths are millimetres, angles degrees, masses grams. Names are loaded when they are first used, so
importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from wingpath.version import __version__

if TYPE_CHECKING:
    from wingpath.build.continuity import Continuity as Continuity
    from wingpath.build.layers import Layers as Layers
    from wingpath.build.toolpath import Toolpath as Toolpath
    from wingpath.core.errors import DesignError as DesignError
    from wingpath.core.errors import FileAccessError as FileAccessError
    from wingpath.core.errors import InputError as InputError
    from wingpath.core.errors import SpecError as SpecError
    from wingpath.core.errors import WingpathError as WingpathError
    from wingpath.core.findings import Finding as Finding
    from wingpath.geometry.airfoil import Airfoil as Airfoil
    from wingpath.geometry.mesh import Mesh as Mesh
    from wingpath.geometry.naca import naca_airfoil as naca_airfoil
    from wingpath.io.airfoil_dat import read_airfoil as read_airfoil
    from wingpath.io.calibrated_profile_toml import write_calibrated_profile as write_calibrated_profile
    from wingpath.io.mesh_files import read_mesh as read_mesh
    from wingpath.io.spec_toml import load_spec as load_spec
    from wingpath.model.profiles import FilamentProfile as FilamentProfile
    from wingpath.model.spec import Spec as Spec
    from wingpath.model.spec import spec_from_dict as spec_from_dict
    from wingpath.model.wing import Wing as Wing
    from wingpath.pipeline.assessing import Assessment as Assessment
    from wingpath.pipeline.assessing import assess_build as assess_build
    from wingpath.pipeline.assessing import assess_wing as assess_wing
    from wingpath.pipeline.building import PanelResult as PanelResult
    from wingpath.pipeline.building import WingBuild as WingBuild
    from wingpath.pipeline.building import build_wing as build_wing
    from wingpath.pipeline.calibrating import ReadCoupons as ReadCoupons
    from wingpath.pipeline.calibrating import read_coupons as read_coupons
    from wingpath.pipeline.checking import MeshJudgement as MeshJudgement
    from wingpath.pipeline.checking import check_mesh as check_mesh
    from wingpath.pipeline.checking_programs import ProgramJudgement as ProgramJudgement
    from wingpath.pipeline.checking_programs import check_program as check_program
    from wingpath.pipeline.coupon_making import Coupons as Coupons
    from wingpath.pipeline.coupon_making import make_coupons as make_coupons
    from wingpath.pipeline.coupon_making import write_coupons as write_coupons
    from wingpath.pipeline.design import WingDesign as WingDesign
    from wingpath.pipeline.design import design_wing as design_wing
    from wingpath.pipeline.document import build_document as build_document
    from wingpath.pipeline.tracing import PartPath as PartPath
    from wingpath.pipeline.tune_options import TuneOptions as TuneOptions
    from wingpath.pipeline.tune_options import tune_options as tune_options
    from wingpath.pipeline.tuning import Tuning as Tuning
    from wingpath.pipeline.tuning import tune_windows as tune_windows
    from wingpath.pipeline.writing import write_build as write_build

_HOMES = {
    "Airfoil": "geometry.airfoil",
    "Assessment": "pipeline.assessing",
    "Continuity": "build.continuity",
    "Coupons": "pipeline.coupon_making",
    "DesignError": "core.errors",
    "FilamentProfile": "model.profiles",
    "FileAccessError": "core.errors",
    "Finding": "core.findings",
    "InputError": "core.errors",
    "Layers": "build.layers",
    "Mesh": "geometry.mesh",
    "MeshJudgement": "pipeline.checking",
    "PanelResult": "pipeline.building",
    "PartPath": "pipeline.tracing",
    "ProgramJudgement": "pipeline.checking_programs",
    "ReadCoupons": "pipeline.calibrating",
    "Spec": "model.spec",
    "SpecError": "core.errors",
    "Toolpath": "build.toolpath",
    "TuneOptions": "pipeline.tune_options",
    "Tuning": "pipeline.tuning",
    "Wing": "model.wing",
    "WingBuild": "pipeline.building",
    "WingDesign": "pipeline.design",
    "WingpathError": "core.errors",
    "assess_build": "pipeline.assessing",
    "assess_wing": "pipeline.assessing",
    "build_document": "pipeline.document",
    "build_wing": "pipeline.building",
    "check_mesh": "pipeline.checking",
    "check_program": "pipeline.checking_programs",
    "design_wing": "pipeline.design",
    "load_spec": "io.spec_toml",
    "make_coupons": "pipeline.coupon_making",
    "naca_airfoil": "geometry.naca",
    "read_airfoil": "io.airfoil_dat",
    "read_coupons": "pipeline.calibrating",
    "read_mesh": "io.mesh_files",
    "spec_from_dict": "model.spec",
    "tune_options": "pipeline.tune_options",
    "tune_windows": "pipeline.tuning",
    "write_build": "pipeline.writing",
    "write_calibrated_profile": "io.calibrated_profile_toml",
    "write_coupons": "pipeline.coupon_making",
}

__all__ = [
    "Airfoil",
    "Assessment",
    "Continuity",
    "Coupons",
    "DesignError",
    "FilamentProfile",
    "FileAccessError",
    "Finding",
    "InputError",
    "Layers",
    "Mesh",
    "MeshJudgement",
    "PanelResult",
    "PartPath",
    "ProgramJudgement",
    "ReadCoupons",
    "Spec",
    "SpecError",
    "Toolpath",
    "TuneOptions",
    "Tuning",
    "Wing",
    "WingBuild",
    "WingDesign",
    "WingpathError",
    "__version__",
    "assess_build",
    "assess_wing",
    "build_document",
    "build_wing",
    "check_mesh",
    "check_program",
    "design_wing",
    "load_spec",
    "make_coupons",
    "naca_airfoil",
    "read_airfoil",
    "read_coupons",
    "read_mesh",
    "spec_from_dict",
    "tune_options",
    "tune_windows",
    "write_build",
    "write_calibrated_profile",
    "write_coupons",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"wingpath.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'wingpath' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
