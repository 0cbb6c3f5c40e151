# SPDX-License-Identifier: MIT
"""How far a sweep is, on standard error, while somebody looks at it."""
from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from typing import TextIO

Progress = Callable[[str, int, int], None]
EVERY_S = 5.0  # between two lines into a pipe


@contextlib.contextmanager
def shown(wanted: bool, color: bool) -> Iterator[Progress | None]:
    """A function (stage, done, total) that draws a bar which goes away at the end; None if it is not wanted."""
    if not wanted:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress as Bars, TaskProgressColumn, TextColumn
    console = Console(stderr=True, no_color=not color, markup=False)
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TaskProgressColumn("{task.percentage:>3.0f}%", markup=False))
    with Bars(*columns, console=console, transient=True, refresh_per_second=8) as bars:
        task = bars.add_task("contacts", total=None)

        def progress(stage: str, done: int, total: int) -> None:
            bars.update(task, description=stage, completed=done, total=total or None)
        yield progress


@contextlib.contextmanager
def said(stream: TextIO, *, quiet: bool = False, now: Callable[[], float] = time.monotonic) -> Iterator[Progress | None]:
    """The same as `shown` for pipes and screen readers: a line each EVERY_S seconds, with the stage and how far it is; none if `quiet`."""
    if quiet:
        yield None
        return
    last = now()

    def progress(stage: str, done: int, total: int) -> None:
        nonlocal last
        if now() - last >= EVERY_S:
            last = now()
            far = f" {done} of {total} at most" if total else f" {done}" if done else ""
            print(f"sagbench: {stage}{far}", file=stream, flush=True)
    yield progress
