"""Function tables and pin numbers as the data books print them, written down apart from the part library.

Source of the tables: Texas Instruments, The TTL Data Book, volume 2, 1985, and for the 4000 series the makers' data
sheets; all from memory.  Pin numbers were compared with the KiCad 6.0.10 symbol libraries (74xx, 4xxx) where there is a
symbol (none for 25 and 64; the 74L86 was compared with the 74LS386, which has its pinout).

A table: columns left of the bar are inputs, right of it outputs.  L and H are levels, X is either, ^ and v are clock
edges, Z is off; q is the level before the edge, /q its complement.  `sections` gives the pin numbers of the columns.

SPDX-License-Identifier: MIT
"""
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """One function table and the sections of the chip that follow it."""

    part: str
    columns: str
    rows: str
    sections: tuple[tuple[int, ...], ...]
    # Levels (pins by column name) that bring q to L and to H before a row with a clock or a q is tried.
    low: str = ""
    high: str = ""


TWO_IN = ((1, 2, 3), (4, 5, 6), (9, 10, 8), (12, 13, 11))
NAND2 = "L X | H\nX L | H\nH H | L"
NOR2 = "H X | L\nX H | L\nL L | H"
AND2 = "H H | H\nL X | L\nX L | L"
OR2 = "H X | H\nX H | H\nL L | L"
XOR2 = "L L | L\nL H | H\nH L | H\nH H | L"
CMOS_TWO_IN = ((1, 2, 3), (5, 6, 4), (8, 9, 10), (12, 13, 11))
TRIPLE = ((1, 2, 13, 12), (3, 4, 5, 6), (9, 10, 11, 8))

D_FLIP_FLOP = """
L H X X | H L
H L X X | L H
L L X X | H H
H H ^ H | H L
H H ^ L | L H
H H L X | q /q
H H v X | q /q
"""
JK_FALLING = """
L H X X X | H L
H L X X X | L H
L L X X X | H H
H H v L L | q /q
H H v H L | H L
H H v L H | L H
H H v H H | /q q
H H H X X | q /q
H H ^ X X | q /q
"""
JKN_RISING = """
L H X X X | H L
H L X X X | L H
L L X X X | H H
H H ^ L L | L H
H H ^ H L | /q q
H H ^ L H | q /q
H H ^ H H | H L
H H L X X | q /q
H H v X X | q /q
"""
DECODER_138 = """
X H X X X | H H H H H H H H
L X X X X | H H H H H H H H
H L L L L | L H H H H H H H
H L L L H | H L H H H H H H
H L L H L | H H L H H H H H
H L L H H | H H H L H H H H
H L H L L | H H H H L H H H
H L H L H | H H H H H L H H
H L H H L | H H H H H H L H
H L H H H | H H H H H H H L
"""

