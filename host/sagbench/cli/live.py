"""A full screen over work that goes on by itself: a picture kept up to date, keys alone, and a line to type where a key asks for words.

The work runs in a thread of its own, for it waits for the fixture; the screen only shows what stands, and hands on what is typed.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sagbench.report.safe import clipped, visible

if TYPE_CHECKING:
    from textual.app import App

REFRESH_S = 0.1
CSS = """
Screen { background: black; color: white; overflow: hidden }
#picture { height: 1fr; width: 100% }
#legend { dock: bottom; height: auto; width: 100% }
"""


@dataclass(frozen=True)
class Key:
    """What a key does. `asks` is the question whose answer goes with it; "" needs none."""

    name: str
    asks: str = ""


class Work:
    """What goes on behind the screen.  `run` may raise; what it raised comes out of `show`."""

    def __init__(self, run: Callable[[], None]) -> None:
        self._run = run
        self.over = threading.Event()
        self.raised: BaseException | None = None
        self.thread = threading.Thread(target=self._go, daemon=True)

    def _go(self) -> None:
        try:
            self._run()
        except BaseException as wrong:  # handed to the main thread, which raises it
            self.raised = wrong
        finally:
            self.over.set()


def legend(keys: Mapping[str, Key], width: int) -> list[str]:
    """The keys in as few lines as they need."""
    lines = [""]
    for key, does in keys.items():
        word = f"{key} {does.name}"
        if lines[-1] and len(lines[-1]) + 3 + len(word) > width:
            lines.append("")
        lines[-1] += f"{'   ' if lines[-1] else ''}{word}"
    return lines


def show(work: Work, picture: Callable[[int, int], Sequence[str]], keys: Mapping[str, Key], pressed: Callable[[str, str], None],
         rings: Callable[[], int] = lambda: 0) -> None:  # fmt: skip
    """Until the work is over.  Raises what it raised."""
    app = screen(work, picture, keys, pressed, rings)
    try:
        app.run()
    finally:
        if work.thread.is_alive():  # the screen is gone before its time: let the work come to an end that keeps the chip safe
            pressed(list(keys)[-1], "")
            work.thread.join()
    if work.raised is not None:
        raise work.raised
    if app.return_code:
        raise RuntimeError("the screen broke down")


def screen(work: Work, picture: Callable[[int, int], Sequence[str]], keys: Mapping[str, Key], pressed: Callable[[str, str], None],
           rings: Callable[[], int] = lambda: 0) -> App[None]:  # fmt: skip
    """The screen, not yet running. picture: (columns, lines) -> that many lines; rings: how often the bell is still to ring."""
    from textual.app import App, ComposeResult
    from textual.binding import Binding
    from textual.events import Key as Pressed, Paste
    from textual.widgets import Static

    class Live(App[None]):
        """Picture above, the keys below, a line to type between when a key asks for words."""

        ENABLE_COMMAND_PALETTE = False
        CSS = globals()["CSS"]
        BINDINGS = [Binding("ctrl+c", "leave", show=False, priority=True), Binding("ctrl+q", "leave", show=False, priority=True)]

        def __init__(self) -> None:
            super().__init__()
            self._asked = self._typed = ""  # the key whose words are being typed, and what there is of them
            self._picture, self._legend = Static(id="picture", markup=False), Static(id="legend", markup=False)

        def compose(self) -> ComposeResult:
            yield self._picture
            yield self._legend

        def on_mount(self) -> None:
            work.thread.start()
            self.set_interval(REFRESH_S, self.refreshed)
            self.refreshed()

        def on_resize(self) -> None:
            self.refreshed()

        def refreshed(self) -> None:
            """The picture anew; the end when the work is over."""
            if work.over.is_set():
                self.exit()
                return
            for _ in range(rings()):
                self.bell()
            width, height = self.size
            below = legend(keys, width)
            if self._asked:
                below = [clipped(f"{keys[self._asked].asks} (Enter; Esc: never mind)", width), f"> {self._typed[-(width - 4):]}_"]
            self._legend.update("\n".join(map(visible, below)))
            self._picture.update("\n".join(picture(width, max(height - len(below), 1))))

        def action_leave(self) -> None:
            """Ctrl-C is the last of the keys, which ends the screen in good order."""
            pressed(list(keys)[-1], "")

        def on_key(self, event: Pressed) -> None:
            key = event.character or event.key
            if self._asked:
                self._line(event)
            elif key in keys and keys[key].asks:
                self._asked, self._typed = key, ""
            elif key in keys:
                pressed(key, "")
            self.refreshed()

        def _line(self, event: Pressed) -> None:
            """The line that is being typed."""
            if event.key in ("enter", "escape"):
                asked, self._asked = self._asked, ""
                if event.key == "enter":
                    pressed(asked, self._typed.strip())
            elif event.key == "backspace":
                self._typed = self._typed[:-1]
            elif event.key == "ctrl+u":
                self._typed = ""
            elif event.is_printable and event.character:
                self._typed += event.character

        def on_paste(self, event: Paste) -> None:
            if self._asked:
                self._typed += " ".join(event.text.split())
                self.refreshed()

    return Live()
