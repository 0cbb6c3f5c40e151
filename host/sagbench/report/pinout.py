# SPDX-License-Identifier: MIT
"""The pinout of a part as a drawing in letters: seen from above, pin 1 at the top left, its role beside each pin."""
from __future__ import annotations

from sagbench.parts.model import Part, Pin, Role

BODY = 12
_WORDS = {Role.OUTPUT: "output", Role.OPEN_COLLECTOR: "open collector", Role.TRI_STATE: "tri-state output",
          Role.BIDIRECTIONAL: "in and out", Role.UNUSED: "not connected", Role.ANALOG: "left alone"}


def role_word(pin: Pin) -> str:
    """What a pin is for: "input, rising edge"."""
    if pin.role is not Role.INPUT:
        return _WORDS.get(pin.role, pin.role.value)
    extra = f"{pin.clock} edge" if pin.clock else "Schmitt" if pin.schmitt else ""
    return f"input, {extra}" if extra else "input"


def drawing(part: Part) -> list[str]:
    """Lines, the widest of at most 79 characters."""
    half = part.pin_count // 2
    words = {pin.number: role_word(pin) for pin in part.pins}
    left = max(len(words[n]) for n in range(1, half + 1))
    name = max(len(pin.name) for pin in part.pins)
    indent = " " * (left + name + 5)
    lines = [indent + "+" + r"-\_/-".center(BODY, "-") + "+"]
    for row in range(half):
        one, other = part.pin(row + 1), part.pin(part.pin_count - row)
        body = part.name[:BODY] if row == half // 2 else ""
        lines.append(f"{words[one.number]:>{left}}  {one.name:>{name}} {one.number:>2}|{body:^{BODY}}|"
                     f"{other.number:<2} {other.name:<{name}}  {words[other.number]}".rstrip())
    return [*lines, indent + "+" + "-" * BODY + "+"]
