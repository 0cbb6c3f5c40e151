"""The C structure `specimen` as a ctypes structure, read from its header.

The header is the one place where a field is declared; a field added there is a
field here.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
import re
from pathlib import Path
from typing import Any

HEADER = Path(__file__).with_name("specimen.h")
_TYPES: dict[str, Any] = {"double": ctypes.c_double, "int32_t": ctypes.c_int32, "uint64_t": ctypes.c_uint64}


def _fields(text: str) -> list[tuple[str, Any]]:
    sizes = {name: int(value) for name, value in re.findall(r"#define (\w+) (\d+)", text)}
    body = re.search(r"struct specimen \{(.*?)\n\};", text, re.S)
    if body is None:
        raise ValueError(f"{HEADER}: no `struct specimen {{ ... }};` to be found; restore it")
    fields: list[tuple[str, Any]] = []
    for kind, name, dims in re.findall(r"^\s+(\w+) (\w+)((?:\[\w+\])*);", body.group(1), re.M):
        ctype = _TYPES[kind]
        for dim in reversed(re.findall(r"\[(\w+)\]", dims)):
            ctype = ctype * (sizes[dim] if dim in sizes else int(dim))
        fields.append((name, ctype))
    return fields


def enumeration(name: str) -> dict[str, int]:
    """Members of an enum of the header, by name."""
    body = re.search(rf"enum {name} \{{(.*?)\}}", HEADER.read_text(), re.S)
    if body is None:
        raise ValueError(f"{HEADER}: no `enum {name}` to be found; restore it")
    return {member: n for n, member in enumerate(re.findall(r"\w+", body.group(1)))}


class Specimen(ctypes.Structure):
    """One built fixture; see specimen.h for fields and units."""

    _fields_ = _fields(HEADER.read_text())
