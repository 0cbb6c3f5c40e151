"""The 4000 series, DTL, Fairchild's 9300 series, 8T and other whole type numbers: function tables and pin numbers as the
data books print them, written down apart from the part library.

Source: RCA, COS/MOS Integrated Circuits, 1983; Motorola, CMOS Logic Data, 1990 (45xx); Fairchild, TTL Data Book, 1978 (93xx, DTL);
Signetics, Interface data manual (8T); AMD (26LS31); all from memory.  Pin numbers of the 4000 series were compared with the symbols of
KiCad 6.0.10 (4xxx, 4xxx_IEEE) and Lepton EDA 1.9.18 where there is one.  They differ for 4514 and 4515 (S1, S2: KiCad's), 4543
(f, g: KiCad's), 4044 (R2, S2: those of the 4043, mirrored, from memory), 4053 (pin 6) and 4067 (pin 16).  From memory alone are the pins
of 4519, DTL and 8T.

How rows are written: see c_tables.py.

SPDX-License-Identifier: MIT
"""
from collections.abc import Sequence

from tables.c_tables import Table

TABLES: list[Table] = []


def table(parts: str, columns: str, rows: str, *sections: Sequence[int], low: str = "", high: str = "", oc: str = "",
          rest: str = "") -> None:
    """The same table for several parts; those named in `oc` have open-collector outputs."""
    TABLES.extend(Table(part, columns, rows, tuple(tuple(s) for s in sections), low, high, part in oc.split(), rest)
                  for part in parts.split())


def gate(kind: str, inputs: int) -> str:
    """Rows of AND, NAND, OR, NOR of so many inputs."""
    one, rest = ("L", "H") if "AND" in kind else ("H", "L")          # the level that alone decides
    decided = {"AND": "L", "NAND": "H", "OR": "H", "NOR": "L"}[kind]
    other = "H" if decided == "L" else "L"
    made = [" ".join(one if k == n else "X" for k in range(inputs)) + f" | {decided}" for n in range(inputs)]
    return "\n".join([*made, " ".join([rest] * inputs) + f" | {other}"])


# ------------------------------------------------------------------------------------------------------------- gates
TWO = ((1, 2, 3), (5, 6, 4), (8, 9, 10), (12, 13, 11))
THREE = ((1, 2, 8, 9), (3, 4, 5, 6), (11, 12, 13, 10))
FOUR = ((2, 3, 4, 5, 1), (9, 10, 11, 12, 13))
EIGHT = ((2, 3, 4, 5, 9, 10, 11, 12, 13),)
SIX = ((1, 2), (3, 4), (5, 6), (9, 8), (11, 10), (13, 12))
LEVEL_SHIFTER = ((3, 2), (5, 4), (7, 6), (9, 10), (11, 12), (14, 15))
table("4030 4070 4507", "A B | Y", "L L | L\nL H | H\nH L | H\nH H | L", *TWO)
table("4077", "A B | Y", "L L | H\nL H | L\nH L | L\nH H | H", *TWO)
table("4093", "A B | Y", gate("NAND", 2), *TWO)
for parts, kind in (("4023", "NAND"), ("4025", "NOR"), ("4073", "AND"), ("4075 74HC4075", "OR")):
    table(parts, "A B C | Y", gate(kind, 3), *THREE)
for parts, kind in (("4002 74HC4002", "NOR"), ("4012", "NAND"), ("4072", "OR"), ("4082", "AND")):
    table(parts, "A B C D | Y", gate(kind, 4), *FOUR)
for parts, kind in (("4068", "NAND"), ("4078", "NOR")):
    table(parts, "A B C D E F G H | J", gate(kind, 8), *EIGHT)
