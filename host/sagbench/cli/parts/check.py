# SPDX-License-Identifier: MIT
"""`sagbench parts check [FILE...]`: every mistake of part files and alias files, or what they come to."""
from __future__ import annotations

import argparse
import json
import sys
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sagbench.errors import EXIT_SOUND, EXIT_USAGE, PartFileError, UsageError
from sagbench.parts.userdir import folder, folders
from sagbench.report.safe import visible

if TYPE_CHECKING:
    from sagbench.parts.definition import Definition
    from sagbench.parts.model import Part
    from sagbench.vectors.report import Report


@dataclass(frozen=True)
class Checked:
    """What one file came to."""

    file: str
    mistakes: tuple[str, ...]
    part: str = ""
    title: str = ""
    families: tuple[str, ...] = ()
    steps: int = 0
    checks: int = 0
    lines: tuple[str, ...] = ()          # what its logic test finds and misses


def run(arguments: argparse.Namespace) -> int:
    """Exit code 2 if a file has a mistake.  Raises UsageError if there is nothing to check."""
    paths = [Path(name) for name in arguments.files] or own_files(arguments.parts_dir)
    done = [checked(path) for path in paths]
    done = list(_twice(done))
    if arguments.json:
        json.dump([{"file": c.file, "ok": not c.mistakes, "mistakes": list(c.mistakes), "part": c.part, "title": c.title,
                    "families": list(c.families), "steps": c.steps, "checks": c.checks, "test": list(c.lines)} for c in done],
                  sys.stdout, indent=1)
        sys.stdout.write("\n")
    else:
        for line in told(done):
            sys.stdout.write(visible(line) + "\n")
    return EXIT_USAGE if any(c.mistakes for c in done) else EXIT_SOUND


def own_files(given: list[str]) -> list[Path]:
    """All part files of the user's own folders, and the alias files."""
    from sagbench.parts import aliases
    from sagbench.parts.lookup import user_files
    mine = folders(given)
    found = user_files(mine) + aliases.files(map(Path, mine))
    if not found:
        where = " or ".join(map(str, [*given, *filter(None, [folder()])])) or "a folder given with --parts-dir"
        raise UsageError(f"there is no part file of your own in {where}; `sagbench parts new NAME` begins one.")
    return found


def checked(path: Path) -> Checked:
    """Read one file, put it together in every family, and look what its test finds."""
    from sagbench.cli.parts.seating import unfit
    from sagbench.parts import aliases
    from sagbench.parts.lookup import load_file
    from sagbench.report import testlines
    if path.name == aliases.FILE:
        return _aliases(path)
    try:
        definition = load_file(path)
    except PartFileError as error:
        return Checked(str(path), error.mistakes)
    parts = _parts(definition)
    reports = _tested(definition, parts)
    lines = [f"{report.part}: {line}" if len(reports) > 1 else line for logic, report in reports for line in testlines.lines(logic, report)]
    lines += dict.fromkeys(filter(None, map(unfit, parts)))
    return Checked(str(path), (), reports[0][1].part, definition.title, tuple(definition.families),
                   sum(report.steps for _, report in reports), sum(report.checks for _, report in reports), tuple(lines))


def _aliases(path: Path) -> Checked:
    """An alias file: house numbers, and the types of the library and of the files beside it that they stand for."""
    from sagbench.parts import aliases
    from sagbench.parts.lookup import file_names
    try:
        table = aliases.read(path, file_names([path.parent]))
    except PartFileError as error:
        return Checked(str(path), error.mistakes)
    return Checked(str(path), (), title=f"{len(table)} house number{'' if len(table) == 1 else 's'}")


def _parts(definition: Definition) -> list[Part]:
    """The part in every family, as they are ordered everywhere."""
    from sagbench.parts.lookup import build
    from sagbench.parts.model import Marking
    from sagbench.parts.ratings import ORDER
    return [build(definition, Marking("", "", 74, "" if family == "74" else family, definition.function, ""))
            for family in sorted(definition.families, key=ORDER.index)]


def _tested(definition: Definition, parts: Iterable[Part]) -> list[tuple[Definition, Report]]:
    """A report for each logic of the number."""
    from sagbench.vectors.report import report_on
    logics: dict[int, tuple[Definition, Part]] = {}
    for part in parts:
        logic = definition.of(part.family or "74")
        logics.setdefault(id(logic), (logic, part))
    return [(logic, report_on(part, logic)) for logic, part in logics.values()]


def _twice(done: Iterable[Checked]) -> Iterator[Checked]:
    """A second file of a folder for a function is a mistake: only one of them would be used."""
    first: dict[tuple[Path, str], str] = {}
    for one in done:
        if one.part and (other := first.setdefault((Path(one.file).parent, one.part), one.file)) != one.file:
            yield Checked(one.file, (f"{one.file}:1:1: found a second definition of the {one.part}, expected one; "
                                     f"the other is {other}: keep one of them",))
        else:
            yield one


def told(done: list[Checked]) -> Iterator[str]:
    """Mistakes as they are, one a line, for an editor to jump to; of a file in order, its figures."""
    for one in done:
        if one.mistakes:
            yield from one.mistakes
            continue
        yield f"{one.file}: OK"
        said = f"{one.part}, {one.title}; families {' '.join(one.families)}" if one.part else one.title
        for line in (said, *one.lines):
            yield from textwrap.wrap(line, 79, initial_indent="  ", subsequent_indent="    ", break_long_words=False,
                                     break_on_hyphens=False)
    bad = [one for one in done if one.mistakes]
    if bad:
        count = sum(len(one.mistakes) for one in bad)
        yield (f"{count} mistake{'s' if count > 1 else ''} in {len(bad)} of {len(done)} file{'s' if len(done) > 1 else ''}")
