"""Names for the pins and wires of a draft, and cells that are alike.

A cell is what belongs to one state bit, or to one output without memory: its outputs, and the inputs that nothing else
hangs on.  Cells whose statements are the same but for names become one block with `each`.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from string import ascii_uppercase

from sagbench.learn.functions import Sampled, written
from sagbench.learn.laws import Gate, Law, Learnt, Memory
from sagbench.parts.model import Role

NEVER, NEVER_SURE = "guessed: it never changed, which is what a dead output looks like: try another specimen", 0.5
NOTHING = "did nothing that could be seen: not connected, or a dead output, or an input of one"
MOST_TURNED = 4  # own inputs of a cell whose order is tried in all ways

Names = Mapping[int, str]  # variable -> name


@dataclass(frozen=True)
class Cell:
    """Outputs (pins) that go together, and variables of inputs that are theirs alone, in the order of their letters."""

    outputs: tuple[int, ...]
    own: tuple[int, ...]
    text: tuple[str, ...] = ()  # statements with {} for its number


def uses(learnt: Learnt, pin: int) -> int:
    """A mask of variables that an output's statements name, its own state bit left out."""
    law, count = learnt.laws[pin], learnt.variables
    functions = [f for f in (law.value, law.off) if f]
    mask = 0
    if pin in learnt.memories:
        memory = learnt.memories[pin]
        functions += memory.functions
        mask = memory.clocks
    for function in functions:
        mask |= function.support(count)
    return mask & ~_bit(learnt, pin)


def _bit(learnt: Learnt, pin: int) -> int:
    return 1 << len(learnt.inputs) + learnt.states.index(pin) if pin in learnt.states else 0


def cells(learnt: Learnt) -> list[Cell]:
    """All cells, by their lowest output."""
    n = len(learnt.inputs)
    groups: list[tuple[list[int], int]] = [([pin], uses(learnt, pin)) for pin in learnt.states]
    for pin in learnt.outputs:
        if pin in learnt.laws and pin not in learnt.states:
            mask = uses(learnt, pin)
            shown = mask >> n
            home = groups[shown.bit_length() - 1] if shown.bit_count() == 1 else None
            if home:
                home[0].append(pin)
                home = (home[0], home[1] | mask & ~_bit(learnt, home[0][0]))
                groups[shown.bit_length() - 1] = home
            else:
                groups.append(([pin], mask))
    count = Counter(i for _, mask in groups for i in range(n) if (mask >> i) & 1)
    made = [Cell(tuple(pins), tuple(i for i in range(n) if (mask >> i) & 1 and count[i] == 1 and learnt.inputs[i] not in learnt.outputs)) for pins, mask in groups]
    return sorted(made, key=lambda cell: min(cell.outputs))


def turned(cell: Cell) -> Iterator[Cell]:
    """The same cell with its own inputs in other orders."""
    if len(cell.own) > MOST_TURNED:
        yield cell
        return
    for own in permutations(cell.own):
        yield Cell(cell.outputs, own)


def statements(learnt: Learnt, cell: Cell, names: Names) -> tuple[str, ...]:
    """A cell's statements; `names` of the variables, {} in those of the cell's own."""
    first = list(cell.own)
    order = first + [i for i in range(learnt.variables) if i not in first]
    lines: list[str] = []
    for k, pin in enumerate(cell.outputs):
        lines += _Writer(learnt, order, names, f"{{}}w{k}").of(pin, out_name(cell, k))
    return tuple(lines)


def out_name(cell: Cell, k: int) -> str:
    """`{}Y`, or `{}Y` and `{}Z` and so on where a cell has several."""
    return "{}" + ("YZXWVU"[k] if k < 6 else f"Y{k}")


