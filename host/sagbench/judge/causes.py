"""From wrong answers to their cause: which single input, stuck inside the chip, would give exactly these answers?

All inputs stuck low and stuck high are played at once, each in a lane of the part's behaviour;
a lane that contradicts one answer, right or wrong, is out.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection

from sagbench.judge.limits import pin_name
from sagbench.judge.logic import Answer, is_right, level
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect, Part, Role
from sagbench.record import Finding, Outcome

MOST_CAUSES = 3  # more causes than this are no explanation
WEIGHT = 99.2


def _seen(part: Part, answer: Answer) -> str:
    """What the output did: "L", "H", "Z" or "?".

    One that can be off and shows no proper level where it should drive is off: a bipolar one floats there; an open
    collector that is high is off.
    """
    if answer.volts is None:
        return "?"
    if answer.expect is Expect.OFF and is_right(part, answer):
        return "Z"
    seen = level(part, answer.pin, answer.volts)
    if part.pin(answer.pin).role is Role.OPEN_COLLECTOR and seen == "H":
        return "Z"
    can_be_off = part.pin(answer.pin).role in (Role.TRI_STATE, Role.BIDIRECTIONAL)
    return "Z" if seen == "?" and can_be_off and answer.expect is not Expect.OFF else seen


def causes(part: Part, network: Network, given: Collection[Answer]) -> list[tuple[int, bool]]:
    """(input pin, level it is stuck at) of every single stuck input that explains all answers."""
    wrong = [a for a in given if is_right(part, a) is False]
    if not wrong or any(_seen(part, a) == "?" for a in given):
        return []
    tried = [
        (pin.number, high) for pin in part.of_role(Role.INPUT) if pin.name in network.slots for high in (False, True)
    ]
    faults: dict[int, tuple[int, int]] = {}
    for lane, (pin, high) in enumerate(tried):
        ones, zeros = faults.get(slot := network.slots[part.pin(pin).name], (0, 0))
        faults[slot] = (ones | 1 << lane, zeros) if high else (ones, zeros | 1 << lane)
    machine = Machine(network, len(tried), faults)
    possible, explains, perhaps = machine.all, 0, 0
    unknown: dict[tuple[int, str], int] = {}  # pin and what it did -> lanes in which that was not foreseen
    for index, step in enumerate(part.sequence):
        machine.set(part.named(step))
        for answer in (a for a in given if a.step == index):
            low, high_lanes, off = machine.output(part.pin(answer.pin).name)
            does = {"L": low, "H": high_lanes, "Z": off}
            seen = _seen(part, answer)
            same = does.pop(seen)
            for others in does.values():
                possible &= ~others
            open_lanes = machine.all & ~(low | high_lanes | off)
            unknown[answer.pin, seen] = unknown.get((answer.pin, seen), 0) | open_lanes
            if answer in wrong:
                explains, perhaps = explains | same, perhaps | open_lanes
    # With its clock stuck a part stays in the state it woke up in: not known, but the same all along.
    perhaps &= sum(1 << lane for lane, (pin, _) in enumerate(tried) if part.pin(pin).clock)
    for pin in {pin for pin, _ in unknown}:
        perhaps &= ~(unknown.get((pin, "L"), 0) & unknown.get((pin, "H"), 0))
    return [cause for lane, cause in enumerate(tried) if possible & (explains | perhaps) & 1 << lane]


def _one_output_stands_still(part: Part, given: Collection[Answer]) -> bool:
    wrong = {a.pin for a in given if is_right(part, a) is False}
    return len(wrong) == 1 and len({_seen(part, a) for a in given if a.pin in wrong}) == 1


def explain(part: Part, network: Network, given: Collection[Answer]) -> Finding | None:
    """A finding that names the input, or the few that come into question; None if no single input explains it."""
    if _one_output_stands_still(part, given):
        return None  # a stuck output is the plainer word for it
    found = causes(part, network, given)
    if not found or len(found) > MOST_CAUSES:
        return None
    named = " or ".join(f"{pin_name(part, pin)} stuck {'high' if high else 'low'}" for pin, high in found)
    return Finding(
        "logic",
        Outcome.BEYOND,
        f"all its wrong answers are those of {named}: "
        f"{'this input is' if len(found) == 1 else 'one of these inputs is'} dead inside, or cut off",
        found[0][0],
        state="cause",
        weight=WEIGHT,
    )
