"""The spec that a newcomer starts from: an invented aircraft, every key explained."""

from __future__ import annotations

from wingpath.io.spec_toml import parse_toml, toml_text
from wingpath.model.spec import spec_from_dict

__all__ = ["STARTER_NAME", "starter_spec"]

STARTER_NAME = "Reed 1000"
"""An invented aircraft."""

_TEXT = """\
# A wing for wingpath. Edit the numbers, then run `wingpath build` on this file.
# Lengths are in millimetres, angles in degrees. A line that starts with # is a remark.
# Only two [[station]] tables are needed; every other key can be left out and then takes its default.

format = 1                     # version of this file format
name = @NAME@

[aircraft]                     # what the loads are worked out from
all_up_mass_g = 620.0          # ready to fly, with battery
load_factor = 6.0              # hardest turn or pull-out, in multiples of the weight
max_speed_m_s = 25.0           # fastest dive
max_lift_coefficient = 1.1     # where the wing stalls
gust_m_s = 3.0                 # upward gust that is met at the fastest
landing_factor = 3.0           # a hard landing or a hand launch, in multiples of the weight
altitude_m = 0.0               # of the flying field above the sea

# Sections of the wing from the root to the tip; between two of them the wing is straight.
# Add another [[station]] wherever the planform bends.
[[station]]
span_mm = 0.0                  # distance from the root; the first station is the root
chord_mm = 190.0               # leading edge to trailing edge
leading_edge_mm = 0.0          # how far the leading edge lies behind the leading edge of the root
twist_deg = 0.0                # nose up is positive
airfoil = "naca2412"           # a NACA number, a shipped profile, or a .dat file beside this one

[[station]]
span_mm = 480.0
chord_mm = 135.0
leading_edge_mm = 25.0
twist_deg = -1.5               # nose down at the tip: the root stalls first
airfoil = "naca2412"

[wing]
hand = "both"                  # which half wings to write: left, right or both
trailing_edge_mm = 0.9         # least thickness of the trailing edge: two beads side by side
tip = "open"                   # open, or closed by skin

[ribs]
run = "both"                   # ribs that run aft, forward, both (a grid of diamonds), or none
pitch_mm = 30.0                # distance between neighbouring ribs of one run
# pitch_along_mm = [[0.0, 25.0], [300.0, 40.0]]   # instead of pitch_mm: place along the span, pitch there
angle_deg = 45.0               # lean of the ribs; over 45 they start to sag while printing
# stub_mm = 4.0                # windows in the ribs between the places where they cross; stubs this deep stay

[slots]                        # ribs are cuts so thin that the two beads beside them fuse
width_mm = 0.06                # wider ones stay open, `wingpath tune` finds the widest that fuses
neck_mm = 0.765                # solid left at the far end of a cut, between 1 and 2 bead widths
# weld_spacing_mm = 0.0        # between places where they are fused; 0: all along, left out: not known

[[tube]]                       # a bought tube or rod that slides into a printed bore
outer_mm = 6.0
inner_mm = 4.0                 # 0 for a solid rod
clearance_mm = 0.3             # what the bore is larger than the tube; left out: what the filament needs
from_mm = 0.0
to_mm = 400.0
chord_fraction = 0.30          # where along the chord: 0 is the leading edge, 1 the trailing edge
chord_fraction_end = 0.30      # the same at its outer end
material = "pultruded-carbon"  # `wingpath profiles` lists what there is

# A printed rib along the span. Take the # off these lines to add one.
# [[spar_web]]
# chord_fraction = 0.55
# from_mm = 0.0
# to_mm = 400.0

# What rides in one half wing and is not printed: servo, lead, horn, paint.
# [[item]]
# name = "servo"
# mass_g = 9.0
# span_mm = 300.0
# chord_fraction = 0.45

# The same wing made otherwise, to weigh the printed one against.
# [compare]
# skin_g_dm2 = 6.0             # a moulded or covered skin
# core_g_cm3 = 0.025           # a foam core

[panels]
joints_mm = [240.0]            # where the half wing is split to fit the printer; left out: worked out for you
glue_mm = 0.15                 # glue line in the joints

[printer]
profile = "bed-220"            # a shipped profile, or a .toml file beside this one
# nozzle_mm = 0.4              # any key of the profile can be set here instead

[filament]
profile = "foaming-pla"        # or your own: print the coupon of `wingpath tune -o coupon`, and read it back

[print]
layer_mm = 0.25                # height of a layer
bead_mm = 0.45                 # width of the one bead that a wall is made of
speed_mm_s = 40.0              # slow and even: foam needs the same time everywhere
temperature_c = 230.0          # hotter foams more
flow = 0.50                    # share of the plastic that a solid bead would take
style = "helical"              # the nozzle rises all the time; "stepped" rises at the start of each loop
# brim_mm = 6.0                # left out: by the height and the footprint of each panel
"""


def starter_spec(name: str = STARTER_NAME) -> str:
    """Return a commented TOML spec that builds.

    Parameters
    ----------
    name : str
        Name of the aircraft.

    Raises
    ------
    SpecError
        When the name cannot be one, for example with a line break in it.
    """
    text = _TEXT.replace("@NAME@", toml_text(name))
    spec_from_dict(parse_toml(text, source="starter"), source="starter")
    return text
