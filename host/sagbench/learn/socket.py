"""The specimen in the socket: fit to be powered, learnt, its thresholds measured; a second one held against the draft.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

from sagbench.device import TRIES, Device, too_slow
from sagbench.errors import EXIT_NO_VERDICT, SagbenchError, UsageError
from sagbench.identify.bench import Bench as Socket
from sagbench.identify.bench import PowerLost, Unheard
from sagbench.identify.candidates import Candidate, Rail
from sagbench.identify.hysteresis import SCHMITT_V, hysteresis
from sagbench.identify.run import MOST_A, powerable
from sagbench.identify.seating import Seating, find_seating
from sagbench.learn.compare import Compared, compare
from sagbench.learn.draft import About, draft
from sagbench.learn.learn import Progress, Result, learn
from sagbench.measure.contact import JUNCTION_V, drops
from sagbench.parts.definition import Definition
from sagbench.parts.lookup import load_part
from sagbench.parts.model import Role
from sagbench.parts.names import type_name
from sagbench.plan.contact import conduction
from sagbench.plan.recipe import Recipe, pair
from sagbench.plan.seat import Seat
from sagbench.record import SweepRecord
from sagbench.sweep import Options, sweep

BONDED = 0.7  # so many of the pins must show a junction from ground, or the rails are doubted
SEED = 99
T = TypeVar("T")


class NotLearnt(SagbenchError):
    """The chip is not fit to be powered, or power was taken away; str() says why."""

    exit_code = EXIT_NO_VERDICT


@dataclass(frozen=True)
class Tried:
    """A draft, and what the sweep made from it gave on the same specimen; None: nothing was learnt to be swept."""

    result: Result
    record: SweepRecord | None

    @property
    def passed(self) -> bool:
        """True if the draft's own vectors pass on the specimen, unloaded."""
        return bool(self.record and self.record.logic and not self.record.logic[0].misses and self.record.logic[0].checks)


def rails(device: Device, size: int, known: Sequence[Candidate]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Supply and ground pins by junctions, as far as parts of the library have theirs there.  Raises NotLearnt, UsageError."""
    socket = Socket(device)
    rows, able = socket.rows(), powerable(socket.fixture, known)
    seating = find_seating(socket.fixture.positions, (size,), rows, [c for c in able if c.rail.size == size])
    if seating.problem or seating.turned:
        _no_other_size(find_seating(socket.fixture.positions, socket.fixture.sizes, rows, able), size)
        raise NotLearnt(seating.problem or f"The chip sits {seating.left[0].seat.in_words}: seat it with pin 1 in position 1. It was not powered.")
    if not seating.settled:
        raise UsageError("What conducts without power does not say where the rails are: name supply and ground pin, such as --power 14,7, "
                         "from the board it came from.")  # fmt: skip
    rail = seating.left[0].rail
    return rail.supplies, rail.grounds


def _no_other_size(seating: Seating, size: int) -> None:
    """Raises UsageError if what conducts is a well seated chip of another size."""
    if seating.problem or seating.turned or (fits := seating.left[0].rail.size) == size:
        return
    raise UsageError(f"What conducts without power is a chip of {fits} pins, not {size}: count them, and say so with --pins; "
                     "if it has as many as you said, name its rails with --power. It was not powered.")  # fmt: skip


def powered(device: Device, about: About) -> Socket:
    """Look at it without power, then power it, nothing driven.  Raises NotLearnt, UsageError."""
    socket = Socket(device)
    fixture = socket.fixture
    seat = Seat(fixture.positions, about.size)
    if about.size not in fixture.sizes:
        raise UsageError(f"This fixture's socket takes chips of {', '.join(map(str, fixture.sizes))} pins, not {about.size}.")
    supplies, ground = [seat.position(pin) for pin in about.supplies], seat.position(about.grounds[-1])
    if not set(supplies) <= set(fixture.supply_positions) or ground not in fixture.ground_positions:
        raise UsageError("This fixture has no supply switch there: see the positions with `sagbench fixture info`.")
    recipe = Recipe()
    recipe.power_off()
    conduction(recipe, fixture, [ground])
    lost = drops(fixture, pair(recipe.marks, device.run_pass(recipe.finish()).readings), ground, float(fixture.raw["supply"]["nominal_v"]))
    shows = {p for p, drop in lost.items() if drop is not None and drop <= JUNCTION_V}
    others = [p for p in seat.positions if p != ground]
    if not set(supplies) <= shows or len(shows & set(others)) < BONDED * len(others):
        raise NotLearnt("What conducts from its ground pin is no chip with its rails there: see that pin 1 is in position 1, "
                        "clean its legs, and look up where its rails are. It was not powered.")  # fmt: skip
    try:
        socket.power(seat, Rail(about.size, about.supplies, about.grounds), MOST_A)
    except PowerLost as gone:
        raise NotLearnt(f"The fixture took power away at once ({gone}): its supply is shorted, or its rails are elsewhere.") from None
    return socket


def learn_here(device: Device, about: About, options: Options | None = None, progress: Progress | None = None) -> Tried:
    """Learn the chip in the socket, then sweep it by the draft.  Raises NotLearnt, UsageError, FixtureError."""
    result = _undisturbed(device, about, "learnt", lambda socket: learn(socket, about, random.Random(SEED), progress))
    if not result.learnt.laws:
        return Tried(result, None)
    return _swept(device, result, about, options, progress)


def _undisturbed(device: Device, about: About, what: str, do: Callable[[Socket], T]) -> T:
    """`do` on the powered chip, from the beginning again if the fixture took the power only because it had not heard this program."""
    for _ in range(TRIES):
        socket = powered(device, about)
        try:
            return do(socket)
        except Unheard:
            continue
        except PowerLost as gone:
            raise NotLearnt(f"The fixture took power away while it was {what} ({gone}).") from None
        finally:
            socket.off()
    raise too_slow(device.info.port)


def _swept(device: Device, result: Result, about: About, options: Options | None, progress: Progress | None) -> Tried:
    """With all inputs taken for Schmitt inputs first, so that both thresholds are measured; then as it is."""
    learnt = result.learnt
    trial = swept(device, draft(replace(learnt, schmitt=frozenset(learnt.inputs)), about).text, about, options, progress)
    wide = {pin for pin, volts in hysteresis(trial).items() if volts > SCHMITT_V}
    learnt = replace(learnt, schmitt=frozenset(wide & set(learnt.inputs)))
    made = draft(learnt, about)
    return Tried(Result(learnt, made), swept(device, made.text, about, options, progress))


def swept(device: Device, text: str, about: About, options: Options | None, progress: Progress | None) -> SweepRecord:
    """The chip measured by a draft's text."""
    with TemporaryDirectory(prefix="sagbench-") as folder:
        (Path(folder) / f"{about.function}.toml").write_text(text, encoding="utf-8")
        return sweep(device, load_part(type_name(about.function, about.family), user_dirs=[folder]), options=options, progress=progress)


def compare_here(device: Device, definition: Definition, family: str) -> Compared:
    """A second specimen held against a draft; what it did otherwise.  Raises NotLearnt, UsageError, FixtureError."""
    pinout = definition.pinout(family)
    of_role = {name: tuple(i for i, pin in enumerate(pinout.pins, 1) if pin in names) for name, names in
               ((Role.SUPPLY, pinout.supply), (Role.GROUND, pinout.ground))}  # fmt: skip
    about = About(definition.function, family, len(pinout.pins), of_role[Role.SUPPLY], of_role[Role.GROUND])
    return _undisturbed(device, about, "compared", lambda socket: compare(socket, definition.of(family), pinout, random.Random(SEED)))