TABLES = (
    Table("7400", "A B | Y", NAND2, TWO_IN),
    Table("7402", "A B | Y", NOR2, ((2, 3, 1), (5, 6, 4), (8, 9, 10), (11, 12, 13))),
    Table("7404", "A | Y", "H | L\nL | H", ((1, 2), (3, 4), (5, 6), (9, 8), (11, 10), (13, 12))),
    Table("7408", "A B | Y", AND2, TWO_IN),
    Table("7410", "A B C | Y", "H H H | L\nL X X | H\nX L X | H\nX X L | H", TRIPLE),
    Table("7420", "A B C D | Y", "H H H H | L\nL X X X | H\nX L X X | H\nX X L X | H\nX X X L | H",
          ((1, 2, 4, 5, 6), (9, 10, 12, 13, 8))),
    Table("7425", "A B C D G | Y", "H X X X H | L\nX H X X H | L\nX X H X H | L\nX X X H H | L\nL L L L X | H\nX X X X L | H",
          ((1, 2, 4, 5, 3, 6), (9, 10, 12, 13, 11, 8))),
    Table("7427", "A B C | Y", "H X X | L\nX H X | L\nX X H | L\nL L L | H", TRIPLE),
    Table("7430", "A B C D E F G H | Y", "H H H H H H H H | L\n" + "\n".join(
        " ".join("L" if k == low else "X" for k in range(8)) + " | H" for low in range(8)), ((1, 2, 3, 4, 5, 6, 11, 12, 8),)),
    Table("7432", "A B | Y", OR2, TWO_IN),
    # A B C D and E F and G H I and J K into a NOR.
    Table("74S64", "A B C D E F G H I J K | Y", """
H H H H X X X X X X X | L
X X X X H H X X X X X | L
X X X X X X H H H X X | L
X X X X X X X X X H H | L
L X X X L X L X X L X | H
X L X X X L X L X X L | H
X X L X L X X X L L X | H
X X X L X L L X X X L | H""", ((1, 11, 12, 13, 2, 3, 4, 5, 6, 9, 10, 8),)),
    Table("7474", "PRE CLR CLK D | Q QN", D_FLIP_FLOP, ((4, 1, 3, 2, 5, 6), (10, 13, 11, 12, 9, 8)),
          "PRE=H CLR=L, CLR=H", "PRE=L CLR=H, PRE=H"),
    Table("7486", "A B | Y", XOR2, TWO_IN),
    Table("74L86", "A B | Y", XOR2, ((1, 2, 3), (5, 6, 4), (8, 9, 10), (12, 13, 11))),
    Table("74109", "PRE CLR CLK J KN | Q QN", JKN_RISING, ((5, 1, 4, 2, 3, 6, 7), (11, 15, 12, 14, 13, 10, 9)),
          "PRE=H CLR=L, CLR=H", "PRE=L CLR=H, PRE=H"),
    Table("74LS112", "PRE CLR CLK J K | Q QN", JK_FALLING, ((4, 15, 1, 3, 2, 5, 6), (10, 14, 13, 11, 12, 9, 7)),
          "PRE=H CLR=L, CLR=H", "PRE=L CLR=H, PRE=H"),
    Table("74125", "A G | Y", "L L | L\nH L | H\nX H | Z", ((2, 1, 3), (5, 4, 6), (9, 10, 8), (12, 13, 11))),
    # G2 of the data book is G2A or G2B: one table with the other held low, for each.
    Table("74LS138", "G1 G2A C B A | Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", DECODER_138, ((6, 4, 3, 2, 1, 15, 14, 13, 12, 11, 10, 9, 7),)),
    Table("74LS138", "G1 G2B C B A | Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", DECODER_138, ((6, 5, 3, 2, 1, 15, 14, 13, 12, 11, 10, 9, 7),)),
    Table("74LS139", "G B A | Y0 Y1 Y2 Y3", """
H X X | H H H H
L L L | L H H H
L L H | H L H H
L H L | H H L H
L H H | H H H L""", ((1, 3, 2, 4, 5, 6, 7), (15, 13, 14, 12, 11, 10, 9))),
    Table("74153", "B A C0 C1 C2 C3 G | Y", """
X X X X X X H | L
L L L X X X L | L
L L H X X X L | H
L H X L X X L | L
L H X H X X L | H
H L X X L X L | L
H L X X H X L | H
H H X X X L L | L
H H X X X H L | H""", ((2, 14, 6, 5, 4, 3, 1, 7), (2, 14, 10, 11, 12, 13, 15, 9))),
    Table("74157", "G S A B | Y", """
H X X X | L
L L L X | L
L L H X | H
L H X L | L
L H X H | H""", ((15, 1, 2, 3, 4), (15, 1, 5, 6, 7), (15, 1, 11, 10, 9), (15, 1, 14, 13, 12))),
    Table("74174", "CLR CLK D | Q", "L X X | L\nH ^ H | H\nH ^ L | L\nH L X | q\nH v X | q",
          ((1, 9, 3, 2), (1, 9, 4, 5), (1, 9, 6, 7), (1, 9, 11, 10), (1, 9, 13, 12), (1, 9, 14, 15)),
          "CLR=L, CLR=H", "CLR=H D=H CLK=L, CLK=H, CLK=L"),
    Table("74175", "CLR CLK D | Q QN", "L X X | L H\nH ^ H | H L\nH ^ L | L H\nH L X | q /q\nH v X | q /q",
          ((1, 9, 4, 2, 3), (1, 9, 5, 7, 6), (1, 9, 12, 10, 11), (1, 9, 13, 15, 14)),
          "CLR=L, CLR=H", "CLR=H D=H CLK=L, CLK=H, CLK=L"),
    Table("74LS240", "G A | Y", "L L | H\nL H | L\nH X | Z",
          ((1, 2, 18), (1, 4, 16), (1, 6, 14), (1, 8, 12), (19, 11, 9), (19, 13, 7), (19, 15, 5), (19, 17, 3))),
    Table("74LS244", "G A | Y", "L L | L\nL H | H\nH X | Z",
          ((1, 2, 18), (1, 4, 16), (1, 6, 14), (1, 8, 12), (19, 11, 9), (19, 13, 7), (19, 15, 5), (19, 17, 3))),
    Table("74LS373", "OC C D | Q", "L H H | H\nL H L | L\nL L X | q\nH X X | Z",
          ((1, 11, 3, 2), (1, 11, 4, 5), (1, 11, 7, 6), (1, 11, 8, 9), (1, 11, 13, 12), (1, 11, 14, 15), (1, 11, 17, 16), (1, 11, 18, 19)),
          "OC=L C=H D=L, C=L", "OC=L C=H D=H, C=L"),
    Table("74LS374", "OC CLK D | Q", "L ^ H | H\nL ^ L | L\nL L X | q\nL v X | q\nH X X | Z",
          ((1, 11, 3, 2), (1, 11, 4, 5), (1, 11, 7, 6), (1, 11, 8, 9), (1, 11, 13, 12), (1, 11, 14, 15), (1, 11, 17, 16), (1, 11, 18, 19)),
          "OC=L CLK=L D=L, CLK=H, CLK=L", "OC=L CLK=L D=H, CLK=H, CLK=L"),
    Table("CD4001BE", "A B | Y", NOR2, CMOS_TWO_IN),
    Table("CD4011BE", "A B | Y", NAND2, CMOS_TWO_IN),
    Table("CD4071BE", "A B | Y", OR2, CMOS_TWO_IN),
    Table("CD4081BE", "A B | Y", AND2, CMOS_TWO_IN),
)

