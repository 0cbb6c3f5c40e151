"""CMOS: in which states the supply current at rest is looked at, so that a leak from any output to either rail shows.

An output's leak to the supply takes current only while the output is low, one to ground only while it is high.  So
few steps of the part's own test are chosen in which, together, every output is low, high and off; and a few more in
which outputs differ from each other, so that the current tells which of them leaks.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass

from sagbench.parts.model import Expect, Part, Role, SupplyState

LOOK_AT = 300  # steps of the test that are searched
MOST_PULSES = 3000  # on the way to a state
MOST = 10  # states
QUIESCENT = "quiescent in step {}"

Level = tuple[int, Expect]  # output pin, what it does


@dataclass(frozen=True)
class Rest:
    """A state at rest, and what each output does in it."""

    state: SupplyState
    does: frozenset[Level]


def resting(part: Part) -> list[Rest]:
    """The states, in order of their steps; none for parts with a bipolar pin, without a limit, or with an analog pin:
    nothing holds that, and a CMOS gate that floats draws what it likes."""
    limits = [state.limit for state in part.supply_states if state.limit]
    if not limits or part.of_role(Role.ANALOG) or any(pin.technology == "ttl" for pin in part.limits.values()):
        return []
    loosest = max(limits, key=lambda limit: limit.value)
    return [
        Rest(SupplyState(QUIESCENT.format(index + 1), part.sequence[: index + 1], loosest), does)
        for index, does in _chosen(_candidates(part)).items()
    ]


def _candidates(part: Part) -> dict[int, frozenset[Level]]:
    """Steps in which every input is driven: step -> what the outputs do."""
    found: dict[int, frozenset[Level]] = {}
    levels: dict[int, bool | None] = {}
    pulses = 0
    for index, step in enumerate(part.sequence[:LOOK_AT]):
        levels.update(step.set)
        pulses += sum(step.pulses.values())
        if pulses > MOST_PULSES:
            break
        drives = {p for p, level in step.expect.items() if level is not Expect.OFF}
        floating = [p for p in part.inputs if levels.get(p.number) is None and p.number not in drives]
        if step.expect and not floating:
            found[index] = frozenset(step.expect.items())
    return found


def _chosen(candidates: dict[int, frozenset[Level]]) -> dict[int, frozenset[Level]]:
    """Greedily: first every level of every output, then pairs of outputs that have only been seen alike."""
    chosen: dict[int, frozenset[Level]] = {}
    missing = {level for does in candidates.values() for level in does}
    while missing and len(chosen) < MOST:
        best = max(candidates, key=lambda i: (len(candidates[i] & missing), -i))
        chosen[best] = candidates[best]
        missing -= candidates[best]
    while len(chosen) < MOST:
        alike = _alike(chosen)
        best = max(candidates, key=lambda i: (_parts(alike, candidates[i]), -i), default=-1)
        if best < 0 or not _parts(alike, candidates[best]):
            break
        chosen[best] = candidates[best]
    return dict(sorted(chosen.items()))


def _alike(chosen: dict[int, frozenset[Level]]) -> list[frozenset[int]]:
    """Groups of outputs that did the same in every state chosen so far."""
    histories: dict[int, list[Expect | None]] = {}
    pins = {pin for does in chosen.values() for pin, _ in does}
    for does in chosen.values():
        now = dict(does)
        for pin in pins:
            histories.setdefault(pin, []).append(now.get(pin))
    groups: dict[tuple[Expect | None, ...], set[int]] = {}
    for pin, history in histories.items():
        groups.setdefault(tuple(history), set()).add(pin)
    return [frozenset(group) for group in groups.values() if len(group) > 1]


def _parts(groups: list[frozenset[int]], does: frozenset[Level]) -> int:
    """How many more groups there would be with this state."""
    now = dict(does)
    return sum(len({now.get(pin) for pin in group}) - 1 for group in groups)
