"""Is the held chip still there?  By the supply current where it draws enough to be missed; else by its outputs, which a
resistor of 100 kilohms moves only where nothing drives.

Not seen: a chip that has lost its ground pin alone and lives on what its low inputs take from it (a CMOS chip its supply
pin, on what its high inputs give it); and one that draws too little to be missed, with outputs that were off or held.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping

from sagbench.hold.held import Held
from sagbench.judge.limits import in_amperes
from sagbench.judge.supply import usual
from sagbench.parts.model import Part, Role
from sagbench.plan.recipe import Readings, Recipe
from sagbench.record import Quantity
from sagbench.sweep.state import State
from sagbench.wire.numbers import LineLevel

MISSED_A = 0.5e-3  # less cannot be missed: what the converter resolves is 0.14 mA
SHARE = 0.25  # of what it draws at least, in any static state
GENTLE = 2  # channel of the load selector: 100 kilohms
FOLLOWS_V = (1.2, 3.8)  # where a pin is that nothing drives, pulled down and up; between them no logic output goes both ways
REPEATS = 4
PULLED = "pulled down", "pulled up"
ADVICE = "was pulled, or has lost contact. No power any more; seat it firmly and switch it on again."


class Watch:
    """What a chip is known by from its first look under power on."""

    def __init__(self, part: Part, rest_a: float) -> None:
        self._part = part
        states = [amperes for state in part.supply_states if (amperes := usual(state)) is not None]
        self._least_a = min([rest_a, *states])
        self._floats: frozenset[int] | None = None  # outputs that nothing drove in the beginning; None: not looked at yet
        self._drove: frozenset[int] = frozenset()  # at the last look, when pins were held so:
        self._held: dict[int, Held] = {}

    def ask(self, recipe: Recipe, s: State, held: Mapping[int, Held]) -> None:
        """Readings of the outputs that are let go, pulled gently both ways."""
        positions = [s.seat.position(pin) for pin in self._outputs(held)]
        for label, to in zip(PULLED, (LineLevel.LOW, LineLevel.HIGH), strict=True):
            if positions:
                recipe.sense(0, GENTLE, to)
                recipe.scan(positions, REPEATS, label=label)
        recipe.selector_open()

    def gone(self, s: State, readings: Readings, held: Mapping[int, Held], amperes: Quantity | None) -> str:
        """Why the chip cannot be in its socket any more; "" if it can."""
        outputs = frozenset(self._outputs(held))
        moved = frozenset(pin for pin in outputs if self._follows(s, readings, s.seat.position(pin)))
        before = self._drove if self._held == held else frozenset()  # what can be switched off drives on if nothing was changed
        if self._floats is None:
            self._floats = moved
        self._drove, self._held = outputs - moved, dict(held)
        enough = self._least_a >= MISSED_A and amperes is not None
        if enough and amperes is not None and amperes.value + amperes.u < SHARE * self._least_a:
            return f"Its supply current is gone ({in_amperes(self._least_a)} at least before): it {ADVICE}"
        if enough and amperes is not None and amperes.value - amperes.u > SHARE * self._least_a:
            return ""
        drive = before | {pin for pin in outputs - self._floats if self._part.pin(pin).role is Role.OUTPUT}
        return f"Nothing drives its outputs any more: it {ADVICE}" if drive and outputs == moved else ""

    def forget(self) -> None:
        """Pulses are given: what can be switched off may be off after them."""
        self._drove = frozenset()

    def _outputs(self, held: Mapping[int, Held]) -> list[int]:
        return [pin.number for pin in self._part.pins if pin.role.is_output and pin.role is not Role.OPEN_COLLECTOR and held[pin.number] is Held.OFF]

    @staticmethod
    def _follows(s: State, readings: Readings, position: int) -> bool:
        low, high = (next((r for r in readings.labelled(label) if r.mark.position == position), None) for label in PULLED)
        if low is None or high is None or low.code is None or high.code is None:
            return False
        return s.model.pin_level(low) < FOLLOWS_V[0] and s.model.pin_level(high) > FOLLOWS_V[1]
