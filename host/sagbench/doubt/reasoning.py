# SPDX-License-Identifier: MIT
"""Which suspects explain every answer, right and wrong, and what that says of chip and definition."""
from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sagbench.doubt.observed import Answer
from sagbench.doubt.statements import Line, independent
from sagbench.doubt.suspects import Suspect, faults, missing_terms, slips
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition
from sagbench.parts.model import Part

UNDRIVEN = "stays between low and high whatever is applied, as a pin does that nothing drives"
STILL = 0.3                              # volts: what a pin that nothing drives may wander (noise, its neighbours)
AGREES, CHIP, DEFINITION, EITHER, NEITHER = "agrees", "chip", "definition", "either", "no single cause"


@dataclass(frozen=True)
class OutputDoubt:
    """One output that answered wrongly."""

    pin: int
    name: str
    line: Line | None                    # the statement that defines it
    wrong: int
    checks: int
    pattern: str                         # "always inverted", "stuck low", ...


@dataclass(frozen=True)
class Doubt:
    """What follows."""

    checks: int
    wrong: tuple[Answer, ...]
    outputs: tuple[OutputDoubt, ...]
    sisters: tuple[str, ...]             # a sentence for each repeated statement with wrong answers
    explain: tuple[Suspect, ...]         # each alone explains every answer
    leaning: str
    summary: str


def reason(part: Part, definition: Definition, said: tuple[Line, ...], answers: Iterable[Answer]) -> Doubt:
    """`definition`: the logic of the part's family, `said` its statements.  Takes up to some seconds for a long test with many suspects."""
    given = tuple(answers)
    wrong = tuple(a for a in given if a.wrong)
    if not wrong:
        return Doubt(len(given), (), (), (), (), AGREES, f"all {len(given)} answers are as the definition says: nothing to doubt")
    outputs = tuple(_outputs(part, said, given))
    names = frozenset(o.name for o in outputs)
    clean = all(a.seen != "?" for a in given)
    explain = _explaining(part, (*faults(definition), *slips(definition, said)), names, given)
    if not explain and clean:
        explain = _explaining(part, missing_terms(definition, said), names, given)
    alike, unlike, sentences = _sisters(part, definition, outputs, given)
    leaning, summary = _conclude(outputs, explain, alike, unlike) if clean or explain else _no_levels(outputs, alike, unlike)
    return Doubt(len(given), wrong, outputs, sentences, tuple(explain), leaning, summary)


def _explaining(part: Part, suspects: Iterable[Suspect], names: frozenset[str], given: tuple[Answer, ...]) -> list[Suspect]:
    found = (s for s in suspects if names <= s.touches and explains(part, s, given))
    return list({s.sentence: s for s in found}.values())


def explains(part: Part, suspect: Suspect, given: tuple[Answer, ...]) -> bool:
    """True if with this suspect every wrong answer is what it must be, and no right one is contradicted."""
    swap = dict([suspect.swapped, suspect.swapped[::-1]]) if suspect.swapped else {}
    network = Network(suspect.definition)
    machine = Machine(network, 1, _stuck(network, suspect))
    by_step: dict[int, list[Answer]] = {}
    for answer in given:
        by_step.setdefault(answer.step, []).append(answer)
    floating: dict[int, set[str]] = {}
    last = max(by_step)
    for index, step in enumerate(part.sequence[:last + 1]):
        machine.set({_exchanged(name, swap): level for name, level in part.named(step).items()})
        for answer in by_step.get(index, ()):
            name = part.pin(answer.pin).name
            does = _does(machine, swap.get(name, name), suspect)
            if does == "Z" and answer.expect.value != "Z" and (answer.wrong or suspect.floats):
                floating.setdefault(answer.pin, set()).add(answer.seen)
                if {"L", "H"} <= floating[answer.pin]:
                    return False                         # off: any level when it is read without load, but not now this, now that
                continue
            if does != answer.seen and (does or answer.wrong):
                return False
    return True


def _exchanged(entry: str, swap: dict[str, str]) -> str:
    name, mark, count = entry.partition("^")             # "CLK^4096": a train of pulses
    return swap.get(name, name) + mark + count


def _stuck(network: Network, suspect: Suspect) -> dict[int, tuple[int, int]]:
    if not suspect.stuck or suspect.stuck[0] not in network.inputs:
        return {}
    name, level = suspect.stuck
    return {network.slots[name]: (1, 0) if level else (0, 1)}


def _does(machine: Machine, name: str, suspect: Suspect) -> str:
    """What the output does; "" if that is not known."""
    if suspect.stuck and suspect.stuck[0] == name:
        return "H" if suspect.stuck[1] else "L"
    expect = machine.expect(name)
    return expect.value if expect else ""


