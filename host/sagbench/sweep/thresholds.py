"""The stage that finds the thresholds of inputs.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from sagbench.judge import logic as judge
from sagbench.judge.limits import listed, pin_name
from sagbench.measure import captures as measure_captures
from sagbench.measure import thresholds as measure
from sagbench.parts.lookup import network_of
from sagbench.plan import captures
from sagbench.plan import inputs as plan_inputs
from sagbench.plan import thresholds as plan
from sagbench.plan.level import volts_of
from sagbench.plan.recipe import Readings, Recipe
from sagbench.sweep.power import powered
from sagbench.sweep.state import State


def thresholds(s: State) -> None:
    """Each input that an output answers at once; those that did not answer near the usual voltage once more, widely."""
    tied = {c.pin for c in s.evidence.contact.shorted}
    pins = [*plan_inputs.measured(s.part, s.drive, tied), *(s.drive.shared & s.drive.lines.keys() - tied)]
    wrong = {a.pin for a in s.evidence.plays[0][1] if judge.is_right(s.part, a) is False} if s.evidence.plays else set()
    heavy = {pin for pin in pins if not plan.reachable(s.part, pin)}
    pins = [pin for pin in pins if pin not in heavy]
    behaviour = network_of(s.part)
    watched = plan.watchable(s.part, wrong | tied | s.evidence.contact.spoilt)
    toggles = plan.find_toggles(s.part, behaviour, pins, watched)
    for wide in (False, True):
        left = [t for t in toggles if (t.pin, t.rising) not in s.figures.thresholds]
        left = [t for t in left if not wide or plan.may_be_wider(s.fixture, s.part, t)]
        if left:
            powered(s, partial(_ramps, toggles=left, memory=bool(behaviour.registers), wide=wide))
    untold = plan.untold(pins, toggles)
    caught = captures.find_captures(s.part, behaviour, untold, watched)
    if caught:
        powered(s, partial(_clocked_in, caught=caught))
    s.evidence.untold = {*untold} - {one.pin for one in caught}
    _say_what_is_missing(s, heavy, caught, toggles)


def _clocked_in(s: State, caught: Sequence[captures.Capture]) -> None:
    """Thresholds of inputs that are clocked in: each span's ends, then it is halved, all inputs in each pass."""
    searches = [captures.Search(one, captures.spans(s.fixture, s.part, one.pin)) for one in caught]
    found: dict[captures.Capture, list[measure_captures.Trial]] = {one: [] for one in caught}
    level = 0
    while codes := {search.capture: code for search in searches if (code := search.next()) is not None}:
        codes = dict(sorted(codes.items(), key=lambda item: abs(item[1] - level)))  # a level that moves little is soon there
        answers = _trials(s, codes, level)
        level = [*codes.values()][-1]
        for search in searches:
            if search.capture in codes:
                tried = answers[search.capture]
                search.told(None if tried is None else tried.as_high)
                if tried is not None:
                    found[search.capture].append(tried)
    for search in searches:
        one = search.capture
        if search.found and (figure := measure_captures.threshold(found[one])):
            s.figures.thresholds[one.pin, True] = figure, f"clocked in, seen at {pin_name(s.part, one.watch)}"


def _trials(
    s: State, codes: Mapping[captures.Capture, int], level: int
) -> dict[captures.Capture, measure_captures.Trial | None]:
    """level: the code that the drive has before."""
    recipe = Recipe()
    captures.trials(recipe, s.fixture, s.part, s.drive, s.where, codes, level)
    readings = s.run(recipe)
    k, vdac, ground, answer = (readings.labelled(f"trial{what}") for what in ("", " vdac", " ground", " answer"))
    out: dict[captures.Capture, measure_captures.Trial | None] = {}
    for index, one in enumerate(codes):
        seen = answer[index]
        read = "?" if seen.total is None else judge.level(s.part, one.watch, s.model.pin_level(seen) - s.ground_v)
        as_high = (read == "H") is one.when_high
        out[one] = None if read == "?" else measure_captures.trial(s.model, k[index], vdac[index], ground[index], as_high)
    return out


def _say_what_is_missing(
    s: State, heavy: set[int], caught: Sequence[captures.Capture], toggles: Sequence[plan.Toggle]
) -> None:
    silent = {t for t in toggles if (t.pin, t.rising) not in s.figures.thresholds}
    falling = {t.pin for t in silent if not t.rising and (t.pin, True) in s.figures.thresholds}
    plain = {pin for pin in falling if not s.part.pin(pin).schmitt}
    for pins, what, why in (
        (s.evidence.untold, "input threshold", "no output tells what is read there"),
        (heavy, "input threshold", "more current is delivered there than the level drive takes"),
        (
            ({t.pin for t in silent} | {c.pin for c in caught if (c.pin, True) not in s.figures.thresholds}) - falling,
            "input threshold",
            "no output answered within the level drive's reach",
        ),
        (falling - plain, "falling input threshold", "below what the level drive can pull down to"),
    ):
        if pins:
            s.evidence.gaps.append(f"the {what} of {listed(pin_name(s.part, pin) for pin in sorted(pins))}: {why}")


def _ramps(s: State, toggles: Sequence[plan.Toggle], memory: bool, wide: bool) -> None:
    recipe = Recipe()
    plan.ramps(recipe, s.fixture, s.part, s.drive, s.where, toggles, memory=memory, wide=wide)
    readings = s.run(recipe)
    before = 0.0
    for index, (toggle, settle_us) in enumerate(zip(toggles, plan.settling(s.fixture, s.part, toggles, wide), strict=True)):
        before = _take(s, readings, toggle, index, wide, settle_us, before)


def _take(s: State, readings: Readings, toggle: plan.Toggle, index: int, wide: bool, settle_us: int, before: float) -> float:
    """One ramp's threshold. before: the level in volts when the ramp's first code was set. Returns that in which it ended."""
    code, k, vdac, ground = (readings.labelled(f"threshold{what}")[index] for what in (" code", "", " vdac", " ground"))
    first, last = plan.codes(s.fixture, s.part, toggle, wide)
    sluggish = s.part.limits[toggle.pin].technology == "ttl" and not s.part.pin(toggle.pin).schmitt
    at_ground = s.model.pin_volts(ground) if ground.total is not None else s.ground
    ramp = measure.Ramp(code, k, vdac, first, plan.step_us(wide), settle_us + plan.stays_us(s.fixture, last), before)
    figure = measure.threshold(s.model, ramp, at_ground, sluggish)
    if figure:
        state = f"watched at {pin_name(s.part, toggle.watch)}"
        s.figures.thresholds[toggle.pin, toggle.rising] = figure, state
    return volts_of(s.fixture, last) if vdac.total is None else s.model.volts_value(vdac)
