"""What is worked out once and recalled is what it would be anew: a logic's answers, where slopes can be, levels of pins.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from pathlib import Path

import pytest

from virtual_fixture.chips import load
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.behaviour.monostables import Monostable
from virtual_fixture.chips.chip import Chip, Logic
from virtual_fixture.specimen import pin_number

from .hands import PIN_OF, Hands

CLOCKED = ["7474", "74LS109", "74161", "74LS163", "4024", "74HC374", "74LS164", "4017", "7493", "7490", "74LS373", "4027"]
HIGH_V = 4.9
DEMO = Path(__file__).resolve().parents[1] / "chips/demo"


def reference(chip: Chip) -> Logic:
    """The same part with the same registers, asked each time."""
    assert chip.description.behaviour is not None
    return Logic(chip.description.behaviour(random.Random(f"{chip.seed}/registers")))


def word(out: int, pin: int) -> str:
    return "off" if out >> (32 + pin) & 1 else "high" if out >> pin & 1 else "low"


@pytest.mark.parametrize("part", CLOCKED)
def test_recalled_answers_are_those_of_the_part(part: str) -> None:
    """Two chips of a kind, of which the second recalls what the first was told; few inputs move, so that states come again."""
    for seed in (1, 2):
        chip, rng = load({"part": part}, seed), random.Random(seed)
        assert chip.circuit is not None and chip.logic is not None
        alone, rails = reference(chip), {chip.circuit.vcc: 5.0, chip.circuit.gnd: 0.0}
        inputs = sorted(alone.inputs)
        moving, levels, reason = rng.sample(inputs, min(3, len(inputs))), sum(1 << p for p in inputs), 1
        for _ in range(600):
            chip.settle(rails | {chip.positions[p]: HIGH_V * (levels >> p & 1) for p in inputs})
            out, reason = alone(levels, reason, 0.0), 0
            assert chip.output_states() == {name: word(out, pin) for name, pin in alone.bits.items()}
            levels ^= 1 << rng.choice(moving)
        assert chip.logic.asked < 0.9 * chip.logic.calls


def test_registers_hang_on_the_random_generator_at_power_up_only() -> None:
    """Otherwise an answer could not be recalled."""
    for number, kind in PARTS.items():
        part, rng = kind(random.Random(1)), random.Random(number)
        part.power_up()
        part.now = part.before = dict.fromkeys(part.input_names(), 0)
        state = part.rng.getstate()
        for _ in range(20):
            part.before, part.now = part.now, {n: rng.getrandbits(1) for n in part.input_names()}
            part.evaluate(part.now)
            if isinstance(part, Monostable):
                part.timer_ended(0)
        assert part.rng.getstate() == state, number


def test_slopes_are_where_the_pattern_says() -> None:
    """Of the sound and bad chips of the demonstration, anywhere between the rails and beyond, in the states that come of it."""
    rng, seen = random.Random(3), 0
    for file in sorted(DEMO.glob("*.toml")):
        chip = load(file, 5)
        exact, columns = chip.pattern()
        assert exact or "ohms" in file.read_text() or "open" in file.read_text()
        for _ in range(4 if exact else 0):          # behind a bond wire's resistance: anything anywhere
            volts = {k: rng.uniform(-1, 6) for k in range(1, 25)}
            if chip.circuit is not None and rng.random() < 0.8:
                volts |= {chip.circuit.vcc: 5.0, chip.circuit.gnd: 0.0}
            chip.settle(volts)
            slopes = chip.currents(volts)[1]
            for k in range(1, 25):
                there = {m for m in range(1, 25) if slopes[k][m]}
                assert there <= columns[k], (file.name, k)
                seen += len(there)
    assert seen > 4_000


def test_a_pin_reads_what_it_would_read_anew() -> None:
    """A position let go of drifts over the thresholds of its pins: each look against the pin's own volts and threshold."""
    hands, turns = Hands(), 0
    for position in (1, 12, 24):
        port = PIN_OF[f"M{position}"]
        number, letter, place = pin_number(port), port[1], int(port[2])
        for begin in (hands.high, hands.low):
            begin(f"S{position}")
            hands.bench.run(1e-3)
            hands.off(f"S{position}")
            was = hands.bench.pins(letter) >> place & 1
            for _ in range(400):
                hands.bench.run(50e-6)
                level = hands.bench.pins(letter) >> place & 1
                edge = (hands.bench.specimen.pin_threshold[number] * hands.bench.node("V5", settled=False)
                        + (-0.5 if was else 0.5) * hands.bench.specimen.pin_hysteresis_v)
                assert level == (hands.bench.pin_v(port) > edge)
                turns += level != was
                was = level
    assert turns >= 3
