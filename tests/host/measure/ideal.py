"""An ideal fixture for unit tests of the host: plain dividers with nominal values written down here by hand.

Every resistor is what its band says, every driver 30 ohm, every multiplexer channel 105 ohm (middles of their spans), the rail 5.000 V, the
converter exact.  The chip is a set of Thevenin outputs and 0.7 V junctions.  Nothing is taken
from the host's own model, and nothing from the virtual fixture.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import SimpleNamespace

from sagbench.wire.numbers import EventKind, PassStatus

V5 = 5.0
M, S = 560 + 30, 270 + 30
RON = 105
SELECTOR = {1: 8200 + 30 + RON, 2: 100_000 + 30 + RON, 3: 1000 + 30 + RON, 5: 220 + 30 + RON}
VOLTS = {0: 5.0, 1: 2.56, 2: 1.1}  # references
PEDESTAL, BASE = 5.0e-3, 8.32e-3  # amperes in the shunt
GAIN = 18.0  # volts an ampere
BITS = range(1, 25)


def on(mask: int) -> set[int]:
    """Positions of a mask."""
    return {p for p in BITS if mask >> (p - 1) & 1}


@dataclass
class IdealChip:
    """positions: pin -> position. gate(levels) -> {pin: "L", "H" or "Z"}. low, high: pin -> (volts, ohms)."""

    positions: Mapping[int, int]
    vcc: int
    gnd: int
    gate: Callable[[Mapping[int, bool]], Mapping[int, str]]
    icc: Callable[[Mapping[int, bool]], float] = lambda levels: 0.004
    low: Mapping[int, tuple[float, float]] = field(default_factory=dict)
    high: Mapping[int, tuple[float, float]] = field(default_factory=dict)
    open: frozenset[int] = frozenset()
    shorts: tuple[tuple[int, int], ...] = ()
    emitters: Mapping[int, float] = field(default_factory=dict)  # pin -> ohms to 4.2 V: IIL of a TTL input
    leaks: Mapping[int, float] = field(default_factory=dict)  # pin -> ohms to ground
    vil: float = 1.4


class IdealDevice:
    """Carries out passes on an ideal fixture; `log` keeps the steps."""

    def __init__(self, chip: IdealChip | None) -> None:
        self.chip, self.log = chip, []
        self.info = SimpleNamespace(
            wiring_id=None, serial=7, firmware="1.0", api_level=1, port="ideal", wiring="bench24"
        )
        self.lines: dict[int, list[tuple[float, float]]] = {}
        self.k, self.selector, self.ld = 0, 0, 0
        self.reference, self.level, self.powered, self.grounded, self.base = (0, 0, False, False, 0)
        self.halted = 0
        self.trouble: list[
            tuple[str, int, int, int]
        ] = []  # (step name, event kind, position, value), each happens once
        self.cleared = 0
        self.unverifiable: set[int] = set()  # positions that do not follow S
        self.events: list[SimpleNamespace] = []
        self.powered_rail = 0.0  # volts that the rail had for a moment while the chip was powered; 0: as ever
        self.icc_least: int | None = None  # likewise the amplifier's code against AVcc

    def state(self) -> SimpleNamespace:
        return SimpleNamespace(faults=0, uptime_ms=len(self.log))

    def clear_faults(self) -> SimpleNamespace:
        self.cleared += 1
        return self.state()

    def halt(self) -> SimpleNamespace:
        self.halted += 1
        self.powered = False
        return self.state()

    # ------------------------------------------------------------------ network
    def _same(self, position: int) -> set[int]:
        """The position and all that the chip's shorts tie to it."""
        group = {position}
        for a, b in self.chip.shorts if self.chip else ():
            pair = {self.chip.positions[a], self.chip.positions[b]}
            if pair & group:
                group |= pair
        return group

    def _pin(self, position: int) -> int:
        pins = (
            []
            if not self.chip
            else [n for n, p in self.chip.positions.items() if p == position and n not in self.chip.open]
        )
        return pins[0] if pins else 0

    def _sources(self, position: int) -> list[tuple[float, float]]:
        out = []
        for p in self._same(position):
            out += self.lines.get(p, [])
            pin = self._pin(p)
            if pin == (self.chip.gnd if self.chip else -1) and (self.powered or self.grounded):
                out.append((0.0, 0.5))
            elif self.powered and pin == self.chip.vcc:
                out.append((4.95, 0.5))
            elif self.powered and pin:
                state = self.chip.gate(self.levels()).get(pin, "Z")
                if state == "L":
                    out.append(self.chip.low.get(pin, (0.1, 7.5)))
                elif state == "H":
                    out.append(self.chip.high.get(pin, (3.6, 120.0)))
                if pin in self.chip.leaks:
                    out.append((0.0, self.chip.leaks[pin]))
                if pin in self.chip.emitters and any(v < 2 for v, _ in self.lines.get(p, [])):
                    out.append((4.2, self.chip.emitters[pin]))
        return out

    def levels(self) -> dict[int, bool]:
        """Input levels as the chip's own pins see them: driven lines only, floating reads high (TTL)."""
        seen = {}
        for pin, position in self.chip.positions.items():
            driven = [s for p in self._same(position) for s in self.lines.get(p, [])]
            seen[pin] = self._mix(driven)[0] > self.chip.vil if driven and pin not in self.chip.open else True
        return seen

    @staticmethod
    def _mix(sources: list[tuple[float, float]]) -> tuple[float, float]:
        """Thevenin equivalent; a floating node is at 0 V."""
        if not sources:
            return 0.0, 1e9
        g = sum(1 / r for _, r in sources)
        return sum(v / r for v, r in sources) / g, 1 / g

    def _k(self) -> float:
        if not self.k:
            return 0.0
        volts, ohm = self._mix(self._sources(self.k))
        pin = self._pin(self.k)
        raised = self._raised()
        if raised and pin and self.chip and not self.powered and raised not in self._same(self.k):
            volts, ohm = (V5 - 0.7, M + 0.0)  # from the raised ground through one junction
        if self.selector == 7:
            return volts * RON / (ohm + 2 * RON)
        if self.selector not in SELECTOR or not self.ld:
            return volts
        source = V5 if self.ld == 2 else 0.0
        amperes = (source - volts) / (SELECTOR[self.selector] + RON + ohm)
        return source - amperes * SELECTOR[self.selector]

    def _raised(self) -> int:
        """The chip's ground position, if M holds it high."""
        ground = self.chip.positions[self.chip.gnd] if self.chip and self.chip.gnd not in self.chip.open else 0
        return ground if ground and any(v > 4 for v, _ in self.lines.get(ground, [])) else 0

    def _code(self, volts: float) -> int:
        return max(0, min(1023, round(volts / VOLTS[self.reference] * 1024)))

    # ------------------------------------------------------------------ steps
    def run_pass(self, sequence: list) -> SimpleNamespace:
        """Each step in turn; see protocol/spec.toml."""
        readings: list[int] = []
        self.events = []
        for step in sequence:
            self.log.append(step)
            if self.trouble and self.trouble[0][0] == step.name:
                return self._ends(readings, self.trouble.pop(0))
            getattr(self, f"_do_{step.name}")(readings, **step.arguments)
        assert len(readings) == sum(step.readings for step in sequence)
        return SimpleNamespace(
            readings=tuple(readings),
            events=tuple(self.events),
            status=0,
            steps=len(sequence),
            conversions=0,
            elapsed_us=1000,
        )

    def _ends(self, readings, trouble) -> SimpleNamespace:
        """A safety rule ends the pass: no power, no lines, one event."""
        _, kind, position, value = trouble
        self.lines, self.powered, self.base = {}, False, 0
        event = SimpleNamespace(kind=EventKind(kind), position=position, value=value, reading=len(readings))
        status = PassStatus.BAD_STEP if kind == EventKind.BAD_STEP else PassStatus.FAULT
        return SimpleNamespace(
            readings=tuple(readings), events=(event,), status=status, steps=0, conversions=0, elapsed_us=100
        )

    def _do_end(self, out): ...
    def _do_settle(self, out, us): ...

    def _do_idle(self, out):
        self.lines, self.k = {}, 0

    def _do_drive(self, out, m_on, m_high, s_on, s_high):
        self.lines = {p: [] for p in BITS}
        for mask, high, ohm in ((m_on, m_high, M), (s_on, s_high, S)):
            for p in on(mask):
                self.lines[p].append((V5 if p in on(high) else 0.0, ohm))

    def _do_levels(self, out, high):
        self.lines = {
            p: [(V5 if p in on(high) else 0.0, ohm) for _, ohm in sources] for p, sources in self.lines.items()
        }

    def _do_pin(self, out, position, lines, high):
        self.lines[position] = [(V5 if high else 0.0, ohm) for bit, ohm in ((1, M), (2, S)) if lines & bit]

    def _do_sense(self, out, position, load, ld):
        self.k, self.selector, self.ld = position, load, ld

    def _do_reference(self, out, reference):
        self.reference = reference

    def _do_level(self, out, code):
        self.level = code

    def _do_read(self, out, source, repeats):
        volts = {0: self._k, 1: self._icc, 2: lambda: self.level * V5 / 1024, 3: lambda: 2.5}[source]()
        out.append(self._code(volts) * repeats)

    def _icc(self) -> float:
        chip = self.chip.icc(self.levels()) if self.powered else 0.0
        return GAIN * (PEDESTAL + self.base * BASE + chip)

    def _do_scan(self, out, mask, repeats):
        for p in sorted(on(mask)):
            self.k = p
            out.append(self._code(self._k()) * repeats)

    def _do_load(self, out, position, lines, load, high, also, repeats, settle_us):
        source = V5 if high else 0.0
        self.lines[position] = [(source, ohm) for bit, ohm in ((1, M), (2, S)) if lines & bit]
        self.k, self.selector, self.ld = position, load, 2 if high else 1
        out.append(self._code(self._k()) * repeats)
        if also:
            self.k, self.selector = also, 0
            out.append(self._code(self._k()) * repeats)
        self.lines[position], self.selector, self.ld = [], 0, 0

    def _do_load_scan(self, out, mask, high, lines, load, repeats, settle_us):
        for p in sorted(on(mask)):
            self._do_load(out, p, lines, load, p in on(high), 0, repeats, settle_us)

    def _do_power_on(self, out, supply, supply_2, ground, limit):
        self.base, self.powered = (1 + bool(supply_2), bool(ground) and self.chip is not None)
        kept, self.reference = self.reference, 0
        out.append(self._code(self._icc()) * 16)
        self.reference = kept

    def _do_power_off(self, out):
        self.lines, self.powered, self.base = {}, False, 0

    def _do_verify(self, out, position):
        self.lines[position] = []
        if position in self.unverifiable:
            event = SimpleNamespace(kind=EventKind.NOT_VERIFIED, position=position, value=300, reading=len(out))
            self.events.append(event)
        out += [300, 300] if position in self.unverifiable else [0, 1023]

    def _do_ramp(self, out, position, watch, first, last, step_us, repeats, settle_us):
        """No filter: the level is at its code at once."""
        self.lines[position] = self.lines[watch] = []
        seen = {p: n for n, p in self.chip.positions.items()} if self.chip else {}
        before = None
        for code in range(first, last + (1 if last >= first else -1), 1 if last >= first else -1):
            self.lines[position] = [(code * V5 / 1024, 680 + 2 * RON)]
            at_pin = self._mix(self._sources(position))[0]
            levels = {**self.levels(), seen.get(position): at_pin > self.chip.vil} if self.chip else {}
            level = self.chip.gate(levels).get(seen.get(watch)) if self.chip and self.powered else None
            before = before or level
            if level != before:
                self.k, self.selector = position, 0
                at_k = code * V5 / 1024 + (at_pin - code * V5 / 1024) * (680 + RON) / (680 + 2 * RON)
                out += [code, self._code(at_k) * repeats, self._code(code * V5 / 1024) * repeats]
                break
        else:
            out += [None, None, None]
        self.lines[position], self.k = [], 0

    def _do_supply_span(self, out):
        code = round(2.5 / self.powered_rail * 1024) if self.powered_rail else round(2.5 / VOLTS[0] * 1024)
        out += [code, code, None, None] if self.icc_least is None else [code, code, self.icc_least, 500]

    def _do_ground(self, out, position):
        self.grounded = bool(position)
