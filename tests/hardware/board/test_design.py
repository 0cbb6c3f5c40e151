"""Pads, places and sizes against what others have published: the classic mistakes of a home-made board.

Sources: KiCad's symbol libraries (Debian: kicad-symbols 6.0), whose pin numbers were entered from makers' data sheets by
others; dimensions of the socket from its name in KiCad's footprint library.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import tomllib
from collections import Counter

import pytest

from hardware.board.design import FOOTPRINTS, components, nets, pad_list
from hardware.board.tools import placing
from hardware.schematic import library
from hardware.wiring import load

TABLE = tomllib.loads(FOOTPRINTS.read_text())
PARTS = components()

# Our terminal -> the name KiCad's symbol gives the pin.
NAMES = {
    "hc4051": (
        "74xx",
        "74HC4051",
        {**{f"Y{i}": f"A{i}" for i in range(8)}, "COM": "A", "INH": "~{E}", "A": "S0", "B": "S1", "C": "S2"},
    ),
    "hc595": ("74xx", "74HC595", {"QH2": "QH'", "SRCLR": "~{SRCLR}", "OE": "~{OE}"}),
    "npn": ("Transistor_BJT", "BC337", {}),
    "lm4040": ("Reference_Voltage", "LM4040LP-2.5", {}),
    "led": ("Device", "LED", {}),
    "diode": ("Diode", "1N4148", {}),
}


def pins(lib: str, name: str) -> dict[str, str]:
    """Pin number -> name of a symbol of KiCad's library."""
    return {p.number: p.name for p in library.pins(lib, name)}


@pytest.mark.parametrize("kind", NAMES)
def test_pads_are_the_pins_of_kicads_symbol(kind: str) -> None:
    """Every terminal is at the pin that KiCad's symbol names so; every pin of the symbol is used."""
    lib, name, renamed = NAMES[kind]
    theirs = pins(lib, name)
    ours = {pad_list(where)[0]: renamed.get(terminal, terminal) for terminal, where in TABLE[kind]["pads"].items()}
    assert ours == theirs


@pytest.mark.parametrize("name", ["BC327", "BC557"])
def test_pnp_lead_order(name: str) -> None:
    """BC327 and BC557: collector 1, base 2, emitter 3."""
    assert {v: k for k, v in TABLE["pnp"]["pads"].items()} == pins("Transistor_BJT", name)


def test_amplifiers_of_one_package() -> None:
    """Unit by unit: output, inverting and non-inverting input of the MCP6004; supplies. (Unit letters: data sheet DS21733.)"""
    symbol = library.pins("Amplifier_Operational", "MCP6004")
    role = {"+": "P", "-": "N", "~": "O", "V+": "VDD", "V-": "VSS"}
    theirs = {("ABCD"[p.unit - 1] if p.unit < 5 else "") + role[p.name]: p.number for p in symbol}
    assert TABLE["mcp6004"]["pads"] == theirs


def test_reference_works_either_way_round() -> None:
    """The LM4040's cathode is the middle lead; the outer two (anode, and one without connection) are on one net."""
    pads = next(p.pads for p in PARTS if p.kind == "lm4040")
    assert pads["2"] == "VREF" and pads["1"] == pads["3"] == "GND"


def test_every_terminal_has_a_pad_of_its_net() -> None:
    """What wiring.toml says of each pin is what the pad gets; counted over all parts."""
    fixture = load()
    for part in fixture["part"]:
        body = TABLE[part["kind"]] if part["kind"] != "zif_socket" else {"pads": {}}
        mine = next(p for p in PARTS if p.ref == part["ref"])
        for terminal, net in part.get("pins", {}).items():
            for pad in pad_list(body["pads"][terminal]):
                assert mine.pads[pad] == ("" if net == "NC" else net), (part["ref"], terminal)


def test_every_wire_of_the_controller_reaches_one_header_pad() -> None:
    """Each used board pin is one pad of X1..X7, and no net is on two."""
    wired = Counter(w["net"] for w in load()["controller"]["wires"].values() if w["net"])
    on_headers = Counter(net for p in PARTS if p.kind == "header" for net in p.pads.values() if net and net not in ("GND", "V5"))
    assert on_headers == wired
    assert max(wired.values()) == 1


def test_every_chip_has_its_capacitor() -> None:
    """One decoupling capacitor a chip, as the placer is told."""
    chips = {p.ref for p in PARTS if p.ref.startswith("U") and p.kind != "lm4040"}
    pairs = placing.companions(PARTS)
    assert {u for _, u in pairs if u.startswith("U")} == chips
    assert all(ref in {p.ref for p in PARTS} for pair in pairs for ref in pair)


def test_no_net_ends_nowhere() -> None:
    """Every net joins at least two pads, but for the serial lines, which the controller board has itself."""
    assert {net for net, ends in nets(PARTS).items() if len(ends) < 2} == {"RXD", "TXD"}
