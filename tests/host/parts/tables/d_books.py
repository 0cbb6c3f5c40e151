"""Parts with a memory of the 4000 series and the 9300 series: function tables, counting orders and pins of the data books.

Sources and what the pins were compared with: see d_tables.py.  How tables are written: see walk.py.

SPDX-License-Identifier: MIT
"""
from tables.walk import Book

FUNCTIONS = (
    "4000 4002 4006 4008 4009 4010 4012 4013 4014 4015 4016 4017 4018 4019 4020 4021 4022 4023 4024 4025 4026 4027 4028 4029 4030 4031 "
    "4033 4035 4040 4041 4042 4043 4044 4049 4050 4051 4052 4053 4060 4063 4066 4067 4068 4069 4070 4072 4073 4075 4076 4077 4078 4082 "
    "4085 4086 4093 4094 4095 4096 4099 4502 4503 4507 4508 4510 4511 4512 4514 4515 4516 4518 4519 4520 4531 4532 4539 4543 4555 4556 "
    "4572 4582 4584 4723 4724 40106 40160 40161 40162 40163 40174 40175 40192 40193 40194 40257 "
    "9300 9308 9310 9311 9312 9316 9318 9321 9322 9334 9341 9342 9360 9366 930 932 936 937 944 946 949 957 958 961 962 963 "
    "8T26 8T28 8T95 8T96 8T97 8T98 81LS95 81LS96 81LS97 81LS98 26LS31")


def both(*texts: str) -> tuple[str, ...]:
    """The tables of section 1 and those of section 2."""
    return tuple(text.replace("#", section) for section in "12" for text in texts)


def numbers(bits: int, top: int) -> str:
    """0 to top - 1, the lowest bit first."""
    return " ".join("".join("H" if n >> bit & 1 else "L" for bit in range(bits)) for n in range(top))


# ------------------------------------------------------------------------------------------------------- flip-flops
JK = "R S J K CLK | q\nH L X X X | L\nL H X X X | H\nH H X X X | ?\nL L L L ^ | =\nL L H L ^ | H\nL L L H ^ | L\nL L H H ^ | !q"
FORCED = "\nL L | q !q\nH L | L H\nL H | H L\nH H | H H"
BOTH_LOW = FORCED.replace("H H | H H", "H H | L L")         # SGS-Thomson HCF4095B (read)
FLIP_FLOPS = (
    Book("4013", "Q1 QN1 CLK1 R1 D1 S1 VSS S2 D2 R2 CLK2 QN2 Q2 VDD",
         both("R# S# D# CLK# | q#\nH L X X | L\nL H X X | H\nH H X X | ?\nL L L ^ | L\nL L H ^ | H"),
         both("R# S# | Q# QN#" + FORCED.replace("q", "q#"))),
    Book("4027", "Q1 QN1 CLK1 R1 K1 J1 S1 VSS S2 J2 K2 R2 CLK2 QN2 Q2 VDD",
         both("R# S# J# K# CLK# | q#" + JK.partition("| q")[2].replace("!q", "!q#")), both("R# S# | Q# QN#" + FORCED.replace("q", "q#")), steps=900),
    Book("4095", "NC1 R J1 J2 J3 QN VSS Q K3 K2 K1 CLK S VDD",
         ("R S J1 J2 J3 K1 K2 K3 CLK | q\nH L X X X X X X X | L\nL H X X X X X X X | H\nH H X X X X X X X | ?\nL L H H H H H H ^ | !q\n"
          "L L H H H X X X ^ | H\nL L X X X H H H ^ | L",), ("R S | Q QN" + BOTH_LOW,), rest="R=L S=L J1=H J2=H K2=H K3=H", lead="R=H, R=L", steps=1500),
    Book("4096", "NC1 R J1 J2 J3N QN VSS Q K3N K2 K1 CLK S VDD",
         ("R S J1 J2 J3N K3N K2 K1 CLK | q\nH L X X X X X X X | L\nL H X X X X X X X | H\nH H X X X X X X X | ?\nL L H H L L H H ^ | !q\n"
          "L L H H L X X X ^ | H\nL L X X X L H H ^ | L",), ("R S | Q QN" + BOTH_LOW,), rest="R=L S=L J1=H J2=H K2=H K1=H", lead="R=H, R=L", steps=1500),
    Book("40174", "CLR Q1 D1 D2 Q2 D3 Q3 VSS CLK Q4 D4 Q5 D5 D6 Q6 VDD",
         ("CLR CLK | Q1 Q2 Q3 Q4 Q5 Q6\nL X | L L L L L L\nH ^ | D1 D2 D3 D4 D5 D6",), rest="CLR=H"),
    Book("40175", "CLR Q1 QN1 D1 D2 QN2 Q2 VSS CLK Q3 QN3 D3 D4 QN4 Q4 VDD",
         ("CLR CLK | Q1 Q2 Q3 Q4\nL X | L L L L\nH ^ | D1 D2 D3 D4",), ("CLK | QN1 QN2 QN3 QN4\nX | !Q1 !Q2 !Q3 !Q4",), rest="CLR=H"),
    Book("4076", "M N Q1 Q2 Q3 Q4 CLK VSS G1 G2 D4 D3 D2 D1 CLR VDD",
         ("CLR G1 G2 CLK | a b c d\nH X X X | L L L L\nL L L ^ | D1 D2 D3 D4",),
         ("M N | Q1 Q2 Q3 Q4\nL L | a b c d\nH X | Z Z Z Z\nX H | Z Z Z Z",), rest="CLR=L M=L N=L G1=L G2=L", steps=800),
)

