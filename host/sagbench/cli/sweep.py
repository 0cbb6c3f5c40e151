# SPDX-License-Identifier: MIT
"""`sagbench sweep PART`: measure, report, keep."""
from __future__ import annotations

import argparse
import sys
import zlib
from collections.abc import Callable
from dataclasses import replace

from sagbench.cli import interrupts, output
from sagbench.cli.progress import shown
from sagbench.cli.show import read_record
from sagbench.errors import SagbenchError, UsageError
from sagbench.parts.model import Part
from sagbench.record import SweepRecord
from sagbench.report.safe import visible


def run(arguments: argparse.Namespace) -> int:
    """All that can be found wrong without the fixture is found before it is touched."""
    output.check_targets(arguments.json, arguments.html)
    keep = keeper(arguments)
    part = find_part(arguments.part, arguments.parts_dir)
    earlier = [read_record(name) for name in arguments.like]
    try:
        record = measure(part, arguments)
    except SagbenchError as error:
        # A sweep that the link or the fixture broke off may carry what it had.
        kept = getattr(error, "record", None)
        if isinstance(kept, SweepRecord):
            kept = judged(kept, [], arguments.guard)
            keep(kept, part)
            output.deliver(kept, arguments)
        raise
    record = judged(record, earlier, arguments.guard)
    keep(record, part)
    output.deliver(record, arguments)
    return output.exit_code(record)


def keeper(arguments: argparse.Namespace) -> Callable[[SweepRecord, Part], None]:
    """What keeps a record in the log before it is shown, or does not.  Raises LogError if there will be no keeping."""
    from sagbench.cli.log import facts_of
    facts = facts_of(arguments)
    if not arguments.log:
        if facts:
            raise UsageError(f"--{next(iter(facts)).replace('_', '-')} is for the log; give --log as well.")
        return lambda record, part: None
    from sagbench.log.database import Facts, open_log
    with open_log():
        pass

    def keep(record: SweepRecord, part: Part) -> None:
        try:
            with open_log() as log:
                number = log.add(record, Facts(**facts), library=definition(part))
        except SagbenchError as error:                  # the chip has been measured: show it all the same
            print(f"sagbench: not kept in the log. {visible(str(error))}", file=sys.stderr)
        else:
            if not arguments.quiet:
                print(f"entry {number} of the log", file=sys.stderr)
    return keep


def definition(part: Part) -> str:
    """Which definition it was measured by: where from, and a checksum of all that it says."""
    return f"{part.origin} {zlib.crc32(repr(part).encode()):08x}"


def beside_the_log(record: SweepRecord) -> SweepRecord:
    """The record beside the user's own sound specimens of the part, if there is a log with enough of them."""
    from sagbench.log.database import LogError, open_log, path
    if not path().exists():
        return record
    from sagbench.judge import character
    from sagbench.log.history import sound_ones, spread
    try:
        with open_log(write=False) as log:
            return character.compare(record, spread(log, sound_ones(log, record.part)))
    except LogError as wrong:
        return replace(record, notes=(*record.notes, f"Not compared with your own specimens. {wrong}"))


def judged(record: SweepRecord, earlier: list[SweepRecord], guard: float | None) -> SweepRecord:
    """The record beside earlier ones of sound specimens (those given, else the log's), and by the guard band asked for."""
    if not earlier:
        record = beside_the_log(record)
    else:
        from sagbench.judge import character
        usable = [other for other in earlier if character.usable(other, record.part)]
        if len(usable) < character.FEWEST:
            record = replace(record, notes=(*record.notes, f"Not compared with your own specimens: {len(usable)} of the "
                                            f"{len(earlier)} records given are of a sound {record.part}, "
                                            f"{character.FEWEST} or more are needed."))
        else:
            record = character.compare(record, character.norms(usable))
    if guard is not None:
        from sagbench.judge.rejudge import rejudge
        from sagbench.judge.rule import Rule
        record = rejudge(record, Rule(guard))
    return record


def find_part(marking: str, folders: list[str]) -> Part:
    """The part with this marking; `folders` are those of --parts-dir.  Raises UsageError."""
    from sagbench.parts import load_part
    from sagbench.parts.userdir import folders as read
    return load_part(marking, user_dirs=read(folders))


def measure(part: Part, arguments: argparse.Namespace) -> SweepRecord:
    """One sweep on the fixture at the port asked for, with progress on standard error."""
    with interrupts.held():
        from sagbench.cli.fixture_calibration import options_for
        from sagbench.device import Device
        from sagbench.sweep import sweep
    wanted = not (arguments.quiet or arguments.plain) and sys.stderr.isatty()
    with Device.connect(arguments.port) as device, shown(wanted, output.wants_color(arguments, sys.stderr)) as progress:
        options = options_for(device.info, without=arguments.no_calibration)
        return sweep(device, part, marking=arguments.part, progress=progress, options=options)
