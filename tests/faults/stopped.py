"""The controller reset, its clock frozen, its main loop stuck, its serial line silent, while a chip is loaded at each load point.

    python -m faults stopped --count 1000

The real image in the simulated controller.  Each case hits a random moment of a pass that holds inputs by strong lines and loads an
output again and again at one of the load points of hardware/wiring.toml, to either rail.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from itertools import product
from typing import Any

from hardware import wiring
from virtual_fixture.bench import Bench
from virtual_fixture.tests.wire import Client, step

from faults.rails import GIVE_UP_S, GND, POWERED_MOST_MS, STRONG_MOST_MS, VCC, OffWatch

CHIP = {"part": "7400"}
INPUTS, OUTPUT = (1, 2), 3
LIMIT = 900                   # of the supply current's code at power_on
LOADS = 60                    # some 6 ms each
FIRST_S, LAST_S = 0.03, 0.25  # the moment, after power: by then the loads have begun, and are not over
# The watchdog has an oscillator of its own: 32 ms, and a quarter more for its tolerance (ATmega2560 data sheet, 128 kHz).
# A reset lets go of all ports at once and needs no clock for it (data sheet, "Resetting the AVR").
WATCHDOG_S = 0.032 * 1.25


def _frozen(bench: Bench) -> None:
    bench.freeze(10.0)
    bench.at(WATCHDOG_S, bench.reset)


KINDS: dict[str, Callable[[Bench], None]] = {"reset": Bench.reset, "frozen": _frozen, "stuck": Bench.spin, "silent": lambda bench: None}


@cache
def cases() -> tuple[tuple[str, dict[str, Any], int], ...]:
    """Kind of fault, load point and rail, in turn."""
    return tuple(product(KINDS, wiring.load()["load_point"], (0, 1)))


def _pass(point: dict[str, Any], high: int) -> list[bytes]:
    """Loaded to 5 V the output sinks, so the inputs are high; they are held by strong lines."""
    inputs = sum(1 << (k - 1) for k in INPUTS)
    lines = sum({"M": 1, "S": 2}[line] for line in point["lines"])
    return [step("reference", reference=0), step("power_on", supply=VCC, supply_2=0, ground=GND, limit=LIMIT),
            *(step("verify", position=k) for k in INPUTS),
            step("drive", m_on=0, m_high=0, s_on=inputs, s_high=inputs * high),
            *[step("load", position=OUTPUT, lines=lines, load=point["load"], high=high, also=0, repeats=48, settle_us=500)] * LOADS]


def outcome(index: int) -> dict[str, Any]:
    """Case `index`, with a fixture, a chip and a moment of its own."""
    kind, point, high = cases()[index % len(cases())]
    moment = random.Random(index).uniform(FIRST_S, LAST_S)
    struck: list[float] = []
    with Bench(CHIP, seed=index) as bench:
        client = Client(bench)
        client.hello()
        bench.at(moment, lambda: struck.append(bench.now_s), powered=True)
        client.start_pass(*_pass(point, high))
        while not struck and bench.now_s < 2:
            client.turn()
        off = OffWatch(bench, bench.now_s)
        KINDS[kind](bench)
        powered = off.supplied and bool(struck)
        off.until_done(GIVE_UP_S)
        # A loop that hangs with interrupts off takes no bytes: an overrun is then what must be.
        return {"index": index, "kind": kind, "point": point["name"], "high": high, "powered": powered, "moment_s": moment, "powered_ms": off.powered_ms, "strong_ms": off.strong_ms,
                "seen": [str(one) for one in bench.forgive() if not (kind == "stuck" and one.what == "receiver overrun")]}


def wrong(one: dict[str, Any]) -> str:
    """What is wrong with a case, or nothing."""
    where = f"{one['kind']} at {one['point']}, {'to 5 V' if one['high'] else 'to 0 V'}"
    if one["seen"]:
        return f"{where}: {one['seen'][0]}"
    if not one["powered"]:
        return f"{where}: the chip was not powered at that moment"
    if one["powered_ms"] > POWERED_MOST_MS or one["strong_ms"] > STRONG_MOST_MS:
        return f"{where}: powered for {one['powered_ms']:.1f} ms, strong lines on for {one['strong_ms']:.1f} ms"
    return ""