table("4000", "A B C | Y", gate("NOR", 3), (3, 4, 5, 6), (11, 12, 13, 10))
table("4000", "G | L", "L | H\nH | L", (8, 9))
table("4069 40106 4584", "A | Y", "L | H\nH | L", *SIX)
table("4009 4049 74HC4049", "A | Y", "L | H\nH | L", *LEVEL_SHIFTER)
table("4010 4050 74HC4050", "A | Y", "L | L\nH | H", *LEVEL_SHIFTER)
table("4041", "A | E F", "L | L H\nH | H L", (3, 1, 2), (6, 4, 5), (10, 8, 9), (13, 11, 12))
table("4572", "A | Y", "L | H\nH | L", (2, 1), (4, 3), (10, 9), (12, 11))
table("4572", "A B | Y", gate("NOR", 2), (6, 7, 5))
table("4572", "A B | Y", gate("NAND", 2), (14, 15, 13))
table("4085", "A B C D INH | E", "X X X X H | L\nH H X X X | L\nX X H H X | L\nL X L X L | H\nL X X L L | H\nX L L X L | H\nX L X L L | H",
      (1, 2, 12, 13, 11, 3), (5, 6, 8, 9, 10, 4))
table("4086", "A B C D E F G H INH EN | J", "X X X X X X X X H X | L\nX X X X X X X X X L | L\nH H X X X X X X X X | L\n"
      "X X H H X X X X X X | L\nX X X X H H X X X X | L\nX X X X X X H H X X | L\nL X L X L X L X L H | H\nX L X L X L X L L H | H",
      (1, 2, 5, 6, 8, 9, 12, 13, 10, 11, 3))
table("4019", "A B KA KB | D", "X X L L | L\nL X H L | L\nH X H L | H\nX L L H | L\nX H L H | H\nL L H H | L\nH X H H | H\nX H H H | H",
      (6, 7, 9, 14, 10), (4, 5, 9, 14, 11), (2, 3, 9, 14, 12), (15, 1, 9, 14, 13))
table("4519", "A B KA KB | D", "X X L L | L\nL X H L | L\nH X H L | H\nX L L H | L\nX H L H | H\nL L H H | H\nL H H H | L\nH L H H | L\nH H H H | H",
      (6, 7, 9, 14, 10), (4, 5, 9, 14, 11), (2, 3, 9, 14, 12), (15, 1, 9, 14, 13))


# ------------------------------------------------------------------------------------------------- adders and parity
def word(value: int, bits: int) -> str:
    """Levels of a number, the highest bit first."""
    return " ".join("H" if value >> bit & 1 else "L" for bit in reversed(range(bits)))


table("4008", "A4 A3 A2 A1 B4 B3 B2 B1 CI | CO S4 S3 S2 S1", "\n".join(
    f"{word(a, 4)} {word(b, 4)} {'LH'[c]} | {word(a + b + c, 5)}" for a in range(16) for b in range(16) for c in (0, 1)),
    (1, 3, 5, 7, 15, 2, 4, 6, 9, 14, 13, 12, 11, 10))
table("4531", " ".join(f"D{n}" for n in range(13)) + " | Q", "\n".join(
    f"{word(value, 13)} | {'LH'[value.bit_count() % 2]}" for value in (*(1 << n for n in range(13)), 0, 8191, 4096 + 17, 1365, 2730, 6007, 7160)),
    (7, 6, 5, 4, 3, 2, 1, 15, 14, 13, 12, 11, 10, 9))
table("4063", "A3 A2 A1 A0 B3 B2 B1 B0 ILT IEQ IGT | LT EQ GT", "\n".join(
    f"{word(a, 4)} {word(b, 4)} {cascade} | {out}" for a in range(16) for b in (a ^ d for d in (0, 1, 2, 4, 8, 15))
    for cascade in ("H L L", "L H L", "L L H") for out in ("H L L" if a < b else "L L H" if a > b else cascade,)),
    (15, 13, 12, 10, 1, 14, 11, 9, 2, 3, 4, 7, 6, 5))
