"""The order of the self-test: what a later check rests on comes first, and where it is not sound the later one is not made.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable

from sagbench.device import Device
from sagbench.errors import DeviceError
from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Recipe
from sagbench.selftest import basics, bridges, lines, node, positions, switches, values
from sagbench.selftest.bench import Bench, Progress, Refused
from sagbench.selftest.findings import Report
from sagbench.wire.numbers import Reference, Source

STEPS = (
    "registers",
    "dead-man",
    "references",
    "level drive",
    "load selector",
    "positions at rest",
    "bridges",
    "lines",
    "power switches",
    "resistor values",
)


class Broken(Exception):
    """Something that the rest hangs on does not work: the rest is not tested."""


def selftest(device: Device, fixture: Fixture, progress: Progress, resistor: float | None = None) -> Report:
    """Test the fixture; nothing may be in the socket, but a resistor of so many ohms from a supply to a ground position, if given.

    A fault of the fixture is a result.

    Raises LinkError, DeviceError (the firmware does not understand), KeyboardInterrupt; everything is off then.
    """
    report = Report()
    bench = Bench(device, fixture, report)
    done = 0

    def step(what: Callable[[Bench], object]) -> object:
        nonlocal done
        progress(STEPS[done], done, len(STEPS))
        done += 1
        bench.clear()
        return what(bench)

    try:
        if not step(basics.registers):
            raise Broken
        enabled = step(basics.dead_man)
        if not step(basics.references):
            raise Broken
        step(basics.level_drive)
        if not step(lambda b: node.node_k(b, _vref(b))):
            raise Broken
        _sockets(bench, step, bool(enabled), resistor)
    except Broken:
        _rest(report, STEPS[done:])
    except Refused as refused:
        raise DeviceError(
            f"The fixture broke off the self-test by a safety rule ({refused}) where nothing should have caused it; "
            "see that the firmware belongs to this program."
        ) from None
    finally:
        progress("done", len(STEPS), len(STEPS))
    basics.others(bench)
    return report


def _sockets(
    bench: Bench, step: Callable[[Callable[[Bench], object]], object], enabled: bool, resistor: float | None
) -> None:
    step(positions.idle)
    seen = step(positions.who_sees_whom)
    assert isinstance(seen, dict)
    if not positions.wiring_of_k(bench, seen):
        raise Broken
    pair = bridges.tell(bench, seen, resistor)
    if bench.report.not_empty:
        raise Broken
    step(lines.each)
    if not enabled:
        raise Broken
    step(_switches)
    if resistor:
        _with_resistor(bench, pair, resistor)
    step(values.values)


def _with_resistor(bench: Bench, pair: tuple[int, int] | None, resistor: float) -> None:
    rails = switches.rails_of(bench, pair) if pair else None
    if rails:
        switches.with_resistor(bench, rails, resistor)
    else:
        where = f"it is between {pair[0]} and {pair[1]}" if pair else "there is none in the socket"
        bench.report.unsure(
            "current limit",
            f"The resistor of {resistor:g} ohm must be between a supply and a ground position; {where}.",
            "trip",
        )


def _switches(bench: Bench) -> None:
    switches.ground(bench)
    switches.supply(bench)


def _vref(bench: Bench) -> float:
    recipe: Recipe = bench.recipe()
    recipe.reference(Reference.AVCC)
    recipe.read(Source.VREF, 16, label="vref")
    return bench.run(recipe).one("vref")


def _rest(report: Report, names: tuple[str, ...]) -> None:
    why = "The socket is not empty." if report.not_empty else "It rests on what is not in order."
    if names:
        report.not_tested(", ".join(names), why, "order")
