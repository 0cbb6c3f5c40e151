# SPDX-License-Identifier: MIT
"""Ctrl-C while modules load: heard at once, acted on when they are whole.

A KeyboardInterrupt in the middle of an extension module's start-up comes out as
whatever that module makes of it; so it waits until the import is over.
"""
from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator


@contextlib.contextmanager
def held() -> Iterator[None]:
    """Hold SIGINT back for the time of the block, then raise KeyboardInterrupt if it came."""
    if threading.current_thread() is not threading.main_thread():
        yield                       # only the main thread may set handlers, and only it is interrupted
        return
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _frame: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if came:
        raise KeyboardInterrupt
