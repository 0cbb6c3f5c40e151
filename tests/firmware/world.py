"""The firmware's core on the PC, with a small world of dividers around it.

The world knows each socket position as a Thevenin source (the chip), the drive
resistors, the switches and the loads, one position at a time: enough to test
rules, not accuracy.  It is told by `port_pc.h`'s callbacks and asked by them.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ctypes as c
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hardware import wiring

ROOT = Path(__file__).resolve().parents[2]
BUILD = ROOT / "build/firmware"
LIBRARIES = Path(os.environ.get("SAGBENCH_FIRMWARE_LIBRARIES", BUILD))
PORTS = "ABCDEFGHJKL"
FIXTURE = wiring.load()

WRITE = c.CFUNCTYPE(None, c.c_void_p, c.c_uint8, c.c_uint8, c.c_uint8)
READ = c.CFUNCTYPE(c.c_uint8, c.c_void_p, c.c_uint8, c.c_uint8, c.c_uint8)
SHIFT = c.CFUNCTYPE(None, c.c_void_p, c.POINTER(c.c_uint8), c.POINTER(c.c_uint8))
LATCH = c.CFUNCTYPE(None, c.c_void_p)
SAMPLE = c.CFUNCTYPE(c.c_uint16, c.c_void_p, c.c_uint8, c.c_uint8)
PWM = c.CFUNCTYPE(None, c.c_void_p, c.c_uint16)
ADVANCE = c.CFUNCTYPE(None, c.c_void_p, c.c_uint64)
TX = c.CFUNCTYPE(None, c.c_void_p, c.c_uint8)


class Callbacks(c.Structure):
    """struct port_pc_world."""

    _fields_ = [("context", c.c_void_p), ("port_write", WRITE), ("pin_read", READ), ("shift", SHIFT),
                ("latch", LATCH), ("sample", SAMPLE), ("pwm", PWM), ("advance", ADVANCE), ("tx", TX)]


def library() -> c.CDLL:
    """The PC port; `make -C firmware pc` builds it."""
    lib = c.CDLL(str(LIBRARIES / "libsagbench_pc.so"))
    lib.port_pc_now_ns.restype = c.c_uint64
    lib.port_pc_watchdog_gap_ns.restype = c.c_uint64
    lib.port_pc_poll.restype = c.c_bool
    lib.port_pc_rx.argtypes = [c.c_char_p, c.c_uint32]
    lib.port_pc_set_serial.argtypes = [c.c_uint32]
    return lib


def _line(net: str) -> tuple[int, int]:
    """(port index, bit) of the controller pin on a net."""
    for wire in FIXTURE["controller"]["wires"].values():
        if wire["net"] == net:
            return PORTS.index(wire["port"][1]), int(wire["port"][2])
    raise KeyError(net)


S = {k: _line(f"S{k}") for k in range(1, 25)}
M = {k: _line(f"M{k}") for k in range(1, 25)}
LD, PUMP, OE_N, LAMP, BUTTON = _line("LD"), _line("PUMP"), _line("OE_N"), _line("LAMP"), _line("BUTTON")
INHIBIT = [_line(f"INH_{x}") for x in "ABC"]
OUTPUTS = {name: (chip, bit) for chip, ref in enumerate(("U5", "U6", "U7"))
           for bit, name in enumerate(FIXTURE.part(ref)["outputs"]) if name != "NC"}
LOAD_OHM = {1: 8200, 2: 100000, 3: 1000, 5: 220}
LEVEL = FIXTURE.part("U4")["channels"].index("L_LEVEL")
GROUND_CHANNEL = FIXTURE.part("U4")["channels"].index("GND")
DRIVER = 27.0


@dataclass
class World:
    """Everything outside the controller.  `chip[k] = (volts, ohms)` is what position k's pin is when powered,
    `unpowered[k]` when not (default: nothing there)."""

    lib: c.CDLL = field(default_factory=library)
    chip: dict[int, tuple[float, float]] = field(default_factory=dict)
    unpowered: dict[int, tuple[float, float]] = field(default_factory=dict)
    inverters: dict[int, tuple[int, float]] = field(default_factory=dict)    # output: (input, its threshold in volts)
    rail: float = 5.0                         # what the converter's avcc is
    icc_code: int = 200                       # while a supply switch is on
    ddr: list[int] = field(default_factory=lambda: [0] * 11)
    out: list[int] = field(default_factory=lambda: [0] * 11)
    chain: list[int] = field(default_factory=lambda: [0, 0, 0])        # U5 U6 U7, shifted
    latched: list[int] = field(default_factory=lambda: [0, 0, 0])
    chain_broken: bool = False
    tripped: bool = False                     # the comparator holds the dead-man discharged
    oe_stuck: int | None = None               # OE_N forced to this level
    pumped_at: int = -10**18
    sent: bytearray = field(default_factory=bytearray)
    samples: list[tuple[int, int, int, int]] = field(default_factory=list)   # ns, channel, refs, position
    writes: list[tuple[int, int, int, int]] = field(default_factory=list)    # ns, port, ddr, out
    pwm: int = 0
    levels: list[tuple[int, int]] = field(default_factory=list)              # ns, duty of the level drive
    button: bool = False
    at_latch: Callable[[], object] = lambda: None
    hurt: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._calls = Callbacks(None, WRITE(self._write), READ(self._read), SHIFT(self._shift), LATCH(self._latch),
                                SAMPLE(self._sample), PWM(self._pwm), ADVANCE(lambda _c, _n: None), TX(self._tx))

    # ------------------------------------------------------------- driving it
    def reset(self, cause: int = 1) -> None:
        """Reset the controller."""
        self.lib.port_pc_reset(c.byref(self._calls), cause)

    @property
    def now_us(self) -> float:
        """Virtual time."""
        return float(self.lib.port_pc_now_ns()) / 1000

    def put(self, data: bytes) -> None:
        """Bytes from the host."""
        self.lib.port_pc_rx(data, len(data))

    def run(self, us: float) -> None:
        """Turns of the main loop for so long."""
        end = self.now_us + us
        while self.now_us < end:
            self.lib.port_pc_poll()

    # -------------------------------------------------------------- looking at it
    def drives(self, line: tuple[int, int]) -> int | None:
        """Level of a controller pin, or None if it does not drive."""
        port, bit = line
        return (self.out[port] >> bit) & 1 if (self.ddr[port] >> bit) & 1 else None

    def lines(self) -> dict[str, int]:
        """The S and M lines that drive, with their levels."""
        both = {f"S{k}": S[k] for k in S} | {f"M{k}": M[k] for k in M}
        return {name: level for name, at in both.items() if (level := self.drives(at)) is not None}

    def output(self, name: str) -> int:
        """A latched register output."""
        chip, bit = OUTPUTS[name]
        return (self.latched[chip] >> bit) & 1

    @property
    def enabled(self) -> bool:
        """OE_N is low."""
        if self.oe_stuck is not None:
            return not self.oe_stuck
        return not self.tripped and self.lib.port_pc_now_ns() - self.pumped_at < 37_000_000

    def switches(self) -> set[str]:
        """Power switches that conduct."""
        return self.would_switch() if self.enabled else set()

    def would_switch(self) -> set[str]:
        """Power switches that conduct as soon as OE_N is low."""
        return {n for n in OUTPUTS if n[0] == "P" and n[1:].isdigit() and not self.output(n)} | {
            n for n in OUTPUTS if n[0] == "N" and n[1:].isdigit() and self.output(n)}

    def trip(self, slice_us: int, limit_us: int = 1500) -> None:
        """The comparator discharges the dead-man until the firmware has opened all switches.  Fails if that takes too long."""
        self.tripped = True
        at = self.now_us
        while self.would_switch():
            self.run(slice_us)
            assert self.now_us - at < limit_us
        self.tripped = False

    @property
    def powered(self) -> bool:
        """A supply switch conducts."""
        return any(n[0] == "P" for n in self.switches())

    def tied(self) -> int:
        """The position that K is tied to, or 0; records two at once."""
        on = [i for i, at in enumerate(INHIBIT) if self.drives(at) == 0]
        if len(on) > 1:
            self.hurt.append("two multiplexers on")
        return on[0] * 8 + sum(self.output(f"SENSE_{x}") << i for i, x in enumerate("ABC")) + 1 if on else 0

    def load(self) -> int:
        """Channel of the load selector."""
        return sum(self.output(f"LOAD_{x}") << i for i, x in enumerate("ABC"))

    def volts(self, k: int) -> float:
        """Voltage of a position: all that pulls at it."""
        sources: list[tuple[float, float]] = []
        for ohm, at in ((270 + DRIVER, S[k]), (560 + DRIVER, M[k])):
            if (level := self.drives(at)) is not None:
                sources.append((5.0 * level, ohm))
        switches = self.switches()
        if f"P{k}" in switches:
            sources.append((5.0, 3.0))
        if f"N{k}" in switches:
            sources.append((0.0, 3.0))
        chip = self.chip if self.powered else self.unpowered
        if self.powered and k in self.inverters:
            of, threshold = self.inverters[k]
            sources.append((0.2, 15.0) if self.volts(of) > threshold else (3.6, 100.0))
        if k in chip:
            sources.append(chip[k])
        if self.tied() == k and self.load() in LOAD_OHM and (ld := self.drives(LD)) is not None:
            sources.append((5.0 * ld, LOAD_OHM[self.load()] + 70 + DRIVER))
        if self.tied() == k and self.load() == LEVEL:
            sources.append((self.pwm * 5 / 1024, 680 + 70))
        if not sources:
            return 0.0
        return sum(v / r for v, r in sources) / sum(1 / r for _, r in sources)

    # ---------------------------------------------------------------- callbacks
    def _write(self, _c: Any, port: int, ddr: int, out: int) -> None:
        was = self.drives(PUMP)
        self.ddr[port], self.out[port] = ddr, out
        now = int(self.lib.port_pc_now_ns())
        self.writes.append((now, port, ddr, out))
        if was is not None and self.drives(PUMP) not in (None, was):
            self.pumped_at = now

    def _read(self, _c: Any, port: int, ddr: int, out: int) -> int:
        pins = out
        for k, (p, bit) in M.items():
            if p == port and not (ddr >> bit) & 1:
                high = self.volts(k) > 2.5
                pins = pins | 1 << bit if high else pins & ~(1 << bit)
        if port == BUTTON[0] and self.button:
            pins = pins & ~(1 << BUTTON[1])
        if port == OE_N[0]:
            pins = pins & ~(1 << OE_N[1]) if self.enabled else pins | 1 << OE_N[1]
        return pins & 0xFF

    def _shift(self, _c: Any, data: Any, back: Any) -> None:
        fell = [self.chain[2], self.chain[1], self.chain[0]]
        self.chain = [data[2], data[1], data[0]]
        for i in range(3):
            back[i] = 0xFF if self.chain_broken else fell[i]

    def _latch(self, _c: Any) -> None:
        self.latched = list(self.chain)
        self.at_latch()

    def _sample(self, _c: Any, channel: int, refs: int) -> int:
        k = self.tied()
        self.samples.append((int(self.lib.port_pc_now_ns()), channel, refs, k))
        if channel == 1:
            return self.icc_code if self.powered else 0
        volts = {0: self.volts(k) if k else 0.0, 2: self.pwm * 5 / 1024, 3: 2.5}[channel]
        return min(1023, int(volts / {1: self.rail, 3: 2.56, 2: 1.1}[refs] * 1024))

    def _pwm(self, _c: Any, duty: int) -> None:
        self.pwm = duty
        self.levels.append((int(self.lib.port_pc_now_ns()), duty))

    def _tx(self, _c: Any, byte: int) -> None:
        self.sent.append(byte)
