"""March tests for memories, and a simulator of memory faults to see what a march finds.

A march is written as in the literature: elements in braces, each an address order (u up, d down, e either)
and operations on each cell in turn: "{e(w0); u(r0,w1); d(r1,w0)}".
The classes of faults, and what each march finds, are those of A. J. van de Goor, "Using march tests to
test SRAMs", IEEE Design & Test of Computers 10(1), 1993 (from memory).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

MATS_PLUS = "{e(w0); u(r0,w1); d(r1,w0)}"
MATS_PLUS_PLUS = "{e(w0); u(r0,w1); d(r1,w0,r0)}"
MARCH_X = "{e(w0); u(r0,w1); d(r1,w0); e(r0)}"
MARCH_Y = "{e(w0); u(r0,w1,r1); d(r1,w0,r0); e(r0)}"
MARCH_C_MINUS = "{e(w0); u(r0,w1); u(r1,w0); d(r0,w1); d(r1,w0); e(r0)}"

_ELEMENT = re.compile(r"\s*([ude])\(([rw][01](?:,[rw][01])*)\)\s*")

Levels = Mapping[str, bool | None]


@dataclass(frozen=True)
class Access:
    """One operation: write `value` to a cell, or read it and find `value`."""

    address: int
    write: bool
    value: int                           # 0 or 1: the data background or its complement


def accesses(march: str, words: int) -> Iterator[Access]:
    """Every operation of a march on a memory of so many words.  Raises ValueError if it is not written as above."""
    body = march.strip()
    if not (body.startswith("{") and body.endswith("}")):
        raise ValueError(f'march "{march}": expected elements between braces')
    for text in body[1:-1].split(";"):
        element = _ELEMENT.fullmatch(text)
        if not element:
            raise ValueError(f'march element "{text.strip()}": expected u, d or e and operations, as in u(r0,w1)')
        addresses = range(words - 1, -1, -1) if element[1] == "d" else range(words)
        for address in addresses:
            for operation in element[2].split(","):
                yield Access(address, operation[0] == "w", int(operation[1]))


def backgrounds(width: int) -> list[int]:
    """Data words to march with: all alike, then alternating by ones, twos, fours ..., so that each two bits of a word differ once."""
    found = [0]
    run = 1
    while run < width:
        found.append(sum(1 << bit for bit in range(width) if bit // run % 2 == 0))
        run *= 2
    return found


# ------------------------------------------------------------------ on the pins
@dataclass(frozen=True)
class RamPins:
    """The pins of a memory; `write` and `select` are active low.  Shared data pins stand in both data lists."""

    address: tuple[str, ...]             # lowest bit first
    data_in: tuple[str, ...]
    data_out: tuple[str, ...]
    write: str
    select: str
    enable: str = ""                     # output enable, active low


def ram_steps(pins: RamPins, march: str = MARCH_C_MINUS) -> Iterator[tuple[Levels, bool]]:
    """Levels for each step of a march with every background, and whether the outputs are to be looked at in it.

    Address and data change only while nothing is written; the pins that write, select and enable move
    alone.  Shared data pins are driven only while the outputs are off: by `enable`, else by `select`.
    """
    shared = {name: None for name in pins.data_in if name in pins.data_out}
    start: dict[str, bool | None] = dict.fromkeys((*pins.address, *pins.data_in), False)
    start |= {**shared, pins.write: True, pins.select: True} | ({pins.enable: True} if pins.enable else {})
    yield start, False
    switch = pins.enable or (pins.select if shared else "")     # turns the outputs off
    if switch != pins.select:
        yield {pins.select: False}, False
    on = not switch
    for background in backgrounds(len(pins.data_in)):
        for access in accesses(march, 1 << len(pins.address)):
            levels: dict[str, bool | None] = {n: bool(access.address >> i & 1) for i, n in enumerate(pins.address)}
            if access.write:
                if on and switch:
                    yield {switch: True}, False
                    on = False
                word = background ^ -access.value
                yield levels | {n: bool(word >> i & 1) for i, n in enumerate(pins.data_in)}, False
                # The pulse that writes is the inner one of write and select.
                inner = [pins.select] if switch == pins.select else []
                for name, level in [(pins.write, False), *((n, v) for n in inner for v in (False, True)), (pins.write, True)]:
                    yield {name: level}, False
                if shared:
                    yield shared, False
            else:
                yield levels, on
                if not on:
                    yield {switch: False}, True
                    on = True


# ------------------------------------------------------------- faults of a memory
@dataclass(frozen=True)
class MemoryFault:
    """One fault of a one-bit-wide memory.

    kind        what it does
    "stuck"     the cell is always `value`
    "transition" the cell cannot change to `value`
    "inversion" a change of the other cell to `when` turns the cell over
    "idempotent" a change of the other cell to `when` makes the cell `value`
    "state"     while the other cell is `when` the cell is `value`
    "address"   the address reaches the other cell instead of its own
    "both"      the address reaches its own cell and the other; reads give both, pulled low
    "none"      the address reaches no cell: reads give `value`
    """

    kind: str
    cell: int
    other: int = -1
    value: int = 0
    when: int = 0


def all_faults(kind: str, words: int) -> list[MemoryFault]:
    """Every fault of a kind in a memory of so many words."""
    cells = range(words)
    pairs = [(a, b) for a in cells for b in cells if a != b]
    if kind in ("stuck", "transition", "none"):
        return [MemoryFault(kind, cell, value=value) for cell in cells for value in (0, 1)]
    if kind in ("address", "both"):
        return [MemoryFault(kind, a, b) for a, b in pairs]
    if kind == "inversion":
        return [MemoryFault(kind, a, b, when=when) for a, b in pairs for when in (0, 1)]
    return [MemoryFault(kind, a, b, value, when) for a, b in pairs for value in (0, 1) for when in (0, 1)]


class FaultyMemory:
    """A one-bit-wide memory with one fault, from a given state at power-on."""

    def __init__(self, fault: MemoryFault, cells: Sequence[int]) -> None:
        self.fault, self.cells = fault, list(cells)
        self._hold()

    def _hold(self) -> None:
        f = self.fault
        if f.kind == "stuck" or f.kind == "state" and self.cells[f.other] == f.when:
            self.cells[f.cell] = f.value

    def _reached(self, address: int) -> tuple[int, ...]:
        if address != self.fault.cell:
            return (address,)
        return {"address": (self.fault.other,), "both": (address, self.fault.other), "none": ()}.get(self.fault.kind, (address,))

    def write(self, address: int, value: int) -> None:
        """Write a bit."""
        f = self.fault
        for cell in self._reached(address):
            changed = self.cells[cell] != value
            if f.kind == "transition" and cell == f.cell and changed and value == f.value:
                continue
            self.cells[cell] = value
            if changed and cell == f.other and value == f.when:
                if f.kind == "inversion":
                    self.cells[f.cell] ^= 1
                elif f.kind == "idempotent":
                    self.cells[f.cell] = f.value
        self._hold()

    def read(self, address: int) -> int:
        """Read a bit."""
        reached = self._reached(address)
        return min((self.cells[cell] for cell in reached), default=self.fault.value)


def finds(march: str, fault: MemoryFault, words: int) -> bool:
    """Whether a march shows a fault, from each of four states at power-on."""
    starts = ([0] * words, [1] * words, [k & 1 for k in range(words)], [~k & 1 for k in range(words)])
    return all(_shows(march, FaultyMemory(fault, start)) for start in starts)


def _shows(march: str, memory: FaultyMemory) -> bool:
    for access in accesses(march, len(memory.cells)):
        if access.write:
            memory.write(access.address, access.value)
        elif memory.read(access.address) != access.value:
            return True
    return False
