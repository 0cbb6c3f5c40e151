"""Power: the zero of the supply current, switching on, and what happens when power is taken away.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NoReturn

from sagbench.errors import DeviceError
from sagbench.judge.limits import in_amperes
from sagbench.judge.supply import CUT_OFF
from sagbench.measure.supply import choose_zero
from sagbench.measure.uncertain import value
from sagbench.plan import loads, power
from sagbench.plan.recipe import Readings, Recipe
from sagbench.record import Finding, Outcome, Quantity
from sagbench.sweep.state import PassFault, State
from sagbench.wire.numbers import EventKind, Reference

TRIP_SHARE = 0.98  # resistors of 1 % set the trip
CUT_OFF_SHARE = 0.15  # one conversion against AVcc while the current still rose: good for a sixth of it
FORCED = "was forced to the other level by the chip while it was driven"
SAFE_RETRIES = 3  # a contention costs its pin the strong line; then the stage is played again


def power_up(s: State) -> None:
    """The zero of ICC, then power; the rails at the chip's own pins."""
    if power.has_quiescent(s.fixture, s.part, s.drive):
        quiescent(s)
    measure_zero(s, power.largest_limit(s.part) > power.WIDE_A)
    switch_on(s)


def quiescent(s: State) -> None:
    """CMOS: the supply current through the weak load, before the switches close."""
    recipe = Recipe()
    recipe.reference(Reference.AVCC)
    power.quiescent(recipe, s.fixture, s.evidence.states, s.drive, s.where)
    readings = s.run(recipe)
    for state in s.evidence.states:
        for reading in readings.labelled(f"quiescent: {state.name}"):
            if reading.total is not None:
                s.quiet[state.name] = s.model.selector_amperes(reading) + s.model.leakage(reading.mark.position)


def measure_zero(s: State, wide: bool) -> None:
    """The zero of ICC; `wide` for chips that draw much: against AVcc instead of 2.56 V."""
    s.wide = wide
    switches = len(s.where.supplies)
    recipe = Recipe()
    power.zero_at_rest(recipe, wide=wide)
    rest = s.run(recipe)
    if not wide:
        s.model.learn_2v56(rest.labelled("reference")[0], s.common, rest.labelled("common")[0])
    recipe = Recipe()
    power.zero_switched(recipe, s.fixture, s.where, wide=wide)
    try:
        switched: Readings | None = s.run(recipe)
    except PassFault:  # what draws without ground is found by the power check proper
        switched = None
        s.device.clear_faults()
    s.seen_zero = switched.labelled("zero") if switched else ()
    s.zero = choose_zero(s.model, switched, rest.labelled("rest"), switches)
    if s.zero.note:
        s.evidence.notes.append(s.zero.note)


def switch_on(s: State) -> None:
    """Power with the inputs low; pins that S cannot drive get M."""
    extra = loads.SHORTED_OUTPUT_A if s.evidence.contact.spoilt else 0.0
    limit = power.power_limit(s.fixture, s.part, len(s.where.supplies), extra_a=extra)
    recipe = Recipe()
    power.power_up(recipe, s.fixture, s.drive, s.where, limit)
    try:
        (drawn,) = s.run(recipe).labelled("power on")
    except PassFault as fault:
        no_power(s, fault)
    lost = [e.position for e in s.events if e.kind == EventKind.NOT_VERIFIED]
    if lost:  # other pins may need S instead of these: verify anew
        for position in lost:
            s.lost_strong(position, "does not follow when it is driven: something in the chip holds it")
        recipe = Recipe()
        recipe.power_off()
        s.run(recipe)
        switch_on(s)
        return
    recipe = Recipe()
    power.at_rest(recipe, s.drive, s.where)
    try:
        readings = s.run(recipe)
    except PassFault as fault:
        if fault.silent:
            s.after_silence()
            switch_on(s)
            return
        fight = fault.of_kind(EventKind.CONTENTION, EventKind.NOT_VERIFIED)
        if not fight or s.seat.pin_at(fight.position) in s.not_strong:
            no_power(s, fault)
        s.device.clear_faults()
        s.lost_strong(fight.position, FORCED)
        switch_on(s)
        return
    (ground,) = readings.labelled("ground")
    supplies = [s.model.pin_volts(r) for r in readings.labelled("supply")]
    s.ground = s.model.pin_volts(ground)
    if drawn.total is not None and all(r.total is not None for r in s.seen_zero) and s.seen_zero:
        s.rest_a = value(s.model.icc((drawn,), s.seen_zero))
    s.evidence.supply_volts = sum(supplies) / len(supplies) - s.model.pin_volts(ground)


