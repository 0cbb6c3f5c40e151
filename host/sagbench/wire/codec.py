"""A message's layout as calls of `struct`: some ten times as fast as construct takes it apart field by field.

The layout stays what construct says; what is done here is held against construct's own parsing and building by the tests.
(construct's `compile` does not see that a range ends in the middle of a number.)

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Any

import construct  # type: ignore[import-untyped]

THREE = 3  # bytes of a mask, which `struct` has no letter for


class Misfit(ValueError):
    """Bytes or values that are not this layout's; construct has the words for it."""


class Codec:
    """Packs and unpacks the values of a layout's fields, in order.

    layout: a construct.Struct of little-endian integers, bytes of fixed length and, last, greedy bytes or a greedy range
    of 16-bit integers, closed by Terminated.  Raises TypeError at anything else.
    """

    def __init__(self, layout: construct.Struct) -> None:
        *fields, end = layout.subcons
        if end is not construct.Terminated:
            raise TypeError("a layout ends with Terminated")
        letters, self._rest, self._masks, self._lengths = "<", "", [], []
        for place, field in enumerate(fields):
            kind = field.subcon
            if self._rest:
                raise TypeError(f"{field.name}: behind a field that takes all the rest")
            if isinstance(kind, construct.FormatField) and kind.fmtstr[0] == "<":
                letters += kind.fmtstr[1:]
            elif kind is construct.Int24ul:
                letters += f"{THREE}s"
                self._masks.append(place)
            elif isinstance(kind, construct.Bytes):
                letters += f"{kind.length}s"
                self._lengths.append((place, kind.length))
            elif kind is construct.GreedyBytes:
                self._rest = "bytes"
            elif isinstance(kind, construct.GreedyRange) and kind.subcon is construct.Int16ul:
                self._rest = "numbers"
            else:
                raise TypeError(f"{field.name}: {kind} is not known here")
        self._fixed = struct.Struct(letters)

    def unpack(self, payload: bytes) -> list[Any]:
        """The fields' values. Raises Misfit if the payload has another length."""
        size = self._fixed.size
        if len(payload) < size or not self._rest and len(payload) > size:
            raise Misfit
        values = list(self._fixed.unpack_from(payload))
        for place in self._masks:
            values[place] = int.from_bytes(values[place], "little")
        if self._rest == "bytes":
            values.append(payload[size:])
        elif self._rest:
            if (len(payload) - size) % 2:
                raise Misfit
            values.append(struct.unpack_from(f"<{(len(payload) - size) // 2}H", payload, size))
        return values

    def pack(self, values: Sequence[Any]) -> bytes:
        """The payload. Raises Misfit if a value does not fit its field."""
        plain = list(values)
        rest = plain.pop() if self._rest else b""
        try:
            for place in self._masks:
                plain[place] = int(plain[place]).to_bytes(THREE, "little")
            if any(len(plain[place]) != length for place, length in self._lengths):
                raise Misfit
            numbers = struct.pack(f"<{len(rest)}H", *rest) if self._rest == "numbers" else b"" + rest
            return self._fixed.pack(*plain) + numbers
        except (struct.error, OverflowError, TypeError, ValueError):
            raise Misfit from None
