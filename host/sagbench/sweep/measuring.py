"""The stages with power on: supply current, logic, input currents, load lines.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from sagbench.judge import logic as judge
from sagbench.judge.technology import technology
from sagbench.measure import line
from sagbench.measure.inputs import Figure, drives_from, more_at_nothing
from sagbench.measure.model import Model
from sagbench.measure.outputs import off_leakage
from sagbench.measure.supply import chip_current, finer
from sagbench.measure.uncertain import Number, Uncertain, standard, value
from sagbench.parts.model import Expect
from sagbench.plan import loads, power
from sagbench.plan import logic as plan
from sagbench.plan.fixture import LoadPoint
from sagbench.plan.lines import off_states as plan_off_states
from sagbench.plan.lines import off_steps as plan_off_steps
from sagbench.plan.lines import low_ones, plan_lines, without
from sagbench.plan.logic import LineReading
from sagbench.plan.recipe import Reading, Readings, Recipe
from sagbench.sweep.power import measure_zero, powered, switch_on
from sagbench.sweep.state import State
from sagbench.wire.numbers import Reference

BROUGHT = "measured there, low inputs brought from their lines' level to 0 V by calculation"


def supply(s: State) -> None:
    """Supply current in each static state."""
    powered(s, supply_states)
    if not s.wide and any(state.name not in s.evidence.icc for state in s.evidence.states):
        recipe = Recipe()
        recipe.power_off()
        s.run(recipe)
        measure_zero(s, True)
        switch_on(s)
        powered(s, supply_states)


def supply_states(s: State) -> None:
    """All of them, in one pass."""
    recipe = Recipe()
    power.supply_states(recipe, s.evidence.states, s.drive, wide=s.wide)
    recipe.reference(Reference.AVCC)  # AREF settles here, so that the converter alone sets the pace of what follows
    readings = s.run(recipe)
    for state in s.evidence.states:
        amperes = chip_current(s.model, readings.labelled(state.name), s.zero)
        if amperes is not None:
            more = at_nothing(s, readings.labelled(f"inputs low: {state.name}"), value(amperes))
            amperes = amperes + more
            quiet = s.quiet.get(state.name)
            best = finer(amperes, quiet)
            how = "through the weak load" if best is quiet else BROUGHT if value(more) else "measured there"
            at = Model.quantity(s.supply_at(value(best)), "V")
            s.figures.icc[state.name] = Figure(best, at, how)
            s.evidence.icc[state.name] = Model.quantity(best, "A")


def at_nothing(s: State, readings: Sequence[Reading], amperes: float) -> Number:
    """What the low inputs of a bipolar part would add to its supply current if they were at 0 V."""
    bipolar = [
        r for r in readings if (x := s.part.limits.get(s.seat.pin_at(r.mark.position))) and x.technology == "ttl"
    ]
    if not bipolar:
        return 0.0
    above = drives_from(s.supply_at(amperes), s.part.limits[s.seat.pin_at(bipolar[0].mark.position)].family)
    stuck = (pin for pin, high in s.evidence.contact.stuck.items() if high)
    unheld = {s.seat.position(pin): s.most_when_low(pin) for pin in stuck}
    return more_at_nothing(s.model, bipolar, s.ground, above, unheld)


def logic(s: State) -> None:
    """The sequence unloaded, then under load: each output at the heaviest point that it must bear.

    What holds its level there holds it at lighter points too, which tell nothing more; an output that does not is looked at
    under those as well.
    """
    powered(s, partial(play, point=None))
    supply_v = value(s.evidence.supply_volts) if s.evidence.supply_volts is not None else s.rail_v
    s.technology = technology(s.part, s.evidence.plays[0][1], supply_v, s.evidence.icc.values())
    powered(s, off_states)
    for point in reversed(loads.logic_points(s.loading, s.part)):
        if must_bear(s, point):
            powered(s, partial(play, point=point))


def must_bear(s: State, point: LoadPoint) -> set[tuple[int, bool]]:
    """(output, up) to be loaded so in the logic test: rated for it, and has not borne more already."""
    heavier = [a for _, answers in s.evidence.plays[1:] for a in answers]
    borne = {(a.pin, a.expect is Expect.LOW) for a in heavier}
    gave_way = {a.pin for a in heavier if not judge.is_right(s.part, a)}
    return {
        (pin.number, up)
        for pin in s.part.outputs
        for up in (True, False)
        if loads.wants(s.fixture, s.part, pin.number, up, point)
        and ((pin.number, up) not in borne or pin.number in gave_way)
    }


def play(s: State, point: LoadPoint | None) -> None:
    """The sequence once, unloaded or at a load point. Heavier points come first, and are kept behind lighter ones."""
    recipe, spoilt = Recipe(), s.evidence.contact.spoilt
    if point is None:
        plan.unloaded(recipe, s.fixture, s.part, s.drive)
    else:
        wanted = must_bear(s, point)
        plan.loaded(recipe, s.part, s.drive, point, lambda pin, up: (pin, up) in wanted, spoilt)
    readings = s.run(recipe)
    note_leakage(s, readings)
    answers = judge.answers(s.part, s.seat, readings, lambda r: s.model.pin_level(r) - s.ground_v)
    if s.evidence.contact.stuck:
        answers = judge.without_consequences(s.part, answers, s.evidence.contact.stuck)
    s.evidence.plays.insert(1, ("open" if point is None else point.name, answers))


def note_leakage(s: State, readings: Readings) -> None:
    """Of each output that was off, the largest leakage; where a low input may have been high it proves nothing."""
    worst: dict[tuple[int, bool], tuple[float, Reading]] = {}
    for reading in (*readings.labelled("off up"), *readings.labelled("off down")):
        if reading.code is None:
            continue
        pin = s.seat.pin_at(reading.mark.position)
        if unheld := not_held_low(s, reading.mark.step):
            s.evidence.off_unheld.setdefault(pin, set()).update(unheld)
            continue
        away = reading.code if not reading.mark.up else s.fixture.full_scale - reading.code
        if (pin, reading.mark.up) not in worst or away > worst[pin, reading.mark.up][0]:
            worst[pin, reading.mark.up] = away, reading
    for key, (_, reading) in worst.items():
        at_pin, amperes = s.model.point(reading)
        leak = amperes + s.model.leakage(reading.mark.position)
        s.evidence.off[key] = Model.quantity(leak, "A")
        s.figures.off[key] = Figure(leak, Model.quantity(at_pin - s.ground, "V"), "measured there")


def surely_more(a: Uncertain, b: Uncertain) -> bool:
    """True if a is larger in size than b by more than both expanded uncertainties."""
    return abs(value(a)) - 2 * standard(a) > abs(value(b)) + 2 * standard(b)


def off_states(s: State) -> None:
    """Leakage of outputs that are off, finely; what the logic test has seen in another state to be surely more stays."""
    skip = s.evidence.contact.spoilt | s.evidence.off_unheld.keys()
    wanted = plan_off_steps(s.part, lambda step, _: bool(not_held_low(s, step)), skip)
    if not wanted:
        return
    recipe = Recipe()
    plan_off_states(recipe, s.fixture, s.part, s.drive, wanted)
    readings = s.run(recipe)
    for pin in sorted({p for pins in wanted.values() for p in pins}):
        for up in (True, False):
            finely, coarsely = (
                next(
                    (r for r in readings.labelled(w) if (s.seat.pin_at(r.mark.position), r.mark.up) == (pin, up)), None
                )
                for w in ("off finely", "off")
            )
            figure, seen = off_leakage(s.model, finely, coarsely, s.ground), s.figures.off.get((pin, up))
            if figure and not (seen and surely_more(seen.number, figure.number)):
                s.figures.off[pin, up] = figure


def not_held_low(s: State, step: int) -> set[int]:
    """Inputs that are to be low in a step, but that no line drives, or that did not follow the one that should."""
    lost = s.not_strong | s.evidence.contact.stuck.keys()
    lost |= {pin.number for pin in s.part.inputs if not s.drive.lines.get(pin.number)}
    return {pin for pin, high in plan.levels_at(s.part, step).items() if pin in lost and not high} if lost else set()


def load_lines(s: State) -> None:
    """Each output through its load points: low levels against 1.1 V, then high ones, and low ones beyond that, against AVcc."""
    plays = s.evidence.plays
    usable = {(a.step, a.pin) for a in plays[0][1] if judge.is_right(s.part, a)}
    seen = {(a.step, a.pin): a.volts for _, answers in plays[1:] for a in answers if a.volts is not None}
    wanted = plan_lines(s.loading, s.part, usable, seen, s.evidence.contact.spoilt)
    if s.strange:
        wanted = tuple(replace(reading, beyond=(), channel=True) for reading in wanted)
    powered(s, partial(take_lines, wanted=wanted))


def take_lines(s: State, wanted: Sequence[LineReading]) -> None:
    """The readings of `wanted`."""
    recipe = Recipe()
    plan.lines(recipe, s.fixture, s.part, s.drive, s.where, low_ones(wanted), Reference.V1V1, s.options.repeats)
    fine = s.run(recipe)
    left = without(wanted, line.taken(s.model, s.seat, fine))
    recipe = Recipe()
    power.rail_now(recipe)
    plan.lines(recipe, s.fixture, s.part, s.drive, s.where, left, Reference.AVCC, s.options.repeats)
    recipe.power_off()  # before the arithmetic, which takes its time on a slow computer
    coarse = s.run(recipe)
    s.evidence.lines = line.load_lines(s.model, s.seat, wanted, (fine, coarse))
    s.figures.path = s.model.supply_path()
    for reading in wanted:
        if points := line.beyond_points(s.model, s.seat, reading.pin, coarse):
            s.figures.beyond[reading.pin] = points
