"""Input thresholds: for each input a state in which its change alone changes an output, and the ramps that find it.

The part's own behaviour is asked: its test sequence is played on a model, and after each step each input is turned
over on a copy.  What answers at once (a gate, a clock edge, an asynchronous input) can be watched while the input
is ramped; data inputs of flip-flops have no such output.

Pure: part and network in, recipe out.  Labels of the readings: `threshold code`, `threshold` (K), `threshold vdac`,
and before them `threshold ground`; each has the pin's position, the sequence's step, and `up` for a rising input.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect, Part, Role
from sagbench.plan import level
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import Fixture
from sagbench.plan.kept import kept
from sagbench.plan.logic import apply
from sagbench.plan.power import rail_now
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Mark, Recipe
from sagbench.wire import steps

LOOK_AT = 96  # steps of the sequence that are searched; each is played on the way to a ramp,
LOOK_FAR = 300  # but in a part without memory, where one step is as near as another
REPEATS = 2  # conversions: the level moves on meanwhile
STEP_US = 100  # for each code of some 5 mV,
WIDE_STEP_US = 50  # and where a ramp is long
LEAD_V = 0.15  # an input is taken over by a level so near its ramp's beginning: that is AROUND_V from what is usual
ENDED_V = 0.2  # the ramp before has mostly ended this near what is usual; where it has not, the wide one comes
WATCH_US = 500  # what an output that only the controller's pull-up lifts needs: 50 kohm, some 200 pF, many times over
LEVEL_OHM = 890  # level resistor and two multiplexer channels
NEAR_SHARE = 0.4  # of the largest IIL: what a sound input delivers near its threshold, and that again where it falls
OPEN_V = 4.2  # a bipolar input's own voltage, behind its base resistor
TYPICAL_SHARE = 0.65  # of IIL's limit: what an input typically delivers
REACH_V = 0.1  # worth trying
BEYOND_V = 0.95  # a ramp ends so far beyond what is usual, with the level some 0.13 V behind it: it stops where the input answers
AROUND_V = 0.35  # first ramp: so far to either side of what is usual; then, where nothing answered, the wide one
WIDE_V = (0.0, 4.2)
LAG_V = 0.15  # of the filter behind a ramp of a code each STEP_US
END_V = 0.02  # so near 0 V is 0 V

# Usual thresholds at 5 V in volts; data books' typical transfer curves, from memory.  A wrong one costs time only.
USUAL_V: Mapping[str, float] = {
    "LS": 1.1,
    "S": 1.25,
    "AS": 1.5,
    "ALS": 1.5,
    "F": 1.5,
    "HC": 2.4,
    "AC": 2.4,
    "4000B": 2.4,
}
USUAL_TTL_V = 1.4
SCHMITT_V = 0.4  # a Schmitt input's thresholds lie so far to either side (0.6 times as far again for CMOS)


@dataclass(frozen=True)
class Toggle:
    """In this step's state, turning `pin` over turns the output `watch` over."""

    step: int
    pin: int
    rising: bool
    watch: int


def find_toggles(part: Part, network: Network, pins: Collection[int], watchable: Collection[int]) -> tuple[Toggle, ...]:
    """For each pin the first toggle there is, rising rather than falling; both of Schmitt inputs, and of one other, to see
    that it is none. In order of steps.

    watchable: outputs that answer rightly; bidirectional pins are watched while nothing drives them from outside. An analog
    switch's output is the input's own voltage behind a resistance and tells of no threshold: its control inputs have some.
    """
    return _toggles(part, network, pins, watchable, [pin for pin in watchable if part.is_switch(pin)])


