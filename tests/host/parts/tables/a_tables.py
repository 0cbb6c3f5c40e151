"""Function tables and pin numbers of gates, flip-flops and latches, written down apart from the part library.

Source of the tables: Texas Instruments, The TTL Data Book, volume 2, 1985 (the H and L series and 7439: the edition of 1976;
ALS and AS: the ALS/AS Logic Data Book, 1986; HC: the High-Speed CMOS Logic Data Book, 1984); all from memory.  Pin numbers
were compared with the KiCad 6.0.10 symbol libraries (74xx, 74xx_IEEE), the symbols of Lepton EDA 1.9.18 and the pin lists of a
VHDL library of bipolar TTL (D. R. Brooks, 2016) where there is a symbol.

A table: columns left of the bar are inputs, right of it outputs.  L and H are levels, X is either, ^ and v are clock
edges, P is a clock pulse (up and down), Z is off; q is the level before, /q its complement.

SPDX-License-Identifier: MIT
"""
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """One function table and the sections of the chip that follow it."""

    part: str
    columns: str
    rows: str
    sections: tuple[tuple[int, ...], ...]      # pin numbers of the columns
    # Levels by column name that bring q to L and to H from anywhere; that let the clock move without effect.
    low: str = ""
    high: str = ""
    hold: str = ""


def inputs_low(count: int, then: str, otherwise: str) -> str:
    """The rows of a gate that gives `then` if any input is low, else `otherwise`."""
    rows = [" ".join("L" if k == low else "X" for k in range(count)) + f" | {then}" for low in range(count)]
    return "\n".join([*rows, " ".join("H" * count) + f" | {otherwise}"])


NAND2, NAND2_OC = "L X | H\nX L | H\nH H | L", "L X | Z\nX L | Z\nH H | L"
AND2, AND2_OC = "L X | L\nX L | L\nH H | H", "L X | L\nX L | L\nH H | Z"
NOR2, NOR2_OC = "H X | L\nX H | L\nL L | H", "H X | L\nX H | L\nL L | Z"
OR2 = "H X | H\nX H | H\nL L | L"
XOR2, XOR2_OC = "L L | L\nL H | H\nH L | H\nH H | L", "L L | L\nL H | Z\nH L | Z\nH H | L"
XNOR2, XNOR2_OC = "L L | H\nL H | L\nH L | L\nH H | H", "L L | Z\nL H | L\nH L | L\nH H | Z"
OUTPUT_LAST = ((1, 2, 3), (4, 5, 6), (9, 10, 8), (12, 13, 11))
OUTPUT_FIRST = ((2, 3, 1), (5, 6, 4), (8, 9, 10), (11, 12, 13))
OUTPUTS_INSIDE = ((1, 2, 3), (5, 6, 4), (8, 9, 10), (12, 13, 11))
HEX = ((1, 2), (3, 4), (5, 6), (9, 8), (11, 10), (13, 12))
TRIPLE = ((1, 2, 13, 12), (3, 4, 5, 6), (9, 10, 11, 8))
DUAL4 = ((1, 2, 4, 5, 6), (9, 10, 12, 13, 8))
HEX20 = ((1, 2, 3), (4, 5, 6), (7, 8, 9), (12, 13, 11), (15, 16, 14), (18, 19, 17))
IN4, IN8 = "A B C D | Y", "A B C D E F G H | Y"


def two(part: str, rows: str, sections: tuple[tuple[int, ...], ...] = OUTPUT_LAST) -> Table:
    return Table(part, "A B | Y", rows, sections)


