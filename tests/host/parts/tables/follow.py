"""Carries out a function table's rows on a part of the library, as one would on a bench with the data book beside it.

SPDX-License-Identifier: MIT
"""
import random
from collections.abc import Iterator
from itertools import product

from paper_bench import Bench
from tables.c_tables import Table

from sagbench.parts import Role
from sagbench.parts.behaviour import Machine

LEVELS = {"L": False, "H": True}
INVERSE = {"L": "H", "H": "L"}
EXHAUSTIVE = 3                                         # more X than that in a row: all L, all H and a few at random


def _fillings(count: int) -> list[tuple[str, ...]]:
    if count <= EXHAUSTIVE:
        return list(product("LH", repeat=count))
    source = random.Random(count)
    return [("L",) * count, ("H",) * count, *(tuple(source.choices("LH", k=count)) for _ in range(6))]


def _rows(table: Table) -> Iterator[tuple[dict[str, str], list[str]]]:
    """Every row with its X spelt out: symbols by input column, wanted outputs."""
    names = table.columns.split("|")[0].split()
    for line in table.rows.strip().splitlines():
        left, right = (part.split() for part in line.split("|"))
        for filling in _fillings(left.count("X")):
            chosen = iter(filling)
            yield dict(zip(names, (next(chosen) if s == "X" else s for s in left), strict=True)), right


def _fresh(chip: Bench, table: Table, pins: dict[str, int], before: str) -> None:
    """Another such chip with its inputs low and nothing on its bidirectional pins, then brought to q = before."""
    chip.machine = Machine(chip.machine.network)
    roles = chip.definition.roles
    chip.machine.set({name: None if roles[name] is Role.BIDIRECTIONAL else False for name in chip.machine.network.inputs})
    for item in table.rest.split(",") if table.rest else ():
        pin, level = item.partition("=")[2].split(":")
        chip.set_pin(int(pin), LEVELS[level])
    for together in (table.low if before == "L" else table.high).split(","):
        for item in together.split():
            name, level = item.split("=")
            chip.set_pin(pins[name], LEVELS[level])


def _carry_out(chip: Bench, pins: dict[str, int], symbols: dict[str, str]) -> None:
    """The clock to where it rests in this row, the other columns in their order, then the edge."""
    edges = {name: symbol for name, symbol in symbols.items() if symbol in "^v"}
    if (rest := symbols.get("CLK", "")) in ("L", "^") and rest:
        chip.set_pin(pins["CLK"], False)
    for name, symbol in symbols.items():
        if symbol in LEVELS:
            chip.set_pin(pins[name], LEVELS[symbol])
    for name, symbol in edges.items():
        chip.set_pin(pins[name], symbol == "^")


def check(table: Table) -> None:
    """Every row of every section, from both states of a part with memory; fails at the first pin that does otherwise."""
    chip = Bench(table.part)
    names = table.columns.split("|")[0].split()
    for section in table.sections:
        pins = dict(zip(names, section, strict=False))
        outputs = section[len(names):]
        for symbols, wanted in _rows(table):
            for before in "LH" if table.low else "L":
                _fresh(chip, table, pins, before)
                _carry_out(chip, pins, symbols)
                for pin, symbol in zip(outputs, wanted, strict=True):
                    expected = {"q": before, "/q": INVERSE[before]}.get(symbol, symbol)
                    if table.oc and expected == "H":
                        expected = "Z"
                    assert chip.get(pin) == expected, (section, symbols, before, pin)
