# SPDX-License-Identifier: MIT
"""A chip on paper: the record a sweep of it would leave, its answers worked out from a definition of its own.

Nothing is measured: a low output has 0.2 V, a high one 3.6 V; one that is off though it should drive
floats, at 1 V here, which is no level.
"""
from __future__ import annotations

from dataclasses import replace

from host.report import examples
from sagbench.parts.behaviour import Machine, Network
from sagbench.plan.logic import expected, levels_at
from sagbench.record import LogicMiss, LogicRecord, Verdict

VOLTS = {"L": 0.2, "H": 3.6, "Z": 1.0}


def record(part, chip, stuck=None, dead=None):
    """The sweep of a chip that does what the Definition `chip` says, tested as `part`.

    stuck: {pin name: level} of inputs or outputs; dead: {pin name: volts} of outputs that stay there.
    """
    network, stuck = Network(chip), stuck or {}
    faults = {network.slots[n]: (1, 0) if level else (0, 1) for n, level in stuck.items() if n in network.inputs}
    machine, misses, checks = Machine(network, 1, faults), [], 0
    place = dict(zip((pin.name for pin in part.pins), chip.pinout(part.family or "74").pins, strict=True))
    for index, step in enumerate(part.sequence):
        machine.set({place.get(name, name): level for name, level in part.named(step).items()})
        for pin, want in expected(part, step, ()).items():
            name = chip.pinout(part.family or "74").pins[pin - 1]
            does = machine.expect(name)
            seen = want.value if does is None else does.value
            if name in stuck and name in network.drivers:
                seen = "H" if stuck[name] else "L"
            volts = (dead or {}).get(name, VOLTS[seen])
            checks += 1
            if seen != want.value or name in (dead or {}):
                misses.append(LogicMiss(index, pin, want.value, volts, "open", dict(levels_at(part, index))))
    made = examples.sound_inverter()
    return replace(made, part=part.name, title=part.title, contacts=(), pins=(), pin_count=part.pin_count,
                   verdict=Verdict.FAILED if misses else Verdict.SOUND,
                   logic=(LogicRecord("open", len(part.sequence), checks, tuple(misses)),))
