# SPDX-License-Identifier: MIT
"""The report as one page of HTML: no script, nothing fetched, right on paper.

Everything from the record passes `markup.el`, which escapes it; a policy in the
page forbids scripts and foreign resources besides.
"""
from __future__ import annotations

import re

from sagbench.judge.risk import Risks
from sagbench.record import Finding, LoadReading, Outcome, PinRecord, Quantity, SweepRecord
from sagbench.report import figures, frame, panels, view
from sagbench.report.dip import dip
from sagbench.report.frame import section, table
from sagbench.report.loadline import load_line
from sagbench.report.markup import Markup, el, join
from sagbench.report.scale import Scale, scale_for
from sagbench.report.signs import CLASSES, sign, worded

BAR_WIDTH = 170.0
REASONS_SHOWN = 8
MISSES_SHOWN = 24                        # a dead chip misses hundreds; the JSON has them all
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[mµkMn]?(?:V|A|Ω|s|ohm)\b)")


def to_html(record: SweepRecord, risks: Risks | None = None) -> str:
    """The whole page. `risks`: how likely its verdicts are wrong, to be told as well."""
    main = el("main", _verdict(record), _diagnoses(record), _levels(record), _supply(record), _families(record), _lines(record),
              *_panels(record), _logic(record), _others(record), _loads(record), _rule(record, risks), _lists(record))
    return frame.whole(f"{record.part}: {record.verdict.value}", frame.header(record.part, record.title, view.head_lines(record)),
                       main, _footer(record))


def _verdict(record: SweepRecord) -> Markup:
    outcome = view.VERDICT_OUTCOME[record.verdict]
    reasons = [el("li", _prose(sentence), class_="more" if i >= REASONS_SHOWN else None)
               for i, sentence in enumerate(view.reason_sentences(record, REASONS_SHOWN))]
    words = el(
        "div",
        el("h2", sign(outcome, 34), " ", view.HEADLINES[record.verdict]),
        el("p", f"Incomplete: {record.partial}.", class_="partial") if record.partial else None,
        el("p", _prose(record.advice), class_="advice") if record.advice else None,
        join(el("h3", "Why, what weighs most first"), el("ol", *reasons)) if reasons else None,
        class_=f"banner {CLASSES[outcome]}")
    drawing = el("figure", dip(record), class_="package")
    return el("section", words, drawing, class_="verdict")


def _levels(record: SweepRecord) -> Markup:
    tables = []
    for quantity, caption in (("VOL", "Outputs low: volts while sinking the rated current"),
                              ("VOH", "Outputs high: volts while sourcing the rated current")):
        found = view.level_rows(record, quantity)
        ohms = any(row.ohm for row in found)
        rows = [el("tr", _pin(row.pin), _num(view.current_text(row.finding)), _num(figures.figure(row.finding.value, "")),
                   _num(view.limit_text(row.finding, "")), _num(_with_unit(view.margin_text(row.finding, ""), "V")),
                   *((_num("" if row.ohm is None else figures.figure(row.ohm)),) if ohms else ()),
                   el("td", worded(row.finding.outcome)), el("td", row.finding.source, class_="source"))
                for row in found]
        if rows:
            heads = ("pin", "at", quantity, "limit", "margin", *(("output resistance",) if ohms else ()), "verdict", "limit from")
            tables.append(table(caption, heads, rows, numeric=range(1, 6 if ohms else 5)))
    missing = view.unmeasured_levels(record)
    return section("Outputs at their rated load", *tables, el("p", missing, class_="missing") if missing else None)


def _supply(record: SweepRecord) -> Markup | None:
    if not record.supply:
        return None
    prefix = view.supply_prefix(record)
    unit = figures.unit_symbol("A", prefix)
    most = max([abs(x) for f in record.supply for x in (f.limit, f.value.value if f.value else None) if x is not None],
               default=0.0)
    rows = [el("tr", el("th", f.state, scope="row"), _num(figures.figure(f.value, prefix)),
               _num(view.limit_text(f, prefix)), _num(_with_unit(view.margin_text(f, prefix), unit)),
               _num("" if f.typical is None else figures.amount(f.typical, "A", prefix)),
               el("td", _bar(f, most)), el("td", worded(f.outcome, view.outcome_word(f))), el("td", f.source, class_="source"))
            for f in record.supply]
    heads = ("state", "ICC", "limit", "margin", "typical", "", "verdict", "limit from")
    return section("Supply current", table("Supply current in each static state (bar: measured; tall mark: limit; "
                                             "dot: typical)", heads, rows, numeric=range(1, 5)))


