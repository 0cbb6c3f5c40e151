"""The part library against the virtual chips: two readings of each data book, by two hands, held against each other.

    PYTHONPATH=host:.:tests python -m two_hands [NUMBER ...] [--sweep] [--every-family] [--lot N] [--json]

For each number, for each pinout and logic that the library has of it in a family that the virtual chip is made in:

    pins     what each pin number is: input, output, tri-state, open collector, bidirectional, Schmitt, supply, ground, analog, nothing
    logic    the library's own logic test, step by step, played on the virtual chip's logic by pin number
    pulses   what the library says triggers a monostable
    sweep    (--sweep) a sound one, of a family by lot, in a virtual fixture by lot: it must be found sound;
             with --every-family one of each family that both know (tests/system/EVERY_PART.md)

The library is asked by what sagbench offers, the virtual chips by their classes: neither side knows of the other.
Sweeps of the whole library take half an hour: they are kept in build/two_hands.jsonl, and a run that was stopped goes on where it was.
Exit status 1 if anything differs that EXPLAINED does not name.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import json
import random
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from fnmatch import fnmatchcase
from functools import cache
from typing import Any

from study.lines import ROOT, SOURCES, work

from sagbench.errors import SagbenchError
from sagbench.parts import catalogue, load_part
from sagbench.parts.model import Expect, Part, PulseTest, Role, Step
from sagbench.parts.names import type_name
from sagbench.record import Verdict
from virtual_fixture.chips.behaviour import OFF, PARTS, key_parts, part_of
from virtual_fixture.chips.behaviour import Part as Kind
from virtual_fixture.chips.chip import INPUT, POWER_UP, START_BIT, TIMER, Logic
from virtual_fixture.chips.families import made_in, name_of
from virtual_fixture.inproc import Fixture

COPIES = 4                     # of a chip's logic: other registers at power-up, other floating levels, other orders within a step
SETTLINGS = 8                  # turns in which what a bidirectional pin drives is back at its inputs
MOST = 6                       # differences told of one subject; after the first miss the others are mostly its echo
LOWER = "VEE"                  # the lower end of analog switches: a further supply pin here, a second ground in the library
SOME = "bus"                   # a bus driver's inputs have some hysteresis; whether it is a Schmitt trigger's is a matter of words
# Library families whose name here is another.
FAMILY = {"": "TTL", "74": "TTL", "4000B": "4000"}
# (number, pin or 0, first words of what differs): why both are right.
EXPLAINED: Mapping[tuple[str, int, str], str] = {
    ("4047", 3, "library (RCX)"): "the oscillator's input: the library leaves its pins alone",
    ("121", 9, "library (RINT)"): "one end of the timing resistor inside: an input to who drives it, a resistor to who looks",
}


@dataclass(frozen=True)
class Difference:
    """Where the two disagree.  pin, step: 0, -1 if it is none in particular."""

    number: str
    name: str
    what: str                  # "pins", "logic", "pulses", "sweep"
    text: str
    pin: int = 0
    step: int = -1

    @property
    def explained(self) -> str:
        """Why both are right; "" if that is not known."""
        if self.what == "sweep" and f" {Verdict.UNSURE.value}: " in self.text:
            return "no verdict: the fixture is not sure of a figure near its limit"
        return next((why for (number, pin, words), why in EXPLAINED.items()
                     if number == self.number and pin in (0, self.pin) and self.text.startswith(words)), "")


@dataclass
class Subject:
    """One logic with one pinout, on both sides, and the names of the types that are so."""

    number: str
    part: Part
    kind: type[Kind]
    types: list[tuple[str, str]] = field(default_factory=list)     # the library's name, the virtual chip's

    def alike(self, part: Part) -> bool:
        """Another family of the same pins and logic."""
        one, other = ([(p.name, p.role, p.schmitt) for p in x.pins] for x in (self.part, part))
        return one == other and self.part.sequence == part.sequence


@cache
def _catalogue() -> dict[str, tuple[str, ...]]:
    return {entry.function: entry.families for entry in catalogue()}


def numbers() -> list[str]:
    """Functions of the library that there are virtual chips of, in the catalogue's order."""
    known = {key_parts(key)[1] for key in PARTS}
    return [number for number in _catalogue() if number in known]


def _ours(number: str, family: str) -> str:
    """A family of the library as the virtual chips call it: a type with a number of its own is like some family's there."""
    own = PARTS[number].own if number in PARTS else ""
    if family == "93L" and number.startswith("96"):
        return "L"
    return own if family == "TTL" and own else FAMILY.get(family, family)


