"""The two faces of a held chip: lines that are typed, and a full screen with keys.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from sagbench.cli.typed import Typed
from sagbench.errors import SagbenchError
from sagbench.hold.held import Held
from sagbench.hold.hold import Hold, NotPowered
from sagbench.hold.view import picture, told
from sagbench.hold.words import HELP, Order, understood
from sagbench.judge.limits import pin_name
from sagbench.report.safe import visible

if TYPE_CHECKING:
    from textual.app import App

LOOK_EVERY_S = 0.25


def obey(hold: Hold, order: Order) -> None:
    """Carry out a set, a clock, power or off.  Raises what `hold` raises."""
    if order.verb == "power":
        hold.power()
    elif order.verb == "off":
        hold.off()
    for pin in order.pins:
        if order.verb == "set":
            hold.set(pin, order.held)
        elif order.verb == "clock":
            hold.clock(pin, order.count)


class Idle:
    """Takes power away when nobody has touched a key for so long."""

    def __init__(self, seconds: float, now: Callable[[], float] = time.monotonic) -> None:
        self._seconds, self._now = seconds, now
        self._last = now()

    def touched(self) -> None:
        """A key, or a line."""
        self._last = self._now()

    def over(self) -> bool:
        """True if it is time."""
        return self._now() - self._last > self._seconds


def by_lines(hold: Hold, idle_s: float) -> None:
    """Orders from standard input, the picture after each.  Ends with `end`, at the end of the input, or after idle_s."""
    typed, idle = Typed(sys.stdin), Idle(idle_s)
    _show(hold)
    while not idle.over():
        came, line = typed.take()
        if not came:
            before = hold.powered
            view = hold.look()
            if before and not view.powered:
                print("\n".join(map(visible, picture(hold.part, view))), flush=True)
            time.sleep(LOOK_EVERY_S)
            continue
        idle.touched()
        if line is None:
            return
        try:
            order = understood(line, hold.part)
            if order is None:
                continue
            if order.verb == "end":
                return
            if order.verb == "help":
                print(HELP, end="", flush=True)
                continue
            if order.verb == "pins":
                view = hold.look()
                for pin in hold.part.pins:
                    print(visible(told(hold.part, pin.number, view)), flush=True)
                continue
            obey(hold, order)
        except (NotPowered, SagbenchError) as wrong:
            if not isinstance(wrong, NotPowered) and wrong.exit_code != 2:
                raise
            print(visible(str(wrong)), flush=True)
            continue
        _show(hold)
    hold.off()
    print(f"No key for {idle_s:.0f} s: no power any more.", flush=True)


def _show(hold: Hold) -> None:
    print("\n".join(map(visible, picture(hold.part, hold.look()))), flush=True)


def full_screen(hold: Hold, idle_s: float) -> None:
    """Power, then until q.  Raises what the fixture raises, NotPowered.

    Power comes on when the screen stands: nobody holds a probe to a chip before there is anything to be seen.
    """
    app = screen(hold, Idle(idle_s), begin=hold.power)
    app.run()
    trouble = getattr(app, "trouble", None)
    if isinstance(trouble, SagbenchError):
        raise trouble


KEYS = {"h": Held.HIGH, "l": Held.LOW, "H": Held.WEAK_HIGH, "L": Held.WEAK_LOW, "o": Held.OFF}
LEGEND = "arrows choose   h high   l low   H weak high   L weak low   o off\nc clock pulse   C ten   p power on/off   q ends"


def screen(hold: Hold, idle: Idle, begin: Callable[[], None] = lambda: None) -> App[None]:
    """The full screen, not yet running.  begin: done once it stands; what it raises ends it."""
    from textual.app import App, ComposeResult
    from textual.events import Key
    from textual.widgets import Static

    class Screen(App[None]):
        """The picture, a line for what was said, and the keys."""

        ENABLE_COMMAND_PALETTE = False
        CSS = "Screen { background: black; color: white } #said { height: 2 } #keys { dock: bottom; height: 2 }"

        def __init__(self) -> None:
            super().__init__()
            self.chosen, self.said = 1, ""
            self.trouble: SagbenchError | None = None

        def compose(self) -> ComposeResult:
            yield Static(id="picture", markup=False)
            yield Static(id="said", markup=False)
            yield Static(LEGEND, id="keys", markup=False)

        def on_mount(self) -> None:
            try:
                begin()
            except SagbenchError as wrong:
                self.trouble = wrong
                self.exit()
                return
            self.set_interval(LOOK_EVERY_S, self.look)
            self.look()

        def look(self) -> None:
            """One more look, or the end of idle time."""
            if idle.over() and hold.powered:
                hold.off()
                self.said = "No key for a long time: no power any more; p brings it back."
            try:
                view = hold.look()
                lines = [*picture(hold.part, view, self.chosen), told(hold.part, self.chosen, view)]
            except SagbenchError as wrong:
                self.trouble = wrong
                self.exit()
                return
            self.query_one("#picture", Static).update("\n".join(map(visible, lines)))
            self.query_one("#said", Static).update(visible(self.said))

        def on_key(self, event: Key) -> None:
            """Keys alone do everything."""
            idle.touched()
            self.said = ""
            pins, half = hold.part.pin_count, hold.part.pin_count // 2
            key = event.character or event.key
            if key == "q":
                self.exit()
            elif event.key in ("up", "down"):
                down = (event.key == "down") == (self.chosen <= half)
                self.chosen = (self.chosen - 1 + (1 if down else -1)) % pins + 1
            elif event.key in ("left", "right"):
                self.chosen = pins + 1 - self.chosen
            else:
                self._order(key)
            self.look()

        def _order(self, key: str) -> None:
            try:
                if key in KEYS:
                    hold.set(self.chosen, KEYS[key])
                elif key in ("c", "C"):
                    hold.clock(self.chosen, count := 10 if key == "C" else 1)
                    self.said = f"{count} clock pulse{'s' * (count > 1)} given at {pin_name(hold.part, self.chosen)}."
                elif key == "p":
                    hold.off() if hold.powered else hold.power()
            except SagbenchError as wrong:
                if wrong.exit_code not in (2, NotPowered.exit_code):
                    self.trouble = wrong
                    self.exit()
                self.said = str(wrong)

    return Screen()