# Look-ahead carry with the active-low names of the 74182: a carry passes where P is low, begins where G is low.
CARRY = "G3 P3 G2 P2 G1 P1 G0 P0 CN"
table("4582", "G0 P0 CN | CNX", "L X X | H\nX L H | H\nH H X | L\nH X L | L", (3, 4, 13, 12))
table("4582", "G1 P1 G0 P0 CN | CNY", "L X X X X | H\nX L L X X | H\nX L X L H | H\nH H X X X | L\nH X H H X | L\nH X H X L | L", (1, 2, 3, 4, 13, 11))
table("4582", "G2 P2 G1 P1 G0 P0 CN | CNZ", "L X X X X X X | H\nX L L X X X X | H\nX L X L L X X | H\nX L X L X L H | H\n"
      "H H X X X X X | L\nH X H H X X X | L\nH X H X H H X | L\nH X H X H X L | L", (14, 15, 1, 2, 3, 4, 13, 9))
table("4582", "G3 P3 G2 P2 G1 P1 G0 | G", "L X X X X X X | L\nX L L X X X X | L\nX L X L L X X | L\nX L X L X L L | L\n"
      "H H X X X X X | H\nH X H H X X X | H\nH X H X H H X | H\nH X H X H X H | H", (5, 6, 14, 15, 1, 2, 3, 10))
table("4582", "P3 P2 P1 P0 | P", gate("OR", 4), (6, 15, 2, 4, 7))


# ---------------------------------------------------------------------------------------- decoders, encoders, selectors
def one_of(count: int, active: str, bits: int, idle: str = "") -> str:
    """Rows of a decoder: address (highest first) | outputs."""
    off = "L" if active == "H" else "H"
    return "\n".join(f"{word(n, bits)}{idle} | " + " ".join(active if k == n else off for k in range(count)) for n in range(count))


table("4028", "D C B A | Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7 Q8 Q9", one_of(10, "H", 4), (11, 12, 13, 10, 3, 14, 2, 15, 1, 6, 7, 4, 9, 5))
table("4028", "D C B A | Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7", "H H X X | L L L L L L L L\nH X H X | L L L L L L L L", (11, 12, 13, 10, 3, 14, 2, 15, 1, 6, 7, 4))
for part, active in (("4555", "H"), ("4556", "L")):
    dull = " ".join(["L" if active == "H" else "H"] * 4)
    table(part, "B A E | Q0 Q1 Q2 Q3", one_of(4, active, 2, " L") + f"\nX X H | {dull}", (3, 2, 1, 4, 5, 6, 7), (13, 14, 15, 12, 11, 10, 9))
SIXTEEN = (11, 9, 10, 8, 7, 6, 5, 4, 18, 17, 20, 19, 14, 13, 16, 15)
for part, active in (("4514", "H"), ("4515", "L")):
    dull = " ".join(["L" if active == "H" else "H"] * 16)
    # Strobe high: the latches are open.  Low: what they hold, whatever the inputs do.
    table(part, "D C B A INH | " + " ".join(f"S{n}" for n in range(16)), one_of(16, active, 4, " L") + f"\nX X X X H | {dull}",
          (22, 21, 3, 2, 23, *SIXTEEN), rest="STB=1:H")
    table(part, "STB D C B A INH | S5", f"L X X X X L | q\nH L H L H L | {active}\nH H H H H L | {'L' if active == 'H' else 'H'}",
          (1, 22, 21, 3, 2, 23, 6), **({"low": "STB=H D=L C=L B=L A=L, STB=L", "high": "STB=H D=L C=H B=L A=H, STB=L"} if active == "H" else
                                       {"low": "STB=H D=L C=H B=L A=H, STB=L", "high": "STB=H D=L C=L B=L A=L, STB=L"}))
table("4532", "EI D7 D6 D5 D4 D3 D2 D1 D0 | GS Q2 Q1 Q0 EO", "L X X X X X X X X | L L L L L\nH L L L L L L L L | L L L L H\n" + "\n".join(
    f"H {' '.join('H' if k == n else 'L' if k > n else 'X' for k in reversed(range(8)))} | H {word(n, 3)} L" for n in range(8)),
    (5, 4, 3, 2, 1, 13, 12, 11, 10, 14, 6, 7, 9, 15))


