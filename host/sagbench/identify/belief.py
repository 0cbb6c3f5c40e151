"""Bayes' rule over candidates, with pins that may be bad.

What a pin is seen to do (`Seen`) is compared with what a candidate says of it.  Each pin of the chip is either sound
and does what its part does but for one reading in some hundreds, or, one time in fifty, bad: stuck low, stuck high,
without drive, or at random.  So the likelihood of a pin's history is

    (1 - BAD) prod P(seen | said) + BAD mean over the kinds of bad of prod P(seen | bad so)

and one dead output costs the truth a factor of some two hundred and no more, however often it is looked at.
"None of these" is a chip of which nothing is known: all its pins are of the bad kinds, without a price for each.
A wrong candidate explains some outputs and fails at others at random, each time at a price; "none" pays at all of
them.  So "none" wins where no candidate explains most of the outputs.

The rates are the author's own choice; the tests show what they come to.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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


ERROR = 0.004  # a sound pin read as something else: noise, a level between, a heavy input
BAD = 0.02  # pins that are dead, before anything is known of the chip
NONE = 0.02  # chips that the library has not
LEAST = -700.0  # natural logarithm of what is as good as zero

_DRIVEN = {Seen.FOLLOWS_LOW: (False, True), Seen.FOLLOWS_HIGH: (True, True), Seen.HOLDS_HIGH: (False, False),
           Seen.HOLDS_LOW: (True, False)}  # level of M, whether the pin has it


def chance(seen: Seen, said: Says) -> float:
    """P(seen | said) of a sound pin, given what M does there."""
    if seen in _DRIVEN:
        level, follows = _DRIVEN[seen]
        if said in (Says.UNKNOWN, Says.NOTHING):
            return 0.5
        agrees = said in (Says.INPUT, Says.OFF) or (said is Says.HIGH) == level
        return 1 - ERROR if agrees == follows else ERROR
    if said is Says.NOTHING:
        return 1 / 3
    if said is Says.UNKNOWN:
        return 0.2 if seen is Seen.OFF else 0.4
    if said is Says.INPUT:  # a bipolar input that nobody drives pulls itself up
        return 2 * ERROR if seen is Seen.LOW else 0.5 - ERROR
    right = {Says.LOW: Seen.LOW, Says.HIGH: Seen.HIGH, Says.OFF: Seen.OFF}[said]
    return 1 - 2 * ERROR if seen is right else ERROR


BAD_KINDS = (Says.LOW, Says.HIGH, Says.OFF, Says.NOTHING)


class Belief:
    """The history of each pin under each hypothesis; keys are whatever tells hypotheses apart."""

    def __init__(self, keys: Iterable[object]) -> None:
        self._sound: dict[object, dict[int, float]] = {key: {} for key in keys}
        self._count = {key: [0, 0] for key in self._sound}
        self._bad: dict[int, dict[Says, float]] = {}
        self._behind: dict[object, float] = {}  # hypotheses dropped: logarithm of the odds against the best then

    def learn(self, seen: Mapping[int, Seen], says: Mapping[object, Mapping[int, Says]]) -> None:
        """One look at the chip: what pins were seen to do, and what each hypothesis says of them."""
        for pin, one in seen.items():
            kinds = self._bad.setdefault(pin, dict.fromkeys(BAD_KINDS, 0.0))
            for kind in BAD_KINDS:
                kinds[kind] += log(chance(one, kind))
        for key, said in says.items():
            history, count = self._sound[key], self._count[key]
            for pin, one in seen.items():
                likely = chance(one, said.get(pin, Says.NOTHING))
                history[pin] = history.get(pin, 0.0) + log(likely)
                count[0] += likely > 1 - 3 * ERROR
                count[1] += likely < 3 * ERROR

    def drop(self, keys: Iterable[object]) -> None:
        """Hypotheses that are not followed any more: they keep the odds that they have now against the best one."""
        logs = self._followed()
        best = max(logs.values())
        for key in keys:
            self._behind[key] = logs[key] - best
            del self._sound[key]

    def far_behind(self, much: float) -> list[object]:
        """Hypotheses whose odds against the best one are worse than this (natural logarithm)."""
        logs = self._followed()
        best = max(logs.values())
        return [key for key, x in logs.items() if x < best - much]

    def _followed(self) -> dict[object, float]:
        """Natural logarithm of P(all that was seen | key) of all that are followed."""
        bad = {pin: log(BAD) + self._bad_pin(pin) for pin in self._bad}
        sound = log(1 - BAD)
        return {key: sum(_either(sound + x, bad[pin]) for pin, x in pins.items()) for key, pins in self._sound.items()}

    def _bad_pin(self, pin: int) -> float:
        kinds = self._bad[pin]
        top = max(kinds.values())
        return top + log(sum(exp(x - top) for x in kinds.values()) / len(kinds))

    def bad_pins(self, key: object) -> tuple[int, ...]:
        """Pins that this hypothesis can explain only as bad."""
        return tuple(
            pin for pin, sound in sorted(self._sound.get(key, {}).items())
            if log(BAD) + self._bad_pin(pin) > log(1 - BAD) + sound + log(1 / ERROR) / 2
        )  # fmt: skip

    def count(self, key: object) -> tuple[int, int]:
        """Readings that were as this hypothesis says, and that were not, as long as it was followed."""
        right, wrong = self._count[key]
        return right, wrong

    def none(self) -> float:
        """Natural logarithm of P(all that was seen | none of these)."""
        return sum(self._bad_pin(pin) for pin in self._bad)

    def weights(self) -> tuple[dict[object, float], float]:
        """Probability of each hypothesis, all of them as likely beforehand, and that of none of them."""
        logs = self._followed()
        best = max(logs.values())
        logs |= {key: best + behind for key, behind in self._behind.items()}
        each = log((1 - NONE) / max(len(logs), 1))
        none = self.none() + log(NONE)
        top = max([none, *(x + each for x in logs.values())])
        raw = {key: exp(max(x + each - top, LEAST)) for key, x in logs.items()}
        rest = exp(max(none - top, LEAST))
        total = sum(raw.values()) + rest
        return {key: x / total for key, x in raw.items()}, rest / total


def _either(a: float, b: float) -> float:
    top = max(a, b)
    return top + log(exp(a - top) + exp(b - top))
