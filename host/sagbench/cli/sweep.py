# SPDX-License-Identifier: MIT
"""`sagbench sweep PART`: measure, report, keep."""
from __future__ import annotations

import argparse
import sys
from dataclasses import replace

from sagbench.cli import interrupts, output
from sagbench.cli.progress import shown
from sagbench.cli.show import read_record
from sagbench.errors import SagbenchError
from sagbench.parts.model import Part
from sagbench.record import SweepRecord


def run(arguments: argparse.Namespace) -> int:
    """All that can be found wrong without the fixture is found before it is touched."""
    output.check_targets(arguments.json, arguments.html)
    part = find_part(arguments.part, arguments.parts_dir)
    earlier = [read_record(name) for name in arguments.like]
    try:
        record = measure(part, arguments)
    except SagbenchError as error:
        # A sweep that the link or the fixture broke off may carry what it had.
        kept = getattr(error, "record", None)
        if isinstance(kept, SweepRecord):
            output.deliver(judged(kept, [], arguments.guard), arguments)
        raise
    record = judged(record, earlier, arguments.guard)
    output.deliver(record, arguments)
    return output.exit_code(record)


def judged(record: SweepRecord, earlier: list[SweepRecord], guard: float | None) -> SweepRecord:
    """The record beside earlier ones of sound specimens, and by the guard band asked for."""
    if earlier:
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
