"""Work the fixture's lines by net name, without a controller: for tests of the network alone.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import Any

from hardware.wiring import load
from virtual_fixture.bench import Bench
from virtual_fixture.specimen import pin_number

WIRING = load()
PIN_OF = {wire["net"]: wire["port"] for wire in WIRING["controller"]["wires"].values() if wire["net"]}
REGISTERS = {p["chain"] - 1: p["outputs"] for p in WIRING["part"] if p["kind"] == "hc595"}
P_OFF = {n for n, name in enumerate(REGISTERS[2]) if name.startswith("P")}


class Hands:
    """Port registers and register chain of a bench of variant "none"."""

    def __init__(self, chip: Any = None, seed: int = 1, **options: Any) -> None:
        options.setdefault("nominal", True)
        self.bench = Bench(chip, seed, "none", **options)
        self.ddr = dict.fromkeys("ABCDEFGHJKL", 0)
        self.out = dict.fromkeys("ABCDEFGHJKL", 0)
        self.pump_level = False
        self.chain = [0, 0, 0]
        for net in ("INH_A", "INH_B", "INH_C"):
            self.high(net)
        self.low("LATCH", "SER_OUT", "SER_CLK", "PUMP", "PWM")
        self.power()

    def _write(self, net: str, drive: bool | None, level: bool | None) -> None:
        port = PIN_OF[net]
        letter, mask = port[1], 1 << int(port[2])
        for register, value in ((self.ddr, drive), (self.out, level)):
            if value is not None:
                register[letter] = register[letter] | mask if value else register[letter] & ~mask
        self.bench.port(letter, self.ddr[letter], self.out[letter])

    def high(self, *nets: str) -> None:
        for net in nets:
            self._write(net, True, True)

    def low(self, *nets: str) -> None:
        for net in nets:
            self._write(net, True, False)

    def off(self, *nets: str) -> None:
        for net in nets:
            self._write(net, False, False)

    def pull_up(self, net: str) -> None:
        self._write(net, False, True)

    def shift_out(self) -> list[int]:
        """Send the three bytes, last register first, and latch; returns what fell out."""
        back = [self.bench.shift(self.chain[r]) for r in (2, 1, 0)]
        self.high("LATCH")
        self.low("LATCH")
        return back

    def power(self, *switches: str) -> None:
        """These switches ("P24", "N7") on, all others off."""
        self.chain[1] = sum(1 << n for n, name in enumerate(REGISTERS[1]) if name in switches)
        self.chain[2] = sum(1 << n for n in P_OFF if REGISTERS[2][n] not in switches)
        self.shift_out()

    def sense(self, position: int, load: int = 0) -> None:
        """Tie node K to a position (0: to none) and the load selector to a channel."""
        for net in ("INH_A", "INH_B", "INH_C"):
            self.high(net)
        self.chain[0] = ((position - 1) & 7 if position else 0) | load << 3
        self.shift_out()
        if position:
            self.low(f"INH_{'ABC'[(position - 1) // 8]}")

    def pump(self, seconds: float, half_s: float = 250e-6) -> None:
        """Toggle PUMP for so long."""
        end = self.bench.now_s + seconds
        while self.bench.now_s < end:
            self.pump_level = not self.pump_level
            (self.high if self.pump_level else self.low)("PUMP")
            self.bench.run(half_s)

    def volts(self, position: int | str) -> float:
        return self.bench.node(position)

    def read(self, net: str = "K", reference: int = 1, n: int = 1) -> list[int]:
        channel = int(PIN_OF[net][2])
        codes = []
        for _ in range(n):
            self.bench.run(104e-6)
            codes.append(self.bench.convert(channel, reference))
        return codes

    def pin(self, net: str) -> bool:
        """Level at a controller pin a microsecond from now."""
        self.bench.run(1e-6)
        port = PIN_OF[net]
        return bool(self.bench.pins(port[1]) >> int(port[2]) & 1)

    def amps(self, net: str) -> float:
        return self.bench.pin_a(PIN_OF[net])


def driver(bench: Bench, net: str, way: str) -> float:
    """Drawn output resistance of a line."""
    assert pin_number(PIN_OF[net]) >= 0
    return bench.drawn[f"{PIN_OF[net]}.driver_{way}_ohm"]