# ---------------------------------------------------------------------------------------------------------- latches
ADDRESSES = [("L L L", 0), ("H L L", 1), ("L H L", 2), ("H H L", 3), ("L L H", 4), ("H L H", 5), ("L H H", 6), ("H H H", 7)]


def addressed(clear: str, gate: str, on: str) -> tuple[str, ...]:
    """A latch an address: follows D when addressed and enabled; with clear on, the others are low and it goes back to low."""
    off = "L" if on == "H" else "H"
    return tuple(f"{clear} {gate} A0 A1 A2 | Q{n}\n{off} L {a} | D\n{on} L {a} | D\n{on} X X X X | L" for a, n in ADDRESSES)


LATCHES = (
    Book("4042", "Q4 Q1 QN1 D1 CLK POL D2 VSS QN2 Q2 Q3 QN3 D3 D4 QN4 VDD",
         ("CLK POL | Q1 Q2 Q3 Q4\nL L | D1 D2 D3 D4\nH H | D1 D2 D3 D4",), ("CLK | QN1 QN2 QN3 QN4\nX | !Q1 !Q2 !Q3 !Q4",)),
    Book("4043", "Q4 Q1 R1 S1 EN S2 R2 VSS Q2 Q3 R3 S3 NC13 S4 R4 VDD",
         tuple(f"S{n} R{n} | q{n}\nH X | H\nL H | L" for n in "1234"), ("EN | Q1 Q2 Q3 Q4\nH | q1 q2 q3 q4\nL | Z Z Z Z",), rest="EN=H"),
    Book("4044", "Q4 NC2 S3N R3N EN R2N S2N VSS Q2 Q3 S1N R1N Q1 R4N S4N VDD".replace("S3N R3N", "Sa Ra").replace("S1N R1N", "Sc Rc"),
         ("Sa Ra | q1\nX L | L\nL H | H", "S2N R2N | q2\nX L | L\nL H | H", "Sc Rc | q3\nX L | L\nL H | H", "S4N R4N | q4\nX L | L\nL H | H"),
         ("EN | Q1 Q2 Q3 Q4\nH | q1 q2 q3 q4\nL | Z Z Z Z",), rest="EN=H"),
    Book("4099", "Q7 RST D WD A0 A1 A2 VSS Q0 Q1 Q2 Q3 Q4 Q5 Q6 VDD", addressed("RST", "WD", "H"), rest="RST=L", steps=1500),
    Book("4724", "A0 A1 A2 Q0 Q1 Q2 Q3 VSS Q4 Q5 Q6 Q7 D E CL VDD", addressed("CL", "E", "H"), rest="CL=L", steps=1500),
    Book("9334", "A0 A1 A2 Q0 Q1 Q2 Q3 GND Q4 Q5 Q6 Q7 D E CL VCC", addressed("CL", "E", "L"), rest="CL=H", steps=1500),
    Book("4723", "A0 A1 DA QA0 QA1 QA2 QA3 VSS QB0 QB1 QB2 QB3 DB E CL VDD",
         tuple(f"CL E A0 A1 | QA{n} QB{n}\nX L {a[:3]} | DA DB\nH X X X | L L" for a, n in ADDRESSES[:4]), rest="CL=L", steps=1200),
    Book("4508", "R1 ST1 OE1 Da Qa Db Qb Dc Qc Dd Qd VSS R2 ST2 OE2 De Qe Df Qf Dg Qg Dh Qh VDD",
         ("R1 ST1 | a b c d\nH X | L L L L\nL H | Da Db Dc Dd", "R2 ST2 | e f g h\nH X | L L L L\nL H | De Df Dg Dh"),
         ("OE1 | Qa Qb Qc Qd\nL | a b c d\nH | Z Z Z Z", "OE2 | Qe Qf Qg Qh\nL | e f g h\nH | Z Z Z Z"), rest="R1=L R2=L OE1=L OE2=L", steps=800),
    Book("9308", "R1 Ea Eb Da Qa Db Qb Dc Qc Dd Qd GND R2 Ec Ed De Qe Df Qf Dg Qg Dh Qh VCC",
         ("R1 Ea Eb | Qa Qb Qc Qd\nL X X | L L L L\nH L L | Da Db Dc Dd", "R2 Ec Ed | Qe Qf Qg Qh\nL X X | L L L L\nH L L | De Df Dg Dh"),
         rest="R1=H R2=H Ea=L Ec=L", steps=800),
)

