"""Three drawings of the reduced build, for breadboard, stripboard or perforated board alike: chips with what hangs on each pin,
the socket with its lines, and the other parts with the nets at their ends.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from hardware.board.design import Component
from hardware.reduced.stages import RAILS, end, lead, parts_of
from hardware.svg import INK, MARK, PALE, Drawing
from hardware.wiring import Fixture

NOTICE = "Written by python -m hardware.reduced.build. SPDX-License-Identifier: CERN-OHL-S-2.0"
ROW, BODY, SIDE = 29, 130, 250        # of a chip: height of a pin's row, width of the body, width of the labels beside it
WIDEST = 40                           # letters of a label's second line
LINE_ROLES = ("strong drive", "medium drive")


class Nets:
    """Which ends are on which net, the controller's pins first."""

    def __init__(self, fixture: Fixture) -> None:
        self.fixture, self.parts = fixture, parts_of(fixture)
        self.ends: dict[str, list[str]] = {}
        for pin, wire in fixture["controller"]["wires"].items():
            self.ends.setdefault(wire["net"], []).append(pin)
        for part in self.parts:
            for pad, net in part.pads.items():
                self.ends.setdefault(net, []).append(end(part, pad))

    def others(self, net: str, here: str) -> str:
        """The other ends, as many as fit."""
        if net in RAILS:
            return RAILS[net]
        said = ""
        ends = [e for e in self.ends[net] if e != here]
        for index, one in enumerate(ends):
            longer = f"{said}, {one}" if said else one
            if len(longer) > WIDEST - 9 and index < len(ends) - 1:
                return f"{said} and {len(ends) - index} more"
            said = longer
        return said


def _chip(on: Drawing, nets: Nets, part: Component, x: float, y: float) -> None:
    half = len(part.pads) // 2
    left = x + SIDE
    on.rect(left, y, BODY, half * ROW + 10, fill="#f1efe8", pen=1.6, r=4)
    on.path(f"M {left + BODY / 2 - 9:g} {y:g} a 9 9 0 0 0 18 0", fill="#ffffff", pen=1.4)
    on.text(left + BODY / 2, y + half * ROW / 2, part.ref, size=20, at="middle", bold=True)
    on.text(left + BODY / 2, y + half * ROW / 2 + 18, part.value, size=12, at="middle")
    for number in range(1, 2 * half + 1):
        net, first = part.pads[str(number)], number <= half
        row = number - 1 if first else 2 * half - number
        at = y + 5 + ROW * (row + 0.5)
        edge, out = (left, -1) if first else (left + BODY, 1)
        on.line((edge, at), (edge + 14 * out, at), pen=1.6)
        on.text(edge - 5 * out, at + 4, str(number), size=11, at="start" if first else "end", ink=PALE)
        beside, side = edge + 19 * out, "end" if first else "start"
        if net:
            on.text(beside, at - 1, net, size=12, at=side, bold=True)
            on.text(beside, at + 11, nets.others(net, end(part, str(number))), size=10, at=side, ink=PALE)
        else:
            on.text(beside, at + 4, "free", size=11, at=side, ink=PALE)


