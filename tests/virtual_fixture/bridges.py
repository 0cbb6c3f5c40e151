"""Joined nets in a specimen, and the refusal of defects that nothing has taken.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from hardware.wiring import Fixture

from .defects import DefectError, Defects
from .layout import Specimen, enumeration

NETS = enumeration("pin_net")
LINES = (NETS["NET_STRONG"], NETS["NET_MEDIUM"], NETS["NET_LD"])
NODES = {f"Z{k}": k - 1 for k in range(1, 25)} | {"K": 24, "VBUS": 25, "V5": 26, "VREF": 27}


def _end(out: Specimen, fixture: Fixture, pin_of: dict[str, int], name: str, bridge: str) -> int:
    """The number of a bridge's end in the network (specimen.h: enum of ends)."""
    net = fixture["controller"]["wires"].get(name, {"net": name})["net"] or name
    pins = len(out.pin_net)
    if net in NODES:
        return pins + NODES[net]
    if net == "GND":
        return 2 * pins
    pin = pin_of.get(net, -1)
    if pin >= 0 and out.pin_net[pin] in LINES:
        return pin
    raise DefectError(f"defect {bridge}: {name} cannot be bridged here; the S, M and LD lines can (by board pin or net), "
                      "and Z1..Z24, K, VREF, VBUS, V5, GND")


def add_bridges(out: Specimen, fixture: Fixture, pin_of: dict[str, int], defects: Defects) -> None:
    """Join nets; DefectError where that cannot be."""
    for n, (a, b, ohm) in enumerate(defects.bridges()):
        ends = [_end(out, fixture, pin_of, name, f"{a}+{b}") for name in (a, b)]
        if ends[0] == ends[1]:
            raise DefectError(f"defect {a}+{b}: both are the same net")
        for end in ends:
            if end < len(out.pin_net):
                if out.pin_bridge[end]:
                    raise DefectError(f"defect {a}+{b}: one bridge a line, and one of these has one already")
                out.pin_bridge[end] = n + 1
        out.bridge_a[n], out.bridge_b[n] = ends
        out.bridge_ohm[n] = ohm
        out.bridges = n + 1


def refuse_left(defects: Defects, fixture: Fixture) -> None:
    """DefectError for a defect that no part has taken."""
    for name in defects.left:
        known = any(part["ref"] == name.partition(".")[0] for part in fixture["part"])
        why = "is a part that the virtual fixture cannot break so" if known else "is nothing of this fixture"
        raise DefectError(f"defect {name}={defects.value[name]}: {name} {why}; tests/virtual_fixture/README.md lists what can")