def _bar(finding: Finding, most: float) -> Markup | None:
    """Measured value as a bar, limit as a mark across it, typical as a dot; the table says the same in figures."""
    if finding.value is None or most <= 0:
        return None

    def place(value: float) -> float:
        return min(max(value, 0.0), most) / most * (BAR_WIDTH - 8) + 2
    marks = [el("rect", x=2, y=5, width=max(place(finding.value.value) - 2, 1.0), height=8, class_="filled")]
    if finding.limit is not None:
        marks.append(el("path", d=f"M{place(finding.limit):.1f} 1V17", class_="limit"))
    if finding.typical is not None:
        marks.append(el("circle", cx=place(finding.typical), cy=9, r=2.2, class_="typical"))
    return el("svg", el("path", d=f"M2 9H{BAR_WIDTH - 6:g}", class_="rail"), *marks, class_=f"bar {CLASSES[finding.outcome]}",
              viewBox=f"0 0 {BAR_WIDTH:g} 18", width=BAR_WIDTH, height=18, aria_hidden="true")


def _lines(record: SweepRecord) -> Markup | None:
    sink, source = scale_for(record, "sink"), scale_for(record, "source")
    cards = [_card(record, pin, sink, source) for pin in view.outputs(record) if pin.loads]
    if not cards:
        return None
    key = el("p", "Volts at the pin against its current. Rings are measured points, with bars for their uncertainty "
             "(k = 2); a diamond is a corner the data book promises, and a good line stays out of the hatched field. A "
             "dot is what was found at the rated current, dashes from it to the corner its margin. A triangle at the edge is a "
             "point beyond it. Grey: the chip's other outputs.", class_="key")
    return section("Load lines", key, *cards)


def _card(record: SweepRecord, pin: PinRecord, sink: Scale | None, source: Scale | None) -> Markup:
    plots = [load_line(record, pin, scale) for scale in (sink, source) if scale]
    by_name = {m.name: m.value for m in pin.measured}
    facts = [("resistance, low", by_name.get("ROL", pin.low_ohm)), ("resistance, high", by_name.get("ROH", pin.high_ohm)),
             ("unloaded, low", pin.low), ("unloaded, high", pin.high)]
    listed = [join(el("dt", name), el("dd", figures.figure(value))) for name, value in facts if value]
    heading = el("h3", f"pin {pin.pin}, {pin.name} ", worded(pin.outcome))
    words = el("div", el("p", _prose(pin.sentence)) if pin.sentence else None, el("dl", *listed), class_="facts")
    return el("article", heading, *plots, words, class_="card")


def _diagnoses(record: SweepRecord) -> Markup | None:
    told = panels.diagnoses(record)
    if not told:
        return None
    items = [el("li", el("p", _prose(headline)), _clues("for", pro), _clues("against", contra)) for headline, pro, contra in told]
    return section("What may be wrong, likeliest first", el("ol", *items, class_="diagnoses"))


def _clues(word: str, lines: tuple[str, ...]) -> Markup | None:
    return el("ul", *(el("li", el("span", f"{word}: ", class_="side"), _prose(line)) for line in lines)) if lines else None


def _families(record: SweepRecord) -> Markup | None:
    told = panels.families(record)
    if not told:
        return None
    items = [el("li", el("p", headline), el("ul", *(el("li", _prose(line)) for line in evidence)) if evidence else None)
             for headline, evidence in told]
    return section("What its silicon is like", el("ul", *items, class_="families"))


def _panels(record: SweepRecord) -> list[Markup]:
    made = []
    for panel in panels.panels(record):
        rows = [el("tr", _pin(row.pin), *(_num(cell) for cell in row.cells), el("td", worded(row.outcome) if row.outcome else None))
                for row in panel.rows]
        told = table(panel.notes[0], ("pin", *panel.heads, "verdict"), rows, numeric=range(1, len(panel.heads) + 1))
        made.append(section(panel.title, told, *(el("p", note) for note in panel.notes[1:])))
    pairs = panels.whole(record)
    if pairs:
        made.append(el("dl", *(join(el("dt", name), el("dd", value)) for name, value in pairs), class_="whole"))
    return made


