"""Supply current: which zero to believe, and the current itself.

The amplifier's offset is some milliamperes and its pedestal and the switch's base current some more,
so a zero is taken with the chip in its socket: supply switch closed, ground open.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sagbench.measure.model import Model
from sagbench.measure.uncertain import Number, Uncertain, standard, value
from sagbench.plan.recipe import Reading, Readings

SURELY = 4.0  # standard uncertainties by which the amplifier must contradict the weak load: its noise is drawn anew in ten states of each chip
DOUBT_A = 0.5e-3  # a zero further than this outside the resistors' spans is not the switch's base current alone


@dataclass(frozen=True)
class Zero:
    """ICC readings that stand for no chip current, and what must still be taken off."""

    readings: tuple[Reading, ...]
    less: Number = 0.0  # amperes of the switch itself, if the readings are without it
    note: str = ""


def choose_zero(model: Model, readings: Readings | None, rest: Sequence[Reading], switches: int) -> Zero:
    """The zero through the closed switch if a base current can be so large, else that at rest less a computed one."""
    computed = model.base_amperes(switches)
    if readings is not None:
        zeros = readings.labelled("zero")
        if zeros and all(r.total is not None for r in (*zeros, *rest)):
            seen = model.icc(zeros, tuple(rest))
            if abs(value(seen) - value(computed)) <= 3 * standard(computed) + DOUBT_A:
                return Zero(zeros)
    return Zero(
        tuple(rest),
        computed,
        "The zero of the supply current could not be taken with the chip in the socket; "
        "the current of the supply switch was computed instead.",
    )


def chip_current(model: Model, readings: Sequence[Reading], zero: Zero) -> Uncertain | None:
    """Amperes that the chip draws; None if not measured or off scale."""
    if not readings or any(r.total is None or model.saturated(r) for r in readings):
        return None
    return model.icc(tuple(readings), zero.readings) - zero.less


def finer(amplifier: Uncertain, quiet: Uncertain | None) -> Uncertain:
    """The current through the weak load, where there is one and the amplifier does not say surely more."""
    if quiet is None or value(amplifier) - SURELY * standard(amplifier) > value(quiet) + SURELY * standard(quiet):
        return amplifier
    return quiet
