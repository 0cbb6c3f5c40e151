"""What is broken about a fixture: `NAME=VALUE` texts, and who has taken them.

    R105=1500  R105=open  R105=short    a resistor, ohms
    C302=47    C302=open                a capacitor, nanofarads
    U9=2.40    U9=open    U9=short      the reference, volts
    U2.3=open  U2.3=900   U2=dead       a multiplexer channel by its input number (0..7), ohms; all eight
    U6.1=low   U6.1=high  U6=dead       a register's output by number (0 = QA); all eight low
    Q124=open  Q124=short               a transistor, collector to emitter
    D301=open  D301=short               a diode of the pump; the lamp D303=open
    U8.A=dead                           an op-amp: A supply current, B level drive, C trip
    D24=low    D24=high   D24=open      a controller pin by the board's name, stuck or torn off
    D22+D24=2                           two nets joined, ohms; board pins, or nets Z1..Z24, K, VREF, VBUS, V5, GND
    Q124.beta=40                        any drawn value by its name in `Bench.drawn` (volts, amperes, ohms)

specimen.py asks for each name where it draws that part; `left` are those nobody asked
for, and those are refused: a defect that has no effect would be a test that cannot fail.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
from collections.abc import Iterable

OPEN_OHM, SHORT_OHM = 1e12, 0.01
STRAY_F = 1e-11         # what is left of a capacitor that is off
BRIDGES = 4             # as in specimen.h
_NUMBER = re.compile(r"[0-9.]+(e[-+]?[0-9]+)?|-[0-9.]+(e[-+]?[0-9]+)?", re.IGNORECASE)


class DefectError(ValueError):
    """A defect that cannot be made; the text says which, why and what can."""


def number(text: str) -> float | None:
    """The number in a value, or None if it is none."""
    try:
        return float(text) if _NUMBER.fullmatch(text) else None
    except ValueError:
        return None


class Defects:
    """The defects of one fixture, by name."""

    def __init__(self, texts: Iterable[str] = ()) -> None:
        self.value: dict[str, str] = {}
        self.taken: set[str] = set()
        for text in texts:
            name, equals, value = (word.strip() for word in text.partition("="))
            if not (name and equals and value):
                raise DefectError(f"defect `{text}`: write NAME=VALUE, for instance R105=open")
            if name in self.value:
                raise DefectError(f"defect `{text}`: {name} is already {self.value[name]}; give each name once")
            self.value[name] = value

    def word(self, name: str, *words: str) -> str | None:
        """The word given for a name, which must be one of `words`; None if the name is sound."""
        if name not in self.value:
            return None
        value = self.value[name]
        if value not in words:
            self._refuse(name, " or ".join(words))
        self.taken.add(name)
        return value

    def quantity(self, name: str, unit: str, **words: float) -> float | None:
        """The number given for a name, in `unit`, or what one of `words` stands for; None if the name is sound."""
        if name not in self.value:
            return None
        value = self.value[name]
        found = words.get(value, number(value))
        if found is None or (unit != "its own unit" and found < 0):
            self._refuse(name, f"a number ({unit})" + "".join(f" or {word}" for word in words))
        self.taken.add(name)
        return found

    def ohms(self, name: str) -> float | None:
        """Ohms of a resistor or contact, never below a solder joint's."""
        found = self.quantity(name, "ohms", open=OPEN_OHM, short=SHORT_OHM)
        return None if found is None else max(found, SHORT_OHM)

    def bridges(self) -> list[tuple[str, str, float]]:
        """Joined nets: two names and the ohms between them."""
        found = []
        for name in self.value:
            if "+" in name:
                a, _, b = name.partition("+")
                found.append((a.strip(), b.strip(), self.ohms(name) or SHORT_OHM))
        if len(found) > BRIDGES:
            raise DefectError(f"{len(found)} bridges; the virtual fixture has room for {BRIDGES}")
        return found

    @property
    def left(self) -> list[str]:
        """Names that nobody has asked for."""
        return [name for name in self.value if name not in self.taken]

    def _refuse(self, name: str, wanted: str) -> None:
        raise DefectError(f"defect {name}={self.value[name]}: {name} takes {wanted}")


def contacts(texts: Iterable[str]) -> list[tuple[int, int, float]]:
    """Resistors in the socket, `A,B=OHMS` each: two positions and the ohms between them."""
    found = []
    for text in texts:
        match = re.fullmatch(r"\s*(\d+)\s*,\s*(\d+)\s*=\s*(\S+)\s*", text)
        ohm = number(match[3]) if match else None
        if match is None or ohm is None or ohm <= 0:
            raise DefectError(f"resistor `{text}`: write A,B=OHMS with two positions of the socket, for instance 7,24=220")
        a, b = int(match[1]), int(match[2])
        if not (1 <= a <= 24 and 1 <= b <= 24) or a == b:
            raise DefectError(f"resistor `{text}`: A and B are two different positions, 1 to 24")
        found.append((a, b, ohm))
    return found