GATES = (
    two("7401", NAND2_OC, OUTPUT_FIRST), two("74LS01", NAND2_OC, OUTPUT_FIRST), two("74H01", NAND2_OC),
    two("7403", NAND2_OC),
    Table("7405", "A | Y", "H | L\nL | Z", HEX),
    Table("7406", "A | Y", "H | L\nL | Z", HEX),
    Table("7407", "A | Y", "H | Z\nL | L", HEX),
    two("7409", AND2_OC),
    Table("7411", "A B C | Y", inputs_low(3, "L", "H"), TRIPLE),
    Table("7412", "A B C | Y", inputs_low(3, "Z", "L"), TRIPLE),
    Table("7413", IN4, inputs_low(4, "H", "L"), DUAL4),
    Table("7414", "A | Y", "H | L\nL | H", HEX),
    Table("74LS15", "A B C | Y", inputs_low(3, "L", "Z"), TRIPLE),
    Table("7416", "A | Y", "H | L\nL | Z", HEX),
    Table("7417", "A | Y", "H | Z\nL | L", HEX),
    Table("74LS18", IN4, inputs_low(4, "H", "L"), DUAL4),
    Table("74LS19", "A | Y", "H | L\nL | H", HEX),
    Table("74LS21", IN4, inputs_low(4, "L", "H"), DUAL4),
    Table("7422", IN4, inputs_low(4, "Z", "L"), DUAL4),
    # The expander inputs left open.
    Table("7423", "A B C D G | Y", "H X X X H | L\nX H X X H | L\nX X H X H | L\nX X X H H | L\nL L L L X | H\nX X X X L | H",
          ((2, 3, 5, 6, 4, 7), (10, 11, 13, 14, 12, 9))),
    two("74LS24", NAND2),
    two("7426", NAND2_OC),
    two("7428", NOR2, OUTPUT_FIRST),
    Table("74LS31", "A | Y", "H | L\nL | H", ((1, 2), (15, 14))),
    Table("74LS31", "A | Y", "H | H\nL | L", ((3, 4), (13, 12))),
    Table("74LS31", "A B | Y", NAND2, ((5, 6, 7), (10, 11, 9))),
    two("7433", NOR2_OC, OUTPUT_FIRST),
    Table("74ALS34", "A | Y", "H | H\nL | L", HEX),
    Table("74ALS35", "A | Y", "H | Z\nL | L", HEX),
    two("74HC36", NOR2),
    two("7437", NAND2),
    two("7438", NAND2_OC),
    two("7439", NAND2_OC, OUTPUT_FIRST),
    Table("7440", IN4, inputs_low(4, "H", "L"), DUAL4),
    Table("7450", IN4, "H H X X | L\nX X H H | L\nL X L X | H\nL X X L | H\nX L L X | H\nX L X L | H",
          ((1, 13, 9, 10, 8), (2, 3, 4, 5, 6))),
    Table("74LS51", "A B C D E F | Y", "H H H X X X | L\nX X X H H H | L\nL X X L X X | H\nX L X X L X | H\nX X L X X L | H\nL X X X X L | H",
          ((1, 12, 13, 9, 10, 11, 8),)),
    Table("74LS51", IN4, "H H X X | L\nX X H H | L\nL X L X | H\nX L X L | H\nL X X L | H\nX L L X | H", ((2, 3, 4, 5, 6),)),
    # A B and C D and E F and G H into a NOR.
    Table("7453", IN8, "H H X X X X X X | L\nX X H H X X X X | L\nX X X X H H X X | L\nX X X X X X H H | L\n"
          "L X L X L X L X | H\nX L X L X L X L | H\nL X X L L X X L | H\nX L L X X L L X | H", ((1, 13, 2, 3, 4, 5, 9, 10, 8),)),
    # A B and C D E and F G H and I J into a NOR.
    *(Table(part, IN4, "H H X X | L\nX X H H | L\nL X L X | H\nX L X L | H\nL X X L | H\nX L L X | H", ((1, 13, 9, 10, 8), (2, 3, 4, 5, 6)))
      for part in ("7451", "74H51", "74S51")),
    Table("7454", IN8, "H H X X X X X X | L\nX X H H X X X X | L\nX X X X H H X X | L\nX X X X X X H H | L\n"
          "L X L X L X L X | H\nX L X L X L X L | H\nL X X L X L L X | H", ((1, 13, 2, 3, 4, 5, 9, 10, 8),)),
    # A B, C D, E F G and H I into a NOR; of the 74H53 the expander inputs left open.
    *(Table(part, "A B C D E F G H I | Y", "H H X X X X X X X | L\nX X H H X X X X X | L\nX X X X H H H X X | L\nX X X X X X X H H | L\n"
            "L X L X L X X L X | H\nX L X L X L X X L | H\nL X X L X X L L X | H", ((1, 13, 2, 3, 4, 5, 6, 9, 10, 8),)) for part in ("74H53", "74H54")),
    Table("74LS54", "A B C D E F G H I J | Y", """
H H X X X X X X X X | L
X X H H H X X X X X | L
X X X X X H H H X X | L
X X X X X X X X H H | L
L X L X X L X X L X | H
X L X L X X L X X L | H
L X X X L X X L L X | H""", ((1, 2, 3, 4, 5, 9, 10, 11, 12, 13, 6),)),
    Table("74LS55", IN8, "H H H H X X X X | L\nX X X X H H H H | L\nL X X X L X X X | H\nX L X X X L X X | H\n"
          "X X L X X X L X | H\nX X X L X X X L | H", ((1, 2, 3, 4, 10, 11, 12, 13, 8),)),
    Table("74H55", "A B C D E F G H | Y", "H H H H X X X X | L\nX X X X H H H H | L\nL X X X X X X L | H\nX X X L L X X X | H",
          ((1, 2, 3, 4, 10, 11, 12, 13, 8),)),
    Table("74HC58", "A B C D E F | Y", "H H H X X X | H\nX X X H H H | H\nL X X L X X | L\nX L X X L X | L\nX X L X X L | L\nL X X X X L | L",
          ((1, 12, 13, 9, 10, 11, 8),)),
    Table("74HC58", IN4, "H H X X | H\nX X H H | H\nL X L X | L\nX L X L | L\nL X X L | L\nX L L X | L", ((2, 3, 4, 5, 6),)),
    # A B C D and E F and G H I and J K into a NOR.
    Table("74S65", "A B C D E F G H I J K | Y", """
H H H H X X X X X X X | L
X X X X H H X X X X X | L
X X X X X X H H H X X | L
X X X X X X X X X H H | L
L X X X L X L X X L X | Z
X L X X X L X L X X L | Z
X X L X L X X X L L X | Z
X X X L X L L X X X L | Z""", ((1, 11, 12, 13, 2, 3, 4, 5, 6, 9, 10, 8),)),
    Table("74126", "A G | Y", "L H | L\nH H | H\nX L | Z", ((2, 1, 3), (5, 4, 6), (9, 10, 8), (12, 13, 11))),
    two("74128", NOR2, OUTPUT_FIRST),
    two("74132", NAND2),
    Table("74S133", "A B C D E F G H I J K L M | Y", inputs_low(13, "H", "L"), ((1, 2, 3, 4, 5, 6, 7, 10, 11, 12, 13, 14, 15, 9),)),
    Table("74S134", "OC A B C D E F G H I J K L | Y",
          "\n".join(["H " + "X " * 12 + "| Z", *("L " + row for row in inputs_low(12, "H", "L").splitlines())]),
          ((15, 1, 2, 3, 4, 5, 6, 7, 10, 11, 12, 13, 14, 9),)),
    Table("74S135", "A B C | Y", "L L L | L\nL H L | H\nH L L | H\nH H L | L\nL L H | H\nL H H | L\nH L H | L\nH H H | H",
          ((1, 2, 4, 3), (5, 6, 4, 7), (10, 11, 12, 9), (14, 15, 12, 13))),
    two("74136", XOR2_OC),
    Table("74S140", IN4, inputs_low(4, "H", "L"), DUAL4),
    Table("74S260", "A B C D E | Y", "H X X X X | L\nX H X X X | L\nX X H X X | L\nX X X H X | L\nX X X X H | L\nL L L L L | H",
          ((1, 2, 3, 12, 13, 5), (4, 8, 9, 10, 11, 6))),
    Table("74265", "A | W Y", "L | L H\nH | H L", ((1, 2, 3), (15, 14, 13))),
    Table("74265", "A B | W Y", "L X | L H\nX L | L H\nH H | H L", ((4, 5, 6, 7), (11, 12, 10, 9))),
    two("74LS266", XNOR2_OC, OUTPUTS_INSIDE),
    two("74LS386", XOR2, OUTPUTS_INSIDE),
    two("74ALS804", NAND2, HEX20), two("74ALS805", NOR2, HEX20), two("74ALS808", AND2, HEX20), two("74ALS832", OR2, HEX20),
    two("74ALS810", XNOR2),
    two("74ALS811", XNOR2_OC),
    two("74HC7001", AND2), two("74HC7002", NOR2), two("74HC7032", OR2),
    two("74HC7266", XNOR2, OUTPUTS_INSIDE),
)

