"""The two streams: whatever the line does, everything arrives once and in order.  SPDX-License-Identifier: MIT"""
from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from sagbench.wire import messages, numbers
from sagbench.wire.frame import Frame, Splitter, encode
from sagbench.wire.layout import Message
from sagbench.wire.link import KEEP_ALIVE, RETRANSMIT, Link
from sagbench.wire.loop import Faults, Line
from sagbench.wire.numbers import AckReason


class Pair:
    """Both ends and two lines, in steps of a millisecond."""

    def __init__(self, faults: Faults, seed: int = 0, capacity: int = numbers.WINDOW, host_capacity: int = 4) -> None:
        self.now = 0.0
        self.host = Link(host=True, now=0.0, capacity=host_capacity)
        self.device = Link(host=False, now=0.0, capacity=capacity)
        self.there, self.back = Line(Faults(), seed), Line(Faults(), seed + 1)
        self.host.hello(0.0)
        while not self.host.in_session:
            self.step()
        self.there.faults = self.back.faults = faults
        self.at_host: list[Message] = []
        self.at_device: list[Message] = []

    def step(self) -> None:
        """A millisecond without taking messages, but for the welcome."""
        self.now += 0.001
        self.there.put(self.host.poll(self.now), self.now)
        self.device.receive(self.there.get(self.now), self.now)
        if not self.host.in_session:
            for message in self.device.take(now=self.now):
                assert isinstance(message, messages.Hello)
                self.device.send(messages.Welcome(b"SAGB", numbers.API_LEVEL, message.nonce, 0, 0, 0, 0, 24), self.now)
        self.back.put(self.device.poll(self.now), self.now)
        self.host.receive(self.back.get(self.now), self.now)

    def run(self, seconds: float, take_device: int | None = None, take_host: int | None = None) -> None:
        """Steps, both ends taking at most so many a step, until all is quiet or the time is over."""
        until = self.now + seconds
        while self.now < until and not (self.host.idle and self.device.idle):
            self.step()
            self.at_device += [m for m in self.device.take(take_device, now=self.now) if m.NUMBERED]
            self.at_host += [m for m in self.host.take(take_host, now=self.now) if m.NUMBERED]


def commands(count: int) -> list[Message]:
    return [messages.Steps(i.to_bytes(2, "little") * (1 + i % 40)) for i in range(count)]


def answers(count: int) -> list[Message]:
    return [messages.Readings(1, i, tuple(range(i % 40))) for i in range(count)]


chance = st.floats(0, 0.35)


@settings(max_examples=60, deadline=None)
@given(st.builds(Faults, chance, chance, chance, st.floats(0, 0.03)), st.integers(0, 10 ** 6),
       st.integers(0, 60), st.integers(0, 60), st.integers(1, 4))
def test_everything_arrives_once_and_in_order(faults: Faults, seed: int, there: int, back: int, capacity: int) -> None:
    pair = Pair(faults, seed, capacity)
    for message in commands(there):
        pair.host.send(message, pair.now)
    for message in answers(back):
        pair.device.send(message, pair.now)
    pair.run(120)
    assert pair.at_device == commands(there)
    assert pair.at_host == answers(back)
    assert pair.host.idle and pair.device.idle


def test_more_than_two_turns_of_the_numbers() -> None:
    pair = Pair(Faults(loss=0.02, damage=0.02, duplication=0.02), 5)
    for message in commands(600):
        pair.host.send(message, pair.now)
    pair.run(60)
    assert pair.at_device == commands(600)


def test_a_slow_taker_holds_the_sender_back_and_loses_nothing() -> None:
    pair = Pair(Faults(), capacity=2)
    for message in commands(30):
        pair.host.send(message, pair.now)
    for _ in range(200):
        pair.step()
    assert pair.host.queued == 28                      # two lie in the device, nothing else may have been sent
    assert pair.host.resent == 0
    pair.run(10, take_device=1)
    assert pair.at_device == commands(30)


def test_a_lost_word_of_room_does_not_block() -> None:
    pair = Pair(Faults(), capacity=1)
    for message in commands(3):
        pair.host.send(message, pair.now)
    for _ in range(50):
        pair.step()
    first = pair.device.take(now=pair.now)
    pair.device.poll(pair.now)                         # the `room` is lost
    pair.run(1)
    assert first + pair.at_device == commands(3)


def test_never_more_than_the_window_under_way() -> None:
    pair = Pair(Faults())
    for message in commands(20):
        pair.host.send(message, pair.now)
    out = [f for f in Splitter().feed(pair.host.poll(pair.now)) if f and f.id == messages.Steps.ID]
    assert [f.seq for f in out] == [0, 1, 2, 3]
    assert not [f for f in Splitter().feed(pair.host.poll(pair.now + RETRANSMIT / 2)) if f and f.id == 0x11]
    again = [f for f in Splitter().feed(pair.host.poll(pair.now + RETRANSMIT + 0.001)) if f and f.id == 0x11]
    assert again == out


