"""The held chip as a picture of 80 columns and at most 18 lines, in plain characters.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import textwrap

from sagbench.hold.held import Held
from sagbench.hold.hold import View
from sagbench.parts.model import Part, Pin, Role
from sagbench.report.figures import figure
from sagbench.report.pinout import role_word
from sagbench.report.safe import ascii_only

SHORT = {Role.UNUSED: "-"}
DRIVEN = {Role.BIDIRECTIONAL: "io", Role.OUTPUT: "out", Role.OPEN_COLLECTOR: "out", Role.TRI_STATE: "out"}  # of what is held; else "in"
NAME, SIDE = 8, 36


def level(part: Part, volts: float | None) -> str:
    """LOW, HIGH, or between, by VIL and VIH of the part's family: a word, for a colour says nothing to a screen reader."""
    if volts is None:
        return "?"
    limits = next(iter(part.limits.values()))
    return "LOW" if volts <= limits.vil.value else "HIGH" if volts >= limits.vih.value else "between"


def picture(part: Part, view: View, chosen: int = 0) -> list[str]:
    """Lines: what is drawn first, then the package, pin 1 at the top left, a mark at the chosen pin."""
    power = "POWER ON" if view.powered else "no power"
    current = "" if view.amperes is None else f"   it draws {ascii_only(figure(view.amperes))}"
    lines = [f"{part.name}  {part.title}"[:80], f"{power}{current}"[:80]]
    lines += textwrap.wrap(view.said or against(part, view), 80)[:2]
    half = part.pin_count // 2
    lines.append(" " * SIDE + " +-\\_/-+")
    for left in range(1, half + 1):
        right = part.pin_count + 1 - left
        lines.append(f"{_side(part, view, left, chosen):>{SIDE}} |{left:<2} {right:>2}|{_side(part, view, right, chosen, mirrored=True)}".rstrip())
    lines.append(" " * SIDE + " +------+")
    return lines


def against(part: Part, view: View) -> str:
    """Names pins that are not at the level they are strongly held at: a wrong part in the socket, mostly; "" if all are."""
    other = {Held.LOW: "HIGH", Held.HIGH: "LOW"}
    pins = [n for n, held in sorted(view.held.items()) if view.powered and held in other and level(part, view.volts.get(n)) == other[held]]
    one = len(pins) == 1
    return (f"Pin{'' if one else 's'} {', '.join(map(str, pins))} {'does' if one else 'do'} not go where held: is that a {part.name} in the socket?"
            if pins else "")  # fmt: skip


def told(part: Part, number: int, view: View) -> str:
    """One pin in words: its role, what holds it, its level."""
    pin, held, volts = part.pin(number), view.held.get(number), view.volts.get(number)
    words = [f"pin {number} ({pin.name}): {role_word(pin)}"]
    if held is not None:
        words.append("let go" if held is Held.OFF else f"held {held.value}")
    if volts is not None:
        words.append(f"{volts:.2f} V, {level(part, volts)}")
    return ", ".join(words)


def _role(pin: Pin) -> str:
    return SHORT.get(pin.role) or pin.role.value


def _side(part: Part, view: View, number: int, chosen: int, mirrored: bool = False) -> str:
    pin = part.pin(number)
    held = view.held.get(number)
    does = _role(pin) if held is None or held is Held.OFF else f"{DRIVEN.get(pin.role, 'in')}: {held.value}"
    volts = view.volts.get(number)
    cells = [f"{does:>14}", f"{level(part, volts):>7}" if volts is not None else " " * 7, f"{volts:5.2f} V" if volts is not None else " " * 7, f"{ascii_only(pin.name)[:NAME]:>4}"]
    mark = ">" if number == chosen else " "
    if mirrored:
        mark = "<" if number == chosen else " "
        return f"{mark}{cells[3].strip():<4} {cells[2]} {cells[1].strip():<7} {does}".rstrip()
    return f"{mark}{cells[0]} {cells[1]} {cells[2]} {cells[3]}"
