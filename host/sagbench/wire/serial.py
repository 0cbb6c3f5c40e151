"""The serial port, and which one it is.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import errno
import os
import re
import time
from typing import Protocol, runtime_checkable

import serial  # type: ignore[import-untyped]
from serial.tools import list_ports  # type: ignore[import-untyped]

from sagbench.errors import LinkLost, NoDevice
from sagbench.wire.guard import Guard
from sagbench.wire.numbers import BAUD

PATIENCE = 0.005           # seconds a read waits for the first byte
WRITE_PATIENCE = 2.0       # seconds a write may be held up
VARIABLE = "SAGBENCH_PORT"
GIVE_PORT = "give the port the fixture is at, such as /dev/ttyUSB0, /dev/ttyACM0 or COM3."


class Transport(Protocol):
    """What carries bytes; `SerialTransport` is the real one, tests have others."""

    name: str

    def now(self) -> float:
        """Seconds on a clock that only runs forward."""

    def read(self) -> bytes:
        """Bytes that have come, waiting a few milliseconds for the first. Raises LinkLost if the line is gone."""

    def write(self, data: bytes) -> None:
        """Send. Raises LinkLost if the line is gone."""

    def close(self) -> None:
        """Let go of the line."""


@runtime_checkable
class LiveTransport(Transport, Protocol):
    """One whose clock runs on while the program thinks: somebody must speak meanwhile."""

    def read_at_once(self) -> bytes:
        """Bytes that have come, without waiting for any. Raises LinkLost if the line is gone."""


def find_port(port: str | None = None) -> str:
    """The port to use: the one named, else SAGBENCH_PORT, else the only USB serial port.  Raises NoDevice."""
    named = port or os.environ.get(VARIABLE)
    if named:
        return named
    found = sorted(p.device for p in list_ports.comports() if p.vid is not None)
    if len(found) == 1:
        return str(found[0])
    if found:
        raise NoDevice(f"Several USB serial ports are here ({', '.join(found)}); say which one is the fixture, "
                       f"by the port option or in the environment variable {VARIABLE}.")
    raise NoDevice("No USB serial port is here; plug in the fixture, or name its port "
                   f"by the port option or in the environment variable {VARIABLE}.")


class SerialTransport:
    """A serial port, or a pseudo-terminal, opened for us alone."""

    def __init__(self, name: str) -> None:
        """Open it.  Raises NoDevice if that cannot be."""
        self.name = name
        try:
            self._port = serial.Serial(name, BAUD, timeout=PATIENCE, write_timeout=WRITE_PATIENCE, exclusive=True)
        except serial.SerialException as wrong:
            raise NoDevice(_why_not(name, wrong)) from None
        except (OSError, ValueError) as wrong:
            # Some pseudo-terminals refuse a baud rate or a modem line with a plain OSError.
            raise NoDevice(f"Port {name} cannot be used as a serial port{_reason(wrong)}; {GIVE_PORT}") from None
        self._guard = Guard(self._port.fileno() if hasattr(self._port, "fileno") else -1)

    def now(self) -> float:
        """Seconds, monotonic."""
        return time.monotonic()

    def read(self) -> bytes:
        """Bytes that have come.  Raises LinkLost if the device has vanished."""
        try:
            first = self._port.read(1)
            return bytes(first + self._port.read(self._port.in_waiting)) if first else b""
        except (OSError, TypeError) as wrong:           # SerialException is an OSError; TypeError: closed under us
            raise LinkLost(self._gone(wrong)) from None

    def read_at_once(self) -> bytes:
        """Bytes that have come, without waiting.  Raises LinkLost if the device has vanished."""
        try:
            return bytes(self._port.read(self._port.in_waiting))
        except (OSError, TypeError) as wrong:
            raise LinkLost(self._gone(wrong)) from None

    def write(self, data: bytes) -> None:
        """Send all.  Raises LinkLost if the device has vanished or takes nothing."""
        if not data:
            return
        try:
            self._port.write(data)
        except (OSError, TypeError) as wrong:
            raise LinkLost(self._gone(wrong)) from None

    def close(self) -> None:
        """Let go of the port."""
        self._guard.dismiss()
        try:
            self._port.close()
        except OSError:
            pass                                        # it is gone already

    def _gone(self, wrong: Exception) -> str:
        # pyserial guesses at length where the system says nothing
        why = f" ({text})" if (text := getattr(wrong, "strerror", None)) else ""
        return f"The fixture at {self.name} has gone{why}; it powers the chip down by itself. Check the cable and start again."


def _why_not(name: str, wrong: serial.SerialException) -> str:
    text = str(wrong)
    if wrong.errno == 2 or "FileNotFoundError" in text:
        return f"There is no port {name}; check the cable and the name."
    if wrong.errno == 13 or "PermissionError" in text or "Access is denied" in text:
        return (f"Port {name} may not be opened; on Linux add yourself to the group that owns it (often dialout), "
                "and see that no other program has it open.")
    if wrong.errno in (11, 16) or "exclusively lock" in text:
        return f"Port {name} is in use by another program; close that first."
    if os.path.isdir(name):
        return f"{name} is a folder, not a serial port; {GIVE_PORT}"
    if _number(wrong) == errno.ENOTTY:
        return f"{name} is not a serial port; {GIVE_PORT}"
    return f"Port {name} cannot be opened{_reason(wrong)}; {GIVE_PORT}"


def _number(wrong: Exception) -> int | None:
    """The system's number of an error; pyserial keeps some only in its text, "(25, 'Inappropriate ...')"."""
    number = getattr(wrong, "errno", None)
    if number is None and (said := re.search(r"\((\d+),", str(wrong))):
        number = int(said[1])
    return number


def _reason(wrong: Exception) -> str:
    """The system's words for an error, to follow a verb; none if it has no number."""
    number = _number(wrong)
    return "" if number is None else f": {os.strerror(number).lower()}"
