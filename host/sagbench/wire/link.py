"""The two numbered streams over a line that loses and damages bytes; no input or output in here.

Bytes go in by `receive`, messages come out of `take`; messages go in by `send`,
bytes come out of `poll`.  Time is handed in (seconds, any origin).  The rules are
those of protocol/REFERENCE.md, "Streams".  Both ends are here: the host's is the
one in use, the device's serves tests as the other half.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections import deque
from dataclasses import dataclass

from sagbench.wire import messages, numbers
from sagbench.wire.frame import RAW_MIN, Frame, Splitter, encode
from sagbench.wire.layout import BadMessage, Message
from sagbench.wire.numbers import AckReason

MAGIC = b"SAGB"
RETRANSMIT = numbers.RETRANSMIT_MS / 1000
RETRANSMIT_SLOWEST = 8 * RETRANSMIT       # each retransmission without an answer doubles the wait up to this
KEEP_ALIVE = numbers.KEEP_ALIVE_MS / 1000
PRESENCE = numbers.PRESENCE_MS / 1000
HELLO = numbers.HELLO_MS / 1000
ACK_DELAY = numbers.ACK_DELAY_MS / 1000
OVERHEAD = RAW_MIN + 2                    # bytes of a frame on the wire beside its payload


@dataclass
class Flying:
    """A numbered frame that has been sent and not acknowledged."""

    seq: int
    id: int
    payload: bytes
    sent: float                # when first
    again: bool = False        # sent more than once: its round trip tells nothing (Karn and Partridge, SIGCOMM 1987)


class Link:
    """One end of the line.

    host: which end this is.  capacity: numbered messages held for `take`.
    quick: the host's end speaks at least each PRESENCE, as it must while a chip is powered.
    Counters for whoever wants to know: `damaged`, `resent`, `heard` (time of the
    last valid frame of this session), `bytes_heard`.
    """

    def __init__(self, *, host: bool, now: float, capacity: int = numbers.WINDOW) -> None:
        self.host = host
        self.capacity = capacity
        self.damaged = 0
        self.resent = 0
        self.bytes_heard = 0
        self.heard = now
        self.in_session = False
        self.quick = False
        self._splitter = Splitter()
        self._nonce = random.randrange(0x10000)
        self._hello_at: float | None = None
        self._out = bytearray()
        self._restart(now)

    def _restart(self, now: float) -> None:
        self._queue: deque[Message] = deque()          # numbered, not sent yet
        self._flying: deque[Flying] = deque()          # sent, not acknowledged
        self._next = 0                                 # number of the next frame sent
        self._credit = 0                               # frames beyond the oldest one flying that the other end takes
        self._expected = 0                             # number of the next frame received
        self._inbox: deque[Message] = deque()
        self._held = 0                                 # numbered ones among them
        self._gap_told = False
        self._ack_due: float | None = None
        self._resend_at: float | None = None
        self._resend_wait = RETRANSMIT
        self._round_trip = 0.0                         # seconds, smoothed
        self._mended = -1                              # oldest frame flying when last resent on a complaint
        self._sent = self._asked = self._unblocked = self._mended_at = now

    # ------------------------------------------------------------- the user's side
    def hello(self, now: float) -> None:
        """Host: start a session; `in_session` becomes true when the device has answered, Welcome is delivered."""
        self._restart(now)
        self.in_session = False
        self._hello_at = now

    def send(self, message: Message, now: float) -> None:
        """Queue a numbered message, or send an unnumbered one with the next `poll`, ahead of all queued."""
        if message.NUMBERED:
            if not self._queue:
                self._unblocked = now
            self._queue.append(message)
        else:
            self._emit(self._next, message.ID, message.pack(), now)

    def take(self, limit: int | None = None, *, now: float) -> list[Message]:
        """Messages that have arrived, oldest first, at most `limit`; makes room for more."""
        full = self._room == 0
        taken = [self._inbox.popleft() for _ in range(min(len(self._inbox), limit if limit is not None else 1 << 30))]
        self._held -= sum(m.NUMBERED for m in taken)
        if full and self._room:
            self.send(messages.Ack(AckReason.ROOM), now)
        return taken

    def drop_queued(self) -> None:
        """Forget numbered messages that have not been sent yet."""
        self._queue.clear()

    @property
    def idle(self) -> bool:
        """True if every numbered message has been acknowledged."""
        return not self._queue and not self._flying

    @property
    def queued(self) -> int:
        """Numbered messages not acknowledged yet."""
        return len(self._queue) + len(self._flying)

    @property
    def expected(self) -> int:
        """Number of the next frame this end expects."""
        return self._expected

    # ------------------------------------------------------------- the line's side
    def receive(self, data: bytes, now: float) -> None:
        """Take bytes from the line, any number, cut anywhere."""
        self.bytes_heard += len(data)
        for frame in self._splitter.feed(data):
            message = self._understand(frame) if frame else None
            if frame and message:
                self._accept(frame, message, now)
            else:
                self._complain(now)

    def poll(self, now: float) -> bytes:
        """Bytes for the line: all that is due by now."""
        if self.host and not self.in_session:
            self._say_hello(now)
        if self.in_session:
            if self._resend_at is not None and now >= self._resend_at:
                self._resend_wait = min(2 * self._resend_wait, RETRANSMIT_SLOWEST)
                self._resend(now)
            self._send_queued(now)
            if self.host:
                self._keep_alive(now)
            if self._ack_due is not None and now >= self._ack_due:
                self.send(messages.Ack(AckReason.KEEP_ALIVE), now)
        out = bytes(self._out)
        self._out.clear()
        return out

    # ------------------------------------------------------------- receiving
    @property
    def _room(self) -> int:
        return max(0, self.capacity - self._held)

    def _understand(self, frame: Frame) -> Message | None:
        kind = messages.BY_ID.get(frame.id)
        if kind is None or not (kind.FROM_DEVICE if self.host else kind.FROM_HOST):
            return None
        if kind is messages.Welcome and frame.payload[:4] == MAGIC and frame.payload[4:5] != bytes([numbers.API_LEVEL]):
            # Another API level: only the fields up to api_level are sure to be there.
            return messages.Welcome(MAGIC, frame.payload[4] if len(frame.payload) > 4 else 0, self._nonce, 0, 0, 0, 0, 0)
        try:
            return kind.unpack(frame.payload)
        except BadMessage:
            return None

    def _complain(self, now: float) -> None:
        self.damaged += 1
        if self.in_session:
            self._gap_told = True
            self.send(messages.Ack(AckReason.DAMAGED), now)

    def _accept(self, frame: Frame, message: Message, now: float) -> None:
        if isinstance(message, messages.Hello):
            self._restart(now)
            self.in_session = True
        elif not self.in_session:
            if not isinstance(message, messages.Welcome) or message.nonce != self._nonce:
                return
            self.in_session = True
            self._hello_at = None
        elif isinstance(message, messages.Welcome):
            return                                     # a late one: the session has begun
        self.heard = now
        self._acknowledged(frame, now)
        if isinstance(message, messages.Ack):
            self._heed(message, now)
        elif not message.NUMBERED:
            self._inbox.append(message)
        else:
            self._take_numbered(frame, message, now)

    def _take_numbered(self, frame: Frame, message: Message, now: float) -> None:
        ahead = (frame.seq - self._expected) % 256
        if ahead == 0 and self._room:
            self._expected = (self._expected + 1) % 256
            self._gap_told = False
            self._inbox.append(message)
            self._held += 1
            if self._ack_due is None:
                # The host has nothing better to do; the device lets an answer carry it.
                self._ack_due = now if self.host else now + ACK_DELAY
        elif ahead >= 128:
            self.send(messages.Ack(AckReason.REPEATED), now)
        elif not self._gap_told:
            self._gap_told = True
            self.send(messages.Ack(AckReason.GAP), now)

    def _acknowledged(self, frame: Frame, now: float) -> None:
        base = self._flying[0].seq if self._flying else self._next
        arrived = (frame.ack - base) % 256
        if arrived > len(self._flying):
            return                                     # an old frame
        self._credit = frame.room
        if self._credit:
            self._unblocked = now
        for _ in range(arrived):
            self._learn(self._flying.popleft(), now)
        if arrived:
            self._resend_at = now + self._resend_wait if self._flying else None

    def _learn(self, frame: Flying, now: float) -> None:
        # A line that is slow beyond expectation must not be filled with copies: wait three round trips.
        if not frame.again:
            self._round_trip += (now - frame.sent - self._round_trip) / 4
            self._resend_wait = min(max(RETRANSMIT, 3 * self._round_trip), RETRANSMIT_SLOWEST)

    def _heed(self, message: messages.Ack, now: float) -> None:
        if message.reason in (AckReason.GAP, AckReason.DAMAGED) and self._flying:
            # Once only for the same frame: a burst of complaints must not become a burst of resending.
            if self._flying[0].seq != self._mended or now - self._mended_at >= RETRANSMIT:
                self._mended, self._mended_at = self._flying[0].seq, now
                self._resend(now)
        elif message.reason == AckReason.KEEP_ALIVE and not self.host:
            self.send(messages.Ack(AckReason.KEEP_ALIVE), now)

    # ------------------------------------------------------------- sending
    def _emit(self, seq: int, ident: int, payload: bytes, now: float) -> None:
        self._out += encode(Frame(seq, self._expected, self._room, ident, payload))
        self._ack_due = None
        self._sent = now

    def _say_hello(self, now: float) -> None:
        if self._hello_at is not None and now >= self._hello_at:
            self._nonce = (self._nonce + 1) % 0x10000
            hello = messages.Hello(numbers.API_LEVEL, self._nonce)
            self._emit(0, hello.ID, hello.pack(), now)
            self._hello_at = now + HELLO

    def _send_queued(self, now: float) -> None:
        while self._queue and len(self._flying) < min(numbers.WINDOW, self._credit):
            message = self._queue[0]
            frame = Flying(self._next, message.ID, message.pack(), now)
            if self.host and self._burst + len(frame.payload) + OVERHEAD > numbers.BURST:
                return
            self._queue.popleft()
            self._next = (self._next + 1) % 256
            self._flying.append(frame)
            self._emit(frame.seq, frame.id, frame.payload, now)
            if self._resend_at is None:
                self._resend_at = now + self._resend_wait

    @property
    def _burst(self) -> int:
        return sum(len(frame.payload) + OVERHEAD for frame in self._flying)

    def _resend(self, now: float) -> None:
        for frame in self._flying:
            self._emit(frame.seq, frame.id, frame.payload, now)
            frame.again = True
            self.resent += 1
        self._resend_at = now + self._resend_wait

    def _keep_alive(self, now: float) -> None:
        blocked = bool(self._queue) and not self._flying and not self._credit
        silent = now - max(self._sent, self._asked) >= KEEP_ALIVE or (
            now - self.heard >= KEEP_ALIVE and now - self._asked >= KEEP_ALIVE)
        if silent or blocked and now - max(self._unblocked, self._asked) >= RETRANSMIT:
            self._asked = now
            self.send(messages.Ack(AckReason.KEEP_ALIVE), now)
        elif self.quick and now - self._sent >= PRESENCE:
            self.send(messages.Ack(AckReason.HERE), now)
