"""Counters: function tables, counting orders and pins of the data books, written down apart from the part library.

Source: Texas Instruments, The TTL Data Book, volume 2, 1985 (counting orders, function tables, typical sequences), from
memory.  Pins were compared with the KiCad 6.0.10 symbols (74xx), those of Lepton EDA 1.9.18 and the pin lists of a VHDL library of
bipolar TTL (D. R. Brooks, 2016) where there is one: all agree, but for pins 1 and 3 of KiCad's 74LS293, which inherits
the set inputs of the '290.  From memory alone are the pins of 490, 568, 569, 591, 592, 690..699; those of 593 agree with
notes of a hobbyist who measured one (W. Toomey, 2019).

How tables are written: see walk.py.

SPDX-License-Identifier: MIT
"""
from tables.walk import Book

DECADE = "LLLL HLLL LHLL HHLL LLHL HLHL LHHL HHHL LLLH HLLH"                     # A B C D, A counts ones
BINARY = DECADE.removesuffix(" LLLH HLLH") + " LLLH HLLH LHLH HHLH LLHH HLHH LHHH HHHH"
FIVE, EIGHT, SIX = "LLL HLL LHL HHL LLH", "LLL HLL LHL HHL LLH HLH LHH HHH", "LLL HLL LHL LLH HLH LHH"

# 7490: reset and count; 7492, 7493: reset.
R90 = "R01 R02 R91 R92 {clock} | {out}\nX X H H X | {nine}\nH H X X X | {zero}\nX X X X v | {next}\n"
R93 = "R01 R02 {clock} | {out}\nH H X | {zero}\nX X v | {next}\n"


def ripple(part: str, pins: str, table: str, order: str) -> Book:
    return Book(part, pins, (
        table.format(clock="CKA", out="QA", nine="H", zero="L", next="!QA"),
        table.format(clock="CKB", out="QB QC QD", nine="L L H", zero="L L L", next="+")),
        counts=order, rest="R01=L R02=L" + (" R91=L R92=L" if "R91" in table else ""), steps=600)


PINS90 = "CKB R01 R02 NC4 VCC R91 R92 QC QB GND QD QA NC13 CKA"
PINS290 = "R91 NC2 R92 QC QB NC6 GND QD QA CKA CKB R01 R02 VCC"
RIPPLE = (
    ripple("7490", PINS90, R90, FIVE),
    ripple("74290", PINS290, R90, FIVE),
    ripple("7492", "CKB NC2 NC3 NC4 VCC R01 R02 QD QC GND QB QA NC13 CKA", R93, SIX),
    ripple("7493", PINS90.replace("R91 R92", "NC6 NC7"), R93, EIGHT),
    ripple("74293", PINS290.replace("R91 NC2 R92", "NC1 NC2 NC3"), R93, EIGHT),
)


def both(text: str) -> tuple[str, ...]:
    """The table of section 1 and that of section 2."""
    return text.replace("#", "1"), text.replace("#", "2")


DUAL = (
    Book("74390", "1CKA 1CLR 1QA 1CKB 1QB 1QC 1QD GND 2QD 2QC 2QB 2CKB 2QA 2CLR 2CKA VCC",
         both("#CLR #CKA | #QA\nH X | L\nX v | !#QA") + both("#CLR #CKB | #QB #QC #QD\nH X | L\nX v | +"),
         counts=FIVE, rest="1CLR=L 2CLR=L"),
    Book("74393", "1CLK 1CLR 1QA 1QB 1QC 1QD GND 2QD 2QC 2QB 2QA 2CLR 2CLK VCC",
         both("#CLR #CLK | #QA #QB #QC #QD\nH X | L\nX v | +"), counts=BINARY, rest="1CLR=L 2CLR=L", lead="1CLR=H, 1CLR=L, 1CLK^20"),
    Book("74490", "1CLK 1CLR 1QA 1SET9 1QB 1QC 1QD GND 2QD 2QC 2QB 2SET9 2QA 2CLR 2CLK VCC",
         both("#CLR #SET9 #CLK | #QA #QB #QC #QD\nH L X | L L L L\nL H X | H L L H\nL L v | +"),
         counts=DECADE, rest="1CLR=L 2CLR=L 1SET9=L 2SET9=L", never=("1CLR=H 1SET9=H", "2CLR=H 2SET9=H"), lead="1CLR=H, 1CLR=L, 1CLK^12"),
)

