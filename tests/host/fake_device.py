"""A device that is nothing but the wire: each reading is its own index, so that order and loss show.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from sagbench.wire import messages, numbers, steps
from sagbench.wire.link import MAGIC, Link
from sagbench.wire.numbers import EventKind, Fault, PassStatus


class FakeDevice:
    """Call it as a peer of LoopTransport. `mute`: answers nothing more; `welcome`: fields to differ."""

    def __init__(self, **welcome: object) -> None:
        self.welcome = welcome
        self.mute = False
        self.fault_at: int | None = None        # step index at which a pass ends by a fault
        self.silences = 0                       # so many passes more are ended by silence once they have powered the chip, or find it powered
        self.missed = False                     # the fault is latched
        self.shorted: set[int] = set()          # positions whose load reading is not measured
        self.halts = self.hellos = 0
        self.born: float | None = 0.0           # host's time of its last reset; None: reset at the next bytes
        self.link: Link | None = None
        self.serial = numbers.API_LEVEL
        self._reset()

    def _reset(self) -> None:
        self.pass_id, self.running, self.done, self.readings, self.conversions = 0, False, 0, 0, 0
        self.powered = self.missed = False

    def __call__(self, data: bytes, now: float) -> bytes:
        if self.link is None:
            self.link = Link(host=False, now=now)
        if self.born is None:
            self.born, self.link = now, Link(host=False, now=now)
            self._reset()
        self.link.receive(data, now)
        for message in self.link.take(2, now=now):
            self._serve(message, now)
        out = self.link.poll(now)
        return b"" if self.mute else out

    def _serve(self, message: object, now: float) -> None:
        assert self.link
        if isinstance(message, messages.Hello):
            self.hellos += 1
            self._reset()
            fields = {"magic": MAGIC, "api_level": numbers.API_LEVEL, "nonce": message.nonce, "wiring_id": 7,
                      "serial": 0xFFFFFFFF, "version": 0x0102, "reset_cause": 1, "positions": 24, **self.welcome}
            self.link.send(messages.Welcome(**fields), now)  # type: ignore[arg-type]
        elif isinstance(message, messages.Halt):
            self.halts += 1
            self.powered = False
            if self.running:
                self._finish(PassStatus.HALTED, now)
            self._state(now)
        elif isinstance(message, messages.StateRequest | messages.ClearFaults):
            self.missed = self.missed and isinstance(message, messages.StateRequest)
            self._state(now)
        elif isinstance(message, messages.SerialSet):
            self.serial = message.serial
            self._state(now)
        elif isinstance(message, messages.PassBegin):
            kind = EventKind.BUSY if self.running else EventKind.PASS_REPEATED
            if self.running or message.pass_id == self.pass_id:
                self.link.send(messages.Event(message.pass_id, kind, 0, 0, 0), now)
                return
            self.pass_id, self.running, self.done, self.readings, self.conversions = message.pass_id, True, 0, 0, 0
            if self.missed:
                self._silence(now)
        elif isinstance(message, messages.Steps) and self.running:
            self._steps(message.code, now)

    def _steps(self, code: bytes, now: float) -> None:
        assert self.link
        for step in steps.parse(code):
            if self.done == self.fault_at:
                self.link.send(messages.Event(self.pass_id, EventKind.OVER_CURRENT, 0, 999, self.readings), now)
                return self._finish(PassStatus.FAULT, now)
            self.done += 1
            if step.readings:
                short = step.arguments.get("position") in self.shorted
                if short:
                    self.link.send(messages.Event(self.pass_id, EventKind.SHORT, step.arguments["position"], 3,
                                                  self.readings), now)
                sums = tuple(0xFFFF if short else (self.readings + i) % 65000 for i in range(step.readings))
                self.link.send(messages.Readings(self.pass_id, self.readings, sums), now)
                self.readings += step.readings
                self.conversions += step.readings * step.arguments.get("repeats", 1)
            self.powered = {"power_on": True, "power_off": False}.get(step.name, self.powered)
            if self.powered and self.silences:
                self.silences -= 1
                return self._silence(now)
            if step.name == "end":
                self._finish(PassStatus.COMPLETE, now)
        return None

    def _silence(self, now: float) -> None:
        assert self.link
        self.missed, self.powered = True, False
        self.link.send(messages.Event(self.pass_id, EventKind.SILENCE, 0, 0, self.readings), now)
        self._finish(PassStatus.FAULT, now)

    def _finish(self, status: PassStatus, now: float) -> None:
        assert self.link
        self.running = False
        self.link.send(messages.PassDone(self.pass_id, status, self.done, self.readings, self.conversions,
                                         104 * self.conversions), now)

    def _state(self, now: float) -> None:
        assert self.link
        self.link.send(messages.State(Fault.SILENCE if self.missed else Fault(0), int(self.powered), int(self.running), 1, 0, 0,
                                      self.link.damaged, 0, int((now - (self.born or 0.0)) * 1000)), now)
