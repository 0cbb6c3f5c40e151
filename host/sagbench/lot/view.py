"""A box under way as a picture of 80 x 24: what the chip is in large letters, why, what to do, and the chips before it.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from sagbench.judge.verdict import NO_VERDICT
from sagbench.log.entry import Entry, Facts, brief
from sagbench.log.history import chips, each_once, wrongly
from sagbench.lot.loud import letters
from sagbench.lot.session import Told
from sagbench.record import SweepRecord, Verdict
from sagbench.report.safe import ascii_only, clipped

LETTERS = 8  # lines kept for large letters, so that nothing jumps
WHY = 4  # lines of the reason
SAID = 3  # lines of the answer to a key, at most
BIG = {"insert": "insert", "measuring": "wait", "trouble": "trouble"}
NAMES = {"date_code": "code", "position": "at", "chip": "chip", "maker": "maker", "board": "board", "photo": "photo", "note": "note"}


@dataclass
class Standing:
    """What stands on the screen; `take` brings it up to date."""

    lot: int
    name: str
    big: str = ""  # in large letters
    why: str = ""
    now: str = ""  # what to do
    said: str = ""  # the answer to the last key
    part: str = ""
    facts: Facts = Facts()
    entries: tuple[Entry, ...] = ()  # of this lot, those that count
    shown: int = 0  # entry whose result stands in large letters

    def take(self, told: Told, entries: Sequence[Entry]) -> None:
        """What the session told, and the lot as it is in the log now."""
        self.entries, self.part, self.facts = tuple(entries), told.part, told.facts
        if told.kind == "said":
            self.said = told.sentence
            if self.shown and all(entry.id != self.shown for entry in entries):
                self.big, self.why, self.shown = "undone", f"entry {self.shown} is taken back: it no longer counts", 0
        elif told.kind == "result" and told.record is not None and told.entry is not None:
            self.big, self.why = told.record.verdict.value, f"entry {told.entry.id}: {told.part}: {reason(told.record)}"
            self.said, self.shown = "", told.entry.id
        elif told.kind == "remove":
            self.now = told.sentence
        else:
            self.now = told.sentence
            if told.kind != "insert" or not self.big:  # a result stands until the next chip is in
                self.big, self.why, self.shown = BIG.get(told.kind, told.kind), "", 0
            if told.kind == "trouble":
                self.why = told.sentence


def reason(record: SweepRecord) -> str:
    """Why a chip has its verdict, in one sentence."""
    return record.reasons[0].sentence if record.reasons else record.advice.removeprefix(NO_VERDICT) or record.partial


def counted(entries: Sequence[Entry]) -> str:
    """ "12 chips: 9 sound, 3 not sound"; a chip put in wrongly and tried again is one."""
    entries = each_once(entries)
    parts = [f"{n} {v.value}" for v in Verdict if (n := sum(entry.verdict == v.value for entry in entries))]
    return chips(len(entries)) + (": " + ", ".join(parts) if parts else "")


def picture(standing: Standing, width: int, height: int, small: bool = False) -> list[str]:
    """Lines of plain characters that fit: what the chip is above all, then as many of the chips before as there is room for."""
    head = [f"Lot {standing.lot}  {standing.name}", f"{counted(standing.entries)}   next: {standing.part or 'no part said yet'}   {wrongly(standing.entries)}".rstrip(), _known(standing.facts)]
    big = [standing.big.upper()] if small else [*letters(standing.big, width)]
    big += [""] * (0 if small else LETTERS - len(big))
    why = textwrap.wrap(ascii_only(standing.why), width)
    why = [*why[: WHY - 1], " ".join(why[WHY - 1 :])] if len(why) > WHY else why + [""] * (WHY - len(why))
    lines = [*head, "", *big, *why, f"> {standing.now}", ""]
    said = (textwrap.wrap(ascii_only(standing.said), width) or [""])[:SAID]
    room = max(height - len(lines) - len(said), 0)
    lines += [row(entry) for entry in reversed(standing.entries[-room:] if room else ())]
    lines = lines[: max(height - len(said), 0)]
    lines += [""] * (height - len(said) - len(lines))
    return [clipped(line, width) for line in [*lines, *said][-height:]]


def row(entry: Entry) -> str:
    """One chip before: number, type, verdict, place, reason."""
    place = " ".join(x for x in (entry.facts.board, entry.facts.position, entry.facts.chip) if x)
    return f"{entry.id:>5}  {entry.part:<9} {entry.verdict:<13} {place + '  ' if place else ''}{brief(entry.reason)}"


def _known(facts: Facts) -> str:
    told = [f"{NAMES[name]} {value}" for name, value in asdict(facts).items() if value]
    return "from: " + ", ".join(told) if told else ""
