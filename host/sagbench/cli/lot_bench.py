"""What `sagbench lot` does: the session of sagbench.lot at a real fixture, with a log and a terminal.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import textwrap
from functools import partial
from typing import TextIO

from sagbench.cli import sweep as one_sweep
from sagbench.cli.fixture_calibration import options_for
from sagbench.cli.lot import HELP, Screen, Typed, no_such, rest
from sagbench.device import Device
from sagbench.errors import SagbenchError, UsageError
from sagbench.log.database import Facts, Log
from sagbench.log.history import in_words
from sagbench.lot import loud
from sagbench.lot.presence import Watcher, look
from sagbench.lot.session import Command, Session, Told, Verb
from sagbench.lot.summary import Summary, summary
from sagbench.parts.model import Part
from sagbench.record import Quantity, SweepRecord
from sagbench.report.figures import figure
from sagbench.report.safe import visible
from sagbench.sweep import Options, sweep

ODD_SHOWN = 8


class FixtureBench:
    """The fixture, judged as `sagbench sweep` does."""

    def __init__(self, device: Device, how: Options, guard: float | None) -> None:
        self._device, self._how, self._guard = device, how, guard

    def measure(self, part: Part, marking: str) -> SweepRecord:
        """One sweep."""
        return one_sweep.judged(sweep(self._device, part, marking=marking, options=self._how), [], self._guard)

    def pause(self, seconds: float) -> None:
        """Real time."""
        rest(seconds)


def command(line: str) -> Command | None:
    """What a typed line asks for; None for an empty one.  Raises UsageError."""
    word, _, text = line.strip().partition(" ")
    if not word:
        return None
    known = {verb.value: verb for verb in Verb}
    if word.lower() not in known:
        raise no_such(word)
    return Command(known[word.lower()], text.strip())


def measure_lot(log: Log, arguments: argparse.Namespace, typed: Typed, screen: Screen) -> int:
    """Until the box is done or paused; 0.  Raises what the fixture raises, all that was told being kept."""
    find = partial(one_sweep.find_part, folders=arguments.parts_dir)
    number, marking = _box(log, arguments)
    part = find(marking) if marking else None
    facts = Facts(maker=arguments.maker or "", date_code=arguments.date_code or "", board=arguments.board or "")

    def heard() -> Command | None:
        came, line = typed.take()
        if not came:
            return None
        if line is None:
            return Command(Verb.PAUSE)
        if line.lower() == "help":
            screen.line(HELP)
            return None
        try:
            return command(line)
        except UsageError as wrong:
            screen.line(str(wrong))
            return None

    with Device.connect(arguments.port) as device:
        bench = FixtureBench(device, options_for(device.info, without=arguments.no_calibration) or Options(), arguments.guard)
        session = Session(bench, Watcher(partial(look, device)), log, number, find, one_sweep.definition,
                          partial(tell, screen, arguments.silent), heard, part, marking, facts)  # fmt: skip
        screen.line(f"Lot {number}. `help` and Enter shows what you can say.")
        try:
            session.run()
        except KeyboardInterrupt:
            device.halt()
            session.paused = True
        except SagbenchError:
            screen.line(f"All results shown are kept; go on with `sagbench lot --resume {number}`.")
            raise
    if session.ended:
        log.end_lot(number)
        for text in lines(summary(log, number)):
            screen.line(text)
    else:
        screen.line(f"Paused; go on with `sagbench lot --resume {number}`.")
    return 0


def _box(log: Log, arguments: argparse.Namespace) -> tuple[int, str]:
    """Number of the lot, begun or gone on with, and what its chips are."""
    if arguments.resume is None:
        name = arguments.name or arguments.part or "mixed chips"
        return log.begin_lot(name, arguments.part or ""), arguments.part or ""
    lot = log.lot(arguments.resume)
    if lot.ended:
        raise UsageError(f"Lot {lot.id} ({lot.name}) is done since {lot.ended[:10]}; begin a new one, or see it with --summary {lot.id}.")
    return lot.id, arguments.part or lot.part


def tell(screen: Screen, silent: bool, told: Told) -> None:
    """Show it, and sound a result."""
    if told.record is None or told.entry is None:
        screen.line(told.sentence)
        return
    record = told.record
    screen.large(record.verdict.value)
    why = record.reasons[0].sentence if record.reasons else record.partial or record.advice
    for line in textwrap.wrap(f"entry {told.entry.id}: {record.part}: {why}", 78):
        screen.line(line)
    if not silent:
        loud.play(record.verdict)


# ------------------------------------------------------------------ summary
def show_summary(log: Log, number: int, stream: TextIO) -> None:
    """The summary of a lot, line by line."""
    for line in lines(summary(log, number)):
        print(visible(line), file=stream)


def lines(box: Summary) -> list[str]:
    """The summary in lines of 78 characters at most."""
    told = ", ".join(f"{count} {verdict}" for verdict, count in box.verdicts.items()) or "no chip"
    found = [f"Lot {box.lot.id}, {box.lot.name}: {len(box.entries)} chips: {told}"]
    if box.reasons:
        found += ["Why:", *(f"  {count:>3} x {reason}" for reason, count in box.reasons)]
    for head, odd in (("Unlike the rest of this box:", box.odd), ("Unlike your earlier sound ones:", box.unlike)):
        if odd:
            found += [head]
            found += [f"  entry {o.entry}: {in_words(o.key)} {figure(o.value)}, the middle {_plain(o.norm.middle, o.value)}" for o in odd[:ODD_SHOWN]]
            found += [f"  and {len(odd) - ODD_SHOWN} more: `sagbench log outliers --lot {box.lot.id}`"] if len(odd) > ODD_SHOWN else []
    for chip in box.drifted:
        most = chip.changes[0]
        found.append(f"  entry {chip.now.id} was entry {chip.before.id}: {in_words(most.key)} {figure(most.before)} -> {figure(most.after)}")
    return [line for text in found for line in (textwrap.wrap(text, 78, subsequent_indent="    ", drop_whitespace=True) if len(text) > 78 else [text])]


def _plain(value: float, like: Quantity) -> str:
    return figure(Quantity(value, like.u / 2, like.unit)).split(" ±")[0]