def picks(bits: int, off: str, tail: str = "") -> str:
    """Rows of a selector: address (highest first), data | output; then the row of the disabled one."""
    count = 1 << bits
    return "\n".join(f"{word(n, bits)}{tail} {' '.join(level if k == n else 'X' for k in range(count))} | {level}"
                     for n in range(count) for level in "LH") + off


X8 = " ".join(f"X{n}" for n in range(8))
table("4512", f"C B A INH OE {X8} | Z", picks(3, "\nX X X X H X X X X X X X X | Z\nX X X H L X X X X X X X X | L", " L L"),
      (13, 12, 11, 10, 15, 1, 2, 3, 4, 5, 6, 7, 9, 14))
table("4539", "B A E X0 X1 X2 X3 | Z", picks(2, "\nX X H X X X X | L", " L"), (2, 14, 1, 6, 5, 4, 3, 7), (2, 14, 15, 10, 11, 12, 13, 9))
table("40257", "S OE A B | Y", "X H X X | Z\nL L L X | L\nL L H X | H\nH L X L | L\nH L X H | H",
      (1, 15, 2, 3, 4), (1, 15, 5, 6, 7), (1, 15, 11, 10, 9), (1, 15, 14, 13, 12))
table("9312", f"S2 S1 S0 E {X8} | Z", picks(3, "\nX X X H X X X X X X X X | L", " L"), (13, 12, 11, 10, 1, 2, 3, 4, 5, 6, 7, 9, 15))
table("9312", "S2 S1 S0 E I5 | ZN", "X X X H X | H\nH L H L L | H\nH L H L H | L", (13, 12, 11, 10, 6, 14))

# ---------------------------------------------------------------------------------------------- switches, on or off
table("4016 4066 74HC4066", "C X | Y", "L X | Z\nH L | L\nH H | H", (13, 1, 2), (5, 4, 3), (6, 8, 9), (12, 11, 10))
table("4051 74HC4051", f"C B A INH {X8} | X", picks(3, "\nX X X H X X X X X X X X | Z", " L"), (9, 10, 11, 6, 13, 14, 15, 12, 1, 5, 2, 4, 3))
table("4052 74HC4052", "B A INH X0 X1 X2 X3 | X", picks(2, "\nX X H X X X X | Z", " L"), (9, 10, 6, 12, 14, 15, 11, 13), (9, 10, 6, 1, 5, 2, 4, 3))
table("4053 74HC4053", "S INH X0 X1 | X", "X H X X | Z\nL L L X | L\nL L H X | H\nH L X L | L\nH L X H | H",
      (11, 6, 12, 13, 14), (10, 6, 2, 1, 15), (9, 6, 5, 3, 4))
table("4067", "D C B A INH " + " ".join(f"X{n}" for n in range(16)) + " | X", picks(4, "\n" + "X " * 4 + "H " + "X " * 16 + "| Z", " L"),
      (13, 14, 11, 10, 15, 9, 8, 7, 6, 5, 4, 3, 2, 23, 22, 21, 20, 19, 18, 17, 16, 1))

