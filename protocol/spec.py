"""Read protocol/spec.toml into plain objects, refusing what contradicts itself.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import keyword
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PATH = Path(__file__).with_name("spec.toml")
SIZES = {"u8": 1, "u16": 2, "u24": 3, "u32": 4}
TAILS = {"rest": 1, "u16[]": 2}           # kinds that run to the end of the payload, with the size of an item


class SpecError(ValueError):
    """The spec contradicts itself; the text says where and how."""


@dataclass(frozen=True)
class Field:
    """One field of a message or argument of a step."""

    name: str
    kind: str                             # "u8" ... "u32", "bytes", "rest", "u16[]"
    doc: str
    length: int = 0                       # of "bytes"
    low: int | None = None                # inclusive range, None if the whole of the kind
    high: int | None = None
    enum: str = ""
    flags: bool = False
    unit: str = ""

    @property
    def size(self) -> int:
        """Bytes; 0 for a tail."""
        return self.length if self.kind == "bytes" else SIZES.get(self.kind, 0)

    @property
    def tail(self) -> bool:
        """True if it runs to the end of the payload."""
        return self.kind in TAILS


@dataclass(frozen=True)
class Message:
    """One message."""

    name: str
    id: int
    sender: str                           # "host", "device", "both"
    numbered: bool
    doc: str
    fields: tuple[Field, ...]

    @property
    def fixed(self) -> int:
        """Bytes of the payload before a tail."""
        return sum(field.size for field in self.fields)

    @property
    def tail(self) -> Field | None:
        """The last field if it runs to the end."""
        return self.fields[-1] if self.fields and self.fields[-1].tail else None


@dataclass(frozen=True)
class Step:
    """One step of the pass language."""

    name: str
    code: int
    doc: str
    fields: tuple[Field, ...]
    readings: str                         # an expression over the arguments

    @property
    def length(self) -> int:
        """Bytes of the arguments."""
        return sum(field.size for field in self.fields)


@dataclass(frozen=True)
class Value:
    """One value of an enumeration, or one timing."""

    name: str
    value: int
    doc: str


@dataclass(frozen=True)
class Spec:
    """The whole of spec.toml."""

    protocol: dict[str, Any]
    frame: dict[str, Any]
    header: tuple[Field, ...]
    timing: tuple[Value, ...]
    messages: tuple[Message, ...]
    steps: tuple[Step, ...]
    enums: dict[str, tuple[Value, ...]]


def _field(raw: dict[str, Any], where: str, enums: dict[str, Any]) -> Field:
    kind = raw["type"]
    if kind not in SIZES and kind not in TAILS and kind != "bytes":
        raise SpecError(f"{where}: type {kind} is none of {', '.join([*SIZES, *TAILS, 'bytes'])}")
    if raw.get("enum") and raw["enum"] not in enums:
        raise SpecError(f"{where}: enum {raw['enum']} is not defined")
    if keyword.iskeyword(raw["name"]):
        raise SpecError(f"{where}: {raw['name']} is a word of Python's own")
    low, high = raw.get("range", (None, None))
    return Field(raw["name"], kind, raw["doc"], raw.get("length", 0), low, high,
                 raw.get("enum", ""), raw.get("flags", False), raw.get("unit", ""))


def _fields(raw: dict[str, Any], where: str, enums: dict[str, Any]) -> tuple[Field, ...]:
    fields = tuple(_field(f, f"{where}, field {f['name']}", enums) for f in raw["fields"])
    if any(field.tail for field in fields[:-1]):
        raise SpecError(f"{where}: only the last field may run to the end")
    return fields


def _unique(numbers: list[tuple[int, str]], what: str) -> None:
    seen: dict[int, str] = {}
    for number, name in numbers:
        if number in seen:
            raise SpecError(f"{what} {name} has the number of {seen[number]} (0x{number:02X})")
        seen[number] = name


def parse(text: str) -> Spec:
    """The spec in `text`.  Raises SpecError if it contradicts itself."""
    raw = tomllib.loads(text)
    enums = {name: tuple(Value(k, v["value"], v["doc"]) for k, v in values.items())
             for name, values in raw["enum"].items()}
    messages = tuple(Message(m["name"], m["id"], m["from"], m["numbered"], m["doc"],
                             _fields(m, f"message {m['name']}", enums)) for m in raw["message"])
    steps = tuple(Step(s["name"], s["code"], s["doc"], _fields(s, f"step {s['name']}", enums),
                       s.get("readings", "0")) for s in raw["step"])
    _unique([(m.id, m.name) for m in messages], "message")
    _unique([(s.code, s.name) for s in steps], "step")
    for message in messages:
        if message.fixed > raw["frame"]["payload_max"]:
            raise SpecError(f"message {message.name}: {message.fixed} bytes do not fit the payload")
    for step in steps:
        _check_step(step)
    if [s.code for s in steps] != list(range(len(steps))):
        raise SpecError("step codes must run from 0 without holes, in order")
    header = tuple(_field(f, f"header {f['name']}", enums) for f in raw["frame"]["header"])
    timing = tuple(Value(name, v["value"], v["doc"]) for name, v in raw["timing"].items())
    return Spec(raw["protocol"], raw["frame"], header, timing, messages, steps, enums)


def _check_step(step: Step) -> None:
    if any(f.tail or f.kind == "bytes" for f in step.fields):
        raise SpecError(f"step {step.name}: arguments are of fixed size")
    used = set(re.findall(r"[a-z_]\w*", step.readings)) - {"bits"}
    if unknown := used - {field.name for field in step.fields}:
        raise SpecError(f"step {step.name}: readings names {', '.join(sorted(unknown))}, which is no argument")


def load(path: Path = PATH) -> Spec:
    """The spec at `path`."""
    return parse(path.read_text())
