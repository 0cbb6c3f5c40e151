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
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from sagbench.errors import UsageError
from sagbench.plain import Misfit, line_of, line_of_mistake, plain, shaped
from sagbench.record import SweepRecord

KIND = "sagbench sweep"
VERSION = 2
READS = (1, VERSION)


class RecordFileError(UsageError):
    """A file that is not a sweep record of this schema version; str() says where and what to do."""


def to_json(record: SweepRecord) -> str:
    """The record as a JSON text (UTF-8 when written), two spaces a level, a line feed at the end."""
    head = {"kind": KIND, "schema_version": VERSION}
    text = json.dumps(head | plain(record), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    # A word of the command line that was not UTF-8 holds lone surrogates; as \\udcxx they are JSON and can be written.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def from_json(text: str, where: str = "the file") -> SweepRecord:
    """The record of a JSON text.  Raises RecordFileError, which names `where`."""
    try:
        data = json.loads(text, parse_constant=_no_constant)
    except ValueError as wrong:
        raise RecordFileError(f"{where}:{line_of_mistake(text, wrong)}: is not JSON ({str(wrong)[:80]}); "
                              "give a file written by `sagbench sweep --json`") from None
    except RecursionError:
        raise RecordFileError(f"{where}:1: is nested too deep to be a sweep record") from None
    if not isinstance(data, dict) or data.pop("kind", None) != KIND:
        raise RecordFileError(f"{where}:1: is not a sweep record; give a file written by `sagbench sweep --json`")
    version = data.pop("schema_version", None)
    if isinstance(version, bool) or version not in READS:
        raise RecordFileError(f"{where}:{line_of(text, ['schema_version'])}: has schema version {repr(version)[:40]}, this sagbench reads "
                              f"{' and '.join(map(str, READS))}; "
                              "use the sagbench that wrote it")
    try:
        record = shaped(SweepRecord, data)
        _must_be_known_words(data, schema(), ())
    except Misfit as misfit:
        raise RecordFileError(f"{where}:{line_of(text, misfit.path)}: {misfit}") from None
    assert isinstance(record, SweepRecord)
    return record


def _must_be_known_words(value: Any, rule: Mapping[str, Any], path: tuple[str | int, ...]) -> None:
    """Words of which the schema has a list, such as units and roles, are of that list.  Raises Misfit."""
    if value is None:
        return
    for name in (rule["$ref"],) if "$ref" in rule else ():
        _must_be_known_words(value, schema()["$defs"][name.rpartition("/")[2]], path)
    for one in (*rule.get("anyOf", ()), *rule.get("oneOf", ())):
        _must_be_known_words(value, one, path)
    if isinstance(value, str) and value not in rule.get("enum", (value,)):
        raise Misfit(path, f"is {value[:40]!r}, must be one of {', '.join(map(repr, rule['enum']))}")
    if isinstance(value, list) and "items" in rule:
        for index, item in enumerate(value):
            _must_be_known_words(item, rule["items"], (*path, index))
    if isinstance(value, dict):
        for key, item in value.items():
            below = rule.get("properties", {}).get(key, rule.get("additionalProperties"))
            if isinstance(below, dict):
                _must_be_known_words(item, below, (*path, key))


@cache
def schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the file."""
    text = resources.files(__package__).joinpath("sweep.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")
