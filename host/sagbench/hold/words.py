"""What is typed to a held chip, understood.

    1A high      3 off      CLK weak low      Q* off      all low
    clock CLK 5  power      off               show        end

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase

from sagbench.errors import UsageError
from sagbench.hold.held import Held
from sagbench.hold.hold import RAILS
from sagbench.parts.model import Part

SHORT = {"h": Held.HIGH, "l": Held.LOW, "o": Held.OFF, "1": Held.HIGH, "0": Held.LOW, "weak h": Held.WEAK_HIGH, "weak l": Held.WEAK_LOW}
LEVELS = {held.value: held for held in Held} | SHORT
ALONE = ("power", "off", "show", "pins", "help", "end")
HELP = """\
  1A high      a pin by name or number: high, low, weak high, weak low, off
  D* low       all pins whose names begin so; `all low`: every input
  clock CLK 5  to the other level and back, five times
  power        contact check, then power; off: no power
  show         look once more; pins: every pin in words, with its role
  end          no power, and done
"""


@dataclass(frozen=True)
class Order:
    """`verb`: "set", "clock", or one of ALONE; pins by number."""

    verb: str
    pins: tuple[int, ...] = ()
    held: Held = Held.OFF
    count: int = 1


def understood(line: str, part: Part) -> Order | None:
    """What a line asks for; None for an empty one.  Raises UsageError with what there is."""
    words = line.split()
    if not words:
        return None
    if len(words) == 1 and words[0].lower() in ALONE:
        return Order(words[0].lower())
    if words[0].lower() == "clock":
        return _clock(words[1:], part)
    level = " ".join(words[1:]).lower()
    if level not in LEVELS:
        raise UsageError(f"{line!r} is not understood; say such as `1A high`, `3 weak low`, `clock CLK 5`, or `help`.")
    return Order("set", pins_of(words[0], part), LEVELS[level])


def _clock(words: list[str], part: Part) -> Order:
    if not 1 <= len(words) <= 2 or len(words) == 2 and not words[1].isdigit():
        raise UsageError("Say which pin and how often: `clock CLK 5`.")
    pins = pins_of(words[0], part)
    if len(pins) > 1:
        raise UsageError(f"{words[0]} is {len(pins)} pins; one pin can be clocked at a time.")
    return Order("clock", pins, count=int(words[1]) if len(words) == 2 else 1)


def pins_of(name: str, part: Part) -> tuple[int, ...]:
    """Pins by number, name, beginning of a name with *, or "all" inputs.  Raises UsageError with the names there are."""
    if name.lower() == "all":
        return tuple(pin.number for pin in part.inputs if not pin.role.is_output)
    if name.isdigit():
        return (int(name),)
    found = tuple(pin.number for pin in part.pins if fnmatchcase(pin.name.upper(), name.upper()) and pin.role not in RAILS)
    if not found:
        names = " ".join(pin.name for pin in part.pins if pin.role not in RAILS)
        raise UsageError(f"A {part.name} has no pin {name}; it has {names}.")
    return found
