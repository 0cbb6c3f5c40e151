"""A chip file read and checked: all mistakes at once, each with its place.

The format is in README.md.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from . import families
from .behaviour import PARTS, Part, part_of
from .behaviour.monostables import Monostable
from .errors import ChipFileError, Mistake
from .keyplaces import Path as KeyPath
from .keyplaces import key_places

STATES = ("low", "high", "off", "input")


@dataclass(frozen=True)
class Curve:
    """Piecewise-linear volts against amperes into the pin.

    `volts` are measured against the rail ("GND" or "VCC") the current returns to.
    """

    pin: int
    state: str
    rail: str
    points: list[tuple[float, float]]
    shared: tuple[int, ...] = ()     # further inputs on the same transistor: the lowest carries it


@dataclass(frozen=True)
class Description:
    """What is in the socket.  `part` is None for an empty socket."""

    name: str
    part: str | None
    marking: str
    family: str
    behaviour: type[Part] | None
    faults: list[dict[str, Any]] = field(default_factory=list)
    parameters: dict[str, float] = field(default_factory=dict)
    centre: dict[str, float] = field(default_factory=dict)
    pins: dict[int, dict[str, float]] = field(default_factory=dict)
    curves: list[Curve] = field(default_factory=list)
    spread: float = 1.0
    supply_ma: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Field:
    """One field of a fault: what it must be, and whether it may be missing."""

    kind: str                    # "pin", "input", "output", "timing", "number", "positive", "level", "rows", "seconds"
    needed: bool = True


FAULTS: dict[str, dict[str, Field]] = {
    "stuck": {"pin": Field("pin"), "level": Field("level")},
    "open": {"pin": Field("pin"), "ohms": Field("positive", False)},
    "short": {"pin": Field("pin"), "to": Field("pin"), "ohms": Field("positive", False)},
    "beta": {"pin": Field("output"), "beta": Field("positive")},
    "series": {"pin": Field("pin"), "ohms": Field("positive")},
    "weak_pull_up": {"pin": Field("output"), "ohms": Field("positive")},
    "leak": {"pin": Field("pin"), "to": Field("pin"), "ohms": Field("positive", False),
             "microamperes": Field("positive", False)},
    "threshold": {"pin": Field("input"), "volts": Field("number")},
    "excess_supply": {"milliamperes": Field("positive")},
    "dead": {"pin": Field("output")},
    "silent": {"pin": Field("timing")},
    "endless": {"pin": Field("timing")},
    "width": {"pin": Field("timing"), "factor": Field("positive")},
    "reversed": {},
    "shifted": {"rows": Field("rows")},
}


def read(source: str | Path | dict[str, Any]) -> Description:
    """Description from a file or a dict of the same shape; ChipFileError if it is wrong."""
    if isinstance(source, dict):
        return _Reader("(dict)", source, {}).read()
    path = Path(source)
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as problem:
        raise ChipFileError([Mistake(str(path), 1, 1, f"no readable file ({problem.strerror})",
                                     "a chip file")]) from problem
    except UnicodeDecodeError as problem:
        line = path.read_bytes()[:problem.start].count(b"\n") + 1
        raise ChipFileError([Mistake(str(path), line, 1, "bytes that are not UTF-8", "text in UTF-8")]) from problem
    try:
        data = tomllib.loads(text)
        repr(data)                                      # a hexadecimal number may be read and too long to be shown
    except (ValueError, RecursionError) as problem:     # of the language too: numbers of thousands of digits, dates that are none
        raise ChipFileError([_syntax(str(path), text, str(problem))]) from problem
    return _Reader(str(path), data, key_places(text)).read()


def _syntax(name: str, text: str, message: str) -> Mistake:
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    lines = text.splitlines() or [""]
    line, column = (int(place[1]), int(place[2])) if place else (len(lines), len(lines[-1]) + 1)
    what = re.sub(r" \(at .*\)$", "", message)
    found = lines[line - 1][column - 1:].strip() if line <= len(lines) else ""
    return Mistake(name, line, column, repr(found) if found else "the end", f"TOML ({what})")


def _is_number(value: Any) -> bool:
    """A number that something can be reckoned with: no endless one, none beyond all bounds."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e30


