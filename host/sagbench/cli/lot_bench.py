"""What `sagbench lot` does: the session of sagbench.lot at a real fixture, with a log and a terminal.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import sys
import textwrap
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from sagbench.cli import live, output, sweep as one_sweep
from sagbench.cli.fixture_calibration import options_for
from sagbench.cli.lot_faces import KEYS, Face, FullScreen, Lines
from sagbench.cli.typed import Typed
from sagbench.device import Device
from sagbench.errors import SagbenchError, UsageError
from sagbench.log.database import Log, open_log
from sagbench.log.entry import Facts, Lot, Query
from sagbench.log.history import Odd, chips, in_words
from sagbench.lot.page import to_html
from sagbench.lot.presence import Watcher, look
from sagbench.lot.session import Session, Told
from sagbench.lot.summary import Summary, by_chip, summary
from sagbench.lot.view import Standing
from sagbench.parts.model import Part
from sagbench.record import SweepRecord
from sagbench.report.figures import amount, figure, prefix_for
from sagbench.report.safe import visible
from sagbench.sweep import Options, sweep

ODD_SHOWN = 8
CHANGES = ("result", "said")  # what is told after the lot in the log has changed


class FixtureBench:
    """The fixture, judged as `sagbench sweep` does."""

    def __init__(self, device: Device, how: Options, guard: float | None) -> None:
        self._device, self._how, self._guard = device, how, guard

    def measure(self, part: Part, marking: str) -> SweepRecord:
        """One sweep."""
        return one_sweep.judged(sweep(self._device, part, marking=marking, options=self._how), [], self._guard)

    def pause(self, seconds: float) -> None:
        """Real time."""
        time.sleep(seconds)


def measure_lot(arguments: argparse.Namespace, full: bool) -> int:
    """Until the box is done or paused; 0.  Raises what the fixture raises, all that was told being kept.

    full: on the full screen, else line by line.
    """
    part = _find(arguments)(arguments.part) if arguments.part else None
    with Device.connect(arguments.port) as device:
        how = options_for(device.info, without=arguments.no_calibration) or Options()
        with open_log() as log:
            lot = _box(log, arguments)
        if part is None and lot.part:
            part = _find(arguments)(lot.part)
        box = Box(arguments, device, FixtureBench(device, how, arguments.guard), lot, part, arguments.part or lot.part)
        try:
            if full:
                face = FullScreen(Standing(lot.id, lot.name), arguments.small, arguments.silent)
                live.show(live.Work(lambda: box.go(face)), face.picture, {k: key for k, (key, _) in KEYS.items()}, face.pressed, face.rings)
            else:
                lines_ = Lines(Typed(sys.stdin), sys.stdout, arguments.small, arguments.silent)
                lines_.line(f"Lot {lot.id}. `help` and Enter shows what you can say.")
                box.go(lines_)
        except KeyboardInterrupt:
            device.halt()
        except SagbenchError:
            print(f"All results shown are kept; go on with `sagbench lot --resume {lot.id}`.", flush=True)
            raise
    with open_log() as log:
        if box.ended:
            log.end_lot(lot.id)
            show_summary(log, lot.id, arguments.html)
        else:
            print(f"Paused; go on with `sagbench lot --resume {lot.id}`.", flush=True)
    return 0


@dataclass
class Box:
    """A box under way at a fixture; `go` may run in a thread, for it opens the log itself."""

    arguments: argparse.Namespace
    device: Device
    bench: FixtureBench
    lot: Lot
    part: Part | None
    marking: str
    ended: bool = False

    def go(self, face: Face) -> None:
        """Until the user ends the box or pauses."""
        given = self.arguments
        facts = Facts(maker=given.maker or "", date_code=given.date_code or "", board=given.board or "")
        with open_log() as log:
            entries = log.entries(Query(lot=self.lot.id))

            def tell(told: Told) -> None:
                if told.kind in CHANGES:
                    entries[:] = log.entries(Query(lot=self.lot.id))
                face.tell(told, entries)

            session = Session(self.bench, Watcher(partial(look, self.device)), log, self.lot.id, _find(given), one_sweep.definition,
                              tell, face.heard, self.part, self.marking, facts)  # fmt: skip
            session.run()
            self.ended = session.ended


def _find(arguments: argparse.Namespace) -> Callable[[str], Part]:
    return partial(one_sweep.find_part, folders=arguments.parts_dir)


def _box(log: Log, arguments: argparse.Namespace) -> Lot:
    """The lot, begun or gone on with."""
    if arguments.resume is None:
        name = arguments.name or arguments.part or "mixed chips"
        return log.lot(log.begin_lot(name, arguments.part or ""))
    return open_lot(log, arguments.resume)


def open_lot(log: Log, number: int) -> Lot:
    """A lot that can be gone on with.  Raises LogError if there is none, UsageError if it is done."""
    lot = log.lot(number)
    if lot.ended:
        raise UsageError(f"Lot {lot.id} ({lot.name}) is done since {lot.ended[:10]}; begin a new one, or see it with --summary {lot.id}.")
    return lot


# ------------------------------------------------------------------ summary
def show_summary(log: Log, number: int, html: str | None = None) -> None:
    """The summary of a lot, line by line, and as a page where one is asked for.  Raises UsageError if it cannot be written."""
    box = summary(log, number)
    if html != output.STDOUT:
        for line in lines(box):
            print(visible(line), flush=True)
    if html:
        output.write(html, to_html(log, box))


def lines(box: Summary) -> list[str]:
    """The summary in lines of 78 characters at most."""
    told = ", ".join(f"{count} {verdict}" for verdict, count in box.verdicts.items()) or "no chip"
    found = [f"Lot {box.lot.id}, {box.lot.name}: {chips(len(box.entries))}: {told}" + (f"; {box.wrongly}" if box.wrongly else "")]
    if box.causes:
        found += ["Why:", *(f"  {len(cause.chips):>3} x {cause.told()}" for cause in box.causes)]
    for head, odd in (("Unlike the rest of this box:", box.odd), ("Unlike your earlier sound ones:", box.unlike)):
        if odd:
            every = by_chip(odd, box.entries)
            found += [head, *(f"  entry {entry.id} ({entry.verdict}): {_farthest(several)}" for entry, several in every[:ODD_SHOWN])]
            found += [f"  and {chips(len(every) - ODD_SHOWN)} more"] if len(every) > ODD_SHOWN else []
            found += [f"  all figures: `sagbench log outliers --lot {box.lot.id}`"] if len(odd) > len(every) or len(every) > ODD_SHOWN else []
    for chip in box.drifted:
        most = chip.changes[0]
        found.append(f"  entry {chip.now.id} was entry {chip.before.id}: {in_words(most.key)} {figure(most.before)} -> {figure(most.after)}")
    return [line for text in found for line in (textwrap.wrap(text, 78, subsequent_indent="    ", drop_whitespace=True) if len(text) > 78 else [text])]


def _farthest(odd: Sequence[Odd]) -> str:
    """The figure that is farthest off, the farthest first, and how many more there are."""
    first, *rest = odd
    unit, middle = first.value.unit, first.norm.middle
    more = f"; {len(rest)} more figure{'s' if len(rest) > 1 else ''}" if rest else ""
    return f"{in_words(first.key)} {figure(first.value)}, the middle {amount(middle, unit, prefix_for(middle, unit))}{more}"
