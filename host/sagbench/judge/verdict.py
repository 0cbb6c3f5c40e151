"""All findings together: the verdict on the chip, its reasons in order of weight, and one sentence of advice.

    FAILED      something is surely beyond its limit, or a pin is open or shorted, or an answer is wrong
    TIRED       all within limits, but something is out of character
    UNSURE      a limit lies inside the uncertainty, or something that could have been measured was not
    INCOMPLETE  interrupted, or not seated
    SOUND       all else; what the fixture cannot reach is named, never passed over

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sagbench.judge.limits import pin_name
from sagbench.parts.model import Part, Role
from sagbench.record import Contact, Finding, Outcome, PinContact, Verdict

CONTACT_WEIGHT = 100.0


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
    if problem:
        return Verdict.INCOMPLETE
    if Outcome.ODD in outcomes:
        return Verdict.TIRED
    if Outcome.UNSURE in outcomes or any(f.outcome is Outcome.NOT_MEASURED and f.weight > 0 for f in findings):
        return Verdict.UNSURE
    return Verdict.SOUND


def advice(
    part: Part, what: Verdict, why: Sequence[Finding], *, problem: str, partial: str, missing: Sequence[str]
) -> str:
    """One plain sentence."""
    if what is Verdict.INCOMPLETE:
        return f"No verdict: {problem or partial}"
    if what is Verdict.FAILED:
        return f"Do not use this {part.name}: {why[0].sentence}."
    if what is Verdict.TIRED:
        return f"This {part.name} still meets its limits, but do not rely on it: {why[0].sentence}."
    if what is Verdict.UNSURE:
        reason = why[0].sentence if why else "not everything could be measured"
        return f"This {part.name} is neither cleared nor condemned: {reason}."
    tail = " as far as it was measured" if missing else ""
    return f"This {part.name} can be used{tail}: every figure is within its limit and in character."


def pin_sentence(part: Part, pin: int, findings: Sequence[Finding], contact: PinContact | None) -> tuple[Outcome, str]:
    """Outcome and sentence for one pin: its heaviest finding, or that all is well."""
    if contact is not None and contact.contact in (Contact.OPEN, Contact.SHORTED):
        return Outcome.BEYOND, contact.sentence
    against = reasons(findings)
    if against:
        return against[0].outcome, against[0].sentence
    missing = [f for f in findings if f.outcome is Outcome.NOT_MEASURED]
    if missing and (len(missing) == len(findings) or any(f.weight > 0 for f in missing)):
        return Outcome.NOT_MEASURED, missing[0].sentence
    if findings:
        return Outcome.WITHIN, f"{pin_name(part, pin)} is within its limits"
    if contact is not None and contact.contact is Contact.CONNECTED:
        return Outcome.WITHIN, f"{pin_name(part, pin)} makes contact"
    return Outcome.NOT_MEASURED, f"{pin_name(part, pin)} was not measured"
