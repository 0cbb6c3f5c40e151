"""Lines from standard input, taken without waiting.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import queue
import threading
from typing import TextIO


class Typed:
    """Lines typed, taken without waiting. Ctrl-D, or the end of a pipe, is None once."""

    def __init__(self, stream: TextIO) -> None:
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, args=(stream,), daemon=True).start()

    def _read(self, stream: TextIO) -> None:
        for line in stream:
            self._lines.put(line.strip())
        self._lines.put(None)

    def take(self) -> tuple[bool, str | None]:
        """(True, line) if one has come, else (False, None)."""
        try:
            return True, self._lines.get_nowait()
        except queue.Empty:
            return False, None
