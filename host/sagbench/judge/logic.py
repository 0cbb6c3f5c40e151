"""The logic test judged: which answers are wrong, and what that says of each output.

Levels are taken by VIL and VIH of the output's family: what the next chip would read.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from sagbench.judge.limits import in_volts, pin_name, under_load
from sagbench.parts.model import Expect, Part
from sagbench.plan.logic import expected, levels_at
from sagbench.plan.recipe import Reading, Readings
from sagbench.plan.seat import Seat
from sagbench.record import Finding, LogicMiss, LogicRecord, Outcome


STRONG_HIGH_V, STRONG_LOW_V = 2.7, 0.45  # what an output that drives reaches without load, in any family
NO_LEVEL = "neither low nor high"


@dataclass(frozen=True)
class Answer:
    """One output in one step: what it should do, what was read (volts against its ground; None: not measured)."""

    step: int
    pin: int
    expect: Expect
    volts: float | None
    pulled_low: float | None = None  # only for Expect.OFF: volts under the weak load to 0 V; `volts` is then under 5 V


def level(part: Part, pin: int, volts: float) -> str:
    """ "L", "H", or "?" between VIL and VIH."""
    limits = part.limits[pin]
    return "L" if volts <= limits.vil.value else "H" if volts >= limits.vih.value else "?"


def is_right(part: Part, answer: Answer) -> bool | None:
    """True, False, or None if not measured."""
    if answer.volts is None:
        return None
    seen = level(part, answer.pin, answer.volts)
    if answer.expect is not Expect.OFF:
        return seen == answer.expect.value
    if answer.pulled_low is None:
        return None
    return seen == "H" and level(part, answer.pin, answer.pulled_low) == "L"


def answers(part: Part, seat: Seat, readings: Readings, volts: Callable[[Reading], float]) -> tuple[Answer, ...]:
    """The answers of one play of the sequence, in order. `volts`: a reading at the pin, against the chip's ground."""
    seen: dict[tuple[str, int, int], float | None] = {}
    for r in readings.all:
        if r.mark.step >= 0 and not r.mark.under:
            at_pin = None if r.total is None else volts(r)
            seen[r.mark.label, r.mark.step, seat.pin_at(r.mark.position)] = at_pin
    out = []
    for index, step in enumerate(part.sequence):
        for pin, want in expected(part, step, ()).items():
            if want is Expect.OFF:
                if ("off up", index, pin) in seen:
                    out.append(Answer(index, pin, want, seen["off up", index, pin], seen.get(("off down", index, pin))))
            else:
                key = next((k for k in (("level", index, pin), ("loaded", index, pin)) if k in seen), None)
                if key:
                    out.append(Answer(index, pin, want, seen[key]))
    return tuple(out)


def without_consequences(part: Part, given: Iterable[Answer], stuck: Mapping[int, bool | None]) -> tuple[Answer, ...]:
    """Answers that count although some inputs cannot be driven.

    stuck: input pin -> the level it has for good (None: any, it goes with another pin).  A wrong answer in a step that
    wants another level there is no news; in a part with a memory, neither is one in any step after it.
    """
    clocked = any(pin.clock for pin in part.pins)
    levels = [levels_at(part, index) for index in range(len(part.sequence))]
    upset = [any(pin in now and (level is None or now[pin] != level) for pin, level in stuck.items()) for now in levels]
    first = upset.index(True) if any(upset) else len(upset)
    return tuple(
        a for a in given if not (is_right(part, a) is False and (upset[a.step] or clocked and a.step >= first))
    )


def record(part: Part, load: str, steps: int, given: Iterable[Answer]) -> LogicRecord:
    """The record of one play: how many checks, which missed."""
    checks, misses = 0, []
    for answer in given:
        right = is_right(part, answer)
        checks += right is not None
        if right is False:
            misses.append(
                LogicMiss(
                    answer.step,
                    answer.pin,
                    answer.expect.value,
                    round(answer.volts or 0.0, 4),
                    load,
                    dict(levels_at(part, answer.step)),
                )
            )
    return LogicRecord(load, steps, checks, tuple(misses))


