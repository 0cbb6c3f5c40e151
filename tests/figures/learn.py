"""Functions of the library taken as unknown parts, through their pins only: how many are recovered exactly.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import learn_library

EACH = 8


def recovered() -> Iterator[tuple[str, float, str]]:
    """Without memory, up to 16 inputs; with memory, up to 64 states.  Every EACH-th function; `make learn` learns all."""
    with TemporaryDirectory() as folder:
        for half in learn_library.HALVES:
            yield from learn_library.figures(half, learn_library.run(half, Path(folder) / half, EACH))
