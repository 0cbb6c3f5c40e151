"""The fixture as the rest of the host sees it: connect, run a pass, ask how it is.

    with Device.connect(None) as device:
        result = device.run_pass([steps.sense(1, 1, LineLevel.HIGH), steps.read(Source.K, 16)])

The device powers the chip down by itself when it hears nothing for `silence_ms`, so whatever
happens here, the chip is safe.  On a line in real time a second thread speaks while the program
thinks.  A pass that ended because the program was late all the same says so (`silenced`); one
that began without power is simply run again.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import TracebackType
from typing import Any, Self

from sagbench.errors import DeviceError, FixtureError, LinkLost, NoDevice, NotOurs, WrongApiLevel
from sagbench.wire import messages, numbers, steps
from sagbench.wire.code import leaves_power, packed, powers
from sagbench.wire.layout import Message, Step
from sagbench.wire.link import MAGIC, Link
from sagbench.wire.numbers import EventKind, PassStatus
from sagbench.wire.presence import Presence
from sagbench.wire.serial import LiveTransport, SerialTransport, Transport, find_port

CONNECT = numbers.CONNECT_MS / 1000
LEASE = numbers.LEASE_MS / 1000
# A device that cannot be heard may hear: as long as this program talks it keeps the chip powered.  So no longer than the
# lease, and a keep-alive that was lost; a `hello` is then said, which takes the power away.
SILENCE = LEASE + numbers.KEEP_ALIVE_MS / 1000
ASK = numbers.HELLO_MS / 1000  # unnumbered questions are repeated after this
AGAIN = 4 * ASK                # patience with one that has fallen silent
NO_SERIAL = 0xFFFFFFFF
TRIES = 4                      # of what was ended by the host's silence; then the computer is too busy
RESETS = {1: "power-on", 2: "its reset line (the port was opened)", 4: "a supply too low", 8: "its watchdog"}  # MCUSR


@dataclass(frozen=True)
class Info:
    """Who the fixture is."""

    port: str
    api_level: int
    wiring_id: int
    wiring: str                # name of its wiring ("bench24"); "" if this program does not know it
    serial: int | None         # None if never set
    firmware: str              # "1.0"
    reset_cause: int           # MCUSR at its start
    positions: int


@dataclass(frozen=True)
class PassResult:
    """What a pass gave.

    readings: one a reading step's reading, in order, the sum of its conversions; None: not measured.
    """

    readings: tuple[int | None, ...]
    events: tuple[messages.Event, ...]
    status: PassStatus
    steps: int
    conversions: int
    elapsed_us: int

    @property
    def silenced(self) -> bool:
        """True if power was taken away because this program was not heard for a moment: nothing the chip did."""
        return any(event.kind is EventKind.SILENCE for event in self.events)


def unheard(port: str) -> DeviceError:
    """What to raise when silence of this program has ended, once, what cannot be taken up where it was."""
    return DeviceError(f"The fixture at {port} heard nothing of this program for {numbers.SILENCE_MS} ms and took the socket's power away, "
                       "so what was begun cannot be ended; that says nothing against the fixture. Start again; if it comes back, close "
                       "what keeps this computer busy.")


def too_slow(port: str) -> DeviceError:
    """What to raise when silence of this program has ended a thing TRIES times."""
    return DeviceError(f"The fixture at {port} heard nothing of this program for {numbers.SILENCE_MS} ms while the chip was powered and took "
                       "the power away, again and again; that says nothing against the chip. Close what keeps this computer busy, "
                       "give the fixture a USB port of its own and a good cable, and start again.")


class Device:
    """A fixture in session.  All methods raise LinkLost if it falls silent."""

    def __init__(self, transport: Transport, *, timeout: float | None = None) -> None:
        """Start a session over an open transport.  Raises NoDevice, NotOurs, WrongApiLevel."""
        self._transport = transport
        self._line = threading.RLock()     # one speaks at a time
        self._presence = Presence(self._speak)
        self._silence = max(SILENCE, timeout or 0.0)
        self._connect_patience = timeout or CONNECT
        self._link = Link(host=True, now=transport.now())
        self._pass_id = 0
        self._powered = False              # as far as the steps sent so far say
        self._in_pass = False
        self._closed = False
        self._since = transport.now()      # when the session was begun
        self._uptime = 0.0                 # of the device, seconds, when it last said so
        self.info = self._start_session()

    @classmethod
    def connect(cls, port: str | None = None, *, timeout: float | None = None) -> Self:
        """Find, open and greet the fixture.  `timeout`: seconds to wait for an answer, None: as the protocol says."""
        transport = SerialTransport(find_port(port))
        try:
            return cls(transport, timeout=timeout)
        except BaseException:
            transport.close()
            raise

    # ------------------------------------------------------------- session
    def _start_session(self, patience: float | None = None) -> Info:
        link = Link(host=True, now=self._transport.now())
        link.hello(self._transport.now())
        with self._line:
            self._link = link
        self._pass_id, self._powered, self._in_pass = 0, False, False
        self._since = self._transport.now()
        give_up = self._since + (patience or self._connect_patience)
        while self._transport.now() < give_up:
            for message in self._pump():
                if isinstance(message, messages.Welcome):
                    return self._greet(message)
        name = self._transport.name
        if self._link.bytes_heard:
            raise NotOurs(f"Something at {name} sends ({self._link.bytes_heard} bytes), but not as this fixture does; "
                          "is it another device, or a board without the fixture's firmware?")
        raise NoDevice(f"Nothing answers at {name} within {self._connect_patience:g} s; "
                       "check the cable, the port's name, and that the firmware is on the board.")

    def _greet(self, welcome: messages.Welcome) -> Info:
        name = self._transport.name
        if welcome.magic != MAGIC:
            raise NotOurs(f"The device at {name} is not a sagbench fixture; name another port.")
        if welcome.api_level != numbers.API_LEVEL:
            older, newer = ("firmware", "program") if welcome.api_level < numbers.API_LEVEL else ("program", "firmware")
            raise WrongApiLevel(f"The firmware of the fixture at {name} has API level {welcome.api_level}, this program "
                                f"{numbers.API_LEVEL}; the {older} is older than the {newer}: bring it up to date.")
        model = _model(welcome.wiring_id)
        return Info(name, welcome.api_level, welcome.wiring_id, model["fixture"]["name"] if model else "",
                    None if welcome.serial == NO_SERIAL else welcome.serial,
                    f"{welcome.version >> 8}.{welcome.version & 255}", welcome.reset_cause, welcome.positions)

    def model(self) -> dict[str, Any]:
        """What its wiring is, as derived from the wiring file.  Raises DeviceError if this program does not know it."""
        model = _model(self.info.wiring_id)
        if model is None:
            raise DeviceError(f"The fixture at {self.info.port} has wiring {self.info.wiring_id:08X}, which this program "
                              "does not know; flash the firmware that came with this program.")
        return model

    def _pump(self) -> list[Message]:
        """One turn: what is due goes out, what has come is delivered.  Raises LinkLost on silence."""
        with self._line:
            self._transport.write(self._link.poll(self._transport.now()))
            self._link.receive(self._transport.read(), self._transport.now())
            now = self._transport.now()
            taken = self._link.take(now=now)
            self._transport.write(self._link.poll(now))
        if self._link.in_session and now - self._link.heard > self._silence:
            raise self._fallen_silent(now - self._link.heard)
        return taken

    def _send(self, message: Message) -> None:
        with self._line:
            self._link.send(message, self._transport.now())

    def _speak(self) -> bool:
        """The second thread: what is due goes out while the first thinks; False once nobody need speak.

        What goes wrong here the first thread meets too, and tells.  A device that is not heard is not kept powered.
        """
        if not self._line.acquire(blocking=False):
            return True                                # the first one is speaking
        try:
            link, now = self._link, self._transport.now()
            if not link.quick or not isinstance(self._transport, LiveTransport) or now - link.heard > self._silence:
                return False
            self._transport.write(link.poll(now))
            link.receive(self._transport.read_at_once(), now)
        except LinkLost:
            return False
        finally:
            self._line.release()
        return True

    def _quick(self, quick: bool) -> None:
        """Speak often from now on, or no longer."""
        self._link.quick = quick
        if quick and isinstance(self._transport, LiveTransport):
            self._presence.wake()

    def _fallen_silent(self, silent: float) -> LinkLost:
        """Why it is silent: one that was reset has forgotten the session, but answers a new `hello`."""
        session, before, known = self._transport.now() - self._since, self._uptime, self.info.reset_cause
        try:
            cause = self._start_session(AGAIN).reset_cause
            uptime = self._ask(messages.StateRequest(), patience=AGAIN).uptime_ms / 1000
        except FixtureError:
            return LinkLost(f"The fixture at {self._transport.name} has been silent for {silent:.1f} s; "
                            "it powers the chip down by itself. Check the cable and start again.")
        # Its clock began anew, or its reset was another one, or its clock is as old as the silence and the session older.
        if uptime < before or cause != known or uptime < silent + 0.5 < session - 0.5:
            word = next((f" by {word}" for bit, word in RESETS.items() if cause & bit), "")
            return LinkLost(f"The fixture at {self._transport.name} was reset{word} in the middle of a measurement, "
                            f"{uptime:.1f} s ago; the chip lost its power then. Check the supply and the cable and start again.")
        return LinkLost(f"The fixture at {self._transport.name} was silent for {silent:.1f} s and answers again; it had "
                        "powered the chip down by itself. Check the cable and start again.")

    def _renew(self) -> None:
        """Start a new session if the lease has run out while the host was elsewhere."""
        if self._closed:
            raise LinkLost(f"The connection to {self._transport.name} has been closed.")
        if self._transport.now() - self._link.heard < 0.75 * LEASE:
            return
        was_powered = self._powered
        self._new_session()
        if was_powered:
            raise LinkLost(f"This program left the fixture at {self._transport.name} alone for too long with the chip "
                           "powered, so it was powered down; start again.")

    def _new_session(self) -> None:
        try:
            self.info = self._start_session()
        except (NoDevice, NotOurs):
            raise LinkLost(f"The fixture at {self._transport.name} answers no more; it powers the chip down by itself. "
                           "Check the cable and start again.") from None

    # ------------------------------------------------------------- passes
    def run_pass(self, sequence: Iterable[Step], *,
                 on_progress: Callable[[int, int], None] | None = None) -> PassResult:
        """Send steps, collect what they give.

        sequence: steps of `wire.steps`; `end` is added if it is not the last.
        on_progress: called with (readings so far, readings in all).
        A pass that ends by a safety rule is a result: see `status` and `events`.  One that the device ended because it did
        not hear this program is run again, unless it was to find the chip powered: then it is a result, too (`silenced`).
        Raises DeviceError if the device refuses the pass, answers what it was not asked, or did not hear us again and again.
        """
        code = [*sequence]
        if not code or code[-1].name != "end":
            code.append(steps.end())
        for _ in range(TRIES):
            needs_power = self._powered and code[0].name != "power_off"
            result = self._run(code, on_progress)
            if not result.silenced or needs_power:
                return result
            self.clear_faults()
        raise too_slow(self.info.port)

    def _run(self, code: list[Step], on_progress: Callable[[int, int], None] | None) -> PassResult:
        self._renew()
        self._pass_id += 1
        self._in_pass = True
        self._quick(self._powered or powers(code))
        self._send(messages.PassBegin(self._pass_id))
        for payload in packed(code):
            self._send(messages.Steps(payload))
        result = self._collect(sum(step.readings for step in code), on_progress)
        with self._line:
            self._link.drop_queued()
        self._in_pass = False
        self._powered = result.status == PassStatus.COMPLETE and leaves_power(code, self._powered)
        self._quick(self._powered)
        return result

    def _collect(self, total: int, on_progress: Callable[[int, int], None] | None) -> PassResult:
        readings: list[int | None] = []
        events: list[messages.Event] = []
        while True:
            for message in self._pump():
                if isinstance(message, messages.Readings) and message.pass_id == self._pass_id:
                    if message.first != len(readings):
                        raise DeviceError(f"The fixture at {self.info.port} sent reading {message.first} where "
                                          f"{len(readings)} was due; reset it and start again.")
                    readings += [None if code == numbers.READING_NONE else code for code in message.sums]
                    if on_progress:
                        on_progress(len(readings), total)
                elif isinstance(message, messages.Event):
                    self._refused(message)
                    if message.pass_id == self._pass_id:
                        events.append(message)
                elif isinstance(message, messages.PassDone) and message.pass_id == self._pass_id:
                    self._complete(message, len(readings), total)
                    return PassResult(tuple(readings), tuple(events), message.status, message.steps,
                                      message.conversions, message.elapsed_us)

    def _refused(self, event: messages.Event) -> None:
        if event.kind in (EventKind.BUSY, EventKind.PASS_REPEATED):
            raise DeviceError(f"The fixture at {self.info.port} refused the pass (event {event.kind.name.lower()}); "
                              "close other programs that use it and start again.")

    def _complete(self, done: messages.PassDone, came: int, total: int) -> None:
        if done.readings != came or done.status == PassStatus.COMPLETE and came != total:
            raise DeviceError(f"The fixture at {self.info.port} says it sent {done.readings} readings; {came} came and "
                              f"{total} were asked for. Flash the firmware that came with this program.")

    # ------------------------------------------------------------- the rest
    def state(self) -> messages.State:
        """How the device is now."""
        self._renew()
        return self._ask(messages.StateRequest())

    def clear_faults(self) -> messages.State:
        """Unlatch faults whose cause is gone; the state after it says which are left."""
        return self._order(messages.ClearFaults())

    def set_serial(self, serial: int) -> messages.State:
        """Store the fixture's serial number, 0..FFFFFFFE."""
        if not 0 <= serial < NO_SERIAL:
            raise DeviceError(f"Serial number {serial} cannot be; give one from 0 to {NO_SERIAL - 1}.")
        return self._order(messages.SerialSet(serial))

    def halt(self) -> messages.State:
        """Everything off now; fit to be called after a KeyboardInterrupt anywhere in here.

        A pass that was under way leaves the streams in an unknown state, so a new session
        is started behind it.
        """
        try:
            state = self._ask(messages.Halt(), patience=1.0)
        except LinkLost:
            self._new_session()                        # `hello` is a halt too
            return self._ask(messages.StateRequest())
        if self._in_pass:
            self._new_session()
        self._powered = False
        self._quick(False)
        return state

    def close(self) -> None:
        """Power the chip down and let go of the port; a device that is gone already is no error."""
        if self._closed:
            return
        self._closed = True
        self._presence.stop()
        try:
            self._ask(messages.Halt(), patience=0.5)
        except LinkLost:
            pass
        finally:
            self._transport.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.close()

    def _order(self, message: Message) -> messages.State:
        self._renew()
        self._send(message)
        while not self._link.idle:
            self._pump()
        return self.state()

    def _ask(self, message: Message, patience: float | None = None) -> messages.State:
        """Send an unnumbered message until `state` comes."""
        started = self._transport.now()
        ask_at = started
        while patience is None or self._transport.now() - started < patience:
            if self._transport.now() >= ask_at:
                self._send(message)
                ask_at = self._transport.now() + ASK
            for answer in self._pump():
                if isinstance(answer, messages.State):
                    self._uptime = answer.uptime_ms / 1000
                    return answer
        raise LinkLost(f"The fixture at {self._transport.name} does not answer; it powers the chip down by itself.")


@cache
def _model(wiring_id: int) -> dict[str, Any] | None:
    """The derived description of the wiring with this id, if it is one of ours; read once."""
    for entry in resources.files("sagbench.fixtures").iterdir():
        if entry.name.endswith(".json"):
            model: dict[str, Any] = json.loads(entry.read_text())
            if model.get("wiring_id") == wiring_id:
                return model
    return None
