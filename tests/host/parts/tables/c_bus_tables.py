"""Bus drivers, latches and registers of 20 and 24 pins, transceivers: function tables and pin numbers as the data books
print them.  Source and notation: see c_tables.py.

SPDX-License-Identifier: MIT
"""
from collections.abc import Sequence

from tables.c_tables import CODES_8, ONE_OF_8, Y_138, table

# --------------------------------------------------------------------------------------------------------- bus drivers
def columns_of(inputs: Sequence[int], outputs: Sequence[int], *control: int) -> list[tuple[int, ...]]:
    """Sections of a part that has its control pins in common."""
    return [(*control, i, o) for i, o in zip(inputs, outputs, strict=True)]


TRUE, INVERTED = "L L | L\nL H | H\nH X | Z", "L L | H\nL H | L\nH X | Z"
TRUE_2, INVERTED_2 = "L L L | L\nL L H | H\nH X X | Z\nX H X | Z", "L L L | H\nL L H | L\nH X X | Z\nX H X | Z"
table("74LS241", "1G A | Y", TRUE, *columns_of((2, 4, 6, 8), (18, 16, 14, 12), 1))
table("74LS241", "2G A | Y", "H L | L\nH H | H\nL X | Z", *columns_of((11, 13, 15, 17), (9, 7, 5, 3), 19))
HEX_IN, HEX_OUT = (2, 4, 6, 10, 12, 14), (3, 5, 7, 9, 11, 13)
table("74365", "G1 G2 A | Y", TRUE_2, *columns_of(HEX_IN, HEX_OUT, 1, 15))
table("74366", "G1 G2 A | Y", INVERTED_2, *columns_of(HEX_IN, HEX_OUT, 1, 15))
for part, rows in (("74367", TRUE), ("74368", INVERTED)):
    table(part, "G A | Y", rows, *columns_of(HEX_IN[:4], HEX_OUT[:4], 1), *columns_of(HEX_IN[4:], HEX_OUT[4:], 15))
QUAD = ((1, 2, 3), (4, 5, 6), (10, 9, 8), (13, 12, 11))
table("74425", "G A | Y", TRUE, *QUAD)
table("74426", "G A | Y", "H L | L\nH H | H\nL X | Z", *QUAD)
PAIR_IN, PAIR_OUT = (2, 4, 6, 8, 12, 14, 16, 18), (3, 5, 7, 9, 11, 13, 15, 17)
table("74LS465 74LS795", "G1 G2 A | Y", TRUE_2, *columns_of(PAIR_IN, PAIR_OUT, 1, 19))
table("74LS466 74LS796", "G1 G2 A | Y", INVERTED_2, *columns_of(PAIR_IN, PAIR_OUT, 1, 19))
for parts, rows in (("74LS467 74LS797", TRUE), ("74LS468 74LS798", INVERTED)):
    table(parts, "G A | Y", rows, *columns_of(PAIR_IN[:4], PAIR_OUT[:4], 1), *columns_of(PAIR_IN[4:], PAIR_OUT[4:], 19))
FLOW_IN, FLOW_OUT = (2, 3, 4, 5, 6, 7, 8, 9), (18, 17, 16, 15, 14, 13, 12, 11)
table("74LS540", "G1 G2 A | Y", INVERTED_2, *columns_of(FLOW_IN, FLOW_OUT, 1, 19))
table("74LS541", "G1 G2 A | Y", TRUE_2, *columns_of(FLOW_IN, FLOW_OUT, 1, 19))

# ------------------------------------------------------------------------------------------------ latches and registers
LATCH = "L H H | H\nL H L | L\nL L X | q\nH X X | Z"
LATCH_INV = "L H H | L\nL H L | H\nL L X | q\nH X X | Z"
REGISTER = "L ^ H | H\nL ^ L | L\nL L X | q\nL H X | q\nL v X | q\nH X X | Z"
REGISTER_INV = "L ^ H | L\nL ^ L | H\nL L X | q\nL H X | q\nL v X | q\nH X X | Z"
OPEN, CLOCKED = ("OC=L C=H D=L, C=L", "OC=L C=H D=H, C=L"), ("OC=L CLK=L D=L, CLK=H", "OC=L CLK=L D=H, CLK=H")
SIDE_IN, SIDE_OUT = (3, 4, 7, 8, 13, 14, 17, 18), (2, 5, 6, 9, 12, 15, 16, 19)


