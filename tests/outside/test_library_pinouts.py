"""Pinouts of the part library against KiCad's and lepton-eda's symbols: two of three must agree.

Sources: Debian's kicad-symbols (installed) and lepton-eda (unpacked by `make setup`), two works of different origin.
Compared: role of every pin, supply and ground, names both sides use, and which pins make one section.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import pytest
from pinouts import REFEREES, Difference, Ours, all_pinouts, allowed, confirmed, differences, referee

from sagbench.parts.definition import Pinout
from sagbench.parts.reader import read

PINOUTS = all_pinouts()
KNOWN = [ours for ours in PINOUTS if any(referee(ours, which) for which in REFEREES)]


def excused(said: Difference) -> bool:
    """True if the list of the others' errors has this one."""
    entry = allowed().get((said.label, said.referee, said.pin))
    return entry is not None and entry[0] in ("", said.says)


@pytest.mark.parametrize("ours", KNOWN, ids=lambda o: o.label)
def test_agrees_or_the_reason_is_known(ours: Ours) -> None:
    unexplained = [said for said in differences(ours) if not excused(said)]
    assert not unexplained, [f"pin {d.pin}: {d.referee} says {d.says}" for d in unexplained]


def test_no_reason_is_left_over() -> None:
    seen = {(d.label, d.referee, d.pin) for ours in KNOWN for d in differences(ours)}
    assert set(allowed()) <= seen, sorted(set(allowed()) - seen)
    assert all(len(why) > 5 for _, why in allowed().values())


def test_most_pinouts_with_a_symbol_are_confirmed_pin_by_pin() -> None:
    sound = [ours.label for ours in KNOWN if all(confirmed(ours))]
    print(f"{len(sound)} of {len(KNOWN)} with a symbol, of {len(PINOUTS)} in all")
    print("no symbol anywhere:", " ".join(ours.label for ours in PINOUTS if ours not in KNOWN))
    assert len(KNOWN) >= 170 and len(sound) >= 0.85 * len(KNOWN)
    for which, least in zip(REFEREES, (110, 80, 30), strict=True):
        assert sum(referee(ours, which) is not None for ours in PINOUTS) >= least, which


WRONG = """
function = "00"
title = "a 7400 with one gate turned round, two names exchanged and its rails crossed"
[[pinout]]
pins = ["1Y", "1B", "1A", "2B", "2A", "2Y", "VCC", "3Y", "3A", "3B", "4Y", "4A", "4B", "GND"]
[[block]]
each = ["1", "2", "3", "4"]
inputs = ["{}A", "{}B"]
outputs = ["{}Y"]
logic = ["{}Y = !({}A & {}B)"]
[family.74]
"""


def wrong(text: str) -> set[tuple[str, int]]:
    made = read(text, "wrong.toml")
    pinout: Pinout = made.pinouts[0]
    return {(d.referee, d.pin) for d in differences(Ours(made, pinout))}


def test_errors_of_ours_are_found() -> None:
    """The comparison itself: roles, rails and names put wrong on purpose."""
    roles = {(which, pin) for which in ("kicad", "lepton") for pin in (1, 3, 7, 14)}
    assert roles <= wrong(WRONG)
    decoder = next(o for o in PINOUTS if o.label == "138")
    swapped = list(decoder.pinout.pins)
    swapped[0], swapped[1] = swapped[1], swapped[0]    # A and B exchanged: only the names tell
    found = list(differences(Ours(decoder.definition, Pinout(tuple(swapped), (), decoder.pinout.supply, decoder.pinout.ground))))
    assert {d.pin for d in found} == {1, 2}


def test_gates_put_together_wrong_are_found() -> None:
    """Inputs of two gates exchanged: every role is right, but a section of the symbol no longer is one of ours."""
    right = WRONG.replace('"1Y", "1B", "1A"', '"1A", "1B", "1Y"').replace('"VCC"', '"X"').replace('"GND"', '"VCC"').replace('"X"', '"GND"')
    torn = right.replace('"1A"', '"X"').replace('"2A"', '"1A"', 1).replace('"X"', '"2A"', 1)
    assert ("kicad", 0) not in wrong(right)
    assert ("kicad", 0) in wrong(torn)
