"""Framing against published figures and public packages.

Sources: CRC check values: CRC RevEng catalogue (Greg Cook), entry CRC-16/IBM-3740.
COBS examples: the worked ones of the method (Cheshire and Baker, IEEE/ACM Transactions on
Networking 7(2), 1999) as they are commonly reprinted; the paper's text was not at hand,
so every one is also put to the public `cobs` package below.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest
from cobs import cobs
from crccheck.crc import Crc16Ibm3740
from hypothesis import given
from hypothesis import strategies as st

from sagbench.wire.frame import (
    PAYLOAD_MAX,
    STUFFED_MAX,
    BadFrame,
    Frame,
    Splitter,
    crc,
    decode,
    encode,
    stuff,
    unstuff,
)

RUN = bytes(range(256))
PUBLISHED = [
    (b"\x00", b"\x01\x01"),
    (b"\x00\x00", b"\x01\x01\x01"),
    (b"\x00\x11\x00", b"\x01\x02\x11\x01"),
    (b"\x11\x22\x00\x33", b"\x03\x11\x22\x02\x33"),
    (b"\x11\x22\x33\x44", b"\x05\x11\x22\x33\x44"),
    (b"\x11\x00\x00\x00", b"\x02\x11\x01\x01\x01"),
    (RUN[1:255], b"\xff" + RUN[1:255]),
    (RUN[0:255], b"\x01\xff" + RUN[1:255]),
    (RUN[1:256], b"\xff" + RUN[1:255] + b"\x02\xff"),
    (RUN[2:256] + b"\x00", b"\xff" + RUN[2:256] + b"\x01\x01"),
    (RUN[3:256] + b"\x00\x01", b"\xfe" + RUN[3:256] + b"\x02\x01"),
    (b"\xde\xad\xbe\xef", b"\x05\xde\xad\xbe\xef"),
    (b"\xde\xad\x00\xbe\xef", b"\x03\xde\xad\x03\xbe\xef"),
]


@pytest.mark.parametrize(("plain", "stuffed"), PUBLISHED)
def test_published_stuffing(plain: bytes, stuffed: bytes) -> None:
    assert stuff(plain) == stuffed
    assert unstuff(stuffed) == plain
    assert cobs.encode(plain) == stuffed


@given(st.one_of(st.binary(max_size=600), st.lists(st.sampled_from([0, 1, 255]), max_size=600).map(bytes)))
def test_stuffing_agrees_with_the_public_package(plain: bytes) -> None:
    stuffed = stuff(plain)
    assert stuffed == cobs.encode(plain)
    assert unstuff(stuffed) == plain
    assert 0 not in stuffed
    assert len(stuffed) <= len(plain) + max(1, -(-len(plain) // 254))    # the method's bound


@given(st.binary(max_size=300))
def test_unstuffing_agrees_with_the_public_package_on_anything(noise: bytes) -> None:
    try:
        expected = cobs.decode(noise)
    except cobs.DecodeError:
        with pytest.raises(BadFrame):
            unstuff(noise)
    else:
        assert unstuff(noise) == expected


def test_check_value_of_the_catalogue() -> None:
    assert crc(b"123456789") == 0x29B1


@given(st.binary(max_size=200))
def test_crc_agrees_with_another_package(data: bytes) -> None:
    assert crc(data) == Crc16Ibm3740.calc(data)


byte = st.integers(0, 255)
any_frame = st.builds(Frame, byte, byte, byte, byte, st.binary(max_size=PAYLOAD_MAX))


@given(any_frame)
def test_there_and_back(frame: Frame) -> None:
    wire = encode(frame)
    assert wire.endswith(b"\x00") and 0 not in wire[:-1] and len(wire) <= STUFFED_MAX + 1
    assert decode(wire[:-1]) == frame


@given(any_frame, st.data())
def test_no_burst_within_16_bits_goes_unseen(frame: Frame, data: st.DataObject) -> None:
    """A CRC of degree 16 sees every error burst of up to 16 bits (Peterson and Brown, Proc. IRE 49, 1961)."""
    raw = bytearray(unstuff(encode(frame)[:-1]))
    burst = data.draw(st.integers(1, 0xFFFF))
    at = data.draw(st.integers(0, len(raw) - 2))
    raw[at] ^= burst >> 8
    raw[at + 1] ^= burst & 0xFF
    with pytest.raises(BadFrame):
        decode(stuff(bytes(raw)))


@given(st.lists(any_frame, max_size=6), st.lists(st.integers(1, 40), min_size=1))
def test_the_splitter_does_not_care_how_bytes_are_cut(frames: list[Frame], cuts: list[int]) -> None:
    wire, splitter, out, at, turn = b"".join(map(encode, frames)), Splitter(), [], 0, 0
    while at < len(wire):
        size = cuts[turn % len(cuts)]
        out += splitter.feed(wire[at:at + size])
        at, turn = at + size, turn + 1
    assert out == frames


@given(st.binary(max_size=2000))
def test_noise_gives_no_frames_and_bounded_memory(noise: bytes) -> None:
    splitter = Splitter()
    list(splitter.feed(noise.replace(b"\x00", b"\x01")))
    assert len(splitter._held) <= STUFFED_MAX + 1


def test_too_long_a_payload_is_refused() -> None:
    with pytest.raises(ValueError, match="97 bytes"):
        encode(Frame(0, 0, 0, 0, bytes(97)))
