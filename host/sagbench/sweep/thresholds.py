"""The stage that finds the thresholds of inputs.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from sagbench.judge import logic as judge
from sagbench.judge.limits import pin_name
from sagbench.measure import thresholds as measure
from sagbench.parts.behaviour import Network
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import file_names, load_file
from sagbench.parts.model import Part
from sagbench.plan import inputs as plan_inputs
from sagbench.plan import thresholds as plan
from sagbench.plan.recipe import Readings, Recipe
from sagbench.sweep.power import powered
from sagbench.sweep.state import State


def network(part: Part) -> Network:
    """The part's behaviour, from its own file."""
    path = file_names()[part.function] if part.origin == "library" else part.origin
    return Network(load_file(path).of(part.family or PLAIN))


def thresholds(s: State) -> None:
    """Each input that an output answers at once; those that did not answer near the usual voltage once more, widely."""
    tied = {c.pin for c in s.evidence.contact.shorted}
    pins = [*plan_inputs.measured(s.part, s.drive, tied), *(s.drive.shared & s.drive.lines.keys() - tied)]
    wrong = {a.pin for a in s.evidence.plays[0][1] if judge.is_right(s.part, a) is False} if s.evidence.plays else set()
    heavy = {pin for pin in pins if not plan.reachable(s.part, pin)}
    pins = [pin for pin in pins if pin not in heavy]
    behaviour = network(s.part)
    watched = plan.watchable(s.part, wrong | tied | s.evidence.contact.spoilt)
    toggles = plan.find_toggles(s.part, behaviour, pins, watched)
    for wide in (False, True):
        left = [t for t in toggles if (t.pin, t.rising) not in s.figures.thresholds]
        left = [t for t in left if not wide or plan.may_be_wider(s.fixture, s.part, t)]
        if left:
            powered(s, partial(_ramps, toggles=left, memory=bool(behaviour.registers), wide=wide))
    _say_what_is_missing(s, heavy, plan.untold(pins, toggles), toggles)


def _say_what_is_missing(s: State, heavy: set[int], untold: Sequence[int], toggles: Sequence[plan.Toggle]) -> None:
    silent = {t for t in toggles if (t.pin, t.rising) not in s.figures.thresholds}
    falling = {t.pin for t in silent if not t.rising and (t.pin, True) in s.figures.thresholds}
    for pins, what, why in (
        (set(untold), "input threshold", "no output answers it at once"),
        (heavy, "input threshold", "it delivers more current than the level drive takes"),
        (
            {t.pin for t in silent} - falling,
            "input threshold",
            "its output did not answer within the level drive's reach",
        ),
        (falling, "falling input threshold", "it is below what the level drive can pull it down to"),
    ):
        if pins:
            s.evidence.gaps.append(f"the {what} of {', '.join(pin_name(s.part, pin) for pin in sorted(pins))}: {why}")


def _ramps(s: State, toggles: Sequence[plan.Toggle], memory: bool, wide: bool) -> None:
    recipe = Recipe()
    plan.ramps(recipe, s.fixture, s.part, s.drive, s.where, toggles, memory=memory, wide=wide)
    readings = s.run(recipe)
    for index, toggle in enumerate(toggles):
        _take(s, readings, toggle, index, wide)


def _take(s: State, readings: Readings, toggle: plan.Toggle, index: int, wide: bool) -> None:
    code, k, vdac, ground = (readings.labelled(f"threshold{what}")[index] for what in (" code", "", " vdac", " ground"))
    first = plan.codes(s.fixture, s.part, toggle, wide)[0]
    sluggish = s.part.limits[toggle.pin].technology == "ttl" and not s.part.pin(toggle.pin).schmitt
    at_ground = s.model.pin_volts(ground) if ground.total is not None else s.ground
    figure = measure.threshold(s.model, measure.Ramp(code, k, vdac, first, plan.step_us(wide)), at_ground, sluggish)
    if figure:
        state = f"watched at {pin_name(s.part, toggle.watch)}"
        s.figures.thresholds[toggle.pin, toggle.rising] = figure, state
