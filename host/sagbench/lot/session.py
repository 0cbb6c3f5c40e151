"""The order of things at the bench: wait for a chip, measure it, keep it, tell it, wait until it is out.

Nothing is told that is not kept: an entry is on the disk before its result is shown.  What the user types between
chips (`Command`) is carried out between looks at the socket.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import Enum
from typing import Protocol

from sagbench.errors import DeviceError, SagbenchError
from sagbench.log.database import Log
from sagbench.log.entry import Entry, Facts
from sagbench.lot.presence import Presence, Watcher
from sagbench.parts.model import Part
from sagbench.record import SweepRecord

LOOK_EVERY_S = 0.05  # a look itself takes some 75 ms


class Verb(Enum):
    """What can be said between two chips."""

    RETEST = "again"  # measure the chip in the socket once more; the entry before it no longer counts
    UNDO = "undo"  # take the last entry back
    SKIP = "skip"  # do not measure the chip that is in the socket
    NOTE = "note"  # to the last entry
    PLACE = "place"  # position of the next chips
    CODE = "code"  # date code of the next chips
    PART = "part"  # what the next chips are
    END = "end"  # the box is done
    PAUSE = "pause"  # go on another time


@dataclass(frozen=True)
class Command:
    """One of them, with its text."""

    verb: Verb
    text: str = ""


@dataclass(frozen=True)
class Told:
    """What the session has to say."""

    kind: str  # "insert", "measuring", "result", "remove", "said", "trouble"
    sentence: str = ""
    record: SweepRecord | None = None
    entry: Entry | None = None


class Bench(Protocol):
    """What the session needs of the fixture."""

    def measure(self, part: Part, marking: str) -> SweepRecord:
        """One sweep, judged."""

    def pause(self, seconds: float) -> None:
        """Let time pass."""


@dataclass
class Session:
    """A box under way.  `find` understands a marking or raises UsageError; `definition` names what a part was measured by."""

    bench: Bench
    watcher: Watcher
    log: Log
    lot: int
    find: Callable[[str], Part]
    definition: Callable[[Part], str]
    tell: Callable[[Told], None]
    heard: Callable[[], Command | None]
    part: Part | None = None
    marking: str = ""
    facts: Facts = field(default_factory=Facts)
    ended: bool = False
    paused: bool = False
    last: Entry | None = None
    _again: bool = False

    def run(self) -> None:
        """Until the user ends the box or pauses. Raises what the link raises; all that was told is kept."""
        while not self._stop:
            self.tell(Told("insert", self._wanted()))
            if self._wait(Presence.SEATED):
                self._one()
                while not self._stop and self._out():
                    self._one()

    @property
    def _stop(self) -> bool:
        return self.ended or self.paused

    def _wanted(self) -> str:
        what = self.part.name if self.part else "chip (first say which: part 74LS00)"
        return f"Insert the next {what}."

    def _wait(self, wanted: Presence) -> bool:
        """True when the socket is as wanted; False if the user ends before that."""
        skipped = False
        while not self._stop:
            seen = self.watcher.now()
            command = self.heard()
            if command and command.verb is Verb.SKIP and wanted is Presence.SEATED:
                skipped = True
                self.tell(Told("said", "Skipped; take it out."))
            elif command:
                self._obey(command)
            if skipped:
                skipped = seen is not Presence.EMPTY
            elif seen is wanted and (wanted is Presence.EMPTY or self.part is not None):
                return True
            self.bench.pause(LOOK_EVERY_S)
        return False

    def _out(self) -> bool:
        """Wait until the chip is out; True if it is to be measured once more instead."""
        self.tell(Told("remove", "Take it out."))
        self.watcher.begin_again()
        self._again = False
        while not self._stop:
            if self.watcher.now() is Presence.EMPTY:
                return False
            if command := self.heard():
                self._obey(command)
            if self._again:
                return True
            self.bench.pause(LOOK_EVERY_S)
        return False

    def _one(self) -> None:
        """Measure, keep, tell."""
        part = self.part
        if part is None:
            return
        before = self.last if self._again else None
        self._again = False
        self.tell(Told("measuring", f"Measuring {part.name}."))
        try:
            record = self.bench.measure(part, self.marking)
        except DeviceError as wrong:
            self.tell(Told("trouble", str(wrong)))
            return
        except SagbenchError as lost:
            kept = getattr(lost, "record", None)
            if isinstance(kept, SweepRecord):
                self._keep(kept, part, before)
            raise
        self._keep(record, part, before)

    def _keep(self, record: SweepRecord, part: Part, before: Entry | None) -> None:
        number = self.log.add(record, self.facts, lot=self.lot, library=self.definition(part), again=before.id if before else None)
        if before:
            self.log.take_back(before.id)
        self.last = self.log.entry(number)
        self.facts = replace(self.facts, position="", chip="", note="", photo="")  # these are of one chip only
        self.tell(Told("result", record=record, entry=self.last))

    # -------------------------------------------------------------- what the user says
    def _obey(self, command: Command) -> None:
        try:
            said = getattr(self, f"_{command.verb.name.lower()}")(command.text)
        except SagbenchError as wrong:
            said = str(wrong)
        if said:
            self.tell(Told("said", said))

    def _retest(self, _: str) -> str:
        self._again = True
        return ""

    def _undo(self, _: str) -> str:
        if self.last is None:
            return "There is nothing to take back yet."
        self.log.take_back(self.last.id)
        said = f"Entry {self.last.id} is taken back."
        self.last = None
        return said

    def _skip(self, _: str) -> str:
        return "There is nothing to skip: it has been measured; `undo` takes it back."

    def _note(self, text: str) -> str:
        if self.last is None:
            return "There is no chip to note that of yet."
        self.log.describe(self.last.id, note="; ".join(x for x in (self.last.facts.note, text) if x))
        self.last = self.log.entry(self.last.id)
        return f"Noted with entry {self.last.id}."

    def _place(self, text: str) -> str:
        self.facts = replace(self.facts, position=text)
        return f"The next chip is from position {text}." if text else "The next chip's position is not known."

    def _code(self, text: str) -> str:
        self.facts = replace(self.facts, date_code=text)
        return f"Date code of the next chips: {text or 'not known'}."

    def _part(self, text: str) -> str:
        self.part = self.find(text)
        self.marking = text
        return f"The next chips are {self.part.name}, {self.part.title}."

    def _end(self, _: str) -> str:
        self.ended = True
        return ""

    def _pause(self, _: str) -> str:
        self.paused = True
        return ""

