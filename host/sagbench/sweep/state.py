"""What a sweep knows while it is under way, and how it runs passes.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib import metadata
from typing import NoReturn

from sagbench.device import TRIES, Device, too_slow
from sagbench.errors import DeviceError, TooManyPins
from sagbench.judge.contact import nothing_known
from sagbench.judge.evidence import Evidence
from sagbench.judge.limits import pin_name
from sagbench.judge.technology import CMOS, TTL, marked
from sagbench.measure.figures import Figures
from sagbench.measure.model import Model, Priors
from sagbench.measure.supply import Zero
from sagbench.measure.uncertain import Uncertain, exact, value
from sagbench.parts.model import Part
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import S_LINE, Fixture, fixture_of
from sagbench.plan.loads import bearable
from sagbench.plan.rails import rails
from sagbench.plan.recipe import Reading, Readings, Recipe, pair
from sagbench.plan.resting import resting
from sagbench.plan.seat import Seat
from sagbench.record import NOT_SEATED, Finding, FixtureRecord, Outcome, Timing
from sagbench.wire.messages import Event
from sagbench.wire.numbers import EventKind, PassStatus

Progress = Callable[[str, int, int], None]
NO_SERIAL = 0xFFFFFFFF
COUNTED = ("lines", "length", "count")  # readings that are no sums of codes


@dataclass(frozen=True)
class Options:
    """How to sweep. `priors`: calibration data of this fixture, if there is any."""

    priors: Priors | None = None
    repeats: int = 4  # conversions a precise reading


class PassFault(Exception):
    """A safety rule has ended the pass and the chip is without power: a result, handled within the sweep."""

    def __init__(self, events: Sequence[Event]) -> None:
        super().__init__(", ".join(e.kind.name.lower() for e in events))
        self.events = tuple(events)

    def of_kind(self, *kinds: EventKind) -> Event | None:
        """The first event of these kinds."""
        return next((e for e in self.events if e.kind in kinds), None)

    @property
    def silent(self) -> bool:
        """True if the fixture had only not heard this program for a moment: nothing the chip did."""
        return self.of_kind(EventKind.SILENCE) is not None


class Unpowerable(Exception):
    """The sweep cannot go on with power; the sentence is in the evidence."""


class State:
    """One sweep under way. Each stage leaves what it has found in `evidence`."""

    def __init__(self, device: Device, part: Part, marking: str, progress: Progress, options: Options) -> None:
        self.device, self.part, self.progress, self.options = device, part, progress, options
        self.fixture: Fixture = fixture_of(device.info.wiring_id)
        if part.pin_count > max(self.fixture.sizes):
            raise TooManyPins(
                f"A {part.name} has {part.pin_count} pins; this fixture's socket takes {max(self.fixture.sizes)} "
                f"({self.fixture.name})."
            )
        self.seat = Seat(self.fixture.positions, part.pin_count)
        self.where = rails(self.fixture, part, self.seat)
        self.model = Model(self.fixture, options.priors)
        self.marking = marking
        self.evidence = self.blank()
        self.drive = plan_drive(self.fixture, part, self.seat)
        self.not_strong: set[int] = set()  # pins that lost the right to be driven by S
        self.figures = Figures()
        self.ground = exact(0.0)  # volts of the chip's ground pin, powered and at rest,
        self.rest_a = 0.0  # and the amperes it draws then; best estimate
        self.drops: Mapping[int, float | None] = {}  # seen from the ground position when the sweep began
        self.quiet: dict[str, Uncertain] = {}  # CMOS supply current by state, through the weak load
        self.zero = Zero(())
        self.seen_zero: tuple[Reading, ...] = ()  # the zero through the closed switch
        self.rail_code = 0.0  # the 2.5 V reference against AVcc when the sweep began; 0: not read
        self.rail_v = 0.0  # and the rail in volts; best estimate
        self.powered_code = 0.0  # the same reference while the chip was powered, last
        self.common: Reading | None = None  # the level drive's level that all references see, against AVcc
        self.technology = marked(part)  # of the silicon; what is marked until the chip has answered without load
        self.wide = False  # ICC against avcc: the chip draws much
        self.events: tuple[Event, ...] = ()  # of the last pass
        self.silences = 0  # so often in a row the fixture took the power away because it heard nothing
        self._passes = self._conversions = self._us = 0
        self._begun_ms = 0

    @property
    def strange(self) -> bool:
        """True for a channel that is marked as a bipolar part: not to be loaded as one."""
        return self.technology == CMOS and marked(self.part) == TTL

    @property
    def loading(self) -> Fixture:
        """The fixture with the load points that this silicon bears."""
        return bearable(self.fixture) if self.strange else self.fixture

    @property
    def ground_v(self) -> float:
        """Best estimate of the chip's ground pin, in volts."""
        return value(self.ground)

    def supply_at(self, amperes: float) -> Uncertain:
        """Volts between the chip's own supply and ground pins when it draws so much, from those at rest."""
        seen = self.evidence.supply_volts
        at_rest = self.model.rail if seen is None else seen
        return at_rest - (amperes - self.rest_a) * (self.model.supply_path() + self.model.ground_path())

    def blank(self) -> Evidence:
        """Evidence of which nothing is known yet."""
        info = self.device.info
        fixture = FixtureRecord(
            self.fixture.name,
            NO_SERIAL if info.serial is None else info.serial,
            info.wiring_id,
            info.firmware,
            info.api_level,
            info.port,
            self.model.priors.origin,
        )
        try:
            version = metadata.version("sagbench")
        except metadata.PackageNotFoundError:
            version = "unknown"
        started = datetime.now(UTC).isoformat(timespec="seconds")
        unknown = nothing_known(self.part, "")
        return Evidence(self.part, self.seat, self.marking, started, version, fixture, unknown, resting(self.part))

    def disown(self, why: str) -> None:
        """Go on without the calibration, before anything has been measured by it; `why` goes into the record."""
        self.model = Model(self.fixture, Priors(origin=f"none: {why}; data-book tolerances assumed"))
        self.evidence.fixture = replace(self.evidence.fixture, calibration=self.model.priors.origin)
        self.evidence.notes.append(f"{why[0].upper()}{why[1:]}.")

    def begin(self) -> None:
        """Latched faults of an earlier chip are cleared; the device's clock starts the sweep's time."""
        state = self.device.state()
        if state.faults:
            state = self.device.clear_faults()
        self._begun_ms = state.uptime_ms

    def timing(self) -> Timing:
        """Passes and time so far, by the device's clock."""
        total_ms = (self.device.state().uptime_ms - self._begun_ms) % 2**32
        return Timing(self._passes, self._conversions, self._us / 1e6, total_ms / 1000)

    def run(self, recipe: Recipe) -> Readings:
        """One pass. Raises PassFault if a safety rule ended it, DeviceError if it could not be."""
        result = self.device.run_pass(recipe.finish())
        self._passes += 1
        self._conversions += result.conversions
        self._us += result.elapsed_us
        self.events = result.events
        if result.status == PassStatus.FAULT:
            raise PassFault(result.events)
        if result.status != PassStatus.COMPLETE:
            raise DeviceError(
                f"The fixture ended a pass ({result.status.name.lower()}"
                f"{''.join(f', {e.kind.name.lower()} {e.value}' for e in result.events)}): "
                "host and firmware may be of different versions."
            )
        readings = _with_shorts(recipe, result.readings, result.events)
        if any(
            r.code is not None and r.code >= self.fixture.full_scale and r.mark.what not in COUNTED for r in readings.all
        ):
            raise DeviceError(
                "The fixture sent a reading beyond its converter's scale: "
                "host and firmware may be of different versions."
            )
        for rail in readings.labelled("rail now"):
            if rail.code:
                self.model.learn_rail(rail)
                self.powered_code = rail.code
        return readings

    def after_silence(self) -> None:
        """What a silence of this program has ended may be tried again, but not for ever.  Raises DeviceError."""
        self.silences += 1
        if self.silences >= TRIES:
            raise too_slow(self.device.info.port)
        self.device.clear_faults()

    def give_up(self, problem: str, *, seated: bool = True) -> NoReturn:
        """End what needs power; the sentence says why."""
        self.evidence.problem = problem
        if not seated:
            self.evidence.partial = NOT_SEATED
        raise Unpowerable

    def plan_drive(self) -> None:
        """Choose input lines anew, after what contact check and faults have shown."""
        report = self.evidence.contact
        self.drive = plan_drive(
            self.fixture, self.part, self.seat, held=report.held, weak=report.weak | frozenset(self.not_strong)
        )

    def lost_strong(self, position: int, what: str) -> None:
        """A pin that S cannot hold is driven by M only from now on; a finding, unless it may deliver so much."""
        pin = self.seat.pin_at(position)
        if not pin or pin in self.not_strong:
            return
        self.not_strong.add(pin)
        name = pin_name(self.part, pin)
        if self._too_much(pin):
            report = self.evidence.contact
            self.evidence.contact = replace(report, stuck={**report.stuck, pin: True})
            self.evidence.gaps.append(
                f"{name}: what needs it low was not seen: it may deliver more current then than this fixture can take, and stays high"
            )
        else:
            self.evidence.extra.append(Finding("input", Outcome.BEYOND, f"{name} {what}", pin, weight=60))
        self.plan_drive()

    def _too_much(self, pin: int) -> bool:
        """True if a sound pin's input current can lift S above the level that `verify` takes for low."""
        raw = self.fixture.raw
        low = raw["code"]["verify_low_max"] / self.fixture.full_scale * raw["supply"]["min_v"]
        return bool(self.most_when_low(pin) * self.fixture.line_ohm(S_LINE) > low)

    def most_when_low(self, pin: int) -> float:
        """The most that a sound part's input may deliver when low, amperes (magnitude): IIL of its unit loads."""
        limits = self.part.limits.get(pin)
        return -limits.iil.value * self.part.pin(pin).low_unit_loads if limits else 0.0


def _with_shorts(recipe: Recipe, sums: Sequence[int | None], events: Sequence[Event]) -> Readings:
    """Readings of a pass; where `load` saw a short, the one conversion it looked at is the reading."""
    marks, totals = list(recipe.marks), list(sums)
    for event in events:
        if event.kind == EventKind.SHORT and event.reading < len(totals):
            marks[event.reading] = replace(marks[event.reading], repeats=1)
            totals[event.reading] = event.value
    return pair(marks, totals)
