"""All findings together: the verdict on the chip, its reasons in order of weight, and one sentence of advice.

    FAILED      something is surely beyond its limit, or a pin is open or shorted, or an answer is wrong
    TIRED       all within limits, but something is out of character
    UNSURE      a limit lies inside the uncertainty, or something that could have been measured was not
                (a chip that may draw more than the fixture can give is such a case)
    INCOMPLETE  interrupted, or not seated
    SOUND       all else; what the fixture cannot reach is named, never passed over

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from sagbench.judge.limits import named, pin_name
from sagbench.parts.model import Part, Role
from sagbench.record import Contact, Finding, Outcome, PinContact, SweepRecord, Verdict

CONTACT_WEIGHT = 100.0
GAP_WEIGHT = 5.0
NO_VERDICT = "No verdict: "  # begins the advice where there is none
BY_RESISTORS = ("VOL", "VOH")  # quantities whose uncertainty is mostly that of the fixture's parts
NEVER = (  # what no sweep measures, so every report says so; what it would take stands in measure/METHODS.md
    "the corners of supply and temperature: one supply of about 5 V, at room temperature",
    "input current at 5.5 V and 7 V (II at maximum input voltage)",
    "leakage finer than a microampere (CMOS inputs, CMOS supply current at rest)",
    "switching times",
)


def contact_findings(part: Part, contacts: Iterable[PinContact]) -> list[Finding]:
    """Open and shorted pins as findings; a short is told once, by its signal pin."""
    out: list[Finding] = []
    told = ""
    rails = (Role.SUPPLY, Role.GROUND)
    for c in sorted(contacts, key=lambda c: part.pin(c.pin).role in rails):
        if c.contact is Contact.SHORTED and not _is_told(part, c, told):
            told += f"{c.sentence};"
            out.append(Finding("contact", Outcome.BEYOND, c.sentence, c.pin, weight=CONTACT_WEIGHT))
        elif c.contact is Contact.OPEN:
            out.append(Finding("contact", Outcome.BEYOND, c.sentence, c.pin, weight=CONTACT_WEIGHT - 2))
    return out


def _is_told(part: Part, contact: PinContact, told: str) -> bool:
    name = part.pin(contact.pin).name
    return (
        f"{pin_name(part, contact.pin)} " in told.replace(";", " ")
        or f"ground ({name})" in told
        or f"supply ({name})" in told
    )


def reasons(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Those that speak against the chip, heaviest first."""
    against = [f for f in findings if f.weight > 0 and f.outcome in (Outcome.BEYOND, Outcome.ODD, Outcome.UNSURE)]
    return tuple(sorted(against, key=lambda f: (f.outcome is not Outcome.BEYOND, -f.weight, f.pin or 0)))


def verdict(findings: Sequence[Finding], *, problem: str, partial: str) -> Verdict:
    """The verdict on the whole chip. `problem`: it could not be seated or powered though contacts were looked at."""
    outcomes = {f.outcome for f in findings if f.weight > 0}
    if partial:
        return Verdict.INCOMPLETE
    if Outcome.BEYOND in outcomes:
        return Verdict.FAILED
    if problem and not any(f.outcome is Outcome.UNSURE and f.sentence == problem for f in findings):
        return Verdict.INCOMPLETE
    if Outcome.ODD in outcomes:
        return Verdict.TIRED
    if Outcome.UNSURE in outcomes or any(f.outcome is Outcome.NOT_MEASURED and f.weight > 0 for f in findings):
        return Verdict.UNSURE
    return Verdict.SOUND


def advice(
    name: str, what: Verdict, why: Sequence[Finding], *, problem: str, partial: str, missing: Sequence[str],
    open_: Sequence[str] = (), calibrated: bool = True
) -> str:
    """A plain sentence, and what it does not cover.

    name: of the part; missing: what this sweep did not measure though a fixture can; open_: what it measured and cannot decide.
    """
    if what is Verdict.INCOMPLETE:
        return f"{NO_VERDICT}{problem or partial}"
    if what is Verdict.FAILED:
        return f"Do not use this {name}: {_short(why[0])}."
    if what is Verdict.TIRED:
        return f"This {name} still meets its limits, but do not rely on it: {_short(why[0])}."
    if what is Verdict.UNSURE:
        reason = why[0].sentence if why else missing[0] if missing else "not everything could be measured"
        return f"This {name} is neither cleared nor condemned: {reason}.{_way_out(why, calibrated)}"
    if not missing and not open_:
        return f"This {name} can be used: every figure is within its limit and in character."
    far, figure = ("it could be judged", "every other figure") if open_ else ("it was measured", "every figure")
    said = f"This {name} can be used as far as {far}: {figure} is within its limit and in character."
    if open_:
        said += f" Not decided: {open_[0].partition(', extrapolated')[0].partition('; it is not out')[0]}{_and_more(open_)}."
    if missing:
        said += f" Not measured: {missing[0].partition(' was not measured')[0].partition('; ')[0]}{_and_more(missing)}."
    return said


