"""A virtual chip: the C handle, the logic behind it, and the truth about it.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
import marshal
import random
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from . import native
from .behaviour import OFF, Part
from .circuit import HIGH, LOW, OFF_STATE, Circuit
from .description import Description, read

INPUT, POWER_UP, TIMER = 0, 1, 2    # enum reason; TIMER + k: the pulse of timer k has ended
START_BIT, STOP_BIT = 25, 57        # engine.h
PASSING = frozenset({"rng", "now", "before", "starts", "stops", "closed", "silent"})     # of a part: no registers
STATES = 4096                       # as many are told apart; a part with more is asked each time
PLAIN = 2                           # marshal: equal registers, equal bytes
STATE_WORDS = ("low", "high", "off", "unpowered")
STATE_OF = {"low": LOW, "high": HIGH, "off": OFF_STATE}


Answer = tuple[int, bytes]
ANSWERS = 20_000                    # of one kind of part, kept for all chips of that kind


@cache
def answers(kind: type[Part], silent: frozenset[int]) -> dict[tuple[bytes, int, int], Answer]:
    """What parts of this kind said: by registers, levels before and levels now; with the registers after."""
    return {}


class Logic:
    """Between C's bit masks (bit = chip pin) and a part's levels by name.

    C recalls answers that were given before (logic.c), so the part is not asked for each of them: `place` says where C has
    got to meanwhile, and the part is put there before it is asked again.
    """

    def __init__(self, part: Part) -> None:
        self.part = part
        self.names = ["", *part.pin_names()]
        self.inputs = {part.pin(n): n for n in part.input_names()}
        self.bits = {n.removeprefix("<>"): part.pin(n.removeprefix("<>"))
                     for n in part.output_names()}
        self.mask = self.state = 0
        self.error: BaseException | None = None
        self.asked = 0
        self.place: native.Place | None = None
        self._states: list[bytes] = [b""]                # by number, registers as bytes
        self._numbers: dict[bytes, int] = {}
        self._known: dict[tuple[bytes, int, int], Answer] = {}

    @property
    def calls(self) -> int:
        """How often an answer was wanted."""
        return int(self.place.asked) if self.place is not None else self.asked

    def __call__(self, levels: int, reason: int, now_s: float) -> int:
        """The callback.  An exception cannot cross C: kept in `error`, outputs off."""
        try:
            self.asked += 1
            return self._react(levels, reason) if self.place is None else self._placed(levels, reason, self.place)
        except Exception as problem:
            self.error = problem
            if self.place is not None:
                self.place.state = 0
            return 0xFFFFFFFF << 32

    def _placed(self, levels: int, reason: int, place: native.Place) -> int:
        """From where C is: what a part of this kind has said there, or what this one says."""
        key = None
        if place.state and reason == INPUT:
            key = self._states[place.state], place.levels, levels
            known = self._known.get(key)
            number = self._number(known[1]) if known is not None else 0
            if known is not None and number:
                place.state, place.levels = number, levels
                return known[0]
        self._go(place)
        out = self._react(levels, reason)
        registers = self._registers()
        place.levels = self.mask
        place.state = self.state = self._number(registers)
        if key and place.state and len(self._known) < ANSWERS:
            self._known[key] = out, registers
        return out

    def _go(self, place: native.Place) -> None:
        """Put the part where C is."""
        if not place.state or (place.state, place.levels) == (self.state, self.mask):
            return
        vars(self.part).update(marshal.loads(self._states[place.state]))
        self.mask = place.levels
        self.part.now = {n: self.mask >> p & 1 for p, n in self.inputs.items()}

    def _registers(self) -> bytes:
        """What the part holds; empty if it holds more than plain values."""
        try:
            return marshal.dumps({k: v for k, v in vars(self.part).items() if k not in PASSING}, PLAIN)
        except ValueError:
            return b""

    def _number(self, registers: bytes) -> int:
        """Of these registers; 0 if there are too many, or none to tell."""
        number = self._numbers.get(registers, 0)
        if registers and not number and len(self._states) < STATES:
            number = self._numbers[registers] = len(self._states)
            self._states.append(registers)
        return number

    def start(self, place: native.Place) -> None:
        """The part is complete; from now on C recalls."""
        self._known = answers(type(self.part), frozenset(self.part.silent))
        self.place = place

    def _react(self, levels: int, reason: int) -> int:
        part = self.part
        part.starts, part.stops, part.closed = set(), set(), set()
        if reason >= TIMER:
            part.before = dict(part.now)
            part.timer_ended(reason - TIMER)
        elif reason == POWER_UP:
            part.power_up()
            part.now = {n: levels >> p & 1 for p, n in self.inputs.items()}
            part.before = dict(part.now)
        else:
            part.before = dict(part.now)
            changed = levels ^ self.mask
            while changed:
                bit = changed & -changed
                pin = bit.bit_length() - 1
                part.now[self.names[pin]] = levels >> pin & 1
                changed ^= bit
        self.mask = levels
        out = 0
        for name, value in part.evaluate(part.now).items():
            if value == OFF:
                out |= 1 << (32 + self.bits[name])
            elif value:
                out |= 1 << self.bits[name]
        out |= sum(1 << part.pin(name) for name in part.closed)
        for timers, bit in ((part.starts, START_BIT), (part.stops, STOP_BIT)):
            out |= sum(1 << (bit + k) for k in timers)
        return out


class Chip:
    """What is in the socket.  Keep it alive as long as C holds `pointer`."""

    def __init__(self, description: Description, seed: int,
                 library: ctypes.CDLL | None = None) -> None:
        self.description, self.seed = description, seed
        self.library = native.bind(library) if library else native.library()
        self.logic: Logic | None = None
        self.circuit: Circuit | None = None
        if description.behaviour is None:
            self._callback = native.LOGIC(lambda levels, reason, now_s: 0)
            self.pointer: int = self.library.chip_new(0, 0, self._callback)
            return
        rng = random.Random(f"{seed}/electrical")
        self.logic = Logic(description.behaviour(random.Random(f"{seed}/registers")))
        self._callback = native.LOGIC(self.logic)
        self.circuit = Circuit(self.library, description, rng, random.Random(f"{seed}/leaks"),
                               self._callback)
        self.pointer = self.circuit.pointer
        self.logic.part.silent = self.circuit.silent
        self.logic.start(self.library.chip_place(self.pointer).contents)

    def __del__(self) -> None:
        pointer, self.pointer = getattr(self, "pointer", None), 0
        if pointer:
            self.library.chip_free(pointer)

    @property
    def positions(self) -> dict[int, int]:
        """Socket position by chip pin; 0 for a pin in the air; empty for an empty socket."""
        return dict(self.circuit.positions) if self.circuit else {}

    def pin(self, name: str | int) -> int:
        """Chip pin number of a name (numbers pass through)."""
        assert self.description.behaviour is not None
        return name if isinstance(name, int) else self.description.behaviour.pin(name)

    def at(self, name: str | int) -> int:
        """Socket position of a pin."""
        return self.positions[self.pin(name)]

    # -------------------------------------------------------------- evaluation
    def currents(self, volts: dict[int, float]) -> tuple[list[float], list[list[float]]]:
        """Currents into the positions (A, index 1..24) and their Jacobian (S)."""
        v, i, j = native.Row(), native.Row(), native.Matrix()
        for at, value in volts.items():
            v[at] = value
        self.library.chip_currents(self.pointer, v, i, j)
        return list(i), [list(row) for row in j]

    def settle(self, volts: dict[int, float], now_s: float = 0.0) -> bool:
        """Let the logic react; True if an output changed."""
        v = native.Row()
        for at, value in volts.items():
            v[at] = value
        changed = bool(self.library.chip_settle(self.pointer, v, now_s))
        if self.logic and self.logic.error:
            raise self.logic.error
        return changed

    def pattern(self) -> tuple[bool, list[set[int]]]:
        """Where the Jacobian can have slopes: columns by row (index 1..24); whether hardly more than that are in use."""
        columns = (ctypes.c_uint32 * native.NODES)()
        exact = bool(self.library.chip_pattern(self.pointer, columns))
        return exact, [{m for m in range(1, native.NODES) if row >> (m - 1) & 1} for row in columns]

    def overstress(self, volts: dict[int, float]) -> tuple[int, str, float] | None:
        """(position, what, value) of the first rating exceeded at these voltages, or None."""
        v, i, j = native.Row(), native.Row(), native.Matrix()
        for node, level in volts.items():
            v[node] = level
        self.library.chip_currents(self.pointer, v, i, j)
        what, value = ctypes.c_char_p(), ctypes.c_double()
        at = self.library.chip_overstress(self.pointer, v, i, ctypes.byref(what),
                                          ctypes.byref(value))
        return (at, (what.value or b"").decode(), value.value) if at else None

    def output_states(self) -> dict[str, str]:
        """Present state of every output by name: low, high, off or unpowered."""
        assert self.circuit is not None
        names = self.circuit.names
        return {names[pin - 1]: STATE_WORDS[self.library.chip_output_state(self.pointer, index)]
                for pin, index in self.circuit.output_index.items()}

    # ------------------------------------------------------------------- truth
    def output_volts(self, pin: str | int, state: str, amperes: float, vcc: float = 5.0) -> float:
        """True volts of an output against GND in a state, `amperes` flowing into the pin.

        ValueError if no voltage in -2..+8 V gives that current.
        """
        return self._solve(pin, state, vcc, lambda volts: amperes)

    def loaded_volts(self, pin: str | int, state: str, ohms: float, source_v: float,
                     vcc: float = 5.0) -> float:
        """True volts of an output with a resistor to a source of source_v volts."""
        return self._solve(pin, state, vcc, lambda volts: (source_v - volts) / ohms)

    def _solve(self, pin: str | int, state: str, vcc: float,
               load: Callable[[float], float]) -> float:
        assert self.circuit is not None
        number = self.pin(pin)
        index, node = self.circuit.output_index[number], self.positions[number]
        was = self.library.chip_output_state(self.pointer, index)
        rest = {n: 1.5 for n in range(1, native.NODES)}
        rest |= {self.circuit.vcc: vcc, self.circuit.gnd: 0.0}
        self.library.chip_force_state(self.pointer, index, STATE_OF[state])
        try:
            return _zero(lambda v: self.currents(rest | {node: v})[0][node] - load(v),
                         f"pin {pin} cannot carry that current")
        finally:
            self.library.chip_force_state(self.pointer, index, was)

    def truth(self) -> dict[str, Any]:
        """What is really in the socket, and everything that is wrong with it.

        "sound" is claimed only for a chip without faults, curves or pins of its own.
        """
        d = self.description
        faults = [dict(f) for f in d.faults]
        wrong_part = d.part is not None and d.marking != d.part
        return {"part": d.part, "marking": d.marking, "family": d.family, "seed": self.seed,
                "empty": d.part is None, "wrong_part": wrong_part, "faults": faults,
                "curves": sorted({p for c in d.curves for p in (c.pin, *c.shared)}), "pins": sorted(d.pins),
                "sound": not (d.part is None or faults or wrong_part or d.curves or d.pins)}


def _zero(function: Callable[[float], float], complaint: str) -> float:
    """Zero of a rising function in -2..+8, by halving."""
    low, high = -2.0, 8.0
    if function(low) > 0 or function(high) < 0:
        raise ValueError(complaint)
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if function(middle) > 0 else (middle, high)
    return 0.5 * (low + high)


def load(source: str | Path | dict[str, Any], seed: int,
         library: ctypes.CDLL | None = None) -> Chip:
    """A chip from a file or a dict.  ChipFileError lists every mistake in the file.

    `library`: the C library that will use the chip; by default the fixture's if it is
    current, else the chips' own build.
    """
    return Chip(read(source), seed, library)
