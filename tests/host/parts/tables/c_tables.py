"""Selectors, decoders, display drivers, bus drivers, transceivers, wide registers: function tables and pin numbers as
the data books print them, written down apart from the part library.

Source: Texas Instruments, The TTL Data Book, volumes 2 (1985) and 3 (ALS/AS, 1984); Philips, FAST TTL data handbook IC15
(86x); from memory, pin numbers too.  Pin numbers were compared with the symbols of KiCad 6.0.10 (74xx, 74xx_IEEE) and
Lepton EDA 1.9.18 where there is one; those of 543, 575, 646, 823, 825, 843, 845, 862, 863, 873, 874 and 876 with the
makers' sheets (TI SDFS025B, SDAS165B, SDAS039F, SDAS231A, SDAS020B, SDAS233A, SDAS036D, SDAS061C; Philips 853-0881).

A table: columns left of the bar are inputs, right of it outputs.  L and H are levels, X is either, ^ and v are clock
edges, Z is off; q is the level before, /q its complement.  `sections` gives the pin numbers of the columns.  In tables
of open-collector parts (`oc`) the H of the data book is an output that is off.

SPDX-License-Identifier: MIT
"""
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """One function table and the sections of the chip that follow it."""

    part: str
    columns: str
    rows: str
    sections: tuple[tuple[int, ...], ...]
    # Levels by column name, groups one after another: what brings q to L and to H.  A clock ends high.
    low: str = ""
    high: str = ""
    oc: bool = False
    rest: str = ""              # levels of pins that are no column: "GBA=19:H"


TABLES: list[Table] = []    # those of c_bus_tables.py too, once it is imported


def table(parts: str, columns: str, rows: str, *sections: Sequence[int], low: str = "", high: str = "",
          oc: str = "", rest: str = "") -> None:
    """The same table for several parts; those named in `oc` have open-collector outputs."""
    TABLES.extend(Table(part, columns, rows, tuple(tuple(s) for s in sections), low, high, part in oc.split(), rest)
                  for part in parts.split())


# ------------------------------------------------------------------------------------------------------ selectors
def selector(select: int, *, on: str, off: str, inverted: bool = False) -> str:
    """Rows of an n-to-1 selector: select lines (most significant first), strobe, inputs; `off` is the strobed output."""
    inputs = 1 << select
    made = [f"{'X ' * select}H {'X ' * inputs}| {off}"]
    for n in range(inputs):
        lines = " ".join("H" if n >> bit & 1 else "L" for bit in reversed(range(select)))
        for level in "LH":
            data = " ".join(level if k == n else "X" for k in range(inputs))
            out = {"L": "H", "H": "L"}[level] if inverted else level
            made.append(f"{lines} L {data} | {on.format(out, {'L': 'H', 'H': 'L'}[out])}")
    return "\n".join(made)


E16 = " ".join(f"E{n}" for n in range(16))
D8 = " ".join(f"D{n}" for n in range(8))
table("74150", f"D C B A G {E16} | W", selector(4, on="{0}", off="H", inverted=True),
      (11, 13, 14, 15, 9, 8, 7, 6, 5, 4, 3, 2, 1, 23, 22, 21, 20, 19, 18, 17, 16, 10))
EIGHT = (9, 10, 11, 7, 4, 3, 2, 1, 15, 14, 13, 12, 5, 6)
table("74151", f"C B A G {D8} | Y W", selector(3, on="{0} {1}", off="L H"), EIGHT)
table("74251", f"C B A G {D8} | Y W", selector(3, on="{0} {1}", off="Z Z"), EIGHT)
table("54152", f"C B A {D8} | W", "\n".join(
    f"{' '.join('H' if n >> b & 1 else 'L' for b in (2, 1, 0))} {' '.join(level if k == n else 'X' for k in range(8))} | {other}"
    for n in range(8) for level, other in ("LH", "HL")), (8, 9, 10, 5, 4, 3, 2, 1, 13, 12, 11, 6))
