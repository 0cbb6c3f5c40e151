"""The host program killed at random moments, with all it has forked alive or not: how long its chip stays powered.

    python -m faults killed --count 1000

The host is a process of its own that sweeps over a socket, with the real guard on it; this process holds the other end and the virtual
fixture.  Simulated time goes with the wall clock's until the kill, but waits for a host that has not got a processor.  After it this
process only notes when which bytes come, until the last who could say anything is gone; then the fixture is let run on, with each byte
at its moment.  (tests/system/test_killed_host.py: the command, on a pseudo-terminal, whose bytes the kernel moves when it finds time.)

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import contextlib
import ctypes
import os
import random
import select
import signal
import socket
import time
from pathlib import Path
from typing import Any

from sagbench.device import Device
from sagbench.errors import FixtureError
from sagbench.sweep import sweep
from sagbench.wire.guard import Guard
from sagbench.wire.serial import PATIENCE
from virtual_fixture.inproc import Fixture

from faults.rails import GIVE_UP_S, POWERED_MOST_MS, STRONG_MOST_MS, OffWatch
from inprocess import BOOT_S, part

MARKING = "7400"
# What is killed; group: all that has not left it, as a terminal does; starting: before or in the fork; both: the guard too, so that nobody is left to say a word.
KINDS = (*["program"] * 8, "group", "group", "starting", "both")
SWEPT_S = 0.75                # until a sweep lets go of the chip, and a little of what is after it
STARTED_S = 0.03              # wall clock: until the guard is forked
SILENT_S = 0.15               # looked at so long after the last word
HELD_S = 25e-3                # simulated time does not go on for longer, while the chip is powered, without a word of the host,
PROCESSOR_S = 1.5             # unless this is over on the wall clock
PATIENCE_S = 600.0            # of a machine with other work
CHILD_SUBREAPER = 36          # prctl(2): orphans of the host become ours, so that none is overlooked


class _Port:
    """The host's end: a transport with a guard, as the serial port has it."""

    def __init__(self, end: socket.socket) -> None:
        self.name, self._end = "socket", end
        self._guard = Guard(end.fileno())

    def now(self) -> float:
        """Seconds, monotonic."""
        return time.monotonic()

    def read(self) -> bytes:
        """What has come, waiting a little for it."""
        return self._end.recv(4096) if select.select([self._end], [], [], PATIENCE)[0] else b""

    def read_at_once(self) -> bytes:
        """What has come."""
        return self._end.recv(4096) if select.select([self._end], [], [], 0)[0] else b""

    def write(self, data: bytes) -> None:
        """Send."""
        self._end.sendall(data)

    def close(self) -> None:
        """The guard goes; the socket is used again."""
        self._guard.dismiss()


def _host(end: socket.socket) -> None:
    """The program: sweeps for ever.  Never returns."""
    try:
        os.setsid()
        null = os.open(os.devnull, os.O_RDWR)
        for number in (0, 1, 2):
            os.dup2(null, number)
        while True:
            with contextlib.suppress(FixtureError), Device(_Port(end)) as device:        # starved on a busy machine it begins anew
                while True:
                    sweep(device, part(MARKING))
    finally:
        os._exit(1)


def _children(pid: int) -> list[int]:
    try:
        return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


