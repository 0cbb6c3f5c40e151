"""If this program dies without a word, the chip loses its power at once, not only when the fixture has missed it for 50 ms.

A forked child waits at a pipe whose other end only this program has.  When the program is killed, the system closes that
end; the child then says `hello` to the fixture, which starts a session anew and so takes all power away, and ends.  Where
there is no fork (Windows) there is no guard, and those 50 ms do it alone.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import contextlib
import os
import signal
import warnings

from sagbench.wire.link import Link

TIMES = 3  # a frame may be damaged on its way, or fall into half a frame of the dead program's
DONE = b"d"


def last_word() -> bytes:
    """What the child sends: the end of whatever frame was under way, and a `hello`."""
    link = Link(host=True, now=0.0)
    link.hello(0.0)
    return b"\0" + link.poll(0.0)


class Guard:
    """The child of one open port; `dismiss` it before the port is closed.

    port: file descriptor of the open port, which the child shares.
    """

    def __init__(self, port: int) -> None:
        self._child = 0
        if not hasattr(os, "fork"):
            return
        word = last_word()
        told, self._tell = os.pipe()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of forking among threads: the child only reads and writes
            self._child = os.fork()
        if self._child == 0:
            _watch(told, self._tell, port, word)
        os.close(told)

    def dismiss(self) -> None:
        """The program is fine and needs no guard any more."""
        if not self._child:
            return
        with contextlib.suppress(OSError):
            os.write(self._tell, DONE)
        os.close(self._tell)
        with contextlib.suppress(ChildProcessError):
            os.waitpid(self._child, 0)
        self._child = 0


def _watch(told: int, tell: int, port: int, word: bytes) -> None:
    """The child: waits, says its word if need be, and is gone; nothing of the parent's is run or flushed here."""
    try:
        os.close(tell)
        os.setsid()  # a signal to the program's group is not for us
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):  # meant for the parent
            signal.signal(number, signal.SIG_IGN)
        for other in _open_files() - {told, port}:  # whoever waits for the parent's pipes to close must not wait for us
            with contextlib.suppress(OSError):
                os.close(other)
        if os.read(told, 1) != DONE:
            for _ in range(TIMES):
                os.write(port, word)
    except OSError:
        pass  # the port is gone, and with it the need
    finally:
        os._exit(0)


def _open_files() -> set[int]:
    with contextlib.suppress(OSError):
        return {int(name) for name in os.listdir("/dev/fd")}
    return set(range(3, 256))
