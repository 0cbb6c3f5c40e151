"""Bayes' rule over candidates, with pins that may be bad.

What a pin is seen to do (`Seen`) is compared with what a candidate says of it.  Each pin of the chip is either sound
and does what its part does but for one reading in some hundreds, or, one time in fifty, bad: stuck low, stuck high,
without drive, or (seldom) at random.  So the likelihood of a pin's history is

    (1 - BAD) prod P(seen | said) + BAD sum over the kinds of bad of share * prod P(seen | bad so)

and one dead output costs the truth a factor of some two hundred and no more, however often it is looked at.  Where a
candidate leaves a level open (a flip-flop before its first clock, a monostable) the same kinds stand for what it may be.

"None of these" is a part that is like one of the candidates, but differs from it in any pins: each is another one
with the chance OTHER and then does anything.  So two and more pins that a candidate can explain only as bad speak for
none of these, and one that is not even stuck speaks less for a bad pin than a stuck one does.

The rates are the author's own choice; the tests show what they come to.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from math import exp, log

from sagbench.identify.follow import Says


class Seen(Enum):
    """What a pin does: driven through M it follows or it does not; let go and pulled weakly it drives or it does not."""

    FOLLOWS_LOW = "follows M low"
    FOLLOWS_HIGH = "follows M high"
    HOLDS_HIGH = "is high against M"
    HOLDS_LOW = "is low against M"
    LOW = "is low"
    HIGH = "is high"
    OFF = "goes where it is pulled"


ERROR = 0.0015  # a sound pin read as something else: noise, a level between, a heavy input
BAD = 0.02  # pins that are dead, before anything is known of the chip
NONE = 0.03  # chips that the library has not
OTHER = 0.3  # pins in which such a chip is unlike the one of the library that it is most like
LEAST = -700.0  # natural logarithm of what is as good as zero

_DRIVEN = {Seen.FOLLOWS_LOW: (False, True), Seen.FOLLOWS_HIGH: (True, True), Seen.HOLDS_HIGH: (False, False),
           Seen.HOLDS_LOW: (True, False)}  # level of M, whether the pin has it


def chance(seen: Seen, said: Says, error: float = ERROR) -> float:
    """P(seen | said) of a sound pin, given what M does there; error: how often it is read as something else."""
    if seen in _DRIVEN:
        level, follows = _DRIVEN[seen]
        if said in (Says.UNKNOWN, Says.NOTHING):
            return 0.5
        agrees = said in (Says.INPUT, Says.OFF) or (said is Says.HIGH) == level
        return 1 - error if agrees == follows else error
    if said is Says.NOTHING:
        return 1 / 3
    if said is Says.UNKNOWN:
        return 0.2 if seen is Seen.OFF else 0.4
    if said is Says.INPUT:  # a bipolar input that nobody drives pulls itself up
        return 2 * error if seen is Seen.LOW else 0.5 - error
    right = {Says.LOW: Seen.LOW, Says.HIGH: Seen.HIGH, Says.OFF: Seen.OFF}[said]
    return 1 - 2 * error if seen is right else error


UNLIKE = 0.05  # how often a pin does something else that does so now and then
KINDS = (Says.LOW, Says.HIGH, Says.OFF, Says.NOTHING)  # what a pin of which nothing is known may do
ANY_SHARES = (0.2, 0.2, 0.2, 0.4)  # of levels that a candidate leaves open
BAD_SHARES = (0.27, 0.27, 0.27, 0.03, 0.16)  # of bad pins: KINDS (dead) and, last, unlike now and then (weak)
OTHER_SHARES = (0.1, 0.1, 0.1, 0.3, 0.4)  # the same of pins of another part
VAGUE = (Says.UNKNOWN, Says.NOTHING)


def _chances(error: float) -> dict[Seen, dict[Says, float]]:
    return {seen: {said: log(chance(seen, said, error)) for said in Says} for seen in Seen}


_LOG, _UNLIKE = _chances(ERROR), _chances(UNLIKE)
RIGHT, WRONG = log(1 - 3 * ERROR), log(3 * ERROR)  # a reading likelier is as a candidate says; one less likely is not
_OPEN = {seen: tuple(_LOG[seen][kind] for kind in KINDS) for seen in Seen}


def _mixed(logs: Sequence[float], shares: Sequence[float]) -> float:
    top = max(logs)
    return top + log(sum(share * exp(x - top) for x, share in zip(logs, shares, strict=True)))


@dataclass
class _History:
    """One pin under one hypothesis: readings where it is sure, by the rate of a sound pin and by that of one that is
    unlike it now and then; readings where it leaves the level open, by kind; how many were as it says and were not."""

    sure: float = 0.0
    unlike: float = 0.0
    open: list[float] | None = None
    right: int = 0
    wrong: int = 0

    def learn(self, seen: Seen, said: Says) -> None:
        """One reading."""
        if said in VAGUE:
            self.open = self.open or [0.0] * len(KINDS)
            _add(self.open, seen)
            return
        likely = _LOG[seen][said]
        self.sure += likely
        self.unlike += _UNLIKE[seen][said]
        self.right += likely > RIGHT
        self.wrong += likely < WRONG

    @property
    def sound(self) -> float:
        """Natural logarithm of P(all readings | the pin is sound)."""
        return self.sure + (_mixed(self.open, ANY_SHARES) if self.open else 0.0)


class Belief:
    """The history of each pin under each hypothesis; keys are whatever tells hypotheses apart."""

    def __init__(self, keys: Iterable[object]) -> None:
        self._pins: dict[object, dict[int, _History]] = {key: {} for key in keys}
        self._counted: dict[object, tuple[int, int]] = {}  # of hypotheses dropped: readings that were as they say, and not
        self._any: dict[int, list[float]] = {}  # pin -> logarithm of the likelihood of each of KINDS
        self._behind: dict[object, float] = {}  # hypotheses dropped: logarithm of the odds against the best then

    def learn(self, seen: Mapping[int, Seen], says: Mapping[object, Mapping[int, Says]]) -> None:
        """One look at the chip: what pins were seen to do, and what each hypothesis says of them."""
        for pin, one in seen.items():
            _add(self._any.setdefault(pin, [0.0] * len(KINDS)), one)
        for key, said in says.items():
            pins = self._pins[key]
            for pin, one in seen.items():
                pins.setdefault(pin, _History()).learn(one, said.get(pin, Says.NOTHING))

    def forget(self, pins: Iterable[int]) -> None:
        """What was seen at these pins so far was no fault of theirs."""
        for pin in pins:
            self._any.pop(pin, None)
            for histories in self._pins.values():
                histories.pop(pin, None)

    def drop(self, keys: Iterable[object]) -> None:
        """Hypotheses that are not followed any more: they keep the odds that they have now against the best one."""
        logs = self._followed()
        best = max(logs.values())
        for key in keys:
            self._behind[key] = logs[key] - best
            self._counted[key] = self.count(key)
            del self._pins[key]

    def far_behind(self, much: float) -> list[object]:
        """Hypotheses whose odds against the best one are worse than this (natural logarithm), by what they are sure of.

        One that leaves much open falls behind one that foretells it, but what was seen does not speak against it.
        """
        best = max(self._followed().values())
        return [key for key, x in self._followed(sure=True).items() if x < best - much]

    def _followed(self, other: float = BAD, shares: Sequence[float] = BAD_SHARES, sure: bool = False) -> dict[object, float]:
        """Natural logarithm of P(all that was seen | key) of all that are followed, if each pin may be another one.

        sure: of a sound pin only what the hypothesis is sure of.
        """
        return {
            key: sum(_either(log(1 - other) + (h.sure if sure else h.sound), log(other) + self._bad(pin, h, shares)) for pin, h in pins.items())
            for key, pins in self._pins.items()
        }

    def _bad(self, pin: int, history: _History, shares: Sequence[float]) -> float:
        return _mixed((*self._any[pin], history.unlike + history.sound - history.sure), shares)

    def bad_pins(self, key: object) -> tuple[int, ...]:
        """Pins that this hypothesis can explain only as bad."""
        return tuple(
            pin for pin, history in sorted(self._pins.get(key, {}).items())
            if log(BAD) + self._bad(pin, history, BAD_SHARES) > log(1 - BAD) + history.sound
        )  # fmt: skip

    def count(self, key: object) -> tuple[int, int]:
        """Readings that were as this hypothesis says, and that were not, as long as it was followed."""
        if key in self._counted:
            return self._counted[key]
        histories = self._pins[key].values()
        return sum(h.right for h in histories), sum(h.wrong for h in histories)

    def none(self) -> float:
        """Natural logarithm of P(all that was seen | none of these): a part like one of them, but not that one."""
        logs = self._followed(OTHER, OTHER_SHARES)
        return _mixed(list(logs.values()), [1 / len(logs)] * len(logs))

    def weights(self) -> tuple[dict[object, float], float]:
        """Probability of each hypothesis, all of them as likely beforehand, and that of none of them."""
        logs = self._followed()
        best = max(logs.values())
        logs |= {key: best + behind for key, behind in self._behind.items()}
        each = log((1 - NONE) / len(logs))
        none = self.none() + log(NONE * len(self._pins) / len(logs))
        top = max([none, *(x + each for x in logs.values())])
        raw = {key: exp(max(x + each - top, LEAST)) for key, x in logs.items()}
        rest = exp(max(none - top, LEAST))
        total = sum(raw.values()) + rest
        return {key: x / total for key, x in raw.items()}, rest / total


def _add(kinds: list[float], seen: Seen) -> None:
    for place, likely in enumerate(_OPEN[seen]):
        kinds[place] += likely


def _either(a: float, b: float) -> float:
    top = max(a, b)
    return top + log(exp(a - top) + exp(b - top))
