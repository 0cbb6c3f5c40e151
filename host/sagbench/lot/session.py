"""The order of things at the bench: wait for a chip, measure it, keep it, tell it, wait until it is out.

Nothing is told that is not kept: an entry is on the disk before its result is shown.  What the user types between
chips (`Command`) is carried out between looks at the socket.  What is said of a chip is of the next one, unless the
command is of the last one: a position read off the board before, or the date code once the chip lies in the hand.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from enum import Enum
from pathlib import Path
from typing import Protocol

from sagbench.errors import DeviceError, SagbenchError
from sagbench.log import history
from sagbench.log.database import Log
from sagbench.log.entry import Entry, Facts, Query, photo_place
from sagbench.lot.presence import Presence, Watcher
from sagbench.parts.model import Part
from sagbench.record import NOT_SEATED, SweepRecord

LOOK_EVERY_S = 0.05  # a look itself takes some 75 ms
LOOKS = 12  # at most, for what a box is gone on with; a hand at the socket is the next chip's


class Verb(Enum):
    """What can be said between two chips."""

    RETEST = "again"  # measure the chip in the socket once more; the entry before it no longer counts
    UNDO = "undo"  # take the last entry back; one that was measured again has its first measurement back
    SKIP = "skip"  # do not measure the chip that is in the socket
    NOTE = "note"  # to the last entry
    PHOTO = "photo"  # path of a picture, to the last entry
    PLACE = "place"  # where the next chip sat
    CHIP = "chip"  # name of the next chip, so that it is known again
    CODE = "code"  # date code of the next chips
    MAKER = "maker"  # who made the next chips
    BOARD = "board"  # which board the next chips are from
    PART = "part"  # what the next chips are
    END = "end"  # the box is done
    PAUSE = "pause"  # go on another time


# Which fact of an entry a verb says, and how it is told.
FACT: Mapping[Verb, tuple[str, str]] = {
    Verb.PLACE: ("position", "position"), Verb.CHIP: ("chip", "name"), Verb.CODE: ("date_code", "date code"),
    Verb.MAKER: ("maker", "maker"), Verb.BOARD: ("board", "board"), Verb.PHOTO: ("photo", "photo"),
}  # fmt: skip
OF_ONE = ("position", "chip", "photo", "note")  # these are of one chip only, the others of all that follow


@dataclass(frozen=True)
class Command:
    """One of them, with its text; `last`: it is said of the chip measured last, not of the next."""

    verb: Verb
    text: str = ""
    last: bool = False


@dataclass(frozen=True)
class Told:
    """What the session has to say."""

    kind: str  # "insert", "measuring", "result", "remove", "said", "trouble"
    sentence: str = ""
    record: SweepRecord | None = None
    entry: Entry | None = None
    part: str = ""  # type name of the next chips
    facts: Facts = Facts()  # what is known of the next chip


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
    last: Entry | None = None  # the last entry of this lot that counts
    _here: Entry | None = None  # of the chip in the socket
    _facts_here: Facts | None = None  # of the chip in the socket, where its only entry has been taken back
    _again: bool = False
    _owed: bool = False  # what was said of the next chip is still that of one that has not sat as it must

    def run(self) -> None:
        """Until the user ends the box or pauses. Raises what the link raises; all that was told is kept."""
        self._go_on()
        if self.last and self._occupied():
            while not self._stop and self._out(f"A chip is in: entry {self.last.id}? Take it out. The next one? `again` measures it."):
                self._one()
        while not self._stop:
            self._say("insert", self._wanted())
            if self._in():
                self._one()
                while not self._stop and self._out():
                    self._one()

    def _go_on(self) -> None:
        """A lot that was paused is gone on with where it was: the last entry can be taken back, its board still holds."""
        self.last = self._latest()
        if self.last:
            kept = {name: value for name, value in asdict(self.last.facts).items() if name not in OF_ONE}
            said = {name: value for name, value in asdict(self.facts).items() if value}
            self.facts = Facts(**kept | said)

    def _occupied(self) -> bool:
        """True if a chip lies in the socket as a box is gone on with: it may be the one measured last, and is not to count twice."""
        for _ in range(LOOKS):
            seen = self.watcher.now()
            if seen is not Presence.MOVING:
                return seen is Presence.SEATED
            self.bench.pause(LOOK_EVERY_S)
        return False

    def _latest(self) -> Entry | None:
        return max(self.log.entries(Query(lot=self.lot)), key=lambda entry: entry.id, default=None)

    def _say(self, kind: str, sentence: str = "", record: SweepRecord | None = None, entry: Entry | None = None) -> None:
        self.tell(Told(kind, sentence, record, entry, self.part.name if self.part else "", self.facts))

    @property
    def _stop(self) -> bool:
        return self.ended or self.paused

    def _wanted(self) -> str:
        what = self.part.name if self.part else "chip (first say which: part 74LS00)"
        return f"Insert the next {what}."

    def _in(self) -> bool:
        """True when a chip is to be measured; False if the user ends before that."""
        skipped = False
        while not self._stop:
            seen = self.watcher.now()
            command = self.heard()
            if command and command.verb is Verb.SKIP:
                skipped = seen is not Presence.EMPTY
                self._say("said", "Skipped; take it out." if skipped else "There is no chip to skip.")
            elif command:
                self._obey(command)
            if skipped:
                skipped = seen is not Presence.EMPTY
            elif seen is Presence.SEATED and self.part is not None:
                return True
            self.bench.pause(LOOK_EVERY_S)
        return False

    def _out(self, sentence: str = "Take it out.") -> bool:
        """Wait until the chip is out; True if it is to be measured (once more) instead."""
        self._say("remove", sentence)
        self.watcher.begin_again()
        self._again = False
        while not self._stop:
            if self.watcher.now() is Presence.EMPTY:
                self._here = self._facts_here = None
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
        before = self._here if self._again else None
        self._again, self._here = False, None
        self._say("measuring", f"Measuring {part.name}.")
        try:
            record = self.bench.measure(part, self.marking)
        except DeviceError as wrong:
            self._here = before
            self._say("trouble", str(wrong))
            return
        except SagbenchError as lost:
            kept = getattr(lost, "record", None)
            if isinstance(kept, SweepRecord):
                self._keep(kept, part, before)
            raise
        self._keep(record, part, before)

    def _keep(self, record: SweepRecord, part: Part, before: Entry | None) -> None:
        known = before.facts if before else self._facts_here
        facts, self._facts_here = known or self.facts, None
        number = self.log.add(record, facts, lot=self.lot, library=self.definition(part), again=before.id if before else None)
        self.last = self._here = self.log.entry(number)
        spent, self._owed = known is None or self._owed, record.partial.startswith(NOT_SEATED)
        if spent and not self._owed:
            self.facts = replace(self.facts, **dict.fromkeys(OF_ONE, ""))
        self._say("result", record=record, entry=self.last)
        kept = " ".join(getattr(self.facts, name) for name in ("position", "chip") if getattr(self.facts, name))
        if self._owed and kept:
            self._say("said", f"{kept} stays with it for when it is back in its right place.")
        if changed := history.since_before(self.log, self.last):
            self._say("said", changed)

    # -------------------------------------------------------------- what the user says
    def _obey(self, command: Command) -> None:
        try:
            if command.verb in FACT:
                said = self._fact(command)
            else:
                said = getattr(self, f"_{command.verb.name.lower()}")(command.text)
        except SagbenchError as wrong:
            said = str(wrong)
        if said:
            self._say("said", said)

    def _retest(self, _: str) -> str:
        self._again = True
        return ""

    def _undo(self, _: str) -> str:
        if self.last is None:
            return "There is nothing to take back."
        gone = self.last
        earlier = self.log.take_back(gone.id)  # what it was a second measurement of
        self.last = self._latest()
        if self._here and self._here.id == gone.id:
            self._here = self.log.entry(earlier[0]) if earlier else None
            self._facts_here = None if earlier else gone.facts
        and_so = f"; entry {earlier[0]} of the same chip counts again" if earlier else ""
        return f"Entry {gone.id} ({gone.part}, {gone.verdict}) is taken back (`sagbench log redo {gone.id}`){and_so}."

    def _skip(self, _: str) -> str:
        return "There is nothing to skip: it has been measured; `undo` takes it back."

    def _note(self, text: str) -> str:
        return self._describe("note", "; ".join(x for x in (self.last.facts.note if self.last else "", text) if x))

    def _describe(self, name: str, value: str) -> str:
        if self.last is None:
            return "There is no chip to say that of yet."
        self.log.describe(self.last.id, **{name: value})
        told = self.log.entry(self.last.id)
        self._here = told if self._here and self._here.id == told.id else self._here
        self.last = told
        return f"{name.replace('_', ' ').capitalize()} of entry {told.id}: {value or 'not known'}."

    def _fact(self, command: Command) -> str:
        name, told = FACT[command.verb]
        if command.verb is Verb.PHOTO:
            where = photo_place(command.text)
            return self._describe(name, where) + (" There is no such file yet." if where and not Path(where).exists() else "")
        if command.last:
            return self._describe(name, command.text)
        self.facts = replace(self.facts, **{name: command.text})
        self._owed = self._owed and name not in OF_ONE
        return f"{told.capitalize()} of the next chip{'' if name in OF_ONE else 's'}: {command.text or 'not known'}."

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
