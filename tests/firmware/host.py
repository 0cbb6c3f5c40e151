"""A host for tests: speaks the wire by the spec file and two public packages, nothing of the product.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import binascii
from dataclasses import dataclass, field
from typing import Any

from cobs import cobs

from protocol import spec as protocol_spec

from .line import Line

SPEC = protocol_spec.load()
MESSAGES = {m.name: m for m in SPEC.messages}
BY_ID = {m.id: m for m in SPEC.messages}
STEPS = {s.name: s for s in SPEC.steps}
TIMING = {t.name: t.value for t in SPEC.timing}
QUIET_US = TIMING["presence_ms"] * 1000
ENUMS = {name: {e.name: e.value for e in entries} for name, entries in SPEC.enums.items()}


def number(name: str, enum: str) -> int:
    """Value of an enum entry."""
    return ENUMS[enum][name]


def step(name: str, **arguments: Any) -> bytes:
    """One step's code and arguments, no check of ranges; enum arguments may be names."""
    kind = STEPS[name]
    out = bytes([kind.code])
    for f in kind.fields:
        value = arguments[f.name]
        if isinstance(value, str):
            value = number(value, f.enum)
        out += int(value).to_bytes(f.size, "little")
    return out


def mask(*positions: int) -> int:
    """Positions as a mask."""
    return sum(1 << (k - 1) for k in positions)


def frame(seq: int, ack: int, room: int, message: int, payload: bytes) -> bytes:
    """Bytes on the wire.  CRC by binascii.crc_hqx (CCITT polynomial), COBS by the package `cobs`."""
    body = bytes([seq, ack, room, message]) + payload
    return cobs.encode(body + binascii.crc_hqx(body, 0xFFFF).to_bytes(2, "big")) + b"\0"


@dataclass
class Message:
    """One received message, its fields by name."""

    name: str
    seq: int
    ack: int
    room: int
    fields: dict[str, Any]

    def __getattr__(self, name: str) -> Any:
        try:
            return self.fields[name]
        except KeyError:
            raise AttributeError(name) from None


def parse(raw: bytes) -> Message:
    """A frame without its delimiter."""
    body = cobs.decode(raw)
    assert binascii.crc_hqx(body, 0xFFFF) == 0, "the device sent a damaged frame"
    kind = BY_ID[body[3]]
    rest, fields = body[4:-2], {}
    for f in kind.fields:
        if f.kind == "u16[]":
            fields[f.name] = [int.from_bytes(rest[i:i + 2], "little") for i in range(0, len(rest), 2)]
            rest = b""
        elif f.kind == "bytes":
            fields[f.name], rest = rest[:f.size], rest[f.size:]
        else:
            fields[f.name], rest = int.from_bytes(rest[:f.size], "little"), rest[f.size:]
    assert not rest, f"{kind.name}: payload too long"
    return Message(kind.name, body[0], body[1], body[2], fields)


@dataclass
class Pass:
    """What a pass gave."""

    readings: list[int] = field(default_factory=list)
    events: list[Message] = field(default_factory=list)
    done: Message | None = None

    @property
    def status(self) -> str:
        """Name of its status."""
        assert self.done is not None, "the pass has not ended"
        return next(n for n, v in ENUMS["pass_status"].items() if v == self.done.status)

    @property
    def kinds(self) -> list[str]:
        """Names of its events."""
        names = {v: n for n, v in ENUMS["event_kind"].items()}
        return [names[e.kind] for e in self.events]