def _logic(record: SweepRecord) -> Markup | None:
    if not record.logic:
        return None
    items = []
    for logic in record.logic:
        misses = [el("li", sentence) for sentence in view.miss_sentences(record, logic, MISSES_SHOWN)]
        outcome = Outcome.BEYOND if misses else Outcome.WITHIN if logic.checks else Outcome.NOT_MEASURED
        items.append(el("li", worded(outcome, view.logic_sentence(logic)), el("ul", *misses) if misses else None))
    return section("Logic", el("ul", *items, class_="logic"))


def _others(record: SweepRecord) -> Markup | None:
    rows = [el("tr", _pin(pin), el("td", _prose(finding.sentence or finding.quantity)), el("td", worded(finding.outcome)))
            for pin, finding in view.other_findings(record)]
    return section("Other findings", table("Other comparisons at pins", ("pin", "what", "verdict"), rows)) if rows else None


def _loads(record: SweepRecord) -> Markup | None:
    rows, before = [], None
    for row in view.load_rows(record):
        pin = _pin(row.pin) if row.pin is not before else el("td")
        rows.append(el("tr", pin, el("td", row.point), *_side(row.sink), *_side(row.source),
                       class_="first" if row.pin is not before else None))
        before = row.pin
    if not rows:
        return None
    heads = ("pin", "load", "sinking", "volts", "sag", "sourcing", "volts", "sag")
    return section("Every reading", table("Outputs under load; sag is the volts lost against the unloaded output",
                                            heads, rows, numeric=range(2, 8)))


def _side(reading: LoadReading | None) -> tuple[Markup, Markup, Markup]:
    if reading is None:
        return _num("–"), _num("–"), _num("–")
    sag = Quantity(reading.sag, reading.volts.u, "V")
    return (_num(figures.figure(view.magnitude(reading.amperes), "m")), _num(figures.figure(reading.volts, "")),
            _num(figures.short(sag, "m")))


def _rule(record: SweepRecord, risks: Risks | None) -> Markup | None:
    if record.rule is None and risks is None:
        return None
    told = view.risks_to_tell(risks) if risks else []
    rows = [el("tr", el("td", view.finding_name(record, r.finding)), _num(figures.figure(r.finding.value)),
               _num(view.limit_text(r.finding, None)), el("td", worded(r.finding.outcome)),
               _num(f"({figures.share(r.met)} met)" if r.wrong is None else figures.share(r.wrong))) for r in told]
    heads = ("figure", "measured", "limit", "verdict", "wrong with")
    return section(
        "How figures are held against limits",
        el("p", _prose(record.rule.text)) if record.rule else None,
        el("p", _prose(view.risk_sentence(risks))) if risks else None,
        table("Probability that a verdict on a figure is wrong", heads, rows, numeric=range(1, 3)) if rows else None,
        el("p", view.risks_left(risks, told)) if risks else None)


def _lists(record: SweepRecord) -> Markup:
    return join(*(section(title, el("ul", *(el("li", line) for line in lines)))
                  for title, lines in (("Contacts that are not as they must be", view.bad_contacts(record)),
                                       (view.UNDECIDED, record.undecided), ("Not measured", view.not_measured(record)), ("Notes", record.notes)) if lines))


def _footer(record: SweepRecord) -> Markup:
    timing = view.timing_text(record)
    return el("footer", f"sagbench {record.sagbench}" + (f"; {timing}" if timing else "") +
              ". Uncertainties are expanded, k = 2. Not measured is never a pass.")


def _prose(sentence: str) -> str:
    """A sentence in which no line ends between a figure and its unit."""
    return _BEFORE_UNIT.sub("\u00a0", sentence)


def _pin(pin: PinRecord) -> Markup:
    return el("th", f"{pin.pin} {pin.name}", scope="row")


def _num(text: str) -> Markup:
    return el("td", text, class_="num")


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if text else ""
