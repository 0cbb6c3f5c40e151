"""Identify the chip in the socket: the order of things.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sagbench.device import TRIES, Device, too_slow
from sagbench.errors import UsageError
from sagbench.identify.belief import Belief, Seen
from sagbench.identify.bench import Bench, PowerLost, Unheard
from sagbench.identify.candidates import Candidate, Rail
from sagbench.identify.choose import FEW, Pattern, best, differ, drivable, lead, played, better_pattern
from sagbench.identify.follow import Follower
from sagbench.identify.seating import Hypothesis, Seating, find_seating
from sagbench.parts.model import Role
from sagbench.plan.fixture import Fixture
from sagbench.plan.seat import Seat

Confirm = Callable[[Seating], Rail | None]  # asked when junctions do not settle where the rails are; None: no power
Progress = Callable[[str, int], None]  # stage, candidates left

FIRST = 6  # patterns at random before candidates are dropped for the first time
AGAIN = 4  # and in each later turn
TURNS = 12  # turns at random, and of logic tests, at most
DROPPED = 20.0  # natural logarithm of the odds at which a candidate is not followed any more
MOVED, STALLED = 0.01, 2  # so many turns that move no probability by so much: what is left is not to be told, but the leader is
WHOLE = 300  # held against the chip by its own logic test first, so many steps of it (an 8-input gate's takes 256)
LIVE = 1e-4  # probability from which a candidate is told apart from the others
MOST_A = 0.150  # supply current of the hungriest parts of the library; the fixture's own trip is below what harms
SEED = 74


@dataclass(frozen=True)
class Answer:
    """Candidates that no static test tells apart, likeliest first by name, and what speaks for them."""

    members: tuple[Candidate, ...]
    probability: float
    bad_pins: tuple[int, ...] = ()  # pins that must be bad if it is one of these
    right: int = 0  # readings, of those of which it says something: that were as it says,
    wrong: int = 0  # and that were not

    @property
    def mute(self) -> bool:
        """True if its outputs, more than one, must all be bad: inputs follow M in any chip, so nothing speaks for it."""
        outputs = {pin for pin, role in enumerate(self.members[0].roles, start=1) if role.is_output}
        return len(outputs) > 1 and outputs <= set(self.bad_pins)


@dataclass(frozen=True)
class Identification:
    """What came of it. `problem`: one sentence, why there is no answer."""

    seat: Seat | None
    rail: Rail | None
    settled: bool  # the rails by junctions alone, without the user
    ranked: tuple[Answer, ...]
    none: float  # probability that it is none of the library's
    looks: int
    candidates: int  # that came into question once the rails were known
    problem: str = ""
    untried: tuple[Candidate, ...] = ()  # of the same number of pins, with rails that are not switched here: two grounds, a pin without a switch
    low_amperes: Mapping[int, Sequence[float]] = field(default_factory=dict)  # pin -> what it delivered when held low

    @property
    def found(self) -> bool:
        """True if one answer is likelier than all others and none together, and something that the chip does speaks for it."""
        return bool(self.ranked) and self.ranked[0].probability > 0.5 and not self.ranked[0].mute

    @property
    def explained(self) -> bool:
        """True if the answer explains every pin: nothing that a chip taken out meanwhile would look like."""
        return self.found and not self.ranked[0].bad_pins


def powerable(fixture: Fixture, candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Those whose rails this fixture can switch: one ground, one or two supplies, where it has switches."""
    out = []
    for candidate in candidates:
        rail, seat = candidate.rail, Seat(fixture.positions, candidate.rail.size)
        supplies = {seat.position(p) for p in rail.supplies}
        grounds = {seat.position(p) for p in rail.grounds}
        fits = len(grounds) == 1 and len(supplies) in (1, 2) and rail.size in fixture.sizes
        if fits and supplies <= set(fixture.supply_positions) and grounds <= set(fixture.ground_positions):
            out.append(candidate)
    return tuple(out)