# J-K with preset and clear.  Pulse-triggered: J and K as they stand while the clock is high.
JK_PULSE = """
L H X X X | H L
H L X X X | L H
L L X X X | H H
H H P L L | q /q
H H P H L | H L
H H P L H | L H
H H P H H | /q q
"""
JK_EDGE = JK_PULSE.replace("P", "v") + "H H H X X | q /q\nH H ^ X X | q /q\n"
JK_CLEAR = "L X X X | L H\nH P L L | q /q\nH P H L | H L\nH P L H | L H\nH P H H | /q q"
JK_CLEAR_EDGE = JK_CLEAR.replace("P", "v") + "\nH H X X | q /q\nH ^ X X | q /q"
JK_PRESET = "L X X X | H L\nH v L L | q /q\nH v H L | H L\nH v L H | L H\nH v H H | /q q\nH H X X | q /q\nH ^ X X | q /q"
PRESET_CLEAR = ("PRE=H CLR=L, CLR=H", "CLR=H PRE=L, PRE=H")
BY_CLEAR = ("CLR=L, CLR=H", "CLR=H J=H K=L, CLK=H, CLK=L")
BY_PRESET = ("PRE=H J=L K=H, CLK=H, CLK=L", "PRE=L, PRE=H")
JK_COLUMNS = "PRE CLR CLK J K | Q QN"
P73 = ((2, 1, 14, 3, 12, 13), (6, 5, 7, 10, 9, 8))
P76 = ((2, 3, 1, 4, 16, 15, 14), (7, 8, 6, 9, 12, 11, 10))
P78 = ((2, 5, 1, 3, 14, 13, 12), (6, 5, 1, 10, 7, 8, 9))
P78H = ((13, 12, 9, 4, 1, 2, 3), (10, 12, 9, 11, 8, 6, 5))
# J is J1 J2 J3 together, K is K1 K2 K3: one input of each at a time, the others high in columns of their own.
P72 = (13, 2, 12, 3, 4, 5, 9, 10, 11, 8, 6)
GATED = "PRE CLR CLK J1 J2 J3 K1 K2 K3 | Q QN"
GATED_PULSE = """
L H X X X X X X X | H L
H L X X X X X X X | L H
L L X X X X X X X | H H
H H P L X X L X X | q /q
H H P X L X X L X | q /q
H H P X X L X X L | q /q
H H P H H H L X X | H L
H H P H H H X X L | H L
H H P L X X H H H | L H
H H P X L X H H H | L H
H H P X X L H H H | L H
H H P H H H H H H | /q q
"""
ANDOR = "PRE CLK J1A J1B J2A J2B K1A K1B K2A K2B | Q QN"
ANDOR_PULSE = """
L X X X X X X X X X | H L
H P L X L X L X L X | q /q
H P X L X L X L X L | q /q
H P L X X L X L L X | q /q
H P H H X X L X L X | H L
H P X X H H X L X L | H L
H P L X X L H H X X | L H
H P X L L X X X H H | L H
H P H H X X X X H H | /q q
H P X X H H H H X X | /q q
"""
P71 = ((5, 13, 1, 2, 3, 4, 9, 10, 11, 12, 6, 8),)
ANDOR_PREPARED = ("PRE=H J1A=L J2A=L K1A=H K1B=H, CLK=H, CLK=L", "PRE=L, PRE=H")
# 7470: J is J1 and J2 and not JN, K alike; preset and clear while the clock is low.
GATED_70 = """
L H L X X X X X X | H L
H L L X X X X X X | L H
H H ^ L X X L X X | q /q
H H ^ X L X X L X | q /q
H H ^ X X H X X H | q /q
H H ^ H H L L X X | H L
H H ^ H H L X X H | H L
H H ^ L X X H H L | L H
H H ^ X X H H H L | L H
H H ^ H H L H H L | /q q
H H L X X X X X X | q /q
H H v X X X X X X | q /q
"""
QUAD_JKN = "L X X X | L\nH E L L | L\nH E H L | /q\nH E L H | q\nH E H H | H\n"

