"""A second voice while the program thinks: the fixture takes a chip's power away when it hears nothing for 50 ms.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable

from sagbench.wire import numbers

EVERY = numbers.PRESENCE_MS / 2000  # seconds between looks whether something is due: half of what may pass between two words
SWITCH = 1e-3  # seconds after which a thread that computes must let another: five times as often as usual, for each write waits so long


class Presence:
    """A thread that calls `speak` again and again while it is awake, until `stop`.

    speak: says what is due; gives False when nothing will be until the next `wake`.
    """

    def __init__(self, speak: Callable[[], bool]) -> None:
        self._speak = speak
        self._awake = threading.Event()
        self._over = threading.Event()
        self._thread: threading.Thread | None = None

    def wake(self) -> None:
        """From now on."""
        if self._over.is_set() or self._awake.is_set():
            return
        if self._thread is None:
            sys.setswitchinterval(min(SWITCH, sys.getswitchinterval()))
            self._thread = threading.Thread(target=self._run, name="presence", daemon=True)
            self._thread.start()
        self._awake.set()

    def stop(self) -> None:
        """Never again; back when the thread says nothing more."""
        self._over.set()
        self._awake.set()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while self._awake.wait() and not self._over.is_set():
            # Cleared before: a `wake` that comes while it is looked whether anything is due is not lost.
            self._awake.clear()
            if self._over.is_set():                    # `stop` came between
                return
            if self._speak():
                self._awake.set()
            self._over.wait(EVERY)
