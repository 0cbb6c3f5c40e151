"""What stands where on each sheet of the schematic. Numbers are steps of KiCad's grid of 1.27 mm, y down.

Sheets follow the functions: connectors, socket drive, sense and load selector, registers, power switches, current sense
and trip, dead-man, reference and level, supplies.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import tomllib

from hardware.board.design import FOOTPRINTS, Component
from hardware.schematic.sheet import GRID, Sheet

Parts = dict[str, Component]


def connectors(parts: Parts) -> Sheet:
    """The controller board's headers and the test socket."""
    s = Sheet("connectors", "Controller board's headers, test socket", parts)
    s.text("Pins that point down into an ATmega2560 board, 5 V; its names of them in small letters", 12, 14)
    for ref, x, y in (("X4", 34, 36), ("X5", 34, 70), ("X6", 34, 102), ("X1", 74, 36), ("X2", 74, 70), ("X3", 74, 102)):
        s.put(ref, x, y)
    s.put("X7", 116, 60)
    _pin_names(s)
    s.put("J1", 172, 50)
    s.text("Test socket: pin 1 of every chip in position 1,\nlast pin in position 24", 158, 78)
    return s


def _pin_names(s: Sheet) -> None:
    """The controller board's name of each header pin: beyond the labels of two rows, across the symbol of one."""
    for header in tomllib.loads(FOOTPRINTS.read_text())["header"]:
        for number, name in enumerate(header["pins"], 1):
            if name not in ("", "V5", "GND"):
                x, y = (mm / GRID for mm in s.pin(header["ref"], str(number)))
                beyond = (-17 if number % 2 else 13) if header.get("rows") == 2 else 6
                s.text(name, x + beyond, y + 0.5, 1.0)


