"""Behaviour of the part library against the Verilog models of tkgate-data 2.1 (Debian, GPL-2+), all input combinations.

Left out, because the models themselves are not usable (seen in their text):
74xx.v: H7474 and H74175 take data only while preset and clear are both active; H74163 loads without a clock;
H7404 names one port twice and another not at all (its gate-level brother is compared).
74xxGateLevel.v: SN7470 compares with x, which no level equals; SN74118 has a memory, and the library has no 118.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from pathlib import Path

import pytest
from lane_bench import Copies, excused, function_of, has, listed, spread
from logic_maps import TKGATE
from verilog_models import modules, run

HELD = {"7447": (4, 5)}                  # the model wires BI/RBO in one direction only and does nothing with RBI: both high
UNFIT = {"H7474", "H74175", "H74163", "H7404", "SN7470", "SN74118"}


def type_of(module: str) -> str:
    return f"74{module.removeprefix('SN').removeprefix('H').removeprefix('74')}"


MODELS = sorted(key for key in TKGATE if has(type_of(key[1])))


def compared(key: tuple[str, str], folder: Path) -> set[int]:
    """Pins of which the model's errors showed; fails at any other difference."""
    file, module = key
    name = type_of(module)
    wiring = {signal: int(pin) for signal, pin in (item.split("=") for item in TKGATE[key].split())}
    part = Copies(name, 1).part
    held = HELD.get(name, ())
    moving = [pin for pin in wiring.values() if part.pin(pin).role.is_input and pin not in held]
    count, levels = spread(moving)
    ours = Copies(name, count)
    levels |= {pin: ours.every for pin in held}
    ours.apply(levels)
    outputs = [s for s, pin in wiring.items() if pin not in levels]
    theirs = run(file, module, {s: levels[pin] for s, pin in wiring.items() if pin in levels}, outputs, count, folder)
    found = set()
    for signal in outputs:
        pin = wiring[signal]
        high, off, unknown = theirs[signal]
        assert not unknown, signal
        if part.pin(pin).role.value == "open collector":
            high, off = high | off, 0                  # some models say 1, some off
        differ, known = ours.differ(pin, high, off)
        assert known == ours.every
        unexplained = differ & ~excused(f"tkgate {name}", pin, levels, ours.every)
        copy = (unexplained & -unexplained).bit_length() - 1
        assert not unexplained, (pin, {p: ones >> copy & 1 for p, ones in levels.items()})
        found |= {pin} if differ else set()
    return found


@pytest.mark.parametrize("key", MODELS, ids=lambda k: k[1])
def test_does_what_the_model_does(key: tuple[str, str], tmp_path: Path) -> None:
    name = f"tkgate {type_of(key[1])}"
    assert {(name, pin) for pin in compared(key, tmp_path)} == {e for e in listed("tkgate") if e[0] == name}


def test_every_model_is_compared_or_known_to_be_unfit() -> None:
    there = {module for file in ("74xx.v", "74xxGateLevel.v") for module in modules(file)}
    assert there == {module for _, module in TKGATE} | UNFIT
    assert len(MODELS) >= 30 and len({function_of(type_of(module)) for _, module in MODELS}) >= 20


def test_a_wrong_pin_is_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The comparison itself: data and select exchanged."""
    key = ("74xx.v", "H74157")
    monkeypatch.setitem(TKGATE, key, TKGATE[key].replace("S=1 ", "S=2 ").replace("A1=2 ", "A1=1 "))
    with pytest.raises(AssertionError):
        compared(key, tmp_path)