def memory(parts: str, kind: str, rows: str, sections: Sequence[Sequence[int]], inverted: bool = False) -> None:
    """Tables of latches (kind "C") and registers ("CLK"); an inverted q is low after a high D."""
    zero, one = OPEN if kind == "C" else CLOCKED
    table(parts, f"OC {kind} D | Q", rows, *sections, low=one if inverted else zero, high=zero if inverted else one)


memory("74LS533", "C", LATCH_INV, columns_of(SIDE_IN, SIDE_OUT, 1, 11), inverted=True)
memory("74LS534", "CLK", REGISTER_INV, columns_of(SIDE_IN, SIDE_OUT, 1, 11), inverted=True)
for numbers, kind, rows, turned in (("74ALS563 74ALS580", "C", LATCH_INV, True), ("74ALS564 74ALS576", "CLK", REGISTER_INV, True),
                                    ("74ALS573", "C", LATCH, False), ("74ALS574", "CLK", REGISTER, False)):
    memory(numbers, kind, rows, columns_of(FLOW_IN, (19, 18, 17, 16, 15, 14, 13, 12), 1, 11), inverted=turned)
# 24 pins: ten, nine and eight bits.
TEN_IN, TEN_OUT = tuple(range(2, 12)), tuple(range(23, 13, -1))
memory("74AS821", "CLK", REGISTER, columns_of(TEN_IN, TEN_OUT, 1, 13))
memory("74AS822", "CLK", REGISTER_INV, columns_of(TEN_IN, TEN_OUT, 1, 13), inverted=True)
memory("74AS841", "C", LATCH, columns_of(TEN_IN, TEN_OUT, 1, 13))
memory("74AS842", "C", LATCH_INV, columns_of(TEN_IN, TEN_OUT, 1, 13), inverted=True)
NINE_IN, NINE_OUT = tuple(range(2, 11)), tuple(range(23, 14, -1))
WIDE_IN, WIDE_OUT = tuple(range(3, 11)), tuple(range(22, 14, -1))
ENABLED = """
H X X X X | Z
L L X X X | L
L H H X X | q
L H H ^ X | q
L H L ^ L | {lo}
L H L ^ H | {hi}
L H L L X | q
L H L v X | q
"""
CLEARED = """
H X X X X | Z
L X L X X | H
L L H X X | L
L H H H L | {lo}
L H H H H | {hi}
L H H L X | q
"""
for turned, (nine, eight, nine_latch, eight_latch) in enumerate((("74AS823", "74AS825", "74AS843", "74AS845"),
                                                                 ("74AS824", "74AS826", "74AS844", "74AS846"))):
    low_d, high_d = ("H", "L") if turned else ("L", "H")
    names = {"lo": low_d, "hi": high_d}
    clocked = {"low": f"OC=L CLR=H EN=L CLK=L D={low_d}, CLK=H", "high": f"OC=L CLR=H EN=L CLK=L D={high_d}, CLK=H"}
    opened = {"low": f"OC=L CLR=H PRE=H C=H D={low_d}, C=L", "high": f"OC=L CLR=H PRE=H C=H D={high_d}, C=L"}
    table(nine, "OC CLR EN CLK D | Q", ENABLED.format(**names), *columns_of(NINE_IN, NINE_OUT, 1, 11, 14, 13), **clocked)
    table(nine_latch, "OC CLR PRE C D | Q", CLEARED.format(**names), *columns_of(NINE_IN, NINE_OUT, 1, 11, 14, 13), **opened)
    for enable in (1, 2, 23):                              # each of the three output enables
        table(eight, "OC CLR EN CLK D | Q", ENABLED.format(**names), *columns_of(WIDE_IN, WIDE_OUT, enable, 11, 14, 13), **clocked)
        table(eight_latch, "OC CLR PRE C D | Q", CLEARED.format(**names), *columns_of(WIDE_IN, WIDE_OUT, enable, 11, 14, 13), **opened)