FOUR = ((2, 14, 1, 6, 5, 4, 3, 7), (2, 14, 15, 10, 11, 12, 13, 9))
table("74LS253", "B A G C0 C1 C2 C3 | Y", selector(2, on="{0}", off="Z"), *FOUR)
table("74LS352", "B A G C0 C1 C2 C3 | Y", selector(2, on="{0}", off="H", inverted=True), *FOUR)
table("74LS353", "B A G C0 C1 C2 C3 | Y", selector(2, on="{0}", off="Z", inverted=True), *FOUR)
QUAD_TWO = ((15, 1, 2, 3, 4), (15, 1, 5, 6, 7), (15, 1, 11, 10, 9), (15, 1, 14, 13, 12))
table("74LS158", "G S A B | Y", "H X X X | H\nL L L X | H\nL L H X | L\nL H X L | H\nL H X H | L", *QUAD_TWO)
table("74LS257", "G S A B | Y", "H X X X | Z\nL L L X | L\nL L H X | H\nL H X L | L\nL H X H | H", *QUAD_TWO)
table("74LS258", "G S A B | Y", "H X X X | Z\nL L L X | H\nL L H X | L\nL H X L | H\nL H X H | L", *QUAD_TWO)

# 354 to 357: select latch open (SC low); the data latch open (DC low), or clocked.
WITH_REGISTER = "\n".join(
    f"{off} {'X ' * 3}{{clock}} {'X ' * 8}| Z Z" for off in ("H X X", "X H X", "X X L")) + "\n" + "\n".join(
    f"L L H {' '.join('H' if n >> b & 1 else 'L' for b in (2, 1, 0))} {{clock}} "
    f"{' '.join(level if k == n else 'X' for k in range(8))} | {level} {'H' if level == 'L' else 'L'}"
    for n in range(8) for level in "LH")
REGISTERED = (15, 16, 17, 12, 13, 14, 9, 8, 7, 6, 5, 4, 3, 2, 1, 19, 18)
table("74LS354 74LS355", f"G1 G2 G3 S2 S1 S0 DC {D8} | Y W", WITH_REGISTER.format(clock="L"), REGISTERED, oc="74LS355")
table("74LS356 74LS357", f"G1 G2 G3 S2 S1 S0 CLK {D8} | Y W", WITH_REGISTER.format(clock="^"), REGISTERED, oc="74LS357")

# ------------------------------------------------------------------------------------------------------- decoders
TWO_TO_FOUR = """
X X H X | H H H H
X X X {off} | H H H H
L L L {on} | L H H H
L H L {on} | H L H H
H L L {on} | H H L H
H H L {on} | H H H L
"""
table("74155 74156", "B A 1G 1C | Y0 Y1 Y2 Y3", TWO_TO_FOUR.format(on="H", off="L"), (3, 13, 2, 1, 7, 6, 5, 4), oc="74156")
table("74155 74156", "B A 2G 2C | Y0 Y1 Y2 Y3", TWO_TO_FOUR.format(on="L", off="H"), (3, 13, 14, 15, 9, 10, 11, 12), oc="74156")
table("74HC239", "G B A | Y0 Y1 Y2 Y3", "H X X | L L L L\nL L L | H L L L\nL L H | L H L L\nL H L | L L H L\nL H H | L L L H",
      (1, 3, 2, 4, 5, 6, 7), (15, 13, 14, 12, 11, 10, 9))
ONE_OF_8 = ("L H H H H H H H", "H L H H H H H H", "H H L H H H H H", "H H H L H H H H",
            "H H H H L H H H", "H H H H H L H H", "H H H H H H L H", "H H H H H H H L")
CODES_8 = ("L L L", "L L H", "L H L", "L H H", "H L L", "H L H", "H H L", "H H H")
HIGH_8 = [row.translate(str.maketrans("LH", "HL")) for row in ONE_OF_8]
Y_138 = (15, 14, 13, 12, 11, 10, 9, 7)
table("74HC238", "G1 G2 C B A | Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", "X H X X X | L L L L L L L L\nL X X X X | L L L L L L L L\n" + "\n".join(
    f"H L {code} | {row}" for code, row in zip(CODES_8, HIGH_8, strict=True)),
    (6, 4, 3, 2, 1, *Y_138), (6, 5, 3, 2, 1, *Y_138))
# 137, 237: GL low, the address goes through; 131: taken by the clock.  Held addresses: see test_tables_c.
for part, level, one in (("74LS137", "H", ONE_OF_8), ("74HC237", "L", HIGH_8)):
    table(part, "GL G1 G2 C B A | Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", f"X X H X X X |{f' {level}' * 8}\nX L X X X X |{f' {level}' * 8}\n" + "\n".join(
        f"L H L {code} | {row}" for code, row in zip(CODES_8, one, strict=True)), (4, 6, 5, 3, 2, 1, *Y_138))
table("74ALS131", "G1 G2 CLK C B A | Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", f"X H X X X X |{' H' * 8}\nL X X X X X |{' H' * 8}\n" + "\n".join(
    f"H L ^ {code} | {row}" for code, row in zip(CODES_8, ONE_OF_8, strict=True)), (6, 5, 4, 3, 2, 1, *Y_138))


