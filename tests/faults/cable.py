"""A serial cable that can be pulled out and put in again, between a port and whoever opens it.

    with Cable(port, folder / "port") as cable:
        cable.pull_after(2000)                 # bytes of readings from the device
        ...
        cable.plug()

The host's side is a pseudo-terminal at a fixed path; pulled out, it hangs up and the path is gone, as /dev/ttyUSB0 is.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import contextlib
import os
import select
import threading
import tty
from collections import deque
from pathlib import Path
from types import TracebackType
from typing import Self

from sagbench.wire.frame import Splitter
from sagbench.wire.messages import Readings
from sagbench.wire.numbers import WINDOW

WAIT_S = 0.02


class Cable:
    """port: the device's. path: where the host finds it."""

    def __init__(self, port: str, path: Path) -> None:
        self.path = path
        self.carried = 0                      # bytes of readings from the device, none twice: how many acks there are, time decides
        self._splitter = Splitter()
        self._seen: deque[int] = deque(maxlen=2 * WINDOW)
        self._most: int | None = None
        self._device = os.open(port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self._device)
        self._ends: tuple[int, int] | None = None
        self._lock = threading.Lock()
        self._open = True
        self.plug()
        self._thread = threading.Thread(target=self._carry)
        self._thread.start()

    def plug(self) -> None:
        """Put it in (again)."""
        with self._lock:
            master, slave = os.openpty()
            tty.setraw(slave)
            self._ends = master, slave
            self.path.symlink_to(os.ttyname(slave))

    def pull(self) -> None:
        """Out: the host's end hangs up."""
        with self._lock:
            if self._ends:
                self.path.unlink()
                for end in self._ends:
                    os.close(end)
            self._ends, self._most = None, None

    def pull_after(self, count: int) -> None:
        """Out as soon as so many bytes of readings more have come from the device."""
        self._most = self.carried + count

    @property
    def plugged(self) -> bool:
        """It is in."""
        return self._ends is not None

    def _carry(self) -> None:
        while self._open:
            with self._lock:
                ends = self._ends
            if self._most is not None and self.carried >= self._most:
                self.pull()
                continue
            watched = [self._device, *([ends[0]] if ends else [])]
            with contextlib.suppress(OSError):            # pulled out meanwhile
                for ready in select.select(watched, [], [], WAIT_S)[0]:
                    data = os.read(ready, 512)
                    if ready == self._device:
                        self._count(data)
                        if ends:
                            os.write(ends[0], data)
                    else:
                        os.write(self._device, data)

    def _count(self, data: bytes) -> None:
        for frame in self._splitter.feed(data):
            if frame and frame.id == Readings.ID and frame.seq not in self._seen:
                self._seen.append(frame.seq)
                self.carried += len(frame.payload)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None) -> None:
        self._open = False
        self._thread.join()
        self.pull()
        os.close(self._device)
