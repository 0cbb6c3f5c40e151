"""A builder who plugs every part and wire of BREADBOARD.md gets the wiring: the page is read back as a breadboard joins holes.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
from collections import Counter

import pytest

from hardware.reduced import breadboard, stages
from hardware.wiring import REDUCED, load

FIXTURE = load(REDUCED)
PAGE = (REDUCED.parent / "BREADBOARD.md").read_text()
HOLE = re.compile(r"^(\d)-([a-j])(\d+)$")
RAIL = {"5 V rail": "V5", "ground rail": "GND"}


def half(place: str) -> str:
    """The five holes that a hole belongs to; rails and controller pins stand for themselves."""
    found = HOLE.match(place)
    return f"{found[1]} {found[3]} {'above' if found[2] in 'fghij' else 'below'}" if found else RAIL.get(place, place)


def plugged() -> dict[str, str]:
    """Lead -> hole, from the page alone; chips by pin 1 and the data sheets' counting against the clock."""
    out: dict[str, str] = {}
    parts = {part.ref: part for part in stages.parts_of(FIXTURE)}
    for ref, board, first, last in re.findall(r": (\w+): pin 1 in (\d)-e(\d+), to column (\d+)$", PAGE, re.MULTILINE):
        pins = sorted(parts[ref].pads, key=int)
        columns = [*range(int(first), int(last) + 1)]
        assert len(pins) == 2 * len(columns), ref
        for pin, (row, column) in zip(pins, [("e", c) for c in columns] + [("f", c) for c in reversed(columns)], strict=True):
            out[f"{ref}.{pin}"] = f"{board}-{row}{column}"
    for line in re.findall(r"^- \[ \] (?!wire)(.*)$", PAGE, re.MULTILINE):
        for lead, hole in re.findall(r"(\w+\.\w+) (\d-[a-j]\d+)", line):
            out[lead if lead not in out else f"{lead} again"] = hole      # both outer leads of U9 are A
    return out


WIRES = re.findall(r"^- \[ \] wire (\w+): (\S+) - (.+)$", PAGE, re.MULTILINE)


def test_what_the_board_joins_is_the_wiring() -> None:
    joined: list[set[str]] = []
    for ends in [*({half(a), half(b)} for _, a, b in WIRES), *({lead, half(hole)} for lead, hole in plugged().items())]:
        new = set(ends)
        for group in [g for g in joined if g & new]:
            new |= group
            joined.remove(group)
        joined.append(new)
    leads = re.compile(r"^(?:[A-Z]+\d+\.\w+|V5|GND)$")
    found = [{e for e in group if leads.match(e)} for group in joined]
    wanted: dict[str, set[str]] = {"V5": {"V5", "A1.5V"}, "GND": {"GND", "A1.GND", f"A1.{FIXTURE['controller']['strap']['pin']}"}}
    for pin, wire in FIXTURE["controller"]["wires"].items():
        if wire["net"]:
            wanted.setdefault(wire["net"], set()).add(f"A1.{pin}")
    for part in stages.parts_of(FIXTURE):
        for pad, net in part.pads.items():
            if net:
                wanted.setdefault(net, set()).add(stages.end(part, pad))
    alone = [{"A1.D0"}, {"A1.D1"}]
    assert sorted(map(sorted, (g for g in found if len(g) > 1))) == sorted(map(sorted, (w for w in wanted.values() if w not in alone and len(w) > 1)))


def test_no_hole_is_used_twice() -> None:
    used = Counter([*plugged().values(), *(place for _, a, b in WIRES for place in (a, b) if HOLE.match(place))])
    assert [hole for hole, times in used.items() if times > 1] == []
    assert all(1 <= int(HOLE.match(hole)[3]) <= breadboard.COLUMNS for hole in used)          # type: ignore[index]
    assert len(used) > 400


def test_parts_do_not_stand_on_each_other() -> None:
    """Columns of parts astride the trough are theirs alone; two of three leads may share columns, one above, one below."""
    taken: dict[tuple[int, int, str], str] = {}
    for standing in breadboard.layout(FIXTURE).standing:
        sides = {"above" if h.above else "below" for h, _ in standing.holes.values()}
        for column in range(standing.column, standing.column + standing.width):
            for side in sides:
                other = taken.setdefault((standing.board, column, side), standing.part.ref)
                assert other == standing.part.ref, (other, standing.part.ref)


@pytest.mark.parametrize("k", FIXTURE["lists"]["decoupled"])
def test_each_chip_has_its_capacitor_beside_it(k: int) -> None:
    at = {s.part.ref: s for s in breadboard.layout(FIXTURE).standing}
    chip, capacitor = at[f"U{k}"], at[f"C{310 + k}"]
    assert (capacitor.board, capacitor.column) == (chip.board, chip.column + chip.width)
