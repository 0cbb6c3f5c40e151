"""Monostables: what triggers them, and pulses that depend on what the fixture ties to the pin.

Function tables and widths: the makers' data books, from memory unless chips/timing.toml says
otherwise.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import math
from typing import Any

import pytest

from virtual_fixture.chips import load
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.behaviour.monostables import Monostable
from virtual_fixture.chips.seating import position
from virtual_fixture.chips.verdict import examine

from .function_tables import Driver
from .hands import Hands

WEAK, TRICKLE = 1, 2             # load selector: 8k2 and 100 k to LD
NODE_F = 145e-12                 # wiring.toml: node K 120 pF and a position 25 pF


class Seat:
    """A monostable in the network: inputs on M lines, the resistor on K, all by hand."""

    def __init__(self, source: Any, load_channel: int, half: str = "1", seed: int = 1) -> None:
        self.chip = load(source, seed)
        part = self.chip.description.behaviour
        assert part is not None and issubclass(part, Monostable)
        self.part, self.half = part, half
        self.hands = Hands(self.chip, seed)
        idle = {n: "CLR" in n for n in part.input_names()}
        if part.number in ("9602", "4098", "4528", "4538"):
            idle |= {n: True for n in idle if n.endswith("A")}
        self.drive(**idle)
        self.hands.power(f"P{self.at('VCC')}", f"N{self.at('GND')}")
        self.hands.pump(20e-3)
        self.hands.high("LD")
        self.hands.sense(self.at(f"{half}RCX"), load_channel)
        self.hands.pump(2e-3)

    def at(self, name: str) -> int:
        return position(self.part.pin(name), len(self.part.pin_names()))

    def drive(self, **levels: bool) -> None:
        for name, level in levels.items():
            (self.hands.high if level else self.hands.low)(f"M{self.at(name)}")

    @property
    def fires(self) -> bool:
        return self.hands.bench.node(self.at(f"{self.half}Q")) > 1.5

    def wait(self, limit_s: float = 1e-3) -> float:
        """Seconds until Q is low; infinity if it stays high."""
        begin = self.hands.bench.now_s
        while self.fires:
            self.hands.bench.run(2e-8)
            if self.hands.bench.now_s - begin > 60e-6:
                self.hands.bench.run(limit_s)
                return math.inf if self.fires else self.hands.bench.now_s - begin
        return self.hands.bench.now_s - begin

    def true_s(self, ohm: float) -> float:
        assert self.chip.circuit is not None
        cell = next(c for c in self.chip.circuit.cells if c.pin == f"{self.half}RCX")
        return cell.width_s(ohm, NODE_F)


# Rows in order: levels, and whether a pulse begins (or goes on anew).  "-" ends it by clear.
ROWS = {
    "121": ["A1=1 A2=1 B=1", "A1=0 !", "A1=1", "A2=0 ", "B=0", "B=1"],
    "122": ["A1=1 A2=0 B1=1 B2=1 CLR/=0", "CLR/=1 !", "B2=0", "B2=1 !", "CLR/=0 -", "B1=0", "CLR/=1", "B1=1 !"],
    "123": ["1A=1 1B=1 1CLR/=1", "1A=0 !", "1B=0", "1B=1 !", "1CLR/=0 -", "1CLR/=1 !", "1A=1", "1A=0 !"],
    "221": ["1A=0 1B=0 1CLR/=1", "1B=1 !", "1B=0", "1B=1", "1CLR/=0 -", "1CLR/=1 !"],
    "423": ["1A=0 1B=1 1CLR/=0", "1CLR/=1", "1B=0", "1B=1 !", "1CLR/=0 -", "1CLR/=1"],
    "9602": ["1A=1 1B=0 1CLR/=1", "1B=1 !", "1B=0", "1A=0 !", "1B=1", "1B=0", "1CLR/=0 -", "1A=1", "1CLR/=1", "1A=0 !"],
}
CMOS_OR = ["1A=1 1B=0 1CLR/=0", "1CLR/=1", "1A=0 !", "1A=1", "1B=1 !", "1CLR/=0 -"]
ROWS |= dict.fromkeys(("4098", "4528", "4538"), CMOS_OR)


@pytest.mark.parametrize("number", ROWS)
def test_what_triggers(number: str) -> None:
    driver, runs = Driver(number), 0
    q = "Q" if "Q" in PARTS[number].pin_names() else "1Q"
    for row in ROWS[number]:
        levels = dict(word.split("=") for word in row.split() if "=" in word)
        got = driver.apply({n: int(v) for n, v in levels.items()})
        runs = 1 if row.endswith("!") else 0 if row.endswith("-") else runs
        assert (got[q], got[f"{q}/"]) == (runs, 1 - runs), row
        assert (driver.part.starts == {0}) == row.endswith("!"), row


@pytest.mark.parametrize("name", ["74123", "74LS123", "74HC123", "74LS423", "9602", "4538"])
def test_width_is_that_of_the_node_and_its_resistor(name: str) -> None:
    """The cell's own equations, solved on paper for a lone R and C, within 3 %: two ways to one figure."""
    for channel, ohm in ((WEAK, 8300.0), (TRICKLE, 100.1e3)):
        seat = Seat({"part": name}, channel)
        assert not seat.fires
        seat.drive(**{"1B": True})
        assert seat.wait() == pytest.approx(seat.true_s(ohm), rel=0.03, abs=3e-8)
        assert not seat.hands.bench.violations