def _outputs(part: Part, said: tuple[Line, ...], given: tuple[Answer, ...]) -> Iterator[OutputDoubt]:
    for pin in part.outputs:
        mine = [a for a in given if a.pin == pin.number]
        wrong = [a for a in mine if a.wrong]
        if wrong:
            line = next((entry for entry in said if pin.name in entry.targets()), None)
            yield OutputDoubt(pin.number, pin.name, line, len(wrong), len(mine), pattern(mine))


def pattern(mine: list[Answer]) -> str:
    """How one output is wrong, in words."""
    driven = [a for a in mine if a.expect.value != "Z"]
    wrong = [a for a in mine if a.wrong]
    seen = {a.seen for a in mine}
    if seen == {"?"} and len(mine) > 1 and _is_still(mine):
        return UNDRIVEN
    if "?" in {a.seen for a in wrong}:
        return "gives levels that are neither low nor high"
    if len(seen) == 1 and len({a.expect for a in mine}) > 1:
        return f"is always {'low' if seen == {'L'} else 'high' if seen == {'H'} else 'off'}"
    if all(a.expect.value == "Z" for a in wrong):
        return "drives where it should be off"
    if driven and all(a.wrong for a in driven) and {a.expect.value for a in driven} == {"L", "H"}:
        return "is always the opposite of what its equation says"
    return f"is wrong {'low' if {a.seen for a in wrong} == {'L'} else 'high' if {a.seen for a in wrong} == {'H'} else 'both ways'}"


def _is_still(answers: list[Answer]) -> bool:
    volts = [a.volts for a in answers if a.volts is not None]
    return len(volts) == len(answers) and max(volts) - min(volts) <= STILL


def _sisters(part: Part, definition: Definition, outputs: tuple[OutputDoubt, ...],
             given: tuple[Answer, ...]) -> tuple[bool, bool, tuple[str, ...]]:
    """Are all copies of a statement wrong alike?  Is one wrong and another right?  And in words."""
    measured = {part.pin(a.pin).name for a in given}
    alike = unlike = False
    sentences = []
    for line in dict.fromkeys(o.line for o in outputs if o.line and independent(definition, o.line)):
        copies = [name for name in line.targets() if name in measured]
        wrong = {o.name: o.pattern for o in outputs if o.line == line}
        where = f"{line.where}, `{line.text}`,"
        if len(copies) < 2:
            continue
        if len(wrong) < len(copies):
            unlike = True
            right = [name for name in copies if name not in wrong]
            sentences.append(f"{where} is right for {', '.join(right)} and wrong for {', '.join(wrong)}: "
                             "one definition, unlike gates")
        elif len(set(wrong.values())) == 1:
            alike = True
            sentences.append(f"{where} is wrong for all its copies alike ({', '.join(wrong)})")
        else:
            sentences.append(f"{where} is wrong for all its copies, but not alike ({', '.join(wrong)})")
    return alike, unlike, tuple(sentences)


def _no_levels(outputs: tuple[OutputDoubt, ...], alike: bool, unlike: bool) -> tuple[str, str]:
    """Some answers are no levels, and no single cause explains all of them."""
    still = [f"{o.pin} ({o.name})" for o in outputs if o.pattern == UNDRIVEN]
    if len(still) == len(outputs) > 1 and alike and not unlike:
        return EITHER, (f"nothing drives pins {', '.join(still)}, which the definition calls outputs: they may be inputs of this chip "
                        "(a wrong pinout, or another type than its marking says), or the chip does nothing at all; "
                        "compare the pinout with the data sheet, and see in the report whether it draws any current")
    return CHIP, "some levels are neither low nor high, which no definition explains: the chip (or its contact) is bad"


def _conclude(outputs: tuple[OutputDoubt, ...], explain: list[Suspect], alike: bool, unlike: bool) -> tuple[str, str]:
    chip = [s for s in explain if s.kind == "chip"]
    slip = [s for s in explain if s.kind == "definition"]
    if slip and not chip:
        why = ("the gates of the chip agree with each other and not with the definition" if alike else
               "one change of the definition explains every answer, and no single dead pin does")
        return DEFINITION, f"the definition is suspect: {why}"
    if chip and (unlike or not slip):
        why = "sister gates with the same definition answer rightly" if unlike else "one dead pin explains every answer"
        return CHIP, f"the chip is suspect: {why}"
    if chip and slip:
        return EITHER, ("one dead pin explains every answer, and so does one change of the definition; "
                        "try another chip of this type: if it answers the same, the definition is wrong")
    if unlike:
        return CHIP, "the chip is suspect: sister gates with the same definition answer rightly"
    if alike:
        return DEFINITION, ("the definition is suspect, or this is another type of chip: gates with one definition are wrong "
                            "alike, though no single change explains it all")
    many = len(outputs) > 1
    return NEITHER, (f"neither one dead pin nor one change of the definition explains {'these outputs' if many else 'this output'}: "
                     "see that it is the type its marking says, then try another chip of this type")
