# SPDX-License-Identifier: MIT
"""Which parts do the same: cross references of the trade, parts disguised and spoilt, and the claim played through.

Sources: the function names of the data books (common practice: a 7403 is a 7400 with open collectors on the same pins, a 7401 has
them on others, a 163 clears by the clock ...), and the sequential behaviour itself, which the comparison does not use.
"""
import random
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from sagbench.doubt.statements import lines
from sagbench.doubt.suspects import slips
from sagbench.parts import load_file
from sagbench.parts.definition import Block, Definition, Pinout
from sagbench.parts.equations import Assign, Name, Op, Register
from sagbench.parts.lookup import LIBRARY
from sagbench.replace.alike import Match, by_doing, by_places, equal, with_states
from sagbench.replace.differ import differences
from sagbench.replace.functions import Form
from sagbench.replace.search import _best
from host.replace.play import same_play


def form(function, family=None):
    made = load_file(LIBRARY / f"{function}.toml")
    family = family or next(iter(made.families))
    return Form(made.of(family), made.pinout(family))


# function, other, same pins, words of the difference (each in some sentence); no words: they do the same.
TRADE = [
    ("00", "37", True, []), ("00", "132", True, ["a Schmitt trigger"]), ("132", "00", True, ["no Schmitt trigger"]),
    ("00", "03", True, [": open collector, where the"]), ("03", "01", False, []), ("00", "38", True, [": open collector, where the"]),
    ("00", "08", True, ["inverted"]), ("00", "4011", False, []), ("02", "4001", False, []), ("04", "14", True, ["a Schmitt trigger"]),
    ("04", "05", True, [": open collector, where the"]), ("04", "4069", True, []), ("04", "4049", False, []),
    ("07", "17", True, []), ("20", "40", True, []), ("20", "13", True, ["a Schmitt trigger"]), ("20", "4012", False, []),
    ("157", "158", True, ["inverted"]), ("157", "257", True, ["while G is high: off, where the 157 drives"]),
    ("257", "157", True, ["while G is high: drives, where the 257 is off"]),
    ("151", "251", True, ["while G is high: off"]), ("138", "238", True, ["inverted"]),
    ("161", "163", True, ["clears only with the clock while CLR is low"]), ("163", "161", True, ["clears at once while CLR is low"]),
    ("160", "161", True, ["1001 is followed by 1010, by 0000 in the 160"]), ("161", "40161", True, []),
    ("190", "191", True, ["is followed by 1111, by 1001 in the 190"]), ("192", "40192", True, []),
    ("373", "573", False, []), ("374", "574", False, []), ("373", "533", True, ["inverted"]), ("373", "563", False, ["inverted"]),
    ("373", "374", True, ["takes its data at an edge"]), ("374", "373", True, ["is a latch"]),
    ("240", "244", True, ["inverted"]), ("244", "241", True, ["on when 2G is high, where the 244 is off"]),
    ("245", "640", True, ["inverted"]), ("245", "645", True, []), ("125", "126", True, ["on when G is high"]),
    ("273", "377", True, ["does not clear while", "does nothing at the clock"]),
    ("74", "4013", False, ["CLR PRE: active at the other level"]), ("107", "73", False, []),
    ("42", "145", True, [": open collector, where the"]),
    ("930", "20", True, ["has nothing for 1X (pin 3) and 2X (pin 11) of the 930"]), ("20", "930", True, []),
    ("23", "25", False, ["has nothing for X (pin 1) and XN (pin 15)"]),
    ("47", "247", True, ["a: low with A=0 B=1", "d: low with A=1 B=0"]), ("181", "9341", True, []), ("189", "219", True, ["inverted"]),
    ("8T26", "8T28", True, ["B: inverted", "R: inverted while DE is low"]), ("8226", "8216", True, ["inverted"]),
]