def chips(fixture: Fixture) -> str:
    """Every chip from above, with the net of each pin and what else is on it."""
    nets = Nets(fixture)
    all_ = [p for p in nets.parts if p.name.startswith("DIP-")]
    wide, tall = 2 * SIDE + BODY + 20, 8 * ROW + 40
    rows = (len(all_) + 1) // 2
    on = Drawing(2 * wide + 20, rows * tall + 50)
    on.text(20, 28, f"{fixture['fixture']['name']}: chips seen from above, notch up", size=18, bold=True)
    for index, part in enumerate(all_):
        _chip(on, nets, part, 20 + (index % 2) * wide, 50 + (index // 2) * tall)
    return on.done(NOTICE)


def _resistor(on: Drawing, x: float, y: float, part: Component) -> None:
    on.rect(x, y - 7, 78, 14, fill="#f1e3c8")
    on.text(x + 39, y + 4, f"{part.ref}  {part.value}", size=10.5, at="middle")


def socket(fixture: Fixture) -> str:
    """The socket's contacts with their two lines each, and the rest of each contact's net."""
    nets = Nets(fixture)
    lines = {(p.pads["2"], p.role): p for p in nets.parts if p.role in LINE_ROLES}
    own = {end(p, pad) for p in lines.values() for pad in p.pads}
    pins = {w["net"]: pin for pin, w in fixture["controller"]["wires"].items()}
    half, row = fixture["socket"]["positions"] // 2, 62
    left = [k for k in fixture.positions if k <= half]
    right = [k for k in reversed(fixture.positions) if k > half]
    on = Drawing(1120, 100 + row * len(left))
    on.text(20, 28, f"{fixture['fixture']['name']}: the test socket from above, notch up, and its lines to the controller", size=18, bold=True)
    on.rect(500, 50, 120, row * len(left) + 10, fill="#e6edf5", pen=1.8, r=5)
    on.path("M 548 50 a 12 12 0 0 0 24 0", fill="#ffffff", pen=1.4)
    for side, column in ((-1, left), (1, right)):
        for index, k in enumerate(column):
            y = 50 + row * (index + 0.5) + 5
            edge = 560 + side * 60
            on.text(edge - side * 8, y + 5, str(k), size=15, at="end" if side > 0 else "start", bold=True)
            on.line((edge, y), (edge + side * 34, y), pen=1.6)
            node = edge + side * 34
            on.line((node, y - 12), (node, y + 12), pen=1.6)
            on.circle(node, y, 3, fill=INK)
            for offset, role in zip((-12, 12), LINE_ROLES, strict=True):
                part = lines[f"Z{k}", role]
                near, far = node + side * 20, node + side * 98
                on.line((node, y + offset), (near, y + offset))
                _resistor(on, min(near, far), y + offset, part)
                on.line((far, y + offset), (far + side * 18, y + offset))
                net = part.pads["1"]
                on.text(far + side * 24, y + offset + 4, f"{pins[net]} ({net})", size=12, at="end" if side < 0 else "start", bold=True)
            rest = [e for e in nets.ends[f"Z{k}"] if e not in own and not e.startswith("J1.")]
            on.text(node + side * 200, y + 4, ", ".join(rest), size=12, at="end" if side < 0 else "start", ink=MARK)
    on.text(560, 84 + row * len(left), "red: what else is joined to that contact", size=12, at="middle", ink=MARK)
    return on.done(NOTICE)


def _small(on: Drawing, part: Component, x: float, y: float) -> None:
    """A part with two or three leads, each with its net."""
    title = y - 16 if len(part.pads) == 2 else y - 28
    on.text(x + 95, title, f"{part.ref}   {part.value} {part.tolerance}".strip(), size=12, at="middle", bold=True)
    if len(part.pads) == 2:
        on.rect(x + 65, y - 9, 60, 18, fill="#f1efe8")
        if lead(part, "1") in "KA":                                        # pad 1 of a diode is its cathode: the ring
            on.rect(x + 70, y - 9, 6, 18, fill=INK)
        elif part.name.startswith("CP_"):                                    # polarised: pad 1 is plus
            on.text(x + 70, y + 5, "+", size=14, bold=True)
        ends = [("1", x + 65, -1), ("2", x + 125, 1)]
        for pad, at, side in ends:
            on.line((at, y), (at + side * 10, y), pen=1.6)
            on.text(at + side * 13, y + 4, part.pads[pad], size=11, at="end" if side < 0 else "start")
        return
    on.path(f"M {x + 62:g} {y + 8:g} A 34 34 0 0 1 {x + 128:g} {y + 8:g} Z", fill="#f1efe8", pen=1.4)
    for index, pad in enumerate(sorted(part.pads)):
        at = x + 71 + 24 * index
        on.line((at, y + 8), (at, y + 18), pen=1.6)
        on.text(at, y + 4, lead(part, pad), size=10, at="middle", ink=PALE)
        on.text(at + (-1, 0, 1)[index] * 8, y + (30, 42, 30)[index], part.pads[pad], size=10.5, at=("end", "middle", "start")[index])


def others(fixture: Fixture) -> str:
    """Everything that is neither a chip nor one of the socket's lines."""
    nets = Nets(fixture)
    rest = [p for p in nets.parts if not p.name.startswith("DIP-") and p.role not in LINE_ROLES and p.kind != "zif_socket"
            and p.role != "decoupling"]
    rest.sort(key=lambda p: (len(p.pads), p.kind != "resistor"))
    columns, wide, tall = 5, 240, 96
    on = Drawing(columns * wide + 30, 70 + tall * -(-len(rest) // columns))
    on.text(20, 28, f"{fixture['fixture']['name']}: other parts and the nets at their ends", size=18, bold=True)
    on.text(20, 46, "transistors and U9 from above, flat side towards you, leads from left to right; a diode's ring is drawn black", size=12, ink=PALE)
    for index, part in enumerate(rest):
        _small(on, part, 12 + (index % columns) * wide, 100 + (index // columns) * tall)
    return on.done(NOTICE)