# 74160..163 (P, T: ENP, ENT).
PINS160 = "CLR CLK A B C D P GND LOAD T QD QC QB QA RCO VCC"
AT_ONCE = "CLR LOAD P T CLK | QA QB QC QD\nL X X X X | L L L L\nH L X X ^ | A B C D\nH H H H ^ | +\nH H L X ^ | =\nH H X L ^ | ="
BY_CLOCK = AT_ONCE.replace("L X X X X | L", "L X X X ^ | L")
CARRY16 = "T QA QB QC QD | RCO\nL X X X X | L\nH H H H H | H\nH L X X X | L\nH X L X X | L\nH X X L X | L\nH X X X L | L"
CARRY10 = "T QA QB QC QD | RCO\nL X X X X | L\nH H L L H | H\nH L X X X | L\nH X X X L | L\nH X X X X | ?"


def sync(part: str, table: str, decade: bool) -> Book:
    return Book(part, PINS160, (table,), (CARRY10 if decade else CARRY16,), counts=DECADE if decade else BINARY,
                rest="CLR=H LOAD=H P=H T=H", lead="CLK^1, CLR=H, LOAD=H, P=H, T=H, CLK^20", steps=900)


SYNC = (sync("74160", AT_ONCE, True), sync("74161", AT_ONCE, False), sync("74162", BY_CLOCK, True), sync("74163", BY_CLOCK, False))

# 74176, 177, 196, 197.
PINS196 = "LOAD QC C A QA CK2 GND CK1 QB B D QD CLR VCC"


def preset(part: str, order: str) -> Book:
    return Book(part, PINS196, ("CLR LOAD CK1 | QA\nL X X | L\nH L X | A\nH H v | !QA",
                                "CLR LOAD CK2 | QB QC QD\nL X X | L L L\nH L X | B C D\nH H v | +"),
                counts=order, rest="CLR=H LOAD=H", lead="CLR=H, LOAD=H, CLR=L, CLR=H, CK2^10", steps=600)


PRESET = (preset("74176", FIVE), preset("74177", EIGHT), preset("74196", FIVE), preset("74197", EIGHT))

# 74190, 191; 192, 193.
PINS190 = "B QB QA CTEN DU QC QD GND D C LOAD MAXMIN RCO CLK A VCC"
UP_DOWN = "LOAD CTEN DU CLK | QA QB QC QD\nL X X X | A B C D\nH L L ^ | +\nH L H ^ | -\nH H X ^ | ="


def one_clock(part: str, decade: bool) -> Book:
    top = "L H X X H" if decade else "L H H H H"
    end = f"DU QA QB QC QD | MAXMIN RCO\n{top} | H ?\nH L L L L | H ?\nX X X X X | L H"
    if decade:                               # above nine it is not told
        end = "DU QA QB QC QD | MAXMIN RCO\nX X H X H | ? ?\nX X X H H | ? ?\nL H L L H | H ?\nH L L L L | H ?\nX X X X X | L H"
    last = "H L L H L" if decade else "H H H H L"
    ripple_out = "CTEN CLK QA QB QC QD DU | RCO\n" + "\n".join(
        f"{cten} {clk} {q} | {'L' if cten + clk == 'LL' else 'H'}" for q in (last, "L L L L H") for cten in "LH" for clk in "LH")
    return Book(part, PINS190, (UP_DOWN,), (end, ripple_out), counts=DECADE if decade else BINARY,
                rest="LOAD=H CTEN=L", lead="LOAD=H, CLK^20, DU=H, CLK^20", steps=900)


PINS192 = "B QB QA DOWN UP QC QD GND D C LOAD CO BO CLR A VCC"
TWO_CLOCKS = "CLR LOAD UP DOWN | QA QB QC QD\nH X X X | L L L L\nL L X X | A B C D\nL H ^ H | +\nL H H ^ | -"

BEYOND = "\n".join(f"L H {clocks} {count} | = ? ? ?" for clocks in ("L X", "X L") for count in ("H X H", "X H H"))  # nine: open from the low pulse on
TEN_BY_TWO_CLOCKS = ("CLR LOAD UP DOWN QB QC QD | QA QB QC QD\nH X X X X X X | L L L L\nL L X X X X X | A B C D\n" + BEYOND +
                     "\nL H ^ H X X X | +\nL H H ^ X X X | -")