def test_typical_widths_are_the_books() -> None:
    """Data books (memory): '123 3.03 us, LS123 4.5 us, 9602 3.42 us, '121 and '221 7 us at 10 k, 1000 pF."""
    for name, book in (("74123", 3.03e-6), ("74LS123", 4.5e-6), ("9602", 3.42e-6), ("74121", 7e-6), ("74221", 7e-6)):
        chip = load({"part": name, "spread": 0}, 1)
        assert chip.circuit is not None
        for cell in chip.circuit.cells:
            assert cell.width_s(10e3, 1e-9) == pytest.approx(book, rel=0.06), name


def test_without_a_capacitor_some_tens_of_nanoseconds() -> None:
    """'121 without C: 30 ns typical, 50 at most; 5 k and the book's 15 pF of test jig: LS123 116, '123 45, 9602 72 ns."""
    for name, ohm, farad, book in (("74121", 2e3, 0, 30e-9), ("74LS123", 5e3, 15e-12, 116e-9),
                                   ("74123", 5e3, 15e-12, 45e-9), ("9602", 5e3, 15e-12, 72e-9)):
        chip = load({"part": name, "spread": 0}, 1)
        assert chip.circuit is not None
        assert chip.circuit.cells[0].width_s(ohm, farad) == pytest.approx(book, rel=0.45), name


def test_a_coupled_cell_has_no_capacitor_in_the_fixture() -> None:
    """A '121's pulse does not care for capacitance to ground: it is over within 0.4 us even with 100 k and 145 pF."""
    seat = Seat({"part": "74121"}, TRICKLE, half="")
    assert 0.5 < seat.hands.bench.node(seat.at("RCX")) < 0.8      # a base that carries current
    seat.drive(B=True)
    assert seat.fires and seat.wait() < 0.4e-6


def test_a_coupled_cell_lasts_while_its_base_is_held_low() -> None:
    seat = Seat({"part": "74121"}, WEAK, half="")
    seat.hands.low("LD")
    seat.hands.bench.run(50e-6)
    seat.drive(B=True)
    seat.hands.bench.run(1e-3)
    assert seat.fires
    seat.hands.high("LD")
    assert seat.wait() < 5e-6


def test_a_second_trigger_prolongs_only_what_retriggers() -> None:
    for name, prolonged in (("74LS123", True), ("74HC221", False)):
        alone, twice = Seat({"part": name}, TRICKLE), Seat({"part": name}, TRICKLE)
        alone.drive(**{"1B": True})
        lasts = alone.wait()
        twice.drive(**{"1B": True})
        twice.hands.bench.run(lasts * 0.6)
        twice.drive(**{"1B": False})
        twice.drive(**{"1B": True})
        rest = twice.wait()
        assert (rest > 0.9 * lasts) == prolonged
        assert prolonged or rest == pytest.approx(0.4 * lasts, rel=0.15)


def test_clear_ends_a_pulse() -> None:
    seat = Seat({"part": "74LS123"}, TRICKLE)
    seat.drive(**{"1B": True})
    assert seat.fires
    seat.drive(**{"1CLR/": False})
    assert not seat.fires


def test_faults() -> None:
    def fault(kind: str, **more: float) -> dict[str, Any]:
        return {"part": "74LS123", "fault": [{"kind": kind, "pin": "1RCX", **more}]}

    sound = Seat({"part": "74LS123"}, TRICKLE)
    sound.drive(**{"1B": True})
    lasts = sound.wait()
    silent, endless = Seat(fault("silent"), TRICKLE), Seat(fault("endless"), TRICKLE)
    broken = Seat({"part": "74LS123", "fault": [{"kind": "open", "pin": "1RCX"}]}, TRICKLE)
    for seat in (silent, endless, broken):
        seat.drive(**{"1B": True})
    assert not silent.fires
    assert math.isinf(endless.wait(20e-3)) and math.isinf(broken.wait(20e-3))
    for factor in (0.5, 3.0):
        seat = Seat(fault("width", factor=factor), TRICKLE)
        seat.drive(**{"1B": True})
        assert seat.wait() == pytest.approx(factor * lasts, rel=0.2)


@pytest.mark.parametrize(("fault", "quantity"), [
    ({"kind": "silent"}, "tW least"), ({"kind": "endless"}, "tW"),
    ({"kind": "width", "factor": 0.5}, "tW least"), ({"kind": "width", "factor": 3.0}, "tW")])
def test_verdict_of_a_fault(fault: dict[str, Any], quantity: str) -> None:
    found = examine({"part": "74LS123", "fault": [fault | {"pin": "2RCX"}]}, 3)
    assert ("2RCX", quantity) in found.beyond
    assert all(pin.startswith("2") for pin, _ in found.beyond)


@pytest.mark.parametrize("name", ["74121", "74122", "74LS122", "74123", "74LS123", "74HC123", "74HCT123", "74221",
                                  "74LS221", "74HC221", "74LS423", "74HC423", "9602", "96L02", "96LS02"])
def test_sound_ones_are_within_the_book(name: str) -> None:
    for seed in range(6):
        assert examine({"part": name}, seed).violations == []
