"""The two faces of a box of chips: lines for pipes and screen readers, and a full screen with keys.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import queue
import shutil
import textwrap
from collections.abc import Callable
from typing import Protocol, TextIO

from sagbench.cli.live import Key
from sagbench.cli.lot import HELP
from sagbench.cli.options import filled
from sagbench.cli.typed import Typed
from sagbench.errors import UsageError
from sagbench.log.entry import Entry
from sagbench.lot import loud
from sagbench.lot.session import Command, Told, Verb
from sagbench.lot.view import Standing, picture, reason
from sagbench.report.safe import visible

HELP_WIDTH = 79
LAST = "last"  # the word before a command that is said of the chip measured last

KEYS = {
    "a": (Key("again"), Command(Verb.RETEST)),
    "u": (Key("undo"), Command(Verb.UNDO)),
    "s": (Key("skip"), Command(Verb.SKIP)),
    "n": (Key("note", "Note of the chip measured last"), Command(Verb.NOTE)),
    "f": (Key("photo", "File of the last chip's photo"), Command(Verb.PHOTO)),
    "p": (Key("position", "Where the next chip sat: U14"), Command(Verb.PLACE)),
    "i": (Key("name", "A name for the next chip, so that it is known again"), Command(Verb.CHIP)),
    "c": (Key("date code", "Date code of the next chips: 8142"), Command(Verb.CODE)),
    "m": (Key("maker", "Who made the next chips"), Command(Verb.MAKER)),
    "b": (Key("board", "Which board the next chips are from"), Command(Verb.BOARD)),
    "t": (Key("type", "What the next chips are: 74LS00"), Command(Verb.PART)),
    "P": (Key("pos. of last", "Where the last chip sat: U14"), Command(Verb.PLACE, last=True)),
    "C": (Key("code of last", "Date code of the last chip: 8142"), Command(Verb.CODE, last=True)),
    "e": (Key("end", "Is the box done? Type yes"), Command(Verb.END)),
    "q": (Key("pause"), Command(Verb.PAUSE)),
}


class Face(Protocol):
    """What shows and hears.  `tell` also sounds a result; `entries` are those of the lot that count."""

    def tell(self, told: Told, entries: list[Entry]) -> None:
        """Show it."""

    def heard(self) -> Command | None:
        """What was said since, if anything; does not wait."""


def command(line: str) -> Command | None:
    """What a typed line asks for; None for an empty one.  Raises UsageError."""
    word, _, text = line.strip().partition(" ")
    if not word:
        return None
    known = {verb.value: verb for verb in Verb}
    if word.lower() == LAST and (of := command(text)):
        return Command(of.verb, of.text, last=True)
    if word.lower() not in known:
        raise UsageError(f"{word!r} is no command here; type `help` for what there is.")
    return Command(known[word.lower()], text.strip())


class Lines:
    """A line for each thing that happens; the verdict in large letters unless `small`."""

    def __init__(self, typed: Typed, stream: TextIO, small: bool, silent: bool) -> None:
        self._typed, self._stream, self._small, self._silent = typed, stream, small, silent

    def line(self, text: str) -> None:
        """One line, at once."""
        print(visible(text), file=self._stream, flush=True)

    def tell(self, told: Told, entries: list[Entry]) -> None:
        """Show it, and sound a result."""
        if told.record is None or told.entry is None:
            self.line(told.sentence)
            return
        word = told.record.verdict.value
        for line in [word.upper()] if self._small else loud.letters(word, shutil.get_terminal_size().columns):
            self.line(line)
        for line in textwrap.wrap(f"entry {told.entry.id}: {told.record.part}: {reason(told.record)}", 78):
            self.line(line)
        if not self._silent:
            loud.play(told.record.verdict)

    def heard(self) -> Command | None:
        """The next line typed; the end of the input pauses the box."""
        came, line = self._typed.take()
        if not came:
            return None
        if line is None:
            return Command(Verb.PAUSE)
        if line.lower() == "help":
            for text in filled(HELP, HELP_WIDTH):
                self.line(text)
            return None
        try:
            return command(line)
        except UsageError as wrong:
            self.line(str(wrong))
            return None


class FullScreen:
    """State and keys of the full screen; `sagbench.cli.live` draws it."""

    def __init__(self, standing: Standing, small: bool, silent: bool, play: Callable[..., None] = loud.play) -> None:
        self.standing, self._small, self._silent, self._play = standing, small, silent, play
        self._said: queue.SimpleQueue[Command] = queue.SimpleQueue()
        self._bells = 0

    def tell(self, told: Told, entries: list[Entry]) -> None:
        """Show it, and sound a result."""
        self.standing.take(told, entries)
        if told.record is not None and not self._silent:
            self._play(told.record.verdict, self._ring)

    def heard(self) -> Command | None:
        """The next key's command."""
        try:
            return self._said.get_nowait()
        except queue.Empty:
            return None

    def pressed(self, key: str, text: str) -> None:
        """A key, with what was typed after it."""
        asked, does = KEYS[key]
        if does.verb is Verb.END and text.lower() not in ("yes", "y"):
            self.standing.said = "The box goes on."
        elif asked.asks and not text and does.verb in (Verb.NOTE, Verb.PHOTO, Verb.PART):
            self.standing.said = "Nothing was typed."
        else:
            self.standing.said = "As soon as this chip is measured." if self.standing.big == "wait" else ""
            self._said.put(Command(does.verb, "" if does.verb is Verb.END else text, does.last))

    def picture(self, width: int, height: int) -> list[str]:
        """Lines for a screen of that size."""
        return picture(self.standing, width, height, self._small)

    def rings(self) -> int:
        """How often the terminal's bell is still to ring."""
        count, self._bells = self._bells, 0
        return count

    def _ring(self, count: int) -> None:
        self._bells += count
