# SPDX-License-Identifier: MIT
"""The report on a terminal: the verdict first, then what it stands on.

Readable at 80 columns, without colour and, with `plain`, in ASCII alone.  Colour
only repeats what a word says.  Text from outside passes `clean`, and never
rich's markup.
"""
from __future__ import annotations

from collections.abc import Iterable
from typing import TextIO

from rich.console import Console
from rich.measure import Measurement
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from sagbench.judge.risk import Risk, Risks
from sagbench.record import LoadReading, Outcome, PinRecord, Quantity, SweepRecord
from sagbench.report import figures, package, panels, safe, view

NARROWEST, WIDEST = 79, 100              # a narrower terminal wraps: better than a figure cut short
STYLES = {
    Outcome.WITHIN: "green",
    Outcome.BEYOND: "bold red",
    Outcome.ODD: "yellow",
    Outcome.UNSURE: "magenta",
    Outcome.NOT_MEASURED: "dim",
}
REASONS_SHOWN = 8                        # eight outputs with the same trouble; the tables have them all
MISSES_SHOWN = 12                        # a dead chip misses hundreds; the JSON has them all


def print_record(record: SweepRecord, stream: TextIO, *, color: bool = False, plain: bool = False,
                 width: int | None = None, risks: Risks | None = None) -> None:
    """Write the report to `stream`; `width` None asks the terminal and takes 80 where there is none.

    `risks`: how likely its verdicts are wrong, to be told as well.

    `color` False writes no escape sequence at all; `plain` True writes ASCII only.
    """
    columns = max(NARROWEST, min(width or Console(file=stream).width, WIDEST))
    console = Console(width=columns, color_system="standard" if color else None, force_terminal=color,
                      no_color=not color, highlight=False, markup=False, emoji=False, legacy_windows=False)
    with console.capture() as captured:
        _Report(record, console, plain, risks).write()
    stream.write("".join(line.rstrip() + "\n" for line in captured.get().split("\n")[:-1]))


