"""A line that is a function: for tests of both ends, with every fault a line can have and a clock of its own.

    transport = LoopTransport(peer)          # peer(data, now) -> bytes
    Device(transport)

Order is kept, as on a serial line; loss, damage and duplication hit whole writes
of one end, delay holds them up.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

Peer = Callable[[bytes, float], bytes]
TURN = 0.002               # seconds a read takes


@dataclass(frozen=True)
class Faults:
    """Chances (0..1) of each fault per frame, and the longest delay in seconds."""

    loss: float = 0.0
    damage: float = 0.0
    duplication: float = 0.0
    delay: float = 0.0


class Line:
    """One direction."""

    def __init__(self, faults: Faults, seed: int) -> None:
        self.faults = faults
        self._random = random.Random(seed)
        self._flying: deque[tuple[float, bytes]] = deque()
        self._last = 0.0

    def put(self, data: bytes, now: float) -> None:
        """Send; each frame (up to its delimiter) meets its own fate."""
        for frame in data.split(b"\x00"):
            if frame:
                for _ in range(2 if self._random.random() < self.faults.duplication else 1):
                    self._put_one(frame + b"\x00", now)

    def _put_one(self, frame: bytes, now: float) -> None:
        if self._random.random() < self.faults.loss:
            return
        if self._random.random() < self.faults.damage:
            broken = bytearray(frame)
            broken[self._random.randrange(len(broken))] ^= 1 << self._random.randrange(8)
            frame = bytes(broken)
        self._last = max(self._last, now + self._random.random() * self.faults.delay)
        self._flying.append((self._last, frame))

    def get(self, now: float) -> bytes:
        """What has arrived by now."""
        out = b""
        while self._flying and self._flying[0][0] <= now:
            out += self._flying.popleft()[1]
        return out


class LoopTransport:
    """A Transport whose other end is a function called once a turn with what has arrived."""

    def __init__(self, peer: Peer, faults: Faults = Faults(), seed: int = 0, name: str = "loop") -> None:
        self.name = name
        self.closed = False
        self._peer = peer
        self._now = 0.0
        self._there, self._back = Line(faults, seed), Line(faults, seed + 1)

    def now(self) -> float:
        """Seconds of the loop's own clock: it runs while somebody reads."""
        return self._now

    def spend(self, seconds: float) -> None:
        """Let time pass without reading, as a busy host does."""
        self._now += seconds

    def read(self) -> bytes:
        """One turn of the peer, then what has arrived from it."""
        self._now += TURN
        self._back.put(self._peer(self._there.get(self._now), self._now), self._now)
        return self._back.get(self._now)

    def write(self, data: bytes) -> None:
        """Send to the peer."""
        self._there.put(data, self._now)

    def close(self) -> None:
        """Only remembered."""
        self.closed = True
