"""Chips in the fixture's own network: it must find a solution for all of them.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from virtual_fixture.chips import Chip, load
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.families import every_name

from .hands import Hands

DEMO = Path(__file__).parents[1] / "chips" / "demo"
FILES = sorted(DEMO.glob("*.toml"))


def seated(source: Any, seed: int = 1) -> tuple[Hands, Chip]:
    chip = load(source, seed)
    return Hands(chip, seed), chip


def switches(hands: Hands, chip: Chip) -> list[str]:
    """The power switches of a chip seated as it should be; ValueError if there are none."""
    part = chip.description.behaviour
    assert part is not None
    from virtual_fixture.chips.seating import position
    pins = len(part.pin_names())
    return [f"P{position(part.pin(part.vcc), pins)}", f"N{position(part.pin(part.gnd), pins)}"]


def shake(hands: Hands, chip: Chip, rng: random.Random, rounds: int) -> int:
    """Random strong and medium drives on random positions, with and without power.

    Returns how often the network oscillated while the chip had power.  Without, a chip
    fed through its inputs may: its outputs move its own supply.
    """
    on, oscillating = switches(hands, chip), 0
    for k in range(rounds):
        if k % 8 == 0:
            for position in range(1, 25):
                hands.off(f"S{position}", f"M{position}")
            hands.power(*(on if rng.random() < 0.8 else []))
            hands.pump(10e-3)
        before = hands.bench.figures.oscillating
        line = f"{rng.choice('SM')}{rng.randrange(1, 25)}"
        rng.choice([hands.high, hands.low, hands.off])(line)
        hands.bench.run(20e-6)
        if hands.bench.powered:
            oscillating += hands.bench.figures.oscillating - before
    return oscillating


@pytest.mark.parametrize("path", [p for p in FILES if p.stem != "empty"], ids=lambda p: p.stem)
def test_every_demo_has_a_solution(path: Path) -> None:
    hands, chip = seated(path)
    assert shake(hands, chip, random.Random(3), 48) == 0
    assert hands.bench.figures.solves > 40
    assert hands.bench.figures.unsolved == 0


def test_every_part_has_a_solution() -> None:
    """All parts, in three families: no state in which the network gets stuck."""
    in_book = [key for key in sorted(PARTS) if not PARTS[key].families]
    others = [name for key, _, name in every_name() if PARTS[key].families]
    for n, number in enumerate(in_book + others[::3]):
        family = ("", "LS", "HC")[n % 3]
        name = number if len(number) == 4 or number in others else f"74{family}{number}"
        hands, chip = seated({"part": name}, n)
        assert shake(hands, chip, random.Random(n), 16) == 0, name
        assert hands.bench.figures.unsolved == 0, name


def test_a_sound_gate_under_the_strong_load() -> None:
    """VOL of a 7400 with 270 ohm to 5 V: the value the chip itself gives for that current."""
    hands, chip = seated({"part": "7400", "spread": 0}, 1)
    hands.power("P24", "N7")
    hands.pump(20e-3)
    assert hands.bench.enabled and hands.bench.powered
    hands.high("M1", "M2", "S3")
    hands.pump(5e-3)
    ground, vcc = hands.volts(7), hands.volts(24)
    current = (hands.volts("V5") - hands.volts(3)) / (270 + 27)
    expected = chip.output_volts("1Y", "low", current, vcc - ground)
    assert hands.volts(3) - ground == pytest.approx(expected, abs=5e-3)
    hands.low("M1")
    hands.off("S3")
    hands.pump(5e-3)
    assert hands.volts(3) - ground > 3.3


def test_contact_look_at_a_right_and_a_reversed_chip() -> None:
    """GND raised to 5 V through M: a junction drop to an input; more than one if reversed."""
    drops = []
    for source in ("sound_7400", "reversed_7400"):
        hands, _ = seated(DEMO / f"{source}.toml")
        hands.high("M7")
        hands.low("LD")
        hands.sense(1, 1)                # the weak load to 0 V at position 1
        hands.bench.run(10e-3)
        drops.append(hands.volts(7) - hands.volts(1))
    assert 0.25 < drops[0] < 1.0
    assert drops[1] > 1.2
