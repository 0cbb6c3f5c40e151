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

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from sagbench.device import Device, PassResult
from sagbench.parts import load_part
from sagbench.record import SweepRecord
from sagbench.sweep import sweep
from sagbench.wire.layout import Step
from virtual_fixture.inproc import Fixture

BOOT_S = 0.05       # the firmware's start; a host that opens a port waits longer


@dataclass
class Swept:
    """A record, and what every pass behind it asked and gave."""

    record: SweepRecord
    passes: list[PassResult] = field(default_factory=list)
    steps: list[list[Step]] = field(default_factory=list)      # what each pass asked

    @property
    def codes(self) -> list[int | None]:
        """Sums of codes of all passes, in order."""
        return [code for one in self.passes for code in one.readings]


class _Tapped(Device):
    """A device that keeps what its passes asked and gave."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.passes: list[PassResult] = []
        self.steps: list[list[Step]] = []

    def run_pass(self, sequence: Iterable[Step], **options: Any) -> PassResult:
        steps = [*sequence]
        result = super().run_pass(steps, **options)
        self.passes.append(result)
        self.steps.append(steps)
        return result


@cache
def part(marking: str) -> Any:
    """A part of the library; `load_part` once a process."""
    return load_part(marking)


def sweep_here(fixture: Fixture, marking: str, **options: Any) -> Swept:
    """Measure and judge what is in the fixture's socket; options as for `sagbench.sweep.sweep`.

    Raises what the host raises.  What was driven beyond its ratings raises AssertionError at the end of the fixture's block.
    """
    if fixture.now_s < BOOT_S:
        fixture.run(BOOT_S)
    with _Tapped(fixture.line) as device:
        record = sweep(device, part(marking), **options)
        return Swept(record, device.passes, device.steps)
