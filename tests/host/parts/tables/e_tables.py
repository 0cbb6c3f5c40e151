"""Types added late: function tables and pins, written down apart from the part library.

Sources: RCA, COS/MOS Integrated Circuits, 1983 (40101 to 40104, 40182, 40195); Philips, HE4000B (40240 to 40374);
Motorola, CMOS Logic Data, 1990 (4501, 4522, 4526, 4529) and Linear and Interface, 1990 (1489, 3487);
Texas Instruments, The TTL Data Book, volume 2, 1985 (385, 599) and bulletin DL-S 7512257 (201); National, Interface, 1984 (8830; 75183 is the same).  All from memory but the bulletin.  Pins: as
in the symbols of KiCad 6.0.10 and Lepton EDA 1.9.18, from memory for 599, 1489 and 75183.

SPDX-License-Identifier: MIT
"""
from tables.c_tables import Table
from tables.walk import Book

FUNCTIONS = ("201 385 599 4501 4522 4526 4529 40101 40102 40103 40104 40182 40195 40240 40244 40245 40373 40374 "
             "1489 3487 8830 75183").split()
OCTAL_A, OCTAL_B = (2, 4, 6, 8, 18, 16, 14, 12), (11, 13, 15, 17, 9, 7, 5, 3)
FOUR_NAND = "L X X X | H\nX L X X | H\nX X L X | H\nX X X L | H\nH H H H | L"


def octal(part: str, inverts: bool) -> list[Table]:
    """Buffers in two groups of four, each gate active low."""
    rows = "H X | Z\nL L | H\nL H | L" if inverts else "H X | Z\nL L | L\nL H | H"
    groups = ((1, OCTAL_A), (19, OCTAL_B))
    return [Table(part, "G A | Y", rows, tuple((gate, pins[k], pins[k + 4]) for gate, pins in groups for k in range(4)))]


def driver(part: str) -> list[Table]:
    """AND and NAND of four inputs."""
    return [Table(part, "A B C D | Y YN", "L X X X | L H\nX L X X | L H\nX X L X | L H\nX X X L | L H\nH H H H | H L",
                  ((1, 2, 3, 4, 5, 6), (13, 12, 11, 10, 9, 8)))]


TABLES = [
    Table("4501", "A B C D | Y", FOUR_NAND, ((1, 2, 3, 4, 13), (5, 6, 7, 9, 10))),
    Table("4501", "A B | NOR OR", "L L | H L\nH X | L H\nX H | L H", ((11, 12, 14, 15),)),
    Table("4529", "B A ST X0 X1 X2 X3 | X", "X X L X X X X | Z\n" + "\n".join(
        f"{b} {a} H " + " ".join(level if k == n else "X" for k in range(4)) + f" | {level}"
        for n, (b, a) in enumerate(("LL", "LH", "HL", "HH")) for level in "LH"),
        ((7, 6, 1, 2, 3, 4, 5, 9), (7, 6, 15, 14, 13, 12, 11, 10))),
    *octal("40240", True), *octal("40244", False), *driver("8830"), *driver("75183"),
    Table("40245", "G DIR A | B", "H X X | Z\nL H L | L\nL H H | H", tuple((19, 1, 2 + k, 18 - k) for k in range(8))),
    Table("40245", "G DIR B | A", "H X X | Z\nL L L | L\nL L H | H", tuple((19, 1, 18 - k, 2 + k) for k in range(8))),
    Table("1489", "A | Y", "L | H\nH | L", ((1, 3), (4, 6), (10, 8), (13, 11))),
    Table("3487", "EN A | Y Z", "L X | Z Z\nH L | L H\nH H | H L", ((4, 1, 2, 3), (4, 7, 6, 5), (12, 9, 10, 11), (12, 15, 14, 13))),
]

LATCH = "1D 1Q 2D 2Q 3Q 3D 4D 4Q".split()
OCTAL_Q = "OC 1Q 1D 2D 2Q 3Q 3D 4D 4Q VSS {} 5Q 5D 6D 6Q 7Q 7D 8D 8Q VDD"
STATE = "a b c d e f g h"
DATA = " ".join(f"{n}D" for n in range(1, 9))
SHOWN = " ".join(f"{n}Q" for n in range(1, 9))
OUT8 = "QA QB QC QD QE QF QG QH"
ADDER = tuple(f"CLR CLK {s}M {s}A {s}B {c} | {s}S {c}\n" + "\n".join(
    f"L X {m} X X X | L {'H' if m == 'H' else 'L'}" for m in "LH") + "\n" + "\n".join(
    # sum and carry of A, B (turned over to subtract) and the carry
    f"H ^ {'LH'[m]} {'LH'[a]} {'LH'[b]} {'LH'[k]} | {'LH'[(a + (b ^ m) + k) % 2]} {'LH'[(a + (b ^ m) + k) // 2]}"
    for m in (0, 1) for a in (0, 1) for b in (0, 1) for k in (0, 1)) for s, c in ((1, "a"), (2, "b"), (3, "c"), (4, "d")))