def identify(
    device: Device, candidates: Sequence[Candidate], *, power: tuple[frozenset[int], frozenset[int]] | None = None,
    confirm: Confirm | None = None, progress: Progress | None = None,
) -> Identification:  # fmt: skip
    """What chip is in the socket.

    power: supply and ground pins that the user has confirmed; confirm: asks for them if junctions leave a doubt.
    Leaves the chip without power.  Raises DeviceError, LinkError; UsageError if no chip can have these rails.
    """
    bench = Bench(device)
    _possible(bench.fixture, power)
    told = progress or (lambda *_: None)
    told("seating", len(candidates))
    known = powerable(bench.fixture, candidates)
    rows = bench.rows()
    seating = find_seating(bench.fixture.positions, bench.fixture.sizes, rows, known, power)
    chosen, problem = _chosen(seating, power is not None, confirm)
    if chosen is None:
        first = seating.left[0] if seating.left else None
        seat, rail = (first.seat, first.rail) if first else (None, None)
        return Identification(seat, rail, False, (), 0.0, 0, 0, problem)
    untried = tuple(c for c in candidates if c not in known and c.rail.size == chosen.rail.size)
    blank = Identification(chosen.seat, chosen.rail, seating.settled and power is None, (), 0.0, 0, len(chosen.candidates), untried=untried)
    followers = [Follower(c) for c in chosen.candidates]  # their logic is compiled before power comes up
    try:
        for _ in range(TRIES):
            try:
                bench.power(chosen.seat, chosen.rail, MOST_A)
                found = search(bench, chosen, [f.copy() for f in followers], told)
                if not found.explained and bench.gone(rows):
                    return replace(blank, problem="It lost contact while it was looked at, or was taken out: seat it and try again.")
                return replace(found, settled=blank.settled, untried=untried)
            except Unheard:
                continue
        raise too_slow(device.info.port)
    except PowerLost as lost:
        return replace(blank, problem=f"The fixture took power away ({lost}): its supply is shorted, or it draws more than "
                                      "any part of the library that has its rails there.")  # fmt: skip
    finally:
        bench.off()


def _possible(fixture: Fixture, power: tuple[frozenset[int], frozenset[int]] | None) -> None:
    """Raises UsageError for rails at pins that no chip has which fits the socket."""
    most = max(fixture.sizes)
    beyond = sorted(pin for pins in power or () for pin in pins if pin > most)
    if beyond:
        raise UsageError(f"--power names pin {beyond[0]}, and this fixture's socket takes chips of {most} pins at most: "
                         "name the chip's supply pin and ground pin, such as 14,7.")  # fmt: skip


def _chosen(seating: Seating, confirmed: bool, confirm: Confirm | None) -> tuple[Hypothesis | None, str]:
    """The hypothesis to power, or None with the sentence that says why."""
    if seating.problem:
        return None, seating.problem
    first = seating.left[0]
    if seating.turned:
        doubt = " If it does sit so, --power names other rails than it has: leave that out." if confirmed else ""
        return None, f"The chip sits {first.seat.in_words}: seat it with pin 1 in position 1. It was not powered.{doubt}"
    if seating.settled or confirmed:
        return first, ""
    rail = confirm(seating) if confirm else None
    same = next((h for h in seating.left if h.rail == rail and not h.seat.reversed and not h.seat.shift), None)
    words = "; or ".join(dict.fromkeys(h.in_words() for h in seating.left))
    return same, f"What conducts does not settle where its rails are: {words}. Say which with --power. It was not powered."