FLIP_FLOPS = (
    Table("7470", "PRE CLR CLK J1 J2 JN K1 K2 KN | Q QN", GATED_70, ((13, 2, 12, 3, 4, 5, 10, 11, 9, 8, 6),), *PRESET_CLEAR,
          hold="J1=L K1=L"),
    Table("74H71", ANDOR, ANDOR_PULSE, P71, *ANDOR_PREPARED),
    Table("7472", GATED, GATED_PULSE, (P72,), *PRESET_CLEAR),
    # Of S and R both high at a pulse the table says: indeterminate.
    Table("74L71", "PRE CLR CLK S1 S2 S3 R1 R2 R3 | Q QN", """
L H X X X X X X X | H L
H L X X X X X X X | L H
L L X X X X X X X | H H
H H P L X X L X X | q /q
H H P X L X X L X | q /q
H H P X X L X X L | q /q
H H P H H H L X X | H L
H H P H H H X X L | H L
H H P L X X H H H | L H
H H P X L X H H H | L H""", ((13, 2, 12, 3, 4, 5, 9, 10, 11, 8, 6),), *PRESET_CLEAR),
    Table("7473", "CLR CLK J K | Q QN", JK_CLEAR, P73, *BY_CLEAR),
    Table("74LS73A", "CLR CLK J K | Q QN", JK_CLEAR_EDGE, P73, *BY_CLEAR),
    Table("7476", JK_COLUMNS, JK_PULSE, P76, *PRESET_CLEAR),
    Table("74LS76A", JK_COLUMNS, JK_EDGE, P76, *PRESET_CLEAR),
    Table("74L78", JK_COLUMNS, JK_PULSE, P78, *PRESET_CLEAR),
    Table("74LS78A", JK_COLUMNS, JK_EDGE, P78, *PRESET_CLEAR),
    Table("74H78", JK_COLUMNS, JK_PULSE, P78H, *PRESET_CLEAR),
    Table("74H101", ANDOR, ANDOR_PULSE.replace("P", "v") + "H H X X X X X X X X | q /q", P71, *ANDOR_PREPARED),
    Table("74H102", GATED, GATED_PULSE.replace("P", "v") + "H H H X X X X X X | q /q", (P72,), *PRESET_CLEAR),
    Table("74H103", "CLR CLK J K | Q QN", JK_CLEAR_EDGE, P73, *BY_CLEAR),
    Table("74H106", JK_COLUMNS, JK_EDGE, P76, *PRESET_CLEAR),
    Table("74107", "CLR CLK J K | Q QN", JK_CLEAR, ((13, 12, 1, 4, 3, 2), (10, 9, 8, 11, 5, 6)), *BY_CLEAR),
    Table("74LS107A", "CLR CLK J K | Q QN", JK_CLEAR_EDGE, ((13, 12, 1, 4, 3, 2), (10, 9, 8, 11, 5, 6)), *BY_CLEAR),
    Table("74H108", JK_COLUMNS, JK_EDGE, P78H, *PRESET_CLEAR),
    Table("74110", GATED, GATED_PULSE, (P72,), *PRESET_CLEAR),
    Table("74111", JK_COLUMNS, JK_PULSE, ((2, 3, 5, 4, 1, 7, 6), (14, 13, 11, 12, 15, 9, 10)), *PRESET_CLEAR),
    Table("74LS113A", "PRE CLK J K | Q QN", JK_PRESET, ((4, 1, 3, 2, 5, 6), (10, 13, 11, 12, 9, 8)), *BY_PRESET),
    Table("74LS114A", JK_COLUMNS, JK_EDGE, ((4, 1, 13, 3, 2, 5, 6), (10, 1, 13, 11, 12, 9, 8)), *PRESET_CLEAR),
    Table("74276", "PRE CLR CLK J KN | Q", "L H X X X | H\nH L X X X | L\n"
          + "".join(f"H {row}\n" for row in QUAD_JKN.replace("E", "v").splitlines()[1:]) + "H H H X X | q\nH H ^ X X | q\n",
          ((11, 1, 3, 2, 4, 5), (11, 1, 8, 9, 7, 6), (11, 1, 13, 12, 14, 15), (11, 1, 18, 19, 17, 16)), *PRESET_CLEAR),
    Table("74376", "CLR CLK J KN | Q", QUAD_JKN.replace("E", "^") + "H L X X | q\nH v X X | q\n",
          ((1, 9, 2, 3, 4), (1, 9, 7, 6, 5), (1, 9, 10, 11, 12), (1, 9, 15, 14, 13)),
          "CLR=L, CLR=H", "CLR=H J=H KN=H, CLK=H, CLK=L", hold="J=L KN=H"),
)

