# SPDX-License-Identifier: MIT
"""What a part's logic test is and finds, in sentences: for `parts show` and `parts check`."""
from __future__ import annotations

from typing import TYPE_CHECKING

from sagbench.parts.definition import Definition

if TYPE_CHECKING:
    from sagbench.vectors.report import Report


def lines(definition: Definition, test: Report) -> list[str]:
    """One entry a figure.  Of a part of which only the state at rest is tried: what that leaves out, not a list of every fault."""
    said = test.lines()
    if not definition.static:
        return said
    return [said[0], *(line for line in said[1:] if not line.startswith(("missed: ", "stuck inside"))),
            "missed: all that shows only in a pulse, the inputs that trigger it among them; their input currents are measured"
            + (", the pulse is timed by itself" if any(b.pulses for b in definition.blocks) else ", what they do is not tried")]