# 575, 577: clear waits for the clock.
for part, low_d, high_d in (("74ALS575", "L", "H"), ("74ALS577", "H", "L")):
    table(part, "OC CLR CLK D | Q", f"""
H X X X | Z
L L ^ X | {low_d}
L L L X | q
L H ^ L | {low_d}
L H ^ H | {high_d}
L H L X | q
L H v X | q""", *columns_of(tuple(range(3, 11)), tuple(range(22, 14, -1)), 2, 1, 14),
          low=f"OC=L CLR=H CLK=L D={low_d}, CLK=H", high=f"OC=L CLR=H CLK=L D={high_d}, CLK=H")
HALF_1, HALF_2 = (3, 4, 5, 6), (7, 8, 9, 10)
for part, kind, low_d, high_d, forced in (("74ALS873", "C", "L", "H", "L"), ("74ALS880", "C", "H", "L", "L"),
                                          ("74ALS874", "CLK", "L", "H", "L"), ("74ALS876", "CLK", "H", "L", "L"),
                                          ("74ALS878", "sync", "L", "H", "L"), ("74ALS879", "sync", "H", "L", "H")):
    halves = [*columns_of(HALF_1, (22, 21, 20, 19), 2, 1, 23), *columns_of(HALF_2, (18, 17, 16, 15), 11, 13, 14)]
    if kind == "C":
        body, clock = f"H X X X | Z\nL L X X | {forced}\nL H H L | {low_d}\nL H H H | {high_d}\nL H L X | q", "C"
    else:
        first = f"L L ^ X | {forced}\nL L L X | q" if kind == "sync" else f"L L X X | {forced}\nL L ^ X | {forced}"
        body, clock = f"H X X X | Z\n{first}\nL H ^ L | {low_d}\nL H ^ H | {high_d}\nL H L X | q\nL H v X | q", "CLK"
    ends = "C=L" if clock == "C" else "CLK=H"
    begins = "C=H" if clock == "C" else "CLK=L"
    table(part, f"OC CLR {clock} D | Q", body, *halves, low=f"OC=L CLR=H {begins} D={low_d}, {ends}", high=f"OC=L CLR=H {begins} D={high_d}, {ends}")

# ---------------------------------------------------------------------------------------------------------- transceivers
A_PINS, B_PINS = (2, 3, 4, 5, 6, 7, 8, 9), (18, 17, 16, 15, 14, 13, 12, 11)
# Part: A to B true or inverted, B to A true or inverted, A side and B side open collector.
TURNED = {"74LS638": ("inv", "inv", True, False), "74LS639": ("true", "true", True, False), "74LS640": ("inv", "inv", False, False),
          "74LS641": ("true", "true", True, True), "74LS642": ("inv", "inv", True, True), "74LS643": ("inv", "true", False, False),
          "74LS644": ("inv", "true", True, True), "74LS645": ("true", "true", False, False)}
GATED = {"74LS620": ("inv", "inv", False), "74LS621": ("true", "true", True), "74LS622": ("inv", "inv", True),
         "74LS623": ("true", "true", False)}
WAY = {"true": ("L", "H"), "inv": ("H", "L")}
for part, (a_to_b, b_to_a, a_open, b_open) in TURNED.items():
    for before, pins, sense, outs, opened in (("H", A_PINS, a_to_b, B_PINS, b_open), ("L", B_PINS, b_to_a, A_PINS, a_open)):
        lo, hi = WAY[sense]
        table(part, "G DIR in | out", f"L {before} L | {lo}\nL {before} H | {hi}\nH X X | Z", *columns_of(pins, outs, 19, 1),
              oc=part if opened else "")
for part, (a_to_b, b_to_a, opened) in GATED.items():
    lo, hi = WAY[a_to_b]
    table(part, "GAB in | out", f"H L | {lo}\nH H | {hi}\nL X | Z", *columns_of(A_PINS, B_PINS, 1), rest="GBA=19:H", oc=part if opened else "")
    table(part, "GBA in | out", f"L L | {lo}\nL H | {hi}\nH X | Z", *columns_of(B_PINS, A_PINS, 19), rest="GAB=1:L", oc=part if opened else "")
