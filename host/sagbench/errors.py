"""What can go wrong that is not the chip's fault, as one tree.

    SagbenchError
    +- UsageError                the user asked for something that cannot be (exit 2)
    |  +- UnknownPart            no such part; nearest names offered
    |  +- NotInFamily            the function exists, but not in that family
    |  +- TooManyPins            more pins than the socket has
    |  +- PartFileError          a part, alias or configuration file with mistakes (file, line, column)
    +- FixtureError              fixture, firmware or link (exit 3)
       +- LinkError              could not talk
       |  +- NoDevice            nothing at the port, or nothing answers
       |  +- NotOurs             something answers, but not a sagbench fixture
       |  +- WrongApiLevel       firmware of another API level
       |  +- LinkLost            gone in mid-pass
       +- DeviceError            it refused: a latched fault, a bad step, a supply outside its span

A chip that fails is a result (see `record`), never an exception.
Each message is one sentence or two: what, where, what to do.
"""
from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sagbench.record import SweepRecord

EXIT_SOUND = 0
EXIT_NOT_SOUND = 1
EXIT_USAGE = 2
EXIT_FIXTURE = 3
EXIT_NO_VERDICT = 4
EXIT_INTERRUPTED = 130


class SagbenchError(Exception):
    """Root of all of ours; str() is the sentence to show, exit_code what the command returns."""

    exit_code = EXIT_FIXTURE


class UsageError(SagbenchError):
    """The user asked for something that cannot be."""

    exit_code = EXIT_USAGE


class UnknownPart(UsageError):
    """No such part; `near` holds the nearest names."""

    def __init__(self, message: str, near: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.near = near


class NotInFamily(UsageError):
    """The function exists, but not in that family."""


class TooManyPins(UsageError):
    """More pins than the socket has."""


class PartFileError(UsageError):
    """One or more mistakes in a file; str() has a line for each, `file:line:column: found, expected, what to do`."""

    def __init__(self, mistakes: tuple[str, ...]) -> None:
        super().__init__("\n".join(mistakes))
        self.mistakes = mistakes


class FixtureError(SagbenchError):
    """Fixture, firmware or link."""


class LinkError(FixtureError):
    """Could not talk to the fixture; `record` is what a sweep had measured until then."""

    record: SweepRecord | None = None


class NoDevice(LinkError):
    """Nothing at the port, or nothing answers."""


class NotOurs(LinkError):
    """Something answers, but it is not a sagbench fixture."""


class WrongApiLevel(LinkError):
    """Firmware of another API level."""


class LinkLost(LinkError):
    """The link was lost in mid-pass."""


class DeviceError(FixtureError):
    """The fixture refused, or its supply is outside its span."""
