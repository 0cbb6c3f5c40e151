"""Thresholds of inputs that no output answers at once: data of flip-flops and latches, modes of counters.

The level drive holds the input, the next step of the part's own test clocks it in, and an output shows afterwards how
it was read.  One play for each trial; the host halves the span.

Pure: part and network in, recipe out.  Labels of the readings: `trial` (K at the input), `trial vdac`, `trial ground`,
`trial answer` (K at the output), in the order of the captures.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect, Part
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import Fixture
from sagbench.plan.logic import apply
from sagbench.plan.power import rail_now
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Mark, Recipe
from sagbench.plan.thresholds import SETTLE_US, WIDE_V
from sagbench.wire import steps
from sagbench.wire.numbers import Source

REPEATS = 4
LOOK_AT = 256  # steps of the sequence that are searched; a shift register's second way is tried late
HALVINGS = 7  # of the span of WIDE_V: to some 30 mV


@dataclass(frozen=True)
class Capture:
    """With `pin` at a level before this step, `watch` is high after it if the level was read as `when_high`."""

    step: int
    pin: int
    watch: int
    when_high: bool


def find_captures(part: Part, network: Network, pins: Collection[int], watchable: Collection[int]) -> tuple[Capture, ...]:
    """For each of these pins the first step that carries its level to an output, in order of steps.

    watchable: outputs that answer rightly; bidirectional ones only while nothing drives them from outside.
    """
    missing, found = set(pins), []
    machine, levels = Machine(network), dict[int, bool | None]()
    for index, step in enumerate(part.sequence[:LOOK_AT]):
        for pin in sorted(missing if index else ()):
            if pin in step.set or pin in step.pulses or levels.get(pin) is None:
                continue
            after = []
            for level in (False, True):
                twin = machine.copy()
                twin.set({part.pin(pin).name: level})
                twin.set(part.named(step))
                after.append(twin)
            free = (p for p in watchable if p != pin and levels.get(p) is None and step.set.get(p) is None)
            for watch in free:
                seen = tuple(twin.expect(part.pin(watch).name) for twin in after)
                if set(seen) == {Expect.LOW, Expect.HIGH}:
                    found.append(Capture(index, pin, watch, seen[1] is Expect.HIGH))
                    missing.discard(pin)
                    break
        machine.set(part.named(step))
        levels.update(step.set)
        if not missing:
            break
    return tuple(found)


def span(fixture: Fixture) -> tuple[int, int]:
    """Codes of the level drive between which thresholds are looked for."""
    low, high = (round(v / fixture.raw["supply"]["nominal_v"] * fixture.full_scale) for v in WIDE_V)
    return low, high


def trials(recipe: Recipe, fixture: Fixture, part: Part, drive: Drive, where: Rails, codes: Mapping[Capture, int]) -> None:
    """One trial of each capture, at its code, against AVcc; the part is played anew for each."""
    rail_now(recipe)
    vdac = fixture.raw["load_selector"].index("L_LEVEL")
    for capture, code in codes.items():
        position, levels = drive.seat.position(capture.pin), dict[int, bool | None]()
        recipe.add(steps.level(code))
        for step in part.sequence[: capture.step]:
            apply(recipe, drive, levels, step)
        recipe.read_position(where.ground, REPEATS, label="trial ground")
        recipe.settle(SETTLE_US)
        levels[capture.pin] = False  # it comes to its level from below: even plain inputs have some hysteresis
        recipe.drive(*drive.masks(levels))
        recipe.sense(position, vdac)
        levels[capture.pin] = None
        recipe.drive(*drive.masks(levels))
        recipe.add(steps.read(Source.K, REPEATS), Mark("position", position, REPEATS, label="trial"))
        recipe.add(steps.read(Source.VDAC, REPEATS), Mark("vdac", position, REPEATS, label="trial vdac"))
        apply(recipe, drive, levels, part.sequence[capture.step])
        recipe.read_position(drive.seat.position(capture.watch), 1, label="trial answer")
        recipe.selector_open()
    recipe.idle()
