"""Eight-bit comparators.  Pinouts and tables: the makers' data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import Levels, Part, part
from .selectors import Equality8

PULLED = {"Q?": 20e3}                 # resistors inside, so that Q can be set by switches to ground
HALF = {"*": 0.4}                     # PNP inputs of the LS parts: IIL 0.2 mA, and what the resistors take


class Identity(Equality8):
    """The '688 with its output's level at equality as said."""

    equal = 0

    def evaluate(self, v: Levels) -> Levels:
        return {n: level ^ self.equal for n, level in super().evaluate(v).items()}


@part("518")
class IdentityHighOpenPulled(Identity):
    """High if equal, open collector, resistors at Q."""
    equal, open_collector, pull_ups, drive, families = 1, Equality8.outputs, PULLED, "bus", "ALS"


@part("519")
class IdentityHighOpen(Identity):
    """High if equal, open collector."""
    equal, open_collector, drive, families = 1, Equality8.outputs, "bus", "ALS"


@part("520")
class IdentityLowPulled(Identity):
    """Low if equal, resistors at Q."""
    pull_ups, drive, families = PULLED, "bus", "ALS"


@part("F520")
class IdentityLowPulledFast(IdentityLowPulled):
    """The family's usual output; one unit load of Q takes in its resistor."""
    loads, drive, families = {"Q?": 0.5}, "", "F"


@part("521")
class IdentityLow(Identity):
    """Low if equal."""
    drive, families = "bus", "ALS"


@part("F521")
class IdentityLowFast(IdentityLow):
    """The family's usual output."""
    drive, families = "", "F"


@part("522")
class IdentityLowOpenPulled(Identity):
    """Low if equal, open collector, resistors at Q."""
    open_collector, pull_ups, drive, families = Equality8.outputs, PULLED, "bus", "ALS"


@part("689")
class IdentityLowOpen(Identity):
    """Low if equal, open collector."""
    open_collector, drive, families = Equality8.outputs, "bus", "ALS"


@part("LS689")
class IdentityLowOpenHalf(IdentityLowOpen):
    """Half a unit load."""
    loads, families = HALF, "LS"


class Magnitude(Part):
    """One output low if P is the larger, one if they are equal."""

    pins = "PGT/ P0 Q0 P1 Q1 P2 Q2 P3 Q3 GND P4 Q4 P5 Q5 P6 Q6 P7 Q7 PEQ/ VCC"
    outputs = "PGT/ PEQ/"
    loads = HALF

    def evaluate(self, v: Levels) -> Levels:
        p, q = (sum(v[f"{x}{k}"] << k for k in range(8)) for x in "PQ")
        return {"PGT/": int(p <= q), "PEQ/": int(p != q)}


@part("682")
class MagnitudePulled(Magnitude):
    """Resistors at Q."""
    drive, pull_ups, families = "buffer", PULLED, "LS"


@part("683")
class MagnitudeOpenPulled(Magnitude):
    """Open collectors, resistors at Q."""
    drive, open_collector, pull_ups, families = "buffer", Magnitude.outputs, PULLED, "LS"


@part("684")
class MagnitudePlain(Magnitude):
    """Totem poles."""
    drive, families = "buffer", "LS"


@part("685")
class MagnitudeOpen(Magnitude):
    """Open collectors."""
    drive, open_collector, families = "buffer", Magnitude.outputs, "LS"
