# SPDX-License-Identifier: MIT
"""A SweepRecord as JSON and back; `sweep.schema.json` describes the file.

The names in the file are the names of the record's fields.  A number that is not
finite is null, and null read where a number must be is "not a number".
Version 2 added fields that may be missing (figures a pin, families, diagnoses, the
decision rule, budgets), so files of version 1 are read as well; a file of any other
version is refused, never guessed at.
"""
from __future__ import annotations

import json
import math
import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from importlib import resources
from typing import Any

from sagbench.errors import UsageError
from sagbench.record import SweepRecord

KIND = "sagbench sweep"
VERSION = 2
READS = (1, VERSION)


class RecordFileError(UsageError):
    """A file that is not a sweep record of this schema version; str() says where and what to do."""


def to_json(record: SweepRecord) -> str:
    """The record as a JSON text (UTF-8 when written), two spaces a level, a line feed at the end."""
    head = {"kind": KIND, "schema_version": VERSION}
    text = json.dumps(head | _plain(record), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    # A word of the command line that was not UTF-8 holds lone surrogates; as \\udcxx they are JSON and can be written.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def from_json(text: str, where: str = "the file") -> SweepRecord:
    """The record of a JSON text.  Raises RecordFileError, which names `where`."""
    try:
        data = json.loads(text, parse_constant=_no_constant)
    except ValueError as wrong:
        raise RecordFileError(f"{where} is not JSON ({wrong}); give a file written by `sagbench sweep --json`") from None
    except RecursionError:
        raise RecordFileError(f"{where} is nested too deep to be a sweep record") from None
    if not isinstance(data, dict) or data.pop("kind", None) != KIND:
        raise RecordFileError(f"{where} is not a sweep record; give a file written by `sagbench sweep --json`")
    version = data.pop("schema_version", None)
    if isinstance(version, bool) or version not in READS:
        raise RecordFileError(f"{where} has schema version {version!r}, this sagbench reads "
                              f"{' and '.join(map(str, READS))}; "
                              "use the sagbench that wrote it")
    try:
        record = _shaped(SweepRecord, data, "")
    except _Misfit as misfit:
        raise RecordFileError(f"{where}: {misfit}") from None
    assert isinstance(record, SweepRecord)
    return record


def schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the file."""
    text = resources.files(__package__).joinpath("sweep.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


class _Misfit(Exception):
    """A value that is not what its place in the record asks for."""


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _shaped(kind: Any, value: Any, path: str) -> Any:
    """`value` as the type `kind` asks for; `path` is where it stands, for the message."""
    origin, parts = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return None if value is None else _shaped(next(p for p in parts if p is not type(None)), value, path)
    if origin is tuple:
        return tuple(_shaped(parts[0], item, f"{path}[{i}]") for i, item in enumerate(_expect(value, list, path)))
    if origin is Mapping:
        pairs = _expect(value, dict, path).items()
        return {_key(parts[0], key, path): _shaped(parts[1], item, f"{path}.{key}") for key, item in pairs}
    if isinstance(kind, type) and is_dataclass(kind):
        return _record(kind, _expect(value, dict, path), path)
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(value)
        except ValueError:
            known = ", ".join(repr(member.value) for member in kind)
            raise _Misfit(f"{_at(path)} is {value!r}, must be one of {known}") from None
    if kind is float:
        return math.nan if value is None else float(_expect(value, (int, float), path))
    return _expect(value, kind, path)


def _record(kind: Any, value: dict[str, Any], path: str) -> Any:
    hints = typing.get_type_hints(kind)
    for name in value:
        if name not in hints:
            raise _Misfit(f"{_at(path)} has a field {name!r} that nobody knows; take it out")
    for field in fields(kind):
        if field.name not in value and field.default is MISSING and field.default_factory is MISSING:
            raise _Misfit(f"{_at(path)} lacks the field {field.name!r}")
    return kind(**{name: _shaped(hints[name], item, f"{path}.{name}".lstrip(".")) for name, item in value.items()})


def _expect(value: Any, kind: Any, path: str) -> Any:
    # bool is an int to Python, not to a reader of the file.
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        wanted = {list: "a list", dict: "an object", str: "a text", int: "a whole number", bool: "true or false"}
        raise _Misfit(f"{_at(path)} is {json.dumps(value)[:40]}, must be {wanted.get(kind, 'a number')}")
    return value


def _key(kind: type, key: str, path: str) -> Any:
    if kind is not int:
        return key
    try:
        return int(key)
    except ValueError:
        raise _Misfit(f"{_at(path)} has the key {key!r}, must be a pin number") from None


def _at(path: str) -> str:
    return path or "the record"
