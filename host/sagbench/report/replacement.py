# SPDX-License-Identifier: MIT
"""Replacements of a part as text of at most 79 columns, and as data for a script."""
from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from sagbench.parts.amounts import amperes
from sagbench.parts.model import Part
from sagbench.replace import Finding, Fit, Place, Verdict
from sagbench.replace.connect import Balance, Load, Term
from sagbench.replace.fit import ohms
from sagbench.replace.pins import together

COLUMNS = 79
DETAILED, UNFIT = 6, 10                  # replacements with their arithmetic, and those listed that do not fit
UNIT = re.compile(r"(?<=\d) (?=(?:[mun]?[AVs]|%)(?!\w))")   # between a figure and its unit, which stay on one line
_MARK = {"ok": "ok", "note": "note", "bad": "NOT"}


def lines(original: Fit, found: Sequence[Fit], place: Place, everything: bool = False) -> Iterator[str]:
    """The whole page: the place, the original in it, a ranked table, then each replacement with its arithmetic.

    everything: also the arithmetic of what comes far behind, and all that does not fit.
    """
    part = original.part
    yield from _wrapped(f"Replacements for {part.name}, {part.title}", "")
    yield ""
    yield from _place(part, place)
    if place.drives or place.driven_by:
        yield ""
        yield from _wrapped(f"The {part.name} itself there: {original.verdict.value}", "")
        yield from _findings(part, [f for f in original.findings if f.balance])
    fitting = [fit for fit in found if fit.verdict is not Verdict.NOT]
    unfit = [fit for fit in found if fit.verdict is Verdict.NOT]
    listed_unfit = unfit if everything else unfit[:UNFIT]
    yield ""
    if not found:
        yield "Nothing in the library does the same or nearly so."
        return
    yield from _recalled(part, [*fitting, *listed_unfit])
    yield from _table([*fitting, *listed_unfit])
    if hidden := len(unfit) - len(listed_unfit):
        yield f"    and {hidden} more that do not fit: --all lists them"
    yield from _otherwise([*fitting, *listed_unfit])
    shown = [*fitting, *unfit] if everything else fitting[:DETAILED] or unfit[:2]
    for number, fit in enumerate([*fitting, *listed_unfit], start=1):
        if fit in shown:
            yield ""
            yield from _detail(number, fit)
    if hidden := len(fitting) - len([fit for fit in fitting if fit in shown]):
        yield ""
        yield f"The arithmetic of {hidden} more that fit{'s' if hidden == 1 else ''}: --by PART or --all shows it."
    yield ""
    yield from _wrapped("Figures are limits of the part files, sources in brackets (`sagbench parts show PART` names them in full); "
                        "[memory] is recalled from data books: look at a sheet before you rely on it; in and over the table it stands before the figures "
                        "that verdicts rest on. Speed is that of a family's plain "
                        "gate (sources in replace/speed.toml).", "")


def _place(part: Part, place: Place) -> Iterator[str]:
    told = {number: loads for number, loads in place.driven_by.items() if loads}
    for verb, lines in (("drives", place.drives), ("driven by", told)):
        for names, loads in _groups(part, lines):
            yield from _wrapped(f"{_named(part, names)} {verb} {', '.join(load.text for load in loads) or 'nothing'}", "  ")
    untold = [pin.name for pin in part.pins if pin.role.is_output and pin.number not in place.drives]
    undriven = [pin.name for pin in part.pins if pin.role.is_input and not pin.role.is_output and pin.number not in place.driven_by]
    if untold or undriven:
        missing = [f"{what} {_named(part, names)}" for what, names in (("what hangs on", untold), ("what drives", undriven)) if names]
        yield from _wrapped(f"Not told: {'; '.join(missing)}. There the {part.name} and its family are the "
                            "measure (--drives, --driven-by).", "")


def _named(part: Part, names: Sequence[str]) -> str:
    """Pins as one writes them in a place."""
    return together(names, (pin.name for pin in part.pins if pin.role.is_input or pin.role.is_output))


def _groups(part: Part, lines: Mapping[int, tuple[Load, ...]]) -> list[tuple[list[str], tuple[Load, ...]]]:
    """Pins with the same list, together."""
    found: dict[tuple[str, ...], tuple[list[str], tuple[Load, ...]]] = {}
    for number in sorted(lines):
        found.setdefault(tuple(load.text for load in lines[number]), ([], lines[number]))[0].append(part.pin(number).name)
    return list(found.values())


def _of(part: Part) -> str:
    return f" of {part.name}"


def _recalled(part: Part, fits: Iterable[Fit]) -> Iterator[str]:
    """What rows rest on that nobody has looked up of the part itself: once, for it is the same in most of them."""
    every = dict.fromkeys(name for fit in fits for name in fit.recalled if name.endswith(_of(part)))
    if every:
        yield from _wrapped(f"[memory] of the {part.name} itself: {', '.join(name.removesuffix(_of(part)) for name in every)}.", "")
        yield ""


def _table(fits: Iterable[Fit]) -> Iterator[str]:
    yield f"{'':>3}  {'part':<11} {'wiring':<14} {'verdict':<15}  because"
    for number, fit in enumerate(fits, start=1):
        reasons = textwrap.wrap(_because(fit), COLUMNS - 49, break_on_hyphens=False) or [""]
        head = f"{number:>3}  {fit.part.name:<11} {fit.wiring:<14} {fit.verdict.value:<15}"
        for index, reason in enumerate(reasons):
            yield f"{'' if index else head:<47}  {reason}".rstrip()