# -------------------------------------------------------------------------------------------------- shift registers
EIGHT, SEVEN = "a b c d e f g h", "a b c d e f g"
SHIFT_REGISTERS = (
    Book("4014", "P8 Q6 Q8 P4 P3 P2 P1 VSS PS CLK SER Q7 P5 P6 P7 VDD",
         (f"PS CLK | {EIGHT}\nH ^ | P1 P2 P3 P4 P5 P6 P7 P8\nL ^ | SER {SEVEN}",), ("CLK | Q6 Q7 Q8\nX | f g h",), rest="PS=L", steps=1200),
    Book("4021", "P8 Q6 Q8 P4 P3 P2 P1 VSS PS CLK SER Q7 P5 P6 P7 VDD",
         (f"PS CLK | {EIGHT}\nH X | P1 P2 P3 P4 P5 P6 P7 P8\nL ^ | SER {SEVEN}",), ("CLK | Q6 Q7 Q8\nX | f g h",), rest="PS=L", steps=1200),
    Book("4015", "CLK2 D2 C1 B1 A1 RST1 IN1 VSS CLK1 D1 C2 B2 A2 RST2 IN2 VDD",
         both("RST# CLK# | A# B# C# D#\nH X | L L L L\nL ^ | IN# A# B# C#"), rest="RST1=L RST2=L"),
    Book("4094", "STR D CLK Q1 Q2 Q3 Q4 VSS QS QS2 Q8 Q7 Q6 Q5 OE VDD",
         # The latches see the new bits when the strobe is high, be it then or later: the pins are compared below.
         (f"CLK | {EIGHT}\n^ | D {SEVEN}", "CLK | late\nv | h", "STR | i j k l m n o p\nH | a b c d e f g h"),
         ("CLK | QS QS2\nX | h late", "OE | Q1 Q2 Q3 Q4 Q5 Q6 Q7 Q8\nH | i j k l m n o p\nL | Z Z Z Z Z Z Z Z"), rest="OE=H STR=H", steps=1000),
    Book("4035", "Q1 TC K J RST CLK PS VSS P1 P2 P3 P4 Q4 Q3 Q2 VDD",
         ("RST PS J K CLK | a b c d\nH X X X X | L L L L\nL H X X ^ | P1 P2 P3 P4\nL L L L ^ | L a b c\nL L H H ^ | H a b c\nL L L H ^ | a a b c\n"
          "L L H L ^ | !a a b c",), ("TC | Q1 Q2 Q3 Q4\nH | a b c d\nL | !a !b !c !d",), rest="RST=L", steps=800),
    Book("40194", "CLR SR A B C D SL VSS S0 S1 CLK QD QC QB QA VDD",
         ("CLR S1 S0 CLK | QA QB QC QD\nL X X X | L L L L\nH H H ^ | A B C D\nH L H ^ | SR QA QB QC\nH H L ^ | QB QC QD SL\nH L L ^ | =",),
         rest="CLR=H", steps=800),
    Book("9300", "CLR J KN A B C D GND PE CLK QDN QD QC QB QA VCC",
         ("CLR PE J KN CLK | QA QB QC QD\nL X X X X | L L L L\nH L X X ^ | A B C D\nH H L H ^ | QA QA QB QC\nH H L L ^ | L QA QB QC\n"
          "H H H H ^ | H QA QB QC\nH H H L ^ | !QA QA QB QC",), ("CLK | QDN\nX | !QD",), rest="CLR=H PE=H", steps=800),
    Book("4006", "D1 Q1late CLK D2 D3 D4 VSS Q4d Q4e Q3d Q2d Q2e Q1d VDD",
         ("CLK | a1 b1 c1 Q1d\nv | D1 a1 b1 c1", "CLK | a2 b2 c2 Q2d Q2e\nv | D2 a2 b2 c2 Q2d", "CLK | a3 b3 c3 Q3d\nv | D3 a3 b3 c3",
          "CLK | a4 b4 c4 Q4d Q4e\nv | D4 a4 b4 c4 Q4d")),
    Book("4031", "D2 CLK NC3 NC4 PIN5 Q64 Q64N VSS CLD MODE NC11 NC12 NC13 NC14 D1 VDD",
         ("MODE CLK | " + " ".join(f"s{n}" for n in range(1, 65)) + "\nL ^ | D1 " + " ".join(f"s{n}" for n in range(1, 64))
          + "\nH ^ | D2 " + " ".join(f"s{n}" for n in range(1, 64)),), ("CLK | Q64 Q64N CLD\nX | s64 !s64 CLK",), lead="CLK^70", steps=600),
)


