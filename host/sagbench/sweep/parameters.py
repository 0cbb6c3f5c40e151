"""The stages that take the DC parameters of inputs: clamps (unpowered), currents.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import replace

from sagbench.judge.technology import TTL
from sagbench.measure import inputs as measure
from sagbench.measure.figures import measured
from sagbench.measure.model import Model
from sagbench.measure.uncertain import value
from sagbench.parts.definition import PLAIN
from sagbench.parts.ratings import table
from sagbench.plan import inputs as plan
from sagbench.plan.recipe import Reading, Readings, Recipe
from sagbench.record import Contact
from sagbench.sweep.power import powered
from sagbench.sweep.state import State

CLAMP_MA = -12  # at which data books limit the input clamp's voltage, where the family's table has no limit with its own current


def clamps(s: State) -> None:
    """Forward voltage of each input's clamp, with the chip unpowered; pins without contact or with a short are left."""
    if any(c.pin == s.part.ground.number and c.contact is not Contact.CONNECTED for c in s.evidence.contact.pins):
        return
    sound = {c.pin for c in s.evidence.contact.pins if c.contact is Contact.CONNECTED}
    pins = [pin for pin in plan.measured(s.part, s.drive, ()) if pin in sound and not s.part.is_resistor(pin)]
    recipe = Recipe()
    plan.clamps(recipe, s.fixture, s.where.ground, [s.seat.position(pin) for pin in pins])
    readings = s.run(recipe)
    for pin in pins:
        bipolar = s.part.limits[pin].technology == "ttl"
        amperes = _clamp_amperes(s.part.limits[pin].family) if bipolar else None
        if figure := measure.clamp(s.model, readings, s.seat.position(pin), amperes):
            s.figures.clamp[pin] = figure


def _clamp_amperes(family: str) -> float:
    """The current at which the data book limits the clamp's voltage, out of the pin."""
    limit = table(family or PLAIN).get("further", {}).get("vik_v", {})
    return -float(limit.get("ma", CLAMP_MA)) * 1e-3


def inputs(s: State) -> None:
    """What each input takes when high and delivers when low."""
    powered(s, input_currents)


def input_currents(s: State) -> None:
    """All of them, in one pass; pins with a short are left out."""
    tied = {c.pin for c in s.evidence.contact.shorted}
    pins = plan.measured(s.part, s.drive, tied)
    recipe = Recipe()
    plan.high_currents(recipe, s.fixture, s.drive, pins, finely=True)
    plan.rails_inputs_high(recipe, s.drive, s.where)
    plan.low_currents(recipe, s.fixture, s.part, s.drive, pins, s.technology)
    readings = s.run(recipe)
    if s.common:
        s.model.learn_1v1(s.common, *readings.labelled("common"))
    ground = s.ground
    finely = {pin: reading for pin in pins for reading in _at(s, readings, "high in, finely", pin)}
    found = {pin: measure.high_current(s.model, finely.get(pin), None, ground) for pin in pins}
    if lower := [pin for pin in pins if not found[pin]]:
        recipe = Recipe()
        plan.high_currents(recipe, s.fixture, s.drive, lower, finely=False)
        coarse = s.run(recipe).labelled("high in")
        found |= {s.seat.pin_at(r.mark.position): measure.high_current(s.model, None, r, ground) for r in coarse}
    above, below = (s.model.pin_volts(r) for r in readings.labelled("rails, inputs high"))
    supply = above - below
    for pin in pins:
        low = _at(s, readings, "low in", pin) + _at(s, readings, "low in, finely", pin)
        held = measure.held_by_lines(s.model, low, below)
        if on_level := _at(s, readings, "low in, level", pin):
            held += measure.held_by_level(s.model, on_level[0], on_level[1], below)
        if high := found[pin]:
            s.figures.high_in[pin] = high
            s.evidence.high_in[pin] = Model.quantity(high.number, "A")
        limits = s.part.limits[pin]
        bipolar = measure.drives_from(supply, limits.family) if s.technology == TTL else None
        if figure := measure.low_current(held, bipolar):
            s.figures.low_in[pin] = replace(figure, state=f"supply {value(supply):.3f} V")
            s.evidence.low_in[pin] = Model.quantity(figure.number, "A")


def _at(s: State, readings: Readings, label: str, pin: int) -> list[Reading]:
    position = s.seat.position(pin)
    return [r for r in readings.labelled(label) if r.mark.position == position]


def finish(s: State) -> None:
    """The whole set as the evidence has it."""
    s.figures.supply, s.figures.lines = s.evidence.supply_volts, s.evidence.lines
    s.evidence.measured = measured(s.part, s.figures)
