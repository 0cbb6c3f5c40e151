# SPDX-License-Identifier: MIT
"""What the outputs did in the unloaded logic test, out of a sweep's record."""
from __future__ import annotations

from dataclasses import dataclass

from sagbench.errors import UsageError
from sagbench.parts.model import Expect, Part
from sagbench.plan.logic import expected, levels_at
from sagbench.record import Contact, LogicMiss, Outcome, SweepRecord

UNLOADED = "open"


@dataclass(frozen=True)
class Answer:
    """One output in one step."""

    step: int
    pin: int
    expect: Expect
    seen: str                            # "L", "H", "Z", or "?": no proper level
    volts: float | None = None           # of wrong answers only

    @property
    def wrong(self) -> bool:
        """True if it is not what the definition says."""
        return self.seen != self.expect.value


def observed(part: Part, record: SweepRecord) -> tuple[Answer, ...]:
    """Every answer of the unloaded test, in order; outputs that were not measured are left out.

    Raises UsageError if the record has no logic test, or not the one of this definition.
    """
    plays = [logic for logic in record.logic if logic.load == UNLOADED and logic.checks]
    if not plays:
        raise UsageError(f"the record of the {record.part} has no logic test ({record.partial or record.advice or 'not measured'}); "
                         "nothing can be said of the definition.")
    play = plays[0]
    misses = {(miss.step, miss.pin): miss for miss in play.misses}
    if play.steps != len(part.sequence) or any(not _same(part, miss) for miss in play.misses):
        raise UsageError(f"the definition of the {part.name} is not the one the record was measured with; measure the chip again.")
    unknown = {c.pin for c in record.contacts if c.contact is not Contact.CONNECTED}
    unknown |= {pin.pin for pin in record.pins for f in pin.findings
                if f.quantity == "logic" and not f.state and f.outcome is Outcome.NOT_MEASURED}
    found = []
    for index, step in enumerate(part.sequence):
        for pin, want in expected(part, step, ()).items():
            if miss := misses.get((index, pin)):
                found.append(Answer(index, pin, want, _seen(part, miss), miss.volts))
            elif pin not in unknown:
                found.append(Answer(index, pin, want, want.value))
    return tuple(found)


def _same(part: Part, miss: LogicMiss) -> bool:
    if miss.step >= len(part.sequence) or not 1 <= miss.pin <= part.pin_count:
        return False
    want = expected(part, part.sequence[miss.step], ()).get(miss.pin)
    return want is not None and want.value == miss.expected and dict(miss.inputs) == dict(levels_at(part, miss.step))


def _seen(part: Part, miss: LogicMiss) -> str:
    limits = part.limits[miss.pin]
    if miss.volts <= limits.vil.value:
        return "L"
    return "H" if miss.volts >= limits.vih.value else "?"
