"""Thresholds of inputs that no output answers at once: data of flip-flops and latches, modes of counters.

The level drive holds the input, the next step of the part's own test clocks it in, and an output shows afterwards how
it was read.  One play for each trial; the host halves the span (`Search`).

Pure: part and network in, recipe out.  Labels of the readings: `trial` (K at the input), `trial vdac`, `trial ground`,
`trial answer` (K at the output), in the order of the captures.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect, Part
from sagbench.plan import level
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import Fixture
from sagbench.plan.kept import kept
from sagbench.plan.logic import apply
from sagbench.plan.power import rail_now
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Mark, Recipe
from sagbench.plan.thresholds import AROUND_V, WIDE_V, span, usual_v
from sagbench.wire import steps
from sagbench.wire.numbers import Source

REPEATS = 4
LOOK_AT = 256  # steps of the sequence that are searched; a shift register's second way is tried late
NEAR_V = 0.005  # where the level is still moving so little, it does not move on by a fifth of a code until the clock
CLOSE_CODES = 6  # of the level drive: some 30 mV


@dataclass(frozen=True)
class Capture:
    """With `pin` at a level before step `step`, `watch` is high after step `last` if the level was read as `when_high`.

    last: `step` itself, or the one in which the clock's pulse ends that begins there: data rest while the clock is high.
    """

    step: int
    pin: int
    watch: int
    when_high: bool
    last: int

    @property
    def plays(self) -> range:
        """Steps during which the level is held."""
        return range(self.step, self.last + 1)


@kept
def find_captures(part: Part, network: Network, pins: Collection[int], watchable: Collection[int]) -> tuple[Capture, ...]:
    """For each of these pins the first step that carries its level to an output, in order of steps.

    Where a clock falls in it, the level is there from before the clock rose, if that tells it as well: see `_shown`.

    watchable: outputs that answer rightly; bidirectional ones only while nothing drives them from outside.
    """
    missing, found, late = set(pins), list[Capture](), dict[int, Capture]()
    machine, levels = Machine(network), dict[int, bool | None]()
    raised: dict[int, tuple[int, Machine]] = {}  # by clock: the step in which it last rose, and how it was before
    for index, step in enumerate(part.sequence[:LOOK_AT]):
        falls = [p for p, high in step.set.items() if high is False and p in raised]
        begin, before = min((raised.pop(p) for p in falls), key=lambda one: one[0], default=(index, machine))
        held: set[int] = set().union(*(one.set.keys() | one.pulses.keys() for one in part.sequence[begin : index + 1]))
        for pin in sorted(missing if index else ()):
            if levels.get(pin) is None or pin in step.set or pin in step.pulses:
                continue
            free = [p for p in watchable if p != pin and levels.get(p) is None and step.set.get(p) is None]
            if pin not in held and (whole := _shown(part, before, begin, index, pin, [p for p in free if p not in held])):
                found.append(whole)
                missing.discard(pin)
            elif begin != index and pin not in late and (at_edge := _shown(part, machine, index, index, pin, free)):
                late[pin] = at_edge
        raised |= {p: (index, machine.copy()) for p, high in step.set.items() if high and part.pin(p).clock and not levels.get(p)}
        machine.set(part.named(step))
        levels.update(step.set)
        if not missing:
            break
    found += [late[pin] for pin in sorted(missing & late.keys())]
    found.sort(key=lambda one: (one.last, one.pin))
    return tuple(found)


def _shown(part: Part, machine: Machine, first: int, last: int, pin: int, watched: Sequence[int]) -> Capture | None:
    """The capture of a level held from before step `first` to the end of step `last`, if an output tells it.

    A pulse-triggered flip-flop has its master follow while the clock is high: what is there then counts, not the edge alone.
    """
    after = []
    for high in (False, True):
        twin = machine.copy()
        twin.set({part.pin(pin).name: high})
        for step in part.sequence[first : last + 1]:
            twin.set(part.named(step))
        twin.set({part.pin(pin).name: None})  # the level leaves it for the output: what was taken must stay
        after.append(twin)
    for watch in watched:
        seen = tuple(twin.expect(part.pin(watch).name) for twin in after)
        if set(seen) == {Expect.LOW, Expect.HIGH}:
            return Capture(first, pin, watch, seen[1] is Expect.HIGH, last)
    return None


def spans(fixture: Fixture, part: Part, pin: int) -> tuple[tuple[int, int], ...]:
    """Codes of the level drive between which a threshold is looked for: about what is usual, and then widely."""
    begin, _ = span(part, pin, True)
    around = begin, usual_v(part, pin, True) + AROUND_V
    (a, b), (c, d) = ([round(v / level.volts_of(fixture, 1)) for v in ends] for ends in (around, WIDE_V))
    return (a, b), (c, d)


class Search:
    """Halves a span between a level that was read as low and one read as high; goes to the next span if an end belies it."""

    def __init__(self, capture: Capture, spans: Sequence[tuple[int, int]]) -> None:
        self.capture = capture
        self._spans = list(spans)
        self._low: int | None = None  # codes that were read so
        self._high: int | None = None
        self._asked = 0

    @property
    def found(self) -> bool:
        """True once the threshold lies between two codes that are CLOSE_CODES apart or less."""
        return self._low is not None and self._high is not None and self._high - self._low <= CLOSE_CODES

    def next(self) -> int | None:
        """The code to try next; None if the search is over."""
        if self.found or not self._spans:
            return None
        first, last = self._spans[0]
        if self._low is None or self._high is None:
            self._asked = first if self._low is None else last
        else:
            self._asked = (self._low + self._high) // 2
        return self._asked

    def told(self, as_high: bool | None) -> None:
        """How the code last given was read; None: it could not be, and the search is over."""
        if as_high is None:
            self._spans.clear()
        elif (self._low is None and as_high) or (self._low is not None and self._high is None and not as_high):
            self._spans.pop(0)
            self._low = self._high = None
        elif as_high:
            self._high = self._asked
        else:
            self._low = self._asked


def trials(
    recipe: Recipe, fixture: Fixture, part: Part, drive: Drive, where: Rails, codes: Mapping[Capture, int], before: int
) -> None:
    """One trial of each capture, at its code, against AVcc; the part is played anew for each. before: the drive's code."""
    rail_now(recipe)
    vdac = fixture.raw["load_selector"].index("L_LEVEL")
    for capture, code in codes.items():
        position, levels = drive.seat.position(capture.pin), dict[int, bool | None]()
        recipe.add(steps.level(code))
        for step in part.sequence[: capture.step]:
            apply(recipe, drive, levels, step)
        recipe.read_position(where.ground, REPEATS, label="trial ground")
        recipe.settle(level.settle_us(fixture, level.volts_of(fixture, code - before), NEAR_V))
        before = code
        levels[capture.pin] = False  # it comes to its level from below: even plain inputs have some hysteresis
        recipe.drive(*drive.masks(levels))
        recipe.sense(position, vdac)
        levels[capture.pin] = None
        recipe.drive(*drive.masks(levels))
        recipe.add(steps.read(Source.K, REPEATS), Mark("position", position, REPEATS, label="trial"))
        recipe.add(steps.read(Source.VDAC, REPEATS), Mark("vdac", position, REPEATS, label="trial vdac"))
        for index in capture.plays:
            apply(recipe, drive, levels, part.sequence[index])
        recipe.read_position(drive.seat.position(capture.watch), 1, label="trial answer")
        recipe.selector_open()
    recipe.idle()