# -------------------------------------------------------------------------------------------------------- counters
def johnson(stages: int) -> str:
    """A ring of so many stages turned over once: LLLLL HLLLL ... LLLLH."""
    ones = [k if k <= stages else 2 * stages - k for k in range(2 * stages)]
    return " ".join(("H" * n + "L" * (stages - n)) if k <= stages else "L" * (stages - n) + "H" * n for k, n in enumerate(ones))


def decoded(stages: int, order: str, lines: tuple[str, ...]) -> str:
    """What each count shows: one line high, and the carry high in the first half."""
    names = " ".join("jklmn"[:stages])
    rows = [f"{' '.join(state)} | {' '.join('H' if k == n else 'L' for k in range(2 * stages))} {'H' if n < stages else 'L'}"
            for n, state in enumerate(order.split())]
    return "\n".join([f"{names} | {' '.join(lines)} CO", *rows])


TEN = tuple(f"Q{n}" for n in range(10))
CLOCK = "RST CLK CE | {}\nH X X | {}\nL ^ L | +\nL H v | +"
SHAPES = ("abcdef", "bc", "abdeg", "abcdg", "bcfg", "acdfg", "acdefg", "abc", "abcdefg", "abcdfg")


def segments(n: int) -> str:
    return " ".join("H" if s in SHAPES[n] else "L" for s in "abcdefg")


J5 = johnson(5)
DISPLAY = [f"{' '.join(state)}" for state in J5.split()]
ORDER10, ORDER16 = numbers(4, 10), numbers(4, 16)
SYNCHRONOUS = "CLR CLK P1 P2 P3 P4 PE {g} LOAD TE Q4 Q3 Q2 Q1 CO {v}"


def synchronous(part: str, rails: str, decade: bool, clocked: bool, never: tuple[str, ...]) -> Book:
    vdd, vss = rails.split()
    clear = "L X X X ^ | L L L L" if clocked else "L X X X X | L L L L"
    carry = "TE Q1 Q2 Q3 Q4 | CO\nH H L L H | H\nX X X X X | L" if decade else "TE Q1 Q2 Q3 Q4 | CO\nH H H H H | H\nX X X X X | L"
    return Book(part, SYNCHRONOUS.format(g=vss, v=vdd),
                (f"CLR LOAD PE TE CLK | Q1 Q2 Q3 Q4\n{clear}\nH L X X ^ | P1 P2 P3 P4\nH H H H ^ | +",), (carry,),
                counts=ORDER10 if decade else ORDER16, rest="CLR=H LOAD=H PE=H TE=H" + (" P4=L" if decade else ""), never=never, steps=1500)


UP = "PE Q4 P4 P1 CI Q1 CO VSS {x} UD Q2 P2 P3 Q3 CLK VDD"
DECADE_CARRY = "CI UD Q1 Q2 Q3 Q4 | CO\nL H H L L H | L\nL L L L L L | L\nH X X X X X | H\nL H L X X X | H\nL H X X X L | H\nL L H X X X | H\nL L X H X X | H\nL L X X H X | H\nL L X X X H | H"
BINARY_CARRY = DECADE_CARRY.replace("L H H L L H | L", "L H H H H H | L").replace("L H X X X L | H", "L H X L X X | H\nL H X X L X | H\nL H X X X L | H")