class _Writer:
    def __init__(self, learnt: Learnt, order: Sequence[int], names: Names, wire: str) -> None:
        self.learnt, self.order, self.wire, self.number = learnt, order, wire, 0
        self.names = [names[i] for i in order]

    def expression(self, function: Sampled, lines: list[str]) -> str:
        """A function's expression; wires it needs are added to the lines."""
        where = {i: k for k, i in enumerate(self.order)}

        def moved(points: frozenset[int]) -> frozenset[int]:
            return frozenset(sum(1 << where[i] for i in range(point.bit_length()) if (point >> i) & 1) for point in points)

        count = self.learnt.variables
        function = function.over(function.support(count))
        text, wires = written(Sampled(moved(function.ones), moved(function.zeros)), count, self.names, f"{self.wire}{'abcd'[self.number]}")
        self.number += bool(wires)
        lines += wires
        return text

    def of(self, pin: int, out: str) -> list[str]:
        """An output's statements: its state bit, its level, when it is on."""
        lines: list[str] = []
        law = self.learnt.laws[pin]
        value = "{}q" if law.value is None else self.expression(law.value, lines)
        if pin in self.learnt.memories:
            lines += self._memory(self.learnt.memories[pin])
        pulled = law.role is Role.BIDIRECTIONAL and law.off is None
        on = " when 1" if pulled else "" if law.off is None else f" when {self.expression(Sampled(law.off.zeros, law.off.ones), lines)}"
        return [*lines, f"{out} = {value}{on}"]

    def _memory(self, memory: Memory) -> list[str]:
        lines: list[str] = []
        clear, force = self.expression(memory.clear, lines), self.expression(memory.set, lines)
        ends = "".join(f", {word} {text}" for word, text in (("clear", clear), ("set", force)) if text != "0")
        if memory.turns:
            used = [f"{self._used(turn.gate)} & ({self.expression(turn.turns, lines)})" for turn in memory.turns]
            return [*lines, f"{{}}c = {' | '.join(used)}", f"{{}}q := !{{}}q on falling {{}}c{ends}"]
        if memory.gate is None:
            return [*lines, f"{{}}s = {force}", f"{{}}q := {{}}s while {{}}s | {clear}"]
        following = self.expression(memory.next, lines)
        gate, edge = self._gate(memory.gate)
        return [*lines, f"{{}}q := {following} on {edge} {gate}{ends}"]

    def _used(self, gate: Gate) -> str:
        """True until the edge of a clock of one input."""
        text = self._gate(gate)[0]
        return (text[1:] if text.startswith("!") else f"!{text}") if gate.rising else text

    def _gate(self, gate: Gate) -> tuple[str, str]:
        names = dict(zip(self.order, self.names, strict=True))
        terms = [("" if (gate.at >> i) & 1 else "!") + names[i] for i in range(gate.mask.bit_length()) if (gate.mask >> i) & 1]
        return " & ".join(terms), "rising" if gate.rising else "falling"


def named(learnt: Learnt, grouped: Sequence[Sequence[Cell]]) -> tuple[dict[int, str], dict[int, str]]:
    """Names of inputs' and states' variables, and of outputs' pins; cells of a group of several are numbered."""
    variables, pins = {}, {}
    number = 0
    for group in grouped:
        for cell in group:
            number += 1
            for k, pin in enumerate(cell.outputs):
                pins[pin] = out_name(cell, k).format(number)
                if pin in learnt.states:
                    variables[len(learnt.inputs) + learnt.states.index(pin)] = f"{number}q"
            for letter, i in zip(ascii_uppercase, cell.own, strict=False):
                variables[i] = f"{number}{letter}"
    clocks = {i for m in learnt.memories.values() for i in range(m.clocks.bit_length()) if (m.clocks >> i) & 1}
    for i, pin in enumerate(learnt.inputs):
        if pin in pins:
            variables[i] = pins[pin]
        elif i not in variables:
            variables[i] = f"{'CK' if i in clocks else 'I'}{pin}"
    return variables, pins


def kind(role: Role) -> str:
    """The list of a block that an output of this role stands in."""
    return {Role.OUTPUT: "outputs", Role.OPEN_COLLECTOR: "open_collector", Role.TRI_STATE: "tri_state", Role.BIDIRECTIONAL: "bidirectional"}[role]


def law_words(learnt: Learnt, law: Law) -> tuple[float, str]:
    """Confidence in an output's law, 0 to 1, and why, in words."""
    from sagbench.learn.levels import combinations

    if law.value and not law.off and not (law.value.ones and law.value.zeros) and law.pin not in learnt.memories:
        return NEVER_SURE, NEVER
    if law.exhaustive:
        return 1.0, "proven: every combination of its inputs was tried"
    functions = [law.value] if law.value else []
    if law.pin in learnt.memories:
        memory = learnt.memories[law.pin]
        functions += memory.functions
    seen = min((combinations(f, f.support(learnt.variables)) for f in functions if f.ones or f.zeros), default=0.0)
    return round(0.95 * seen, 2), f"guessed: {seen:.0%} of the combinations of what it seems to hang on were seen"
