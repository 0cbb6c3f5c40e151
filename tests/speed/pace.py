"""A stream of steps beside one request and one answer for each reading, over the same link in the same run.

The second is how a general-purpose I/O firmware driven by a host works: what is to be set and one conversion, its answer,
then the next.  Here a request is one frame of steps with nothing in it but that, its answer one frame of one reading, all
within one pass.  The host takes its turn each half millisecond of simulated time (USB serial adapters: each millisecond, or less
often), and the firmware waits half a millisecond for company before it sends a single reading.  What is left without any
such wait, on a line and a host that lose no time at all, is told besides: the bytes' own time and the firmware's work.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sagbench.device import Device, PassResult
from sagbench.parts import load_part
from sagbench.plan.seat import of_mask
from sagbench.sweep import sweep
from sagbench.wire import messages, steps
from sagbench.wire.layout import Step
from sagbench.wire.numbers import LineLevel, Source
from virtual_fixture.chips import load
from virtual_fixture.inproc import Fixture

from speed.sweeps import STARTED_S


BYTE_S = 10 / 500_000     # start, eight bits, stop


@dataclass(frozen=True)
class Pace:
    """Sums of codes of one pass as streamed and asked for one by one, conversions of each, and the simulated seconds taken.

    waitless_s: of one by one, the time of its bytes on the line and of its steps in the firmware alone.
    """

    conversions: int
    streamed_s: float
    one_by_one_s: float
    waitless_s: float
    streamed: tuple[int, ...]
    one_by_one: tuple[int, ...]

    @property
    def per_s(self) -> float:
        """Conversions a second, streamed."""
        return self.conversions / self.streamed_s

    @property
    def ratio(self) -> float:
        """How many times as fast as one by one without any wait."""
        return self.waitless_s / self.streamed_s

    @property
    def ratio_with_turns(self) -> float:
        """How many times as fast as one by one with the host's turns."""
        return self.one_by_one_s / self.streamed_s


def one_by_one(wanted: Iterable[Step]) -> Iterator[list[Step]]:
    """The requests that give every conversion of these steps by itself: what is set before it, node K, one conversion."""
    before: list[Step] = []
    load, ld = 0, LineLevel.OFF
    for step in wanted:
        if step.name == "sense":
            load, ld = step.arguments["load"], LineLevel(step.arguments["ld"])
        elif step.name != "scan":
            before += [step] if step.name in ("drive", "levels") else []
            continue
        for position in of_mask(step.arguments.get("mask", 0)):
            for _ in range(step.arguments["repeats"]):
                yield [*before, steps.sense(position, load, ld), steps.read(Source.K, 1)]
                before = []


class _PromptLine:
    """The serial line without the millisecond that an adapter waits before it hands bytes on; it counts bytes."""

    def __init__(self, fixture: Fixture) -> None:
        self.name, self.bytes = "prompt", 0
        self._fixture, self._line = fixture, fixture.line
        self.now, self.close = self._line.now, self._line.close

    def write(self, data: bytes) -> None:
        """Bytes to the device."""
        self.bytes += len(data)
        self._line.write(data)

    def read(self) -> bytes:
        """Run for the shortest time there is, half a millisecond; what has come."""
        self._fixture.run(BYTE_S)
        data = self._line.bench.read()
        self.bytes += len(data)
        return data


class _Both(Device):
    """Its first pass that is the logic test without load is played twice: as it is, and one by one."""

    fixture: Fixture
    line: _PromptLine
    pace: Pace | None = None

    def run_pass(self, sequence: Iterable[Step], **options: Any) -> PassResult:
        wanted = [*sequence]
        names = {step.name for step in wanted}
        begun = self.fixture.now_s
        result = super().run_pass(wanted, **options)
        if self.pace is None and {"levels", "scan"} <= names and not {"load", "settle"} & names:
            streamed_s, begun = self.fixture.now_s - begun, self.fixture.now_s
            before = self.line.bytes
            codes = self._asked(one_by_one(wanted))
            taken, carried = self.fixture.now_s - begun, self.line.bytes - before
            work = super().run_pass([step for request in one_by_one(wanted) for step in request]).elapsed_us / 1e6
            repeats = [s.arguments["repeats"] for s in wanted if s.name == "scan" for _ in range(s.readings)]
            each = iter(codes)
            sums = tuple(sum(next(each) for _ in range(n)) for n in repeats)
            streamed = tuple(code for code in result.readings if code is not None)
            self.pace = Pace(len(codes), streamed_s, taken, carried * BYTE_S + work, streamed, sums)
        return result

    def _asked(self, requests: Iterable[list[Step]]) -> list[int]:
        """The single reading of each request; the next one goes out when it has come."""
        self._pass_id += 1
        self._link.send(messages.PassBegin(self._pass_id), self._transport.now())
        codes: list[int] = []
        for count, request in enumerate(requests, start=1):
            self._link.send(messages.Steps(b"".join(step.code for step in request)), self._transport.now())
            while len(codes) < count:
                codes += [code for m in self._pump() if isinstance(m, messages.Readings) for code in m.sums]
        self._link.send(messages.Steps(steps.end().code), self._transport.now())
        while not any(isinstance(m, messages.PassDone) for m in self._pump()):
            pass
        return codes


def pace(marking: str = "74181") -> Pace:
    """The logic test without load of a sound chip, in the middle of its sweep."""
    with Fixture(1) as fixture:
        fixture.insert(load({"part": marking}, seed=1))
        fixture.run(STARTED_S)
        _Both.fixture, _Both.line = fixture, _PromptLine(fixture)
        with _Both(_Both.line) as device:
            sweep(device, load_part(marking))
            assert device.pace
            return device.pace