@pytest.mark.parametrize(("one", "other", "places", "words"), TRADE, ids=lambda x: x if isinstance(x, str) else "")
def test_cross_references_of_the_trade(one, other, places, words):
    best = _best(form(one), form(other), one)
    assert best is not None
    match, found = best
    texts = [difference.text for difference in found]
    assert match.same_places == places
    assert all(any(word in text for text in texts) for word in words) and bool(texts) == bool(words), texts


@pytest.mark.parametrize(("one", "other"), [("00", "02"), ("00", "86"), ("08", "32"), ("02", "00"), ("161", "195"),
                                            ("4531", "134"), ("20", "4072"), ("86", "00"), ("138", "42"),
                                            ("174", "175"), ("30", "4078"), ("32", "86"), ("153", "157"), ("4081", "4071"), ("164", "165")])
def test_parts_that_do_different_things_are_not_near(one, other):
    assert _best(form(one), form(other), one) is None


GATE = ["00", "02", "10", "51", "86", "138", "139", "151", "153", "157", "182", "181", "85", "83", "283"]
CLOCKED = ["74", "107", "109", "161", "163", "164", "173", "175", "193", "194", "279", "373", "374", "273", "90", "93", "390", "4013",
           "4017"]


def renamed(made, names):
    """The definition with other names for its signals."""
    def expr(e):
        return Name(names[e.text], 0) if isinstance(e, Name) else Op(e.sign, tuple(map(expr, e.args))) if isinstance(e, Op) else e

    def statement(s):
        if isinstance(s, Assign):
            return Assign(expr(s.target), expr(s.value), s.enable and expr(s.enable))
        return Register(expr(s.target), expr(s.next), expr(s.clock), s.edge, s.clear and expr(s.clear), s.set and expr(s.set))
    blocks = tuple(Block(b.name, {names[n]: r for n, r in b.roles.items()}, frozenset(names[n] for n in b.schmitt),
                         tuple(map(statement, b.statements))) for b in made.blocks)
    return Definition(made.function, made.title, (), blocks, {})


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(function=st.sampled_from([*GATE, *CLOCKED]), seed=st.integers(0, 10**6))
def test_a_part_in_disguise_is_recognised(function, seed):
    """All signals under other names on other pins: found, and wired to the pin that has the signal."""
    chance, own = random.Random(seed), form(function)
    signals = sorted({*own.definition.roles, *(s.target.text for b in own.definition.blocks for s in b.statements)})
    names = dict(zip(signals, (f"S{n}" for n in chance.sample(range(1000), len(signals))), strict=True))
    pins = [names.get(pin, pin) for pin in own.pinout.pins]
    chance.shuffle(pins)
    other = Form(renamed(own.definition, names), Pinout(tuple(pins), supply=own.pinout.supply, ground=own.pinout.ground))
    found = by_doing(own, other)
    assert found is not None
    match = Match(own, other, *found)
    assert differences(match, "it") == () and not match.inverted
    assert {here for here, _ in match.wiring} <= set(range(1, len(pins) + 1))
    assert same_play(match, seed, 60)


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(function=st.sampled_from([*GATE, *CLOCKED]), seed=st.integers(0, 10**6))
@example(function="193", seed=55)                        # a clear that is open where the 193's is not
def test_a_spoilt_part_is_the_same_only_if_it_plays_the_same(function, seed):
    """One slip in one equation: if the comparison still calls it the same on the same pins, no sequence tells the two apart."""
    own = form(function)
    made = [s for s in slips(own.definition, lines(LIBRARY / f"{function}.toml", next(iter(own.definition.families)))) if s.swapped is None]
    spoilt = random.Random(seed).choice(made).definition
    if {n: r for n, r in spoilt.roles.items()} != dict(own.definition.roles):
        return                                       # an output stage exchanged
    other = Form(replace(spoilt), own.pinout)
    signals = by_places(own, other)
    match = Match(own, other, with_states(own, other, signals))
    told = differences(match, "it")
    assert (told == ()) == equal(match)
    if told == ():
        assert same_play(match, seed, 60)
