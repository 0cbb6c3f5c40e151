"""What `parts show` says about a part's logic test: its length, what it finds, what it misses and why.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from sagbench.parts.definition import PLAIN, Definition, Pinout
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.parts.model import Part
from sagbench.vectors.compile import compile_part
from sagbench.vectors.complete import NETLISTS, is_searched
from sagbench.vectors.coverage import Coverage, NamedStep, simulate
from sagbench.vectors.faultsim import Simulator, columns_of
from sagbench.vectors.netlist import read_bench
from sagbench.vectors.pinfaults import Kind, PinFault, universe
from sagbench.vectors.proof import NO_DIFFERENCE, why_missed

# Seconds: one conversion, and conversions an output takes in a step: one unloaded, about five loaded.
CONVERSION = 104e-6
CONVERSIONS_A_CHECK = 6


@dataclass(frozen=True)
class Report:
    """Figures of one part's logic test."""

    part: str
    steps: int
    checks: int                          # outputs looked at, over all steps
    coverage: Coverage
    reasons: Mapping[PinFault, str]      # of every fault that is missed
    gates: tuple[int, int] | None        # stuck-at faults of the gate diagram: detected, all; None without a diagram

    @property
    def seconds(self) -> float:
        """Estimated time of the logic test on the fixture, all load points together."""
        return self.checks * CONVERSIONS_A_CHECK * CONVERSION

    @cached_property
    def invisible(self) -> tuple[PinFault, ...]:
        """Missed faults that no test can show, by proof."""
        return tuple(fault for fault, reason in self.reasons.items() if reason == NO_DIFFERENCE)

    def percent(self, *kinds: Kind) -> float:
        """Detected share of the faults of these kinds that are not proved invisible, in percent."""
        return 100 * self.coverage.share(*kinds, undetectable=self.invisible)

    def lines(self) -> list[str]:
        """Plain sentences, for the terminal."""
        text = [f"logic test: {self.steps} steps, {self.checks} output checks, about {self.seconds:.2f} s on the fixture"]
        for kind, (found, every) in self.coverage.counts().items():
            hidden = sum(fault.kind is kind for fault in self.invisible)
            note = f"; {hidden} more can be shown by no test" if hidden else ""
            text.append(f"{_TITLE[kind]}: {found} of {every - hidden} found{note}")
        if self.gates:
            text.append(f"stuck-at faults of the gate diagram: {self.gates[0]} of {self.gates[1]} found")
        by_reason: dict[str, list[str]] = {}
        for fault, reason in self.reasons.items():
            by_reason.setdefault(reason, []).append(str(fault))
        text += [f"missed: {', '.join(names)} ({reason})" for reason, names in by_reason.items()]
        return text


_TITLE = {Kind.STUCK: "pins stuck low or high, inputs open", Kind.OPEN: "outputs open",
          Kind.BRIDGE: "bridges between neighbouring pins", Kind.INSIDE: "stuck inside, as far as the equations show"}


def report_on(part: Part, definition: Definition | None = None) -> Report:
    """Simulate all faults of a part under its own sequence.  Takes some tenths of a second."""
    definition = definition or load_file(LIBRARY / f"{part.function}.toml" if part.origin == "library"
                                         else Path(part.origin)).of(part.family or PLAIN)
    compiled = compile_part(definition)
    pinout = definition.pinout(part.family or PLAIN)
    steps = named(part, pinout)
    coverage = simulate(compiled, universe(compiled, pinout), steps)
    return Report(part.name, len(steps), sum(len(step.expect) for step in steps), coverage,
                  why_missed(definition, coverage.missed(), is_searched(definition, (step.set for step in steps))), _gates(definition, steps))



def named(part: Part, pinout: Pinout) -> list[NamedStep]:
    """A part's sequence by pin names."""
    name = dict(enumerate(pinout.pins, start=1))
    return [NamedStep(part.named(step), {name[n]: expect for n, expect in step.expect.items()}) for step in part.sequence]


def _gates(definition: Definition, steps: list[NamedStep]) -> tuple[int, int] | None:
    """Collapsed stuck-at faults of the function's gate diagram that the steps detect."""
    path = NETLISTS / f"{definition.function}.bench"
    if not path.exists():
        return None
    netlist = read_bench(path.read_text(encoding="utf-8"), path.name)
    now: dict[str, bool | None] = {}
    vectors = []
    for step in steps:
        now.update(step.set)
        if step.expect:
            vectors.append(sum(1 << place for place, net in enumerate(netlist.inputs) if now[net]))
    simulator = Simulator(netlist, columns_of(vectors, len(netlist.inputs)), len(vectors))
    return sum(bool(simulator.detects(fault)) for fault in netlist.collapsed), len(netlist.collapsed)