def subjects(number: str) -> list[Subject]:
    """All that is to be compared of a number; none if the two have no family in common."""
    found: list[Subject] = []
    for family in _catalogue().get(number, ()):
        kind = part_of(number, ours := _ours(number, family))
        if kind is None or ours not in made_in(kind.number):
            continue
        part = load_part(type_name(number, family))
        subject = next((s for s in found if s.kind is kind and s.alike(part)), None)
        if subject is None:
            found.append(subject := Subject(number, part, kind))
        subject.types.append((part.name, name_of(number, ours)))
    return found


# ------------------------------------------------------------------------------------------------------------------ pins
def _kind_of(kind: type[Kind], name: str) -> str:
    """What a pin of a virtual chip is, in the library's words."""
    if name in (kind.vcc, kind.gnd):
        return Role.SUPPLY if name == kind.vcc else Role.GROUND
    if name in kind.supplies.split():
        return Role.GROUND if name == LOWER else Role.SUPPLY
    if name == "NC":
        return Role.UNUSED
    if name in kind.analog.split():
        return Role.ANALOG
    outputs = kind.output_names()
    if f"<>{name}" in outputs:
        return Role.BIDIRECTIONAL
    if name not in outputs:
        return Role.INPUT
    if name in kind.open_collector.split() and not _pulled_up(kind, name):
        return Role.OPEN_COLLECTOR
    return Role.TRI_STATE if name in kind.three_state_names() else Role.OUTPUT


def _pulled_up(kind: type[Kind], name: str) -> bool:
    """A resistor inside holds it high."""
    return any(fnmatchcase(name, pattern) for pattern in kind.pull_ups)


def _schmitt(kind: type[Kind], name: str) -> str:
    return next((word for pattern, word in kind.schmitt.items() if fnmatchcase(name, pattern)), "")


def _left_alone(theirs: Role, mine: str) -> bool:
    """The library's "analog" says that nobody is to touch the pin, be there nothing, or an output of some makers' only."""
    return theirs is Role.ANALOG and mine not in (Role.SUPPLY, Role.GROUND, Role.INPUT)


def pin_differences(subject: Subject) -> Iterator[Difference]:
    """Pins that are not the same thing on both sides."""
    part, kind = subject.part, subject.kind
    names = kind.pin_names()
    if len(names) != part.pin_count:
        yield Difference(subject.number, part.name, "pins", f"{part.pin_count} pins in the library, {len(names)} here")
        return
    for pin, name in zip(part.pins, names, strict=True):
        mine = _kind_of(kind, name)
        schmitt = _schmitt(kind, name) if mine in (Role.INPUT, Role.BIDIRECTIONAL) else ""
        if mine != pin.role and not _left_alone(pin.role, mine) or pin.schmitt != bool(schmitt) and schmitt != SOME:
            words = (f"{r.value}{', Schmitt' if s else ''}" for r, s in ((pin.role, pin.schmitt), (Role(mine), schmitt)))
            yield Difference(subject.number, part.name, "pins", "library ({}): {}; here ({}): {}".format(
                *(x for pair in zip((pin.name, name), words, strict=True) for x in pair)), pin.number)


