"""Sweeps without a process, a pseudo-terminal or a wait between host and fixture: for studies and comparisons.

    with Fixture(seed=7) as fixture:                       # virtual_fixture.inproc
        fixture.insert("tests/demo/tired.toml")
        done = sweep_here(fixture, "74LS00")
    done.record, done.passes, fixture.violations

Host and simulator meet on the serial line here too: `Device` gets `fixture.line` and nothing else.
Time is simulated time for both, so the codes are the same on every run.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Any

from sagbench.device import Device, PassResult
from sagbench.parts import load_part
from sagbench.record import SweepRecord
from sagbench.sweep import sweep
from virtual_fixture.inproc import Fixture

BOOT_S = 0.05       # the firmware's start; a host that opens a port waits longer


@dataclass
class Swept:
    """A record, and every pass's readings, events and status behind it."""

    record: SweepRecord
    passes: list[PassResult] = field(default_factory=list)

    @property
    def codes(self) -> list[int | None]:
        """Sums of codes of all passes, in order."""
        return [code for one in self.passes for code in one.readings]


class _Tapped(Device):
    """A device that keeps what its passes gave."""

    passes: list[PassResult]

    def run_pass(self, *arguments: Any, **options: Any) -> PassResult:
        result = super().run_pass(*arguments, **options)
        self.passes = [*getattr(self, "passes", []), result]
        return result


@cache
def part(marking: str) -> Any:
    """A part of the library; `load_part` once a process."""
    return load_part(marking)


def sweep_here(fixture: Fixture, marking: str, **options: Any) -> Swept:
    """Measure and judge what is in the fixture's socket; options as for `sagbench.sweep.sweep`.

    Raises what the host raises, and AssertionError with the fixture's words if it saw anything beyond its ratings.
    """
    if fixture.now_s < BOOT_S:
        fixture.run(BOOT_S)
    with _Tapped(fixture.line) as device:
        record = sweep(device, part(marking), **options)
        swept = Swept(record, getattr(device, "passes", []))
    found = [str(violation) for violation in fixture.violations]
    assert not found, "the virtual fixture saw trouble:\n" + "\n".join(found)
    return swept