class _Report:
    def __init__(self, record: SweepRecord, console: Console, plain: bool, risks: Risks | None = None) -> None:
        self.record, self.console, self.plain, self.risks = record, console, plain, risks

    def write(self) -> None:
        self._head()
        self._verdict()
        self._diagnoses()
        self._package()
        self._levels("VOL", "Outputs low: volts while sinking the rated current")
        self._levels("VOH", "Outputs high: volts while sourcing the rated current")
        self._supply()
        self._families()
        self._panels()
        self._logic()
        self._loads()
        self._others()
        self._rule()
        self._listing("Contacts that are not as they must be", view.bad_contacts(self.record))
        self._listing(view.UNDECIDED, self.record.undecided)
        self._listing("Not measured", view.not_measured(self.record))
        self._listing("Notes", self.record.notes)
        foot = f"sagbench {self.record.sagbench}"
        timing = view.timing_text(self.record)
        self.console.print()
        self.console.print(self._text(f"{foot}; {timing}" if timing else foot, "dim"))

    def clean(self, text: str) -> str:
        """Text from outside, fit for this terminal."""
        seen = safe.visible(text)
        return safe.ascii_only(seen) if self.plain else seen

    def _text(self, text: str, style: str = "") -> Text:
        return Text(self.clean(text), style=style)

    def _title(self, text: str) -> None:
        self.console.print()
        self.console.print(self._text(text, "bold underline" if self.console.color_system else ""))
        if not self.console.color_system:
            self.console.print("-" * min(len(text), self.console.width))

    def _head(self) -> None:
        self.console.print(Text.assemble((self.clean(self.record.part), "bold"), "  ", self.clean(self.record.title)))
        self._pairs(view.head_lines(self.record))

    def _pairs(self, pairs: Iterable[tuple[str, str]]) -> None:
        table = Table.grid(padding=(0, 2))
        for name, value in pairs:
            table.add_row(self._text(name, "dim"), self._text(value))
        if table.rows:
            self.console.print(table)

    def _verdict(self) -> None:
        record = self.record
        style = STYLES[view.VERDICT_OUTCOME[record.verdict]]
        self.console.print()
        self.console.print(self._text(f"VERDICT: {view.HEADLINES[record.verdict]}", f"bold {style}"))
        if record.partial:
            self.console.print(self._text(f"Incomplete: {record.partial}."))
        if record.advice:
            self.console.print(self._text(record.advice))
        if record.reasons:
            self.console.print(self._text("Why, what weighs most first:"))
            self._reasons()

    def _reasons(self) -> None:
        reasons = Table.grid(padding=(0, 1))
        reasons.add_column(no_wrap=True)
        for number, sentence in enumerate(view.reason_sentences(self.record, REASONS_SHOWN), 1):
            reasons.add_row(Text(f"{number:>2}." if number <= REASONS_SHOWN else ""), self._text(sentence))
        self.console.print(reasons)

    def _package(self) -> None:
        self.console.print()
        for line in package.drawing(self.record, self.clean):
            cells = [Text(self.clean(text), STYLES[outcome] if outcome else "") for text, outcome in line]
            self.console.print(Padding(Text.assemble(*cells), (0, 0, 0, 2)), no_wrap=True, crop=True)

    def _levels(self, quantity: str, title: str) -> None:
        rows = view.level_rows(self.record, quantity)
        missing = view.unmeasured_levels(self.record) if quantity == "VOL" else ""
        if not rows and not missing:
            return
        self._title(title)
        if rows:
            ohms = ("R out",) if any(row.ohm for row in rows) else ()
            table = self._table("pin", "at", quantity, "limit", "margin", *ohms, "verdict", right=(1, 2, 3, 4, 4 + len(ohms)))
            for row in rows:
                finding = row.finding
                ohm = (self._text("" if row.ohm is None else figures.short(row.ohm)),) if ohms else ()
                table.add_row(
                    self._pin(row.pin), self._text(view.current_text(finding)), self._text(figures.figure(finding.value, "")),
                    self._text(view.limit_text(finding, "")), self._text(_with_unit(view.margin_text(finding, ""), "V")),
                    *ohm, self._outcome(finding.outcome))
            self.console.print(table)
        if missing:
            self.console.print(self._text(missing))

    def _supply(self) -> None:
        if not self.record.supply:
            return
        self._title("Supply current")
        prefix = view.supply_prefix(self.record)
        table = self._table("state", "ICC", "limit", "margin", "typical", "verdict", right=(1, 2, 3, 4))
        for finding in self.record.supply:
            unit = figures.unit_symbol("A", prefix)
            typical = "" if finding.typical is None else figures.amount(finding.typical, "A", prefix)
            table.add_row(self._text(finding.state), self._text(figures.figure(finding.value, prefix)),
                          self._text(view.limit_text(finding, prefix)),
                          self._text(_with_unit(view.margin_text(finding, prefix), unit)),
                          self._text(typical), self._text(view.outcome_word(finding), STYLES[finding.outcome]))
        self.console.print(table)

    def _diagnoses(self) -> None:
        told = panels.diagnoses(self.record)
        if not told:
            return
        self._title("What may be wrong, likeliest first")
        for number, (headline, pro, contra) in enumerate(told, 1):
            table = Table.grid(padding=(0, 1))
            table.add_row(Text(f"{number:>2}."), self._text(headline))
            for word, lines in (("for: ", pro), ("against: ", contra)):
                for line in lines:
                    table.add_row("", self._text(f"{word}{line}", "dim"))
            self.console.print(table)

    def _families(self) -> None:
        told = panels.families(self.record)
        if not told:
            return
        self._title("What its silicon is like")
        for index, (headline, evidence) in enumerate(told):
            self.console.print(self._text(headline))
            for line in evidence if index == 0 else evidence[-2:]:
                self.console.print(Padding(self._text(line, "dim"), (0, 0, 0, 2)))

    def _panels(self) -> None:
        for panel in panels.panels(self.record):
            self._title(panel.title)
            for number, table in enumerate(self._fitting(panel)):
                if number:
                    self.console.print()
                self.console.print(table)
            for note in panel.notes:
                self.console.print(self._text(note))
        self._pairs(panels.whole(self.record))

    def _fitting(self, panel: panels.Panel) -> list[Table]:
        """Its columns in as few tables, one below the other, as the width takes without cutting a figure short."""
        count = len(panel.heads)
        unbounded = self.console.options.update(max_width=1000)
        tables: list[Table] = []
        for parts in range(1, count + 1):
            size = -(-count // parts)
            tables = [self._columns(panel, start, min(start + size, count)) for start in range(0, count, size)]
            if all(Measurement.get(self.console, unbounded, table).maximum <= self.console.width for table in tables):
                break
        return tables

    def _columns(self, panel: panels.Panel, start: int, end: int) -> Table:
        """Some of a panel's columns; the verdict stands behind the last."""
        last = end == len(panel.heads)
        table = self._table("pin", *panel.heads[start:end], *(("verdict",) if last else ()), right=tuple(range(1, end - start + 1)))
        for row in panel.rows:
            cells = [self._text(cell.replace(" ± ", "±")) for cell in row.cells[start:end]]
            verdict = [self._outcome(row.outcome) if row.outcome else Text("")] if last else []
            table.add_row(self._pin(row.pin), *cells, *verdict)
        return table

    def _logic(self) -> None:
        if not self.record.logic:
            return
        self._title("Logic")
        for logic in self.record.logic:
            self.console.print(self._text(view.logic_sentence(logic)))
            for sentence in view.miss_sentences(self.record, logic, MISSES_SHOWN):
                self.console.print(Padding(self._text(sentence), (0, 0, 0, 2)))

    def _loads(self) -> None:
        rows = view.load_rows(self.record)
        if not rows:
            return
        self._title("Outputs under load (sag: volts lost against the unloaded output)")
        table = self._table("pin", "load", "sinking", "volts", "sag", "sourcing", "volts", "sag",
                            right=(2, 3, 4, 5, 6, 7))
        before = None
        for row in rows:
            pin = self._pin(row.pin) if row.pin is not before else Text("")
            table.add_row(pin, self._text(row.point), *self._side(row.sink), *self._side(row.source))
            before = row.pin
        self.console.print(table)

    def _side(self, reading: LoadReading | None) -> tuple[Text, Text, Text]:
        if reading is None:
            return self._text("-"), self._text("-"), self._text("-")
        return (self._text(figures.short(view.magnitude(reading.amperes), "m")), self._text(figures.short(reading.volts, "")),
                self._text(figures.short(Quantity(reading.sag, reading.volts.u, "V"), "m")))

    def _rule(self) -> None:
        rule, risks = self.record.rule, self.risks
        if rule is None and risks is None:
            return
        self._title("How figures are held against limits")
        if rule is not None:
            self.console.print(self._text(rule.text))
        if risks is None:
            return
        self.console.print(self._text(view.risk_sentence(risks)))
        told = view.risks_to_tell(risks)
        if told:
            self.console.print()
            self._risks(told)
        if line := view.risks_left(risks, told):
            self.console.print(self._text(line))

    def _risks(self, told: list[Risk]) -> None:
        table = self._table("figure", "measured", "limit", "verdict", "wrong with", right=(1, 2, 4))
        for risk in told:
            said = f"({figures.share(risk.met)} met)" if risk.wrong is None else figures.share(risk.wrong)
            table.add_row(self._text(view.finding_name(self.record, risk.finding)), self._text(figures.figure(risk.finding.value)),
                          self._text(view.limit_text(risk.finding, None)), self._outcome(risk.finding.outcome), self._text(said))
        self.console.print(table)

    def _others(self) -> None:
        found = view.other_findings(self.record)
        if not found:
            return
        self._title("Other findings")
        table = self._table("pin", "what", "verdict")
        for pin, finding in found:
            table.add_row(self._pin(pin), self._text(finding.sentence or finding.quantity),
                          self._outcome(finding.outcome))
        self.console.print(table)

    def _listing(self, title: str, sentences: Iterable[str]) -> None:
        lines = list(sentences)
        if not lines:
            return
        self._title(title)
        table = Table.grid(padding=(0, 1))
        for line in lines:
            table.add_row("-", self._text(line))
        self.console.print(table)

    def _table(self, *heads: str, right: tuple[int, ...] = ()) -> Table:
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", collapse_padding=True)
        for index, head in enumerate(heads):
            table.add_column(self.clean(head), justify="right" if index in right else "left", no_wrap=head not in ("what", "verdict"))
        return table

    def _pin(self, pin: PinRecord) -> Text:
        return self._text(f"{pin.pin:>2} {pin.name}")

    def _outcome(self, outcome: Outcome) -> Text:
        return self._text(outcome.value, STYLES[outcome])


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if text else ""
