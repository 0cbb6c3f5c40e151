"""Every fault of the virtual chip on every pin of parts of every kind: each sweep ends, with a verdict or a refusal in words, in bounded time.

    python -m faults matrix --count 200          # the first 200 of them, of all parts and kinds

The kinds and what they hang on are those of the virtual chip's own table, so a new kind is tried without a word here.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
import signal
import time
from collections.abc import Iterator
from functools import cache
from typing import Any

from sagbench.errors import SagbenchError
from virtual_fixture.chips import load
from virtual_fixture.chips.behaviour.monostables import Monostable
from virtual_fixture.chips.description import FAULTS, read
from virtual_fixture.chips.errors import ChipFileError
from virtual_fixture.inproc import Fixture

from inprocess import sweep_here

# Gates, inverters, open collectors, Schmitt inputs, flip-flops, a monostable, a decoder, a bus driver; each family's circuits.
PARTS = ("7400", "74L02", "74S04", "74LS03", "74LS14", "74LS74", "74LS112", "74LS123", "74LS138", "74LS245", "74HC00", "4013")
# Values, plainly beyond the data book where it has one; of a kind alone where that wants others.
VALUES: dict[str, tuple[Any, ...]] = {"level": ("low", "high"), "rows": (-1, 1), "milliamperes": (60,), "beta": (4,), "volts": (0.5,),
                                      "ohms": (60,), "leak ohms": (3000,), "short ohms": (1,), "weak_pull_up ohms": (1000,), "factor": (5,)}
SIMULATED_MOST_S, CPU_MOST_S = 20.0, 60


BAD = ("hung", "late", "overstress", "traceback", "silent")     # ends that must not be; silent: neither good nor a word why


class Hung(BaseException):
    """No end within CPU_MOST_S; no Exception, so that nothing takes it for its own."""


def _places(part: str, kind: str) -> list[str]:
    """Pins a fault's field of this kind may name."""
    made = read({"part": part}).behaviour
    assert made is not None
    timing = made.analog.split() if issubclass(made, Monostable) else []
    return {"pin": made.pin_names(), "input": made.input_names(), "timing": timing,
            "output": [name.removeprefix("<>") for name in made.output_names()]}[kind]


def _choices(part: str, fault: str, name: str, kind: str, pin: str) -> list[Any]:
    if kind not in ("pin", "input", "output", "timing"):
        return [*VALUES.get(f"{fault} {name}", VALUES.get(name, ()))]
    pins = _places(part, kind)
    if name == "pin":
        return [pin]
    made = read({"part": part}).behaviour
    assert made is not None
    near = pins[(pins.index(pin) + 1) % len(pins)]
    return [to for to in ((made.vcc, made.gnd, near) if fault == "short" else (made.gnd,)) if to != pin]


def _of(part: str, kind: str) -> Iterator[dict[str, Any]]:
    """All faults of a kind that this part can have."""
    fields = FAULTS[kind]
    place = fields["pin"].kind if "pin" in fields else None
    for pin in _places(part, place) if place else [""]:
        found: list[dict[str, Any]] = [{"kind": kind}]
        for name, field in fields.items():
            if field.needed or name == "ohms" and "to" in fields:
                found = [{**one, name: value} for one in found for value in _choices(part, kind, name, field.kind, pin)]
        yield from (one for one in found if _possible(part, one))


def _possible(part: str, fault: dict[str, Any]) -> bool:
    try:
        read({"part": part, "fault": [fault]})
    except ChipFileError:
        return False
    return True


@cache
def cases() -> tuple[dict[str, Any], ...]:
    """Chip descriptions, shuffled by a fixed seed so that any first few of them are of all kinds."""
    found = [{"part": part, "fault": [fault]} for part in PARTS for kind in FAULTS for fault in _of(part, kind)]
    random.Random(7).shuffle(found)
    return tuple(found)


def _late(*_: object) -> None:
    raise Hung


def outcome(index: int) -> dict[str, Any]:
    """Sweep case `index`: its end, in words; "hung", "traceback" and "overstress" are what must not be."""
    chip, begun, said = cases()[index], time.process_time(), ""
    signal.signal(signal.SIGPROF, _late)
    signal.setitimer(signal.ITIMER_PROF, CPU_MOST_S, 0.1)      # again and again: what is raised in a callback of the library's is lost
    try:
        with Fixture(seed=index) as fixture:
            fixture.insert(load(chip, seed=index))
            record = sweep_here(fixture, chip["part"]).record
            end, simulated = str(record.verdict.value), fixture.now_s
            said = record.reasons[0].sentence if record.reasons else record.advice
    except SagbenchError as refusal:
        end, said, simulated = type(refusal).__name__, str(refusal), 0.0
    except AssertionError as seen:
        end, said, simulated = "overstress", str(seen), 0.0
    except Hung:
        end, simulated = "hung", 0.0
    except Exception as wrong:                         # whatever it is, it is what is looked for
        end, said, simulated = "traceback", f"{type(wrong).__name__}: {wrong}", 0.0
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    if simulated > SIMULATED_MOST_S:
        end = "late"
    elif end not in BAD and end != "sound" and not said:
        end = "silent"
    return {"index": index, "fixture": index, "chip": chip, "end": end, "said": said, "simulated_s": simulated,
            "cpu_s": time.process_time() - begun}




def wrong(one: dict[str, Any]) -> str:
    """What is wrong with an end, or nothing."""
    return f"{one['chip']}: {one['end']} {one['said']}" if one["end"] in BAD else ""
