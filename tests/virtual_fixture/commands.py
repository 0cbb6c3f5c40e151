"""Commands that change what is around the controller, now or at a moment of simulated time.

    chip FILE | empty | pull | resistor A,B=OHMS ... | fault KIND [KEY=VALUE ...]
    usb VOLTS | dip VOLTS SECONDS | button 0|1
    defect NAME=VALUE ... | mend [NAME ...]
    freeze SECONDS | spin | reset
    after SECONDS COMMAND     so much simulated time from now
    powered SECONDS COMMAND   so long after the chip is powered next

A command is understood, and its file read, before anything happens: what is wrong with it is said at
once, also of one that is to happen later.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .bench import Bench
from .clib import FixtureError
from .defects import number

BROWN_OUT_V = 3.0       # below, the controller's own brown-out reset would come in, which is not modelled


def _seconds(text: str) -> float:
    found = number(text)
    if found is None or found < 0:
        raise FixtureError(f"`{text}` is no time; give seconds, for instance 0.05")
    return found


def _volts(text: str) -> float:
    found = number(text)
    if found is None or not BROWN_OUT_V <= found <= 6:
        raise FixtureError(f"`{text}` V is no supply for the fixture; give {BROWN_OUT_V:g} to 6 (below {BROWN_OUT_V:g} the "
                           "controller's brown-out would come in, which is not modelled)")
    return found


def _fault(bench: Bench, words: list[str]) -> Callable[[], None]:
    """The chip that is in the socket with one fault more; its logic starts anew."""
    if not words:
        raise FixtureError("fault: give its kind and keys, for instance `fault open pin=GND`")
    source = bench.chip_source
    if not isinstance(source, str | Path | dict):
        raise FixtureError("fault: there is no chip in the socket that was read from a file")
    chip: dict[str, Any] = dict(source) if isinstance(source, dict) else tomllib.loads(Path(source).read_text())
    fault: dict[str, Any] = {"kind": words[0]}
    for word in words[1:]:
        key, _, text = word.partition("=")
        value = number(text)
        fault[key] = text if value is None else int(value) if value == int(value) and key in ("pin", "rows") else value
    chip["fault"] = [*chip.get("fault", []), fault]
    loaded = bench.load(chip)
    return lambda: bench.insert(loaded, source=chip)


def prepare(bench: Bench, line: str) -> Callable[[], Any]:
    """What a command will do.  Raises FixtureError, ValueError (DefectError, a chip file's mistake) or OSError."""
    word, *words = line.split() or [""]
    rest = line.strip().partition(" ")[2].strip()
    match word:
        case "chip":
            chip = bench.load(rest)
            return lambda: bench.insert(chip, source=rest)
        case "empty" | "pull":
            return lambda: bench.insert(None)
        case "resistor":
            chip = bench.load_resistors(*words)
            return lambda: bench.insert(chip)
        case "fault":
            return _fault(bench, words)
        case "usb":
            volts = _volts(rest)
            return lambda: bench.usb(volts)
        case "dip" if len(words) == 2:
            volts, seconds = _volts(words[0]), _seconds(words[1])
            return lambda: bench.dip(volts, seconds)
        case "button":
            return lambda: bench.button(rest == "1")
        case "defect":
            bench.check(*words)
            return lambda: bench.break_(*words)
        case "mend":
            return lambda: bench.mend(*words)
        case "freeze":
            seconds = _seconds(rest)
            return lambda: bench.freeze(seconds)
        case "spin":
            return bench.spin
        case "reset":
            return bench.reset
        case "after" | "powered" if len(words) > 1:
            seconds, later = _seconds(words[0]), prepare(bench, " ".join(words[1:]))
            return lambda: bench.at(seconds, later, powered=word == "powered")
    raise FixtureError(f"`{line.strip()}` is no command")