def two_clocks(part: str, rails: str, top: int) -> Book:
    """192, 193: the carry is low while the count is at its top and the clock up is low."""
    vdd, vss = rails.split()
    high = "H L L H" if top == 10 else "H H H H"
    return Book(part, f"P2 Q2 Q1 CD CU Q3 Q4 {vss} P4 P3 LOAD CO BO RST P1 {vdd}",
                ("RST LOAD CU CD | Q1 Q2 Q3 Q4\nH X X X | L L L L\nL L X X | P1 P2 P3 P4\nL H ^ H | +\nL H H ^ | -",),
                (f"CU Q1 Q2 Q3 Q4 | CO\nL {high} | L\nX X X X X | H", "CD Q1 Q2 Q3 Q4 | BO\nL L L L L | L\nX X X X X | H"),
                counts=numbers(4, top), rest="RST=L LOAD=H" + (" P4=L" if top == 10 else ""), never=("CU=L CD=L", *(("P4=H P3=H", "P4=H P2=H") if top == 10 else ())), lead="RST=H, CU=H, CD=H, LOAD=H, RST=L",
                steps=1500)


COUNTERS = (
    Book("4017", "Q5 Q1 Q0 Q2 Q6 Q7 Q3 VSS Q8 Q4 Q9 CO CE CLK RST VDD", (CLOCK.format("j k l m n", "L L L L L"),), (decoded(5, J5, TEN),),
         counts=J5, rest="RST=L CE=L", lead="RST=H, RST=L, CLK^11"),
    Book("4022", "Q1 Q0 Q2 Q5 Q6 NC6 Q3 VSS NC9 Q7 Q4 CO CE CLK RST VDD", (CLOCK.format("j k l m", "L L L L"),), (decoded(4, johnson(4), TEN[:8]),),
         counts=johnson(4), rest="RST=L CE=L", lead="RST=H, RST=L, CLK^9"),
    # DATA from the complement of the fifth output makes it a divider by ten; here it is what the walk makes it.
    Book("4018", "DATA P1 P2 QN2 QN1 QN3 P3 VSS P4 PE QN4 P5 QN5 CLK RST VDD",
         ("RST PE j k l CLK | j k l m n\nH X X X X X | L L L L L\nL H X X X X | P1 P2 P3 P4 P5\nL L L H L ^ | DATA j ? l m\nL L X X X ^ | DATA j k l m",),
         ("CLK | QN1 QN2 QN3 QN4 QN5\nX | !j !k !l !m !n",), rest="RST=L PE=L", steps=900),
    Book("4024", "CLK RST Q7 Q6 Q5 Q4 VSS NC8 Q3 NC10 Q2 Q1 NC13 VDD", ("RST CLK | Q1 Q2 Q3 Q4 Q5 Q6 Q7\nH X | L L L L L L L\nL v | +",),
         counts=numbers(7, 128), rest="RST=L", lead="RST=H, RST=L, CLK^130", steps=200),
    Book("4040", "Q12 Q6 Q5 Q7 Q4 Q3 Q2 VSS Q1 CLK RST Q9 Q8 Q10 Q11 VDD",
         ("RST CLK | " + " ".join(f"Q{n}" for n in range(1, 13)) + "\nH X |" + " L" * 12 + "\nL v | +",), counts=numbers(12, 4096), rest="RST=L",
         lead="RST=H, RST=L, CLK^600", steps=200),
    Book("4518", "CLK1 EN1 A1 B1 C1 D1 RST1 VSS CLK2 EN2 A2 B2 C2 D2 RST2 VDD",
         both("RST# CLK# EN# | A# B# C# D#\nH X X | L L L L\nL ^ H | +\nL L v | +"), counts=ORDER10, rest="RST1=L RST2=L EN1=H EN2=H", steps=1200,
         lead="EN1=H, EN2=H, RST1=H, RST1=L, RST2=H, RST2=L"),
    Book("4520", "CLK1 EN1 A1 B1 C1 D1 RST1 VSS CLK2 EN2 A2 B2 C2 D2 RST2 VDD",
         both("RST# CLK# EN# | A# B# C# D#\nH X X | L L L L\nL ^ H | +\nL L v | +"), counts=ORDER16, rest="RST1=L RST2=L EN1=H EN2=H", steps=1200,
         lead="EN1=H, EN2=H, RST1=H, RST1=L, RST2=H, RST2=L"),
    Book("4026", "CLK INH DEI DEO CO f g VSS d a e b c UC RST VDD", (CLOCK.format("j k l m n", "L L L L L").replace("CE", "INH"),),
         ("\n".join(["DEI j k l m n | a b c d e f g", "L X X X X X |" + " L" * 7, *(f"H {s} | {segments(n)}" for n, s in enumerate(DISPLAY))]),
          "DEI | DEO\nX | DEI", "j k l m n | UC CO\n" + "\n".join(f"{s} | {'L' if n == 2 else 'H'} {'H' if n < 5 else 'L'}" for n, s in enumerate(DISPLAY))),
         counts=J5, rest="RST=L INH=L DEI=H", lead="RST=H, RST=L, CLK^11", steps=800),
    Book("4033", "CLK INH RBI RBO CO f g VSS d a e b c LT RST VDD", (CLOCK.format("j k l m n", "L L L L L").replace("CE", "INH"),),
         ("\n".join(["LT RBI j k l m n | a b c d e f g", "H X X X X X X |" + " H" * 7, "L L L L L L L |" + " L" * 7,
                     *(f"L X {s} | {segments(n)}" for n, s in enumerate(DISPLAY))]),
          "RBI j k l m n | RBO\nL L L L L L | L\nX X X X X X | H",
          "j k l m n | CO\n" + "\n".join(f"{s} | {'H' if n < 5 else 'L'}" for n, s in enumerate(DISPLAY))),
         counts=J5, rest="RST=L INH=L LT=L", lead="RST=H, RST=L, CLK^11", steps=800),
    Book("4516", UP.format(x="RST"), ("RST PE CI UD CLK | Q1 Q2 Q3 Q4\nH X X X X | L L L L\nL H X X X | P1 P2 P3 P4\nL L L H ^ | +\nL L L L ^ | -",),
         (BINARY_CARRY,), counts=ORDER16, rest="RST=L PE=L CI=L", never=("RST=H PE=H",), steps=2000),
    Book("4510", UP.format(x="RST"), ("RST PE CI UD CLK | Q1 Q2 Q3 Q4\nH X X X X | L L L L\nL H X X X | P1 P2 P3 P4\nL L L H ^ | +\nL L L L ^ | -",),
         (DECADE_CARRY,), counts=ORDER10, rest="RST=L PE=L CI=L P4=L", never=("RST=H PE=H", "P4=H P3=H", "P4=H P2=H"), lead="RST=H, RST=L", steps=2000),
    Book("4029", UP.format(x="BD"), ("PE CI UD CLK | Q1 Q2 Q3 Q4\nH X X X | P1 P2 P3 P4\nL L H ^ | +\nL L L ^ | -",), (BINARY_CARRY,),
         counts=ORDER16, rest="PE=L CI=L BD=H", never=("BD=L",), lead="BD=H, PE=H, PE=L", steps=2000),
    *(synchronous(f"4016{n}", "VDD VSS", n % 2 == 0, n > 1, ("P4=H P3=H", "P4=H P2=H") if n % 2 == 0 else ()) for n in range(4)),
    synchronous("9316", "VCC GND", False, False, ()), synchronous("9310", "VCC GND", True, False, ("P4=H P3=H", "P4=H P2=H")),
    two_clocks("40193", "VDD VSS", 16), two_clocks("40192", "VDD VSS", 10), two_clocks("9366", "VCC GND", 16), two_clocks("9360", "VCC GND", 10),
)


def long(part: str, pins: str, stages: int, shown: list[int]) -> Book:
    """The outputs that are there of a long ripple counter: first two thousand pulses, the far stages by the library's own sequence."""
    names = [f"q{n}" for n in range(1, stages + 1)]
    return Book(part, pins, (f"RST CLK | {' '.join(names)}\nH X | {'L ' * stages}\nL v | +",),
                ("CLK | " + " ".join(f"Q{n}" for n in shown) + "\nX | " + " ".join(f"q{n}" for n in shown),), counts=numbers(stages, 1 << stages),
                rest="RST=L", lead="RST=H, RST=L, CLK^600", steps=200)


LONG = (long("4020", "Q12 Q13 Q14 Q6 Q5 Q7 Q4 VSS Q1 CLK RST Q9 Q8 Q10 Q11 VDD", 14, [1, *range(4, 15)]),
        long("4060", "Q12 Q13 Q14 Q6 Q5 Q7 Q4 VSS CTC RTC CLK RST Q9 Q8 Q10 VDD", 14, [4, 5, 6, 7, 8, 9, 10, 12, 13, 14]))

BOOKS = (*FLIP_FLOPS, *LATCHES, *SHIFT_REGISTERS, *COUNTERS, *LONG)
