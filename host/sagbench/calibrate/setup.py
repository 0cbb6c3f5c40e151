"""One arrangement of lines, load selector and external resistor, and the level that node K must then have.

Levels are fractions of the 5 V rail: it cancels, for it drives the lines and is the converter's reference.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sagbench.measure import components
from sagbench.calibrate.parts import LEVEL, arm_path, line_path

Line = tuple[int, int, bool]  # position, M_LINE or S_LINE, high
Value = Callable[[str], float]  # path -> ohms
CURVED = 3  # turns until the channels' resistance and their level agree


@dataclass(frozen=True)
class Setup:
    """What is driven, and where node K looks.

    lines: all that drive.  selector: channel of the load selector on K (0: none); up: LD high.
    across: the two positions that the external resistor joins, or none.
    source: level of the level drive, a fraction of the rail, for its channel.
    """

    lines: tuple[Line, ...]
    position: int
    selector: int = 0
    up: bool = False
    across: tuple[int, int] | None = None
    source: float = 0.0

    def paths(self) -> tuple[str, ...]:
        """Names of all that currents pass through."""
        names = [line_path(*line) for line in self.lines]
        if self.selector:
            names += [
                f"channel[{self.position}]",
                f"selector[{self.selector}]",
                arm_path(self.selector, self.up),
                "hump",
                "shape",
                "selector shape",
            ]
        if self._far_end():
            names.append("external")
        return tuple(names)

    def _far_end(self) -> int:
        """The position at the far end of a resistor that carries a current, or 0."""
        if not self.across or self.position not in self.across:
            return 0
        first, second = self.across
        other = second if self.position == first else first
        return other if any(position == other for position, _, _ in self.lines) else 0

    def level(self, value: Value) -> float:
        """The level of node K, a fraction of the rail."""
        conductance, current = self._lines_at(self.position, value)
        if other := self._far_end():
            there, pushed = self._lines_at(other, value)
            # The other end seen through the resistor: its own level behind the sum of both resistances.
            joined = 1 / (value("external") + 1 / there)
            conductance, current = conductance + joined, current + joined * pushed / there
        if not self.selector:
            return current / conductance  # K carries no current
        return self._through_channels(current / conductance, 1 / conductance, value)

    def _through_channels(self, source: float, behind: float, value: Value) -> float:
        """K between a source behind a resistance and the selector's arm; the channels' own levels set their resistance."""
        end = self.source if self.selector == LEVEL else float(self.up)
        channel, selector = value(f"channel[{self.position}]"), value(f"selector[{self.selector}]")
        rest, hump = value(arm_path(self.selector, self.up)), value("hump")
        shape, other_shape = value("shape"), value("selector shape")
        sense, select = channel, selector
        for _ in range(CURVED):
            amount = (source - end) / (behind + sense + select + rest)
            at_pin = source - amount * behind
            at_k = at_pin - amount * sense
            sense = channel * curve(hump, shape, at_pin - amount * sense / 2)
            select = selector * curve(hump, other_shape, at_k - amount * select / 2)
        return source - (source - end) * (behind + sense) / (behind + sense + select + rest)

    def _lines_at(self, position: int, value: Value) -> tuple[float, float]:
        """Conductance of the lines at a position, and the current that they push into a ground there."""
        conductance = current = 0.0
        for where, line, high in self.lines:
            if where == position:
                one = 1 / value(line_path(where, line, high))
                conductance, current = conductance + one, current + one * high
        return conductance, current


def curve(hump: float, shape: float, level: float) -> float:
    """How much larger a channel's resistance is at a level (a fraction of the rail) than at the rails."""
    return 1 + hump * components.curve(level) + shape * components.between(level)
