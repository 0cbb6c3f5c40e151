# SPDX-License-Identifier: MIT
"""How far a sweep is, on standard error, while somebody looks at it."""
from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

Progress = Callable[[str, int, int], None]


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
