"""WIRING.md of the reduced build: parts and wires, stage by stage.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from collections.abc import Iterator

from hardware.board.design import Component
from hardware.parts_list import ranges
from hardware.reduced.stages import RAILS, Stage, Wire, stages
from hardware.wiring import Fixture

HEAD = """# Wiring list of {name}, in the order of soldering

Written by `python -m hardware.reduced.build` from [wiring.toml](wiring.toml) and [stages.toml](stages.toml). **Nobody has built it yet.**
How to go about it: [README.md](README.md). Drawings: [chips](chips.svg), [socket](socket.svg), [other parts](others.svg).

`U1.13` is pin 13 of U1, counted from the notch as in its data sheet. `Q207.B` is a base, `D301.K` a cathode, `R311.1` one end of a
resistor (either). `A1.D22` is pin D22 of the controller board. A wire goes from its first end to its second; wires of one net make a
chain, so each end but the last holds two. Pins that are not named stay free. Tick off: {wires} wires, {to_rails} connections to the rails, {parts} parts.
"""


def _value(part: Component) -> str:
    return f"{part.value} {part.tolerance}".strip()


def _parts(stage: Stage) -> Iterator[str]:
    groups: dict[str, list[str]] = {}
    for part in stage.parts:
        groups.setdefault(_value(part), []).append(part.ref)
    yield "Parts: " + "; ".join(f"{value}: {ranges(refs)}" for value, refs in groups.items()) + "."


def _bundles(wires: list[Wire]) -> Iterator[tuple[str, list[str]]]:
    """Net -> its ends in this stage, wires that go on from one another drawn together."""
    chains: dict[str, list[str]] = {}
    for wire in wires:
        chains.setdefault(wire.net, [wire.here]).append(wire.there)
    yield from chains.items()


def text(fixture: Fixture) -> str:
    """The page."""
    made = stages(fixture)
    out = [HEAD.format(name=fixture["fixture"]["name"], wires=sum(len(s.wires) for s in made),
                       to_rails=sum(len(ends) for s in made for ends in s.rails.values()), parts=sum(len(s.parts) for s in made))]
    for number, stage in enumerate(made, 1):
        out += [f"\n## {number}. {stage.title}\n", f"{stage.say}\n", *_parts(stage), ""]
        for net, ends in stage.rails.items():
            out.append(f"- [ ] to the {RAILS[net]}: {', '.join(ends)}")
        out += [f"- [ ] {net}: {' - '.join(ends)}" for net, ends in _bundles(stage.wires)]
    return "\n".join(out) + "\n"
