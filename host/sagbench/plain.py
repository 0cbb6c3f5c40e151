# SPDX-License-Identifier: MIT
"""Dataclasses as plain data for JSON and back; what does not fit is told with its place in the text.

    shaped(Point, {"x": 1.0, "y": "two"})      Misfit: y is "two", must be a number
    line_of(text, misfit.path)                 the line of the text where that stands
"""
from __future__ import annotations

import json
import math
import re
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from typing import Any

Path = tuple[str | int, ...]        # keys and indices from the outermost object inwards
_SPACE = re.compile(r"[ \t\n\r]*")
_NO_NUMBER = re.compile(r"NaN|Infinity|\d{4000}")


class Misfit(Exception):
    """A value that is not what its place asks for; str() says which, `path` where (of a key, if one is given, its value)."""

    def __init__(self, path: Path, what: str, key: str | None = None) -> None:
        at = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path).lstrip(".")
        super().__init__(f"{at or 'the record'} {what}")
        self.path = path if key is None else (*path, key)


def line_of(text: str, path: Sequence[str | int]) -> int:
    """The line, from 1, of what `path` leads to in a JSON text; if that is not there, of the last on the way that is."""
    at = _after_space(text, 0)
    for key in path:
        found = next((start for name, start in _children(text, at) if name == key), None)
        if found is None:
            break
        at = found
    return text.count("\n", 0, at) + 1


def line_of_mistake(text: str, wrong: ValueError) -> int:
    """The line, from 1, at which `json.loads` gave up on a text."""
    if isinstance(wrong, json.JSONDecodeError):
        return wrong.lineno
    found = _NO_NUMBER.search(text)
    return text.count("\n", 0, found.start() if found else 0) + 1


def _after_space(text: str, at: int) -> int:
    space = _SPACE.match(text, at)
    return space.end() if space else at


def _children(text: str, at: int) -> Iterator[tuple[str | int, int]]:
    """(key or index, start of the value) of what is in the object or list that starts there; the text is JSON."""
    closing = {"{": "}", "[": "]"}.get(text[at:at + 1])
    number, at = 0, _after_space(text, at + 1)
    while closing and text[at] != closing:
        name: str | int = number
        if closing == "}":
            name, at = json.JSONDecoder().raw_decode(text, at)
            at = _after_space(text, _after_space(text, at) + 1)
        yield name, at
        _, at = json.JSONDecoder().raw_decode(text, at)
        at = _after_space(text, at)
        number += 1
        if text[at] == ",":
            at = _after_space(text, at + 1)


def plain(value: Any) -> Any:
    """Dataclasses, enums, mappings and tuples as dictionaries, values and lists; a number that is not finite is None."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def shaped(kind: type, data: Any) -> Any:
    """What `plain` made, as a dataclass of that kind again; null where a number must be is "not a number".  Raises Misfit."""
    return _shape(kind, data, ())


def _shape(kind: Any, value: Any, path: Path) -> Any:
    """`value` as the type `kind` asks for; `path` is where it stands."""
    origin, parts = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return None if value is None else _shape(next(p for p in parts if p is not type(None)), value, path)
    if origin is tuple:
        return tuple(_shape(parts[0], item, (*path, i)) for i, item in enumerate(_expect(value, list, path)))
    if origin is Mapping:
        pairs = _expect(value, dict, path).items()
        return {_key(parts[0], key, path): _shape(parts[1], item, (*path, key)) for key, item in pairs}
    if isinstance(kind, type) and is_dataclass(kind):
        return _record(kind, _expect(value, dict, path), path)
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(value)
        except ValueError:
            known = ", ".join(repr(member.value) for member in kind)
            raise Misfit(path, f"is {value!r}, must be one of {known}") from None
    if kind is float:
        return math.nan if value is None else _number(_expect(value, (int, float), path), path)
    return _expect(value, kind, path)


def _number(value: float, path: Path) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if math.isinf(number):
        raise Misfit(path, "is a number beyond all bounds")
    return number


def _record(kind: Any, value: dict[str, Any], path: Path) -> Any:
    hints = typing.get_type_hints(kind)
    for name in value:
        if name not in hints:
            raise Misfit(path, f"has a field {name!r} that nobody knows; take it out", name)
    for field in fields(kind):
        if field.name not in value and field.default is MISSING and field.default_factory is MISSING:
            raise Misfit(path, f"lacks the field {field.name!r}")
    return kind(**{name: _shape(hints[name], item, (*path, name)) for name, item in value.items()})


def _expect(value: Any, kind: Any, path: Path) -> Any:
    # bool is an int to Python, not to a reader of the file.
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        wanted = {list: "a list", dict: "an object", str: "a text", int: "a whole number", bool: "true or false"}
        raise Misfit(path, f"is {json.dumps(value)[:40]}, must be {wanted.get(kind, 'a number')}")
    return value


def _key(kind: type, key: str, path: Path) -> Any:
    if kind is not int:
        return key
    try:
        return int(key)
    except ValueError:
        raise Misfit(path, f"has the key {key!r}, must be a pin number", key) from None
