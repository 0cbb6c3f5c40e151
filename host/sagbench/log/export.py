"""The log for other programs and for reading: CSV, JSON, one page of HTML.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict

from sagbench.log.database import Log
from sagbench.log.entry import Entry
from sagbench.log.history import chips, counts
from sagbench.record import Verdict
from sagbench.report import frame
from sagbench.report.markup import Markup, el
from sagbench.report.signs import worded
from sagbench.report.view import NO_SERIAL, VERDICT_OUTCOME

COLUMNS = ("number", "measured", "lot", "part", "marking", "verdict", "reason", "maker", "date_code", "board", "position", "chip",
           "photo", "note", "fixture", "calibration", "library", "sagbench", "again", "taken_back")  # fmt: skip
SHOWN = ("number", "part", "verdict", "why", "board", "position", "date_code", "maker", "chip", "note", "photo", "measured")  # on a page


def rows(entries: Sequence[Entry]) -> list[dict[str, str | int | None]]:
    """Entries as flat rows, by the names of COLUMNS."""
    found = []
    for entry in entries:
        flat = asdict(entry)
        flat.update(flat.pop("facts"), number=entry.id, measured=entry.made, taken_back=entry.undone,
                    fixture=None if entry.fixture == NO_SERIAL else entry.fixture)  # fmt: skip
        found.append({name: flat[name] for name in COLUMNS})
    return found


def to_csv(entries: Sequence[Entry]) -> str:
    """A line an entry (RFC 4180), a head line first.

    A text that a spreadsheet would take for a formula begins with an apostrophe: common practice (OWASP, CSV injection).
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS)
    writer.writeheader()
    writer.writerows({name: _harmless(value) for name, value in row.items()} for row in rows(entries))
    return text.getvalue()


def _harmless(value: str | int | None) -> str | int | None:
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def to_json(log: Log, entries: Sequence[Entry]) -> str:
    """Rows and their figures; whole records come from `sagbench log show N --json`."""
    found = []
    for entry, row in zip(entries, rows(entries), strict=True):
        values = [
            {"quantity": name, "pin": pin, "at": at, "value": value, "u": u, "unit": unit}
            for (name, pin, at), (value, u, unit) in sorted(log.values(entry.id).items())
        ]
        found.append({**row, "figures": values})
    return json.dumps({"kind": "sagbench log", "schema_version": 1, "entries": found}, indent=1, ensure_ascii=False) + "\n"


def to_html(entries: Sequence[Entry], title: str) -> str:
    """One page, nothing fetched, no script."""
    return frame.whole(title, frame.header(title, "", ()), el("main", table_of(entries)))


def table_of(entries: Sequence[Entry]) -> Markup:
    """Entries as a table, a row each; a column of which nothing is known is left out."""
    told = ", ".join(f"{count} {verdict}" for verdict, count in counts(entries).items()) or "nothing"
    told_of = [name for name in SHOWN if any(_cell(entry, name) for entry in entries)]
    rows_ = [el("tr", *(el("td", _cell(entry, name), class_=f"is-{name}") for name in told_of)) for entry in entries]
    return frame.table(f"{chips(len(entries))}: {told}", [name.replace("_", " ") for name in told_of], rows_, kind="chips")


def _cell(entry: Entry, name: str) -> Markup | str:
    if name == "verdict":
        verdict = Verdict(entry.verdict)
        return worded(VERDICT_OUTCOME[verdict], verdict.value + (" (taken back)" if entry.undone else ""))
    if name == "measured":
        return entry.made[:16].replace("T", " ")
    plain = {"number": str(entry.id), "part": entry.part, "why": entry.reason.partition(" (evidence")[0]}
    return plain[name] if name in plain else str(getattr(entry.facts, name))