@kept
def _toggles(
    part: Part, network: Network, pins: Collection[int], watchable: Collection[int], switches: Collection[int]
) -> tuple[Toggle, ...]:
    wanted = {(pin, rising) for pin in pins for rising in (True, False)}
    ways = {pin for pin in pins if part.pin(pin).schmitt} | {min((p for p in pins if not part.pin(p).schmitt), default=0)}
    names = {pin: part.pin(pin).name for pin in (*pins, *watchable)}
    found: dict[tuple[int, bool], Toggle] = {}
    machine, levels = Machine(network), dict[int, bool | None]()
    for index, step in enumerate(part.sequence[: LOOK_AT if network.registers else LOOK_FAR]):
        machine.set(part.named(step))
        levels.update(step.set)
        before = {p: machine.expect(names[p]) for p in watchable}
        for pin in sorted({p for p, _ in wanted}):
            held = levels.get(pin)
            if held is None or (pin, not held) not in wanted:
                continue
            other = machine.copy()
            other.set({names[pin]: not held})
            free = (p for p in watchable if p != pin and levels.get(p) is None)
            after = {p: other.expect(names[p]) for p in free}
            watch = next((p for p in after if _turned(before[p], after[p]) and not (p in switches and after[p] is _let_through(not held))), 0)
            if watch:
                found[pin, not held] = Toggle(index, pin, not held, watch)
                wanted.discard((pin, not held))
                if pin not in ways and not held:
                    wanted.discard((pin, False))
        if not wanted:
            break
    both = [t for t in found.values() if t.rising or t.pin in ways or (t.pin, True) not in found]
    return tuple(sorted(both, key=lambda t: (t.step, t.pin, not t.rising)))


def _let_through(level: bool) -> Expect:
    """What is seen where a level is let through."""
    return Expect.HIGH if level else Expect.LOW


def _turned(before: Expect | None, after: Expect | None) -> bool:
    """True if the controller's pin, which is pulled up, sees another level; an output that goes off reads high."""
    return {before, after} in ({Expect.LOW, Expect.HIGH}, {Expect.LOW, Expect.OFF})


def watchable(part: Part, skip: Collection[int]) -> tuple[int, ...]:
    """Outputs but for those to be left out; those that always drive first."""
    roles = (Role.OUTPUT, Role.TRI_STATE, Role.OPEN_COLLECTOR, Role.BIDIRECTIONAL)
    return tuple(p.number for role in roles for p in part.of_role(role) if p.number not in skip)


def span(part: Part, pin: int, rising: bool) -> tuple[float, float]:
    """Level in volts from where the ramp starts to where a sound input must have answered.

    A bipolar input stands above the level by what it delivers through the level's resistor.
    """
    limits, which = part.limits[pin], part.pin(pin)
    bipolar = limits.technology == "ttl"
    usual = usual_v(part, pin, rising)
    lifted = -limits.iil.value * which.low_unit_loads * LEVEL_OHM if bipolar else 0.0
    if rising:
        return max(usual - AROUND_V - NEAR_SHARE * lifted, 0.0), usual + BEYOND_V
    return usual + AROUND_V, max(usual - BEYOND_V - 2 * NEAR_SHARE * lifted, 0.0)


def usual_v(part: Part, pin: int, rising: bool) -> float:
    """The usual threshold in volts, on the way up or down."""
    usual = _usual(part, pin)
    if part.pin(pin).schmitt:
        usual += (SCHMITT_V if rising else -SCHMITT_V) * (1.0 if part.limits[pin].technology == "ttl" else 1.6)
    return usual


def reachable(part: Part, pin: int) -> bool:
    """False for an input that delivers so much that it stands above its threshold even with the level at 0 V."""
    limits, which = part.limits[pin], part.pin(pin)
    typical = -limits.iil.value * which.low_unit_loads * TYPICAL_SHARE
    if limits.technology != "ttl" or typical <= 0:
        return True
    return OPEN_V / (1 + OPEN_V / (typical * LEVEL_OHM)) < _usual(part, pin) + REACH_V


def _usual(part: Part, pin: int) -> float:
    limits = part.limits[pin]
    return USUAL_V.get(limits.family, USUAL_TTL_V if limits.technology == "ttl" or "T" in limits.family else 2.4)


