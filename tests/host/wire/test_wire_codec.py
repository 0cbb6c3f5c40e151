"""Payloads by `struct` against construct, a general-purpose library of binary formats, which parses and builds the same layouts.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import construct
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.wire import messages, steps
from sagbench.wire.codec import Codec, Misfit
from sagbench.wire.layout import BadMessage, layout

KINDS = sorted(messages.BY_ID.values(), key=lambda kind: kind.__name__)
NUMBERS = st.integers(-1, 2**16) | st.integers(2**24 - 2, 2**24 + 1) | st.integers(2**32 - 2, 2**32)
LIKELY = {
    "code": st.binary(max_size=9),
    "magic": st.binary(min_size=3, max_size=5),
    "sums": st.lists(st.integers(0, 2**16), max_size=5),
}


def names_of(kind):
    return [field.name for field in kind.LAYOUT.subcons[:-1]]


def theirs(action):
    """What construct says, or None if it refuses."""
    try:
        return action()
    except construct.ConstructError:
        return None


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_payloads_are_taken_apart_as_construct_does_it(kind, data):
    names = names_of(kind)
    size = len(kind.LAYOUT.build(dict.fromkeys(names, 0) | {"code": b"", "sums": (), "magic": b"SAGB"}))
    payload = data.draw(st.binary(min_size=size, max_size=size) | st.binary(max_size=40))
    parsed = theirs(lambda: kind.LAYOUT.parse(payload))
    try:
        ours = Codec(kind.LAYOUT).unpack(payload)
    except Misfit:
        assert parsed is None
    else:
        assert [list(x) if isinstance(x, tuple) else x for x in ours] == [
            list(parsed[n]) if isinstance(parsed[n], list) else parsed[n] for n in names
        ]


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_payloads_are_built_as_construct_does_it(kind, data):
    names = names_of(kind)
    values = [data.draw(LIKELY.get(name, st.integers(0, 255) | NUMBERS)) for name in names]
    built = theirs(lambda: kind.LAYOUT.build(dict(zip(names, values, strict=True))))
    try:
        assert Codec(kind.LAYOUT).pack(values) == built
    except Misfit:
        assert built is None


def test_what_does_not_fit_is_told_in_construct_s_words():
    with pytest.raises(BadMessage, match="(?s)PassBegin.*65536"):
        messages.PassBegin(65536).pack()
    with pytest.raises(BadMessage, match="PassBegin: 3 bytes are not its length"):
        messages.PassBegin.unpack(b"123")


def test_a_layout_takes_all_bytes_or_refuses():
    made = layout(a=construct.Int8ul, b=construct.Int16ul)
    assert [field.name for field in made.subcons[:-1]] == ["a", "b"]
    assert (made.parse(b"\x01\x02\x03").a, made.parse(b"\x01\x02\x03").b) == (1, 0x0302)
    with pytest.raises(construct.TerminatedError):
        made.parse(b"\x01\x02\x03\x04")


@pytest.mark.parametrize(
    "layout",
    [
        construct.Struct("a" / construct.Int8ul),
        construct.Struct("a" / construct.Int16ub, construct.Terminated),
        construct.Struct("a" / construct.GreedyBytes, "b" / construct.Int8ul, construct.Terminated),
        construct.Struct("a" / construct.GreedyRange(construct.Int8ul), construct.Terminated),
    ],
)
def test_a_layout_that_it_does_not_know_is_refused(layout):
    with pytest.raises(TypeError):
        Codec(layout)


def test_a_step_is_made_once():
    """The same arguments give the same step, in whatever order they are named; others another one."""
    kind = steps.KINDS[4]
    first = kind.make(position=3, lines=1, high=0)
    assert kind.make(high=0, lines=1, position=3) is first and first.code == bytes([4, 3, 1, 0])
    assert kind.make(position=3, lines=1, high=1).code == bytes([4, 3, 1, 1])
    with pytest.raises(ValueError, match="position 25"):
        kind.make(position=25, lines=1, high=0)