for part, (lo, hi) in (("74LS242", ("H", "L")), ("74LS243", ("L", "H"))):
    table(part, "GAB in | out", f"L L | {lo}\nL H | {hi}\nH X | Z", *columns_of((3, 4, 5, 6), (11, 10, 9, 8), 1), rest="GBA=13:L")
    table(part, "GBA in | out", f"H L | {lo}\nH H | {hi}\nL X | Z", *columns_of((11, 10, 9, 8), (3, 4, 5, 6), 13), rest="GAB=1:H")
for part, (lo, hi), width in (("74F861", ("L", "H"), 10), ("74F862", ("H", "L"), 10), ("74F863", ("L", "H"), 9), ("74F864", ("H", "L"), 9)):
    a_side, b_side = tuple(range(2, 2 + width)), tuple(range(23, 23 - width, -1))
    rows = f"L L | {lo}\nL H | {hi}\nH X | Z"
    if width == 10:
        table(part, "GAB in | out", rows, *columns_of(a_side, b_side, 13), rest="GBA=1:H")
        table(part, "GBA in | out", rows, *columns_of(b_side, a_side, 1), rest="GAB=13:H")
    else:
        for one, other in ((13, 14), (14, 13)):
            table(part, "GAB in | out", rows, *columns_of(a_side, b_side, one), rest=f"other={other}:L,GBA1=1:H,GBA2=11:H")
        for one, other in ((1, 11), (11, 1)):
            table(part, "GBA in | out", rows, *columns_of(b_side, a_side, one), rest=f"other={other}:L,GAB1=13:H,GAB2=14:H")
# With registers: enables, clock, select (low: as it comes, high: stored), data.
A_24, B_24 = tuple(range(4, 12)), tuple(range(20, 12, -1))
for part, sense, a_open, b_open in (("74LS646", "true", 0, 0), ("74LS647", "true", 1, 1), ("74LS648", "inv", 0, 0), ("74LS649", "inv", 1, 1),
                                    ("74LS651", "inv", 0, 0), ("74LS652", "true", 0, 0), ("74LS653", "inv", 1, 0), ("74LS654", "true", 1, 0)):
    lo, hi = WAY[sense]
    stored = f"""
{{on}} {{dir}} L L L | {lo}
{{on}} {{dir}} L L H | {hi}
{{on}} {{dir}} L H X | q
{{on}} {{dir}} H H X | q
{{on}} {{dir}} v H X | q
{{on}} {{dir}} ^ H L | {lo}
{{on}} {{dir}} ^ H H | {hi}
{{off}} {{any}} L X X | Z"""
    zero, one = (("H", "L") if sense == "inv" else ("L", "H"))
    for pins, outs, clock, select, to_b, opened in ((A_24, B_24, 1, 2, True, b_open), (B_24, A_24, 23, 22, False, a_open)):
        if part < "74LS650":
            words = {"on": "L", "off": "H", "dir": "H" if to_b else "L", "any": "X"}
            enables, rest, idle = (21, 3), "", "G=H DIR=L"
        else:                                              # GAB high to drive B, GBA low to drive A; the other at rest
            words = {"on": "H" if to_b else "L", "off": "L" if to_b else "H", "dir": "H" if to_b else "L", "any": "H" if to_b else "L"}
            enables, rest, idle = ((3, 21) if to_b else (21, 3)), "", ("G=L DIR=H" if to_b else "G=H DIR=L")
        table(part, "G DIR CLK S in | out", stored.format(**words), *columns_of(pins, outs, *enables, clock, select),
              low=f"{idle} CLK=L in={zero}, CLK=H", high=f"{idle} CLK=L in={one}, CLK=H", oc=part if opened else "", rest=rest)