def _because(fit: Fit) -> str:
    """The short reasons, then what of this part the row rests on that nobody has looked up."""
    recalled = ", ".join(name for name in fit.recalled if not name.endswith(_of(fit.original)))
    return "; ".join(filter(None, (", ".join(fit.reasons()), recalled and f"[memory] {recalled}")))


def _otherwise(fits: Iterable[Fit]) -> Iterator[str]:
    """How those differ that are near only, once for parts of which the same is to be said."""
    told: dict[str, list[str]] = {}
    for fit in fits:
        if text := "; ".join(d.text for d in fit.differences if d.kind in ("logic", "timing")):
            told.setdefault(text, []).append(fit.part.name)
    if told:
        yield ""
    for text, names in told.items():
        yield from _wrapped(f"{', '.join(names)}: {text}", "")
    if told:
        yield from _wrapped("Where that makes no difference on the board, --by PART shows how the rest fits.", "")


def _detail(number: int, fit: Fit) -> Iterator[str]:
    yield from _wrapped(f"{number}  {fit.part.name}, {fit.part.title}: {fit.verdict.value}", "", "   ")
    for difference in fit.differences:
        if difference.kind == "stage":
            yield from _wrapped(difference.text, "      ")
    order = {"bad": 0, "note": 1, "ok": 2}
    yield from _findings(fit.original, sorted(fit.findings, key=lambda f: order[f.weight]))
    if fit.match is not None and not fit.match.same_places:
        pairs = " ".join(f"{here}>{there}" for here, there in fit.match.wiring)
        yield from _wrapped(f"adapter, pin of the board > pin of the {fit.part.name}: {pairs}", "      ")
        unused = sorted({n for n in range(1, fit.part.pin_count + 1)} - {there for _, there in fit.match.wiring})
        if unused:
            yield from _wrapped(f"pins of the {fit.part.name} left alone: {' '.join(map(str, unused))}", "      ")


def _findings(original: Part, findings: Iterable[Finding]) -> Iterator[str]:
    for finding in findings:
        subject = _named(original, finding.pins)
        if finding.balance:
            said = ", ".join(filter(None, (f"{subject} {finding.balance.state}", finding.text)))
            text = f"{said}: {_sum(finding.balance)}"
        else:
            text = f"{subject}: {finding.text}" if subject else finding.text
        yield from _wrapped(f"{_MARK[finding.weight]:<5} {text}", "", "      ")


def _sum(balance: Balance) -> str:
    """IIL of all loads against IOL, and the level against the threshold."""
    terms = " + ".join(map(_term, balance.terms)) or "nothing"
    total = f" = {amperes(balance.need)}" if len(balance.terms) > 1 or any(term.count > 1 for term in balance.terms) else ""
    if balance.ohms:
        able = f"{balance.supply:g} V - {ohms(balance.ohms)} x {amperes(balance.need)} = {balance.volts:.2f} V"
    else:
        name = "IOL" if balance.state == "low" else "IOH"
        able = f"{name} {amperes(balance.able)} at {balance.volts:g} V [{balance.source}]: {balance.share * 100:.0f} % of it"
    return f"{terms}{total}; {able}{_level(balance)}"


def _term(term: Term) -> str:
    times = f"{term.count} x " if term.count > 1 else ""
    source = f" [{term.source}]" if term.source else ""
    return f"{times}{amperes(term.amperes)} ({term.who}{source})"


def _level(balance: Balance) -> str:
    if balance.margin is None:
        return ""
    name, better, worse = ("VIL", "under", "over") if balance.state == "low" else ("VIH", "over", "under")
    return f"; {abs(balance.margin):.2g} V {better if balance.level else worse} {name} {balance.threshold:g} V ({balance.reader})"


def _wrapped(text: str, indent: str, hanging: str | None = None) -> list[str]:
    kept = UNIT.sub("\u00a0", text)  # which textwrap does not break at
    lines = textwrap.wrap(kept, COLUMNS, initial_indent=indent, subsequent_indent=indent + "  " if hanging is None else hanging,
                          break_long_words=False, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines]


def as_json(original: Fit, found: Sequence[Fit]) -> dict[str, Any]:
    """For a script: volts, amperes, seconds; pins of the place by the original's names."""
    return {"part": original.part.name, "title": original.part.title, "itself": _fit(original),
            "replacements": [_fit(fit) for fit in found]}


def _fit(fit: Fit) -> dict[str, Any]:
    made: dict[str, Any] = {"part": fit.part.name, "title": fit.part.title, "verdict": fit.verdict.value, "wiring": fit.wiring,
                            "origin": fit.part.origin, "reasons": fit.reasons(), "recalled": list(fit.recalled),
                            "differences": [difference.text for difference in fit.differences],
                            "findings": [_finding(finding) for finding in fit.findings]}
    if fit.match is not None and not fit.match.same_places:
        made["adapter"] = [{"board": here, "chip": there} for here, there in fit.match.wiring]
    return made


def _finding(finding: Finding) -> dict[str, Any]:
    made: dict[str, Any] = {"weight": finding.weight, "text": finding.text, "pins": list(finding.pins), "recalled": list(finding.recalled)}
    if (balance := finding.balance) is not None:
        terms = [{"count": term.count, "amperes": term.amperes, "of": term.who, "source": term.source} for term in balance.terms]
        made["balance"] = {"state": balance.state, "asked": balance.need, "able": None if balance.ohms else balance.able,
                           "volts": balance.volts, "source": balance.source, "threshold": balance.threshold,
                           "threshold_source": balance.threshold_source,
                           "margin": balance.margin, "terms": terms}
    return made
