# SPDX-License-Identifier: MIT
"""What a report says, before it is known whether on a terminal or on a page.

Rows and sentences taken from a SweepRecord; nothing is measured, compared or
judged here.  A word always carries the meaning; colour and sign only repeat it.
"""
from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime

from sagbench.judge.risk import Risk, Risks
from sagbench.parts.model import Role
from sagbench.record import (
    Contact, Finding, LoadReading, LogicMiss, LogicRecord, Outcome, PinContact, PinRecord, Quantity, SweepRecord,
    Verdict)
from sagbench.report import figures

OUTPUT_ROLES = frozenset(role.value for role in Role if role.is_output)
LEVELS = {"VOL": "low", "VOH": "high"}
NO_SERIAL = 0xFFFFFFFF                   # what an EEPROM that was never written holds
UNITS = {"VOL": "V", "VOH": "V", "ICC": "A"}
RISKS_SHOWN = 16
UNDECIDED = "Measured, but not decided"
NOTHING_MEASURED = "nothing was measured"

_AT_PIN = re.compile(r"pin (\d+ \([^)]*\)): (.*)", re.DOTALL)

HEADLINES = {
    Verdict.SOUND: "SOUND",
    Verdict.TIRED: "ABOUT TO GO",
    Verdict.FAILED: "NOT SOUND",
    Verdict.UNSURE: "CANNOT TELL",
    Verdict.INCOMPLETE: "NOT FINISHED",
}
VERDICT_OUTCOME = {                      # which outcome's colour and sign a verdict wears
    Verdict.SOUND: Outcome.WITHIN,
    Verdict.TIRED: Outcome.ODD,
    Verdict.FAILED: Outcome.BEYOND,
    Verdict.UNSURE: Outcome.UNSURE,
    Verdict.INCOMPLETE: Outcome.NOT_MEASURED,
}


@dataclass(frozen=True)
class LevelRow:
    """One output at one rated current."""

    pin: PinRecord
    finding: Finding
    ohm: Quantity | None


@dataclass(frozen=True)
class LoadRow:
    """One output under one load, both ways; a side is None where it was not measured."""

    pin: PinRecord
    point: str
    sink: LoadReading | None
    source: LoadReading | None


def outputs(record: SweepRecord) -> tuple[PinRecord, ...]:
    """The pins that can drive."""
    return tuple(pin for pin in record.pins if pin.role in OUTPUT_ROLES)


def is_rated(finding: Finding) -> bool:
    """True if the finding compares an output level with a data book's limit (others of VOL and VOH have a `state`)."""
    return finding.quantity in LEVELS and not finding.state and finding.limit is not None


def level_rows(record: SweepRecord, quantity: str) -> list[LevelRow]:
    """All output levels of VOL or of VOH, by pin and then by current; none if none was measured."""
    rows = [LevelRow(pin, finding, _ohm(pin, quantity)) for pin in record.pins for finding in pin.findings
            if finding.quantity == quantity and is_rated(finding)]
    if all(row.finding.value is None for row in rows):
        return []
    return sorted(rows, key=lambda row: (row.pin.pin, abs(row.finding.at.value) if row.finding.at else 0.0))


def _ohm(pin: PinRecord, quantity: str) -> Quantity | None:
    """Output resistance, where it does not stand in a table of its own."""
    if any(m.name in ("ROL", "ROH") for m in pin.measured):
        return None
    return pin.low_ohm if quantity == "VOL" else pin.high_ohm


def unmeasured_levels(record: SweepRecord) -> str:
    """A sentence that names the outputs in no table of levels, so that a short one does not look like a clean one; or ""."""
    told = {row.pin.pin for quantity in LEVELS for row in level_rows(record, quantity)}
    bare = [pin for pin in outputs(record) if pin.pin not in told]
    names = ", ".join(f"{pin.pin} ({pin.name})" for pin in bare)
    return f"No levels were measured at {'pins' if len(bare) > 1 else 'pin'} {names}." if bare else ""


