"""Check data against a JSON Schema, and say what to do about each mistake.

Only what our own schemas use: type, properties, required, additionalProperties,
propertyNames, items, enum, pattern, minimum, maximum, minItems, maxItems,
minProperties, anyOf, if, then, else, $ref into $defs.  The tests hold it against a general JSON
Schema library, so the schema that helps an editor is the one that rules here.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from .positions import Path, Places

Schema = Mapping[str, Any]
_KINDS: dict[str, tuple[type, ...]] = {"object": (dict,), "array": (list,), "string": (str,), "number": (int, float)}
_WORDS = {"object": "a table", "array": "an array", "string": "a string in quotes", "number": "a number"}


@dataclass(frozen=True)
class Mistake:
    """One thing wrong at `path`; `column` is counted from the beginning of that value's text."""

    path: Path
    found: str
    expected: str
    advice: str = ""
    at_key: bool = False
    column: int | None = None
    is_gap: bool = False                 # something is missing (not wrong),
    missing: str = ""                    # the key that is, if it is one

    def told(self, file: str, places: Places) -> tuple[tuple[int, int], str]:
        """Line and column, and `file:line:column: found ..., expected ...; advice`."""
        line, column = places.key(self.path) if self.at_key else places.value(self.path)
        if self.column is not None:
            column += 1 + self.column    # behind the opening quote
        text = f"{file}:{line}:{column}: found {self.found}, expected {self.expected}"
        return (line, column), f"{text}; {self.advice}" if self.advice else text


def nearest(word: str, words: Iterable[str]) -> str:
    """A suggestion: 'did you mean "x"?', or "" if nothing is near."""
    near = difflib.get_close_matches(word, list(words), n=1, cutoff=0.6)
    return f'did you mean "{near[0]}"?' if near else ""


def once(mistakes: Iterable[Mistake]) -> list[Mistake]:
    """The mistakes without echoes: a misspelt key is not also the lack of the right one."""
    told = list(mistakes)
    meant = {(m.path[:-1], m.advice) for m in told if m.at_key}
    return [m for m in told if not m.missing or (m.path, nearest(m.missing, (m.missing,))) not in meant]


def show(value: Any) -> str:
    """A value as a reader of the file would write it, shortened."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"an array of {len(value)}"
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= 40 else text[:37] + '..."'


def check(data: Any, schema: Schema) -> list[Mistake]:
    """Every mistake of `data`, in the order of the file's own tables; [] if it fits."""
    return list(_check(data, schema, schema, ()))


def _check(data: Any, schema: Schema, root: Schema, path: Path) -> Iterator[Mistake]:
    while "$ref" in schema:
        target: Any = root
        for part in str(schema["$ref"]).removeprefix("#/").split("/"):
            target = target[part]
        schema = target
    kind = schema.get("type")
    if kind and not _is(data, kind):
        yield Mistake(path, show(data), _WORDS[kind])
        return
    if "enum" in schema and data not in schema["enum"]:
        yield Mistake(path, show(data), "one of " + ", ".join(map(str, schema["enum"])),
                      nearest(str(data), map(str, schema["enum"])))
    if "anyOf" in schema:
        tries = [list(_check(data, one, root, path)) for one in schema["anyOf"]]
        kind_fits = [t for t, one in zip(tries, schema["anyOf"], strict=True) if "type" in one and _is(data, one["type"])]
        if all(tries) and kind_fits and not isinstance(data, list):
            yield from kind_fits[0]
        elif all(tries):
            deep = [t for t in tries if t[0].path != path]
            yield from deep[0] if deep else [
                Mistake(path, show(data), schema.get("description") or
                        " or ".join(dict.fromkeys(t[0].expected for t in tries)))]
    if "if" in schema:
        branch = "else" if any(_check(data, schema["if"], root, path)) else "then"
        yield from _check(data, schema.get(branch, {}), root, path)
    if isinstance(data, dict):
        yield from _check_table(data, schema, root, path)
    elif isinstance(data, list):
        yield from _check_array(data, schema, root, path)
    elif isinstance(data, str):
        if "pattern" in schema and not re.search(schema["pattern"], data):
            yield Mistake(path, show(data), schema.get("form", f"text of the form {schema['pattern']}"))
    elif isinstance(data, (int, float)):
        low, high = schema.get("minimum"), schema.get("maximum")
        if not math.isfinite(data):
            yield Mistake(path, show(data), "a finite number", "leave out what the data sheet does not give")
        elif low is not None and data < low:
            yield Mistake(path, show(data), f"{low} or more", "" if low else "currents out of a pin are negative, magnitudes are not")
        elif high is not None and data > high:
            yield Mistake(path, show(data), f"{high} or less", "" if high else "a current that flows out of the pin is negative")


def _is(data: Any, kind: str) -> bool:
    return isinstance(data, _KINDS[kind]) and not isinstance(data, bool)


def _check_table(data: dict[str, Any], schema: Schema, root: Schema, path: Path) -> Iterator[Mistake]:
    known = schema.get("properties", {})
    for name in schema.get("required", ()):
        if name not in data:
            yield Mistake(path, f"no `{name}`", f"`{name}`: {_meaning(known.get(name) or root.get('properties', {}).get(name, {}), root)}", at_key=True,
                          is_gap=True, missing=name)
    if len(data) < schema.get("minProperties", 0):
        yield Mistake(path, "an empty table", "at least one entry", at_key=True, is_gap=True)
    other = schema.get("additionalProperties", True)
    for name, value in data.items():
        inner = (*path, name)
        if name in known:
            yield from _check(value, known[name], root, inner)
        elif other is False:
            yield Mistake(inner, f"`{name}`", "one of " + ", ".join(known), nearest(name, known), at_key=True)
        else:
            if "propertyNames" in schema:
                for wrong in _check(name, schema["propertyNames"], root, inner):
                    yield Mistake(inner, wrong.found, wrong.expected, wrong.advice, at_key=True)
            if isinstance(other, Mapping):
                yield from _check(value, other, root, inner)


def _check_array(data: list[Any], schema: Schema, root: Schema, path: Path) -> Iterator[Mistake]:
    if len(data) < schema.get("minItems", 0):
        yield Mistake(path, show(data), f"at least {schema['minItems']} entries", is_gap=True)
    if len(data) > schema.get("maxItems", len(data)):
        yield Mistake(path, show(data), f"at most {schema['maxItems']} entries")
    if "items" in schema:
        for index, value in enumerate(data):
            yield from _check(value, schema["items"], root, (*path, index))


def _meaning(schema: Schema, root: Schema) -> str:
    if "description" in schema:
        return str(schema["description"])
    return _WORDS.get(str(schema.get("type")), "a value")
