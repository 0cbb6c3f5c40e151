"""Where the rails are, from what conducts without power.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable

import pytest
from paper import library

from sagbench.identify.candidates import Candidate
from sagbench.identify.seating import Drops, Seating, find_seating
from sagbench.parts.model import Role
from sagbench.plan.seat import Seat

SIZES = (14, 16, 18, 20, 22, 24)
JUNCTION = 0.68         # volts of a silicon junction at half a milliampere, common practice


def named(function: str) -> Candidate:
    return next(c for c in library() if c.function == function)


def rows(chip: Candidate, seat: Seat, open_pins: Iterable[int] = ()) -> dict[int, Drops]:
    """An ideal chip: from its ground, raised, one junction to every bonded pin; from any other pin, nothing."""
    found: dict[int, dict[int, float | None]] = {p: {q: None for q in range(1, 25) if q != p} for p in range(1, 25)}
    bare = {Role.UNUSED, Role.ANALOG}
    ground = next(pin for pin, role in enumerate(chip.roles, 1) if role is Role.GROUND)
    for pin, role in enumerate(chip.roles, 1):
        if pin != ground and role not in bare and pin not in set(open_pins):
            found[seat.position(ground)][seat.position(pin)] = JUNCTION
    return found


def seen(function: str, *, turned: bool = False, shift: int = 0, open_pins: Iterable[int] = ()) -> Seating:
    chip = named(function)
    return find_seating(24, SIZES, rows(chip, Seat(24, len(chip.roles), shift, turned), open_pins), library())


# Pins of the rails: any data book; written here from memory, not from the library.
@pytest.mark.parametrize(("function", "supply", "ground"), [
    ("00", 14, 7), ("138", 16, 8), ("245", 20, 10), ("154", 24, 12), ("90", 5, 10), ("73", 4, 11), ("76", 5, 13), ("75", 5, 12), ("4049", 1, 8)])
def test_rails_are_found_without_power(function: str, supply: int, ground: int) -> None:
    seating = seen(function)
    assert seating.settled and not seating.turned
    assert (seating.left[0].rail.supplies, seating.left[0].rail.grounds) == ((supply,), (ground,))
    assert named(function) in seating.left[0].candidates


@pytest.mark.parametrize("function", ["00", "138", "245", "90"])
def test_a_chip_the_wrong_way_round_is_told_before_power(function: str) -> None:
    seating = seen(function, turned=True)
    assert seating.turned and seating.left[0].seat.reversed


def test_a_chip_too_low_is_told_before_power() -> None:
    seating = seen("00", shift=2)
    assert seating.turned and seating.left[0].seat.in_words == "2 rows too low"


def test_an_open_bond_of_a_signal_does_not_hide_the_rails() -> None:
    seating = seen("138", open_pins=[12])
    assert seating.left[0].rail.grounds == (8,) and named("138") in seating.left[0].candidates


def test_two_supplies_or_one_is_not_settled() -> None:
    """The 4009 has both pin 1 and pin 16 as supply; without power it looks like a 16-pin chip whose pin 13 is open."""
    seating = seen("4009")
    assert not seating.settled
    assert {h.rail.supplies for h in seating.left} >= {(1, 16), (16,)}


def test_the_user_settles_it() -> None:
    chip = named("4009")
    wanted = (frozenset({1, 16}), frozenset({8}))
    seating = find_seating(24, SIZES, rows(chip, Seat(24, 16)), library(), wanted)
    assert seating.settled and {c.function for c in seating.left[0].candidates} == {"4009", "4010"}


def test_rails_that_nothing_has_are_refused() -> None:
    wanted = (frozenset({2}), frozenset({3}))
    seating = find_seating(24, SIZES, rows(named("00"), Seat(24, 14)), library(), wanted)
    assert not seating.left and "Nothing in the library" in seating.problem


def test_an_empty_socket() -> None:
    nothing = {p: {q: None for q in range(1, 25) if q != p} for p in range(1, 25)}
    assert "looks empty" in find_seating(24, SIZES, nothing, library()).problem


def test_what_no_chip_explains_is_not_powered() -> None:
    strange: dict[int, dict[int, float | None]] = {p: {q: None for q in range(1, 25) if q != p} for p in range(1, 25)}
    strange[3] |= {4: 0.7, 22: 0.7}
    assert "No seating" in find_seating(24, SIZES, strange, library()).problem


def test_an_expander_behind_a_resistor_is_not_taken_for_ground() -> None:
    chip, resistor = named("53"), 0.25                              # XN, pin 11: 470 ohm to ground (74H50's diagram, from memory)
    made = rows(chip, Seat(24, 14))
    other = {p: None if drop is None else drop + resistor for p, drop in made[7].items()}
    made[21] = {p: drop for p, drop in other.items() if p != 21} | {7: resistor}
    made[7] = dict(made[7]) | {21: resistor}
    assert find_seating(24, SIZES, made, library()).left[0].rail.grounds == (7,)
    assert len(find_seating(24, SIZES, made, library()).left) == 1


def test_an_input_that_is_a_resistor_needs_no_junction() -> None:
    seating = seen("1489", open_pins=(1, 4, 10, 13))
    assert named("1489") in seating.left[0].candidates
    assert seating.left[0].misfit == 0