def load_rows(record: SweepRecord) -> list[LoadRow]:
    """Every output at every load point, light to heavy as measured."""
    rows = []
    for pin in record.pins:
        points = dict.fromkeys(reading.point for reading in pin.loads)
        for point in points:
            sides = {reading.direction: reading for reading in pin.loads if reading.point == point}
            rows.append(LoadRow(pin, point, sides.get("sink"), sides.get("source")))
    return rows


def other_findings(record: SweepRecord) -> list[tuple[PinRecord, Finding]]:
    """What was found at pins and stands nowhere else: not a rated level, not a reason, not among the unmeasured or undecided."""
    told = {finding.sentence for finding in record.reasons} | {*record.not_measured, *record.undecided}
    tabled = {(pin.pin, name) for pin in record.pins for m in pin.measured for name in (m.name, m.name[:3])}
    return [(pin, finding) for pin in record.pins for finding in pin.findings
            if not is_rated(finding) and finding.sentence not in told
            and not (finding.outcome is Outcome.WITHIN and (pin.pin, finding.quantity) in tabled)
            and (finding.value is not None or finding.outcome is not Outcome.WITHIN)]


def bad_contacts(record: SweepRecord) -> list[str]:
    """Contacts that are not as they must be, a sentence each, and one for all that were not looked at."""
    lines = [contact_sentence(record, c) for c in record.contacts if c.contact in (Contact.OPEN, Contact.SHORTED)]
    unseen = [c.pin for c in record.contacts if c.contact is Contact.NOT_MEASURED]
    if unseen and len(unseen) < len(record.contacts):
        lines.append("not looked at: " + ", ".join(f"pin {pin} ({pin_name(record, pin)})" for pin in unseen))
    return lines


def contact_sentence(record: SweepRecord, contact: PinContact) -> str:
    """The contact check of one pin in words."""
    if contact.sentence:
        return contact.sentence
    name = pin_name(record, contact.pin)
    towards = " to " + " and ".join(contact.shorted_to) if contact.shorted_to else ""
    return f"pin {contact.pin} ({name}): {contact.contact.value}{towards}" if name else (
        f"pin {contact.pin}: {contact.contact.value}{towards}")


def contact_summary(record: SweepRecord) -> str:
    """How many contacts are as they must be, in a few words."""
    kinds = [contact.contact for contact in record.contacts]
    unseen = kinds.count(Contact.NOT_MEASURED)
    if unseen == len(kinds):
        return "not looked at"
    good = len(kinds) - unseen - kinds.count(Contact.OPEN) - kinds.count(Contact.SHORTED)
    return f"{good} of {len(kinds)} as they must be" + (f", {unseen} not looked at" if unseen else "")


def pin_name(record: SweepRecord, number: int) -> str:
    """The name of the pin with this number, "" if there is none."""
    return next((pin.name for pin in record.pins if pin.pin == number), "")


def pin_word(record: SweepRecord, pin: PinRecord) -> tuple[str, Outcome | None]:
    """What stands beside a pin in the drawing of the package, and the outcome it counts as.

    A bad contact comes first.  A pin that has no comparison of its own (an input, a rail) has nothing
    beside it while nothing is wrong with it.
    """
    contact = next((c for c in record.contacts if c.pin == pin.pin), None)
    if contact and contact.contact in (Contact.OPEN, Contact.SHORTED):
        return contact.contact.value, Outcome.BEYOND
    if pin.role in OUTPUT_ROLES or pin.findings or pin.outcome not in (Outcome.WITHIN, Outcome.NOT_MEASURED):
        return pin.outcome.value, pin.outcome
    return "", None


