"""The drawer of chips: reproducible, complete, sound where it says so, bad by degrees.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from virtual_fixture.chips import load
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.behaviour.monostables import Monostable
from virtual_fixture.chips.description import FAULTS, read
from virtual_fixture.chips.population import (
    FAMILIES,
    FAULT_KINDS,
    FUNCTIONS,
    as_toml,
    available,
    draw,
    kinds_for,
    members,
    population,
)
from virtual_fixture.chips.verdict import examine, verdict

TTL = ("TTL", "H", "L", "S", "LS", "AS", "ALS", "F")


def test_the_same_rng_gives_the_same_chips() -> None:
    first = list(population(11, 6))
    assert first == list(population(11, 6))
    assert first != list(population(12, 6))
    assert draw(random.Random(5), "74", "LS", "leak", 0.5) == draw(random.Random(5), "74", "LS", "leak", 0.5)


def test_every_family_and_function_is_there() -> None:
    assert {m[2] for m in members()} == set(FAMILIES) >= set(TTL)
    assert {m[0] for m in members()} == set(FUNCTIONS) and len(FUNCTIONS) >= 16
    for family in FAMILIES:
        assert len([m for m in members() if m[2] == family]) >= 7, family


def test_every_fault_kind_of_a_chip_file_is_drawn() -> None:
    """But those of monostables' timing pins: the population has no monostable."""
    timed = {kind for kind, fields in FAULTS.items() if any(f.kind == "timing" for f in fields.values())}
    assert set(FAULTS) - timed <= set(FAULT_KINDS)
    assert not any(issubclass(PARTS[number], Monostable) for _, number, _ in members())
    kinds = {kind for _, number, family in members() for kind in kinds_for(number, family)}
    assert kinds == set(FAULT_KINDS)


def test_what_a_part_cannot_have_is_refused() -> None:
    with pytest.raises(ValueError, match="74HC00 cannot have the fault 'beta'"):
        draw(random.Random(1), "00", "HC", "beta")
    with pytest.raises(ValueError, match="cannot have the fault 'weak_pull_up'"):
        draw(random.Random(1), "03", "TTL", "weak_pull_up")
    with pytest.raises(KeyError, match="74H161 is not in the population"):
        draw(random.Random(1), "161", "H")


def test_sound_chips_are_sound_with_every_seed() -> None:
    """Drawn with two specimens, tried here with others; some lie close to a limit, most do not."""
    rng, reserves = random.Random(21), []
    rows = [rng.choice([m for m in members() if m[2] == family]) for family in FAMILIES for _ in range(3)]
    for _, number, family in rows:
        chip = draw(rng, number, family)
        found = examine(chip, rng.randrange(10_000))
        assert found.sound, (chip, [str(v) for v in found.violations])
        reserves.append(found.margin())
    reserves.sort()
    assert reserves[0] < 0.06, "none is near a limit"
    assert reserves[len(reserves) // 2] > 0.06, "all are near a limit"


def test_figures_reach_from_typical_to_the_limit() -> None:
    """LS00 outputs low: the drawer's VOL covers most of the room between typical and the book."""
    rng, typical = random.Random(4), examine({"part": "74LS00", "spread": 0}, 1)
    found = [examine(draw(rng, "00", "LS"), 3) for _ in range(30)]
    for pin, quantity, share in (("1Y", "VOL", 0.4), ("1A", "IIL", 0.5), ("VCC", "ICC", 0.5), ("1Y", "VOH", 0.5)):
        least = typical.figures[pin, quantity].reserve
        places = [1 - f.figures[pin, quantity].reserve / least for f in found]
        assert max(places) > share and min(places) < 0.1, (quantity, min(places), max(places))
        assert max(places) < 1
    levels = [f.figures["1A", "VT+"].value for f in found]
    assert min(levels) < 0.95 and max(levels) > 1.3       # VIL 0.8, VIH 2.0


# Kinds with degrees: at the mild end without effect in a sound chip, at the gross end never.
@pytest.mark.parametrize("kind", ["series", "beta", "weak_pull_up", "leak", "excess_supply"])
def test_severity_goes_from_harmless_to_gross(kind: str) -> None:
    effects = {}
    for severity in (0.0, 1.0):
        rng = random.Random(f"severity {kind}")
        effects[severity] = [
            verdict(draw(rng, number, family, kind, severity), 7).faults[0].effect
            for number, family in (("00", "TTL"), ("04", "LS"), ("138", "LS"), ("74", "S"), ("08", "F"))]
    # The drawn chip may lie close to the limit that the mild fault moves.
    assert effects[0.0].count("none") >= 4, effects
    # Strong outputs carry a gross leak (300 ohm) with ease.
    assert effects[1.0].count("none") <= (1 if kind == "leak" else 0), effects


def test_severity_is_monotone_in_the_figure() -> None:
    values = []
    for severity in (0.2, 0.5, 0.8):
        chip = draw(random.Random(9), "00", "LS", "beta", severity)
        [fault] = chip["fault"]
        found = examine({"part": "74LS00", "spread": 0, "fault": [fault]}, 1)
        values.append(found.figures[fault["pin"], "VOL"].value)
    assert values == sorted(values) and values[2] > values[0] + 0.1


def test_a_drawer_holds_all_kinds(tmp_path: Path) -> None:
    """70 chips: every kind occurs, every file reads back as the same chip, no verdict fails."""
    seen: set[str] = set()
    for k, (chip, seed) in enumerate(population(3, 70)):
        seen |= {f["kind"] for f in chip.get("fault", [])}
        if "marking" in chip:
            seen.add("wrong_part" if chip["marking"][-2:] != chip["part"][-2:] else "remarked")
        path = tmp_path / f"{k}.toml"
        path.write_text(as_toml(chip), encoding="utf-8")
        assert _plain(read(path)) == _plain(read(chip))
        assert load(path, seed).truth()["sound"] == ("fault" not in chip and "marking" not in chip)
    assert seen == set(FAULT_KINDS)


def _plain(description: Any) -> Any:
    return (description.part, description.marking, description.faults, description.centre)


def test_availability_follows_the_book() -> None:
    assert available("00", "H") and not available("161", "H") and not available("4011", "HC")