# Pins of each function; ground and supply are at the corners.
PIN_COUNTS = {"00": 14, "02": 14, "04": 14, "08": 14, "10": 14, "20": 14, "25": 14, "27": 14, "30": 14, "32": 14, "64": 14, "74": 14,
              "86": 14, "109": 16, "112": 16, "125": 14, "138": 16, "139": 16, "153": 16, "157": 16, "161": 16, "164": 14,
              "174": 16, "175": 16, "181": 24, "240": 20, "244": 20, "245": 20, "373": 20, "374": 20,
              "4001": 14, "4011": 14, "4071": 14, "4081": 14}

# 74181, M high: the logic functions by S3 S2 S1 S0; M low, CN high: the arithmetic ones without carry (active-high data).
# "plus" is addition, "minus 1" is plus 1111; | & ~ are the logic operators the table prints as + and juxtaposition and bar.
ALU_LOGIC = ("~A", "~(A|B)", "~A&B", "0", "~(A&B)", "~B", "A^B", "A&~B",
             "~A|B", "~(A^B)", "B", "A&B", "15", "A|~B", "A|B", "A")
ALU_PLUS = (("A", "0"), ("A|B", "0"), ("A|~B", "0"), ("15", "0"), ("A", "A&~B"), ("A|B", "A&~B"), ("A", "~B"), ("A&~B", "15"),
            ("A", "A&B"), ("A", "B"), ("A|~B", "A&B"), ("A&B", "15"), ("A", "A"), ("A|B", "A"), ("A|~B", "A"), ("A", "15"))