def counting_down(order: list[int]) -> str:
    """States in the order of counting up, the lowest bit first."""
    return " ".join("".join("LH"[n >> bit & 1] for bit in range(4)) for n in order)


def divider(part: str, top: int) -> Book:
    """Presettable down counter; ZERO only while CF is high, but for Motorola's in reset with PE high (ON Semiconductor MC14526B, read)."""
    return Book(part, "Q3 P3 PE INH P0 CLK Q0 VSS Q1 MR P1 ZERO CF P2 Q2 VDD",
                ("MR PE CLK INH | Q0 Q1 Q2 Q3\nH X X X | L L L L\nL H X X | P0 P1 P2 P3\nL L ^ L | - - - -\nL L H v | - - - -",),
                ("MR CF PE Q0 Q1 Q2 Q3 | ZERO\nX L L X X X X | L\nL L X X X X X | L\nX H L L L L L | H\nX X X H X X X | L\nX X X X H X X | L\n"
                 "X X X X X H X | L\nX X X X X X H | L",),
                counts=counting_down(list(range(top))), rest="MR=L PE=L INH=L CF=H", lead="MR=H, MR=L",
                never=("PE=H P3=H P2=H", "PE=H P3=H P1=H") if top == 10 else (), steps=1500)


BOOKS = (
    Book("40195", "CLR J KN A B C D VSS SHLD CLK QDN QD QC QB QA VDD",
         ("CLR SHLD J KN CLK | QA QB QC QD\nL X X X X | L L L L\nH L X X ^ | A B C D\nH H L H ^ | QA QA QB QC\nH H L L ^ | L QA QB QC\n"
          "H H H H ^ | H QA QB QC\nH H H L ^ | !QA QA QB QC",), ("CLK | QDN\nX | !QD",), rest="CLR=H", steps=800),
    Book("40104", "OE SR D0 D1 D2 D3 SL VSS S0 S1 CLK Q3 Q2 Q1 Q0 VDD",
         ("S1 S0 CLK | a b c d\nL L ^ | L L L L\nL H ^ | SR a b c\nH L ^ | b c d SL\nH H ^ | D0 D1 D2 D3",),
         ("OE | Q0 Q1 Q2 Q3\nH | a b c d\nL | Z Z Z Z",), rest="OE=H", steps=800),
    Book("40373", OCTAL_Q.format("C"), (f"C | {STATE}\nH | {DATA}",), (f"OC | {SHOWN}\nL | {STATE}\nH | Z",), rest="OC=L", steps=800),
    Book("40374", OCTAL_Q.format("CLK"), (f"CLK | {STATE}\n^ | {DATA}",), (f"OC | {SHOWN}\nL | {STATE}\nH | Z",), rest="OC=L", steps=800),
    divider("4522", 10), divider("4526", 16),
    Book("74LS385", "CLK 1S 1M 1B 1A 2A 2B 2M 2S GND CLR 3S 3M 3B 3A 4A 4B 4M 4S VCC", ADDER,
         rest="CLR=H", lead="CLR=L, CLR=H", steps=24000),
    Book("74LS599", "QB QC QD QE QF QG QH GND QHP SRCLR SRCK RCK RCLR SER QA VCC",
         ("SRCLR SRCK | a b c d e f g h\nL X | L L L L L L L L\nH ^ | SER a b c d e f g",
          "RCLR RCK | m n o p q r s t\nL X | L L L L L L L L\nH ^ | a b c d e f g h"),
         ("RCK | QHP\nX | h", *(f"{bit} | {pin}\nL | L\nH | Z" for bit, pin in zip("mnopqrst", OUT8.split(), strict=True))),
         rest="SRCLR=H RCLR=H", lead="RCK^1, SRCLR=H, RCLR=H, SER=H, SRCK^8, RCK^1", steps=1500),
)
