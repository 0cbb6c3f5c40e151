"""Where the controller board's pins are, against the drawing others use: KiCad's template "Arduino_Mega".

Debian package kicad-templates 6.0: /usr/share/kicad/template/Arduino_Mega. Its places agree with the board maker's
published drawing (common practice to start shields from it); not yet held against a real board.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware.board import copper, sexpr
from hardware.board.build_files import BOARD, ORIGIN
from hardware.board.design import components
from hardware.wiring import load

TEMPLATE = Path("/usr/share/kicad/template/Arduino_Mega/Arduino_Mega.kicad_pcb")
CORNER = (100.0, 46.66)  # of the controller board's outline in the template (its Edge.Cuts)

# The template's net of a pad -> our name of the board pin ("" is not used by us).
SAME = {"+5V": "V5", "GND": "GND"}


def pads(file: Path, moved: tuple[float, float]) -> dict[tuple[float, float], str]:
    """Place of each pad of a header (mm from the controller board's corner) -> what the file calls its net."""
    out = {}
    for foot in sexpr.children(sexpr.parse(file.read_text()), "footprint"):
        if "PinSocket" not in foot[1] and "PinHeader" not in foot[1]:
            continue
        at = sexpr.numbers(sexpr.child(foot, "at"))
        for pad in sexpr.children(foot, "pad"):
            piece = next(p for p in copper._pad(pad, at, "x"))
            where = (
                piece.a
                if isinstance(piece, copper.Piece)
                else tuple(sum(s[0][i] for s in piece.sides) / len(piece.sides) for i in (0, 1))
            )
            net = sexpr.child(pad, "net")
            out[round(where[0] - moved[0], 2), round(where[1] - moved[1], 2)] = net[2] if net else ""
    return out


def board_pin(template_net: str) -> str:
    """ "/*52" -> "D52", "/TX0{slash}1" -> "D1", "/A7" -> "A7", "+5V" -> "V5"; "" for what carries no board pin of ours."""
    if template_net in SAME:
        return SAME[template_net]
    last = template_net.removeprefix("/").replace("{slash}", "/").split("/")[-1].lstrip("*")
    if last.startswith("A") and last[1:].isdigit():
        return last
    return f"D{last}" if last.isdigit() else ""


THEIRS = {at: board_pin(net) for at, net in pads(TEMPLATE, CORNER).items()}


def test_template_was_understood() -> None:
    """86 holes; each of D0..D53 and A0..A15 is there once, but D20 and D21, which newer boards repeat beside AREF."""
    seen = [pin for pin in THEIRS.values() if pin not in ("", "V5", "GND")]
    assert len(THEIRS) == 86
    assert sorted(set(seen)) == sorted([f"D{n}" for n in range(54)] + [f"A{n}" for n in range(16)])
    assert sorted(pin for pin in set(seen) if seen.count(pin) > 1) == ["D20", "D21"]


def test_every_header_pad_lies_on_a_hole_of_the_template() -> None:
    """Places on the routed board, to 0.02 mm, and all of the template's holes are met."""
    assert pads(BOARD, ORIGIN).keys() == THEIRS.keys()


def test_every_header_pad_carries_the_net_of_its_board_pin() -> None:
    """What copper joins to the pad is what wiring.toml says of the board pin the template has there."""
    wires = load()["controller"]["wires"]
    for at, net in pads(BOARD, ORIGIN).items():
        pin = THEIRS[at]
        expected = pin if pin in ("V5", "GND") else wires[pin]["net"] if pin else ""
        if net != expected:  # the second D20 and D21, and supplies we leave alone
            assert net == "" and (pin in ("D20", "D21") or pin == "")


@pytest.mark.parametrize("part", [p for p in components() if p.kind == "header"], ids=lambda p: p.ref)
def test_headers_point_down(part: object) -> None:
    """Pins, not sockets: the board plugs into the controller board."""
    assert "PinHeader" in part.name
