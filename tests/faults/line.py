"""A serial line with every fault a line can have, in simulated time, the firmware's core at its other end.

    line = FaultyLine(rates, seed)
    Device(line)                          # the host's transport interface

The host is the real one, the device the real core for this computer (device.c).  Each direction is cut into chunks as USB
does; bits flip, bytes get lost or come twice, chunks change places or are held up, and noise comes between frames.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ctypes
import math
import random
import subprocess
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from sagbench.wire.frame import BadFrame, decode
from sagbench.wire.serial import Transport

ROOT = Path(__file__).resolve().parents[2]
LATENCY_S = 1e-3          # of a USB serial bridge
PATIENCE_S = 5e-3         # a read waits so long for the first byte
HELD_S = 5e-3             # a chunk waits so long for the one that is to go before it
CHUNK_MOST = 62           # bytes of a full-speed USB bridge's packet


@dataclass(frozen=True)
class Rates:
    """Chances of each fault: a bit, a byte, a chunk, a frame."""

    bit: float = 1e-4
    drop: float = 1e-4            # a byte
    double: float = 1e-4          # a byte
    swap: float = 5e-3            # a chunk, with the one after it
    stall: float = 3e-3           # a chunk
    stall_most_s: float = 0.1
    noise: float = 1e-2           # after a frame
    noise_most: int = 24          # bytes


CLEAN = Rates(0, 0, 0, 0, 0, 0, 0, 0)


@cache
def _library() -> ctypes.CDLL:
    subprocess.run(["make", "-s", "-C", str(Path(__file__).parent)], check=True)
    lib = ctypes.CDLL(str(ROOT / "build/faults/libdevice.so"))
    lib.device_now.restype = ctypes.c_double
    lib.device_run.argtypes = [ctypes.c_double, ctypes.c_bool]
    lib.device_put.argtypes = [ctypes.c_char_p, ctypes.c_uint32]
    return lib


class Direction:
    """One direction: what goes in, what comes out later, and what was done to it."""

    def __init__(self, rates: Rates, seed: int) -> None:
        self.rates = rates
        self.frames = self.forged = 0         # frames sent; runs that pass as a frame and were never sent
        self.faults: Counter[str] = Counter()
        self.broken_at: float | None = None   # first fault since something new was delivered
        self.cut = (math.inf, math.inf)
        self._random = random.Random(seed)
        self._queue: deque[tuple[float, bytes]] = deque()
        self._held: tuple[float, bytes] | None = None          # until when, what
        self._last = 0.0
        self._sent: set[bytes] = set()
        self._order: deque[bytes] = deque()
        self._whole, self._tail = bytearray(), bytearray()
        self._next = {name: self._draw(name) for name in ("bit", "drop", "double")}

    def _draw(self, name: str) -> int:
        """Bits or bytes until the next one: geometric."""
        p = getattr(self.rates, name)
        return int(math.log(1 - self._random.random()) / math.log(1 - p)) if p else 1 << 62

    def put(self, data: bytes, now: float) -> None:
        """Bytes in at one end."""
        if not data or self.cut[0] <= now < self.cut[1]:
            return
        *runs, rest = data.split(b"\0")
        for run in runs:
            self._remember(bytes(self._whole) + run)
            self._whole.clear()
        self._whole += rest
        data = self._with_noise(data)
        while data:
            size = self._random.randint(1, CHUNK_MOST)
            self._chunk(self._hurt(data[:size], now), now)
            data = data[size:]

    def _remember(self, run: bytes) -> None:
        if run:
            self.frames += 1
            self._sent.add(run)
            self._order.append(run)
            if len(self._order) > 4096:
                self._sent.discard(self._order.popleft())

    def _with_noise(self, data: bytes) -> bytes:
        if not self.rates.noise or b"\0" not in data:
            return data
        out = bytearray()
        for byte in data.split(b"\0")[:-1]:
            out += byte + b"\0"
            if self._random.random() < self.rates.noise:
                self.faults["noise"] += 1
                out += self._random.randbytes(self._random.randint(1, self.rates.noise_most))
        return bytes(out + data[data.rindex(0) + 1:])

    def _hurt(self, data: bytes, now: float) -> bytes:
        if min(self._next["bit"] // 8, self._next["drop"], self._next["double"]) >= len(data):
            for name, step in (("bit", 8), ("drop", 1), ("double", 1)):
                self._next[name] -= step * len(data)
            return data
        out = bytearray()
        for byte in data:
            while self._next["bit"] < 8:
                byte ^= 1 << self._next["bit"]
                self._next["bit"] += 1 + self._draw("bit")
                self._fault("bit", now)
            self._next["bit"] -= 8
            copies = 1
            for name, change in (("drop", -1), ("double", 1)):
                if self._next[name] == 0:
                    copies += change
                    self._next[name] = 1 + self._draw(name)
                    self._fault(name, now)
                self._next[name] -= 1
            out += bytes([byte]) * max(0, copies)
        return bytes(out)

    def _fault(self, name: str, now: float) -> None:
        self.faults[name] += 1
        if self.broken_at is None:
            self.broken_at = now

    def _chunk(self, chunk: bytes, now: float) -> None:
        due = now + LATENCY_S
        if self._random.random() < self.rates.stall:
            self._fault("stall", now)
            due += self._random.random() * self.rates.stall_most_s
        self._last = max(self._last, due)
        if self._held is not None:
            chunk, self._held = chunk + self._held[1], None
        elif self._random.random() < self.rates.swap:
            self._fault("swap", now)
            self._held = self._last + HELD_S, chunk           # goes behind the next one
            return
        self._queue.append((self._last, chunk))

    @property
    def due(self) -> float:
        """When something comes out next."""
        return self._queue[0][0] if self._queue else self._held[0] if self._held else math.inf

    def get(self, now: float) -> bytes:
        """What has come out by now."""
        out = b""
        while self._queue and self._queue[0][0] <= now:
            out += self._queue.popleft()[1]
        if self._held and not self._queue and self._held[0] <= now:
            out, self._held = out + self._held[1], None
        *runs, rest = out.split(b"\0")
        for run in runs:
            self._look(bytes(self._tail) + run)
            self._tail.clear()
        self._tail += rest
        return out

    def _look(self, run: bytes) -> None:
        if run and run not in self._sent:
            try:
                decode(run)
            except BadFrame:
                return
            self.forged += 1


class FaultyLine:
    """The host's transport; times are simulated seconds."""

    name = "faulty line"

    def __init__(self, rates: Rates, seed: int) -> None:
        self._lib = _library()
        self._buffer = ctypes.create_string_buffer(1 << 16)
        self.there, self.back = Direction(rates, 2 * seed), Direction(rates, 2 * seed + 1)
        self._lib.device_start()
        self._lib.device_run(self.now() + 0.15, False)          # its own start
        self._sent()
        self.progress: Callable[[], object] = lambda: None      # something that changes with every numbered frame that got through
        self.recovery_s = 0.0                                   # longest from the first fault to the next progress
        self._was: object = None

    def cut(self, begin_s: float, end_s: float) -> None:
        """Nothing that is sent between these moments arrives, either way."""
        self.there.cut = self.back.cut = (begin_s, end_s)

    def now(self) -> float:
        """Simulated seconds."""
        return float(self._lib.device_now())

    def _sent(self) -> None:
        count = self._lib.device_take(self._buffer)
        if count:
            self.back.put(ctypes.string_at(self._buffer, count), self.now())

    def _deliver(self) -> None:
        if self.there.due <= self.now():
            data = self.there.get(self.now())
            self._lib.device_put(data, len(data))

    def read(self) -> bytes:
        """What has come from the device, waiting a few milliseconds for the first byte."""
        self._look()
        end = self.now() + PATIENCE_S
        while (now := self.now()) < end:
            self._deliver()
            if data := self.back.get(now):
                return data
            self._lib.device_run(min(end, self.there.due, self.back.due), True)
            self._sent()
        return self.back.get(self.now())

    def _look(self) -> None:
        is_, both = self.progress(), (self.there, self.back)
        if is_ == self._was:
            return
        self._was = is_
        for broken in [one.broken_at for one in both if one.broken_at is not None]:
            self.recovery_s = max(self.recovery_s, self.now() - broken)
        self.there.broken_at = self.back.broken_at = None

    def write(self, data: bytes) -> None:
        """Bytes to the device."""
        self.there.put(data, self.now())

    def close(self) -> None:
        """Nothing is held."""


class FaultyTransport:
    """Any transport of the host's, with faults on its way; the same interface."""

    def __init__(self, line: Transport, rates: Rates, seed: int) -> None:
        self.name, self._line = line.name, line
        self.there, self.back = Direction(rates, 2 * seed), Direction(rates, 2 * seed + 1)

    def now(self) -> float:
        """Seconds of the line."""
        return self._line.now()

    def read(self) -> bytes:
        """What has come through."""
        self._line.write(self.there.get(self.now()))
        self.back.put(self._line.read(), self.now())
        return self.back.get(self.now())

    def write(self, data: bytes) -> None:
        """Into the line."""
        self.there.put(data, self.now())

    def close(self) -> None:
        """What is under way is lost."""
        self._line.close()
