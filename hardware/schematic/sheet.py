"""One sheet of the schematic under construction: parts, wires, labels; whatever is left open gets a label of its net.

A drawing may be wrong here and nothing breaks unseen: `reader.py` reads the finished files and its netlist must equal
wiring.toml's.  Lengths in mm, y down, on KiCad's grid of 1.27 mm.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
import uuid
from dataclasses import dataclass, field
from typing import Any

from hardware.board.design import Component
from hardware.board.sexpr import Node, Quoted
from hardware.schematic import library

GRID = 1.27
STUB = 2.54
CLOSE = 2.6  # mm; pins so near to each other share the symbol of their supply
Point = tuple[float, float]
SPACE = uuid.UUID("5a9b0000-0000-4000-8000-000000000024")  # namespace: the same drawing gives the same file

# Kind, or value, of a part -> library and symbol. Pin numbers are the pads of board/footprints.toml.
SYMBOLS = {
    "resistor": ("Device", "R"),
    "capacitor": ("Device", "C"),
    "hc4051": ("74xx", "74HC4051"),
    "hc595": ("74xx", "74HC595"),
    "mcp6004": ("Amplifier_Operational", "MCP6004"),
    "BC327-40": ("Transistor_BJT", "BC327"),
    "BC337-40": ("Transistor_BJT", "BC337"),
    "BC337": ("Transistor_BJT", "BC337"),
    "BC557": ("Transistor_BJT", "BC557"),
    "lm4040": ("Reference_Voltage", "LM4040LP-2.5"),
    "diode": ("Diode", "1N4148"),
    "led": ("Device", "LED"),
    "button": ("Switch", "SW_Push"),
    "zif_socket": ("Connector_Generic", "Conn_02x12_Counter_Clockwise"),
    "header 8": ("Connector_Generic", "Conn_01x08"),
    "header 10": ("Connector_Generic", "Conn_01x10"),
    "header 36": ("Connector_Generic", "Conn_02x18_Odd_Even"),
}
POWER = {"GND": ("power", "GND"), "V5": ("bench24", "V5"), "VBUS": ("bench24", "VBUS")}

FLAG = ("power", "PWR_FLAG")


def symbol_of(part: Component) -> tuple[str, str]:
    """Library and name of a part's symbol."""
    if part.kind == "header":
        return SYMBOLS[f"header {len(part.pads)}"]
    if part.name.startswith("CP_"):
        return "Device", "C_Polarized"
    return SYMBOLS.get(part.value) or SYMBOLS[part.kind]


@dataclass
class Placed:
    """A symbol on the sheet."""

    part: Component
    unit: int
    at: Point
    angle: int
    flipped: bool

    def place(self, x: float, y: float) -> Point:
        """A point of the symbol (y up) on the sheet: flipped upside down if so wished, turned counter-clockwise."""
        v = y if self.flipped else -y
        a = math.radians(self.angle)
        return (
            round(self.at[0] + x * math.cos(a) + v * math.sin(a), 4),
            round(self.at[1] + v * math.cos(a) - x * math.sin(a), 4),
        )


