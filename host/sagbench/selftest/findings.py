"""What the self-test says: checks with an outcome, the parts to look at, and where to read on.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

PAGE = "hardware/SELFTEST.md"


class Result(StrEnum):
    """How a check came out."""

    FINE = "fine"
    FAULT = "fault"
    UNSURE = "cannot tell"
    NOT_TESTED = "not tested"


@dataclass(frozen=True)
class Check:
    """One check.

    name: of the check, in plain words.  parts: designators to look at, likeliest first; controller pins by the board's
    name ("D22").  section: heading in SELFTEST.md, as an anchor.
    """

    name: str
    result: Result
    sentence: str
    section: str
    parts: tuple[str, ...] = ()


@dataclass
class Report:
    """All checks of one self-test, in the order they were made.

    not_empty: what is in the socket, if it is not empty.
    """

    checks: list[Check] = field(default_factory=list)
    not_empty: str = ""

    def fine(self, name: str, sentence: str, section: str) -> None:
        """Nothing wrong."""
        self.checks.append(Check(name, Result.FINE, sentence, section))

    def fault(self, name: str, sentence: str, section: str, *parts: str) -> None:
        """Something is wrong with one of these parts."""
        self.checks.append(Check(name, Result.FAULT, sentence, section, tuple(dict.fromkeys(parts))))

    def unsure(self, name: str, sentence: str, section: str, *parts: str) -> None:
        """Something may be wrong."""
        self.checks.append(Check(name, Result.UNSURE, sentence, section, tuple(dict.fromkeys(parts))))

    def not_tested(self, name: str, sentence: str, section: str, *parts: str) -> None:
        """It could not be tried."""
        self.checks.append(Check(name, Result.NOT_TESTED, sentence, section, tuple(dict.fromkeys(parts))))

    def of(self, *results: Result) -> list[Check]:
        """Checks with one of these results."""
        return [check for check in self.checks if check.result in results]

    @property
    def result(self) -> Result:
        """Of the whole: fault, cannot tell, or fine. What can never be tested does not count."""
        for worst in (Result.FAULT, Result.UNSURE):
            if self.of(worst):
                return worst
        return Result.UNSURE if self.not_empty else Result.FINE


def listed(words: Iterable[str]) -> str:
    """`a`, `a or b`, `a, b or c`."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} or {last}" if most else last


def numbers(values: Iterable[int]) -> str:
    """`3`, `3 and 4`, `3, 4 and 7`, and runs as `1 to 8`."""
    runs: list[list[int]] = []
    for value in sorted(set(values)):
        if runs and value == runs[-1][-1] + 1:
            runs[-1].append(value)
        else:
            runs.append([value])
    words = [w for run in runs for w in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run))]
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last