# ----------------------------------------------------------------------------------------------------------------- logic
class Copy:
    """The logic of one specimen, driven by pin number."""

    def __init__(self, part: Part, kind: type[Kind], seed: int) -> None:
        self.rng = random.Random(seed)
        self.logic = Logic(kind(random.Random(seed + 1000)))
        self.at_once = seed % 2 == 0             # else the changes of a step come one by one, in an order by lot
        self.both = {kind.pin(n[2:]) for n in kind.output_names() if n.startswith("<>")}
        pulled = {kind.pin(n) for n in kind.pin_names() if _pulled_up(kind, n)}
        self.off = {kind.pin(n) for n in kind.open_collector.split()} - (pulled - self.both)
        self.floating = {pin: self.rng.getrandbits(1) | (pin in pulled) for pin in self.logic.inputs}
        self.driven = {p.number: int(p.role is Role.SUPPLY) for p in part.of_role(Role.SUPPLY, Role.GROUND)
                       if p.number in self.logic.inputs}                             # a second supply is an input of the logic here
        self.out: dict[int, int] = {}
        self.started: set[int] = set()
        self._react(POWER_UP)

    def _mask(self) -> int:
        own = {p: 1 if p in self.off else self.floating[p] for p in self.both}       # an open collector that is off has a pull-up
        own |= {p: self.out[p] for p in self.both if self.out.get(p, OFF) != OFF}
        levels = self.floating | own | self.driven
        return sum(1 << pin for pin, level in levels.items() if level)

    def _react(self, reason: int = INPUT) -> None:
        for _ in range(SETTLINGS):
            mask = self._mask()
            result = self.logic(mask, reason, 0.0)
            if self.logic.error:
                raise self.logic.error
            self.started |= {k for k in range(4) if result >> (START_BIT + k) & 1}
            self.out = {pin: OFF if result >> (32 + pin) & 1 or pin in self.off and result >> pin & 1 else result >> pin & 1
                        for pin in self.logic.bits.values()}
            reason = INPUT
            if self._mask() == mask:
                return

    def change(self, levels: Mapping[int, bool | None]) -> None:
        """Drive pins, or let go of them (None); all at once or one by one."""
        changes = list(levels.items())
        self.rng.shuffle(changes)
        for pin, level in changes:
            if level is None:
                self.driven.pop(pin, None)
            else:
                self.driven[pin] = int(level)
            if not self.at_once:
                self._react()
        self._react()

    def pulse(self, pin: int, count: int) -> None:
        """To the other level and back, so many times."""
        for _ in range(2 * count):
            self.driven[pin] ^= 1
            self._react()

    def end(self) -> None:
        """What runs ends."""
        running, self.started = self.started, set()
        for timer in running:
            self._react(TIMER + timer)

    def fights(self) -> set[int]:
        """Pins that are driven from both sides, to different levels."""
        return {pin for pin in self.both if pin in self.driven and self.out.get(pin, OFF) not in (OFF, self.driven[pin])}


def said(levels: Iterable[int]) -> str:
    return " or ".join({0: "low", 1: "high", OFF: "off"}[level] for level in sorted(levels))


def _inputs(part: Part, copy: Copy) -> str:
    return " ".join(f"{p.number}:{p.name}={copy.driven.get(p.number, '-')}" for p in part.inputs)


def wanted(expect: Expect, pin: int, copy: Copy) -> int:
    return 0 if expect is Expect.LOW else OFF if expect is Expect.OFF or pin in copy.off else 1


def logic_differences(subject: Subject) -> Iterator[Difference]:
    """Outputs that do not do what the library's logic test expects; told pin by pin, the first step of each."""
    part, told = subject.part, set()
    copies = [Copy(subject.part, subject.kind, seed) for seed in range(COPIES)]
    outputs = set(copies[0].out)
    for number, step in enumerate(part.sequence):
        _take(copies, step)
        for pin in set().union(*(copy.fights() for copy in copies)) - told:
            told.add(pin)
            yield Difference(subject.number, part.name, "logic", f"driven against: {_inputs(part, copies[0])}", pin, number)
        for pin, expect in step.expect.items():
            if pin in told or pin not in outputs:
                continue
            got = {copy.out[pin] for copy in copies}
            if got != {wanted(expect, pin, copies[0])}:
                told.add(pin)
                yield Difference(subject.number, part.name, "logic", f"{part.pin(pin).name} here {said(got)}, the library expects {expect.value} "
                                 f"at {_inputs(part, copies[0])}{f' ({step.note})' if step.note else ''}", pin, number)


def _take(copies: Iterable[Copy], step: Step) -> None:
    for copy in copies:
        copy.change(step.set)
        for pin, count in step.pulses.items():
            copy.pulse(pin, count)
        copy.end()


def pulse_differences(subject: Subject) -> Iterator[Difference]:
    """Triggers that do not fire, and whether a second one prolongs the pulse."""
    for test in subject.part.pulses:
        for seed in range(COPIES):
            if text := _fires(Copy(subject.part, subject.kind, 2 * seed), test):
                yield Difference(subject.number, subject.part.name, "pulses", text, test.trigger)
                break


def _fires(copy: Copy, test: PulseTest) -> str:
    """"" if the trigger does what the library says."""
    copy.change(test.ready)
    copy.end()
    rest = copy.out[test.output]
    copy.change({test.trigger: not test.ready[test.trigger]})
    if not copy.started or copy.out[test.output] == rest:
        return f"the trigger starts nothing from {dict(test.ready)}"
    copy.started = set()
    copy.change({test.trigger: test.ready[test.trigger]})
    copy.change({test.trigger: not test.ready[test.trigger]})
    again = bool(copy.started)
    if test.retriggers is not None and again != test.retriggers:
        return f"a second trigger {'prolongs' if again else 'does nothing to'} the pulse here"
    return ""