class Case:
    """One host, one fixture, one kill."""

    def __init__(self, index: int) -> None:
        rng = random.Random(index)
        self.kind = KINDS[index % len(KINDS)]
        self.fixture = Fixture(index, {"part": MARKING})
        self.fixture.run(BOOT_S)
        self.line, theirs = socket.socketpair()
        self.begun = time.monotonic()
        self.killed_at: float | None = None                # wall clock
        self.guards: list[int] = []
        self.start_s = rng.uniform(0, STARTED_S)
        if self.kind != "starting":
            self.fixture.at(rng.uniform(0, SWEPT_S), self.kill, powered=True)
        self.host = os.fork()
        if self.host == 0:
            self.line.close()
            _host(theirs)
        theirs.close()

    def kill(self) -> None:
        """Now, and know when that was on both clocks."""
        self.guards = _children(self.host)
        self.fixture.write(self._from_host(0) or b"")          # was said before
        if self.kind == "both":
            for guard in self.guards:
                os.kill(guard, signal.SIGKILL)
        (os.killpg if self.kind == "group" else os.kill)(self.host, signal.SIGKILL)
        self.killed_at, self.since_s = time.monotonic(), self.fixture.now_s

    def _from_host(self, patience_s: float) -> bytes | None:
        """Bytes, none, or None if nobody is left who could send any."""
        if not select.select([self.line], [], [], patience_s)[0]:
            return b""
        with contextlib.suppress(ConnectionResetError):          # died with bytes unread
            return self.line.recv(4096) or None
        return b""

    def until_killed(self) -> None:
        """Serve the host.  Simulated time does not run ahead of the wall clock while the device has nothing to say."""
        said, last = b"", time.monotonic()
        heard_s, heard = 0.0, last
        while self.killed_at is None:
            came = self._from_host(0 if said else 1e-3) or b""
            self.fixture.write(came)
            now = time.monotonic()
            if came:
                heard_s, heard = self.fixture.now_s, now
            held = self.fixture.powered and self.fixture.now_s - heard_s > HELD_S and now - heard < PROCESSOR_S
            said = b"" if held else self.fixture.listen(min(5e-3, max(1e-4, now - last)), 0.0)
            last = now
            if self.killed_at is None and said:
                self.line.sendall(said)
            if self.killed_at is None and self.kind == "starting" and now - self.begun > self.start_s:
                self.kill()
            if self.killed_at is None and (now - self.begun > PATIENCE_S or os.waitpid(self.host, os.WNOHANG)[0]):
                raise AssertionError("the host ended by itself, or the chip was never powered")

    def after(self) -> OffWatch:
        """What still comes, and what it does on the virtual rails."""
        assert self.killed_at is not None
        came: list[tuple[float, bytes]] = []
        while (data := self._from_host(PATIENCE_S)) is not None:
            if not data and time.monotonic() - self.killed_at > PATIENCE_S:
                raise AssertionError("somebody still holds the killed host's port")
            came.append((time.monotonic() - self.killed_at, data))
        off = OffWatch(self.fixture, self.since_s)
        self.powered = off.supplied
        for moment, data in came:
            off.run(moment)
            self.fixture.write(data)
        off.run(off.spent_s + SILENT_S)
        off.until_done(GIVE_UP_S)
        return off

    def end(self) -> int:
        """Let go of everything; how many of the host's children are still there."""
        os.waitpid(self.host, 0)
        left = 0
        for guard in self.guards:
            until = time.monotonic() + 5
            while (gone := os.waitpid(guard, os.WNOHANG)[0]) == 0 and time.monotonic() < until:
                time.sleep(1e-3)
            if not gone:
                left += 1
                os.kill(guard, signal.SIGKILL)
                os.waitpid(guard, 0)
        self.line.close()
        return left


def outcome(index: int) -> dict[str, Any]:
    """Case `index`: milliseconds from the kill to no supply and no strong line, by the wall clock and the virtual rails."""
    ctypes.CDLL(None).prctl(CHILD_SUBREAPER, 1, 0, 0, 0)
    part(MARKING)
    case = Case(index)
    try:
        case.until_killed()
        off = case.after()
        left = case.end()
        return {"index": index, "kind": case.kind, "powered": case.powered, "powered_ms": off.powered_ms, "strong_ms": off.strong_ms,
                "left": left, "seen": [str(one) for one in case.fixture.forgive()]}
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.kill(case.host, signal.SIGKILL)
        case.fixture.close()


def wrong(one: dict[str, Any]) -> str:
    """What is wrong with a case, or nothing."""
    if one["seen"]:
        return str(one["seen"][0])
    if one["left"]:
        return f"{one['kind']}: {one['left']} children of the host are still there"
    if one["powered_ms"] > POWERED_MOST_MS or one["strong_ms"] > STRONG_MOST_MS:
        return f"{one['kind']}: powered for {one['powered_ms']:.1f} ms, strong lines on for {one['strong_ms']:.1f} ms"
    return ""
