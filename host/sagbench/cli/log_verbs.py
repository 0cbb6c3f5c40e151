"""What the verbs of `sagbench log` do.  Each returns the exit code and may raise an error of the tree.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from sagbench.cli import output
from sagbench.cli.log import facts_of
from sagbench.errors import UsageError
from sagbench.judge.character import FEWEST
from sagbench.log import history
from sagbench.log.database import open_log, path
from sagbench.log.entry import Entry, Query
from sagbench.log.history import in_words
from sagbench.log.rescue import GAP, rescue as make_anew
from sagbench.record import Quantity, Verdict
from sagbench.report.figures import figure
from sagbench.report.safe import visible


def query_of(arguments: argparse.Namespace) -> Query:
    """The entries that were asked for; a part may be given as it is printed on the chip."""
    names = ("board", "position", "date_code", "maker", "chip", "verdict")
    asked = {name: getattr(arguments, name) or "" for name in names}
    known = [verdict.value for verdict in Verdict]
    if asked["verdict"] and asked["verdict"].lower() not in known:
        raise UsageError(f"{asked['verdict']!r} is no verdict; there are: {', '.join(known)}.")
    return Query(part=type_of(arguments.part), lot=arguments.lot, undone=arguments.all, **asked)


def type_of(marking: str | None) -> str:
    """Type name of what is printed on a chip, as the log has it: SN74LS00N -> 74LS00; unknown ones as they are."""
    if not marking:
        return ""
    from sagbench.parts import load_part
    from sagbench.parts.userdir import folders

    try:
        return load_part(marking, user_dirs=folders([])).name
    except UsageError:
        return marking


def _print(lines: Iterable[str]) -> int:
    output.write("-", "".join(visible(line) + "\n" for line in lines))
    return 0


def _json(value: Any) -> int:
    output.write("-", json.dumps(value, indent=1, ensure_ascii=False) + "\n")
    return 0


# ------------------------------------------------------------------ reading
def entries(arguments: argparse.Namespace) -> int:
    """A line an entry."""
    asked = query_of(arguments)
    with open_log(write=False) as log:
        found = log.entries(asked)
    if arguments.json:
        from sagbench.log.export import rows

        return _json(rows(found))
    none = "No such entry." if asked != Query(undone=asked.undone) else "Nothing is in the log yet."
    return _print([*map(line, found), *([] if found else [none])])


def line(entry: Entry) -> str:
    """Number, type, verdict, day and place, 78 characters at most."""
    facts = entry.facts
    made = " ".join(x for x in (facts.maker, facts.date_code) if x)
    place = " ".join(x for x in (facts.board, facts.position, made and f"({made})", facts.chip) if x)
    verdict = f"[taken back] {entry.verdict}" if entry.undone else entry.verdict
    first = f"{entry.id:>5}  {entry.part:<10} {verdict:<16} {entry.made[:16].replace('T', ' ')}  {place}".rstrip()
    return first[:78]


def show(arguments: argparse.Namespace) -> int:
    """The report of one entry; the exit code is that of its verdict."""
    output.check_targets(arguments.json, arguments.html)
    with open_log(write=False) as log:
        entry, record = log.entry(arguments.number), log.record(arguments.number)
    told = [f"{name.replace('_', ' ')}: {value}" for name, value in asdict(entry.facts).items() if value]
    arguments.risk = False
    if told and arguments.json != "-" and arguments.html != "-":
        _print([f"entry {entry.id}; " + "; ".join(told), ""])
    output.deliver(record, arguments)
    return output.exit_code(record)


def lots(arguments: argparse.Namespace) -> int:
    """A line a box."""
    with open_log(write=False) as log:
        every = [(lot, log.entries(Query(lot=lot.id))) for lot in log.lots()]
    found = [(lot, history.counts(history.each_once(entries)), entries) for lot, entries in every]
    if arguments.json:
        return _json([asdict(lot) | {"verdicts": counts, "put_in_wrongly": len(history.tried_again(entries))} for lot, counts, entries in found])
    told = [
        f"{lot.id:>5}  {lot.begun[:16].replace('T', ' ')}  {'ended' if lot.ended else 'open '}  {lot.name}: "
        + (", ".join(f"{n} {verdict}" for verdict, n in counts.items()) or "no chip") + (f"; {tries}" if (tries := history.wrongly(entries)) else "")
        for lot, counts, entries in found
    ]
    return _print(told or ["No lot is in the log; `sagbench lot` begins one."])


def _plain(quantity: Quantity) -> dict[str, Any]:
    return {"value": quantity.value, "u": quantity.u, "unit": quantity.unit}


def drift(arguments: argparse.Namespace) -> int:
    """First measurement of a chip against the entry asked for."""
    with open_log(write=False) as log:
        last = log.entry(arguments.number)
        earlier = [entry for entry in history.same_chip(log, last) if entry.id < last.id]
        if not earlier:
            raise UsageError(f"Entry {last.id} is the first of its chip that is known; name a chip with --chip, or give its board and "
                             f"position (`sagbench log describe {last.id} ...`), so that it is known again.")  # fmt: skip
        first = earlier[0]
        found = history.drift(log, first, last)
    if arguments.json:
        return _json({"first": first.id, "last": last.id, "changes": [
            {"quantity": c.key[0], "pin": c.key[1], "at": c.key[2], "before": _plain(c.before), "after": _plain(c.after)}
            for c in found]})  # fmt: skip
    head = f"{last.part}: entry {first.id} ({first.made[:10]}, {first.verdict}) and entry {last.id} ({last.made[:10]}, {last.verdict})"
    lines = [f"  {in_words(c.key):<28} {figure(c.before)} -> {figure(c.after)}" for c in found]
    return _print([head, *(lines or ["  nothing has changed by more than the uncertainties together"])])


def outliers(arguments: argparse.Namespace) -> int:
    """Figures unlike those of the other chips of the same part."""
    with open_log(write=False) as log:
        found = log.entries(query_of(arguments))
        if not found:
            raise UsageError("No such entry; `sagbench log list` shows what there is.")
        parts = sorted({entry.part for entry in found})
        odd = {part: history.outliers(log, [entry for entry in found if entry.part == part]) for part in parts}
    counts = {part: sum(entry.part == part for entry in found) for part in parts}
    if arguments.json:
        return _json([{"entry": o.entry, "part": part, "quantity": o.key[0], "pin": o.key[1], "at": o.key[2], "found": _plain(o.value),
                       "median": o.norm.middle, "spread": o.norm.spread, "deviations": o.far}
                      for part in parts for o in odd[part]])  # fmt: skip
    lines = []
    for part in parts:
        few = counts[part] < FEWEST
        lines.append(f"{part}, {history.chips(counts[part])}" + (f": too few to compare, {FEWEST} are needed" if few else ""))
        lines += [
            f"  entry {o.entry}: {in_words(o.key)} is {figure(o.value)}; the middle is "
            f"{figure(Quantity(o.norm.middle, max(o.norm.spread, o.value.u / 10), o.value.unit))}"
            for o in odd[part]
        ]
        if not few and not odd[part]:
            lines.append("  none is unlike the others")
    return _print(lines)


def export(arguments: argparse.Namespace) -> int:
    """Entries as CSV, JSON, HTML."""
    from sagbench.log import export as write

    if not (arguments.csv or arguments.json or arguments.html):
        raise UsageError("nothing to write; give --csv FILE, --json FILE or --html FILE.")
    output.check_targets(arguments.csv, arguments.json, arguments.html)
    with open_log(write=False) as log:
        found = log.entries(query_of(arguments))
        if arguments.csv:
            output.write(arguments.csv, write.to_csv(found))
        if arguments.json:
            output.write(arguments.json, write.to_json(log, found))
        if arguments.html:
            output.write(arguments.html, write.to_html(found, "Chips measured"))
    return 0


# ------------------------------------------------------------------ writing
def describe(arguments: argparse.Namespace) -> int:
    """Facts of one entry."""
    facts = facts_of(arguments)
    if not facts:
        raise UsageError("nothing to say; give --board, --position, --note or another (`sagbench log describe --help`).")
    with open_log() as log:
        log.describe(arguments.number, **facts)
        return _print([line(log.entry(arguments.number))])


def undo(arguments: argparse.Namespace) -> int:
    """Take one back."""
    with open_log() as log:
        number = arguments.number or max((entry.id for entry in log.entries()), default=0)
        others = log.take_back(number)
        return _print([line(log.entry(one)) for one in (number, *others)])


def redo(arguments: argparse.Namespace) -> int:
    """Bring one back."""
    with open_log() as log:
        others = log.bring_back(arguments.number)
        return _print([line(log.entry(one)) for one in (arguments.number, *others)])


def check(arguments: argparse.Namespace) -> int:
    """Every page of the file, and everything in it."""
    with open_log(write=False) as log:
        count = log.check()
    return _print([f"The log {path()} is whole: {count} entr{'y' if count == 1 else 'ies'}."])


def rescue(arguments: argparse.Namespace) -> int:
    """A new log in the place of a damaged one."""
    good, lost, kept = make_anew(path())
    unread = f"{lost} could not be read" if lost < GAP else "how many there were cannot be told"
    print(f"{good} entries are in the new log, {unread}; the old log is kept as {visible(str(kept))}.", file=sys.stderr)
    return 0
