"""A monostable's pulse: does it fire, does it end, is it about as long as the data book's formula has it.

The limits are a factor of 3 to either side of the formula, for three reasons: the formula holds from some 1 nF on and
the data books' graphs bend upwards below; the fixture's capacitance is known to half of itself (that part stands in U);
makers' figures of one type differ by up to two. So a pulse of twice its length passes here, and its sentence says so.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import replace

from sagbench.judge.limits import outcome, pin_name
from sagbench.judge.rule import margin
from sagbench.measure.model import Model
from sagbench.measure.pulses import BLIND_S, Timed
from sagbench.parts.model import Part, PulseTest
from sagbench.plan.pulses import FOLLOWED_S, SHOTS
from sagbench.record import Finding, Outcome

COARSE = 3.0  # so many times the formula's width, or so little of it, is beyond
DEAD, ENDLESS, NOW_AND_THEN, LENGTH, AGAIN = 78.0, 77.0, 70.0, 60.0, 25.0  # weights
CERTAIN_S = 2e-6  # a pulse of this length cannot be overlooked
NO_CAPACITOR_S = 10e-6  # far beyond any pulse without a capacitor between its pins
PROLONGED, NOT_PROLONGED = 0.5, 0.25  # of the time between two triggers


def judge_pulse(part: Part, test: PulseTest, found: Timed | None) -> list[Finding]:
    """Findings on one way to trigger, on the output's pin; NOT_MEASURED where nothing can be told."""
    if found is None:
        return [_finding(part, test, Outcome.NOT_MEASURED, "its pulse was not measured")]
    if found.untriggered:
        return [_finding(part, test, Outcome.BEYOND, "it left its rest level before anything had triggered it", ENDLESS)]
    if found.endless:
        return [_finding(part, test, Outcome.BEYOND, "its pulse does not end within 30 ms", ENDLESS)]
    if not found.seen:
        return [_unseen(part, test, found)]
    if found.seen < SHOTS and found.length * SHOTS / found.seen > CERTAIN_S:
        text = f"it fired only {found.seen} of {SHOTS} times"
        return [_finding(part, test, Outcome.BEYOND, text, NOW_AND_THEN)]
    again = _again(part, test, found)
    return [_length(part, test, found), *([again] if again else [])]


def _finding(part: Part, test: PulseTest, what: Outcome, text: str, weight: float = 0.0) -> Finding:
    return Finding("TW", what, f"{_where(part, test)}: {text}", test.output, state=trigger(part, test), source=test.source,
                   weight=weight)


def trigger(part: Part, test: PulseTest) -> str:
    """ "triggered by pin 2 (1B) going high"."""
    return f"triggered by {pin_name(part, test.trigger)} going {'low' if test.ready[test.trigger] else 'high'}"


def _where(part: Part, test: PulseTest) -> str:
    return f"{pin_name(part, test.output)}, {trigger(part, test)}"


def _span(test: PulseTest, found: Timed) -> tuple[float, float] | None:
    """Seconds between which a pulse passes; None if the data book's formula is for a capacitor that is not there."""
    if test.factor is None:
        return None
    return test.factor[0] * found.nominal_rc / COARSE, test.factor[1] * found.nominal_rc * COARSE


def _formula(test: PulseTest, found: Timed) -> str:
    if test.factor is None:
        return "its capacitor belongs between two pins, where the fixture has none"
    low, high = (f"{factor * found.nominal_rc * 1e6:.2g}" for factor in test.factor)
    span = low if low == high else f"{low} to {high}"
    return (f"the data book's formula gives {span} µs for {found.ohm / 1e3:.3g} kΩ and the fixture's own "
            f"{found.farad * 1e12:.0f} pF or so")


def _unseen(part: Part, test: PulseTest, found: Timed) -> Finding:
    span = _span(test, found)
    if span and span[0] > BLIND_S:
        return _finding(part, test, Outcome.BEYOND, f"it does not fire; {_formula(test, found)}", DEAD)
    return _finding(part, test, Outcome.NOT_MEASURED, f"no pulse was seen, and one shorter than {BLIND_S * 1e6:.2g} µs escapes the "
                    f"fixture; {_formula(test, found)}")


def _length(part: Part, test: PulseTest, found: Timed) -> Finding:
    span = _span(test, found)
    if found.width is None:
        text = f"its pulse lasts more than {FOLLOWED_S * 1e3:.1f} ms; {_formula(test, found)}"
        return _finding(part, test, Outcome.BEYOND, text, LENGTH)
    width = Model.quantity(found.width.number, "s")
    said = f"it fires and ends by itself; its pulse lasted {width.value * 1e6:.2g} µs ± {width.u * 1e6:.2g}; {_formula(test, found)}"
    if span is None:
        odd = width.value - width.u > NO_CAPACITOR_S
        finding = _finding(part, test, Outcome.ODD if odd else Outcome.WITHIN, said, AGAIN if odd else 0.0)
        return replace(finding, value=width)
    least, most = (outcome(width, limit, kind) for limit, kind in zip(span, ("min", "max"), strict=True))
    short = least is not Outcome.WITHIN and span[0] > BLIND_S  # below that the fixture cannot tell
    what, limit, kind = (least, span[0], "min") if short else (most, span[1], "max")
    verdict = {
        Outcome.BEYOND: f": {'less than a third' if short else 'more than three times'} of that",
        Outcome.UNSURE: f"; that is too near {'a third' if short else 'three times'} of it to tell",
    }.get(what, "; from a third to three times of that passes")
    finding = _finding(part, test, what, said + verdict, LENGTH if what is Outcome.BEYOND else 0.0)
    return replace(finding, value=width, limit=limit, limit_kind=kind, margin=margin(width, limit, kind))


def _again(part: Part, test: PulseTest, found: Timed) -> Finding | None:
    """A second trigger within the pulse; what is between the bounds says nothing."""
    if found.prolonged is None or test.retriggers is None:
        return None
    if test.retriggers and found.prolonged < NOT_PROLONGED:
        text = "a second trigger in its pulse does not prolong it, as it should"
    elif not test.retriggers and found.prolonged > PROLONGED:
        text = "a second trigger in its pulse prolongs it, as it should not: of another type?"
    else:
        return None
    return _finding(part, test, Outcome.ODD, text, AGAIN)
