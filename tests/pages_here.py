"""Every kind of page that the program writes, made without a fixture: name -> (page, what must stand on it).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

from host.report import examples
from host.soak.test_soak import at

from sagbench.log.database import Facts, Log, open_log
from sagbench.log.export import to_html as log_page
from sagbench.lot.page import to_html as lot_page
from sagbench.lot.summary import summary
from sagbench.record import Quantity, SweepRecord
from sagbench.report.page import to_html as chip_page
from sagbench.soak.course import Course
from sagbench.soak.page import to_html as soak_page
from sagbench.soak.run import Ended

CHIPS = ("weak_gate", "not_seated", "hostile")          # a page with all there is, one with nothing measured, one with markup in its names
HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(1)>"


def shifted(record: SweepRecord, factor: float) -> SweepRecord:
    """The record with each measured figure and supply current so many times as large."""
    def times(value: Quantity | None) -> Quantity | None:
        return value and replace(value, value=value.value * factor)
    pins = tuple(replace(p, findings=tuple(replace(f, value=times(f.value)) for f in p.findings)) for p in record.pins)
    return replace(record, pins=pins, supply=tuple(replace(f, value=times(f.value)) for f in record.supply))


def fill(log: Log, count: int) -> int:
    """A box of that many chips, every third one bad, one unlike the rest, one measured before; the lot's number."""
    sound = replace(examples.sound_inverter(), part="74LS04")
    log.add(shifted(sound, 0.8), Facts(chip="N12"))
    lot = log.begin_lot(f"box from the attic {HOSTILE}")
    for n in range(count):
        record = examples.weak_gate() if n % 3 == 2 else shifted(sound, 1 + 0.01 * (n % 7) + (1.0 if n == 4 else 0.0))
        log.add(record, Facts(board="CPU", position=f"U{n}", date_code="8142", chip="N12" if n == 1 else "", maker="TI",
                              note=f"bent leg {HOSTILE}" if n == 3 else "", photo="/pictures/" + "x" * 120 + ".jpg" if n == 5 else ""), lot=lot)
    return lot


@cache
def pages() -> dict[str, tuple[str, tuple[str, ...]]]:
    """All of them."""
    found = {f"chip {name}": (chip_page(record), (record.part if name != "hostile" else "<script>", record.verdict.value.upper()
                              if record.verdict.value != "about to go" else "ABOUT TO GO")) for name in CHIPS for record in [examples.ALL[name]()]}
    course = Course()
    for n in range(60):
        course.add(n * 5.0, at(10 + n / 40, broken=n == 31))
    course.mark(100.0, f"tapped {HOSTILE}")
    found["soak"] = (soak_page(course, Ended.TIME), ("60 sweeps in 5 min", "logic of pin", "marked at 100 s", "tapped <script>", "ROL"))
    with tempfile.TemporaryDirectory() as folder, open_log(Path(folder) / "log.sqlite3") as log:
        lot = fill(log, 60)
        found["lot"] = (lot_page(log, summary(log, lot)), ("Lot 1", "box from the attic <script>", "40 sound", "20 not sound", "20 x", "Unlike the rest of this box",
                        "Chips measured before", "Every chip", "bent leg <script>", "U59", "the others' middle"))
        empty = log.begin_lot("nothing yet")
        found["empty lot"] = (lot_page(log, summary(log, empty)), ("Lot 2", "No chip yet."))
        found["log"] = (log_page(log.entries(), "Chips measured"), ("Chips measured", "61 chips: 41 sound, 20 not sound", "U59", "8142", "TI"))
    return found