# -------------------------------------------------------------------------------------------------- buffers and drivers
table("4502", "DIS INH D | Q", "H X X | Z\nL H X | L\nL L L | H\nL L H | L", *((4, 12, d, q) for d, q in ((3, 5), (6, 7), (1, 2), (10, 9), (13, 11), (15, 14))))
table("4503", "DIS A | Y", "H X | Z\nL L | L\nL H | H", (1, 2, 3), (1, 4, 5), (1, 6, 7), (1, 10, 9), (15, 12, 11), (15, 14, 13))
HEX = ((2, 3), (4, 5), (6, 7), (10, 9), (12, 11), (14, 13))
table("8T95", "G1 G2 A | Y", "H X X | Z\nX H X | Z\nL L L | L\nL L H | H", *((1, 15, *pins) for pins in HEX))
table("8T96", "G1 G2 A | Y", "H X X | Z\nX H X | Z\nL L L | H\nL L H | L", *((1, 15, *pins) for pins in HEX))
table("8T97", "G A | Y", "H X | Z\nL L | L\nL H | H", *((1, *pins) for pins in HEX[:4]), *((15, *pins) for pins in HEX[4:]))
table("8T98", "G A | Y", "H X | Z\nL L | H\nL H | L", *((1, *pins) for pins in HEX[:4]), *((15, *pins) for pins in HEX[4:]))
OCTAL = ((2, 3), (4, 5), (6, 7), (8, 9), (12, 11), (14, 13), (16, 15), (18, 17))
table("81LS95", "G1 G2 A | Y", "H X X | Z\nX H X | Z\nL L L | L\nL L H | H", *((1, 19, *pins) for pins in OCTAL))
table("81LS96", "G1 G2 A | Y", "H X X | Z\nX H X | Z\nL L L | H\nL L H | L", *((1, 19, *pins) for pins in OCTAL))
table("81LS97", "G A | Y", "H X | Z\nL L | L\nL H | H", *((1, *pins) for pins in OCTAL[:4]), *((19, *pins) for pins in OCTAL[4:]))
table("81LS98", "G A | Y", "H X | Z\nL L | H\nL H | L", *((1, *pins) for pins in OCTAL[:4]), *((19, *pins) for pins in OCTAL[4:]))
table("26LS31", "G GN A | Y Z", "L H X | Z Z\nH X L | L H\nH X H | H L\nX L L | L H\nX L H | H L",
      (4, 12, 1, 2, 3), (4, 12, 7, 6, 5), (4, 12, 9, 10, 11), (4, 12, 15, 14, 13))
BUS = ((4, 3, 2), (7, 6, 5), (9, 10, 11), (12, 13, 14))                          # driver's input, bus, receiver's output
for part, own, back in (("8T26", "H L L H", "H L"), ("8T28", "L H L H", "L H")):
    low, high, _, _ = own.split()
    for d, b, r in BUS:
        table(part, "DE D | B", f"L X | Z\nH L | {low}\nH H | {high}", (15, d, b))
        table(part, "RE DE B | R", f"H L X | Z\nL L L | {back.split()[0]}\nL L H | {back.split()[1]}", (1, 15, b, r))
        # Both on: the receiver sees the driver, twice inverted or not at all.
        table(part, "RE DE D | R", "L H L | L\nL H H | H\nH H X | Z", (1, 15, d, r))

# ----------------------------------------------------------------------------------------------------------------- DTL
table("946 949 957 958", "A B | Y", gate("NAND", 2), (1, 2, 3), (4, 5, 6), (9, 10, 8), (12, 13, 11), oc="958")
table("930 932 944 961", "A B C D | Y", gate("NAND", 4), (1, 2, 4, 5, 6), (9, 10, 12, 13, 8), oc="944")
table("936 937", "A | Y", "L | H\nH | L", *SIX)
table("962 963", "A B C | Y", gate("NAND", 3), (1, 2, 13, 12), (3, 4, 5, 6), (9, 10, 11, 8))

# ------------------------------------------------------------------------------------- 9300 series, without a memory
table("9321", "E A1 A0 | Q0 Q1 Q2 Q3", "H X X | H H H H\nL L L | L H H H\nL L H | H L H H\nL H L | H H L H\nL H H | H H H L",
      (1, 3, 2, 4, 5, 6, 7), (15, 13, 14, 12, 11, 10, 9))
table("9322", "E S I0 I1 | Z", "H X X X | L\nL L L X | L\nL L H X | H\nL H X L | L\nL H X H | H",
      (15, 1, 2, 3, 4), (15, 1, 5, 6, 7), (15, 1, 11, 10, 9), (15, 1, 14, 13, 12))
