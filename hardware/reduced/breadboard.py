"""Where each part of the reduced build stands on breadboards of 830 points, and each wire from hole to hole.

A hole is told as `2-h17`: board 2, row h, column 17.  Rows a to e are below the trough, f to j above it; the five holes of a half
column are joined.  Parts follow the stages; wires take the outermost holes that are free.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from hardware.board.design import Component
from hardware.reduced.stages import RAILS, Stage, end, fed, lead, stages
from hardware.svg import MARK, PALE, Drawing
from hardware.wiring import Fixture, WiringError

COLUMNS = 63                       # of a breadboard of 830 points: 63 x 10, and two rails at each side
BELOW, ABOVE = "abcde", "jihgf"    # rows of a half column, from the edge to the trough: wires first, parts last
NOTICE = "Written by python -m hardware.reduced.build. SPDX-License-Identifier: CERN-OHL-S-2.0"


@dataclass(frozen=True)
class Half:
    """Five holes that are joined: board, column, and whether they are above the trough."""

    board: int
    column: int
    above: bool

    def hole(self, row: str) -> str:
        return f"{self.board}-{row}{self.column}"


@dataclass
class Standing:
    """A part on the board: where its first column is, how many it takes, and the hole of each pad."""

    part: Component
    board: int
    column: int
    width: int
    holes: dict[str, tuple[Half, str]]


@dataclass(frozen=True)
class Lead:
    """A wire from a hole to a hole, to a rail, or to a pin of the controller board."""

    net: str
    here: str
    there: str


@dataclass
class Layout:
    """Everything on the boards; `wires` by stage."""

    standing: list[Standing] = field(default_factory=list)
    wires: list[tuple[Stage, list[Lead]]] = field(default_factory=list)

    @property
    def boards(self) -> int:
        """How many boards it takes."""
        return max(s.board for s in self.standing)


def _shape(part: Component) -> tuple[int, list[tuple[str, int, bool, str]]]:
    """Columns a part takes, and (pad, column from its first, above, row) of each pad."""
    numbers = sorted(part.pads, key=int)
    half = len(numbers) // 2
    if len(numbers) > 3:           # astride the trough, notch to the left: first pins below from left to right, last ones above
        rows = [(pad, n, False, "e") for n, pad in enumerate(numbers[:half])]
        return half, rows + [(pad, half - 1 - n, True, "f") for n, pad in enumerate(numbers[half:])]
    if len(numbers) == 3:          # flat side towards row a
        return 3, [(pad, n, True, "g") for n, pad in enumerate(numbers)]
    wide = 3 if part.kind == "button" else 1     # of a push button the legs across the trough are one: the other two lead the same
    above, below = ("g", "d") if part.kind in ("resistor", "diode") else ("f", "e")       # axial leads reach further
    return wide, [(numbers[0], 0, True, above), (numbers[1], wide - 1, False, below)]


def _order(fixture: Fixture, made: list[Stage]) -> Iterator[list[Component]]:
    """Parts of each stage as they stand side by side: a decoupling capacitor beside its chip, whatever stage it is soldered in."""
    beside = {f"U{fixture.part(part.ref)['position']}": part for stage in made for part in stage.parts if part.role == "decoupling"}
    for stage in made:
        yield [each for part in stage.parts if part.role != "decoupling"
               for each in ([part, beside[part.ref]] if part.ref in beside else [part])]


def _stand(fixture: Fixture, made: list[Stage]) -> list[Standing]:
    """Parts side by side, a column free before each chip; a part that does not fit at a board's end goes to the next.

    Parts of three leads stand one above the other where two come together.
    """
    out: list[Standing] = []
    board, column = 1, 1
    for parts in _order(fixture, made):
        lower: Standing | None = None          # the last part of three leads, while nothing is below it
        for part in parts:
            wide, pads = _shape(part)
            if lower and len(part.pads) == 3:
                holes = {pad: (Half(lower.board, lower.column + n, False), "d") for pad, n, _, _ in pads}
                out.append(Standing(part, lower.board, lower.column, wide, holes))
                lower = None
                continue
            air = int(len(part.pads) > 3)
            if column + air + wide - 1 > COLUMNS:
                board, column, air = board + 1, 1, 0
            column += air
            out.append(Standing(part, board, column, wide, {pad: (Half(board, column + n, above), row) for pad, n, above, row in pads}))
            lower = out[-1] if len(part.pads) == 3 else lower
            column += wide
    return out


def layout(fixture: Fixture) -> Layout:
    """The boards.  WiringError if a half column has not enough holes for its wires."""
    made = stages(fixture)
    out = Layout(_stand(fixture, made))
    at = {s.part.ref: s for s in out.standing}
    free: dict[Half, list[str]] = {}
    for standing in out.standing:
        for half, row in standing.holes.values():
            free.setdefault(half, list(ABOVE if half.above else BELOW)).remove(row)
    controller = fixture["controller"]
    pins = {w["net"]: f"{controller['ref']}.{pin}" for pin, w in controller["wires"].items() if w["net"]}
    last: dict[str, str | Half] = dict(pins)

    def plug(place: str | Half) -> str:
        if isinstance(place, str):
            return place
        if not free[place]:
            raise WiringError(f"breadboard: column {place.column} of board {place.board} has no hole left")
        return place.hole(free[place].pop(0))

    for stage in made:
        wires = []
        for part in stage.parts:
            done: set[tuple[Half, str]] = set()
            for pad in sorted(part.pads, key=int):
                net, half = part.pads[pad], at[part.ref].holes[pad][0]
                if net in RAILS:
                    wires.append(Lead(net, plug(half), RAILS[net]))
                elif net and (half, net) not in done:
                    if net in last:
                        wires.append(Lead(net, plug(last[net]), plug(half)))
                    last[net] = half
                    done.add((half, net))
        out.wires.append((stage, wires))
    for index, net, here in fed(fixture):
        out.wires[index][1].append(Lead(net, here, RAILS[net]))
    return out


# ------------------------------------------------------------------ the page
HEAD = """# {name} on breadboards, hole by hole