def test_the_host_never_has_more_bytes_under_way_than_the_ring_takes() -> None:
    pair = Pair(Faults())
    for _ in range(20):
        pair.host.send(messages.Steps(bytes(96)), pair.now)
    out = pair.host.poll(pair.now)
    assert 0 < len(out) <= numbers.BURST < 256
    assert len(encode(Frame(0, 0, 0, 0x11, bytes(96)))) * 3 > numbers.BURST    # two of the longest, not three
    pair.run(5)
    assert len(pair.at_device) == 20


def test_a_slow_line_is_not_filled_with_copies() -> None:
    """Round trips of up to 0.4 s, well above `retransmit_ms`: after the first few the host knows."""
    pair = Pair(Faults(delay=0.2), 3)
    for _ in range(200):
        pair.host.send(messages.Steps(bytes(96)), pair.now)
    pair.run(100)
    assert len(pair.at_device) == 200
    assert pair.host.resent < 40


def test_a_gap_is_mended_at_once_not_after_the_wait() -> None:
    pair = Pair(Faults())
    for message in commands(4):
        pair.host.send(message, pair.now)
    wire = pair.host.poll(pair.now)
    lost_first = wire[wire.index(b"\x00") + 1:]
    pair.device.receive(lost_first, pair.now)
    pair.host.receive(pair.device.poll(pair.now), pair.now)
    pair.device.receive(pair.host.poll(pair.now), pair.now)
    assert [m for m in pair.device.take(now=pair.now)] == commands(4)


def test_a_burst_of_complaints_is_answered_once() -> None:
    """Ten `damaged` for one window must not bring ten windows, or a slow line is never empty again."""
    pair = Pair(Faults())
    for message in commands(4):
        pair.host.send(message, pair.now)
    pair.host.poll(pair.now)
    complaint = encode(Frame(0, 0, 4, messages.Ack.ID, bytes([AckReason.DAMAGED])))
    pair.host.receive(complaint * 10, pair.now)
    again = [f.seq for f in Splitter().feed(pair.host.poll(pair.now)) if f]
    assert again == [0, 1, 2, 3]
    pair.host.receive(encode(Frame(0, 1, 4, messages.Ack.ID, bytes([AckReason.DAMAGED]))), pair.now)
    assert [f.seq for f in Splitter().feed(pair.host.poll(pair.now)) if f] == [1, 2, 3]


def test_old_acknowledgements_are_ignored() -> None:
    pair = Pair(Faults())
    for message in commands(3):
        pair.host.send(message, pair.now)
    pair.host.poll(pair.now)
    pair.host.receive(encode(Frame(0, 200, 4, messages.Ack.ID, b"\x00")), pair.now)
    assert pair.host.queued == 3
    pair.host.receive(encode(Frame(0, 2, 4, messages.Ack.ID, b"\x00")), pair.now)
    assert pair.host.queued == 1


def test_the_host_keeps_the_lease_and_the_device_answers() -> None:
    pair = Pair(Faults())
    sent_at = []
    for _ in range(5000):
        before = pair.there._last
        pair.step()
        if pair.there._last != before:
            sent_at.append(pair.now)
        assert pair.now - pair.host.heard < KEEP_ALIVE + 0.01
    gaps = [b - a for a, b in zip(sent_at, sent_at[1:], strict=False)]
    assert max(gaps) <= numbers.KEEP_ALIVE_MS / 1000 + 0.002


def test_only_the_welcome_with_the_last_nonce_counts() -> None:
    host = Link(host=True, now=0.0)
    host.hello(0.0)
    hellos = [f for t in (0.0, 0.3, 0.6) for f in Splitter().feed(host.poll(t)) if f]
    nonces = [messages.Hello.unpack(f.payload).nonce for f in hellos]
    assert len(set(nonces)) == 3

    def welcome(nonce: int) -> bytes:
        return encode(Frame(0, 0, 4, messages.Welcome.ID, messages.Welcome(b"SAGB", numbers.API_LEVEL, nonce, 0, 0, 0, 0, 24).pack()))
    host.receive(welcome(nonces[0]) + welcome(nonces[1]), 0.7)
    assert not host.in_session
    host.receive(welcome(nonces[2]), 0.7)
    assert host.in_session


def test_nothing_but_welcome_is_taken_before_the_session() -> None:
    host = Link(host=True, now=0.0)
    host.hello(0.0)
    host.poll(0.0)
    host.receive(encode(Frame(0, 0, 4, messages.Readings.ID, messages.Readings(1, 0, (1,)).pack())), 0.0)
    assert host.take(now=0.0) == [] and host.expected == 0


def test_the_device_does_not_answer_its_answers() -> None:
    """A keep_alive of the device asks for nothing, or both ends would talk for ever."""
    pair = Pair(Faults())
    pair.host.receive(encode(Frame(0, 0, 4, messages.Ack.ID, bytes([AckReason.KEEP_ALIVE]))), pair.now)
    assert pair.host.poll(pair.now) == b""
