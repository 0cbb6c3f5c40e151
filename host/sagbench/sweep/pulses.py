"""The stage that times a monostable's pulses.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from sagbench.judge import pulses as judge
from sagbench.judge.limits import pin_name
from sagbench.measure import pulses as measure
from sagbench.parts.model import PulseTest
from sagbench.plan import pulses as plan
from sagbench.plan.fixture import LoadPoint
from sagbench.plan.recipe import Recipe
from sagbench.record import Contact
from sagbench.sweep.power import powered
from sagbench.sweep.state import State


def pulse_widths(s: State) -> None:
    """Each way to trigger that the part's file names; what cannot be tried is judged as not measured."""
    bad = {c.pin for c in s.evidence.contact.pins if c.contact in (Contact.OPEN, Contact.SHORTED)} | s.evidence.contact.spoilt
    for index, test in enumerate(s.part.pulses):
        point = plan.timing_point(s.fixture, test.ohm)
        undriven = [pin for pin in test.ready if not s.drive.lines.get(pin)]
        if point is None:
            s.evidence.gaps.append(
                f"the pulse at {pin_name(s.part, test.output)}: the fixture has no timing resistor that its data book allows"
            )
        elif not undriven and not plan.pins_of(test) & bad:
            powered(s, partial(_time, index=index, test=test, point=point))


def _time(s: State, index: int, test: PulseTest, point: LoadPoint) -> None:
    recipe = Recipe()
    plan.fire(recipe, s.part, s.drive, test, point)
    where = s.seat.position(test.timing), s.seat.position(test.output)
    found = measure.timed(s.model, test, point, s.run(recipe), where)
    if found is None:
        return
    if found.width and test.retriggers is not None and (again := plan.second_trigger(found.length)):
        recipe = Recipe()
        plan.fire(recipe, s.part, s.drive, test, point, again)
        found = replace(found, prolonged=measure.prolonged(found, again, s.run(recipe)))
    s.evidence.pulses[index] = found
    if found.width:
        state = f"{judge.trigger(s.part, test)}, {found.width.state}"
        s.figures.widths.append((test.output, replace(found.width, state=state)))
