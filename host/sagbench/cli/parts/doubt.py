# SPDX-License-Identifier: MIT
"""`sagbench parts doubt RECORD|PART`: is it the chip, or its definition?"""
from __future__ import annotations

import argparse
import json
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sagbench.cli import show, sweep
from sagbench.cli.parts.listing import width
from sagbench.errors import EXIT_NOT_SOUND, EXIT_SOUND
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Part
from sagbench.record import SweepRecord
from sagbench.report.codec import from_json
from sagbench.report.safe import visible

if TYPE_CHECKING:
    from sagbench.doubt.observed import Answer
    from sagbench.doubt.reasoning import Doubt, OutputDoubt
    from sagbench.doubt.statements import Line
    from sagbench.parts.definition import Definition

SHOWN = 12
CAUSES = 6
_WORDS = {"L": "low", "H": "high", "Z": "off", "?": "neither low nor high"}


def run(arguments: argparse.Namespace) -> int:
    """Exit code 0 if every answer is as the definition says, else 1.  Raises UsageError, FixtureError."""
    from sagbench.doubt.observed import observed
    from sagbench.doubt.reasoning import reason
    from sagbench.doubt.statements import lines as statements
    record, part = _measured(arguments)
    path, definition = defined(part)
    doubt = reason(part, definition, statements(path, part.family or PLAIN), observed(part, record))
    if arguments.json:
        json.dump(as_json(part, path, doubt), sys.stdout, indent=1)
        sys.stdout.write("\n")
    else:
        for line in lines(part, definition, path, doubt, len(doubt.wrong) if arguments.all else SHOWN):
            sys.stdout.write(visible(line) + "\n")
    return EXIT_NOT_SOUND if doubt.wrong else EXIT_SOUND


def _measured(arguments: argparse.Namespace) -> tuple[SweepRecord, Part]:
    name = arguments.what
    if name == "-" or name.endswith(".json") or Path(name).is_file():
        record = from_json(show.text(name), name)
        return record, sweep.find_part(record.part, arguments.parts_dir)
    part = sweep.find_part(name, arguments.parts_dir)
    arguments.part, arguments.quiet, arguments.plain, arguments.no_color = name, arguments.json, False, False
    return sweep.measure(part, arguments), part


def defined(part: Part) -> tuple[Path, Definition]:
    """The file a part was read from, and what it says for the part's family."""
    from sagbench.parts.lookup import file_names, load_file
    path = file_names()[part.function] if part.origin == "library" else Path(part.origin)
    return path, load_file(path).of(part.family or PLAIN)


def lines(part: Part, definition: Definition, path: Path, doubt: Doubt, most: int) -> Iterator[str]:
    """The report, wrapped."""
    columns = (width() or 80) - 1
    yield f"{part.name}  {part.title}"
    yield f"defined by {path}" if part.origin != "library" else f"defined by the library's {path.name}"
    yield ""
    yield from textwrap.wrap(doubt.summary[0].upper() + doubt.summary[1:] + ".", columns)
    if not doubt.wrong:
        return
    if part.origin == "library":
        yield from textwrap.wrap("The library's definitions are held against function tables: before you doubt this one, see "
                                 f"that the chip is a {part.name} and sits as it must.", columns)
    yield from _section("What would explain every answer", _causes(doubt), columns)
    yield from _section("Gates with one definition", doubt.sisters, columns)
    yield from _section(f"Outputs that disagree ({len(doubt.wrong)} of {doubt.checks} answers)", _outputs(part, doubt), columns)
    rest = len(doubt.wrong) - most
    told = [_answer(part, definition, answer) for answer in doubt.wrong[:most]]
    yield from _section("Wrong answers", [*told, *([f"and {rest} more; --all shows them"] if rest > 0 else [])], columns)


def _section(title: str, entries: Any, columns: int) -> Iterator[str]:
    told = list(entries)
    if not told:
        return
    yield from ("", title, "-" * len(title))
    for entry in told:
        yield from textwrap.wrap(entry, columns, initial_indent="- ", subsequent_indent="  ", break_long_words=False,
                                 break_on_hyphens=False)


def _causes(doubt: Doubt) -> Iterator[str]:
    for suspect in doubt.explain[:CAUSES]:
        yield f"{suspect.kind}: {suspect.sentence}"
    if (rest := len(doubt.explain) - CAUSES) > 0:
        yield f"and {rest} more like these"
    if not doubt.explain:
        yield "nothing single: no stuck pin, no two pins exchanged, no one sign in an equation"


def _outputs(part: Part, doubt: Doubt) -> Iterator[str]:
    """An entry for outputs of one statement that are wrong in the same way."""
    groups: dict[tuple[Line | None, str], list[OutputDoubt]] = {}
    for output in doubt.outputs:
        groups.setdefault((output.line, output.pattern), []).append(output)
    for (line, how), group in groups.items():
        pins = ", ".join(f"{o.pin} ({o.name})" for o in group)
        counts = f"{sum(o.wrong for o in group)} of {sum(o.checks for o in group)} answers"
        text = f"pins {pins}: each {how}, {counts}" if len(group) > 1 else f"pin {pins} {how}, {counts}"
        yield f"{text}; {line.where}: {line.text}" if line else text


def _answer(part: Part, definition: Definition, answer: Answer) -> str:
    """With the levels of those inputs that have influence on the output."""
    from sagbench.doubt.statements import read_by
    from sagbench.plan.logic import levels_at
    name = part.pin(answer.pin).name
    seen = read_by(definition, name)
    levels = [f"{part.pin(n).name}={int(level)}" for n, level in sorted(levels_at(part, answer.step).items()) if part.pin(n).name in seen]
    volts = "" if answer.volts is None else f" ({answer.volts:.2f} V)"
    return (f"step {answer.step + 1}, {' '.join(levels)}: pin {answer.pin} ({name}) should be "
            f"{_WORDS[answer.expect.value]} and is {_WORDS[answer.seen]}{volts}")


def as_json(part: Part, path: Path, doubt: Doubt) -> dict[str, Any]:
    """For a script."""
    return {
        "part": part.name, "file": str(path), "own": part.origin != "library", "leaning": doubt.leaning,
        "summary": doubt.summary, "checks": doubt.checks,
        "causes": [{"kind": s.kind, "sentence": s.sentence, "line": s.line} for s in doubt.explain],
        "sisters": list(doubt.sisters),
        "outputs": [{"pin": o.pin, "name": o.name, "wrong": o.wrong, "checks": o.checks, "pattern": o.pattern,
                     "line": o.line.number if o.line else None, "statement": o.line.text if o.line else None}
                    for o in doubt.outputs],
        "wrong": [{"step": a.step, "pin": a.pin, "expected": a.expect.value, "seen": a.seen, "volts": a.volts} for a in doubt.wrong],
    }