def drive(parts: Parts) -> Sheet:
    """Strong and medium line of each position."""
    s = Sheet("drive", "Socket drive: a strong and a medium line for each position", parts)
    for k in range(1, 25):
        x, y = 34 + 68 * ((k - 1) // 8), 22 + 14 * ((k - 1) % 8)
        s.put(f"R{100 + k}", x, y, 90)
        s.put(f"R{200 + k}", x, y + 7, 90)
        s.wire((f"R{100 + k}", "2"), (x + 8, y), (x + 8, y + 7), (f"R{200 + k}", "2"))
        s.wire((x + 8, y + 3), (x + 12, y + 3))
        s.label(f"Z{k}", x + 12, y + 3)
    return s


def sense(parts: Parts) -> Sheet:
    """The multiplexers that tie positions and loads to node K."""
    s = Sheet("sense", "Sense node K: position multiplexers, load selector", parts)
    s.text(
        "K carries no current while lines drive and loads of the socket pull: what the converter sees there is the position's own voltage.",
        12,
        14,
    )
    for n, ref in enumerate(("U1", "U2", "U3")):
        s.put(ref, 30 + 42 * n, 40)
        s.put(f"R{301 + n}", 26 + 42 * n, 70, 90)
    s.put("U4", 30, 104)
    for n, ref in enumerate(("R311", "R312", "R313", "R315")):
        s.put(ref, 92, 88 + 9 * n, 90)
        s.wire((ref, "1"), (78, 88 + 9 * n))
        s.wire((78, 88 + 9 * n), (78, 124))
    s.label("LD", 78, 124, "down")
    s.put("R314", 92, 132, 90)
    s.text("LD is a port of the controller: high, low or open", 62, 84)
    return s


def registers(parts: Parts) -> Sheet:
    """Shift registers: addresses and switches."""
    s = Sheet("registers", "Registers: multiplexer addresses, power switches", parts)
    for n, ref in enumerate(("U5", "U6", "U7")):
        s.put(ref, 40 + 66 * n, 56)
    s.text("U5 is always on. U6 and U7 let go of their outputs while OE_N is high: see the dead-man.", 12, 14)
    return s


def switches(parts: Parts) -> Sheet:
    """Supply and ground switches."""
    s = Sheet("switches", "Power switches: four to the supply, seven to ground", parts)
    s.text("On by a LOW register output", 12, 14)
    for n, k in enumerate(_positions(parts, "pnp")):
        x, y = 36 + 52 * n, 34
        s.put(f"Q{100 + k}", x, y, 0, 1, True)
        s.put(f"R{400 + k}", x - 12, y, 90)
        s.put(f"R{430 + k}", x - 7, y - 6, 180)
        s.wire((f"R{400 + k}", "2"), (x - 7, y), (f"Q{100 + k}", "2"))
        s.wire((f"R{430 + k}", "1"), (x - 7, y))
        s.wire((f"R{430 + k}", "2"), (x - 7, y - 11), (x + 2, y - 11), (f"Q{100 + k}", "3"))
        s.label("VBUS", x + 2, y - 13, "up")
        s.wire((x + 2, y - 11), (x + 2, y - 13))
        s.label(f"PB{k}", x - 7, y + 3, "down")
        s.wire((x - 7, y), (x - 7, y + 3))
    s.text("On by a HIGH register output", 12, 54)
    for n, k in enumerate(_positions(parts, "npn")):
        x, y = 36 + 52 * (n % 4), 68 + 42 * (n // 4)
        s.put(f"Q{200 + k}", x, y)
        s.put(f"R{460 + k}", x - 12, y, 90)
        s.put(f"R{490 + k}", x - 7, y + 6)
        s.wire((f"R{460 + k}", "2"), (x - 7, y), (f"Q{200 + k}", "2"))
        s.wire((f"R{490 + k}", "1"), (x - 7, y))
        s.wire((f"R{490 + k}", "2"), (x - 7, y + 11), (x + 2, y + 11), (f"Q{200 + k}", "3"))
        s.label("GND", x + 2, y + 13, "down")
        s.wire((x + 2, y + 11), (x + 2, y + 13))
        s.label(f"NB{k}", x - 7, y - 3, "up")
        s.wire((x - 7, y), (x - 7, y - 3))
    return s


def _positions(parts: Parts, kind: str) -> list[int]:
    """Positions that have such a switch, from the designators Q101.. and Q201.."""
    base = {"pnp": 100, "npn": 200}[kind]
    return [int(p.ref[1:]) - base for p in parts.values() if p.kind == kind and p.role in ("supply switch", "ground switch")]


def current(parts: Parts) -> Sheet:
    """Current sense and over-current trip."""
    s = Sheet("current", "Supply current: shunt, current sense, trip", parts)
    s.put("R320", 60, 26, 90)
    s.label("V5", 30, 23, "up")
    s.wire((30, 23), (30, 26), ("R320", "1"))
    s.label("VBUS", 96, 23, "up")
    s.wire(("R320", "2"), (96, 26), (96, 23))
    s.put("R322", 44, 34)
    s.wire((44, 26), ("R322", "1"))
    s.put("R324", 76, 34)
    s.wire((76, 26), ("R324", "1"))
    s.put("R321", 96, 34)
    s.wire((96, 26), ("R321", "1"))
    s.put("C305", 112, 34)
    s.put("C306", 126, 34)
    s.wire((96, 26), (126, 26), ("C306", "1"))
    s.wire((112, 26), ("C305", "1"))
    s.put("Q301", 42, 54, 0, 1, True)
    s.wire(("R322", "2"), ("Q301", "3"))
    s.put("U8", 62, 64, 180, 1)
    s.wire(("Q301", "2"), (34, 54), (34, 64), ("U8", "1"))
    s.label("SENSE_DRIVE", 34, 70, "down")
    s.wire((34, 64), (34, 70))
    s.wire((44, 42), (72, 42), (72, 62), ("U8", "2"))
    s.label("SENSE_N", 58, 40, "up")
    s.wire((58, 42), (58, 40))
    s.wire(("R324", "2"), (76, 66), ("U8", "3"))
    s.label("SENSE_P", 80, 50)
    s.wire((76, 50), (80, 50))
    s.put("R323", 44, 84)
    s.wire(("Q301", "1"), ("R323", "1"))
    s.label("ICC", 50, 76)
    s.wire((44, 76), (50, 76))
    s.text("18 mV a milliampere: R320 x R323 / R322", 12, 96)
    s.put("U8", 132, 84, 0, 3)
    s.put("R325", 112, 74)
    s.put("R326", 112, 96)
    s.wire(("R325", "2"), ("R326", "1"))
    s.wire((112, 86), ("U8", "9"))
    s.label("TRIP_LEVEL", 104, 86, "left")
    s.wire((104, 86), (112, 86))
    s.text("Above the trip level TRIP_OUT goes high\nand discharges the dead-man", 120, 104)
    return s


def dead_man(parts: Parts) -> Sheet:
    """The pump that holds the registers on."""
    s = Sheet("deadman", "Dead-man: only a changing PUMP holds the switches on", parts)
    s.put("C303", 40, 40, 90)
    s.put("D301", 52, 48, 270)
    s.put("D302", 62, 40, 180)
    s.wire(("C303", "2"), ("D302", "2"))
    s.wire((52, 40), ("D301", "1"))
    s.label("PUMP_AC", 52, 36, "up")
    s.wire((52, 40), (52, 36))
    s.put("C304", 76, 48)
    s.put("R330", 92, 48)
    s.put("R331", 106, 40, 90)
    s.wire(("D302", "1"), ("R331", "1"))
    s.wire((76, 40), ("C304", "1"))
    s.wire((92, 40), ("R330", "1"))
    s.label("ALIVE", 84, 36, "up")
    s.wire((84, 40), (84, 36))
    s.put("Q302", 124, 40)
    s.wire(("R331", "2"), ("Q302", "2"))
    s.label("OE_BASE", 114, 36, "up")
    s.wire((114, 40), (114, 36))
    s.put("R332", 126, 26, 180)
    s.wire(("R332", "1"), ("Q302", "1"))
    s.label("OE_N", 140, 33)
    s.wire((126, 33), (140, 33))
    s.put("Q303", 74, 78)
    s.put("R333", 54, 78, 90)
    s.wire(("R333", "2"), ("Q303", "2"))
    s.label("TRIP_BASE", 64, 74, "up")
    s.wire((64, 78), (64, 74))
    s.text(
        "Still for 40 ms, or an over-current: OE_N goes high, every register output floats,\nevery switch is turned off by its own resistor.",
        24,
        96,
    )
    return s


def reference(parts: Parts) -> Sheet:
    """Voltage reference, level drive, what is left of the amplifier."""
    s = Sheet("reference", "Reference, level drive, amplifier supply", parts)
    s.put("R318", 36, 26)
    s.put("U9", 36, 38, 90)
    s.wire(("R318", "2"), ("U9", "2"))
    s.label("VREF", 48, 32)
    s.wire((36, 32), (48, 32))
    s.put("R316", 40, 66, 90)
    s.put("C301", 52, 74)
    s.put("R317", 64, 66, 90)
    s.put("C302", 76, 74)
    s.wire(("R316", "2"), ("R317", "1"))
    s.wire((52, 66), ("C301", "1"))
    s.label("F1", 52, 62, "up")
    s.wire((52, 66), (52, 62))
    s.put("U8", 98, 68, 0, 2)
    s.wire(("R317", "2"), ("U8", "5"))
    s.wire((76, 66), ("C302", "1"))
    s.label("F2", 76, 62, "up")
    s.wire((76, 66), (76, 62))
    s.wire(("U8", "6"), (90, 70), (90, 78), (108, 78), (108, 68), ("U8", "7"))
    s.label("VDAC", 114, 68)
    s.wire((108, 68), (114, 68))
    s.text("PWM of 10 bits, two RC stages, buffer: 0 to 5 V", 24, 90)
    s.put("U8", 150, 34, 0, 4)
    s.wire(("U8", "13"), (142, 36), (142, 44), (160, 44), (160, 34), ("U8", "14"))
    s.label("D_LOOP", 164, 34)
    s.wire((160, 34), (164, 34))
    s.text("Spare amplifier, tied off", 140, 52)
    s.put("U8", 152, 76, 0, 5)
    return s


def supplies(parts: Parts) -> Sheet:
    """Decoupling, button, lamp."""
    s = Sheet("supplies", "Decoupling, button, lamp", parts)
    for n in range(8):
        s.put(f"C{311 + n}", 24 + 22 * n, 34)
        s.text(f"at U{n + 1}", 22 + 22 * n, 48)
    s.put("SW1", 40, 74)
    s.put("R340", 96, 74, 90)
    s.put("D303", 112, 74, 180)
    s.wire(("R340", "2"), ("D303", "2"))
    s.label("LAMP_A", 104, 70, "up")
    s.wire((104, 74), (104, 70))
    s.text("Lit: the chip in the socket is powered", 86, 84)
    for n, net in enumerate(("V5", "GND", "VBUS")):
        s.flag(net, 30 + 20 * n, 108)
    s.text("Flags for KiCad's rule check: V5 and GND come from the controller board, VBUS through R320", 24, 124)
    return s


SHEETS = (connectors, drive, sense, registers, switches, current, dead_man, reference, supplies)
