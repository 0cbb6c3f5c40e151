"""A chip under power whose pins are set one by one.

    hold = Hold(device, part)
    hold.power()                      # contact check first; NotPowered if the chip is not fit for it
    hold.set(1, Held.HIGH)
    view = hold.look()                # volts of every pin, supply current

The firmware's limits stay in force: what it does not bear ends with power taken away and a sentence in the view.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sagbench.device import Device
from sagbench.errors import EXIT_NO_VERDICT, SagbenchError, UsageError
from sagbench.hold.gone import Watch
from sagbench.hold.held import Held
from sagbench.judge.limits import pin_name
from sagbench.measure.supply import chip_current
from sagbench.measure.uncertain import standard, value
from sagbench.parts.model import Part, Pin, Role
from sagbench.plan.fixture import M_LINE, S_LINE
from sagbench.plan.recipe import Readings, Recipe
from sagbench.record import Quantity
from sagbench.sweep.contact import contact
from sagbench.sweep.power import power_up
from sagbench.sweep.state import Options, PassFault, State, Unpowerable
from sagbench.wire.numbers import SILENCE_MS, Reference, Source

REPEATS = 4  # conversions a pin and look
BUSY = f"This computer was too busy to speak for {SILENCE_MS} ms: no power any more; switch it on again."
RAILS = (Role.SUPPLY, Role.GROUND)


class NotPowered(SagbenchError):
    """The chip is not fit to be powered, or power was taken away; str() says why."""

    exit_code = EXIT_NO_VERDICT


@dataclass(frozen=True)
class View:
    """One look. Volts are against the chip's own ground pin; `amperes` None: not measured."""

    powered: bool
    volts: Mapping[int, float | None]
    held: Mapping[int, Held]
    amperes: Quantity | None
    said: str = ""  # why power went away, last


class Hold:
    """One chip in the socket. Methods raise LinkLost if the fixture falls silent."""

    def __init__(self, device: Device, part: Part, options: Options | None = None) -> None:
        self._device, self.part, self._options = device, part, options or Options()
        self.held: dict[int, Held] = {p.number: Held.OFF for p in part.pins if p.role not in RAILS}
        self.powered = False
        self.said = ""
        self._state: State | None = None
        self._watch = Watch(part, 0.0)
        self._pulses: list[tuple[int, int]] = []

    # -------------------------------------------------------------- power
    def power(self) -> None:
        """Contact check, then power with every input low.  Raises NotPowered with the reason."""
        self.off()
        s = State(self._device, self.part, self.part.name, lambda *_: None, self._options)
        s.begin()
        try:
            contact(s)
            power_up(s)
        except Unpowerable:
            self._device.halt()
            raise NotPowered(f"The chip is not powered: {s.evidence.problem}") from None
        except PassFault as fault:
            raise NotPowered(f"Power was taken away at once ({fault}).") from None
        self._state, self.powered, self.said = s, True, ""
        for pin in s.drive.plain:
            self.held[pin] = Held.LOW
        self._watch = Watch(self.part, s.rest_a)

    def off(self) -> None:
        """No power, all lines off, socket discharged."""
        self._device.halt()
        self.powered = False
        self._pulses.clear()
        for pin in self.held:
            self.held[pin] = Held.OFF

    # -------------------------------------------------------------- pins
    def set(self, number: int, held: Held) -> None:
        """Drive a pin, or let it go; happens at the next look.  Raises UsageError for a rail, or a pin the contact check bars."""
        pin = self._pin(number)
        self._must_be_powered()
        if held in (Held.LOW, Held.HIGH) and pin.role.is_output:
            raise UsageError(f"{pin_name(self.part, number)} is an output: it can be held weakly only, or left alone.")
        if self._state and number in self._state.evidence.contact.held and held is not Held.OFF:
            raise UsageError(f"{pin_name(self.part, number)} is shorted to a rail or an output and is not driven.")
        self.held[number] = held

    def clock(self, number: int, count: int = 1) -> None:
        """A driven pin to its other level and back, so many times, at the next look."""
        self._pin(number)
        self._must_be_powered()
        if not 1 <= count <= 255:
            raise UsageError(f"{count} pulses cannot be given at once; 1 to 255 can.")
        if self.held[number] is Held.OFF:
            raise UsageError(f"{pin_name(self.part, number)} is not driven; set it low or high first, then clock it.")
        self._pulses.append((number, count))

    def _must_be_powered(self) -> None:
        if not self.powered:
            raise UsageError("There is no power, so nothing is driven; `power` (key p) brings it back.")

    def _pin(self, number: int) -> Pin:
        if number not in self.held:
            if not 1 <= number <= self.part.pin_count:
                raise UsageError(f"A {self.part.name} has pins 1 to {self.part.pin_count}, no {number}.")
            raise UsageError(f"{pin_name(self.part, number)} is a supply pin; `power` and `off` switch it.")
        return self.part.pin(number)

    # -------------------------------------------------------------- looking
    def look(self) -> View:
        """Set what was asked for, pulse what was asked for, read every pin and the supply current; no power if the chip is gone."""
        s = self._state
        if s is None or not self.powered:
            return View(False, dict.fromkeys(self.held), dict(self.held), None, self.said)
        recipe = Recipe()
        recipe.drive(*self._masks(s))
        for number, count in self._pulses:
            recipe.pulse(s.seat.position(number), count)
            self._watch.forget()
        self._pulses.clear()
        recipe.settle(200)
        recipe.selector_open()
        recipe.reference(Reference.AVCC)
        recipe.scan(s.seat.positions, REPEATS, label="look")
        self._watch.ask(recipe, s, self.held)
        recipe.reference(Reference.AVCC if s.wide else Reference.V2V56)
        recipe.read(Source.ICC, 16, label="icc")
        try:
            readings = s.run(recipe)
        except PassFault as fault:
            self.said = BUSY if fault.silent else f"Power was taken away by a safety rule ({fault})."
            self._device.clear_faults()
            self.off()
            return self.look()
        amperes = self._amperes(s, readings)
        if gone := self._watch.gone(s, readings, self.held, amperes):
            self.said = gone
            self.off()
            return self.look()
        return View(True, self._volts(s, readings), dict(self.held), amperes)

    def _masks(self, s: State) -> tuple[int, int, int]:
        m_on = s_on = high = 0
        for number, held in self.held.items():
            if held is Held.OFF:
                continue
            bit = 1 << (s.seat.position(number) - 1)
            lines = s.drive.lines.get(number, 0) if held in (Held.LOW, Held.HIGH) else M_LINE
            m_on |= bit if lines & M_LINE or not lines else 0
            s_on |= bit if lines & S_LINE else 0
            high |= bit if held in (Held.HIGH, Held.WEAK_HIGH) else 0
        return m_on, s_on, high

    def _volts(self, s: State, readings: Readings) -> dict[int, float | None]:
        at = {r.mark.position: None if r.code is None else s.model.pin_level(r) for r in readings.labelled("look")}
        ground = at.get(s.where.ground) or 0.0
        found = {}
        for number in range(1, self.part.pin_count + 1):
            volts = at.get(s.seat.position(number))
            found[number] = None if volts is None else volts - ground
        return found

    def _amperes(self, s: State, readings: Readings) -> Quantity | None:
        drawn = chip_current(s.model, readings.labelled("icc"), s.zero)
        return None if drawn is None else Quantity(value(drawn), 2 * standard(drawn), "A")