def one_of_ten(codes: str, beyond: bool = True) -> str:
    """Rows D C B A | 0..9 low one by one for the ten codes, all high for the others."""
    listed = codes.split()
    made = [f"{' '.join(code)} | {' '.join('L' if k == n else 'H' for k in range(10))}" for n, code in enumerate(listed)]
    others = [c for c in (format(k, "04b").replace("0", "L").replace("1", "H") for k in range(16)) if c not in listed]
    return "\n".join(made + [f"{' '.join(code)} |{' H' * 10}" for code in others if beyond])


BCD = "LLLL LLLH LLHL LLHH LHLL LHLH LHHL LHHH HLLL HLLH"
TEN = (12, 13, 14, 15, 1, 2, 3, 4, 5, 6, 7, 9, 10, 11)
TEN_COLUMNS = "D C B A | 0 1 2 3 4 5 6 7 8 9"
table("7442 7445 74145 74LS445", TEN_COLUMNS, one_of_ten(BCD), TEN, oc="7445 74145 74LS445")
table("7443", TEN_COLUMNS, one_of_ten("LLHH LHLL LHLH LHHL LHHH HLLL HLLH HLHL HLHH HHLL"), TEN)
table("7444", TEN_COLUMNS, one_of_ten("LLHL LHHL LHHH LHLH LHLL HHLL HHLH HHHH HHHL HLHL"), TEN)
NIXIE = (4, 7, 6, 3, 16, 15, 8, 9, 13, 14, 11, 10, 1, 2)
table("74141", TEN_COLUMNS, one_of_ten(BCD), NIXIE, oc="74141")
table("7441", TEN_COLUMNS, one_of_ten(BCD, beyond=False), NIXIE, oc="7441")

DECODER_16 = "\n".join(["L H X X X X |" + " H" * 16, "H L X X X X |" + " H" * 16, "H H X X X X |" + " H" * 16] + [
    f"L L {' '.join('H' if n >> b & 1 else 'L' for b in (3, 2, 1, 0))} | {' '.join('L' if k == n else 'H' for k in range(16))}"
    for n in range(16)])
table("74154 74159", "G1 G2 D C B A | " + " ".join(map(str, range(16))), DECODER_16,
      (18, 19, 20, 21, 22, 23, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 15, 16, 17), oc="74159")

# ------------------------------------------------------------------------------------------------ priority encoders
table("74147", "1 2 3 4 5 6 7 8 9 | D C B A", """
H H H H H H H H H | H H H H
X X X X X X X X L | L H H L
X X X X X X X L H | L H H H
X X X X X X L H H | H L L L
X X X X X L H H H | H L L H
X X X X L H H H H | H L H L
X X X L H H H H H | H L H H
X X L H H H H H H | H H L L
X L H H H H H H H | H H L H
L H H H H H H H H | H H H L""", (11, 12, 13, 1, 2, 3, 4, 5, 10, 14, 6, 7, 9))
OCTAL_ENCODER = """
H X X X X X X X X | {h} {h} {h} H H
L H H H H H H H H | {h} {h} {h} H L
L X X X X X X X L | L L L L H
L X X X X X X L H | L L H L H
L X X X X X L H H | L H L L H
L X X X X L H H H | L H H L H
L X X X L H H H H | H L L L H
L X X L H H H H H | H L H L H
L X L H H H H H H | H H L L H
L L H H H H H H H | H H H L H"""
ENCODER_PINS = (5, 10, 11, 12, 13, 1, 2, 3, 4, 6, 7, 9, 14, 15)
table("74148", "EI 0 1 2 3 4 5 6 7 | A2 A1 A0 GS EO", OCTAL_ENCODER.format(h="H"), ENCODER_PINS)
table("74LS348", "EI 0 1 2 3 4 5 6 7 | A2 A1 A0 GS EO", OCTAL_ENCODER.format(h="Z"), ENCODER_PINS)

# -------------------------------------------------------------------------------------------------- seven segments
# Segments a to g, * lit, - dark, for codes 0 to 15.
SHAPES = ("******-", "-**----", "**-**-*", "****--*", "-**--**", "*-**-**", "--*****", "***----",
          "*******", "***--**", "---**-*", "--**--*", "-*---**", "*--*-**", "---****", "-------")
WITH_TAILS = tuple({6: "*-*****", 9: "****-**"}.get(n, shape) for n, shape in enumerate(SHAPES))


CODES_16 = [" ".join("H" if n >> b & 1 else "L" for b in (3, 2, 1, 0)) for n in range(16)]


