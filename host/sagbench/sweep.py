"""One sweep of one chip: the only module that joins plan, device, measure and judge.

    contact check, unpowered -> rail and references -> zero of ICC -> power -> supply current in each static state
    -> logic test unloaded -> the same under each load -> load lines -> power off

Whatever happens, the chip is without power at the end.

    record = sweep(device, load_part("74LS04"))

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib import metadata

from sagbench.device import Device
from sagbench.errors import DeviceError, TooManyPins
from sagbench.judge import contact as judge_contact
from sagbench.judge import logic as judge_logic
from sagbench.judge.evidence import Evidence, assemble
from sagbench.judge.limits import in_amperes, pin_name
from sagbench.measure import contact as measure_contact
from sagbench.measure.line import fine_enough, load_lines
from sagbench.measure.model import Model, Priors, Uncertain, value
from sagbench.measure.supply import chip_current, choose_zero, finer
from sagbench.parts.model import Part, Role
from sagbench.plan import contact as plan_contact
from sagbench.plan import inputs, loads, logic, power
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import Fixture, LoadPoint, fixture_of
from sagbench.plan.lines import plan_lines, reread_low
from sagbench.plan.logic import LineReading
from sagbench.plan.recipe import Readings, Recipe, pair
from sagbench.plan.seat import Seat
from sagbench.record import Finding, FixtureRecord, Outcome, SweepRecord, Timing
from sagbench.wire.messages import Event
from sagbench.wire.numbers import EventKind, PassStatus, Reference

Progress = Callable[[str, int, int], None]
STAGES = ("contact", "power", "supply current", "logic", "input currents", "load lines")
COMMON_V = 0.93                 # the level read under AVcc and the 1.1 V reference: below that one's least, 1.0 V
NO_SERIAL = 0xFFFFFFFF
SAFE_RETRIES = 2                # a contention costs its pin the strong line; then the stage is played again


@dataclass(frozen=True)
class Options:
    """How to sweep. `priors`: calibration data of this fixture, if there is any."""

    priors: Priors | None = None
    repeats: int = 4            # conversions a precise reading


class PassFault(Exception):
    """A safety rule has ended the pass and the chip is without power: a result, handled within the sweep."""

    def __init__(self, events: Sequence[Event]) -> None:
        super().__init__(", ".join(e.kind.name.lower() for e in events))
        self.events = tuple(events)

    def of_kind(self, *kinds: EventKind) -> Event | None:
        """The first event of these kinds."""
        return next((e for e in self.events if e.kind in kinds), None)


class Unpowerable(Exception):
    """The sweep cannot go on with power; the sentence is in the evidence."""


def sweep(device: Device, part: Part, *, marking: str = "", progress: Progress | None = None,
          options: Options | None = None) -> SweepRecord:
    """Measure and judge one chip.

    progress is called with (stage, done, total).  Ctrl-C gives a record marked as partial.
    Raises TooManyPins, DeviceError (supply outside its span, the fixture refuses), LinkError.
    """
    return Sweep(device, part, marking, progress or (lambda *_: None), options or Options()).run()


class Sweep:
    """The state of one sweep. Stages in order; each leaves what it has found in `evidence`."""

    def __init__(self, device: Device, part: Part, marking: str, progress: Progress, options: Options) -> None:
        self.device, self.part, self.progress, self.options = device, part, progress, options
        self.fixture: Fixture = fixture_of(device.info.wiring_id)
        if part.pin_count > max(self.fixture.sizes):
            raise TooManyPins(f"A {part.name} has {part.pin_count} pins; this fixture's socket takes {max(self.fixture.sizes)}.")
        self.seat = Seat(self.fixture.positions, part.pin_count)
        self.where = power.rails(self.fixture, part, self.seat)
        self.model = Model(self.fixture, options.priors)
        self.evidence = self._blank(marking)
        self.drive = plan_drive(self.fixture, part, self.seat)
        self.not_strong: set[int] = set()                       # pins that lost the right to be driven by S
        self.ground_v = 0.0
        self.quiet: dict[str, Uncertain] = {}                   # CMOS supply current by state, through the weak load
        self._passes = self._conversions = self._us = 0
        self._events: tuple[Event, ...] = ()                    # of the last pass
        self._begun = time.monotonic()

    def _blank(self, marking: str) -> Evidence:
        info = self.device.info
        fixture = FixtureRecord(self.fixture.name, NO_SERIAL if info.serial is None else info.serial, info.wiring_id,
                                info.firmware, info.api_level, info.port, self.model.priors.origin)
        try:
            version = metadata.version("sagbench")
        except metadata.PackageNotFoundError:
            version = "unknown"
        started = datetime.now(UTC).isoformat(timespec="seconds")
        return Evidence(self.part, self.seat, marking, started, version, fixture,
                        judge_contact.nothing_known(self.part, ""))

    # ------------------------------------------------------------------ the way
    def run(self) -> SweepRecord:
        """All stages; the record is made of what they got to."""
        stages = (self.contact, self.power_up, self.supply, self.logic, self.inputs, self.load_lines)
        try:
            if self.device.state().faults:
                self.device.clear_faults()
            for index, (name, stage) in enumerate(zip(STAGES, stages, strict=True)):
                self.progress(name, index, len(stages))
                stage()
            self._switch_off()
        except Unpowerable:
            self._switch_off()
        except KeyboardInterrupt:
            self.device.halt()
            self.evidence.partial = "interrupted by the user"
        except PassFault as fault:
            self.device.halt()
            raise DeviceError(f"The fixture broke off by a safety rule ({fault}) where no chip can be the cause: "
                              "reset it, and see that its registers and switches are fitted as the wiring says.") from None
        except DeviceError:
            self.device.halt()
            raise
        self.progress("done", len(stages), len(stages))
        total = time.monotonic() - self._begun
        self.evidence.timing = Timing(self._passes, self._conversions, self._us / 1e6, total)
        return assemble(self.evidence)

    def _switch_off(self) -> None:
        """Power off and discharge."""
        recipe = Recipe()
        recipe.power_off()
        self._run(recipe)

    def _run(self, recipe: Recipe) -> Readings:
        result = self.device.run_pass(recipe.finish())
        self._passes += 1
        self._conversions += result.conversions
        self._us += result.elapsed_us
        self._events = result.events
        if result.status == PassStatus.FAULT:
            raise PassFault(result.events)
        if result.status != PassStatus.COMPLETE:
            raise DeviceError(f"The fixture ended a pass ({result.status.name.lower()}"
                              f"{''.join(f', {e.kind.name.lower()} {e.value}' for e in result.events)}): "
                              "host and firmware may be of different versions.")
        return _with_shorts(recipe, result.readings, result.events)

    # ------------------------------------------------------------------ contact
    def contact(self) -> None:
        """Rail, references, and the unpowered chip."""
        recipe = Recipe()
        recipe.power_off()
        power.internal_reference(recipe, round(COMMON_V / self.fixture.raw["supply"]["nominal_v"] * self.fixture.full_scale))
        plan_contact.channels(recipe, self.fixture, [self.seat.position(p.number) for p in self.part.pins
                                                     if p.role not in (Role.SUPPLY, Role.GROUND)])
        power.rail(recipe)
        plan_contact.conduction(recipe, self.fixture, [self.where.ground])
        plan_contact.shorts(recipe, self.fixture, self.seat, self.where.ground)
        readings = self._run(recipe)
        self._learn_rail(readings)
        rail = value(self.model.rail)
        drops = measure_contact.drops(self.fixture, readings, self.where.ground, rail)
        if not judge_contact.looks_seated(self.part, self.seat, drops):
            self._look_for_it(rail)
        suspects = measure_contact.pulled_low(self.fixture, readings, "against all", rail)
        pairs: dict[int, set[int]] = {}
        if suspects:
            recipe = Recipe()
            plan_contact.pairs(recipe, self.fixture, self.seat, sorted(suspects))
            readings = self._run(recipe)
            for other in self.seat.positions:
                for position in measure_contact.pulled_low(self.fixture, readings, f"against {other}", rail):
                    pairs.setdefault(position, set()).add(other)
        self.evidence.contact = judge_contact.judge_contact(self.part, self.seat, drops, pairs)
        if self.evidence.contact.problem:
            self._give_up(self.evidence.contact.problem)
        self._plan_drive()

    def _learn_rail(self, readings: Readings) -> None:
        rail, = readings.labelled("rail")
        supply = self.fixture.raw["supply"]
        if not rail.code:
            raise DeviceError("The fixture's 2.5 V reference reads nothing: see that it is fitted the right way round.")
        self.model.learn_rail(rail)
        volts = value(self.model.rail)
        if not supply["min_v"] <= volts <= supply["max_v"]:
            raise DeviceError(f"The fixture's 5 V supply is {volts:.2f} V; it must be {supply['min_v']:.2f} to {supply['max_v']:.2f} V: "
                              "use another USB port, a shorter cable or a powered hub.")
        on_1v1, on_avcc = readings.labelled("common")
        self.model.learn_1v1(on_avcc, on_1v1)
        self.model.learn_channels(readings.labelled("channel"), readings.labelled("selector")[0])

    def _look_for_it(self, rail: float) -> None:
        """Not where it should be: raise every position in turn and see which seating explains what conducts."""
        recipe = Recipe()
        everywhere = range(1, self.fixture.positions + 1)
        plan_contact.conduction(recipe, self.fixture, everywhere)
        readings = self._run(recipe)
        rows = {p: measure_contact.drops(self.fixture, readings, p, rail) for p in everywhere}
        found, share = judge_contact.find_seating(self.part, self.seat, self.fixture.sizes, rows)
        if found == self.seat and share >= judge_contact.EXPLAINED:
            return
        problem = judge_contact.not_seated(self.part, self.seat, found, share)
        self.evidence.contact = judge_contact.nothing_known(self.part, problem)
        self._give_up(problem, seated=False)

    def _give_up(self, problem: str, *, seated: bool = True) -> None:
        self.evidence.problem = problem
        if not seated:
            self.evidence.partial = "not seated"
        raise Unpowerable

    def _plan_drive(self) -> None:
        report = self.evidence.contact
        self.drive = plan_drive(self.fixture, self.part, self.seat, held=report.held,
                                weak=report.weak | frozenset(self.not_strong))

    # ------------------------------------------------------------------ power
    def power_up(self) -> None:
        """The zero of ICC, then power; the rails at the chip's own pins."""
        if any(limits.technology == "cmos" for limits in self.part.limits.values()):
            self._quiescent()
        self._measure_zero(power.largest_limit(self.part) > power.WIDE_A)
        self._switch_on()

    def _quiescent(self) -> None:
        """CMOS: the supply current through the weak load, before the switches close."""
        recipe = Recipe()
        recipe.reference(Reference.AVCC)
        power.quiescent(recipe, self.part.supply_states, self.drive, self.where, self.fixture.point("weak").load)
        readings = self._run(recipe)
        for state in self.part.supply_states:
            for reading in readings.labelled(f"quiescent: {state.name}"):
                if reading.total is not None:
                    self.quiet[state.name] = self.model.selector_amperes(reading) + self.model.leakage()

    def _measure_zero(self, wide: bool) -> None:
        self.wide = wide
        switches = len(self.where.supplies)
        recipe = Recipe()
        power.zero_at_rest(recipe, wide=wide)
        rest = self._run(recipe)
        if not wide:
            self.model.learn_2v56(rest.labelled("reference")[0])
        recipe = Recipe()
        power.zero_switched(recipe, self.fixture, self.where, wide=wide)
        try:
            switched: Readings | None = self._run(recipe)
        except PassFault:                   # what draws without ground is found by the power check proper
            switched = None
            self.device.clear_faults()
        self.zero = choose_zero(self.model, switched, rest.labelled("rest"), switches)
        if self.zero.note:
            self.evidence.notes.append(self.zero.note)

    def _switch_on(self) -> None:
        """Power with the inputs low; pins that S cannot drive get M."""
        extra = loads.SHORTED_OUTPUT_A if self.evidence.contact.spoilt else 0.0
        limit = power.power_limit(self.fixture, self.part, len(self.where.supplies), extra_a=extra)
        recipe = Recipe()
        power.power_up(recipe, self.drive, self.where, limit)
        try:
            self._run(recipe)
        except PassFault as fault:
            self._no_power(fault)
        for event in self._events:
            if event.kind == EventKind.NOT_VERIFIED:
                self._lost_strong(event.position, "does not follow when it is driven: something in the chip holds it")
        recipe = Recipe()
        power.at_rest(recipe, self.drive, self.where)
        readings = self._run(recipe)
        ground, = readings.labelled("ground")
        supplies = [self.model.pin_volts(r) for r in readings.labelled("supply")]
        self.ground_v = value(self.model.pin_volts(ground))
        self.evidence.supply_volts = sum(supplies) / len(supplies) - self.model.pin_volts(ground)

    def _lost_strong(self, position: int, what: str) -> None:
        pin = self.seat.pin_at(position)
        if pin and pin not in self.not_strong:
            self.not_strong.add(pin)
            self.evidence.extra.append(Finding("input", Outcome.BEYOND, f"{pin_name(self.part, pin)} {what}", pin, weight=60))
            self._plan_drive()

    def _no_power(self, fault: PassFault) -> None:
        """Power did not come on, or was taken away: a finding, and the end of what needs power."""
        over, rails = fault.of_kind(EventKind.OVER_CURRENT), fault.of_kind(EventKind.RAIL_SHORT)
        if over:
            volts = over.value / self.fixture.full_scale * value(self.model.rail)
            amperes = self._rough_current(volts)
            problem = (f"{self.part.name} drew {in_amperes(amperes)} when power was applied, far more than it may; "
                       "power was taken away at once")
        elif rails:
            problem = f"{self.part.name}: supply and ground are as good as shorted; it was not powered"
        else:
            names = ", ".join(f"{e.kind.name.lower()} {e.value}" for e in fault.events)
            raise DeviceError(f"The fixture would not power the chip ({names}): reset it and see that its switches and "
                              "registers are fitted as the wiring says.")
        self.evidence.extra.append(Finding("ICC", Outcome.BEYOND, problem, weight=95))
        self.device.clear_faults()
        self._give_up(problem)

    def _rough_current(self, icc_volts: float) -> float:
        zeros = [r for r in self.zero.readings if r.code is not None]
        zero = sum(value(self.model.volts(r)) for r in zeros) / max(len(zeros), 1)
        return max(0.0, (icc_volts - zero) / value(self.model.icc_gain()) - value(self.zero.less))

    def _powered(self, stage: Callable[[], None]) -> None:
        """Play a stage; if a strong line met contention, that pin loses it, power comes on again and the stage is played anew."""
        for _ in range(SAFE_RETRIES):
            try:
                return stage()
            except PassFault as fault:
                fight = fault.of_kind(EventKind.CONTENTION, EventKind.NOT_VERIFIED)
                if not fight:
                    self._no_power(fault)
                else:
                    self.device.clear_faults()
                    self._lost_strong(fight.position, "was forced to the other level by the chip while it was driven")
                    self._switch_on()
        self._give_up("The chip fights the levels on its inputs again and again; the test was broken off.")

    # ------------------------------------------------------------------ measuring
    def supply(self) -> None:
        """Supply current in each static state."""
        self._powered(self._supply_states)
        if not self.wide and any(s.name not in self.evidence.icc for s in self.part.supply_states):
            recipe = Recipe()
            recipe.power_off()
            self._run(recipe)
            self._measure_zero(True)
            self._switch_on()
            self._powered(self._supply_states)

    def _supply_states(self) -> None:
        recipe = Recipe()
        power.supply_states(recipe, self.part.supply_states, self.drive, wide=self.wide)
        readings = self._run(recipe)
        for state in self.part.supply_states:
            amperes = chip_current(self.model, readings.labelled(state.name), self.zero)
            if amperes is not None:
                self.evidence.icc[state.name] = Model.quantity(finer(amperes, self.quiet.get(state.name)), "A")

    def logic(self) -> None:
        """The sequence unloaded, then at each load point."""
        points = loads.logic_points(self.fixture, self.part)
        for point in (None, *points):
            self._powered(lambda point=point: self._play(point))  # type: ignore[misc]
            self.progress(STAGES[3], STAGES.index(STAGES[3]), len(STAGES))

    def _play(self, point: LoadPoint | None) -> None:
        recipe, spoilt = Recipe(), self.evidence.contact.spoilt
        if point is None:
            logic.unloaded(recipe, self.fixture, self.part, self.drive)
        else:
            logic.loaded(recipe, self.part, self.drive, point,
                         lambda pin, up: loads.wants(self.fixture, self.part, pin, up, point), spoilt)
        readings = self._run(recipe)
        self._note_leakage(readings)
        answers = judge_logic.answers(self.part, self.seat, readings, value(self.model.rail), self.ground_v,
                                      self.fixture.full_scale)
        if self.evidence.contact.stuck:
            answers = judge_logic.without_consequences(self.part, answers, self.evidence.contact.stuck)
        self.evidence.plays.append(("open" if point is None else point.name, answers))

    def _note_leakage(self, readings: Readings) -> None:
        for reading in (*readings.labelled("off up"), *readings.labelled("off down")):
            if reading.total is not None:
                pin = self.seat.pin_at(reading.mark.position)
                amperes = Model.quantity(self.model.selector_amperes(reading) + self.model.leakage(), "A")
                if pin not in self.evidence.off or abs(amperes.value) > abs(self.evidence.off[pin].value):
                    self.evidence.off[pin] = amperes

    def inputs(self) -> None:
        """What each input takes when high and delivers when low."""
        self._powered(self._input_currents)

    def _input_currents(self) -> None:
        tied = {c.pin for c in self.evidence.contact.shorted}
        pins = inputs.measured(self.part, self.drive, tied)
        recipe = Recipe()
        inputs.high_currents(recipe, self.fixture, self.drive, pins)
        inputs.low_currents(recipe, self.drive, pins)
        readings = self._run(recipe)
        for label, into in (("high in", self.evidence.high_in), ("low in", self.evidence.low_in)):
            for reading in readings.labelled(label):
                if reading.total is not None and not (label == "low in" and self.model.saturated(reading)):
                    amperes = self.model.load_amperes(reading) + self.model.leakage()
                    into[self.seat.pin_at(reading.mark.position)] = Model.quantity(amperes, "A")

    def load_lines(self) -> None:
        """Each output, low and high, through its load points: first against AVcc, low levels again against 1.1 V."""
        plays = self.evidence.plays
        usable = {(a.step, a.pin) for a in plays[0][1] if judge_logic.is_right(self.part, a)}
        seen = {(a.step, a.pin): a.volts for _, answers in plays[1:] for a in answers if a.volts is not None}
        plan = plan_lines(self.fixture, self.part, usable, seen, self.evidence.contact.spoilt)
        self._powered(lambda: self._take_lines(plan))

    def _take_lines(self, plan: Sequence[LineReading]) -> None:
        recipe = Recipe()
        logic.lines(recipe, self.fixture, self.part, self.drive, self.where.ground, plan, Reference.AVCC, self.options.repeats)
        coarse = self._run(recipe)
        fits = fine_enough(self.model, self.seat, coarse)
        recipe = Recipe()
        logic.lines(recipe, self.fixture, self.part, self.drive, self.where.ground, reread_low(plan, fits),
                    Reference.V1V1, self.options.repeats)
        fine = self._run(recipe)
        self.evidence.lines = load_lines(self.model, self.seat, plan, (fine, coarse))


def _with_shorts(recipe: Recipe, sums: Sequence[int | None], events: Sequence[Event]) -> Readings:
    """Readings of a pass; where `load` saw a short, the one conversion it looked at is the reading."""
    marks, totals = list(recipe.marks), list(sums)
    for event in events:
        if event.kind == EventKind.SHORT and event.reading < len(totals):
            marks[event.reading] = replace(marks[event.reading], repeats=1)
            totals[event.reading] = event.value
    return pair(marks, totals)
