"""Which inputs have hysteresis: what tells a Schmitt-trigger gate from the plain one that does the same.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sagbench.identify.candidates import Candidate
from sagbench.record import SweepRecord

SCHMITT_V = 0.3  # plain inputs have a tenth of it, Schmitt inputs 0.4 V and more (data books, from memory)


def hysteresis(record: SweepRecord) -> dict[int, float]:
    """Volts between both thresholds of each input (pin) of which both were measured."""
    out = {}
    for pin in record.pins:
        volts = {m.name: m.value.value for m in pin.measured if m.value is not None and m.name in ("VT+", "VT-")}
        if len(volts) == 2:
            out[pin.pin] = volts["VT+"] - volts["VT-"]
    return out


def schmitt_pins(member: Candidate) -> frozenset[int]:
    """Pins of a candidate that its part file calls Schmitt inputs."""
    return frozenset(member.number[name] for block in member.definition.blocks for name in block.schmitt)


def to_be_asked(members: Sequence[Candidate]) -> list[Candidate]:
    """Members with the most Schmitt inputs: swept as one of these, every input on which they differ shows both thresholds.

    None at all if they do not differ.
    """
    pins = [schmitt_pins(m) for m in members]
    most = max(map(len, pins))
    return [m for m, own in zip(members, pins, strict=True) if len(own) == most] if len(set(pins)) > 1 else []


def agreeing(members: Sequence[Candidate], volts: Mapping[int, float]) -> list[Candidate]:
    """Members whose Schmitt inputs are those that have hysteresis, or come nearest to that; all, if nothing was measured."""

    def against(member: Candidate) -> int:
        own = schmitt_pins(member)
        return sum((pin in own) is not (width > SCHMITT_V) for pin, width in volts.items())

    least = min(map(against, members))
    return [m for m in members if against(m) == least]
