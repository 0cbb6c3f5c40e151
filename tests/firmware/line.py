"""What the tests' host needs of a device: the core on the PC, or the real image in the virtual fixture.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from typing import Protocol

from virtual_fixture.bench import Bench


class Line(Protocol):
    """A device at the end of a wire, in its own time."""

    sent: bytearray

    @property
    def now_us(self) -> float: ...

    def reset(self) -> None: ...

    def run(self, us: float) -> None: ...

    def put(self, data: bytes) -> None: ...


class Image:
    """The AVR image in the virtual fixture, as a Line."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.sent = bytearray()

    @property
    def now_us(self) -> float:
        """Simulated time."""
        return self.bench.now_s * 1e6

    def reset(self) -> None:
        """It starts by itself."""

    def run(self, us: float) -> None:
        """Let simulated time pass."""
        self.bench.run(us / 1e6)
        self.sent += self.bench.read()
        assert not self.bench.trouble, self.bench.trouble

    def put(self, data: bytes) -> None:
        """Bytes from the host."""
        self.bench.write(data)
