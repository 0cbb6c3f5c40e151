# SPDX-License-Identifier: GPL-3.0-or-later
"""Library and virtual chips, written by two hands from the data books, agree pin by pin and step by step (tests/two_hands.py).

Sources are those of the part files and of the classes: the makers' data books, each read twice.
"""
import pytest
import two_hands

from virtual_fixture.chips.behaviour import PARTS


@pytest.mark.parametrize("number", two_hands.numbers())
def test_the_two_agree(number):
    assert [d for d in two_hands.differences(number) if not d.explained] == []


def test_what_is_explained_differs():
    """No explanation outlives its difference."""
    for number, pin, words in two_hands.EXPLAINED:
        assert any(d.explained and d.text.startswith(words) and pin in (0, d.pin) for d in two_hands.differences(number)), number


def test_a_pin_in_the_wrong_place_is_seen(monkeypatch):
    """Two inputs of one gate may change places; an input and an output, or inputs of two gates, may not."""
    right = PARTS["00"].pins
    for one, other, seen in (("1A", "1B", False), ("1A", "1Y", True), ("1A", "2A", True)):
        mark = {one: other, other: one}
        monkeypatch.setattr(PARTS["00"], "pins", " ".join(mark.get(name, name) for name in right.split()))
        assert bool(two_hands.differences("00")) is seen, (one, other)


@pytest.mark.parametrize("number", ["04", "74", "138", "163", "245", "374"])
def test_an_output_that_is_wrong_now_and_then_is_seen(monkeypatch, number):
    """The last output, in one of four states of the other pins and registers."""
    kind = PARTS[number]
    right, name = kind.evaluate, kind.output_names()[-1].removeprefix("<>")

    def wrong(self, levels):
        out = right(self, levels)
        others = tuple(v for n, v in [*levels.items(), *out.items()] if n != name)
        return out | ({name: 1 - out[name]} if out[name] in (0, 1) and hash(others) % 4 == 0 else {})

    monkeypatch.setattr(kind, "evaluate", wrong)
    assert {d.what for d in two_hands.differences(number)} == {"logic"}


@pytest.mark.parametrize(("number", "types"), [("4051", ["74HC4051", "4051B"]), ("248", ["74248", "74LS248"])])
def test_a_sound_one_of_every_family_is_found_sound(monkeypatch, number, types):
    """A second ground that a line holds low; outputs that resistors pull up. Every type is swept, each in a fixture of its own."""
    swept = []

    def tapped(number, theirs, ours, seed, real=two_hands._swept):
        swept.append((theirs, seed))
        yield from real(number, theirs, ours, seed)

    monkeypatch.setattr(two_hands, "_swept", tapped)
    assert [d for subject in two_hands.subjects(number) for d in two_hands.sweep_differences(subject, every=True)] == []
    assert sorted(name for name, _ in swept) == sorted(types) and len({seed for _, seed in swept}) == len(types)
