# SPDX-License-Identifier: MIT
"""`sagbench parts [WORD...]` and `sagbench parts find WORD...`: which parts there are."""
from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from sagbench.cli.parts import words as search
from sagbench.errors import PartFileError, UsageError
from sagbench.parts.userdir import folder, folders
from sagbench.report.safe import visible

TITLE, FAMILIES, WIDEST = 42, 22, 100


@dataclass(frozen=True)
class Row:
    """One function as it is listed."""

    function: str
    title: str
    families: tuple[str, ...]            # as one says them: "74", "LS"
    pins: int
    names: tuple[str, ...]               # full type names
    outputs: tuple[str, ...]             # kinds of its outputs: "open collector"
    file: str                            # "library", or the path of the user's own


def run(arguments: argparse.Namespace) -> int:
    """A row a function.  Files of the user's own with mistakes are told on standard error, and the rest is listed.

    Raises UsageError if no part has all the words.
    """
    rows, broken = known(folders(arguments.parts_dir))
    for path, count in broken:
        print(visible(f"sagbench: {path} is left out, it has {count} mistake{'s' if count > 1 else ''}; "
                      f"`sagbench parts check {path}` tells."), file=sys.stderr)
    found = chosen(rows, arguments.words)
    if arguments.json:
        json.dump([asdict(row) for row in found], sys.stdout, indent=1)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("".join(visible(line) + "\n" for line in lines(found, width())))
    return 0


def known(folders: Iterable[str]) -> tuple[list[Row], list[tuple[str, int]]]:
    """All functions in order, and the files that have mistakes with their number."""
    from sagbench.parts import names
    from sagbench.parts.lookup import file_names, load_file
    files = file_names(map(Path, folders))
    rows: list[Row] = []
    broken = []
    for function in sorted(files, key=names.order):
        try:
            made = load_file(files[function])
        except PartFileError as error:
            broken.append((str(files[function]), len(error.mistakes)))
            continue
        outputs = tuple(sorted({role.value for role in made.roles.values() if role.is_output}))
        families = _in_order(made.families)
        rows.append(Row(made.function, made.title, families, len(made.pinouts[0].pins),
                        tuple(names.type_name(made.function, family) for family in families), outputs, made.origin))
    return rows, broken


def _in_order(families: Iterable[str]) -> tuple[str, ...]:
    from sagbench.parts.ratings import ORDER
    return tuple(sorted(families, key=ORDER.index))


def chosen(rows: list[Row], words: list[str]) -> list[Row]:
    """Those that have every word, the ones named by a number first.  Raises UsageError if there is none."""
    wanted = search.terms(" ".join(words))
    lacks = [search.missing(wanted, (row.function, *row.names, *row.families), _text(row)) for row in rows]
    found = [row for row, lack in zip(rows, lacks, strict=True) if not lack]
    if found:
        return sorted(found, key=lambda row: row.function not in wanted and not set(map(str.casefold, row.names)) & set(wanted))
    nowhere = [word for word in wanted if all(word in lack for lack in lacks)]
    if nowhere or not wanted:
        raise UsageError(f"no part has {' and '.join(repr(word) for word in nowhere or words)}; "
                         "`sagbench parts` without words lists all.")
    nearest = min(zip(lacks, rows, strict=True), key=lambda pair: len(pair[0]))
    raise UsageError(f"no part has {' and '.join(repr(word) for word in words)} together; the nearest is {nearest[1].names[0]} "
                     f"({nearest[1].title}); `sagbench parts` without words lists all.")


def _text(row: Row) -> str:
    return f"{row.title} {' '.join(kind for kind in row.outputs if kind != 'output')}"


def width() -> int | None:
    """Columns to wrap to; None, one line a row, where nobody said (a pipe)."""
    if sys.stdout.isatty() or os.environ.get("COLUMNS"):
        return max(79, min(shutil.get_terminal_size().columns, WIDEST))
    return None


def lines(rows: Iterable[Row], columns: int | None) -> Iterator[str]:
    """Number, pins, title, families; a star marks the user's own."""
    own = False
    if columns:
        yield f"{'number':<7} pins  {'title':<{columns - FAMILIES - 17}}  families"
    for row in rows:
        mark = "*" if row.file != "library" else ""
        own |= bool(mark)
        number, families = f"{row.function}{mark}", " ".join(row.families)
        if not columns:
            yield f"{number:<6} {row.pins:>2} pins  {row.title}: {families}"
            continue
        room = columns - FAMILIES - 17
        titles, made = textwrap.wrap(row.title, room, break_on_hyphens=False) or [""], textwrap.wrap(families, FAMILIES)
        for index in range(max(len(titles), len(made))):
            title = titles[index] if index < len(titles) else ""
            part = made[index] if index < len(made) else ""
            head = f"{number:<7} {row.pins:>4}" if not index else " " * 12
            yield f"{head}  {title:<{room}}  {part}".rstrip()
    if own and columns:
        yield f"* from a file of your own ({folder() or 'your --parts-dir'})"
