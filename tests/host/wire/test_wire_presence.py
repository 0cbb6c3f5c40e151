"""The second voice's thread, and the line that stands in for a cable in tests, each by itself and without a clock.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import queue
import sys
import threading

from sagbench.wire.loop import Faults, Line, LoopTransport
from sagbench.wire.presence import SWITCH, Presence

PATIENCE_S = 60.0                  # only a test that fails waits so long


class Speaker:
    """What the thread calls: says what it is told to answer, and where it was called."""

    def __init__(self, more: int) -> None:
        self.more = more
        self.said: queue.Queue[threading.Thread] = queue.Queue()

    def __call__(self) -> bool:
        self.more -= 1
        due = self.more > 0
        self.said.put(threading.current_thread())      # last: who waits for it may change `more`
        return due


def test_the_second_voice_speaks_until_nothing_is_due_and_again_when_woken() -> None:
    speaker = Speaker(3)
    voice = Presence(speaker)
    voice.wake()
    threads = [speaker.said.get(timeout=PATIENCE_S) for _ in range(3)]
    # It must not keep a program alive that has ended, nor wait for CPython's 5 ms (sys.setswitchinterval) while another computes.
    assert threads[0].daemon and threads[0] is not threading.current_thread() and len(set(threads)) == 1
    assert sys.getswitchinterval() <= SWITCH
    speaker.more = 1
    voice.wake()
    assert speaker.said.get(timeout=PATIENCE_S) is threads[0]
    voice.stop()
    assert not threads[0].is_alive() and speaker.said.empty()
    voice.wake()                                       # after `stop`: never again
    assert speaker.said.empty()


def test_a_switch_interval_that_is_shorter_already_is_left() -> None:
    before = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH / 4)
    try:
        voice = Presence(Speaker(1))
        voice.wake()
        assert abs(sys.getswitchinterval() - SWITCH / 4) < 1e-9
        voice.stop()
    finally:
        sys.setswitchinterval(before)


def test_a_damaging_line_turns_one_bit_of_each_frame_and_any_bit() -> None:
    line, frame = Line(Faults(damage=1), 1), b"\x55" * 9
    turned = set()
    for _ in range(200):
        line.put(frame + b"\x00", 0.0)
        came = line.get(0.0)
        wrong = [a ^ b for a, b in zip(came, frame + b"\x00", strict=True) if a != b]
        assert len(wrong) == 1 and wrong[0].bit_count() == 1
        turned.add(wrong[0])
    assert turned == {1 << bit for bit in range(8)}


def test_two_loops_of_one_seed_lose_the_same_frames_and_both_ways_differ() -> None:
    def played(seed: int) -> tuple[list[bytes], list[bytes]]:
        there: list[bytes] = []

        def peer(data: bytes, now: float) -> bytes:
            there.append(data)
            return b"b\x00"
        line = LoopTransport(peer, Faults(loss=0.5), seed)
        back = []
        for _ in range(64):
            line.write(b"a\x00")
            back.append(line.read())
        return there, back
    one, again, other = played(7), played(7), played(8)
    assert one == again and one != other
    assert [bool(came) for came in one[0]] != [bool(came) for came in one[1]]