class Host:
    """Good-natured host: acknowledges what comes, sends again what was lost."""

    def __init__(self, world: Line, *, boot: bool = True) -> None:
        self.world = world
        self.at = 0                           # of world.sent
        self.seq = self.acked = self.expected = 0
        self.limit = 4
        self.queue: list[tuple[int, bytes]] = []      # numbered, from `acked` on
        self.sent_to = 0                              # index in queue
        self.taken: list[Message] = []
        self.acks: list[Message] = []
        self.said_at = 0.0
        self.mute = False                             # acknowledges nothing
        if boot:
            world.reset()
            world.run(130_000)                        # the dead-man's self-test
            self.hello()

    def hello(self, nonce: int = 0x1234) -> Message:
        """Begin a session."""
        self.seq = self.acked = self.expected = 0
        self.queue, self.sent_to, self.limit = [], 0, 4
        self.control("hello", bytes([SPEC.protocol["api_level"]]) + nonce.to_bytes(2, "little"))
        return self.wait("welcome")

    def control(self, name: str, payload: bytes = b"") -> None:
        """An unnumbered message."""
        self.put(frame(self.seq, self.expected, 4, MESSAGES[name].id, payload))

    def put(self, data: bytes) -> None:
        """Bytes on the wire."""
        self.world.put(bytes(data))
        self.said_at = self.world.now_us

    def numbered(self, name: str, payload: bytes = b"") -> None:
        """Queue a numbered message."""
        self.queue.append((MESSAGES[name].id, payload))

    def turn(self, us: float = 300) -> None:
        """Let the device run, take what it says, send what may be sent; a word at least each 10 ms keeps the chip powered."""
        while us > QUIET_US:
            self._turn(QUIET_US)
            us -= QUIET_US
        self._turn(us)

    def _turn(self, us: float) -> None:
        self.world.run(us)
        while (end := self.world.sent.find(0, self.at)) >= 0:
            raw = bytes(self.world.sent[self.at:end])
            self.at = end + 1
            if raw:
                self._take(parse(raw))
        while self.sent_to < len(self.queue) and self.sent_to < 4 and (self.limit - self.acked - self.sent_to) % 256:
            name, payload = self.queue[self.sent_to]
            self.put(frame((self.acked + self.sent_to) % 256, self.expected, 4, name, payload))
            self.sent_to += 1
        if self.world.now_us - self.said_at >= QUIET_US and not self.mute:
            self.control("ack", bytes([number("here", "ack_reason")]))

    def _take(self, message: Message) -> None:
        step_ = (message.ack - self.acked) % 256
        if step_ <= len(self.queue):
            del self.queue[:step_]
            self.sent_to = max(0, self.sent_to - step_)
            self.acked = message.ack
            self.seq = self.acked
            self.limit = (message.ack + message.room) % 256
        if message.name == "ack":
            self.acks.append(message)
            if message.reason in (number("gap", "ack_reason"), number("damaged", "ack_reason")):
                self.sent_to = 0
            return
        if MESSAGES[message.name].numbered:
            if message.seq != self.expected:
                return
            self.expected = (self.expected + 1) % 256
            if not self.mute:
                self.control("ack", bytes([number("room", "ack_reason")]))
        self.taken.append(message)

    def wait(self, name: str, us: float = 2_000_000) -> Message:
        """The next message of that name; AssertionError if none comes in that (virtual) time."""
        end = self.world.now_us + us
        while self.world.now_us < end:
            for i, message in enumerate(self.taken):
                if message.name == name:
                    del self.taken[i]
                    return message
            self.turn()
        raise AssertionError(f"no {name} came; acks: {self.acks[-3:]}")

    def state(self) -> Message:
        """Ask for `state`."""
        self.taken = [m for m in self.taken if m.name != "state"]
        self.control("state_request")
        return self.wait("state")

    def begin(self, steps: list[bytes], pass_id: int | None = None) -> None:
        """Queue a whole pass; steps are packed into frames without splitting one."""
        self.pass_id = pass_id if pass_id is not None else getattr(self, "pass_id", 0) + 1
        self.numbered("pass_begin", self.pass_id.to_bytes(2, "little"))
        chunk = b""
        for s in steps:
            if len(chunk) + len(s) > 96:
                self.numbered("steps", chunk)
                chunk = b""
            chunk += s
        if chunk:
            self.numbered("steps", chunk)

    def finish(self, us: float = 20_000_000) -> Pass:
        """Until `pass_done`."""
        end = self.world.now_us + us
        while not any(m.name == "pass_done" for m in self.taken):
            assert self.world.now_us < end, f"the pass does not end: {self.taken[-3:]} {self.acks[-3:]}"
            self.turn()
        result = Pass()
        for message in self.taken:
            if message.name == "readings":
                assert message.first == len(result.readings)
                result.readings += message.sums
            elif message.name == "event":
                result.events.append(message)
            elif message.name == "pass_done":
                result.done = message
        self.taken = [m for m in self.taken if m.name not in ("readings", "event", "pass_done")]
        return result

    def run(self, *steps: bytes, pass_id: int | None = None) -> Pass:
        """One pass from begin to end; `end` is added."""
        self.begin([*steps, step("end")], pass_id)
        return self.finish()
