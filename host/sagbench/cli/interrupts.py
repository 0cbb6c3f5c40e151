# SPDX-License-Identifier: MIT
"""Ctrl-C and SIGTERM: both end a command in the same orderly way, and neither while modules load.

A KeyboardInterrupt in the middle of an extension module's start-up comes out as
whatever that module makes of it; so it waits until the import is over.
"""
from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator


@contextlib.contextmanager
def terminable() -> Iterator[None]:
    """For the time of the block SIGTERM raises KeyboardInterrupt, as Ctrl-C does: the chip is powered down, the report kept."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, _interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _interrupt(_number: int, _frame: object) -> None:
    raise KeyboardInterrupt


@contextlib.contextmanager
def held() -> Iterator[None]:
    """Hold SIGINT and SIGTERM back for the time of the block, then raise KeyboardInterrupt if one came."""
    if threading.current_thread() is not threading.main_thread():
        yield                       # only the main thread may set handlers, and only it is interrupted
        return
    came: list[int] = []
    before = {number: signal.signal(number, lambda which, _frame: came.append(which))
              for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    if came:
        raise KeyboardInterrupt
