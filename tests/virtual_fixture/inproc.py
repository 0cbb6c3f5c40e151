"""A virtual fixture inside the host's own process: no pseudo-terminal, no second process, no waiting.

    with Fixture(seed=7) as fixture:                  # the native build of the firmware's core
        fixture.insert("chips/demo/sound_7400.toml")
        device = Device(fixture.line)                 # the host's own transport interface
        ...
        fixture.truth, fixture.violations             # the end of the block raises if there are any

The device runs while the host waits for it, and only then, and the host's clock (`line.now`) is
simulated time: a sweep takes as long as its computing takes, and gives the same codes on every run,
however busy the machine is.  `fixture.serial` is the same line with pyserial's interface.

For studies and tests; the host never sees more of a fixture than its line.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from pathlib import Path
from typing import Any

from .bench import Bench, Pace

LATENCY_S = 1e-3        # bytes are handed over so long after the first: the latency of common USB serial bridges
PATIENCE_S = 5e-3       # how long a read of the line waits for the first byte


class LineClosed(OSError):
    """The line has been closed."""


class Line:
    """The device's serial line as the host's transport wants it: name, now, read, write, close.

    All times are simulated seconds.
    """

    def __init__(self, bench: Bench, name: str = "inproc", latency_s: float = LATENCY_S) -> None:
        self.name, self.latency_s = name, latency_s
        self._bench: Bench | None = bench

    @property
    def bench(self) -> Bench:
        """The bench behind it.  Raises LineClosed."""
        if self._bench is None:
            raise LineClosed(f"line {self.name} is closed")
        return self._bench

    def now(self) -> float:
        """Simulated seconds."""
        return self.bench.now_s

    def read(self) -> bytes:
        """What the device has sent; it runs until it sends something, for a few milliseconds at most."""
        return self.bench.listen(PATIENCE_S, self.latency_s)

    def write(self, data: bytes) -> None:
        """Bytes to the device."""
        self.bench.write(data)

    def close(self) -> None:
        """Let go of the line; the fixture stays."""
        self._bench = None


class Port:
    """The device's serial line with the interface of pyserial's `Serial`, in simulated time.

    timeout: seconds a read waits for its bytes; None: until they are there, 0: not at all.
    """

    def __init__(self, bench: Bench, timeout: float | None = None, name: str = "inproc") -> None:
        self.port = self.name = name
        self.timeout, self.write_timeout = timeout, None
        self.baudrate = 500000
        self.dtr = self.rts = True
        self._bench, self._rest, self.is_open = bench, b"", True

    def _live(self) -> Bench:
        if not self.is_open:
            raise LineClosed(f"port {self.name} is closed")
        return self._bench

    @property
    def in_waiting(self) -> int:
        """Bytes that a read would get at once."""
        self._rest += self._live().read()
        return len(self._rest)

    @property
    def out_waiting(self) -> int:
        return 0

    def read(self, size: int = 1) -> bytes:
        """Up to `size` bytes; fewer if the time is over."""
        bench = self._live()
        end = None if self.timeout is None else bench.now_s + self.timeout
        while self.in_waiting < size:
            left = 1.0 if end is None else end - bench.now_s
            if left <= 0:
                break
            self._rest += bench.listen(left, 0.0)
            if bench.trouble and not self._rest:
                raise LineClosed(f"port {self.name}: {bench.trouble}")
        got, self._rest = self._rest[:size], self._rest[size:]
        return got

    def read_until(self, expected: bytes = b"\n", size: int | None = None) -> bytes:
        """Bytes up to and with `expected`, or what came before the time was over."""
        got = b""
        while not got.endswith(expected) and (size is None or len(got) < size):
            byte = self.read(1)
            if not byte:
                break
            got += byte
        return got

    def write(self, data: bytes) -> int:
        """Bytes to the device; how many."""
        self._live().write(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Nothing waits here."""
        self._live()

    def reset_input_buffer(self) -> None:
        """Forget what has come."""
        self._live().read()
        self._rest = b""

    def reset_output_buffer(self) -> None:
        self._live()

    def open(self) -> None:
        self.is_open = True

    def close(self) -> None:
        self.is_open = False

    def __enter__(self) -> Port:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class Fixture(Bench):
    """A bench with the line of a host in the same process; an empty socket to begin with.

    variant: "pc" the native build of the firmware's core (the quick one), "avr" the image in the simulator.
    Further options as for Bench.
    """

    def __init__(self, seed: int = 1, chip: Any = None, variant: str = "pc", *, image: Path | str | None = None,
                 **options: Any) -> None:
        super().__init__(chip, seed, variant, image=image, pace=Pace.FREE, **options)

    def __exit__(self, kind: object, *_: object) -> None:
        """Raises AssertionError with every violation that was not forgiven, unless something else is being raised."""
        found = [str(violation) for violation in self.violations]
        self.close()
        if found and kind is None:
            raise AssertionError("the virtual fixture saw trouble:\n" + "\n".join(found))

    @property
    def line(self) -> Line:
        """The serial line for `sagbench.device.Device`."""
        return Line(self, f"inproc-{self.seed}")

    @property
    def serial(self) -> Port:
        """The serial line as pyserial would open it."""
        return Port(self, name=f"inproc-{self.seed}")
