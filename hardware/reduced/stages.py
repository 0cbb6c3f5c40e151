"""The order in which the reduced build is wired, and what is joined to what on the way.

    >>> from hardware.wiring import REDUCED, load
    >>> [stage.title for stage in stages(load(REDUCED))][:2]
    ['Rails', 'Registers']

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from pathlib import Path

from hardware.board.design import Component, components
from hardware.wiring import Fixture, WiringError

STAGES = Path(__file__).with_name("stages.toml")
RAILS = {"V5": "5 V rail", "GND": "ground rail"}


@dataclass(frozen=True)
class Wire:
    """One wire: from one end to another, both as a builder names them (`U1.13`, `A1.D22`)."""

    net: str
    here: str
    there: str


@dataclass
class Stage:
    """One evening's stretch: parts, wires in order, and what goes to a rail."""

    title: str
    say: str
    parts: list[Component] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    rails: dict[str, list[str]] = field(default_factory=dict)


def parts_of(fixture: Fixture) -> list[Component]:
    """What is soldered or plugged: every part but the headers, which a reduced build has not."""
    out = []
    for part in components(fixture):
        if part.kind == "zif_socket":
            pads = {str(k): part.pads[str(k)] for k in fixture.positions}
            part = replace(part, value=f"socket of {len(pads)} contacts", pads=pads)
        if part.kind != "header":
            out.append(part)
    return out


def end(part: Component, pad: str) -> str:
    """A pad as a builder names it: pin numbers of chips, letters of transistors and diodes, leads 1 and 2 of the rest."""
    return f"{part.ref}.{lead(part, pad)}"


def lead(part: Component, pad: str) -> str:
    """The letter of a transistor's, diode's or reference's lead; the number of any other."""
    letters = {"pnp": "CBE", "npn": "CBE", "diode": "KA", "led": "KA", "lm4040": "AKA"}.get(part.kind)
    return letters[int(pad) - 1] if letters else pad


def stages(fixture: Fixture) -> list[Stage]:
    """Stages with their parts and wires.  WiringError if a part is in no stage, or a stage names a role that no part has."""
    table = tomllib.loads(STAGES.read_text())["stage"]
    stage_of = {role: index for index, entry in enumerate(table) for role in entry["roles"]}
    out = [Stage(entry["title"], " ".join(entry["say"].split())) for entry in table]
    for part in parts_of(fixture):
        if part.role not in stage_of:
            raise WiringError(f"part {part.ref}: reduced/stages.toml has no stage for role {part.role!r}; add it to one")
        out[stage_of[part.role]].parts.append(part)
    if idle := stage_of.keys() - {part.role for stage in out for part in stage.parts}:
        raise WiringError(f"reduced/stages.toml: no part has the role {sorted(idle)[0]!r}; correct it")
    _wire(fixture, out)
    return out


def fed(fixture: Fixture) -> list[tuple[int, str, str]]:
    """(stage, rail's net, end) of the controller's pins that go straight to a rail: ground first, the strap, and 5 V last of all."""
    ref, strap = fixture["controller"]["ref"], fixture["controller"]["strap"]
    straps = [(-1, strap["to"], f"{ref}.{strap['pin']}")] if strap["to"] in RAILS else []
    return [(0, "GND", f"{ref}.GND"), *straps, (-1, "V5", f"{ref}.5V")]


def _wire(fixture: Fixture, out: list[Stage]) -> None:
    """Each net as a chain that grows with the stages; it starts at the controller if it comes from there."""
    last = {w["net"]: f"{fixture['controller']['ref']}.{pin}" for pin, w in fixture["controller"]["wires"].items() if w["net"]}
    for stage in out:
        for part in stage.parts:
            for pad, net in sorted(part.pads.items(), key=lambda item: int(item[0])):
                here = end(part, pad)
                if net in RAILS:
                    if here not in stage.rails.setdefault(net, []):      # both outer leads of U9 have one letter
                        stage.rails[net].append(here)
                elif net:
                    if net in last:
                        stage.wires.append(Wire(net, last[net], here))
                    last[net] = here
    for index, net, here in fed(fixture):
        out[index].rails.setdefault(net, []).append(here)
