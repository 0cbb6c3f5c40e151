"""How messages and steps become bytes: the part that does not depend on the spec.

`messages.py` and `steps.py` are derived from protocol/spec.toml and stand on this.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from enum import IntEnum, IntFlag
from typing import Any, ClassVar, Self

import construct  # type: ignore[import-untyped]

from sagbench.wire.codec import Codec, Misfit

MOST_KEPT = 4096  # steps of a kind that are kept once made: a pass plays the same few again and again


class BadMessage(ValueError):
    """A payload that is not what its message id says."""


@dataclass(frozen=True)
class Message:
    """Base of all messages: a frozen dataclass whose fields are those of the spec, in order."""

    ID: ClassVar[int]
    NUMBERED: ClassVar[bool]
    FROM_HOST: ClassVar[bool]
    FROM_DEVICE: ClassVar[bool]
    LAYOUT: ClassVar[construct.Struct]
    KINDS: ClassVar[Mapping[str, type[IntEnum] | type[IntFlag]]] = {}
    RANGES: ClassVar[Mapping[str, tuple[int, int]]] = {}

    def pack(self) -> bytes:
        """The payload.  Raises BadMessage if a value does not fit its field."""
        names, codec = _coded(type(self))
        values = [getattr(self, name) for name in names]
        try:
            return codec.pack(values)
        except Misfit:
            pass
        try:
            return bytes(self.LAYOUT.build(dict(zip(names, values, strict=True))))
        except construct.ConstructError as wrong:
            raise BadMessage(f"{type(self).__name__}: {wrong}") from None

    @classmethod
    def unpack(cls, payload: bytes) -> Self:
        """The message in a payload.  Raises BadMessage if length or a value is wrong."""
        names, codec = _coded(cls)
        try:
            values = dict(zip(names, codec.unpack(payload), strict=True))
        except Misfit:
            raise BadMessage(f"{cls.__name__}: {len(payload)} bytes are not its length") from None
        for name, (low, high) in cls.RANGES.items():
            if not low <= values[name] <= high:
                raise BadMessage(f"{cls.__name__}: {name} {values[name]} is not in {low}..{high}")
        for name, kind in cls.KINDS.items():
            try:
                values[name] = kind(values[name])
            except ValueError:
                raise BadMessage(f"{cls.__name__}: {name} {values[name]} is unknown") from None
        return cls(**values)


def _coded(kind: type[Message]) -> tuple[tuple[str, ...], Codec]:
    """Names of a message's fields, in order, and what packs them; made once."""
    if kind not in _CODED:
        _CODED[kind] = tuple(f.name for f in fields(kind)), Codec(kind.LAYOUT)
    return _CODED[kind]


_CODED: dict[type[Message], tuple[tuple[str, ...], Codec]] = {}


@dataclass(frozen=True)
class Argument:
    """One argument of a step: its size in bytes and its inclusive range."""

    name: str
    size: int
    low: int
    high: int


@dataclass(frozen=True)
class Step:
    """One step of a pass, ready to send.

    `code` is its code byte and arguments, `readings` the number of readings it
    gives, `arguments` what it was made from.
    """

    name: str
    code: bytes
    readings: int
    arguments: Mapping[str, int]


@dataclass(frozen=True)
class StepKind:
    """What the spec says of one step."""

    name: str
    code: int
    arguments: tuple[Argument, ...]
    readings: Callable[..., int]
    _made: dict[tuple[int, ...], Step] = field(default_factory=dict, repr=False, compare=False)

    def make(self, **values: int) -> Step:
        """The step with these arguments.  Raises ValueError if one is out of its range."""
        key = tuple([values[argument.name] for argument in self.arguments])
        made = self._made.get(key)
        if made is None:
            if len(self._made) >= MOST_KEPT:
                self._made.clear()
            made = self._made[key] = self._make(values)
        return made

    def _make(self, values: Mapping[str, int]) -> Step:
        code = bytearray([self.code])
        for argument in self.arguments:
            value = int(values[argument.name])
            if not argument.low <= value <= argument.high:
                raise ValueError(f"step {self.name}: {argument.name} {value} is not in "
                                 f"{argument.low}..{argument.high}")
            code += value.to_bytes(argument.size, "little")
        plain = {argument.name: int(values[argument.name]) for argument in self.arguments}
        return Step(self.name, bytes(code), self.readings(**plain), plain)


def bits(mask: int) -> int:
    """Number of ones: `readings` expressions of the spec use it."""
    return mask.bit_count()


def split(code: bytes, kinds: Sequence[StepKind]) -> list[Step]:
    """Step codes back into steps.  Raises ValueError at an unknown code, a bad argument or a step cut short."""
    steps, at = [], 0
    while at < len(code):
        if code[at] >= len(kinds):
            raise ValueError(f"byte {at}: {code[at]:02X} is no step")
        kind, at = kinds[code[at]], at + 1
        values: dict[str, int] = {}
        for argument in kind.arguments:
            if at + argument.size > len(code):
                raise ValueError(f"byte {at}: step {kind.name} is cut short")
            values[argument.name] = int.from_bytes(code[at:at + argument.size], "little")
            at += argument.size
        steps.append(kind.make(**values))
    return steps


def layout(**parts: Any) -> construct.Struct:
    """A construct.Struct whose fields are the keywords, in order."""
    return construct.Struct(*[name / part for name, part in parts.items()], construct.Terminated)
