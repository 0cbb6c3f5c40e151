"""When the link speaks: asking for room, resending, keeping alive, to the millisecond; and what it takes from another release.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest

from sagbench.wire import messages, numbers, steps
from sagbench.wire.frame import BadFrame, Frame, Splitter, decode, encode, stuff
from sagbench.wire.link import KEEP_ALIVE, MAGIC, OVERHEAD, RETRANSMIT, Link
from sagbench.wire.numbers import AckReason


def frames(data: bytes) -> list[Frame]:
    """What was said, none of it damaged."""
    found = list(Splitter().feed(data))
    assert None not in found
    return [frame for frame in found if frame]


def ack(reason: int = 0, *, ack: int = 0, room: int = 4) -> bytes:
    """An unnumbered `ack` of the other end."""
    return encode(Frame(0, ack, room, messages.Ack.ID, bytes([reason])))


def session(level: int = numbers.API_LEVEL, room: int = 4, short: int | None = None) -> tuple[Link, list[messages.Message]]:
    """A host at 0.0 s whose hello has been answered, and what it took."""
    host = Link(host=True, now=0.0)
    host.hello(0.0)
    nonce = messages.Hello.unpack(frames(host.poll(0.0))[0].payload).nonce
    welcome = messages.Welcome(MAGIC, level, nonce, 0, 0, 0, 0, 24).pack()
    host.receive(encode(Frame(0, 0, room, messages.Welcome.ID, welcome[:short])), 0.0)
    return host, host.take(now=0.0)


def test_the_welcome_of_another_release_gives_its_level_and_nothing_else() -> None:
    """Fields after api_level may mean anything there: they are not read, however many there are."""
    for short, level in ((None, numbers.API_LEVEL + 1), (5, numbers.API_LEVEL + 1), (4, 0)):
        host, taken = session(numbers.API_LEVEL + 1, short=short)
        welcome = taken[0]
        assert isinstance(welcome, messages.Welcome) and host.in_session
        assert (welcome.magic, welcome.api_level) == (MAGIC, level)
        assert set(welcome.pack()[7:]) == {0}


def test_a_blocked_sender_asks_for_room_each_retransmission_time_and_no_oftener() -> None:
    host, _ = session(room=0)
    host.send(messages.Steps(b"\x00"), 0.0)
    asked = [ms for ms in range(400) for frame in frames(host.poll(ms / 1000)) if frame.payload == bytes([AckReason.KEEP_ALIVE])]
    wait = round(RETRANSMIT * 1000)
    assert asked == list(range(wait, 400, wait))


def test_a_silent_host_says_that_it_is_there_each_keep_alive_time() -> None:
    host, _ = session()
    said = []
    for ms in range(3 * round(KEEP_ALIVE * 1000) + 5):
        for frame in frames(host.poll(ms / 1000)):
            assert frame.payload == bytes([AckReason.KEEP_ALIVE])
            said.append(ms)
            host.receive(ack(AckReason.KEEP_ALIVE), ms / 1000)
    gaps = [after - before for before, after in zip([0, *said], said, strict=False)]
    assert len(said) == 3 and all(abs(gap - KEEP_ALIVE * 1000) <= 1 for gap in gaps)


def test_a_quick_host_is_there_each_presence_time_and_asks_for_no_answer() -> None:
    host, _ = session()
    host.quick = True
    said = [(ms, frame.payload[0]) for ms in range(3 * numbers.PRESENCE_MS + 5) for frame in frames(host.poll(ms / 1000))]
    assert [reason for _, reason in said] == [AckReason.HERE] * 3
    assert all(abs(after - before - numbers.PRESENCE_MS) <= 1 for (before, _), (after, _) in zip([(0, 0), *said], said, strict=False))


def test_frames_that_just_fill_the_ring_go_out_together() -> None:
    """Three payloads that come to exactly BURST bytes on the wire; one byte more, and the third waits."""
    last = numbers.BURST - 3 * OVERHEAD - 2 * 96
    for more, out in ((0, 3), (1, 2)):
        host, _ = session()
        for size in (96, 96, last + more):
            host.send(messages.Steps(bytes(size)), 0.0)
        assert len(frames(host.poll(0.0))) == out


def test_a_frame_without_an_answer_is_sent_again_after_doubling_waits() -> None:
    """Twice, four times, eight times as long, and no longer than that."""
    host, _ = session()
    host.send(messages.Steps(b"\x00"), 0.0)
    sent = [ms for ms in range(3000) for frame in frames(host.poll(ms / 1000)) if frame.id == messages.Steps.ID]
    waits = [after - before for before, after in zip(sent, sent[1:], strict=False)]
    assert [round(wait / (RETRANSMIT * 1000), 1) for wait in waits[:6]] == [1, 2, 4, 8, 8, 8]
    assert host.resent == len(sent) - 1


def test_only_a_frame_sent_once_tells_how_long_a_round_trip_is() -> None:
    """Karn and Partridge (SIGCOMM 1987): of a frame that went out twice nobody knows which copy was answered."""
    for copies, wait in ((1, 3 * 0.4 / 4), (2, 2 * RETRANSMIT)):       # a quarter of the first round trip, thrice; the doubled wait
        host, _ = session()
        host.send(messages.Steps(b"\x00"), 0.0)
        for copy in range(copies):
            assert [frame.id for frame in frames(host.poll(copy * (RETRANSMIT + 0.001)))] == [messages.Steps.ID]
        host.receive(ack(ack=1), 0.4)
        host.send(messages.Steps(b"\x01"), 0.4)
        sent = [ms for ms in range(400, 900) for frame in frames(host.poll(ms / 1000)) if frame.id == messages.Steps.ID]
        assert abs(sent[1] - sent[0] - 1000 * wait) <= 1.001


def test_a_device_that_hears_hello_forgets_all() -> None:
    device = Link(host=False, now=0.0)
    for now in (1.0, 2.0):
        device.receive(encode(Frame(0, 0, 4, messages.Hello.ID, messages.Hello(numbers.API_LEVEL, 7).pack())), now)
        assert device.idle and device.heard == now
        device.receive(ack(AckReason.ROOM), now)
        device.send(messages.Readings(1, 0, (1,)), now)
        assert [frame.seq for frame in frames(device.poll(now))] == [0]
        device.receive(ack(AckReason.DAMAGED), now)
        assert [frame.seq for frame in frames(device.poll(now))] == [0]
    assert device.resent == 2                                    # one each session: `mended` is forgotten as well


def test_what_is_dropped_is_not_sent() -> None:
    host, _ = session()
    for _ in range(6):
        host.send(messages.Steps(b"\x00"), 0.0)
    host.poll(0.0)
    assert host.queued == 6
    host.drop_queued()
    assert host.queued == 4 and not host.idle
    host.receive(ack(ack=4), 0.01)
    assert host.idle and not [frame for frame in frames(host.poll(0.01)) if frame.id == messages.Steps.ID]


def test_a_full_inbox_tells_when_there_is_room_again_and_only_then() -> None:
    host, _ = session()
    answer = [encode(Frame(n, 0, 4, messages.Readings.ID, messages.Readings(1, n, (n,)).pack())) for n in range(5)]
    host.receive(b"".join(answer[:4]), 0.0)
    assert [(frame.ack, frame.room) for frame in frames(host.poll(0.0))] == [(4, 0)]
    host.receive(answer[4], 0.0)                                 # more than it can hold: it is asked for again later
    assert [frame.payload[0] for frame in frames(host.poll(0.0))] == [AckReason.GAP]
    assert [message.first for message in host.take(1, now=0.0) if isinstance(message, messages.Readings)] == [0]
    assert [(frame.room, frame.payload[0]) for frame in frames(host.poll(0.0))] == [(1, AckReason.ROOM)]
    host.take(now=0.0)
    assert frames(host.poll(0.0)) == []


@pytest.mark.parametrize(("raw", "words"), [
    (stuff(bytes(5)), "5 bytes; a frame has 6 to "),
    (stuff(bytes(200)), "200 bytes; a frame has 6 to "),
    (stuff(bytes(8)), "the check sum is wrong"),
    (b"\x03\x11", "stuffing is broken at byte 0"),
    (b"\x02\x11\x05\x11", "stuffing is broken at byte 2"),
])
def test_a_bad_frame_says_what_is_bad(raw: bytes, words: str) -> None:
    with pytest.raises(BadFrame, match=words):
        decode(raw)


def test_a_step_remembers_what_it_was_made_from_and_refuses_what_does_not_fit() -> None:
    step = steps.pulse(position=3, count=2)
    assert step.arguments == {"position": 3, "count": 2} and step.name == "pulse"
    with pytest.raises(ValueError, match=r"step pulse: position 200 is not in 1\.\.24|step pulse: position 200 is not in 0\.\.23"):
        steps.pulse(position=200, count=2)
    with pytest.raises(ValueError, match="byte 0: FE is no step"):
        steps.parse(b"\xfe")
    with pytest.raises(ValueError, match="step pulse is cut short"):
        steps.parse(step.code[:-1])
    assert steps.parse(step.code * 2) == [step, step]
