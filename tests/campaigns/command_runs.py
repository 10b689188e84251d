"""What every run of the command line inside a campaign is held to."""

from __future__ import annotations

import re
from collections.abc import Sequence

from command_line import Ran

STATUSES = (0, 1, 2, 3)
"""Those that README.md documents for input of whatever kind."""

REMEDY = re.compile(
    r"allowed|expected|is needed|are needed|must|export|check |copy|try |give |choose|save|reduce|leave|put "
    r"|did you mean|use |measure|convert|remove|move ",
    re.IGNORECASE,
)
"""What a message says when it says what to do, or what may stand there."""

LONGEST_MESSAGE = 40_000
"""Of a refusal that lists a hundred problems; more is not read [characters]."""


def faults_of(ran: Ran, *, names: Sequence[str], as_json: bool) -> list[str]:
    """Return what is wrong with a run: its status, its streams, its message."""
    found = []
    both = ran.out + ran.err
    if ran.status not in STATUSES:
        found.append(f"ended with {ran.status}: {ran.message:.200}")
    if "Traceback" in both or "fault of wingpath" in both:
        found.append("showed a traceback")
    stray = {sign for sign in both if not (sign.isprintable() or sign in "\n\u00a0")}
    if stray:
        found.append(f"showed control characters {sorted(stray)!r:.80}")
    if ran.status in (2, 3):
        if ran.out:
            found.append("refused, yet printed a result")
        if not any(name in ran.message for name in names):
            found.append(f"the message names no file: {ran.message:.200}")
        if not REMEDY.search(ran.message):
            found.append(f"the message does not say what to do: {ran.message:.300}")
        if len(ran.message) > LONGEST_MESSAGE:
            found.append(f"the message has {len(ran.message)} characters")
    elif ran.status in (0, 1):
        if as_json:
            try:
                errors = ran.document["counts"]["error"]
            except (ValueError, KeyError) as error:
                found.append(f"the document is broken: {error}")
            else:
                if bool(errors) != bool(ran.status):
                    found.append(f"{errors} errors, but status {ran.status}")
        elif not ran.out.strip():
            found.append("said nothing")
    return found
