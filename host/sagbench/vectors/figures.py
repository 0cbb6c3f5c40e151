"""`python -m sagbench.vectors.figures`: what the test generation achieves, as `name value unit`.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
import time
from collections.abc import Iterator

from sagbench.parts.lookup import LIBRARY, load_file, load_part
from sagbench.parts.names import type_name
from sagbench.vectors import derive
from sagbench.vectors.complete import NETLISTS
from sagbench.vectors.generate import generate
from sagbench.vectors.netlist import read_bench
from sagbench.vectors.pinfaults import Kind
from sagbench.vectors.report import report_on

# The smallest of the ISCAS-85 benchmark circuits (Brglez and Fujiwara, 1985).
C17 = """
INPUT(1)
INPUT(2)
INPUT(3)
INPUT(6)
INPUT(7)
OUTPUT(22)
OUTPUT(23)
10 = NAND(1, 3)
11 = NAND(3, 6)
16 = NAND(2, 11)
19 = NAND(11, 7)
22 = NAND(10, 16)
23 = NAND(16, 19)
"""


def figures() -> Iterator[tuple[str, float, str]]:
    """Name, value, unit of each figure, over the whole library."""
    yield from speed()
    yield from coverage()
    yield from shortest()


def speed() -> Iterator[tuple[str, float, str]]:
    """How long it takes to search all additions anew and to put every type together."""
    begun = time.perf_counter()
    derive.additions()
    for name in type_names():
        load_part(name)
    yield "library_compile_s", round(time.perf_counter() - begun, 2), "s"


def coverage() -> Iterator[tuple[str, float, str]]:
    """What the logic tests find of the faults that are not proved invisible, and the longest of them."""
    found = {kind: [0, 0] for kind in Kind}
    longest = 0.0
    types = map(load_part, type_names())
    for part in {(p.function, tuple(pin.name for pin in p.pins)): p for p in types}.values():
        if load_file(LIBRARY / f"{part.function}.toml").static:
            continue                                   # a monostable is tried at rest only
        report = report_on(part)
        longest = max(longest, report.seconds)
        for kind, (shown, every) in report.coverage.counts().items():
            found[kind][0] += shown
            found[kind][1] += every - sum(fault.kind is kind for fault in report.invisible)
    pins = [sum(pair) for pair in zip(found[Kind.STUCK], found[Kind.OPEN], strict=True)]
    yield "pin_fault_coverage_percent", _percent(*pins), "%"
    yield "bridge_coverage_percent", _percent(*found[Kind.BRIDGE]), "%"
    yield "inside_coverage_percent", _percent(*found[Kind.INSIDE]), "%"
    yield "longest_logic_test_s", round(longest, 2), "s"


def shortest() -> Iterator[tuple[str, float, str]]:
    """Tests made for two circuits whose least numbers are published."""
    alu = read_bench((NETLISTS / "181.bench").read_text(encoding="utf-8"), "181.bench")
    yield "alu181_tests", len(generate(alu).vectors), "1"
    yield "c17_tests", len(generate(read_bench(C17, "c17")).vectors), "1"


def type_names() -> Iterator[str]:
    """Every type of the library: each function in each family it was made in."""
    for path in sorted(LIBRARY.glob("*.toml")):
        definition = load_file(path)
        for family in definition.families:
            yield type_name(definition.function, family)


def _percent(found: int, every: int) -> float:
    return round(100 * found / every, 2)


if __name__ == "__main__":
    for name, value, unit in figures():
        sys.stdout.write(f"{name} {value} {unit}\n")
