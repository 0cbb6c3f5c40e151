# SPDX-License-Identifier: MIT
"""The place a chip has on its board: what hangs on its outputs and what drives its inputs, as somebody writes it.

    drives      Y: 4x 74H00, 2x 74LS04 ; 2Y: 1k up
    driven by   A B: 7404, 3x 7400

A clause is pins, a colon and a list; clauses are set apart by semicolons.

    pins      1Y | 6 | Y, which means 1Y 2Y 3Y ... | Q* | several of them with spaces between
    list      N x PART        inputs of other chips, the heaviest of that part if no pin is named
              N x PART.PIN    that pin; of an output: it shares the line (a bus, wired outputs)
              .PIN            a pin of the chip itself; .B for pin 3A is its 3B
              1k up           a resistor to the supply; `1k up 12V` to another; `1k down` to ground
              15mA up 12V     what takes a current while the output is low (down: while it is high): an LED, a relay

In `driven by` the first of the list is the chip that drives the pin, what follows is all else that it drives.
"""
from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase

from sagbench.errors import UsageError
from sagbench.parts.model import Part, Pin, Role
from sagbench.replace.connect import Load
from sagbench.replace.pins import bare

_ITEM = re.compile(r"(?:(?P<count>\d+)\s*[x*×](?=[\s\d])\s*)?(?P<what>\S.*)", re.I)
_BARE_COUNT = re.compile(r"(?:[1-9]|[1-4]\d)\s")      # no marking begins so: 54 and 74 are the least there are
_PASSIVE = re.compile(r"(?P<number>\d+(?:\.\d+)?)(?:(?P<inner>[kKMR])(?P<after>\d+)|\s*(?P<unit>mA|A|k|K|M|R|ohms?|kohms?|Ω|kΩ)?)"
                      r"\s+(?P<way>up|down)(?:\s+(?:to\s+)?(?P<volts>\d+(?:\.\d+)?)\s*V)?", re.I)
_SCALE = {**dict.fromkeys(("", "r", "ohm", "ohms", "ω", "a"), 1.0), **dict.fromkeys(("k", "kohm", "kohms", "kω"), 1e3),
          "m": 1e6, "ma": 1e-3}
_MOST = 1000                             # of one thing on a line, and volts of a supply

Find = Callable[[str], Part]             # a part by its marking; raises UsageError


@dataclass(frozen=True)
class Place:
    """What is known of the board around a chip, by the chip's pin numbers; what is not told has no entry.

    An input whose list of drivers is empty hangs on the line of another of the chip's own pins, and is counted there.
    """

    drives: Mapping[int, tuple[Load, ...]] = field(default_factory=dict)
    driven_by: Mapping[int, tuple[Load, ...]] = field(default_factory=dict)      # the driver first


def read(part: Part, find: Find, drives: Iterable[str] = (), driven_by: Iterable[str] = (), file: str = "", name: str = "") -> Place:
    """The place of a part from what the command line says, and from the text of a place file called `name`.

    Raises UsageError with what was found, where, and what is expected.
    """
    said = _from_file(file, name) if file else {"drives": [], "driven_by": []}
    outputs = _lines(part, find, [*said["drives"], *_clauses(drives, "drives")], True)
    inputs = _lines(part, find, [*said["driven_by"], *_clauses(driven_by, "driven by")], False)
    own = {load.pin.number for loads in (*outputs.values(), *inputs.values()) for load in loads
           if load.own and load.pin and load.pin.role.is_input}
    return Place(outputs, {**dict.fromkeys(sorted(own), ()), **inputs})


_Clause = tuple[str, list[str], str]     # pins, list, where it stands


def _clauses(texts: Iterable[str], where: str) -> Iterator[_Clause]:
    for text in texts:
        for clause in filter(str.strip, text.split(";")):
            pins, colon, items = clause.partition(":")
            if not colon or not pins.strip():
                raise UsageError(f'{where}: found "{clause.strip()}", expected pins, a colon and a list, as in "Y: 4x 74H00, 2x 74LS04".')
            yield pins.strip(), [item.strip() for item in items.split(",") if item.strip()], where


