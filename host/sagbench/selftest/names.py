"""Designators and nets of the fixture, from its derived description.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from typing import Any

from sagbench.plan.fixture import M_LINE, Fixture

SELECTOR_ROLE = {1: "weak_load", 2: "trickle_load", 3: "calibration_reference", 4: "level_drive", 5: "heavy_load"}
ADDRESS_BITS = "ABC"


class Names:
    """Who is who on one fixture's board."""

    def __init__(self, fixture: Fixture) -> None:
        self.fixture = fixture
        self._role: dict[str, Any] = dict(fixture.raw["designator"])
        self._pin: dict[str, str] = dict(fixture.raw["board_pin"])

    def part(self, role: str, position: int = 0) -> str:
        """The part of that role; at a position where there is one at each, the first where there are several."""
        found = self._role[role]
        if isinstance(found, dict):
            return str(found[str(position)])
        return str(found[0] if isinstance(found, list) else found)

    def parts(self, role: str) -> tuple[str, ...]:
        """All parts of that role."""
        found = self._role[role]
        if isinstance(found, dict):
            return tuple(found.values())
        return tuple(found) if isinstance(found, list) else (str(found),)

    def pin(self, net: str) -> str:
        """The board's name of the controller pin on a net: `D22`."""
        return self._pin[net]

    def resistor(self, line: int, position: int) -> str:
        """The resistor of a line."""
        return self.part("medium_drive" if line == M_LINE else "strong_drive", position)

    def line_pin(self, line: int, position: int) -> str:
        """The controller pin of a line."""
        return self.pin(f"{'M' if line == M_LINE else 'S'}{position}")

    def package(self, position: int) -> int:
        """Index of the multiplexer that ties a position to node K."""
        return int(self.fixture.raw["sense_mux"][position - 1])

    @property
    def packages(self) -> list[int]:
        """Indexes of the multiplexers that this build has, ascending."""
        return sorted({self.package(p) for p in self.fixture.present})

    def channel_number(self, position: int) -> int:
        """Number of its channel in there."""
        return [p for p in self.fixture.present if self.package(p) == self.package(position)].index(
            position
        )

    def at(self, package: int, channel: int) -> int:
        """The position on a channel of a multiplexer; 0 if there is none."""
        of_it = [p for p in self.fixture.present if self.package(p) == package]
        return of_it[channel] if channel < len(of_it) else 0

    def mux(self, package: int) -> str:
        """Designator of a sense multiplexer."""
        first, last = self.at(package, 0), self.at(package, 7)
        return self.part(f"sense_positions_{first}-{last}")

    def mux_channel(self, position: int) -> str:
        """`U1.3`: the channel that ties a position to node K."""
        return f"{self.mux(self.package(position))}.{self.channel_number(position)}"

    def inhibit_pin(self, package: int) -> str:
        """The controller pin that switches a multiplexer off."""
        return self.pin(f"INH_{ADDRESS_BITS[package]}")

    def selector_channel(self, channel: int) -> str:
        """`U4.1`."""
        return f"{self.part('load_selector')}.{channel}"

    def selector_part(self, channel: int) -> str:
        """The resistor behind a channel of the load selector."""
        return self.part(SELECTOR_ROLE[channel])

    def address_output(self, kind: str, bit: int) -> str:
        """`U5.0`: the register output of an address bit of the sense multiplexers or of the load selector."""
        return f"{self.part('multiplexer_addresses')}.{bit + (0 if kind == 'SENSE' else 3)}"

    def switch(self, kind: str, position: int) -> tuple[str, ...]:
        """A power switch and what turns it on: transistor, base resistor, register."""
        registers = self.parts("power_switches")
        return (
            self.part(f"{kind}_switch", position),
            self.part(f"{kind}_switch_base", position),
            registers[0] if kind == "ground" else registers[1],
        )