def two_clocks(part: str, decade: bool) -> Book:
    last = "H L L H" if decade else "H H H H"
    above = "X X X H X H | ?\nX X X X H H | ?\n" if decade else ""
    return Book(part, PINS192, (TEN_BY_TWO_CLOCKS if decade else TWO_CLOCKS,),
                ("UP DOWN QA QB QC QD | CO\n" + above + f"L X {last} | L\nH X {last} | H\nX X X X X X | H",
                 "DOWN QA QB QC QD | BO\nL L L L L | L\nX X X X X | H"),
                counts=DECADE if decade else BINARY, rest="CLR=L LOAD=H UP=H DOWN=H", never=("UP=L DOWN=L",),
                lead="UP=H, DOWN=H, CLR=H, CLR=L, LOAD=H, UP^20, DOWN^20", steps=900)


UPDOWN = (one_clock("74190", True), one_clock("74191", False), two_clocks("74192", True), two_clocks("74193", False))

# 74LS168, 169, 668, 669 (P, T active low; U high counts up), 568, 569.
PINS169 = "U CLK A B C D P GND LOAD T QD QC QB QA RCO VCC"
BY_U = "LOAD P T U CLK | QA QB QC QD\nL X X X ^ | A B C D\nH L L H ^ | +\nH L L L ^ | -\nH H X X ^ | =\nH X H X ^ | ="


def carry(decade: bool, q: str = "Q") -> str:
    last = "H L L H" if decade else "H H H H"
    above = "L X X H X H | ?\nL X X X H H | ?\n" if decade else ""
    return f"T U {q}A {q}B {q}C {q}D | RCO\nH X X X X X | H\n{above}L H {last} | L\nL L L L L L | L\nL X X X X X | H"


def by_u(part: str, decade: bool) -> Book:
    return Book(part, PINS169, (BY_U,), (carry(decade),), counts=DECADE if decade else BINARY, rest="LOAD=H P=L T=L",
                lead="CLK^1, U=H, LOAD=H, CLK^20, U=L, CLK^20", steps=900)


PINS569 = "U CLK A B C D P ACLR SCLR GND LOAD T QD QC QB QA OE CCO RCO VCC"


def by_u_off(part: str, decade: bool) -> Book:
    table = ("ACLR SCLR LOAD P T U CLK | a b c d\nL X X X X X X | L L L L\nH L X X X X ^ | L L L L\nH H L X X X ^ | A B C D\n"
             "H H H L L H ^ | +\nH H H L L L ^ | -\nH H H H X X ^ | =\nH H H X H X ^ | =")
    last = "H L L H" if decade else "H H H H"
    clocked = ("SCLR LOAD U P T CLK a b c d | CCO\nX X X H X X X X X X | H\nX X X X H X X X X X | H\nX X X X X H X X X X | H\n"
               + ("X X X X X X X H X H | ?\nX X X X X X X X H H | ?\n" if decade else "")
               + f"H H H L L L {last} | L\nH H L L L L L L L L | L\nL X X X X X X X X X | ?\nX L X X X X X X X X | ?\nX X X X X X X X X X | H")
    return Book(part, PINS569, (table,), (carry(decade, "").replace("A B C D", "a b c d"), clocked,
                                          "OE | QA QB QC QD\nL | a b c d\nH | Z"),
                counts=DECADE if decade else BINARY, rest="ACLR=H SCLR=H LOAD=H P=L T=L OE=L",
                lead="ACLR=H, SCLR=H, LOAD=H, U=H, CLK^20, U=L, CLK^20", steps=900)


BY_CLOCK_ONLY = tuple(by_u(p, d) for p, d in (("74LS168", True), ("74LS169", False), ("74LS668", True), ("74LS669", False)))
OFF = (by_u_off("74LS568", True), by_u_off("74LS569", False))

# 74LS690..693, 696..699: R is the register, S selects it.  Which clears are by the clocks: ST M54/74HC690..693 and HC696..699, read.
PINS691 = "CCLR CCK A B C D P RCLR RCK GND S G LOAD T QD QC QB QA RCO VCC"
PINS697 = "U CCK A B C D P CCLR RCK GND S G LOAD T QD QC QB QA RCO VCC"
SHOWN = "G S | QA QB QC QD\nH X | Z\nL L | a b c d\nL H | r s t u"