# 543, 544: enable and latch of a direction; the latch is held while either is high.
for part, (lo, hi) in (("74F543", ("L", "H")), ("74F544", ("H", "L"))):
    zero, one = ("L", "H") if lo == "L" else ("H", "L")
    latched = f"H X X X | Z\nX X H X | Z\nL H L X | q\nL L L L | {lo}\nL L L H | {hi}"
    table(part, "CEAB LEAB OEAB A | B", latched, *columns_of(range(3, 11), range(22, 14, -1), 11, 14, 13),
          low=f"CEAB=L OEAB=H LEAB=L A={zero}, LEAB=H", high=f"CEAB=L OEAB=H LEAB=L A={one}, LEAB=H", rest="CEBA=23:H")
    table(part, "CEBA LEBA OEBA B | A", latched, *columns_of(range(22, 14, -1), range(3, 11), 23, 1, 2),
          low=f"CEBA=L OEBA=H LEBA=L B={zero}, LEBA=H", high=f"CEBA=L OEBA=H LEBA=L B={one}, LEBA=H", rest="CEAB=11:H")

# ---------------------------------------------------------------------------------- ten bits, open collector, a shifter
TEN_Y = tuple(range(23, 13, -1))
table("74F827", "G1 G2 A | Y", TRUE_2, *columns_of(TEN_IN, TEN_Y, 1, 13))
table("74F828", "G1 G2 A | Y", INVERTED_2, *columns_of(TEN_IN, TEN_Y, 1, 13))
GROUP_1, GROUP_2 = columns_of((2, 4, 6, 8), (18, 16, 14, 12), 1), columns_of((11, 13, 15, 17), (9, 7, 5, 3), 19)
for part, rows, second in (("74AS756", INVERTED, INVERTED), ("74AS757", TRUE, "H L | L\nH H | H\nL X | Z"), ("74AS760", TRUE, TRUE)):
    table(part, "G A | Y", rows, *GROUP_1, oc=part)
    table(part, "G A | Y", second, *GROUP_2, oc=part)
# Which of the inputs -3 to 3 (pins 1 to 7) goes to an output: the output's own less the shift.
SHIFTER = (4, 3, 2, 1)
for k, output in enumerate((15, 14, 12, 11)):
    for shift, (s1, s0) in enumerate(("LL", "LH", "HL", "HH")):
        table("74F350", "OE S1 S0 I | O", f"L {s1} {s0} L | L\nL {s1} {s0} H | H\nH X X X | Z", (13, 9, 10, SHIFTER[shift] + k, output))

# ------------------------------------------------------------------------- bus circuits of the 8080 and 8086 families
# Source: Intel, MCS-80 user's manual 1977 and component data catalog 1981; from memory.
NIBBLE = ((4, 3, 2), (7, 6, 5), (9, 10, 11), (12, 13, 14))           # DI, DB, DO
for part, low, high in (("8216", "L", "H"), ("8226", "H", "L")):
    table(part, "CS DIEN DI | DB", f"L L L | {low}\nL L H | {high}\nL H X | Z\nH X X | Z", *((1, 15, i, b) for i, b, _ in NIBBLE))
    table(part, "CS DIEN DB | DO", f"L H L | {low}\nL H H | {high}\nH X X | Z", *((1, 15, b, o) for _, b, o in NIBBLE))
    table(part, "CS DIEN DI | DO", "L L X | Z", *((1, 15, i, o) for i, _, o in NIBBLE))
ACROSS = columns_of(range(1, 9), range(19, 11, -1))
memory("8282", "C", LATCH, [(9, 11, *pins) for pins in ACROSS])
memory("8283", "C", LATCH_INV, [(9, 11, *pins) for pins in ACROSS], inverted=True)
for part, low, high in (("8286", "L", "H"), ("8287", "H", "L")):
    for level, before, after in (("H", range(1, 9), range(19, 11, -1)), ("L", range(19, 11, -1), range(1, 9))):
        table(part, "OE T in | out", f"L {level} L | {low}\nL {level} H | {high}\nH X X | Z", *columns_of(before, after, 9, 11))
table("8205", "E1 E2 E3 A2 A1 A0 | O0 O1 O2 O3 O4 O5 O6 O7", f"H X X X X X |{' H' * 8}\nX H X X X X |{' H' * 8}\nX X L X X X |{' H' * 8}\n" + "\n".join(
    f"L L H {code} | {row}" for code, row in zip(CODES_8, ONE_OF_8, strict=True)), (4, 5, 6, 3, 2, 1, *Y_138))