class _Search:
    """Candidates on the way, and what is believed of them."""

    def __init__(self, bench: Bench, followers: Sequence[Follower], progress: Progress) -> None:
        self.bench, self.progress = bench, progress
        self.followers = {f.candidate: f for f in followers}
        candidates = list(self.followers)
        self.belief = Belief(candidates)
        self.pins = [p for p, role in enumerate(candidates[0].roles, 1) if role not in (Role.SUPPLY, Role.GROUND)]
        self.driven = drivable(candidates)
        self.random = random.Random(SEED)
        self.weight: Mapping[object, float] = self.belief.weights()[0]
        self.none = 0.0

    def play(self, patterns: Sequence[Pattern]) -> None:
        """Patterns on the chip and on every candidate that is followed; then beliefs."""
        seen = iter(self.bench.play(patterns, self.pins))
        for pattern in patterns:
            look = next(seen) if pattern.look else None
            held = self.bench.heavy if look is None else {pin for pin, one in look.items() if one is Seen.HOLDS_HIGH}
            for follower in self.followers.values():
                lead(follower, pattern, held)
            if look is not None:
                self.belief.learn(look, {c: f.says() for c, f in self.followers.items()})
        self.weight, self.none = self.belief.weights()

    def drop(self, live: bool = False) -> None:
        """Follow no more what is out of the question, and let go pins that no candidate left calls an input.

        live: that none of those calls one that are told apart: what pulls its outputs up by resistors shows it only if they are let go.
        """
        far = self.belief.far_behind(DROPPED)
        self.belief.drop(far)
        self.followers = {c: f for c, f in self.followers.items() if c not in far}
        likely = [f.candidate for f in self.live] if live else []
        self.driven = drivable(likely or self.followers)
        if gone := sorted(self.bench.driven.keys() - self.driven):
            self.play([Pattern(tuple((pin, None) for pin in gone), look=False)])
        self.strengthen()

    def strengthen(self) -> None:
        """Inputs, by all candidates left, that M cannot pull low get S as well; what was read there before is forgotten."""
        now = self.bench.driven
        heavy = [p for p in sorted(self.bench.heavy & now.keys()) if all(c.roles[p - 1] is Role.INPUT for c in self.followers)]
        if heavy:
            back = Pattern(tuple((pin, now[pin]) for pin in heavy), look=False)
            self.play([Pattern(tuple((pin, None) for pin in heavy), look=False)])
            self.bench.strengthen(heavy)
            self.play([back])
            self.belief.forget(heavy)
            self.weight, self.none = self.belief.weights()

    @property
    def live(self) -> list[Follower]:
        """Candidates that are likely enough to be told apart, likeliest first."""
        likely = [c for c in self.followers if self.weight[c] > LIVE]
        return [self.followers[c] for c in sorted(likely, key=lambda c: -self.weight[c])]

    def at_random(self, count: int) -> None:
        """Patterns at random at all pins that are driven."""
        for _ in range(count):
            self.play([better_pattern(self.live, self.weight, self.bench.driven, sorted(self.driven), self.random)])
        self.drop()
        self.progress("patterns", len(self.live))


def search(bench: Bench, chosen: Hypothesis, followers: Sequence[Follower], progress: Progress) -> Identification:
    """The candidates told apart on a powered chip: at random while there are many, by their own logic tests then."""
    s = _Search(bench, followers, progress)
    s.at_random(FIRST)
    for _ in range(TURNS):
        if len(s.live) <= FEW:
            break
        s.at_random(AGAIN)
    s.drop(live=True)
    confirmed: set[Candidate] = set()
    stalled = 0
    for _ in range(TURNS):
        if not s.live:
            break
        before = s.weight
        leader = s.live[0].candidate
        choice = best(s.live[:FEW], s.weight, s.driven) if len(s.live) > 1 and stalled < STALLED else None
        if choice is not None:
            s.play(choice.patterns)
        elif leader not in confirmed:
            s.play(played(leader, s.driven, WHOLE))  # its own logic test, whole: does it explain everything?
            confirmed.add(leader)
        else:
            break
        s.drop(live=True)
        stalled = stalled + 1 if all(abs(s.weight[c] - before[c]) < MOVED for c in before) else 0
        progress("logic tests", len(s.live))
    ranked = _answers(s)
    return Identification(chosen.seat, chosen.rail, True, ranked, s.none, bench.looks, len(chosen.candidates),
                          low_amperes=bench.low_amperes)


def _answers(s: _Search) -> tuple[Answer, ...]:
    """Candidates in classes of those that no logic test tells apart, likeliest first."""
    classes: list[list[Candidate]] = []
    order = sorted(s.weight, key=lambda key: -s.weight[key])
    for candidate in order:
        if not isinstance(candidate, Candidate):
            continue
        home = next((c for c in classes if candidate.roles == c[0].roles and _alike(s, c[0], candidate)), None)
        if home is not None:
            home.append(candidate)
        elif s.weight[candidate] >= LIVE / 1000:
            classes.append([candidate])
    answers = [Answer(tuple(c), sum(s.weight[m] for m in c), s.belief.bad_pins(c[0]), *s.belief.count(c[0])) for c in classes]
    return tuple(sorted(answers, key=lambda a: -a.probability))


def _alike(s: _Search, one: Candidate, other: Candidate) -> bool:
    """True if the logic tests of both, played on both from where they are now, show no difference."""
    if one not in s.followers or other not in s.followers:
        return False
    for whose in (one, other):
        pair = [s.followers[c].copy() for c in (one, other)]
        for pattern in played(whose, s.driven):
            for follower in pair:
                lead(follower, pattern)
            if differ(pair[0].says(), pair[1].says()):
                return False
    return True