def judge_pin(part: Part, pin: int, given: Collection[Answer], weakly: Collection[Answer] = ()) -> Finding:
    """What the unloaded test says of one output. `weakly`: the same under the weak load, to see if it drives at all."""
    mine = [a for a in given if a.pin == pin]
    rights = [is_right(part, a) for a in mine]
    name = pin_name(part, pin)
    if not mine or None in rights:
        return Finding("logic", Outcome.NOT_MEASURED, f"{name}: the logic test has not looked at it", pin)
    wrong = [a for a, right in zip(mine, rights, strict=True) if not right]
    if follows_any_load(part, pin, weakly) and not _inverted(part, mine):
        return Finding(
            "logic",
            Outcome.BEYOND,
            f"{name} drives nothing, it follows any load: its output stage or its bond is open",
            pin,
            weight=97,
        )
    if not wrong:
        return Finding("logic", Outcome.WITHIN, f"{name} answers rightly in all {len(mine)} checks", pin)
    return Finding(
        "logic", Outcome.BEYOND, f"{name} {_in_words(part, mine, wrong)}", pin, weight=90 + 9 * len(wrong) / len(mine)
    )


def follows_any_load(part: Part, pin: int, weakly: Collection[Answer]) -> bool:
    """True if a totem-pole output never resists the weak load, up or down."""
    driven = [a for a in weakly if a.pin == pin and a.expect is not Expect.OFF and a.volts is not None]
    ways = {a.expect for a in driven}
    return len(ways) == 2 and all(
        level(part, pin, a.volts or 0.0) == ("H" if a.expect is Expect.LOW else "L") for a in driven
    )


def _inverted(part: Part, mine: Collection[Answer]) -> bool:
    """True if it drives, and in every step to the opposite of what it should be, as another part does.

    Loads pull an output towards the wrong level, so that under load such a one looks as if it followed them; what
    floats has no strong levels without load.
    """
    driven = [a for a in mine if a.expect is not Expect.OFF and a.volts is not None]
    return len({a.expect for a in driven}) == 2 and all(
        (a.volts or 0.0) > STRONG_HIGH_V if a.expect is Expect.LOW else (a.volts or 0.0) < STRONG_LOW_V for a in driven
    )


def _in_words(part: Part, mine: list[Answer], wrong: list[Answer]) -> str:
    if all(a.expect is Expect.OFF for a in wrong):
        return f"does not let go: it should be off, and drives {_where(part, wrong[0])}"
    driven = [a for a in mine if a.expect is not Expect.OFF]
    seen = {level(part, a.pin, a.volts) for a in driven if a.volts is not None}
    typical = sorted(a.volts or 0.0 for a in wrong)[len(wrong) // 2]
    if seen == {"L"}:
        return "is stuck low: it never goes high"
    if seen == {"H"}:
        return "is stuck high: it never goes low"
    if {level(part, a.pin, a.volts or 0.0) for a in wrong} == {"?"}:
        return f"gives no proper level: {in_volts(typical)}, {NO_LEVEL}"
    first = wrong[0]
    how_often = f"answers wrongly in {len(wrong)} of {len(mine)} checks"
    return f"{how_often}, first in step {first.step + 1}: {_case(part, first)}"


def _where(part: Part, answer: Answer) -> str:
    low = answer.volts is not None and level(part, answer.pin, answer.volts) != "H"
    return "low" if low else "high"


def _case(part: Part, answer: Answer) -> str:
    got = "not measured" if answer.volts is None else in_volts(answer.volts)
    want = {"L": "low", "H": "high", "Z": "off"}[answer.expect.value]
    return f"{got} where it should be {want}"


def wrong_part(part: Part, findings: Iterable[Finding]) -> Finding | None:
    """A finding on the whole chip if no output answers rightly: more likely the wrong part than so many faults.

    Outputs without proper levels say nothing of what part they are.
    """
    said = [f for f in findings if f.quantity == "logic" and not f.state and f.outcome is not Outcome.NOT_MEASURED]
    if len(said) < 2 or any(f.outcome is Outcome.WITHIN for f in said) or all(NO_LEVEL in f.sentence for f in said):
        return None
    return Finding(
        "logic",
        Outcome.BEYOND,
        f"none of its {len(said)} outputs answers as those of a {part.name} must: see that it is one",
        weight=99.5,
    )


def give_way(
    part: Part, pin: int, load: str, given: Collection[Answer], unloaded: Mapping[tuple[int, int], bool | None]
) -> Finding | None:
    """A finding if the output answers rightly without load but not at this load point."""
    lost = [a for a in given if a.pin == pin and is_right(part, a) is False and unloaded.get((a.step, pin))]
    if not lost:
        return None
    low = any(a.expect is Expect.LOW for a in lost)
    worst = (max if low else min)((a for a in lost if (a.expect is Expect.LOW) == low), key=lambda a: a.volts or 0.0)
    return Finding(
        "logic",
        Outcome.BEYOND,
        f"{pin_name(part, pin)} is right without load but gives way {under_load(load)}: "
        f"{in_volts(worst.volts or 0.0)} where it should be {'low' if low else 'high'}",
        pin,
        state=load,
        weight=75,
    )