def segments(shapes: Sequence[str], lit: str, dark: str) -> str:
    """Rows of the table, D C B A BI before the bar."""
    drawn = [" ".join(lit if s == "*" else dark for s in shape) for shape in shapes]
    return "\n".join([f"{code} H | {row}" for code, row in zip(CODES_16, drawn, strict=True)]
                     + [f"X X X X L |{f' {dark}' * 7}"])


def with_lamp_test(rows: str, lit: str) -> str:
    """The same with LT and RBI before the others; a zero is shown while RBI is high."""
    lines = [f"{'X' if line.split()[4] == 'L' else 'H'} {'H' if line.startswith('L L L L') else 'X'} {line}"
             for line in rows.split("\n")]
    return "\n".join([*lines, f"L X X X X X H |{f' {lit}' * 7}"])


SEVEN_COLUMNS = "LT RBI D C B A BI | a b c d e f g"
SEVEN_PINS = (3, 5, 6, 2, 1, 7, 4, 13, 12, 11, 10, 9, 15, 14)
SEVEN = (("7446 7447 74LS347", SHAPES, "L", "Z"), ("74246 74247 74LS447", WITH_TAILS, "L", "Z"),
         ("7448", SHAPES, "H", "L"), ("74248", WITH_TAILS, "H", "L"), ("74249", WITH_TAILS, "Z", "L"))
for parts, shapes, lit, dark in SEVEN:
    table(parts, SEVEN_COLUMNS, with_lamp_test(segments(shapes, lit, dark), lit), SEVEN_PINS)
    # BI/RBO as an output: low only for a zero with RBI low and no lamp test; the segments are dark then.
    table(parts, "LT RBI D C B A | RBO", "H L L L L L | L\nH H L L L L | H\nL X X X X X | H\n" + "\n".join(
        f"H X {code} | H" for code in CODES_16[1:]), (3, 5, 6, 2, 1, 7, 4))
    table(parts, "LT RBI D C B A | a b c d e f g", f"H L L L L L |{f' {dark}' * 7}", (3, 5, 6, 2, 1, 7, *SEVEN_PINS[7:]))
table("74LS49", "D C B A BI | a b c d e f g", segments(SHAPES, "Z", "L"), (4, 2, 1, 5, 3, 11, 10, 9, 8, 6, 13, 12))

# --------------------------------------------------------------------------------------------------- addressable latches
# Each latch by its address: selected it follows D, else it holds (clear high) or is low (clear low).
ADDRESSED = """
H L L | L
H L H | H
H H X | q
L L L | L
L L H | H
L H X | L
"""
for n, pin in enumerate((4, 5, 6, 7, 9, 10, 11, 12)):
    address = ",".join(f"{name}={at}:{'H' if n >> b & 1 else 'L'}" for b, (name, at) in enumerate((("A", 1), ("B", 2), ("C", 3))))
    table("74LS259", "CLR G D | Q", ADDRESSED, (15, 14, 13, pin), rest=address,
          low="CLR=H G=H D=L, G=L, G=H", high="CLR=H G=H D=H, G=L, G=H")
for n in range(4):
    address = f"A=1:{'H' if n & 1 else 'L'},B=2:{'H' if n & 2 else 'L'}"
    table("74LS256", "CLR G D | Q", ADDRESSED, (15, 14, 3, 4 + n), (15, 14, 13, 9 + n), rest=address,
          low="CLR=H G=H D=L, G=L, G=H", high="CLR=H G=H D=H, G=L, G=H")

# Pin counts: ground in the middle and supply at the end, but for the tube drivers (ground 12, supply 5).
PIN_COUNTS = {
    14: "152 49 242 243 425 426",
    16: "151 155 156 158 251 253 257 258 352 353 41 42 43 44 45 46 47 48 141 145 147 148 348 131 137 237 238 239 246 247 248 249 "
        "8205 8216 8226 256 259 347 445 447 365 366 367 368 350",
    20: "354 355 356 357 241 465 466 467 468 795 796 797 798 540 541 533 534 563 564 573 574 576 580 620 621 622 623 638 639 640 "
        "641 642 643 644 645 756 757 760 8282 8283 8286 8287",
    24: "150 154 159 543 544 575 577 646 647 648 649 651 652 653 654 821 822 823 824 825 826 841 842 843 844 845 846 861 862 863 "
        "864 873 874 876 878 879 880 827 828 8212"}
FUNCTIONS = {function: pins for pins, names in PIN_COUNTS.items() for function in names.split()}