@dataclass
class Sheet:
    """A drawing. `size` is a paper format of KiCad."""

    name: str
    title: str
    parts: dict[str, Component]
    size: str = "A4"
    placed: list[Placed] = field(default_factory=list)
    wires: list[tuple[Point, Point]] = field(default_factory=list)
    nodes: list[Node] = field(default_factory=list)
    anchors: set[Point] = field(default_factory=set)
    used: dict[str, Node] = field(default_factory=dict)
    count: int = 0

    def _id(self, what: str) -> Node:
        self.count += 1
        return ["uuid", str(uuid.uuid5(SPACE, f"{self.name} {what} {self.count}"))]

    # ------------------------------------------------------------ what a layout says
    def put(self, ref: str, x: float, y: float, angle: int = 0, unit: int = 1, flipped: bool = False) -> None:
        """Place a part (or one of its units); x, y in steps of the grid."""
        self.placed.append(Placed(self.parts[ref], unit, (round(x * GRID, 4), round(y * GRID, 4)), angle, flipped))

    def pin(self, ref: str, number: str) -> Point:
        """Where a pin of a placed part ends."""
        for one in self.placed:
            if one.part.ref == ref:
                for pin in self._pins(one):
                    if pin.number == number:
                        return one.place(pin.x, pin.y)
        raise KeyError(f"sheet {self.name}: {ref} has no pin {number} here")

    def wire(self, *way: Any) -> None:
        """A wire through points: (ref, pin), or steps of the grid; between two that are not in line it goes across first."""
        points = [self.pin(*p) if isinstance(p[0], str) else (round(p[0] * GRID, 4), round(p[1] * GRID, 4)) for p in way]
        for a, b in zip(points, points[1:], strict=False):
            corner = (b[0], a[1])
            for p, q in ((a, corner), (corner, b)):
                if p != q:
                    self.wires.append((p, q))

    def label(self, net: str, x: float, y: float, side: str = "right") -> None:
        """A label (or the symbol of a supply) of a net at a point of the grid, text on that side."""
        self._mark(net, (round(x * GRID, 4), round(y * GRID, 4)), {"right": 0, "up": 90, "left": 180, "down": 270}[side])

    def flag(self, net: str, x: float, y: float) -> None:
        """Tell KiCad's rule check that a supply is fed from outside the drawing."""
        self._supply(FLAG, f"#FLG{self.name}{self.count}", "PWR_FLAG", (round(x * GRID, 4), round(y * GRID, 4)), 0, -3.81)
        self.wire((x, y), (x, y + 3))
        self.label(net, x, y + 3, "down")

    def text(self, say: str, x: float, y: float, size: float = 1.8) -> None:
        """A remark."""
        self.nodes.append(["text", Quoted(say), ["at", *_mm(x * GRID, y * GRID), "0"], _effects(size, "left"), self._id("text")])

    # ------------------------------------------------------------ what follows from it
    def _pins(self, one: Placed) -> list[library.Pin]:
        return [p for p in library.pins(*symbol_of(one.part)) if p.unit in (0, one.unit)]

    def _mark(self, net: str, at: Point, towards: int) -> None:
        self.anchors.add(at)
        if net in POWER and towards in (90, 270):  # sideways a label takes less room
            self._power(net, at, 0 if (towards == 270) == (net == "GND") else 180)
            return
        self.nodes.append(
            [
                "global_label",
                Quoted(net),
                ["shape", "passive"],
                ["at", *_mm(*at), str(towards)],
                ["fields_autoplaced"],
                _effects(1.27, "left" if towards in (0, 90) else "right"),
                self._id("label"),
            ]
        )

    def _power(self, net: str, at: Point, angle: int) -> None:
        self._supply(POWER[net], f"#PWR{self.name}{self.count}", net, at, angle, 3.81 if net == "GND" else -3.556)

    def _supply(self, symbol: tuple[str, str], ref: str, value: str, at: Point, angle: int, below: float) -> None:
        """A symbol of one pin that stands for a supply; its value so far below it."""
        key = ":".join(symbol)
        self.used[key] = library.symbol(*symbol)
        where = (at[0], at[1] + (below if angle == 0 else -below))
        self.nodes.append(
            _instance(
                key,
                at,
                angle,
                1,
                False,
                self._id("power"),
                [
                    _field("Reference", ref, 0, at, True),
                    _field("Value", value, 1, where, False),
                    _field("Footprint", "", 2, at, True),
                    _field("Datasheet", "", 3, at, True),
                ],
                [["pin", Quoted("1"), self._id("pin")]],
            )
        )

    def finish(self) -> None:
        """Stubs with labels for pins no wire reaches; crosses at pins that are not connected."""
        touched = {p for w in self.wires for p in w} | self.anchors
        supplied: dict[tuple[str, int, float], Point] = {}  # net, direction, where its stubs end -> the last one
        for one in self.placed:
            for pin in self._pins(one):
                here = one.place(pin.x, pin.y)
                net = one.part.pads[pin.number]
                if here in touched or any(_on(here, w) for w in self.wires):
                    continue
                if not net:
                    self.nodes.append(["no_connect", ["at", *_mm(*here)], self._id("open")])
                    continue
                inside = one.place(pin.x + math.cos(math.radians(pin.angle)), pin.y + math.sin(math.radians(pin.angle)))
                dx, dy = round(here[0] - inside[0]), round(here[1] - inside[1])
                end = (round(here[0] + dx * STUB, 4), round(here[1] + dy * STUB, 4))
                self.wires.append((here, end))
                towards = {(1, 0): 0, (0, -1): 90, (-1, 0): 180, (0, 1): 270}[dx, dy]
                beside = supplied.get((net, towards, end[1])) if net in POWER and towards in (90, 270) else None
                supplied[net, towards, end[1]] = end
                if beside and abs(beside[0] - end[0]) <= CLOSE:  # two symbols of a supply would lie on each other
                    self.wires.append((beside, end))
                else:
                    self._mark(net, end, towards)

    def _split(self) -> list[tuple[Point, Point]]:
        """Wires cut wherever a pin, a label or another wire's end lies on them."""
        ends = (
            {p for w in self.wires for p in w}
            | self.anchors
            | {one.place(p.x, p.y) for one in self.placed for p in self._pins(one)}
        )
        out = set()
        for a, b in self.wires:
            stops = sorted({a, b, *(p for p in ends if _on(p, (a, b)))})
            out |= set(zip(stops, stops[1:], strict=False))
        return sorted(out)

    def _junctions(self, wires: list[tuple[Point, Point]]) -> list[Point]:
        meeting: dict[Point, int] = {}
        for w in wires:
            for p in w:
                meeting[p] = meeting.get(p, 0) + 1
        for one in self.placed:
            for pin in self._pins(one):
                p = one.place(pin.x, pin.y)
                if p in meeting:
                    meeting[p] += 1
        return sorted(p for p, n in meeting.items() if n > 2)

    def symbols(self) -> list[Node]:
        """The placed parts as the file holds them."""
        out = []
        for one in self.placed:
            key = ":".join(symbol_of(one.part))
            self.used[key] = library.symbol(*symbol_of(one.part))
            out.append(
                _instance(
                    key,
                    one.at,
                    one.angle,
                    one.unit,
                    one.flipped,
                    self._id(one.part.ref),
                    _fields(one),
                    [["pin", Quoted(p.number), self._id("pin")] for p in self._pins(one)],
                )
            )
        return out

    def tree(self) -> Node:
        """The sheet's file."""
        wires = self._split()
        symbols = self.symbols()
        body: list[Node] = [
            ["junction", ["at", *_mm(*p)], ["diameter", "0"], ["color", "0", "0", "0", "0"], self._id("junction")]
            for p in self._junctions(wires)
        ]
        body += [
            [
                "wire",
                ["pts", ["xy", *_mm(*a)], ["xy", *_mm(*b)]],
                ["stroke", ["width", "0"], ["type", "default"], ["color", "0", "0", "0", "0"]],
                self._id("wire"),
            ]
            for a, b in wires
        ]
        return [
            "kicad_sch",
            ["version", "20211123"],
            ["generator", "sagbench"],
            ["uuid", str(uuid.uuid5(SPACE, self.name))],
            ["paper", Quoted(self.size)],
            [
                "title_block",
                ["title", Quoted(self.title)],
                ["company", Quoted("sagbench")],
                ["comment", "1", Quoted("written by hardware/schematic from hardware/wiring.toml; CERN-OHL-S-2.0")],
            ],
            ["lib_symbols", *(self.used[k] for k in sorted(self.used))],
            *body,
            *self.nodes,
            *symbols,
        ]