Written by `python -m hardware.reduced.build`. **Nobody has built it yet.** {boards} breadboards of 830 points side by side, rows a to e towards you.

`2-h17` is board 2, row h, column 17. `A1.D22` is pin D22 of the controller board. Join the rails of all boards: red 5 V, blue ground, both
sides, and check with the meter that each goes through in the middle, for some boards part them there. Chips have their notch to the left, so that
pin 1 is in row e; transistors and U9 have their flat side towards row a. Red letters and the plus in the pictures tell the way round. The order and what to mind at each stage: [WIRING.md](WIRING.md).
"""


def _places(standing: Standing) -> str:
    ends = [f"{end(standing.part, pad)} {half.hole(row)}" for pad, (half, row) in standing.holes.items()]
    if len(ends) > 3:
        return f"{standing.part.ref}: pin 1 in {standing.holes[min(standing.holes, key=int)][0].hole('e')}, to column {standing.column + standing.width - 1}"
    return ", ".join(ends)


def text(fixture: Fixture) -> str:
    """BREADBOARD.md."""
    made = layout(fixture)
    at = {s.part.ref: s for s in made.standing}
    out = [HEAD.format(name=fixture["fixture"]["name"], boards=made.boards)]
    out += [f"![board {n}](breadboard-{n}.svg)\n" for n in range(1, made.boards + 1)]
    for number, (stage, wires) in enumerate(made.wires, 1):
        out.append(f"\n## {number}. {stage.title}\n")
        out += [f"- [ ] {part.value} {part.tolerance}".rstrip() + f": {_places(at[part.ref])}" for part in stage.parts]
        out.append("")
        out += [f"- [ ] wire {wire.net}: {wire.here} - {wire.there}" for wire in wires]
    return "\n".join(out) + "\n"


PITCH, LEFT, TOP = 20.0, 30.0, 165.0
Y = {row: TOP + PITCH * n for n, row in enumerate("jihgf")} | {row: TOP + PITCH * (n + 7) for n, row in enumerate("edcba")}


def picture(fixture: Fixture, board: int) -> str:
    """One board from above with its parts, nets at the half columns; wires are in the list."""
    made = layout(fixture)
    on = Drawing(2 * LEFT + PITCH * COLUMNS, Y["a"] + 140)
    on.text(20, 26, f"{fixture['fixture']['name']}, breadboard {board}", size=18, bold=True)
    x = {n: LEFT + PITCH * (n - 0.5) for n in range(1, COLUMNS + 1)}
    on.rect(LEFT - 6, Y["j"] - 46, PITCH * COLUMNS + 12, Y["a"] - Y["j"] + 92, fill="#faf8f2", ink="#b9b3a3")
    on.rect(LEFT - 6, (Y["f"] + Y["e"]) / 2 - 8, PITCH * COLUMNS + 12, 16, fill="#ece7da", ink="none", pen=0)
    for y in (Y["j"] - 34, Y["a"] + 34):
        on.line((LEFT, y), (LEFT + PITCH * COLUMNS, y), ink="#c0392b", pen=1.5)
        on.line((LEFT, y + 9), (LEFT + PITCH * COLUMNS, y + 9), ink="#2255aa", pen=1.5)
    on.path("".join(f"M{at:g} {y:g}h0" for at in x.values() for y in Y.values()), ink="#c9c2b2", pen=5, round_ends=True)
    for row, y in Y.items():
        on.text(LEFT - 14, y, row, size=11, ink=PALE, at="middle", middle=True)
    for n in range(1, COLUMNS + 1):
        if n == 1 or n % 5 == 0:
            on.text(x[n], Y["j"] - 14, str(n), size=9, at="middle", ink=PALE)
    for standing in made.standing:
        if standing.board == board:
            _draw(on, standing, x)
    return on.done(NOTICE)


def _draw(on: Drawing, standing: Standing, x: dict[int, float]) -> None:
    part, spots = standing.part, [(x[half.column], Y[row]) for half, row in standing.holes.values()]
    x0, x1, y0, y1 = min(s[0] for s in spots), max(s[0] for s in spots), min(s[1] for s in spots), max(s[1] for s in spots)
    if len(part.pads) == 3:
        on.path(f"M {x0 - 8:g} {y0 + 8:g} L {x1 + 8:g} {y0 + 8:g} A 28 28 0 0 0 {x0 - 8:g} {y0 + 8:g} Z", fill="#e8e3d4", pen=1.2)
    else:
        on.rect(x0 - 7, y0 - 7, x1 - x0 + 14, y1 - y0 + 14, fill="#ffffff" if len(part.pads) > 3 else "#f1e3c8", pen=1.2, r=3)
    for (px, py), pad in zip(spots, standing.holes, strict=True):
        on.circle(px, py, 3, fill="#444444", pen=0.5)
        half = standing.holes[pad][0]
        if part.pads[pad]:
            on.text(px, Y["j"] - 52 if half.above else Y["a"] + 52, part.pads[pad], size=10, at="start" if half.above else "end",
                    ink="#1c6b33", turn=-90, middle=True)
    wide = len(part.pads) > 3
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    if wide:
        on.path(f"M {x0 - 7:g} {centre[1] - 6:g} a 6 6 0 0 1 0 12", fill="#ece7da", pen=1)
        on.text(*centre, f"{part.ref} {part.value}", size=11 if wide and part.name.startswith("DIP-") else 9, at="middle", bold=True, middle=True)
    elif len(part.pads) == 3:
        on.text(centre[0], y0 + 18, part.ref, size=10, at="middle", bold=True, middle=True)
    else:
        on.text(*centre, f"{part.ref} {part.value}", size=9 if y1 - y0 > 90 else 7.5, at="middle", bold=True, turn=-90, middle=True)
    if len(part.pads) <= 3 and (letters := [(spot, lead(part, pad)) for spot, pad in zip(spots, standing.holes, strict=True)])[0][1] in "CKA":
        for (px, py), letter in letters:
            on.text(px, py - 8 if len(part.pads) == 3 else py + (9 if py == y0 else -9), letter, size=7, at="middle", ink=MARK, middle=True)
    elif part.name.startswith("CP_"):
        on.text(x0, y0 + 9, "+", size=11, at="middle", ink=MARK, bold=True, middle=True)


def files(fixture: Fixture) -> Iterator[tuple[str, str]]:
    """(name, text) of the page and of each board's picture."""
    yield "BREADBOARD.md", text(fixture)
    for board in range(1, layout(fixture).boards + 1):
        yield f"breadboard-{board}.svg", picture(fixture, board)
