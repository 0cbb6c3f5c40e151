"""A chip of the library on a paper bench: pins by number, levels in, L H Z out.  What the tests of behaviour use.

SPDX-License-Identifier: MIT
"""
from sagbench.parts import load_file
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import file_names
from sagbench.parts.markings import parse_marking


class Bench:
    """One chip, all inputs low but the clears and presets of its own idle levels; nothing is known of its state."""

    def __init__(self, marking: str) -> None:
        read_as = parse_marking(marking)[0]
        self.definition = load_file(file_names()[read_as.function]).of(read_as.family or PLAIN)
        self.names = self.definition.pinout(read_as.family or PLAIN).pins
        self.machine = Machine(Network(self.definition))

    def name(self, pin: int) -> str:
        return self.names[pin - 1]

    def set(self, **pins: bool) -> None:
        """Levels by name."""
        self.machine.set(pins)

    def set_pin(self, pin: int, level: bool | None) -> None:
        self.machine.set({self.name(pin): level})

    def get(self, pin: int) -> str:
        """"L", "H", "Z", or "?" if the part does not define it."""
        does = self.machine.expect(self.name(pin))
        return does.value if does else "?"
