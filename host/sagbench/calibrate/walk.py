"""The walk of the external resistor through the socket: ask for a pair of positions, notice the resistor, measure, go on.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from math import hypot

from sagbench.calibrate import find
from sagbench.calibrate.evaluate import board_says
from sagbench.calibrate.session import Given, Session, name_of
from sagbench.calibrate.with_resistor import ContactLost, measure_pair, pairs
from sagbench.device import Device
from sagbench.errors import UsageError
from sagbench.plan.fixture import Fixture

LOOK_EVERY_S = 0.25
NEAR = 0.08  # a resistor further than this share from what was said is surely another one
BEYOND = 4.0  # standard uncertainties between what was said and what the board's own reference says

Say = Callable[[str], None]


@dataclass
class Waiting:
    """How to wait: seconds for each pair (None: for ever), and how to sleep between two looks."""

    patience_s: float | None = None
    sleep: Callable[[float], None] = time.sleep
    now: Callable[[], float] = time.monotonic


class NotFinished(UsageError):
    """Nothing was put in for too long; what has been read is kept."""


def walk(
    device: Device, fixture: Fixture, session: Session, waiting: Waiting, say: Say, keep: Callable[[], object]
) -> None:
    """Every pair that the session does not have yet.

    say: shows one line to the user.  keep: called after each pair, when the session has grown.
    Raises NotFinished, UsageError (another resistor than was said), DeviceError, LinkError; KeyboardInterrupt at any time.
    The session never holds a pair by halves.
    """
    assert session.external
    todo = [pair for pair in pairs(fixture) if not session.pair_done(pair)]
    for n, pair in enumerate(todo):
        left = len(todo) - n
        say(
            f"Put the {session.external.value:g} ohm resistor between positions {pair[0]} and {pair[1]} ({left} to go)."
        )
        while True:
            _wait_for(device, fixture, session.external, pair, waiting, say)
            try:
                measure_pair(device, fixture, session, pair)
                break
            except ContactLost:
                say(f"It lost contact between {pair[0]} and {pair[1]} while it was measured: press it in and leave it.")
        session.done[name_of(pair)] = datetime.now(UTC).isoformat(timespec="seconds")
        if sum("-" in key for key in session.done) == 1:
            _must_be_the_one(fixture, session, pair)
        keep()
    if todo:
        say("That was the last pair: take the resistor out.")


def _wait_for(
    device: Device, fixture: Fixture, external: Given, pair: tuple[int, int], waiting: Waiting, say: Say
) -> None:
    """Until the resistor is there."""
    begun, told, before = waiting.now(), "", ""
    while True:
        ohms = find.between(device, fixture, pair)
        if ohms is not None and abs(ohms - external.value) <= NEAR * external.value:
            return
        hint = _hint(device, fixture, external, pair, ohms)
        if hint and hint == before and hint != told:  # seen twice: it is not just on its way
            say(hint)
            told = hint
        before = hint
        if waiting.patience_s is not None and waiting.now() - begun > waiting.patience_s:
            raise NotFinished(
                f"Nothing was put between positions {pair[0]} and {pair[1]} for {waiting.patience_s:g} s; what has "
                f"been "
                "measured is kept: the same command goes on with it."
            )
        waiting.sleep(LOOK_EVERY_S)


def _hint(device: Device, fixture: Fixture, external: Given, pair: tuple[int, int], ohms: float | None) -> str:
    """What is wrong with what is in the socket; empty if it is empty."""
    if ohms is not None:
        return (
            f"Between {pair[0]} and {pair[1]} there are some {ohms:.0f} ohm, not {external.value:g}: is it the right "
            "resistor, and well seated?"
        )
    there = find.everything(device, fixture)
    if not there:
        return ""
    if len(there) > 1:
        places = ", ".join(f"{b.low} and {b.high}" for b in there[:4])
        more = " ..." if len(there) > 4 else ""
        return f"More than one pair of positions conducts ({places}{more}): only the resistor may be in."
    one = there[0]
    if (one.low, one.high) == pair:
        return ""  # it has just come
    if abs(one.ohms - external.value) <= 3 * NEAR * external.value:
        return f"It is between {one.low} and {one.high}; put it between {pair[0]} and {pair[1]}."
    said = f"{external.value:g} ohm"
    return f"Between {one.low} and {one.high} there are some {one.ohms:.0f} ohm; only the {said} resistor may be in."


def _must_be_the_one(fixture: Fixture, session: Session, pair: tuple[int, int]) -> None:
    """After the first pair: does the board's own reference agree with what the user said?"""
    assert session.external
    given = session.external
    ohms, u = board_says(fixture, session)
    if abs(ohms - given.value) <= BEYOND * hypot(u, given.u):
        return
    session.forget_external()
    raise UsageError(
        f"The resistor between {pair[0]} and {pair[1]} is {ohms:.1f} ohm, within {2 * u:.1f} ohm, by the board's own "
        f"reference; "
        f"{given.value:g} ohm within {given.off:g} ohm was said. Nothing of it is kept: give the right value, or take "
        f"the right resistor."
    )