class _Reader:
    def __init__(self, name: str, data: dict[str, Any],
                 places: dict[KeyPath, tuple[int, int]]) -> None:
        self.name, self.data, self.places = name, data, places
        self.mistakes: list[Mistake] = []
        self.behaviour: type[Part] | None = None

    def wrong(self, path: KeyPath, found: str, expected: str) -> None:
        while path not in self.places and path:
            path = path[:-1]
        line, column = self.places.get(path, (1, 1))
        self.mistakes.append(Mistake(self.name, line, column, found, expected))

    def read(self) -> Description:
        known = {"part", "marking", "note", "fault", "parameters", "centre", "pin", "curve",
                 "socket", "spread", "supply_ma"}
        for key in self.data:
            if key not in known:
                self.wrong((key,), repr(key), "one of " + ", ".join(sorted(known)))
        if self.data.get("socket", "empty") != "empty":
            self.wrong(("socket",), repr(self.data["socket"]), '"empty", or no such key')
        if "socket" in self.data:
            family, part = "", None
        else:
            family, part = self._part()
        faults = self._list("fault", self._fault)
        curves = [c for c in self._list("curve", self._curve) if c is not None]
        parameters = self._parameters(("parameters",), self.data.get("parameters", {}), family)
        centre = self._parameters(("centre",), self.data.get("centre", {}), family)
        pins = self._pins(family)
        spread = self.data.get("spread", 1.0)
        if not isinstance(spread, int | float) or not 0 <= spread <= 1:
            self.wrong(("spread",), repr(spread), "a number 0 (typical) .. 1 (full family spread)")
        supply = self._supply()
        if self.mistakes:
            raise ChipFileError(sorted(self.mistakes, key=lambda m: (m.line, m.column)))
        return Description(self.name, part, str(self.data.get("marking", part or "")), family,
                           self.behaviour, faults, parameters, centre, pins, curves,
                           float(spread), supply)

    def _supply(self) -> tuple[float, float, float] | None:
        """Package current with all outputs low, high, off (default: the larger) in mA."""
        value = self.data.get("supply_ma")
        if value is None:
            return None
        if not isinstance(value, list) or len(value) not in (2, 3) or not all(
                isinstance(x, int | float) and x >= 0 for x in value):
            self.wrong(("supply_ma",), repr(value), "[low, high] or [low, high, off] in mA")
            return None
        off = value[2] if len(value) == 3 else max(value)
        return float(value[0]), float(value[1]), float(off)

    def _part(self) -> tuple[str, str]:
        part = self.data.get("part")
        if not isinstance(part, str):
            self.wrong(("part",), repr(part), 'part = "74LS00", or socket = "empty"')
            return "", ""
        split = families.split_name(part)
        if split is None or split[0] not in families.names():
            self.wrong(("part",), repr(part), "a 54/74-series, 4000-series or other known part name")
            return "", part
        self.behaviour = part_of(split[1], split[0])
        if self.behaviour is None:
            self.wrong(("part",), repr(part), "a number with a behaviour: "
                       + " ".join(sorted(PARTS, key=lambda n: (len(n), n))))
        return split[0], part

    def _list(self, key: str, reader: Any) -> list[Any]:
        entries = self.data.get(key, [])
        if not isinstance(entries, list):
            self.wrong((key,), f"a {type(entries).__name__}", f"tables headed [[{key}]]")
            return []
        for k, entry in enumerate(entries):
            if not isinstance(entry, dict):
                self.wrong((key, k), repr(entry)[:40], f"a table headed [[{key}]]")
        return [reader(k, entry) for k, entry in enumerate(entries) if isinstance(entry, dict)]

    def _fault(self, index: int, entry: dict[str, Any]) -> dict[str, Any]:
        path: KeyPath = ("fault", index)
        kind = entry.get("kind")
        if not isinstance(kind, str) or kind not in FAULTS:
            self.wrong((*path, "kind"), repr(kind), "a kind: " + ", ".join(FAULTS))
            return {}
        fields = FAULTS[kind]
        out: dict[str, Any] = {"kind": kind}
        for key in entry:
            if key not in fields and key not in ("kind", "note"):
                self.wrong((*path, key), repr(key), f"for {kind!r} only: "
                           + (", ".join(fields) or "no further key"))
        for key, wanted in fields.items():
            if key in entry:
                out[key] = self._value((*path, key), entry[key], wanted.kind)
            elif wanted.needed:
                self.wrong(path, f"no {key!r}", f"a {key!r} for a fault of kind {kind!r}")
        if kind == "leak" and ("ohms" in out) == ("microamperes" in out):
            self.wrong(path, "a leak with both or neither", "either 'ohms' or 'microamperes'")
        return out

    def _value(self, path: KeyPath, value: Any, kind: str) -> Any:
        number = _is_number(value)
        if kind in ("pin", "input", "output", "timing"):
            return self._pin(path, value, kind)
        if kind == "level":
            if value not in ("low", "high"):
                self.wrong(path, repr(value), '"low" or "high"')
            return value
        if kind == "rows":
            if not isinstance(value, int) or isinstance(value, bool) or not -5 <= value <= 5 \
                    or value == 0:
                self.wrong(path, repr(value), "a whole number of rows, -5..5, not 0")
            return value
        if not number or kind == "positive" and value <= 0:
            self.wrong(path, repr(value), "a number above 0" if kind == "positive" else "a number")
            return 1.0
        return float(value)

    def _pin(self, path: KeyPath, value: Any, kind: str = "pin") -> int:
        """Pin number from a number or a name of the part."""
        if self.behaviour is None:
            return 0
        names = self.behaviour.pin_names()
        if isinstance(value, str) and value in names and value != "NC":
            pin = names.index(value) + 1
        elif isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= len(names):
            pin = value
        else:
            self.wrong(path, repr(value), f"a pin 1..{len(names)} or a name: " + " ".join(names))
            return 0
        name = names[pin - 1]
        outputs = [n.removeprefix("<>") for n in self.behaviour.output_names()]
        if kind == "output" and name not in outputs:
            self.wrong(path, f"pin {pin} ({name})", "an output: " + " ".join(outputs))
        timed = self.behaviour.timing_pins() if issubclass(self.behaviour, Monostable) else []
        if kind == "timing" and name not in (rcx for rcx, _ in timed):
            self.wrong(path, f"pin {pin} ({name})",
                       "a timing pin: " + (" ".join(rcx for rcx, _ in timed) or "none here"))
        if kind == "input" and name not in self.behaviour.input_names():
            self.wrong(path, f"pin {pin} ({name})",
                       "an input: " + " ".join(self.behaviour.input_names()))
        return pin

    def _curve(self, index: int, entry: dict[str, Any]) -> Curve | None:
        path: KeyPath = ("curve", index)
        before = len(self.mistakes)
        for key in entry:
            if key not in ("pin", "state", "to", "points", "shared", "note"):
                self.wrong((*path, key), repr(key), "pin, state, to, points, shared")
        for key in ("pin", "state", "points"):
            if key not in entry:
                self.wrong(path, f"no {key!r}", f"a {key!r} for a curve")
        if len(self.mistakes) > before:
            return None
        pin = self._pin((*path, "pin"), entry["pin"],
                        "input" if entry["state"] == "input" else "output")
        if entry["state"] not in STATES:
            self.wrong((*path, "state"), repr(entry["state"]), "one of " + ", ".join(STATES))
        rail = entry.get("to", "GND")
        if rail not in ("GND", "VCC"):
            self.wrong((*path, "to"), repr(rail), '"GND" or "VCC"')
        points = self._points((*path, "points"), entry["points"])
        others = entry.get("shared", [])
        if not isinstance(others, list) or (others and entry["state"] != "input"):
            self.wrong((*path, "shared"), repr(others), "a list of inputs, for an input's curve")
            others = []
        shared = tuple(self._pin((*path, "shared"), other, "input") for other in others)
        good = len(self.mistakes) == before
        return Curve(pin, entry["state"], rail, points, shared) if good else None

    def _points(self, path: KeyPath, value: Any) -> list[tuple[float, float]]:
        shape = (isinstance(value, list) and 2 <= len(value) <= 64 and all(
            isinstance(p, list) and len(p) == 2 and all(_is_number(x) for x in p)
            for p in value))
        if not shape:
            self.wrong(path, "something else", "2..64 pairs [volts, amperes]")
            return []
        points = [(float(v), float(a)) for v, a in value]
        if any(b[0] <= a[0] for a, b in zip(points, points[1:], strict=False)):
            self.wrong(path, "volts that do not rise", "points in order of rising volts")
        if any(b[1] < a[1] for a, b in zip(points, points[1:], strict=False)):
            self.wrong(path, "amperes that fall",
                       "a curve whose current into the pin never falls with rising volts")
        return points

    def _parameters(self, path: KeyPath, table: Any, family: str) -> dict[str, float]:
        if not isinstance(table, dict):
            self.wrong(path, repr(table), "a table of parameters")
            return {}
        if not family:
            return {}
        known = families.typical(family)
        out = {}
        for key, value in table.items():
            if key not in known or isinstance(known[key], dict | str):
                self.wrong((*path, key), repr(key), f"a parameter of {family} in families.toml")
            else:
                out[key] = self._value((*path, key), value, "number")
        return out

    def _pins(self, family: str) -> dict[int, dict[str, float]]:
        table = self.data.get("pin", {})
        if not isinstance(table, dict):
            self.wrong(("pin",), repr(table), "tables headed [pin.3] or [pin.1Y]")
            return {}
        out = {}
        for key, values in table.items():
            pin = self._pin(("pin", key), int(key) if re.fullmatch("[0-9]{1,3}", key) else key)
            out[pin] = self._parameters(("pin", key), values, family)
        return out