def _from_file(text: str, name: str) -> dict[str, list[_Clause]]:
    """Tables `drives` and `driven_by`: pins -> list."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise UsageError(f"{name}: not valid TOML ({error}); a place file has tables [drives] and [driven_by].") from None
    found: dict[str, list[_Clause]] = {"drives": [], "driven_by": []}
    for table, entries in data.items():
        if table not in found or not isinstance(entries, dict):
            raise UsageError(f'{name}: found "{table}", expected the tables [drives] and [driven_by] only.')
        for pins, items in entries.items():
            if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
                raise UsageError(f'{name}: {table}."{pins}" is no list of texts; write "{pins}" = ["4x 74H00", "2x 74LS04"].')
            found[table].append((pins, [item.strip() for item in items], f"{name}, {table}"))
    return found


def _lines(part: Part, find: Find, clauses: Iterable[_Clause], outputs: bool) -> dict[int, tuple[Load, ...]]:
    found: dict[int, tuple[Load, ...]] = {}
    for pins, items, where in clauses:
        if not items and not outputs:
            raise UsageError(f'{where}: nothing behind "{pins}:", expected what drives it, as in "{pins}: 7404".')
        for pin in pins_named(part, pins, where, outputs):
            loads = tuple(_load(item, _Line(part, pin, find, where, driver=not outputs and not index)) for index, item in enumerate(items))
            if pin.number in found:
                raise UsageError(f"{where}: pin {pin.number} ({pin.name}) a second time; put all that hangs on it into one list.")
            found[pin.number] = loads
    return found


def pins_named(part: Part, text: str, where: str, outputs: bool) -> list[Pin]:
    """The outputs, or inputs, that a text of names means, each once.  Raises UsageError."""
    usable = [pin for pin in part.pins if (pin.role.is_output if outputs else pin.role.is_input)]
    found: list[Pin] = []
    for word in re.split(r"[\s,]+", text):
        means = [pin for pin in usable if _means(word, pin)]
        if not means:
            names = " ".join(pin.name for pin in usable)
            raise UsageError(f'{where}: the {part.name} has no {"output" if outputs else "input"} "{word}"; it has {names}.')
        found += means
    return list(dict.fromkeys(found))


def _means(word: str, pin: Pin) -> bool:
    """A pin's number, name, name without the number of its gate, or a pattern of one."""
    plain = word.upper()
    return plain in (str(pin.number), pin.name.upper(), bare(pin.name).upper()) or "*" in plain and fnmatchcase(pin.name.upper(), plain)


@dataclass(frozen=True)
class _Line:
    """What an entry of a list is about: a pin of the chip, where it is written, and whether it has to drive the pin."""

    part: Part
    pin: Pin
    find: Find
    where: str
    driver: bool


def _load(text: str, line: _Line) -> Load:
    where, driver = line.where, line.driver
    match = _ITEM.fullmatch(text)
    count = int(match["count"] or 1) if match else 0
    if not match or not 1 <= count <= _MOST:
        raise UsageError(f'{where}: found "{text}", expected a count up to {_MOST}, x and a part, as in "4x 74H00".')
    if passive := _PASSIVE.fullmatch(match["what"]):
        if driver:
            raise UsageError(f'{where}: found "{text}" first, expected the chip that drives the pin; a resistor comes behind it.')
        return _passive(text, count, passive, where)
    if _BARE_COUNT.match(match["what"]):
        raise UsageError(f'{where}: found "{text}", expected an x behind the count, as in "4x 74H00".')
    name, dot, pin_name = (word.strip() for word in match["what"].partition("."))
    part = line.find(name) if name else line.part
    if dot:
        pin = _pin(part, pin_name, "" if name else line.pin.name)
        if pin is None or not (pin.role.is_input or pin.role.is_output):
            names = " ".join(dict.fromkeys(p.name for p in part.pins if p.role.is_input or p.role.is_output))
            raise UsageError(f'{where}: the {part.name} has no pin "{pin_name}"; it has {names}.')
    else:
        pin = weakest_output(part) if driver else heaviest_input(part)
    if not name and (count > 1 or pin == line.pin):
        raise UsageError(f'{where}: found "{text}" on the line of {line.pin.name}, expected another pin of the {part.name}, once.')
    if driver and not pin.role.is_output:
        raise UsageError(f"{where}: {part.name}.{pin.name} is an input, expected an output that drives the pin.")
    if not driver and pin.role is Role.OUTPUT:
        raise UsageError(f"{where}: {part.name}.{pin.name} drives both ways, so that nothing else can drive its line; "
                         "name one of its inputs, or an output that can be off.")
    return Load(text, count, part, pin, own=not name)


def _pin(part: Part, text: str, beside: str) -> Pin | None:
    """A pin by name or number; beside 3A, B is 3B if there is no plain B."""
    gate = beside.replace(bare(beside), "{}", 1).format(text) if beside else text
    names = (text.upper(), gate.upper())
    return next((pin for name in names for pin in part.pins if name in (pin.name.upper(), str(pin.number))), None)


def _passive(text: str, count: int, match: re.Match[str], where: str) -> Load:
    unit = (match["inner"] or match["unit"] or "").lower()
    number = float(f"{match['number']}{'.' + match['after'] if match['after'] else ''}")
    value = number * _SCALE[unit]
    load = Load(text, count, up=match["way"].lower() == "up", volts=float(match["volts"]) if match["volts"] else None)
    if not value or load.volts is not None and not 0 < load.volts <= _MOST:
        raise UsageError(f'{where}: "{text}" is nothing at all; leave it out, or mend the number.')
    return replace(load, amperes=value) if unit in ("ma", "a") else replace(load, ohms=value)


def heaviest_input(part: Part) -> Pin:
    """The input that burdens a line most; of a part without inputs this raises UsageError."""
    if not part.inputs:
        raise UsageError(f"the {part.name} has no input that could hang on a line.")
    return max(part.inputs, key=lambda pin: (abs(part.limits[pin.number].iil.value) * pin.low_unit_loads,
                                             part.limits[pin.number].iih.value * pin.high_unit_loads, -pin.number))


def weakest_output(part: Part) -> Pin:
    """The output that can do least."""
    if not part.outputs:
        raise UsageError(f"the {part.name} has no output that could drive a line.")
    return min(part.outputs, key=lambda pin: (part.limits[pin.number].vol[-1].amperes, pin.number))