LINES = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 15, 16, 17)
table("9311", "A3 A2 A1 A0 E0 E1 | " + " ".join(f"Q{n}" for n in range(16)),
      one_of(16, "L", 4, " L L") + f"\nX X X X H X |{' H' * 16}\nX X X X X H |{' H' * 16}", (20, 21, 22, 23, 18, 19, *LINES))
table("9318", "EI I7 I6 I5 I4 I3 I2 I1 I0 | A2 A1 A0 GS EO", "H X X X X X X X X | H H H H H\nL H H H H H H H H | H H H H L\n" + "\n".join(
    f"L {' '.join('L' if k == n else 'H' if k > n else 'X' for k in reversed(range(8)))} | {word(7 - n, 3)} L H" for n in range(8)),
    (5, 4, 3, 2, 1, 13, 12, 11, 10, 6, 7, 9, 14, 15))
table("9342", "G0 P0 CN | CNX", "L X X | H\nX L H | H\nH H X | L\nH X L | L", (3, 4, 13, 12))
table("9342", "P3 P2 P1 P0 | P", gate("OR", 4), (6, 15, 2, 4, 7))
# A plus B and A minus B of the 74181's pins, for active-high data (M low, S HLLH and LHHL; CN low adds one).
for select, total in (("H L L H", 1), ("L H H L", -1)):
    table("9341", "S3 S2 S1 S0 M A3 A2 A1 A0 B3 B2 B1 B0 CN | F3 F2 F1 F0", "\n".join(
        f"{select} L {word(a, 4)} {word(b, 4)} {'HL'[c]} | {word((a + total * b + c - (total < 0)) & 15, 4)}"
        for a in range(16) for b in (0, 1, 2, 4, 7, 8, 15) for c in (0, 1)),
        (3, 4, 5, 6, 8, 19, 21, 23, 2, 18, 20, 22, 1, 7, 13, 11, 10, 9))

# ------------------------------------------------------------------------------------------------- seven segments
SHAPES = ("abcdef", "bc", "abdeg", "abcdg", "bcfg", "acdfg", "cdefg", "abc", "abcdefg", "abcfg")      # 6 and 9 without tails
TAILS = (*SHAPES[:6], "acdefg", *SHAPES[7:9], "abcdfg")


def figures(shapes: Sequence[str], lit: str, dark: str, tail: str) -> str:
    """Rows D C B A ... | a to g, blank from 10 on."""
    return "\n".join(f"{word(n, 4)}{tail} | " + " ".join(lit if n < 10 and s in shapes[n] else dark for s in "abcdefg") for n in range(16))


SEGMENTS_4511 = (13, 12, 11, 10, 9, 15, 14)
table("4511", "D C B A LT BL | a b c d e f g", figures(SHAPES, "H", "L", " H H") + "\nX X X X L X | H H H H H H H\nX X X X H L | L L L L L L L",
      (6, 2, 1, 7, 3, 4, *SEGMENTS_4511), rest="LE=5:L")
table("4511", "LE D C B A | e", "H X X X X | q\nL L L L L | H\nL L L L H | L", (5, 6, 2, 1, 7, 9), rest="LT=3:H,BL=4:H",
      low="LE=L D=L C=L B=L A=H, LE=H", high="LE=L D=L C=L B=L A=L, LE=H")
SEGMENTS_4543 = (9, 10, 11, 12, 13, 15, 14)
for part in ("4543", "74HC4543"):
    table(part, "D C B A BI PH | a b c d e f g", figures(TAILS, "H", "L", " L L") + "\n" + figures(TAILS, "L", "H", " L H") +
          "\nX X X X H L | L L L L L L L\nX X X X H H | H H H H H H H", (4, 2, 3, 5, 7, 6, *SEGMENTS_4543), rest="LD=1:H")
    table(part, "LD D C B A | e", "L X X X X | q\nH L L L L | H\nH L L L H | L", (1, 4, 2, 3, 5, 13),
          low="LD=H D=L C=L B=L A=H, LD=L", high="LD=H D=L C=L B=L A=L, LD=L")