def logic_sentence(logic: LogicRecord) -> str:
    """The logic test at one load in one line."""
    load = {"open": "unloaded", "both": "both loads"}.get(logic.load, f"{logic.load} load")
    if not logic.checks:
        return f"{load}: {NOTHING_MEASURED}"
    wrong = len(logic.misses)
    return (f"{load}: all {logic.checks} answers right in {_counted(logic.steps, 'step')}" if not wrong else
            f"{load}: {wrong} of {_counted(logic.checks, 'answer')} wrong in {_counted(logic.steps, 'step')}")


def miss_sentence(record: SweepRecord, miss: LogicMiss) -> str:
    """One wrong answer in words; of a gate with a number (2Y) with its own inputs only (2A, 2B)."""
    wanted = {"L": "low", "H": "high", "Z": "off"}.get(miss.expected, miss.expected)
    names = {pin: pin_name(record, pin) or f"pin {pin}" for pin in sorted(miss.inputs)}
    gate = _gate(pin_name(record, miss.pin))
    own = {pin: name for pin, name in names.items() if gate and _gate(name) == gate}
    given = ", ".join(f"{name} {'high' if miss.inputs[pin] else 'low'}" for pin, name in (own or names).items())
    where = f" with {given}" if given else ""
    return (f"step {miss.step + 1}: pin {miss.pin} ({pin_name(record, miss.pin)}) must be {wanted}{where}, "
            f"but is at {figures.fixed(miss.volts, 2)} V")


def _gate(name: str) -> str:
    """The number in front of a pin's name: "2" of "2Y"."""
    return name[:len(name) - len(name.lstrip("0123456789"))]


def reason_sentences(record: SweepRecord, most: int) -> list[str]:
    """The first reasons, and how many there are besides."""
    rest = len(record.reasons) - most
    return [f.sentence for f in record.reasons[:most]] + ([f"and {rest} more, see below"] if rest > 0 else [])


def not_measured(record: SweepRecord) -> list[str]:
    """What was not measured; the same thing at several pins in one line."""
    groups: dict[str, list[str]] = {}
    for sentence in record.not_measured:
        match = _AT_PIN.fullmatch(sentence)
        groups.setdefault(match[2] if match else sentence, []).extend([match[1]] if match else [])
    return [f"pin{'s' if len(pins) > 1 else ''} {', '.join(pins)}: {what}" if pins else what
            for what, pins in groups.items()]


def miss_sentences(record: SweepRecord, logic: LogicRecord, most: int) -> list[str]:
    """The first wrong answers of a test in words, and how many there are besides."""
    lines = [miss_sentence(record, miss) for miss in logic.misses[:most]]
    rest = len(logic.misses) - most
    return lines + ([f"and {rest} more"] if rest > 0 else [])


def limit_text(finding: Finding, prefix: str | None) -> str:
    """The limit as "≤ 0.5 V"; "none given" if the data book has none."""
    if finding.limit is None:
        return "none given"
    unit = finding.value.unit if finding.value else UNITS.get(finding.quantity, "")
    sign = "≤" if finding.limit_kind == "max" else "≥"
    text = figures.amount(finding.limit, unit, prefix)
    # VOH of some families is given against the supply, and stays so if that was not measured.
    return f"{sign} supply {text}" if finding.quantity == "VOH" and finding.limit < 0 else f"{sign} {text}"


def outcome_word(finding: Finding) -> str:
    """The outcome; a figure that was taken but has no limit is not called "not measured"."""
    unjudged = finding.outcome is Outcome.NOT_MEASURED and finding.value is not None
    return "no limit known" if unjudged else finding.outcome.value


def current_text(finding: Finding) -> str:
    """The current a level holds for, without its sign: the table says whether it is sunk or sourced."""
    at = finding.at
    if at is None:
        return ""
    # As data books have it: 0.4 mA, not 400 uA; but 50 uA, not 0.05 mA.
    prefix = None if at.unit != "A" else "m" if abs(at.value) >= 0.95e-4 else "µ"
    return figures.short(magnitude(at), prefix)


