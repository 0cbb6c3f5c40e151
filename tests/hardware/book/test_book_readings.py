"""The book's tables of readings: ohms as ngspice (an outside program) finds them with the semiconductors in, volts as the virtual
fixture has them.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
import subprocess
from math import inf
from pathlib import Path

import pytest
from virtual_fixture.inproc import Fixture as VirtualFixture

from hardware.book import readings
from hardware.book.network import between
from hardware.wiring import Fixture, load
from sagbench.device import Device
from sagbench.wire import steps
from sagbench.wire.numbers import Reference, Source

WIRING = load()
TABLE = readings.ohms(WIRING)
METER_V = 0.4          # open-circuit voltage of a meter's ohm range; usual ones have 0.2 to 0.6 V, some up to 3 V (common practice)
MODELS = """
.model d1n4148 d(is=2.7n rs=0.6 n=1.84 bv=100)
.model led d(is=1e-18 n=2)
.model lm4040 d(is=1e-14 n=1 bv=2.5 ibv=100u)
.model npn npn(is=1e-14 bf=300 br=5)
.model pnp pnp(is=1e-14 bf=300 br=5)
"""                    # generic small-signal models with round figures: enough to say whether a junction takes part


def _netlist(fixture: Fixture, red: str, black: str, volts: float) -> str:
    """The board without chips, a meter of so many volts behind 1 kohm from black to red; capacitors have charged.

    Nets get a prefix: to ngspice "GND" is node 0, here that is the meter's black lead.
    """
    lines = ["board without chips"]
    for part in fixture["part"]:
        ref, on = part["ref"], {pin: f"n_{net}" for pin, net in part.get("pins", {}).items()}
        if part["kind"] == "resistor":
            lines.append(f"r{ref} {on['1']} {on['2']} {part['ohm']}")
        elif part["kind"] in ("pnp", "npn"):
            lines.append(f"q{ref} {on['C']} {on['B']} {on['E']} {part['kind']}")
        elif part["kind"] in ("diode", "led"):
            lines.append(f"d{ref} {on['A']} {on['K']} {'led' if part['kind'] == 'led' else 'd1n4148'}")
        elif part["kind"] == "lm4040":
            lines.append(f"d{ref} {on['A']} {on['K']} lm4040")
    lines += [f"vmeter open 0 {volts}", f"rmeter open n_{red} 1000", f"vblack n_{black} 0 0", MODELS, ".options rshunt=1e12", ".op",
              f".print op v(n_{red})", ".end"]
    return "\n".join(lines) + "\n"


def _spice(tmp_path: Path, red: str, black: str, volts: float = METER_V) -> float:
    """Ohms that such a meter shows by ngspice."""
    deck = tmp_path / "deck.cir"
    deck.write_text(_netlist(WIRING, red, black, volts))
    out = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False).stdout
    found = re.search(r"^Index\s+v\(.*\n-+\n0\s+(\S+)", out, re.MULTILINE)
    assert found, out
    across = float(found[1])
    return inf if across >= volts * (1 - 1e-6) else 1000 * across / (volts - across)


SINGLE = [(entry, pair) for entry, pairs in TABLE for pair in (pairs if "switch" in entry["why"] else pairs[:2])]


@pytest.mark.parametrize("index", range(len(SINGLE)), ids=[f"{p[0]}-{p[1]}" for _, p in SINGLE])
def test_ohms_are_what_ngspice_says_with_transistors_and_diodes_in(index: int, tmp_path: Path) -> None:
    """Lead colours are right: no junction takes part for a meter of 0.4 V; "over range" is above a megohm.

    Two per cent: at 0.4 V the base of Q302 takes that much beside R330, the others next to nothing.
    """
    _, (red, black, ohm) = SINGLE[index]
    seen = _spice(tmp_path, red, black)
    if ohm.nominal == inf:
        assert seen > 1e6
    else:
        assert seen == pytest.approx(ohm.nominal, rel=0.02)


@pytest.mark.parametrize(("red", "black"), [("VBUS", "P24"), ("N7", "GND"), ("Z24", "GND"), ("GND", "Z7"), ("V5", "VREF")])
def test_leads_the_other_way_round_would_show_junctions(red: str, black: str, tmp_path: Path) -> None:
    """Why the table says which lead goes where: with 1.5 V from the meter these are off by far."""
    nominal = between(WIRING, red, black).nominal
    seen = _spice(tmp_path, red, black, 1.5)
    assert seen < 0.8 * nominal


def test_right_way_round_even_a_meter_with_one_and_a_half_volts_is_right(tmp_path: Path) -> None:
    for red, black in (("P24", "VBUS"), ("GND", "N7"), ("VREF", "V5"), ("OE_N", "V5")):
        assert _spice(tmp_path, red, black, 1.5) == pytest.approx(between(WIRING, red, black).nominal, rel=0.01)


def test_network_by_hand() -> None:
    """V5 to GND: (1 + 1000) beside (10000 + 22000) ohm, by Ohm's law."""
    assert between(WIRING, "V5", "GND").nominal == pytest.approx(1 / (1 / 1001 + 1 / 32000))
    assert between(WIRING, "S3", "Z3").least == pytest.approx(267.3)
    assert between(WIRING, "Z3", "GND").nominal == inf


def test_spans_are_rounded_outwards() -> None:
    for _, pairs in TABLE:
        for _, _, ohm in pairs:
            if ohm.nominal < inf:
                low, high = (float(t.replace(" k", "e3")) for t in readings.span(ohm).split(" to "))
                assert low <= ohm.least * (1 + 1e-6)
                assert high >= ohm.most * (1 - 1e-6)
                assert high / low < 1.02 * ohm.most / ohm.least


def _read(device: Device, source: Source) -> float:
    done = device.run_pass([steps.reference(Reference.AVCC), steps.read(source, 64)])
    assert done.readings[0] is not None
    return done.readings[0] / 64 / 1024


@pytest.mark.parametrize("seed", range(1, 9))
def test_volts_hold_on_virtual_fixtures(seed: int) -> None:
    """Eight sound specimens, chips in, socket empty: rail, reference, current amplifier and level drive within the book's spans."""
    book = {(stage, one.red): one for stage, one in readings.volts(WIRING)}
    with VirtualFixture(seed) as board, Device(board.line) as device:
        board.run(0.3)
        rail = board.node("V5")
        seen = {("chips in", "5V"): rail, ("no chips", "A3"): rail * _read(device, Source.VREF),
                ("chips in", "A1"): rail * _read(device, Source.ICC), ("chips in", "A2"): rail * _read(device, Source.VDAC)}
    code = rail / 1024 * 2.5                       # the converter's own errors: 2 LSB absolute, and its rounding
    for key, volts in seen.items():
        assert book[key].least - code <= volts <= book[key].most + code, key
