"""A whole sweep by the command, with what went over the wire in both directions.

    sweep = sweep_over("74LS00", chip, seed, "--fast")
    sweep.readings, sweep.record

The command is a black box here: a process with a serial port.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import json
import os
import pty
import select
import threading
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cobs import cobs

from rig import sagbench, virtual_port

from .wire import BY_ID, unpack

Message = tuple[str, dict[str, Any]]


@dataclass
class Sweep:
    """What the host asked, what the device answered, what the host made of it."""

    asked: list[tuple[str, bytes]]     # numbered messages, in order
    answered: list[Message]            # numbered messages, in order
    record: dict[str, Any]

    @property
    def readings(self) -> list[tuple[int, int, int]]:
        """Pass, index within the pass, code sum."""
        return [(v["pass_id"], v["first"] + n, code) for name, v in self.answered if name == "readings"
                for n, code in enumerate(v["sums"])]

    @property
    def events(self) -> list[dict[str, Any]]:
        return [v for name, v in self.answered if name == "event"]


@contextmanager
def tapped(port: str) -> Iterator[tuple[str, bytearray, bytearray]]:
    """Another serial port with this one behind it; gives its path and the bytes to and from the device."""
    outer, inner = pty.openpty()
    device = os.open(port, os.O_RDWR | os.O_NOCTTY)
    for fd in (outer, inner, device):
        tty.setraw(fd)
    to, back, over = bytearray(), bytearray(), threading.Event()

    def pump() -> None:
        while not over.is_set():
            for fd in select.select([outer, device], [], [], 0.05)[0]:
                data = os.read(fd, 4096)
                (to if fd == outer else back).extend(data)
                os.write(device if fd == outer else outer, data)

    thread = threading.Thread(target=pump)
    thread.start()
    try:
        yield os.ttyname(inner), to, back
    finally:
        over.set()
        thread.join()
        for fd in (outer, inner, device):
            os.close(fd)


def numbered(stream: bytes) -> list[tuple[str, bytes]]:
    """Numbered messages of one direction, each once: repeated frames have a number that was had."""
    found: list[tuple[str, bytes]] = []
    for part in bytes(stream).split(b"\0"):
        raw = cobs.decode(part) if part else b""
        if raw and BY_ID[raw[3]]["numbered"] and raw[0] == len(found) & 255:
            found.append((BY_ID[raw[3]]["name"], raw[4:-2]))
    return found


def sweep_over(part: str, chip: Path, seed: int, *options: str) -> Sweep:
    """One `sagbench sweep`; an AssertionError if the fixture saw a violation."""
    with virtual_port(chip, seed, *options) as port, tapped(port) as (path, to, back):
        done = sagbench("sweep", part, "--port", path, "--json", "-")
    assert done.returncode in (0, 1, 4), done.stderr
    return Sweep(numbered(to), [(name, unpack(name, payload)) for name, payload in numbered(back)],
                 json.loads(done.stdout))
