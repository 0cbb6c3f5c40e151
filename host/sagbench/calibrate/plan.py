"""The passes of a calibration: steps for the device, and for each reading the setup it was taken in.

Everything is taken with the chip's power on and nothing (or only the external resistor) in the socket, because the
firmware lets a strong line drive for longer only at a position that it has verified under power.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from sagbench.calibrate.parts import LEVEL
from sagbench.calibrate.setup import Line, Setup
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture
from sagbench.plan.power import ALLOWANCE_A, LEVEL_SETTLE_US, limit_code
from sagbench.plan.recipe import Mark, Recipe
from sagbench.plan.seat import mask
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source

REPEATS = 16
LEVEL_SHARE = 0.8  # of the rail: the level drive while lines pull against it
WEAK, TRICKLE, EXACT, HEAVY = 1, 2, 3, 5  # channels of the load selector


@dataclass
class Shots:
    """A recipe with the setup of each of its readings of K; readings of other kinds have None."""

    recipe: Recipe = field(default_factory=Recipe)
    setups: list[Setup | None] = field(default_factory=list)

    def take(self, setup: Setup, *, repeats: int = REPEATS, label: str = "") -> None:
        """Drive, tie K, read."""
        m, s = _of(setup.lines, M_LINE), _of(setup.lines, S_LINE)
        self.recipe.add(steps.drive(*_masks(m), *_masks(s)))
        self.recipe.lines_gone()
        ld = LineLevel.OFF if setup.selector in (0, LEVEL) else LineLevel.HIGH if setup.up else LineLevel.LOW
        self.recipe.sense(setup.position, setup.selector, ld)
        self.recipe.add(
            steps.read(Source.K, repeats),
            Mark("position", setup.position, repeats, selector=setup.selector, up=setup.up, label=label),
        )
        self.setups.append(setup)

    def load(
        self, position: int, lines: int, high: bool, also: int, rest: Sequence[Line], across: tuple[int, int]
    ) -> None:
        """A position's lines driven by the step `load`, which may use the strong one: it and the far end are read."""
        self.recipe.add(steps.drive(*_masks(rest), 0, 0))
        self.recipe.lines_gone()
        self.recipe.selector_open()
        marks = [Mark("position", p, REPEATS, up=high, lines=lines if p == position else 0) for p in (position, also)]
        self.recipe.add(steps.load(position, lines, 0, int(high), also, REPEATS, 50), *marks)
        own = tuple((position, line, high) for line in (M_LINE, S_LINE) if lines & line)
        self.setups += [Setup((*own, *rest), p, across=across) for p in (position, also)]

    def read(self, source: Source, repeats: int, *, label: str) -> None:
        """A reading of another channel."""
        self.recipe.read(source, repeats, label=label)
        self.setups.append(None)


def _of(lines: Iterable[Line], kind: int) -> list[Line]:
    return [line for line in lines if line[1] == kind]


def _masks(lines: Sequence[Line]) -> tuple[int, int]:
    return mask(p for p, _, _ in lines), mask(p for p, _, high in lines if high)


def powerings(fixture: Fixture) -> list[tuple[int, int, tuple[int, ...]]]:
    """Supply, ground and the positions that can be driven strongly then: together all positions."""
    everywhere = fixture.present
    first = fixture.supply_positions[0], fixture.ground_positions[0]
    second = fixture.supply_positions[1], fixture.ground_positions[1]
    return [(*first, tuple(p for p in everywhere if p not in first)), (*second, first)]


def power(shots: Shots, fixture: Fixture, supplies: Sequence[int], ground: int) -> None:
    """Power on, nothing driven."""
    shots.recipe.idle()
    shots.recipe.power_on(supplies, ground, limit_code(fixture, ALLOWANCE_A, len(supplies)))
    shots.setups.append(None)


def verify(shots: Shots, positions: Iterable[int]) -> None:
    """Make these positions fit to be driven strongly."""
    for position in positions:
        shots.recipe.verify(position)
        shots.setups += [None, None]


def at_position(position: int) -> list[Setup]:
    """What is read of one position in an empty socket, against AVcc: each of its four paths in several dividers."""
    out = []
    for high in (True, False):
        m, s = (position, M_LINE, high), (position, S_LINE, high)
        against = (position, S_LINE, not high)
        out.append(Setup((m, against), position))
        # A strong line against the heavy load would stand between the levels, which the firmware takes for a fight.
        out += [Setup((m,), position, selector, not high) for selector in (EXACT, HEAVY, WEAK)]
        out.append(Setup((s,), position, EXACT, not high))
    for line in (M_LINE, S_LINE):
        out.append(Setup(((position, line, False),), position, LEVEL, source=LEVEL_SHARE))
    return out


def low_at_position(position: int) -> list[Setup]:
    """Of these, what stays below the 1.1 V reference at any specimen, and the trickle load."""
    m, s = (position, M_LINE, False), (position, S_LINE, False)
    return [Setup((m,), position, WEAK, True), Setup((s,), position, WEAK, True), Setup((m,), position, TRICKLE, True)]


def lines(
    shots: Shots,
    fixture: Fixture,
    supply: int,
    ground: int,
    positions: Sequence[int],
    quiet: Callable[[Shots], None] = lambda _: None,
) -> None:
    """Every position, powered; the level drive's own level before. `quiet`: what is to be driven before the discharge."""
    power(shots, fixture, [supply], ground)
    verify(shots, positions)
    shots.recipe.reference(Reference.AVCC)
    shots.recipe.add(steps.level(round(LEVEL_SHARE * fixture.full_scale)))
    shots.recipe.settle(LEVEL_SETTLE_US)
    shots.read(Source.VDAC, 64, label="source")
    for position in positions:
        for setup in at_position(position):
            shots.take(setup)
    shots.recipe.idle()
    shots.recipe.reference(Reference.V1V1)
    for position in positions:
        for setup in low_at_position(position):
            shots.take(setup)
    shots.recipe.add(steps.level(0))
    quiet(shots)
    shots.recipe.power_off()


def across(shots: Shots, pair: tuple[int, int]) -> None:
    """The external resistor between two positions, unpowered: every line of both ends carries its current."""
    shots.recipe.power_off()
    shots.recipe.reference(Reference.AVCC)
    for here, there in (pair, pair[::-1]):
        for high in (True, False):
            both = (here, M_LINE, high), (there, M_LINE, not high)
            for position in (here, there):
                shots.take(Setup(both, position, across=pair))
            for lines in (S_LINE, M_LINE | S_LINE):
                shots.load(here, lines, high, there, [(there, M_LINE, not high)], pair)
    shots.recipe.idle()
