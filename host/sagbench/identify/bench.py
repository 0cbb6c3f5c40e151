"""The unknown chip under power: levels given through M, and what its pins do.

M is 560 ohm: an output that is driven against delivers or takes 9 mA at most, within the absolute maximum of every
family (4000B: 10 mA an output), and no input minds.  An input of four unit loads and more delivers too much for M:
what all candidates call an input and M cannot pull low gets S as well, once the firmware has found that the pin
follows it (`verify`).  Changes of a pattern reach the chip one at a time.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sagbench.device import Device, PassResult
from sagbench.errors import DeviceError
from sagbench.identify.belief import Seen
from sagbench.identify.candidates import Rail
from sagbench.identify.choose import Pattern
from sagbench.measure.contact import drops
from sagbench.plan.contact import conduction
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture, fixture_of
from sagbench.plan.power import limit_code
from sagbench.plan.recipe import Reading, Readings, Recipe, pair
from sagbench.plan.seat import Seat, mask
from sagbench.wire.messages import Event
from sagbench.wire.numbers import EventKind, LineLevel, PassStatus, Reference

FOLLOWS_HIGH_V = 4.2  # an output that sinks what M gives (7 mA and less) stays below; nothing else takes 1.3 mA
FOLLOWS_LOW_V = 1.35  # above: an output that delivers; a bipolar input of two unit loads makes 1 V of M
LOW_V, HIGH_V = 1.2, 2.0  # under the weak load up, and down: an output that drives
SETTLE_US = 30
CURRENTS_A = (0.030, 0.090, 0.150)  # limits for power-on, one after the other, up to what the candidates may draw


class PowerLost(Exception):
    """A safety rule took power away; str() says which."""


class Unheard(PowerLost):
    """The fixture took power away because it had not heard this program for a moment: nothing the chip did; begin again."""


class Bench:
    """One chip, from the look without power to the last pattern."""

    def __init__(self, device: Device) -> None:
        self.device = device
        self.fixture: Fixture = fixture_of(device.info.wiring_id)
        self._nominal = float(self.fixture.raw["supply"]["nominal_v"])
        self._seat: Seat | None = None
        self._events: tuple[Event, ...] = ()  # of the last pass
        self._now: dict[int, bool] = {}  # pins that M drives, and their levels
        self.looks = 0
        self._strong: set[int] = set()  # pins that S drives beside M,
        self._tried: set[int] = set()  # and all that have been tried for it
        self.heavy: set[int] = set()  # pins that were above low although M held them so
        self.low_amperes: dict[int, list[float]] = {}  # pin -> delivered into M when held low and it followed

    def rows(self) -> dict[int, Mapping[int, float | None]]:
        """Every position raised in turn without power: volts lost to each other one; None: nothing conducts."""
        recipe = Recipe()
        recipe.power_off()
        conduction(recipe, self.fixture, self.fixture.present)
        readings = self._run(recipe)
        return {p: drops(self.fixture, readings, p, self._nominal) for p in self.fixture.present}

    def gone(self, before: Mapping[int, Mapping[int, float | None]]) -> bool:
        """True if most of what conducted without power, by an earlier `rows`, no longer does.  Takes power away."""
        now = self.rows()
        led = [(raised, at) for raised, row in before.items() for at, drop in row.items() if drop is not None]
        return sum(now[raised].get(at) is None for raised, at in led) > len(led) / 2

    # ------------------------------------------------------------- power
    def power(self, seat: Seat, rail: Rail, most_a: float) -> None:
        """Power with all lines off, at the lowest current limit that does.  Raises PowerLost."""
        self._seat = seat
        self._now = {}
        self.looks = 0
        for seen in (self._strong, self._tried, self.heavy, self.low_amperes):
            seen.clear()
        if self.device.state().faults:
            self.device.clear_faults()
        supplies = [seat.position(pin) for pin in rail.supplies]
        ladder = [a for a in CURRENTS_A if a < most_a] + [most_a]
        for limit in ladder:
            recipe = Recipe()
            recipe.idle()
            recipe.power_on(supplies, seat.position(rail.grounds[-1]), limit_code(self.fixture, limit, len(supplies)))
            recipe.reference(Reference.AVCC)
            try:
                self._run(recipe)
                return
            except PowerLost as lost:
                self.device.clear_faults()
                if limit == ladder[-1] or EventKind.OVER_CURRENT.name.lower() not in str(lost):
                    raise

    def off(self) -> None:
        """No power, all lines off."""
        self.device.halt()

    # ------------------------------------------------------------- patterns
    @property
    def driven(self) -> Mapping[int, bool]:
        """Pins that M drives now, and their levels."""
        return self._now

    def play(self, patterns: Sequence[Pattern], pins: Iterable[int]) -> list[dict[int, Seen]]:
        """Give the patterns in order; what was seen at `pins` in each that is looked at.  Raises PowerLost."""
        recipe = Recipe()
        recipe.reference(Reference.AVCC)
        driven: list[dict[int, bool]] = []
        watched = sorted(pins)
        for pattern in patterns:
            self._give(recipe, pattern)
            if pattern.look:
                self._look(recipe, watched, len(driven))
                driven.append(dict(self._now))
        readings = self._run(recipe)
        self.looks += len(driven)
        by_step: list[dict[tuple[str, int], Reading]] = [{} for _ in driven]
        for reading in readings.all:
            by_step[reading.mark.step][reading.mark.label, reading.mark.position] = reading
        return [self._seen(at, now, watched) for at, now in zip(by_step, driven, strict=True)]

    def strengthen(self, pins: Iterable[int]) -> None:
        """S beside M for pins that are let go now, where the firmware finds that they follow it.  Raises PowerLost."""
        recipe = Recipe()
        for pin in sorted(pins):
            recipe.verify(self._position(pin))
        self._run(recipe)
        refused = {event.position for event in self._events if event.kind is EventKind.NOT_VERIFIED}
        self._strong |= {pin for pin in pins if self._position(pin) not in refused}
        self._tried |= set(pins)
        self.heavy -= self._tried

    def _give(self, recipe: Recipe, pattern: Pattern) -> None:
        for pin, level in pattern.changes:
            if level is None:
                self._now.pop(pin, None)
            elif pin in self._now or len(self._now) < self._most():
                self._now[pin] = level
            self._drive(recipe)
        for pin, count in pattern.pulses:
            if pin in self._now:
                recipe.pulse(self._position(pin), count)
        if not pattern.changes:
            self._drive(recipe)
        recipe.settle(SETTLE_US)

    def _most(self) -> int:
        """Pins that M may drive at once."""
        budget = self.fixture.raw["budget_ma"]
        weak = budget["load_short"][self.fixture.point("weak").load]
        return int((budget["total"] - weak) // budget["medium_short"])

    def _drive(self, recipe: Recipe) -> None:
        high = mask(self._position(pin) for pin, level in self._now.items() if level)
        strong = mask(self._position(pin) for pin in self._now if pin in self._strong)
        recipe.drive(mask(self._position(pin) for pin in self._now), strong, high)

    def _position(self, pin: int) -> int:
        assert self._seat is not None
        return self._seat.position(pin)

    def _look(self, recipe: Recipe, pins: Sequence[int], step: int) -> None:
        held = [self._position(pin) for pin in pins if pin in self._now]
        free = [self._position(pin) for pin in pins if pin not in self._now]
        recipe.selector_open()
        recipe.scan(held, step=step, label="held")
        weak = self.fixture.point("weak").load
        for level, label in ((LineLevel.HIGH, "up"), (LineLevel.LOW, "down")):
            if free:
                recipe.sense(0, weak, level)
                recipe.scan(free, step=step, label=label)
        recipe.selector_open()

    def _seen(self, at: Mapping[tuple[str, int], Reading], now: Mapping[int, bool], pins: Iterable[int]) -> dict[int, Seen]:
        out = {}
        for pin in pins:
            position = self._position(pin)
            volts = {label: self._volts(at.get((label, position))) for label in ("held", "up", "down")}
            seen = _held(volts["held"], now[pin]) if pin in now else _free(volts["up"], volts["down"])
            if seen is not None:
                out[pin] = seen
            if seen is Seen.FOLLOWS_LOW and volts["held"] is not None:
                lines = M_LINE | S_LINE if pin in self._strong else M_LINE
                self.low_amperes.setdefault(pin, []).append(volts["held"] / self.fixture.line_ohm(lines))
            if seen is Seen.HOLDS_HIGH and pin not in self._tried:
                self.heavy.add(pin)
        return out

    def _volts(self, reading: Reading | None) -> float | None:
        if reading is None or reading.code is None:
            return None
        return reading.code / self.fixture.full_scale * self._nominal

    def _run(self, recipe: Recipe) -> Readings:
        result: PassResult = self.device.run_pass(recipe.finish())
        if result.silenced:
            raise Unheard("it had not heard this program for a moment")
        if result.status is PassStatus.FAULT:
            raise PowerLost(", ".join(event.kind.name.lower() for event in result.events))
        if result.status is not PassStatus.COMPLETE:
            raise DeviceError(f"The fixture at {self.device.info.port} ended a pass ({result.status.name.lower()}): "
                              "host and firmware may be of different versions.")  # fmt: skip
        self._events = result.events
        return pair(recipe.marks, result.readings)


def _held(volts: float | None, high: bool) -> Seen | None:
    if volts is None:
        return None
    if high:
        return Seen.FOLLOWS_HIGH if volts > FOLLOWS_HIGH_V else Seen.HOLDS_LOW
    return Seen.FOLLOWS_LOW if volts < FOLLOWS_LOW_V else Seen.HOLDS_HIGH


def _free(up: float | None, down: float | None) -> Seen | None:
    """What a free pin does under the weak load, up and down; None for a level between, which says nothing."""
    if up is None or down is None:
        return None
    if up < LOW_V:
        return Seen.LOW
    return Seen.HIGH if down > HIGH_V else Seen.OFF if down < LOW_V else None