# ---------------------------------------------------------------- pieces of the file
def _mm(x: float, y: float) -> tuple[str, str]:
    return f"{x:.4f}".rstrip("0").rstrip("."), f"{y:.4f}".rstrip("0").rstrip(".")


def _on(p: Point, wire: tuple[Point, Point]) -> bool:
    """Whether a point lies on a wire, ends included."""
    (x1, y1), (x2, y2) = wire
    return min(x1, x2) <= p[0] <= max(x1, x2) and min(y1, y2) <= p[1] <= max(y1, y2)


def _effects(size: float, justify: str = "", hide: bool = False) -> Node:
    out: Node = ["effects", ["font", ["size", str(size), str(size)]]]
    if justify:
        out.append(["justify", justify])
    return [*out, "hide"] if hide else out


def _field(name: str, value: str, number: int, at: Point, hide: bool, angle: int = 0, justify: str = "") -> Node:
    return [
        "property",
        Quoted(name),
        Quoted(value),
        ["id", str(number)],
        ["at", *_mm(*at), str(angle)],
        _effects(1.27, justify, hide),
    ]


def _instance(
    key: str, at: Point, angle: int, unit: int, flipped: bool, ident: Node, fields: list[Node], pins: list[Node]
) -> Node:
    mirror = [["mirror", "x"]] if flipped else []
    return [
        "symbol",
        ["lib_id", Quoted(key)],
        ["at", *_mm(*at), str(angle)],
        *mirror,
        ["unit", str(unit)],
        ["in_bom", "yes"],
        ["on_board", "yes"],
        ident,
        *fields,
        *pins,
    ]


def _fields(one: Placed) -> list[Node]:
    """Designator and value where they can be read, footprint and role hidden."""
    part, (x, y) = one.part, one.at
    value = f"{part.value} {part.tolerance}".strip()
    aside = part.kind in ("lm4040", "diode") and one.angle % 180 == 90
    small = part.kind in ("resistor", "capacitor", "diode", "led", "button")
    if small and one.angle % 180 == 0 and part.kind in ("resistor", "capacitor"):
        places = ((x + 2.54, y - 1.27), (x + 2.54, y + 1.27), "left")
    elif aside:
        places = ((x - 11.43, y - 1.27), (x - 11.43, y + 1.27), "")
    elif small:
        off = 2.54 if part.kind in ("resistor", "diode") else 3.81  # plates, arrows and push buttons are higher
        places = ((x, y - off), (x, y + off), "")
    elif part.kind in ("pnp", "npn"):
        places = ((x + 5.08, y - 1.27), (x + 5.08, y + 1.27), "left")
    elif part.kind == "mcp6004":
        places = ((x, y - 6.35), (x, y + 6.35), "left")
    elif part.kind == "header":
        tall = 24.13 if len(part.pads) > 10 else 13.97
        places = ((x, y - tall - 2.54), (x, y - tall), "")
    elif part.kind == "zif_socket":
        places = ((x, y - 18.0), (x, y + 19.0), "")
    else:
        places = ((x + 8.89, y - 16.51), (x + 8.89, y - 13.97), "left")
    turn = 90 if one.angle % 180 else 0
    if one.angle == 180 and places[2]:  # KiCad turns a field's box with its symbol
        places = (*places[:2], "right")
    return [
        _field("Reference", part.ref, 0, places[0], False, turn, places[2]),
        _field("Value", value, 1, places[1], False, turn, places[2]),
        _field("Footprint", f"{part.library}:{part.name}", 2, (x, y), True),
        _field("Datasheet", "", 3, (x, y), True),
        _field("Role", part.role, 4, (x, y), True),
    ]
