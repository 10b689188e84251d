"""The style sheet of the page of a proof loading: light, dark, narrow and on paper."""

from __future__ import annotations

from wingpath.report.colours import AXIS, FUSED, GHOST, INK, SEVERITY_COLOURS, SOLID, WHITE, Colour

__all__ = ["DARK", "LIGHT", "PAPER", "STYLE"]

LIGHT: dict[str, Colour] = {
    "ground": WHITE,
    "ink": INK,
    "soft": (88, 92, 100),
    "line": GHOST,
    "head": SOLID,
    "mark": FUSED,
    "on-mark": WHITE,
    "warn": SEVERITY_COLOURS["error"],
}
"""Colours by what they are for, on a light screen."""

DARK: dict[str, Colour] = {
    "ground": (18, 22, 28),
    "ink": (232, 234, 238),
    "soft": (172, 178, 188),
    "line": (116, 124, 138),
    "head": (40, 46, 58),
    "mark": (140, 192, 236),
    "on-mark": (18, 22, 28),
    "warn": (255, 156, 150),
}
"""The same on a dark one."""

PAPER: dict[str, Colour] = {
    "ground": WHITE,
    "ink": (0, 0, 0),
    "soft": (0, 0, 0),
    "line": AXIS,
    "head": WHITE,
    "mark": (0, 0, 0),
    "on-mark": WHITE,
    "warn": (0, 0, 0),
}
"""The same on paper: black on white."""


def _named(colours: dict[str, Colour]) -> str:
    return "".join(f"--{name}:#{r:02x}{g:02x}{b:02x};" for name, (r, g, b) in colours.items())


STYLE = f"""
:root {{ color-scheme: light dark; {_named(LIGHT)} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_named(DARK)} }} }}
* {{ box-sizing: border-box; }}
body {{ font: 15px/1.45 Helvetica, Arial, sans-serif; color: var(--ink); background: var(--ground);
  margin: 0 auto; padding: 16px; max-width: 1000px; overflow-wrap: break-word; }}
h1 {{ font-size: 1.5em; line-height: 1.2; margin: 0 0 .3em; overflow-wrap: anywhere; }}
h2 {{ font-size: 1.13em; margin: 1.2em 0 .3em; }}
p {{ margin: .3em 0; }} ul {{ margin: .3em 0; padding-left: 1.2em; }} li {{ margin: .15em 0; }}
p.soft {{ color: var(--soft); overflow-wrap: anywhere; }}
.blanks {{ display: flex; flex-wrap: wrap; gap: .5em 1.2em; }}
.blanks span {{ flex: 1 1 9em; display: flex; gap: .5em; white-space: nowrap; }}
.blanks i {{ flex: 1; border-bottom: 1px solid var(--line); }}
.pair {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 20em), 1fr)); gap: 0 2em; }}
.scroll {{ overflow-x: auto; margin: .4em 0; }}
.scroll:focus-visible {{ outline: 2px solid var(--mark); outline-offset: 2px; }}
svg {{ display: block; width: 100%; min-width: 620px; height: auto;
  font: 13px Helvetica, Arial, sans-serif; }}
svg text {{ fill: var(--ink); }} svg .soft {{ fill: var(--soft); }} svg .strong {{ font-weight: bold; }}
svg .wing {{ fill: var(--head); stroke: var(--ink); stroke-width: 1.3; stroke-linejoin: round; }}
svg .root {{ stroke: var(--ink); stroke-width: 5; }}
svg .lead {{ stroke: var(--line); stroke-width: 1; stroke-dasharray: 4 3; }}
svg .arrow, svg .bar {{ fill: none; stroke: var(--soft); stroke-width: 1.3; }}
svg .weight {{ fill: var(--mark); }} svg .number {{ fill: var(--on-mark); font-weight: bold; }}
svg .gauge {{ fill: var(--ground); stroke: var(--ink); stroke-width: 2; }}
table {{ border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }}
th, td {{ border: 1px solid var(--line); padding: .3em .5em; text-align: center; white-space: nowrap; }}
thead th {{ background: var(--head); vertical-align: bottom; }}
small {{ display: block; font-size: .8em; font-weight: normal; color: var(--soft); }}
.badge {{ display: inline-block; min-width: 1.7em; line-height: 1.7em; border-radius: 1em;
  background: var(--mark); color: var(--on-mark); }}
td.write {{ min-width: 4.5em; height: 2.6em; }} td.none {{ color: var(--soft); }}
.readings td.write:last-child {{ min-width: 8em; width: 20%; }}
.mark {{ display: block; font-size: .8em; color: var(--warn); }}
tr.beyond > * {{ border-style: dashed; }}
.cautions {{ font-size: .9em; }}
@page {{ size: A4 portrait; margin: 10mm; }}
@media print {{
  :root {{ color-scheme: light; {_named(PAPER)} }}
  body {{ font-size: 9pt; line-height: 1.25; max-width: none; padding: 0; }}
  h2 {{ margin: .7em 0 .15em; break-after: avoid; }} h2.page {{ break-before: page; margin-top: 0; }}
  .pair {{ grid-template-columns: 1fr 1fr; gap: 0 6mm; }}
  .scroll {{ overflow: visible; }} table {{ width: calc(100% - 1px); }}
  svg {{ min-width: 0; max-height: 90mm; }}
  .badge {{ background: none; color: var(--ink); border: 1px solid var(--ink); }}
  svg .weight {{ fill: var(--ground); stroke: var(--ink); stroke-width: 1.3; }}
  svg .number {{ fill: var(--ink); }}
  svg .wing {{ fill: none; }}
  small.called {{ display: inline; margin-left: .4em; }}
  tr, li {{ break-inside: avoid; }} th, td {{ padding: .15em .4em; }} td.write {{ height: 7mm; }}
  td.write {{ min-width: 14mm; }} .readings td.write:last-child {{ min-width: 24mm; width: auto; }}
}}
"""
"""The style sheet."""