def magnitude(quantity: Quantity) -> Quantity:
    """The quantity without its sign."""
    return Quantity(abs(quantity.value), quantity.u, quantity.unit)


def supply_prefix(record: SweepRecord) -> str:
    """One prefix for all supply currents: that of the largest, or of the largest limit if none was measured."""
    found = [f.value for f in record.supply if f.value]
    return figures.common_prefix(found or [Quantity(f.limit, 0.0, "A") for f in record.supply if f.limit is not None])


def finding_name(record: SweepRecord, finding: Finding) -> str:
    """What a comparison is of, in a few words: "8 3Y VOL at 16 mA", "ICC, outputs low"."""
    if finding.pin is None:
        return f"{finding.quantity}, {finding.state}" if finding.state else finding.quantity
    at = current_text(finding)
    return f"{finding.pin} {pin_name(record, finding.pin)} {finding.quantity}" + (f" at {at}" if at else "")


def risks_to_tell(risks: Risks) -> list[Risk]:
    """The comparisons whose risk is worth a line: undecided, or wrong with more than one in a million; RISKS_SHOWN at most."""
    return [r for r in risks.figures if r.wrong is None or r.wrong >= 1e-6][:RISKS_SHOWN]


def risks_left(risks: Risks, told: list[Risk]) -> str:
    """One line on the comparisons that `told` leaves out; "" if there are none."""
    rest = [r.wrong or 0.0 for r in risks.figures if r not in told]
    if not rest:
        return ""
    most = max(rest)
    return f"{_counted(len(rest), 'figure')}{' more' if told else ''}: each wrong with " + (
        "less than 0.0001 %." if most < 1e-6 else f"{figures.share(most)} at most.")


def risk_sentence(risks: Risks) -> str:
    """The risk of the verdict on the chip in one sentence."""
    chip = risks.chip
    if chip.least is None or chip.most is None:
        return f"The verdict on the chip has no such probability: {chip.what}."
    least, most = figures.share(chip.least), figures.share(chip.most)
    span = f"{least}" if least == most else f"{least} to {most}"
    return (f"Probability {chip.what}: {span} (figures share what they are uncertain of, so only bounds can be given; "
            "what was not measured is not in it).")


def margin_text(finding: Finding, prefix: str) -> str:
    """The margin with its sign, without unit; "" if there is none."""
    if finding.margin is None or finding.value is None:
        return ""
    return figures.signed(finding.margin, finding.value, prefix)


def head_lines(record: SweepRecord) -> list[tuple[str, str]]:
    """Name and value pairs of the head of a report."""
    fixture = record.fixture
    lines = [("marking", record.marking)] if record.marking and record.marking != record.part else []
    at_chip = "not powered" if record.supply_volts is None else f"{figures.figure(record.supply_volts)} at the chip"
    serial = "serial not set" if fixture.serial == NO_SERIAL else f"serial {fixture.serial}"
    return lines + [
        ("supply", at_chip),
        ("contacts", contact_summary(record)),
        ("fixture", f"{fixture.name}, {serial}, firmware {fixture.firmware}, API level {fixture.api_level}, "
                    f"at {fixture.port}"),
        ("calibration", fixture.calibration),
        ("measured", _moment(record.started)),
    ]


def _moment(started: str) -> str:
    """The start of the sweep, in UTC; as it stands if it is no ISO 8601 time."""
    try:
        return datetime.fromisoformat(started).astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    except ValueError:
        return started


def timing_text(record: SweepRecord) -> str:
    """How long it took, "" if unknown."""
    timing = record.timing
    return "" if timing is None else (
        f"{_counted(timing.passes, 'pass', 'passes')}, {_counted(timing.conversions, 'conversion')}, "
        f"{timing.pass_s:.2f} s on the chip, {timing.total_s:.2f} s in all")


def _counted(number: int, noun: str, plural: str = "") -> str:
    return f"{number} {noun if number == 1 else plural or noun + 's'}"