def selected(part: str, decade: bool, at_once: bool, up_down: bool) -> Book:
    edge = "X" if at_once else "^"
    enable, other = ("L", "H") if up_down else ("H", "L")
    if up_down:
        count = "H H L L H ^ | +\nH H L L L ^ | -\n"
        table = (f"CCLR LOAD P T U CCK | a b c d\nL X X X X {edge} | L L L L\nH L X X X ^ | A B C D\n{count}"
                 "H H H X X ^ | =\nH H X H X ^ | =")
        out = carry(decade, "").replace("A B C D", "a b c d")
        keeps = "RCK | r s t u\n^ | a b c d"
    else:
        table = (f"CCLR LOAD P T CCK | a b c d\nL X X X {edge} | L L L L\nH L X X ^ | A B C D\nH H H H ^ | +\nH H L X ^ | =\nH H X L ^ | =")
        out = (CARRY10 if decade else CARRY16).replace("QA QB QC QD", "a b c d")
        keeps = f"RCLR RCK | r s t u\nL {edge} | L L L L\nH ^ | a b c d"
    return Book(part, PINS697 if up_down else PINS691, (table, keeps), (out, SHOWN), counts=DECADE if decade else BINARY,
                rest=f"CCLR=H LOAD=H P={enable} T={enable} G=L" + ("" if up_down else " RCLR=H"),
                lead=f"CCK^1, CCLR=H, LOAD=H, P={enable}, T={enable}, CCK^20" + (", U=H, CCK^20" if up_down else ""), steps=1200)


SELECTED = (*(selected(f"74LS{n}", n % 2 == 0, n < 692, False) for n in (690, 691, 692, 693)),
            *(selected(f"74LS{n}", n % 2 == 0, n < 698, True) for n in (696, 697, 698, 699)))

# 74LS590..593: the counter's bits a to h, the register's m to t.
BYTE = " ".join("".join("H" if count >> bit & 1 else "L" for bit in range(8)) for count in range(256))
BITS, KEPT, IN, OUT = "a b c d e f g h", "m n o p q r s t", "IA IB IC ID IE IF IG IH", "QA QB QC QD QE QF QG QH"
LAST = f"{BITS} | RCO\nH H H H H H H H | L\nX X X X X X X X | H"
LOADED = f"CCLR CLOAD {{0}} CCK | {BITS}\nL H {{1}} X | L L L L L L L L\nH L {{1}} X | {KEPT}\nH H {{2}} ^ | +"
PINS590 = "QB QC QD QE QF QG QH GND RCO CCLR CCK CCKEN RCK G QA VCC"
KEEPS = (f"CCLR CCKEN CCK | {BITS}\nL X X | L L L L L L L L\nH L ^ | +\nH H ^ | =", f"RCK | {KEPT}\n^ | {BITS}")
WIDE = (
    Book("74LS590", PINS590, KEEPS, (LAST, f"G | {OUT}\nL | {KEPT}\nH | Z"), counts=BYTE, rest="CCLR=H CCKEN=L G=L",
         lead="CCLR=H, CCK^254, RCK^1, CCK^5, RCK^1"),
    Book("74LS591", PINS590, KEEPS, (LAST, *(f"G {bit} | {pin}\nH X | Z\nL L | L\nL H | Z" for bit, pin in zip(
        KEPT.split(), OUT.split(), strict=True))), counts=BYTE, rest="CCLR=H CCKEN=L G=L", lead="CCLR=H, CCK^255, RCK^1, CCK^5, RCK^1"),
    Book("74LS592", "IB IC ID IE IF IG IH GND RCO CCLR CCK CCKEN RCK CLOAD IA VCC",
         (f"RCK | {KEPT}\n^ | {IN}", LOADED.format("CCKEN", "X", "L")), (LAST,), counts=BYTE, rest="CCLR=H CLOAD=H CCKEN=L",
         never=("CCLR=L CLOAD=L",), lead="CLOAD=H, CCLR=H, RCK^1, CCK^260, CLOAD=L, CLOAD=H, CCK^255"),
    Book("74LS593", "IA IB IC ID IE IF IG IH CLOAD GND RCO CCLR CCK E1 E2 RCK RCKEN G1 G2 VCC",
         (f"RCKEN RCK | {KEPT}\nL ^ | {IN}\nH ^ | =", LOADED.format("E1 E2", "X X", "L X") + "\nH H X H ^ | +\nH H H L ^ | ="),
         (LAST, f"G1 G2 | {IN}\nL H | {BITS}\nX X | Z"), counts=BYTE, rest="CCLR=H CLOAD=H E1=L", data=IN, drives="G1=L G2=H",
         never=("CCLR=L CLOAD=L",), lead="CLOAD=H, CCLR=H, E2=H, CCK^260, G2=H, CCK^3", steps=1500),
)

BOOKS = (*RIPPLE, *DUAL, *SYNC, *PRESET, *UPDOWN, *BY_CLOCK_ONLY, *OFF, *SELECTED, *WIDE)
