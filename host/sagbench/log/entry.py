"""One line of the log: what the user says of a chip, and what was found.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sagbench.record import NOT_SEATED, Verdict


@dataclass(frozen=True)
class Facts:
    """What only the user knows of a chip; "" is not known."""

    maker: str = ""
    date_code: str = ""  # "8142"
    board: str = ""  # which board it is from
    position: str = ""  # where it sits there: "U14"
    chip: str = ""  # a name for this very chip, so that it is known again
    photo: str = ""  # path of a picture
    note: str = ""


@dataclass(frozen=True)
class Entry:
    """One measurement of one chip, without its record."""

    id: int
    made: str  # ISO 8601, UTC
    lot: int | None
    part: str
    marking: str
    verdict: str
    reason: str
    facts: Facts
    fixture: int
    calibration: str
    library: str
    sagbench: str
    again: int | None
    undone: str | None

    @property
    def put_in_wrongly(self) -> bool:
        """True if the chip did not sit as it must, so that nothing is said of it."""
        return self.verdict == Verdict.INCOMPLETE.value and self.reason.startswith(NOT_SEATED)


def brief(reason: str) -> str:
    """A reason without the limit and the evidence behind it: what stands in one line."""
    return reason.partition(" (evidence")[0].partition("; ")[0]


def photo_place(text: str) -> str:
    """Where a photo lies, whatever folder is looked from next year; "" for none."""
    return str(Path(text).expanduser().absolute()) if text else ""


@dataclass(frozen=True)
class Likeliest:
    """What is likely wrong with a chip, in few words."""

    what: str  # a diagnosis: "sink transistor has lost gain"; without one, what weighs most: "VOL: out of character"
    pin: int | None
    sentence: str


@dataclass(frozen=True)
class Lot:
    """A box of chips."""

    id: int
    begun: str
    ended: str | None
    name: str
    part: str  # "": mixed


@dataclass(frozen=True)
class Query:
    """Which entries; "" and None are any.  Texts are compared without regard to case."""

    part: str = ""
    position: str = ""
    board: str = ""
    date_code: str = ""
    maker: str = ""
    chip: str = ""
    verdict: str = ""
    lot: int | None = None
    undone: bool = False  # those taken back too
