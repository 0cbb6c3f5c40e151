"""What a chip could be: each function of the library in each of its pinouts.

Families do not count here: a 7400 and a 74LS00 do the same at the same pins and are one candidate.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from sagbench.parts.behaviour import Network
from sagbench.parts.definition import Definition, Pinout
from sagbench.parts.lookup import rated
from sagbench.parts.model import Role, Step
from sagbench.parts.names import type_name
from sagbench.parts.ratings import ORDER
from sagbench.parts.sequence import levels, numbered
from sagbench.vectors.complete import completed

HEAVY_A = 2.3e-3  # M does not surely pull an input low that may deliver more: 1.3 V across 560 ohm
PULL_UP_A = 0.15e-3  # an output whose high level is rated for no more has a resistor for it: 0.2 mA for the weakest stage, 74L


@dataclass(frozen=True)
class Pull:
    """Pins by what M finds there, in any of the families: limits of data books are all that is known of them."""

    heavy: frozenset[int]  # inputs that M may not be able to pull low
    resistor: frozenset[int]  # outputs that a resistor inside pulls high: they may give way to M
    switch: frozenset[int]  # outputs that are analog switches: M goes through them
    no_junction: frozenset[int]  # inputs that are a resistor to something inside


@dataclass(frozen=True)
class Rail:
    """The supply and ground pins of a pinout, ascending."""

    size: int
    supplies: tuple[int, ...]
    grounds: tuple[int, ...]

    def in_words(self) -> str:
        """`supply at pin 14, ground at pin 7`."""
        supplies = " and ".join(map(str, self.supplies))
        grounds = " and ".join(map(str, self.grounds))
        return f"supply at pin {supplies}, ground at pin {grounds}"


@dataclass(frozen=True, eq=False)
class Candidate:
    """A function in one of its pinouts; two are the same only if they are one object."""

    definition: Definition
    pinout: Pinout
    families: tuple[str, ...]  # in which it was made so, in the usual order; keys of part files
    roles: tuple[Role, ...] = field(init=False)  # of pins 1..N

    def __post_init__(self) -> None:
        object.__setattr__(self, "roles", tuple(_role(self.definition, self.pinout, name) for name in self.pinout.pins))

    @property
    def function(self) -> str:
        """Its number in the library."""
        return self.definition.function

    @property
    def title(self) -> str:
        """What it is, in words: a 7451 is another gate than a 74LS51."""
        return str(self.definition.families[self.families[0]].get("title", self.definition.title))

    @property
    def name(self) -> str:
        """The name of the type in the first of its families: "7400", "4011"."""
        return type_name(self.function, self.families[0], 74)

    @cached_property
    def rail(self) -> Rail:
        """Where its rails are."""
        at = {role: tuple(i for i, r in enumerate(self.roles, 1) if r is role) for role in (Role.SUPPLY, Role.GROUND)}
        return Rail(len(self.roles), at[Role.SUPPLY], at[Role.GROUND])

    @cached_property
    def pull(self) -> Pull:
        """What M finds at its pins."""
        heavy, resistor, switch, no_junction = set[int](), set[int](), set[int](), set[int]()
        for family in self.families:
            pins, limits = rated(self.definition, family)
            for pin in pins:
                has = limits.get(pin.number)
                if has is None:
                    continue
                if pin.role.is_input:
                    heavy |= {pin.number} if -has.iil.value * pin.low_unit_loads > HEAVY_A else set()
                    no_junction |= {pin.number} if has.is_resistor(pin) else set()
                if pin.role is Role.OUTPUT and has.voh and max(-r.amperes for r in has.voh) <= PULL_UP_A:
                    resistor.add(pin.number)
                if pin.role.is_output and has.is_switch:
                    switch.add(pin.number)
        return Pull(frozenset(heavy), frozenset(resistor), frozenset(switch), frozenset(no_junction))

    @cached_property
    def network(self) -> Network:
        """Its logic, compiled."""
        return Network(self.definition)

    @cached_property
    def number(self) -> dict[str, int]:
        """Pin number by name."""
        return {name: i for i, name in enumerate(self.pinout.pins, 1)}

    @cached_property
    def sequence(self) -> tuple[Step, ...]:
        """What its own logic test sets, step by step, pins by number; expectations are left to who follows it."""
        base = levels(self.definition, self.network)
        return tuple(numbered(change, self.number) for change in completed(self.definition, self.pinout, base))


def _role(definition: Definition, pinout: Pinout, name: str) -> Role:
    for names, role in ((pinout.supply, Role.SUPPLY), (pinout.ground, Role.GROUND), (pinout.analog, Role.ANALOG)):
        if name in names:
            return role
    return definition.roles.get(name, Role.UNUSED)


def candidates_of(definitions: Iterable[Definition]) -> tuple[Candidate, ...]:
    """Every function in each of its pinouts."""
    out = []
    for definition in definitions:
        for made, pinout in definition.forms():
            families = [f for f in definition.families if definition.of(f) is made and definition.pinout(f) is pinout]
            out.append(Candidate(made, pinout, tuple(sorted(families, key=ORDER.index))))
    return tuple(out)