def codes(fixture: Fixture, part: Part, toggle: Toggle, wide: bool) -> tuple[int, int]:
    """First and last code of the level drive for a toggle's ramp."""
    begin, end = (WIDE_V if toggle.rising else WIDE_V[::-1]) if wide else span(part, toggle.pin, toggle.rising)
    first, last = (round(v / level.volts_of(fixture, 1)) for v in (begin, end))
    return first, last


def step_us(wide: bool) -> int:
    """Microseconds for each code."""
    return WIDE_STEP_US if wide else STEP_US


def may_be_wider(fixture: Fixture, part: Part, toggle: Toggle) -> bool:
    """True if a wide ramp goes where the first did not.

    A falling one that ended at 0 V has seen all there is below; above is the plain input that lay below its threshold already.
    """
    return toggle.rising or not part.pin(toggle.pin).schmitt or codes(fixture, part, toggle, False)[1] > 0


def settling(fixture: Fixture, part: Part, toggles: Sequence[Toggle], wide: bool) -> list[int]:
    """For each ramp the microseconds that the level has at its first code before it takes the input over."""
    out, before = [], 0.0
    for toggle in toggles:
        first, last = (level.volts_of(fixture, code) for code in codes(fixture, part, toggle, wide))
        out.append(level.settle_us(fixture, first - before, LEAD_V))
        before = last if wide else usual_v(part, toggle.pin, toggle.rising) + (ENDED_V if toggle.rising else -ENDED_V)
    return out


def stays_us(fixture: Fixture, last: int) -> int:
    """Microseconds for which a ramp that ends at this code stays at its first code, with the input on it, and at its last.

    A ramp that ends at 0 V cannot go further to make good for the filter's lag: there the level is waited for.
    """
    return WATCH_US if last else level.settle_us(fixture, LAG_V, END_V)


def ramps(
    recipe: Recipe,
    fixture: Fixture,
    part: Part,
    drive: Drive,
    where: Rails,
    toggles: Sequence[Toggle],
    *,
    memory: bool,
    wide: bool = False,
) -> None:
    """Each toggle's ramp, against AVcc.  memory: the part has states, so that it is played anew for each.

    The level comes near the ramp's beginning while the lines still hold the input: a falling ramp must not
    begin with a low level on an asynchronous input.
    """
    rail_now(recipe)
    levels: dict[int, bool | None] = {}
    at = -1
    for toggle, settle_us in zip(toggles, settling(fixture, part, toggles, wide), strict=True):
        recipe.add(steps.level(codes(fixture, part, toggle, wide)[0]))
        if at < 0 or (memory and at >= 0) or toggle.step < at:
            levels, at = {}, -1
        for step in part.sequence[at + 1 : toggle.step + 1]:
            apply(recipe, drive, levels, step)
        at = toggle.step
        _ramp(recipe, fixture, drive, where, toggle, part, wide, settle_us)
        recipe.lines_gone()
        recipe.drive(*drive.masks(levels))


def _ramp(
    recipe: Recipe,
    fixture: Fixture,
    drive: Drive,
    where: Rails,
    toggle: Toggle,
    part: Part,
    wide: bool,
    settle_us: int,
) -> None:
    first, last = codes(fixture, part, toggle, wide)
    position = drive.seat.position(toggle.pin)
    mark = Mark("position", position, REPEATS, step=toggle.step, up=toggle.rising)
    recipe.read_position(where.ground, REPEATS, step=toggle.step, label="threshold ground")
    recipe.marks[-1] = replace(recipe.marks[-1], under=position, up=toggle.rising)
    recipe.settle(settle_us)
    recipe.add(
        steps.ramp(position, drive.seat.position(toggle.watch), first, last, step_us(wide), REPEATS, stays_us(fixture, last)),
        replace(mark, what="code", repeats=1, label="threshold code"),
        replace(mark, label="threshold"),
        replace(mark, what="vdac", label="threshold vdac"),
    )
    recipe.sense(0)


def untold(pins: Iterable[int], toggles: Iterable[Toggle]) -> tuple[int, ...]:
    """Inputs for which there is no toggle."""
    return tuple(sorted(set(pins) - {t.pin for t in toggles}))