def _and_more(lines: Sequence[str]) -> str:
    return f", and {len(lines) - 1} more (see the list)" if len(lines) > 1 else ""


def _way_out(why: Sequence[Finding], calibrated: bool) -> str:
    """What may settle it: levels and currents hang on the fixture's resistors, which a calibration finds out."""
    if calibrated or not why or any(f.quantity not in BY_RESISTORS or "too near" not in f.sentence for f in why):
        return ""
    return " A calibrated fixture may tell: `sagbench fixture calibrate`."


def _short(finding: Finding) -> str:
    """Its sentence without the evidence, which stands among the reasons."""
    return finding.sentence.partition(" (evidence: ")[0]


def weigh_gaps(findings: Iterable[Finding]) -> list[Finding]:
    """Not measured counts against a verdict unless the fixture's reach is the reason, which is named instead."""
    return [replace(f, weight=GAP_WEIGHT) if f.outcome is Outcome.NOT_MEASURED and not f.out_of_reach else f for f in findings]


def undecided(findings: Iterable[Finding]) -> list[str]:
    """Sentences of what was measured and says nothing of the chip: no limit is known, or the figure is too doubtful to be held against it."""
    return [f.sentence for f in findings
            if f.outcome is Outcome.UNSURE and not f.weight or f.outcome is Outcome.NOT_MEASURED and f.value is not None]


def findings_of(record: SweepRecord) -> list[Finding]:
    """All findings of its supply currents and of its pins."""
    return [*record.supply, *(f for pin in record.pins for f in pin.findings)]


def told_elsewhere(record: SweepRecord) -> list[Finding]:
    """The reasons that stand at no pin and are no supply current: what `conclude` takes as `others`."""
    own = findings_of(record)
    return [f for f in record.reasons if f not in own]


def conclude(record: SweepRecord, others: Sequence[Finding], problem: str = "") -> SweepRecord:
    """The record with verdict, reasons, advice, and outcome of each pin, from its findings.

    others: findings that stand at no pin and are no supply current: contacts, the whole chip.
    problem: why the chip could not be powered, "" if it was.
    """
    findings = weigh_gaps([*others, *findings_of(record)])
    what = verdict(findings, problem=problem, partial=record.partial)
    why = reasons(findings)
    missing = [line for line in record.not_measured if line not in NEVER]
    said = advice(record.part, what, why, problem=problem, partial=record.partial, missing=missing,
                  open_=record.undecided, calibrated=not record.fixture.calibration.startswith("none"))
    contacts = {c.pin: c for c in record.contacts}
    pins = []
    for pin in record.pins:
        outcome, sentence = pin_sentence(named(pin.pin, pin.name), pin.findings, contacts.get(pin.pin))
        pins.append(replace(pin, outcome=outcome, sentence=sentence))
    return replace(record, verdict=what, reasons=why, advice=said, pins=tuple(pins))


def pin_sentence(name: str, findings: Sequence[Finding], contact: PinContact | None) -> tuple[Outcome, str]:
    """Outcome and sentence for one pin, `name` as in sentences: its heaviest finding, or that all is well."""
    if contact is not None and contact.contact in (Contact.OPEN, Contact.SHORTED):
        return Outcome.BEYOND, contact.sentence
    against = reasons(findings)
    if against:
        return against[0].outcome, against[0].sentence
    missing = [f for f in findings if f.outcome is Outcome.NOT_MEASURED]
    if missing and (len(missing) == len(findings) or any(f.weight > 0 for f in missing)):
        return Outcome.NOT_MEASURED, missing[0].sentence
    if findings:
        return Outcome.WITHIN, f"{name} is within its limits"
    if contact is not None and contact.contact is Contact.CONNECTED:
        return Outcome.WITHIN, f"{name} makes contact"
    return Outcome.NOT_MEASURED, f"{name} was not measured"
