"""What the page of a proof loading says whatever the wing: needs, steps, when to stop, how to compare."""

from __future__ import annotations

__all__ = ["BEFORE", "COMPARE", "NEEDED", "STOP", "WATCH"]

NEEDED = (
    "Bags of sand or water that lie softly, one for every number in the drawing, and more to add; no hard "
    "weights, they dent the skin.",
    "A scale that reads 1 g (0.1 g for bags under 10 g). Weigh bags with all that is laid on with them.",
    "A ruler that stands on the bench at each gauge, and tape to mark gauges and places of weights.",
    "A stand that holds the root as the fuselage does: same tube, tongue and screws, and nothing else. If it "
    "turns by a tenth of a degree, a tip at 600 mm goes down by 1 mm.",
    "Goggles: tubes splinter. A second person to watch and to write.",
)
"""What to have at hand."""

BEFORE = (
    "Upside down, the underside up, level, the tip free. Glue has set for as long as its maker says.",
    "Both halves on one tube: load both alike, bag by bag.",
    "Something soft under the tip, clear of it by the greatest deflection and a hand's breadth: a wing "
    "that breaks must not fall far.",
    "Weights lie with their middle on the marks, spread along the chord, none on an aileron, and so that "
    "they do not slide when the wing bends.",
    "Without weights, read every gauge and the root. That is zero: the wing's own weight is allowed for.",
)
"""How the wing is laid down."""

WATCH = (
    "Lay weights on from the root outward, gently, without dropping them. Wait ten seconds, then read.",
    "Read the root too: what the stand gives is taken off the others.",
    "Look along both skins against the light for wrinkles: where, and whether they go when the weight "
    "goes. Listen: a tick is written down, a crack is a stop.",
    "Look at glue lines, at the end of the tube, and along the hinges; at the limit, let the servos move "
    "the ailerons.",
    "At the limit (100 %) take all off again, from the tip inward, wait ten minutes and read. What does "
    "not come back is permanent set; the limit load has to leave none that harms (14 CFR 23.305, text of "
    "2014).",
    "Steps beyond the limit are for a wing that will not fly. Ultimate (150 %) has to be held for 3 s (the"
    " same rule).",
)
"""What to do and look at, step by step."""

STOP = (
    "A crack, a snap, a jump of a gauge, or one that goes on creeping while you wait.",
    "A deflection above its range at any gauge.",
    "A sharp crease or white line in the skin, or a wrinkle that is still there when the weight is gone.",
    "A glue line that opens, a root that slips, a wing that twists visibly, an aileron that binds.",
    "Then take the weights off from the tip inward, hands and face beside the wing and never under it. Do "
    "not go on to the next step, and do not fly, before you know why.",
)
"""When to take the weights off."""

COMPARE = (
    "Within the range at every gauge, nothing left after taking off: the wing does at the limit what was "
    "worked out.",
    "It bends more than the range: do not fly it. Find out why: slots that did not fuse, a filament "
    "printed too hot or too thin, a joint or a tube that slips, a bag in the wrong place.",
    "It bends less: fine, once you are sure that no bag is missing and nothing under the wing carries it.",
    "Permanent set, a crease or a crack at or below the limit: do not fly it. Find out why, and build the "
    "next one stronger, or ask less of it (load_factor in the spec).",
    "A wing that was taken to 150 % is not flown (common practice, no source): look for what it shows, "
    "then cut it open. Build another one alike and take that to the limit only.",
)
"""What the readings mean, and what to do with the wing."""