D_LATCH = "H L | L H\nH H | H L\nL X | q /q"
D_LATCH_SINGLE = "H L | L\nH H | H\nL X | q"
BY_DATA = ("C=H D=L, C=L", "C=H D=H, C=L")
PRIORITY = """
H H X X X L | H L L L H
H L H X X L | L H L L H
H L L H X L | L L H L H
H L L L H L | L L L H H
H L L L L L | L L L L L
H X X X X H | L L L L H
"""

LATCHES = (
    Table("7475", "C D | Q QN", D_LATCH, ((13, 2, 16, 1), (13, 3, 15, 14), (4, 6, 10, 11), (4, 7, 9, 8)), *BY_DATA),
    Table("7477", "C D | Q", D_LATCH_SINGLE, ((12, 1, 14), (12, 2, 13), (3, 5, 9), (3, 6, 8)), *BY_DATA),
    Table("74100", "C D | Q", D_LATCH_SINGLE, ((23, 2, 5), (23, 3, 4), (23, 22, 19), (23, 21, 20),
                                             (12, 11, 8), (12, 10, 9), (12, 15, 18), (12, 16, 17)), *BY_DATA),
    Table("74116", "CLR C1 C2 D | Q", "L X X X | L\nH L L L | L\nH L L H | H\nH X H X | q\nH H X X | q",
          tuple((1, 2, 3, d, d + 1) for d in (4, 6, 8, 10)) + tuple((13, 14, 15, d, d + 1) for d in (16, 18, 20, 22)),
          "CLR=H C1=L C2=L D=L, C1=H, C2=H", "CLR=H C1=L C2=L D=H, C1=H, C2=H"),
    Table("74279", "S1 S2 R | Q", "H H H | q\nL X H | H\nX L H | H\nH H L | L\nL X L | H\nX L L | H", ((2, 3, 1, 4), (11, 12, 10, 9)),
          "S1=H S2=H R=L, R=H", "R=H S2=H S1=L, S1=H"),
    Table("74279", "S R | Q", "H H | q\nL H | H\nH L | L\nL L | H", ((6, 5, 7), (15, 14, 13)), "S=H R=L, R=H", "R=H S=L, S=H"),
    Table("74278", "C D1 D2 D3 D4 P0 | Y1 Y2 Y3 Y4 P1", PRIORITY, ((1, 12, 13, 2, 3, 4, 10, 9, 8, 6, 5),)),
    Table("74LS375", "C D | Q QN", D_LATCH, ((4, 1, 3, 2), (4, 7, 5, 6), (12, 9, 11, 10), (12, 15, 13, 14)), *BY_DATA),
)

