"""Behaviour of the part library against gate netlists that others made: digsim-logic-simulator 1.8.0 (PyPI, Clear BSD).

The netlists are read where pip put them.  Parts without memory: all combinations.  Parts with memory: 256 machines
side by side, each with its own random run, one pin at a time.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import random

import pytest
from lane_bench import Copies, excused, has, listed, spread
from logic_maps import DIGSIM
from yosys_gates import Bit, Netlist

MACHINES, STEPS = 256, 400
HELD = {"7448": (4, 5)}                  # BI/RBO and RBI, which the netlist does not have: high
INVERTED = {"7448": (3,)}                # its lamp test is active high, the chip's active low
# Up and down clocks: both high to begin with (before its first falling edge the netlist does not know which way),
# and never both low (data book: count with the other clock high).
NOT_BOTH_LOW = {"74193": (4, 5)}
# The chip counts too when its inhibit falls while the clock is high (Philips HEF4017B, function table, from memory); the
# netlist takes inhibit for an enable.  So the first pin moves only in copies in which the second is low.
ONLY_WHILE_LOW = {"4017": (13, 14)}
NETLISTS = sorted(name for name in DIGSIM if has(name))


class Pair:
    """Our part and the netlist, with the same levels at their pins."""

    def __init__(self, name: str, count: int) -> None:
        self.name, self.theirs, self.ours = name, Netlist(name, count), Copies(name, count)
        self.every = self.ours.every
        driven = {pins["Y"] for _, pins in self.theirs.gates} | {pins["Q"] for _, pins in self.theirs.states}
        nets: dict[int, Bit] = {pin: net for port, numbers in DIGSIM[name].items()
                                for pin, net in zip(numbers, self.theirs.ports[port], strict=True)}
        self.inputs = {pin: net for pin, net in nets.items() if net not in driven}
        self.outputs = {pin: net for pin, net in nets.items() if net in driven}
        self.levels: dict[int, int] = {}
        self.ours.apply({pin: self.every for pin in HELD.get(name, ())})

    def apply(self, levels: dict[int, int]) -> None:
        self.levels |= levels
        turned = INVERTED.get(self.name, ())
        self.theirs.set({self.inputs[pin]: self.every & ~ones if pin in turned else ones for pin, ones in levels.items()})
        self.ours.apply(levels)

    def compare(self) -> tuple[set[int], int]:
        """Pins in which the two differ as the list of errors has it, and how many levels were known; fails at any other."""
        wrong, known = set(), 0
        for pin, net in self.outputs.items():
            differ, sure = self.ours.differ(pin, self.theirs.get(net), self.theirs.off.get(net, 0))
            known += sure.bit_count()
            unexplained = differ & ~excused(f"digsim {self.name}", pin, self.levels, self.every)
            copy = (unexplained & -unexplained).bit_length() - 1
            assert not unexplained, (pin, {p: ones >> copy & 1 for p, ones in self.levels.items()})
            wrong |= {pin} if differ else set()
        return wrong, known


def compared(name: str) -> set[int]:
    """Run the comparison; the pins of which the netlist's errors showed."""
    if not Netlist(name, 1).states:
        count, levels = spread([*Pair(name, 1).inputs])
        pair = Pair(name, count)
        pair.apply(levels)
        wrong, known = pair.compare()
        assert known == count * len(pair.outputs)      # a part without memory is known throughout
        return wrong
    source = random.Random(name)
    pair = Pair(name, MACHINES)
    apart = NOT_BOTH_LOW.get(name, ())
    pair.apply({pin: pair.every if pin in apart else source.getrandbits(MACHINES) for pin in pair.inputs})
    found, known = set(), 0
    for _ in range(STEPS):
        pin, ones = source.choice([*pair.inputs]), source.getrandbits(MACHINES)
        if pin in apart:
            ones |= pair.every & ~pair.levels[apart[1 - apart.index(pin)]]
        if name in ONLY_WHILE_LOW and pin == ONLY_WHILE_LOW[name][0]:
            high = pair.levels[ONLY_WHILE_LOW[name][1]]
            ones = ones & ~high | pair.levels[pin] & high
        pair.apply({pin: ones})
        wrong, sure = pair.compare()
        found |= wrong
        known += sure
    assert known > 0.8 * STEPS * MACHINES * len(pair.outputs)      # most of the run is with a known state
    return found


@pytest.mark.parametrize("name", NETLISTS)
def test_does_what_the_netlist_does(name: str) -> None:
    assert {(f"digsim {name}", pin) for pin in compared(name)} == {e for e in listed("digsim") if e[0] == f"digsim {name}"}


def test_there_is_something_to_compare() -> None:
    assert len(NETLISTS) >= 7 and {"74181", "74151", "74138", "74194"} <= set(NETLISTS)


def test_a_wrong_pin_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison itself: two select inputs exchanged."""
    monkeypatch.setitem(DIGSIM, "74151", {**DIGSIM["74151"], "A": (10, 11, 9)})
    with pytest.raises(AssertionError):
        compared("74151")
    monkeypatch.setitem(DIGSIM, "74194", {**DIGSIM["74194"], "S0": (10,), "S1": (9,)})
    with pytest.raises(AssertionError):
        compared("74194")
