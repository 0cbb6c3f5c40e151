"""One frame: header, payload, CRC, stuffed so that 00 only ends it.

    bytes on the wire = COBS(seq ack room id payload crc) 00

COBS after Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM
Transactions on Networking 7(2), 1999.  The CRC is CRC-16/IBM-3740.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import crcmod.predefined  # type: ignore[import-untyped]

from sagbench.wire.numbers import DELIMITER, HEADER_SIZE, PAYLOAD_MAX

CRC_SIZE = 2
RAW_MIN = HEADER_SIZE + CRC_SIZE
RAW_MAX = RAW_MIN + PAYLOAD_MAX
FULL = 254                                              # bytes of the longest block
STUFFED_MAX = RAW_MAX + (RAW_MAX + 253) // 254          # without the delimiter
_crc = crcmod.predefined.mkCrcFun("crc-ccitt-false")    # crcmod's name of CRC-16/IBM-3740


class BadFrame(ValueError):
    """Bytes that are no frame."""


@dataclass(frozen=True)
class Frame:
    """A frame as the streams see it; all numbers 0..255."""

    seq: int
    ack: int
    room: int
    id: int
    payload: bytes


def crc(data: bytes) -> int:
    """CRC-16/IBM-3740."""
    return int(_crc(data))


def stuff(data: bytes) -> bytes:
    """COBS: the same information without a zero byte, at most one byte in 254 longer."""
    out = bytearray()
    runs = data.split(b"\0")
    for place, run in enumerate(runs):
        while len(run) >= FULL:                         # a full block stands for no zero byte
            out.append(FULL + 1)
            out += run[:FULL]
            run = run[FULL:]
            if not run and place == len(runs) - 1:
                return bytes(out)                       # and at the end it leaves no block open
        out.append(len(run) + 1)
        out += run
    return bytes(out)


def unstuff(data: bytes) -> bytes:
    """Undo `stuff`.  Raises BadFrame at a zero byte, or if the last block is cut short."""
    out, at = bytearray(), 0
    while at < len(data):
        code = data[at]
        block = data[at + 1:at + code]
        if code == 0 or len(block) != code - 1 or 0 in block:
            raise BadFrame(f"stuffing is broken at byte {at}")
        out += block
        at += code
        if code != 0xFF and at < len(data):
            out.append(0)
    return bytes(out)


def encode(frame: Frame) -> bytes:
    """Bytes of a frame on the wire, delimiter and all.  Raises ValueError if the payload is too long."""
    if len(frame.payload) > PAYLOAD_MAX:
        raise ValueError(f"payload of {len(frame.payload)} bytes; at most {PAYLOAD_MAX} fit")
    body = bytes([frame.seq, frame.ack, frame.room, frame.id]) + frame.payload
    return stuff(body + crc(body).to_bytes(CRC_SIZE, "big")) + bytes([DELIMITER])


def decode(stuffed: bytes) -> Frame:
    """The frame in the bytes before a delimiter.  Raises BadFrame."""
    raw = unstuff(stuffed)
    if not RAW_MIN <= len(raw) <= RAW_MAX:
        raise BadFrame(f"{len(raw)} bytes; a frame has {RAW_MIN} to {RAW_MAX}")
    body, check = raw[:-CRC_SIZE], int.from_bytes(raw[-CRC_SIZE:], "big")
    if crc(body) != check:
        raise BadFrame("the check sum is wrong")
    return Frame(body[0], body[1], body[2], body[3], body[HEADER_SIZE:])


class Splitter:
    """Cuts a stream of bytes at the delimiters."""

    def __init__(self) -> None:
        self._held = bytearray()

    def feed(self, data: bytes) -> Iterator[Frame | None]:
        """For each non-empty run of bytes that `data` completes: its frame, or None if it is damaged."""
        *runs, rest = data.split(bytes([DELIMITER]))
        for run in runs:
            self._hold(run)
            stuffed = bytes(self._held)
            self._held.clear()
            if stuffed:
                try:
                    yield decode(stuffed)
                except BadFrame:
                    yield None
        self._hold(rest)

    def _hold(self, data: bytes) -> None:
        # One byte more than the longest frame is enough to know that it is too long.
        self._held += data[:max(0, STUFFED_MAX + 1 - len(self._held))]
