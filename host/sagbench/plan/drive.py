"""Levels on the input pins: which lines drive which pin, within what the interlocks allow.

A low input of a bipolar family delivers IIL, and the line must sink it without the level rising:
through M (some 590 ohm) 1.6 mA would make 0.94 V, above VIL.  So each pin gets the lightest
line that keeps it under LOW_V at the family's largest IIL: M, S, or both.
S needs `verify` after power-on.  Pins with a short get M only, or nothing at all.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from sagbench.parts.model import Part, Role
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture
from sagbench.plan.rails import second_grounds
from sagbench.plan.seat import Seat

LOW_V = 0.6  # below VIL of every family (0.7 V: 54LS, 74L) with a tenth of a volt to spare


@dataclass(frozen=True)
class Drive:
    """Lines for each input pin that is driven; `strong` pins want `verify` first.

    shared: bidirectional pins among them, which may drive back.
    low: pins that M holds low whatever the levels (a second ground).
    """

    seat: Seat
    lines: Mapping[int, int] = field(default_factory=dict)  # pin -> M_LINE | S_LINE
    shared: frozenset[int] = frozenset()
    low: tuple[int, ...] = ()

    @property
    def plain(self) -> tuple[int, ...]:
        """Pins that are inputs and nothing else: those may be driven whatever the chip does."""
        return tuple(pin for pin in self.lines if pin not in self.shared)

    @property
    def strong(self) -> tuple[int, ...]:
        """Positions that S drives."""
        return tuple(self.seat.position(pin) for pin, lines in sorted(self.lines.items()) if lines & S_LINE)

    def masks(self, levels: Mapping[int, bool | None]) -> tuple[int, int, int]:
        """(m_on, s_on, high) for these levels of pins; None releases a pin; pins not named are off, but for `low`."""
        m_on, s_on, high = self._low, 0, 0
        for pin, level in levels.items():
            if level is None or pin not in self._bits:
                continue
            m_bit, s_bit = self._bits[pin]
            m_on |= m_bit
            s_on |= s_bit
            if level:
                high |= m_bit | s_bit
        return m_on, s_on, high

    @cached_property
    def _low(self) -> int:
        return sum(1 << (self.seat.position(pin) - 1) for pin in self.low)

    @cached_property
    def _bits(self) -> dict[int, tuple[int, int]]:
        """Pin -> its bit in the mask of M lines and in that of S lines; those that any line drives."""
        bits = {pin: 1 << (self.seat.position(pin) - 1) for pin, lines in self.lines.items() if lines}
        return {
            pin: (bit if self.lines[pin] & M_LINE else 0, bit if self.lines[pin] & S_LINE else 0)
            for pin, bit in bits.items()
        }


def lines_for(fixture: Fixture, milliamps: float) -> int:
    """The lightest lines that hold a pin which delivers this current under LOW_V; both if none does."""
    for lines in (M_LINE, S_LINE):
        if fixture.line_ohm(lines) * milliamps / 1000 <= LOW_V:
            return lines
    return M_LINE | S_LINE


def worst_case(fixture: Fixture, lines: Mapping[int, int]) -> tuple[list[float], float]:
    """Milliamperes by port group and in all, as the firmware counts them, if every position drives these lines.

    `lines` maps positions.  Verified S counts `verified_pin_ma`, M its short current.
    """
    budget, verified = fixture.raw["budget_ma"], fixture.raw["interlock"]["verified_pin_ma"]
    groups = [0.0] * len(budget["groups"])
    for position, which in lines.items():
        if which & M_LINE:
            groups[budget["medium_group"][position - 1]] += budget["medium_short"]
        if which & S_LINE:
            groups[budget["strong_group"][position - 1]] += verified
    return groups, sum(groups)


def room_for_load(fixture: Fixture, lines: Mapping[int, int]) -> bool:
    """True if the heaviest load may come on beside these lines at any position."""
    budget = fixture.raw["budget_ma"]
    groups, total = worst_case(fixture, lines)
    selector = max(budget["load_short"])
    load = budget["strong_short"] + budget["medium_short"]
    groups[budget["load_group"]] += selector
    return total + selector + load <= budget["total"] and all(
        used + load <= limit for used, limit in zip(groups, budget["groups"], strict=True)
    )


def plan_drive(
    fixture: Fixture, part: Part, seat: Seat, *, held: Iterable[int] = (), weak: Iterable[int] = ()
) -> Drive:
    """Choose lines for every input of the part.

    held: pins not to be driven at all (shorted to a rail or to an output);
    weak: pins that get M and nothing else (shorted to another input).
    """
    held, weak = set(held), set(weak)
    shared = frozenset(p.number for p in part.of_role(Role.BIDIRECTIONAL))
    lines: dict[int, int] = {}
    for pin in part.inputs:
        if pin.number in held:
            continue
        iil = part.limits[pin.number].iil.value if pin.number in part.limits else 0.0
        # S would be verified while a bus pin may be an output; a pin that a resistor inside pulls up (the blanking pin
        # of display drivers: several unit loads) is high at rest by that alone, and M cannot hold it low.
        only_m = pin.number in weak or (pin.number in shared and not part.is_pulled_up(pin.number))
        lines[pin.number] = M_LINE if only_m else lines_for(fixture, -iil * pin.low_unit_loads * 1000)
    low = second_grounds(part)
    return Drive(seat, _fit(fixture, seat, lines, weak | shared, _together(part), low), shared, low)


def _together(part: Part) -> set[frozenset[int]]:
    """Sets of pins that are driven at the same time, in the logic test and in the supply states."""
    found = {frozenset(p.number for p in part.of_role(Role.INPUT))}
    for steps in (part.sequence, *(state.steps for state in part.supply_states)):
        levels: dict[int, bool | None] = {}
        for step in steps:
            levels.update(step.set)
            found.add(frozenset(pin for pin, level in levels.items() if level is not None))
    return found


def by_m(fixture: Fixture, drive: Drive, *, beside: int = 0, kept_ma: float = 0.0) -> Drive:
    """The same pins by M alone, which needs no power and no `verify`; as many as may be driven at once.

    beside: M lines that drive besides. kept_ma: kept free for what else drives.
    """
    budget = fixture.raw["budget_ma"]
    most = int((budget["total"] - kept_ma) // budget["medium_short"]) - beside - len(drive.low)
    return Drive(drive.seat, dict.fromkeys(sorted(drive.lines)[:most], M_LINE), drive.shared, drive.low)


def _fit(
    fixture: Fixture, seat: Seat, lines: dict[int, int], weak: set[int], together: set[frozenset[int]], low: Iterable[int]
) -> dict[int, int]:
    """Turn pins over to S alone, which counts least, until the heaviest load has room beside them."""
    always = {seat.position(pin): M_LINE for pin in low}
    for pin in sorted(lines, key=lambda p: lines[p] != (M_LINE | S_LINE)):
        if all(room_for_load(fixture, {seat.position(p): lines[p] for p in pins & lines.keys()} | always) for pins in together):
            break
        if pin not in weak:
            lines[pin] = S_LINE
    return lines