def no_power(s: State, fault: PassFault) -> NoReturn:
    """Power did not come on, or was taken away: a finding, and the end of what needs power."""
    over, rails = fault.of_kind(EventKind.OVER_CURRENT), fault.of_kind(EventKind.RAIL_SHORT)
    outcome, weight = Outcome.BEYOND, 95.0
    if over:
        volts = over.value / s.fixture.full_scale * value(s.model.rail)
        amperes = rough_current(s, volts)
        about = in_amperes(float(f"{amperes:.2g}"))
        problem = f"it drew some {about}, far more than a {s.part.name} may, and power was taken away at once"
        reach, allowed = within_reach(s), power.largest_limit(s.part)
        if allowed > reach:
            outcome, weight = Outcome.UNSURE, 15.0
            problem = (
                f"it draws more than the fixture can give, {in_amperes(reach)} to the chip, and power was taken away "
                f"at once; a {s.part.name} may draw {in_amperes(allowed)}, so that says nothing against it: cannot tell"
            )
    elif rails:
        problem = "its supply and ground pins are as good as shorted; it was not powered"
    else:
        names = ", ".join(f"{e.kind.name.lower()} {e.value}" for e in fault.events)
        raise DeviceError(
            f"The fixture would not power the chip ({names}): reset it and see that its switches and "
            "registers are fitted as the wiring says."
        )
    drawn = Quantity(amperes, CUT_OFF_SHARE * amperes, "A") if over else None
    s.evidence.extra.append(Finding("ICC", outcome, problem, value=drawn, state=CUT_OFF if over else "", weight=weight))
    s.device.clear_faults()
    s.give_up(problem)


def within_reach(s: State) -> float:
    """Chip current up to which the fixture's trip surely lets a chip draw, in amperes."""
    trip = s.fixture.raw["trip"]["total_ma"] / 1000
    standing = s.fixture.raw["supply"]["nominal_v"] / s.fixture.resistor("pedestal").typ
    return float(trip * TRIP_SHARE - standing - len(s.where.supplies) * power.base_current(s.fixture))


def rough_current(s: State, icc_volts: float) -> float:
    """Chip current for a sentence, from the volts that an event reports."""
    zeros = [r for r in s.zero.readings if r.code is not None]
    zero = sum(s.model.volts_value(r) for r in zeros) / max(len(zeros), 1)
    return max(0.0, (icc_volts - zero) / value(s.model.icc_gain()) - value(s.zero.less))


POWER_LOST = (
    "Power was taken away once in the middle of a stage and the stage, played again, went through: a moment's fault of the fixture, its supply or a "
    "contact, or of the chip; measure it again to be sure."
)


def powered(s: State, stage: Callable[[State], None]) -> None:
    """Play a stage; a pin that met contention loses its strong line, and the stage is played anew.

    It is also played once more after a trip: the firmware takes every loss of power behind its back for one, and what stood still for
    a moment need not be the chip.  One that draws too much trips again.  After a silence of this program, which says nothing about
    chip or fixture, the stage is played again some times more.
    """
    tripped, tries = False, 0
    s.silences = 0
    while tries < SAFE_RETRIES:
        try:
            stage(s)
        except PassFault as fault:
            if fault.silent:
                s.after_silence()
                switch_on(s)
                continue
            tries += 1
            fight = fault.of_kind(EventKind.CONTENTION, EventKind.NOT_VERIFIED)
            if not fight and (tripped or not fault.of_kind(EventKind.OVER_CURRENT)):
                no_power(s, fault)
            s.device.clear_faults()
            if fight:
                s.lost_strong(fight.position, FORCED)
            tripped = tripped or not fight
            switch_on(s)
        else:
            if tripped:
                s.evidence.notes.append(POWER_LOST)
            return
    s.give_up("The chip fights the levels on its inputs again and again; the test was broken off.")