TABLES = GATES + FLIP_FLOPS + LATCHES

# Supply pins where they are not the corners: ground, supply.
SUPPLY_PINS = {"7473": (11, 4), "74LS73A": (11, 4), "74H103": (11, 4), "7475": (12, 5), "7476": (13, 5), "74LS76A": (13, 5), "74H106": (13, 5),
               "7477": (11, 4), "74LS78A": (11, 4), "74L78": (11, 4), "74100": (7, 24)}
PIN_COUNTS = {"23": 16, "31": 16, "75": 16, "76": 16, "100": 24, "106": 16, "111": 16, "116": 24, "133": 16, "134": 16, "135": 16, "265": 16, "276": 20,
              "279": 16, "375": 16, "376": 16, "804": 20, "805": 20, "808": 20, "832": 20}       # the others have 14

# part, pin; VOL V at IOL mA; VOH V at IOH mA or None for an open collector.  From memory of the data books.
DRIVERS = (
    ("7406", 2, 0.7, 40, None), ("5407", 2, 0.7, 30, None), ("7416", 2, 0.7, 40, None), ("74LS07", 2, 0.7, 40, None),
    ("7428", 1, 0.4, 48, (2.4, -2.4)), ("74LS28", 1, 0.5, 24, (2.7, -1.2)), ("7433", 1, 0.4, 48, None), ("54LS33", 1, 0.4, 12, None),
    ("7437", 3, 0.4, 48, (2.4, -1.2)), ("74S37", 3, 0.5, 60, (2.7, -3)), ("74LS37", 3, 0.5, 24, (2.7, -1.2)), ("54LS37", 3, 0.4, 12, (2.5, -1.2)),
    ("7438", 3, 0.4, 48, None), ("74LS38", 3, 0.5, 24, None), ("74ALS38", 3, 0.5, 24, None),
    ("7440", 6, 0.4, 48, (2.4, -1.2)), ("74H40", 6, 0.4, 60, (2.4, -1.5)), ("74S140", 6, 0.5, 60, (2.0, -40)), ("74128", 1, 0.4, 48, (2.0, -42.4)),
    ("74126", 3, 0.4, 16, (2.4, -5.2)), ("74LS126A", 3, 0.5, 24, (2.4, -2.6)), ("74S134", 9, 0.5, 20, (2.4, -6.5)),
)
# part, pin, its input current low as a multiple of the family's.  From memory of the data books.
UNIT_LOADS = (
    ("7423", 4, 4), ("7423", 2, 1), ("7472", 12, 2), ("7472", 13, 2), ("7472", 3, 1), ("7473", 1, 2), ("7473", 2, 2), ("7473", 14, 1),
    ("7476", 1, 2), ("7476", 2, 2), ("7476", 3, 2), ("7476", 16, 1), ("74LS76A", 1, 2), ("74LS76A", 4, 1), ("74LS114A", 13, 4), ("74LS114A", 1, 4),
    ("74LS114A", 4, 2), ("74S114", 13, 4), ("74S114", 1, 7), ("7475", 2, 2), ("7475", 13, 4), ("74LS75", 4, 4), ("74LS75", 2, 1), ("74100", 23, 8),
    ("74LS136", 1, 2), ("74LS266", 1, 2), ("7470", 2, 2), ("7470", 12, 1),
)
