"""Passes over a faulty line, against the same passes over a clean one: no result may differ.

    python -m faults link --count 500        # so many stretches of some 2,000 frames each

A pass that ends with a refusal in words gives no result, and is counted apart.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections import Counter
from functools import cache
from typing import Any

from sagbench.device import Device, PassResult
from sagbench.errors import FixtureError
from sagbench.wire import steps
from sagbench.wire.layout import Step
from sagbench.wire.numbers import LineLevel, Reference, Source

from faults.line import CLEAN, FaultyLine, Rates

START = [steps.idle(), steps.level(0), steps.reference(Reference.AVCC), steps.sense(0, 0, LineLevel.OFF)]      # whatever was before
PROGRAMS = 40                 # different passes
RECOVERY_MOST_S = 1.0
FRAMES = 2000                 # of a stretch, both directions, sent or sent again


def _step(rng: random.Random) -> Step:
    """One step of an unpowered fixture: whatever it changes shows in the readings after it."""
    lines = rng.getrandbits(24) & rng.getrandbits(24) & rng.getrandbits(24)
    position = rng.randint(1, 24)
    return rng.choice((
        lambda: steps.drive(lines, rng.getrandbits(24) & lines, 0, 0),
        lambda: steps.levels(rng.getrandbits(24)),
        lambda: steps.pin(position, rng.randint(0, 1), rng.randint(0, 1)),
        lambda: steps.sense(position, rng.randint(0, 3), rng.choice([*LineLevel])),
        lambda: steps.reference(rng.choice((Reference.AVCC, Reference.V2V56))),
        lambda: steps.level(rng.randrange(1024)),
        lambda: steps.settle(rng.randint(0, 300)),
        lambda: steps.lines_read(),
        lambda: steps.registers(rng.getrandbits(24)),
        lambda: steps.idle(),
        lambda: steps.load(position, 1, rng.randint(0, 3), rng.randint(0, 1), 0, rng.randint(1, 4), rng.randint(0, 100)),
        lambda: steps.scan(rng.getrandbits(24), rng.randint(1, 3)),
        lambda: steps.scan(rng.getrandbits(24), 1),
        lambda: steps.read(rng.choice([*Source]), rng.randint(1, 8))))()


@cache
def programs() -> tuple[list[Step], ...]:
    """The passes: from some ten to some two hundred steps, none idle for long."""
    rng = random.Random(11)
    return tuple([*START, *(_step(rng) for _ in range(rng.choice((10, 50, 100, 200))))] for _ in range(PROGRAMS))


def _result(one: PassResult) -> tuple[Any, ...]:
    """All of a result but its time."""
    return one.readings, tuple((e.kind, e.position, e.value) for e in one.events), one.status, one.steps, one.conversions


@cache
def _clean() -> tuple[tuple[tuple[Any, ...], float], ...]:
    """Each program's result over a clean line, and the simulated seconds it took."""
    line, found = FaultyLine(CLEAN, 0), []
    with Device(line) as device:
        for program in programs():
            begun = line.now()
            result = _result(device.run_pass(program))
            found.append((result, line.now() - begun))
    return tuple(found)


def stretch(index: int, rates: Rates = Rates(), frames: int = FRAMES) -> dict[str, Any]:
    """Passes over line number `index` until so many frames are sent; counts, and simulated seconds."""
    clean = _clean()
    random.seed(index)                          # the link's nonces
    rng, line = random.Random(index), FaultyLine(rates, index)
    told: Counter[str] = Counter()
    readings, clean_s, device, begun = 0, 0.0, None, line.now()
    while line.there.frames + line.back.frames < frames:
        which = rng.randrange(PROGRAMS)
        try:
            if device is None:
                device = Device(line)
                link = device._link             # there is no other way to see each frame that gets through
                line.progress = lambda link=link: (link.expected, link.queued)
            found = _result(device.run_pass(programs()[which]))
        except FixtureError as refusal:
            told[f"refused: {type(refusal).__name__}"] += 1
            device = None
            continue
        told["right" if found == clean[which][0] else "wrong"] += 1
        readings += len(found[0])
        clean_s += clean[which][1]
    return {"index": index, "frames": line.there.frames + line.back.frames, "told": told, "forged": line.there.forged + line.back.forged,
            "faults": line.there.faults + line.back.faults, "recovery_s": line.recovery_s, "seconds": line.now() - begun, "clean_seconds": clean_s,
            "readings": readings}


def wrong(one: dict[str, Any]) -> str:
    """What is wrong with a stretch, or nothing."""
    if one["told"].get("wrong"):
        return f"{one['told']['wrong']} wrong results"
    return f"no frame got through for {one['recovery_s']:.2f} s" if one["recovery_s"] > RECOVERY_MOST_S else ""