# ----------------------------------------------------------------------------------------------------------------- sweep
def sweep_differences(subject: Subject, lot: int = 0, every: bool = False) -> Iterator[Difference]:
    """A sound chip of one of its types, or of every one, that is not found sound; what was driven beyond its ratings."""
    rng = random.Random(f"two hands/{subject.number}/{subject.part.name}/{lot}")
    names, seed = rng.choice(subject.types), rng.randrange(1, 10**6)
    for theirs, ours in subject.types if every else (names,):
        yield from _swept(subject.number, theirs, ours, random.Random(f"{theirs}/{lot}").randrange(1, 10**6) if every else seed)


def _swept(number: str, theirs: str, ours: str, seed: int) -> Iterator[Difference]:
    from inprocess import sweep_here

    try:
        with Fixture(seed=seed) as fixture:
            fixture.insert({"part": ours})
            record = sweep_here(fixture, theirs).record
    except (SagbenchError, AssertionError) as error:
        yield Difference(number, theirs, "sweep", f"seed {seed}: {type(error).__name__}: {str(error)[:300]}")
        return
    if record.verdict is not Verdict.SOUND:
        why = "; ".join([finding.sentence for finding in record.reasons][:3]) or record.partial or record.advice
        yield Difference(number, theirs, "sweep", f"seed {seed}: {record.verdict.value}: {why}")


def differences(number: str) -> list[Difference]:
    """Pins, logic and pulses of a number; at most MOST of each subject.  A class that raises something is a difference."""
    found: list[Difference] = []
    for subject in subjects(number):
        own = list(pin_differences(subject))
        try:
            if subject.part.pin_count == len(subject.kind.pin_names()):
                own += [*logic_differences(subject), *pulse_differences(subject)]
        except Exception as error:
            own.append(Difference(number, subject.part.name, "logic", f"{subject.kind.__name__} raises {type(error).__name__}: {error}"))
        found += own[:MOST]
    return found


def _work(job: tuple[int, str, str, int]) -> dict[str, Any]:
    """One number, in words that a line of JSON can keep; swept: "", "one" or "every" of a subject's types."""
    index, number, swept, lot = job
    own, found = subjects(number), differences(number)
    for subject in own if swept else ():
        found += sweep_differences(subject, lot, swept == "every")
    return {"index": index, "number": number, "forms": len(own), "types": sum(len(s.types) for s in own), "found": [asdict(d) for d in found]}


def _told(one: Difference, as_json: bool) -> str:
    if as_json:
        return json.dumps(asdict(one) | {"explained": one.explained})
    where = f"{one.name}{f' pin {one.pin}' if one.pin else ''}{f' step {one.step}' if one.step >= 0 else ''}"
    return f"{where}: {one.what}: {one.text}{f' [{one.explained}]' if one.explained else ''}"


def main(arguments: list[str] | None = None) -> int:
    """As the module's text says."""
    reader = argparse.ArgumentParser(prog="two_hands", description="The part library against the virtual chips.")
    reader.add_argument("number", nargs="*", help="numbers as in the library (none: all)")
    reader.add_argument("--sweep", action="store_true", help="sweep a sound chip of each in a virtual fixture as well")
    reader.add_argument("--every-family", action="store_true", help="with --sweep: one of every family, not of one by lot")
    reader.add_argument("--lot", type=int, default=0, help="another number: other families, other fixtures")
    reader.add_argument("--workers", type=int, default=1, help="processes, for sweeps of the whole library")
    reader.add_argument("--json", action="store_true", help="a line of JSON for each difference")
    asked = reader.parse_args(arguments)
    swept = ("every" if asked.every_family else "one") if asked.sweep else ""
    jobs = [(k, number, swept, asked.lot) for k, number in enumerate(asked.number or numbers())]
    if asked.sweep and not asked.number:
        kept = ROOT / "build" / f"two_hands{'_every' if asked.every_family else ''}{asked.lot or ''}.jsonl"
        results: Iterable[dict[str, Any]] = work(kept, _work, jobs, len(jobs), asked.workers, "numbers", (*SOURCES, "tests/two_hands.py"))
    else:
        results = map(_work, jobs)
    forms, types, left, count = 0, 0, 0, 0
    for result in results:
        if not result["forms"]:
            print(f"{result['number']}: no virtual chip in a family that the library has it in", file=sys.stderr)
        forms, types, count = forms + result["forms"], types + result["types"], count + bool(result["forms"])
        for one in (Difference(**found) for found in result["found"]):
            left += not one.explained
            print(_told(one, asked.json), flush=True)
    sweeps = {"": "", "one": ", one of each swept", "every": f", one of each of {types} types swept"}[swept]
    print(f"{count} numbers in {forms} forms compared{sweeps}: {left} differences", file=sys.stderr)
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
