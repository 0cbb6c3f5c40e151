"""Shift registers, registers, register files: function tables and pins of the data books, apart from the part library.

Source: Texas Instruments, The TTL Data Book, volume 2, 1985; HC589: Motorola, High-Speed CMOS Logic Data; all from memory.  Pins were
compared with the KiCad 6.0.10 symbols (74xx), those of Lepton EDA 1.9.18 and the pin lists of a VHDL library of bipolar TTL
(D. R. Brooks, 2016) where there is one: all agree.  From memory alone are the pins of 589, 594 and 597.

How tables are written: see walk.py.

SPDX-License-Identifier: MIT
"""
from tables.walk import Book

BITS = "a b c d e f g h"
DATA = "IA IB IC ID IE IF IG IH"             # not H alone, which is a level
OUT8 = "QA QB QC QD QE QF QG QH"
SHIFT = "a b c d e f g"                      # what the bits after the first take

SERIAL = (
    Book("7491", "NC1 NC2 NC3 NC4 VCC NC6 NC7 NC8 CLK GND B A QH QHN",
         (f"A B CLK | {BITS}\nH H ^ | H {SHIFT}\nL X ^ | L {SHIFT}\nX L ^ | L {SHIFT}",), ("CLK | QH QHN\nX | h !h",), steps=800),
    Book("7494", "P1A P1B P1C P1D VCC PE1 SER CLK QD CLR P2D GND P2C P2B PE2 P2A",
         tuple(f"CLR PE1 P1{k} PE2 P2{k} CLK | {k.lower()}\nH X X X X X | L\nL H H X X X | H\nL X X H H X | H\nL X X X X ^ | {s}"
               for k, s in zip("ABCD", ("SER", "a", "b", "c"), strict=True)),
         ("CLK | QD\nX | d",), rest="CLR=L PE1=L PE2=L", never=("CLR=H PE1=H", "CLR=H PE2=H"), steps=1200),
    Book("74165", "SHLD CLK IE IF IG IH QHN GND QH SER IA IB IC ID INH VCC",
         (f"SHLD INH CLK | {BITS}\nL X X | {DATA}\nH L ^ | SER {SHIFT}\nH ^ L | SER {SHIFT}\nH H X | =",),
         ("CLK | QH QHN\nX | h !h",), rest="SHLD=H INH=L", lead="SHLD=H, SHLD=L", steps=1200),
    Book("74166", "SER IA IB IC ID INH CLK GND CLR IE IF IG QH IH SHLD VCC",
         (f"CLR SHLD INH CLK | {BITS}\nL X X X | L L L L L L L L\nH L L ^ | {DATA}\nH H L ^ | SER {SHIFT}\nH L ^ L | {DATA}\nH H ^ L | SER {SHIFT}",),
         ("CLK | QH\nX | h",), rest="CLR=H SHLD=H INH=L", steps=1200),
    Book("74HC589", "IB IC ID IE IF IG IH GND QH OE SCK RCK SLOAD SER IA VCC",
         (f"RCK | m n o p q r s t\n^ | {DATA}",
          f"SLOAD SCK | {BITS}\nL X | m n o p q r s t\nH ^ | SER {SHIFT}"),
         ("OE | QH\nL | h\nH | Z",), rest="SLOAD=H OE=L", lead="RCK^1", steps=1200),
    Book("74LS597", "IB IC ID IE IF IG IH GND QH SRCLR SRCK RCK SLOAD SER IA VCC",
         (f"RCK | m n o p q r s t\n^ | {DATA}",
          f"SRCLR SLOAD SRCK | {BITS}\nL H X | L L L L L L L L\nH L X | m n o p q r s t\nH H ^ | SER {SHIFT}"),
         ("RCK | QH\nX | h",), rest="SLOAD=H SRCLR=H", lead="SRCLR=H, RCK^1, SLOAD=H, SLOAD=L", never=("SLOAD=L SRCLR=L",), steps=1200),
)

UNIVERSAL = (
    Book("7495", "SER A B C D MODE GND CK2 CK1 QD QC QB QA VCC",
         ("MODE CK1 CK2 | QA QB QC QD\nH X v | A B C D\nL v X | SER QA QB QC",),
         never=("MODE=H CK1=H", "MODE=L CK2=H"), steps=800),
    Book("7496", "CLK A B C VCC D E PE SER QE QD GND QC QB QA CLR",
         tuple(f"CLR PE {k} CLK | Q{k}\nL L X X | L\nH H H X | H\nH X X ^ | {s}" for k, s in
               zip("ABCDE", ("SER", "QA", "QB", "QC", "QD"), strict=True)),
         rest="CLR=H PE=L", never=("CLR=L PE=H",), steps=800),
    Book("74178", "B A SER QA CLK QB GND QC LOAD QD SHIFT D C VCC",
         ("SHIFT LOAD CLK | QA QB QC QD\nL L v | =\nL H v | A B C D\nH X v | SER QA QB QC",), steps=800),
    Book("74179", "CLR B A SER QA CLK QB GND QC LOAD QD QDN SHIFT D C VCC",
         ("CLR SHIFT LOAD CLK | QA QB QC QD\nL X X X | L L L L\nH L L v | =\nH L H v | A B C D\nH H X v | SER QA QB QC",),
         ("CLK | QDN\nX | !QD",), rest="CLR=H", steps=800),
    Book("74194", "CLR SR A B C D SL GND S0 S1 CLK QD QC QB QA VCC",
         ("CLR S1 S0 CLK | QA QB QC QD\nL X X X | L L L L\nH H H ^ | A B C D\nH L H ^ | SR QA QB QC\nH H L ^ | QB QC QD SL\nH L L ^ | =",),
         rest="CLR=H", steps=800),
    Book("74195", "CLR J KN A B C D GND SHLD CLK QDN QD QC QB QA VCC",
         ("CLR SHLD J KN CLK | QA QB QC QD\nL X X X X | L L L L\nH L X X ^ | A B C D\nH H L H ^ | QA QA QB QC\nH H L L ^ | L QA QB QC\n"
          "H H H H ^ | H QA QB QC\nH H H L ^ | !QA QA QB QC",), ("CLK | QDN\nX | !QD",), rest="CLR=H SHLD=H", steps=800),
    Book("74198", "S0 SR IA QA IB QB IC QC ID QD CLK GND CLR QE IE QF IF QG IG QH IH SL S1 VCC",
         (f"CLR S1 S0 CLK | {OUT8}\nL X X X | L L L L L L L L\nH H H ^ | {DATA}\nH L H ^ | SR QA QB QC QD QE QF QG\n"
          "H H L ^ | QB QC QD QE QF QG QH SL\nH L L ^ | =",), rest="CLR=H", steps=800),
    Book("74199", "KN J IA QA IB QB IC QC ID QD INH GND CLK CLR QE IE QF IF QG IG QH IH SHLD VCC",
         (f"CLR SHLD J KN INH CLK | {OUT8}\nL X X X X X | L L L L L L L L\n" + "".join(
             f"H L X X {clk} | {DATA}\nH H L H {clk} | QA QA QB QC QD QE QF QG\nH H L L {clk} | L QA QB QC QD QE QF QG\n"
             f"H H H H {clk} | H QA QB QC QD QE QF QG\nH H H L {clk} | !QA QA QB QC QD QE QF QG\n" for clk in ("L ^", "^ L")),),
         rest="CLR=H SHLD=H INH=L", steps=2000),
    Book("74LS295", "SER A B C D MODE GND OE CLK QD QC QB QA VCC",
         ("MODE CLK | a b c d\nH v | A B C D\nL v | SER a b c",), ("OE | QA QB QC QD\nH | a b c d\nL | Z",), steps=800),
    Book("74LS395", "CLR SER A B C D MODE GND OC CLK QDP QD QC QB QA VCC",
         ("CLR MODE CLK | a b c d\nL X X | L L L L\nH H v | A B C D\nH L v | SER a b c",),
         ("OC | QA QB QC QD\nL | a b c d\nH | Z", "CLK | QDP\nX | d"), rest="CLR=H OC=L", steps=800),
)


def bus(part: str, clear: str) -> Book:
    return Book(part, "S0 G1 G2 IG IE IC IA QAP CLR GND SR CLK IB ID IF IH QHP SL S1 VCC",
                (f"CLR S1 S0 CLK | {BITS}\nL X X {clear} | L L L L L L L L\nH L L ^ | =\nH L H ^ | SR {SHIFT}\n"
                 f"H H L ^ | b c d e f g h SL\nH H H ^ | {DATA}",),
                (f"S1 S0 G1 G2 | {DATA}\nH H X X | Z\nX X H X | Z\nX X X H | Z\nX X X X | {BITS}", "CLK | QAP QHP\nX | a h"),
                rest="CLR=H G1=L G2=L", data=DATA, drives="", lead="CLK^1, CLR=H", steps=2500)


def with_drives(book: Book, drives: str, never: tuple[str, ...]) -> Book:
    """The same, its data pins only driven while the chip does not drive them (all of the levels named hold: it does)."""
    return Book(book.part, book.pins, book.does, book.shows, rest=book.rest, data=book.data, drives=drives, never=never,
                lead=book.lead, steps=book.steps)


# While one enable is kept high nothing drives; with both low, mode H H is the only one in which the pins may be driven.
BUS = (
    with_drives(bus("74LS299", "X"), "G1=L G2=L", ()), with_drives(bus("74LS323", "^"), "G1=L G2=L", ()),
    Book("74LS322", "GN SP D0 IA IC IE IG OE CLR GND CLK QHP IH IF ID IB D1 SE DS VCC",
         (f"CLR GN SP SE DS CLK | {BITS}\nL X X X X X | L L L L L L L L\nH H X X X ^ | =\nH L H H L ^ | D0 {SHIFT}\n"
          f"H L H H H ^ | D1 {SHIFT}\nH L H L X ^ | a {SHIFT}\nH L L X X ^ | {DATA}",),
         (f"OE GN SP | {DATA}\nH X X | Z\nX L L | Z\nX X X | {BITS}", "CLK | QHP\nX | h"),
         rest="CLR=H", data=DATA, drives="OE=L", steps=2500),
)

STORED = tuple(
    Book(part, pins, (f"SRCLR SRCK | {BITS}\nL X | L L L L L L L L\nH ^ | SER {SHIFT}", store), (*show, "SRCK | QHP\nX | h"),
         rest="SRCLR=H " + rest, lead="RCK^1, SRCLR=H, SER=H, SRCK^8, RCK^1", steps=2000)
    for part, pins, store, show, rest in (
        ("74LS594", "QB QC QD QE QF QG QH GND QHP SRCLR SRCK RCK RCLR SER QA VCC",
         "RCLR RCK | m n o p q r s t\nL X | L L L L L L L L\nH ^ | a b c d e f g h", (f"RCK | {OUT8}\nX | m n o p q r s t",), "RCLR=H"),
        ("74HC595", "QB QC QD QE QF QG QH GND QHP SRCLR SRCK RCK G SER QA VCC",
         "RCK | m n o p q r s t\n^ | a b c d e f g h", (f"G | {OUT8}\nL | m n o p q r s t\nH | Z",), "G=L"),
        ("74LS596", "QB QC QD QE QF QG QH GND QHP SRCLR SRCK RCK G SER QA VCC",
         "RCK | m n o p q r s t\n^ | a b c d e f g h",
         tuple(f"G {bit} | {pin}\nH X | Z\nL L | L\nL H | Z" for bit, pin in zip("mnopqrst", OUT8.split(), strict=True)), "G=L"),
    ))


def flip_flops(part: str, pins: str, count: int, columns: str, rows: str, shows: str = "", rest: str = "") -> Book:
    """One table for each of several alike; # is its number."""
    return Book(part, pins, tuple(f"{columns} | {k}Q\n{rows}".replace("#", str(k)) for k in range(1, count + 1)),
                tuple(shows.replace("#", str(k)) for k in range(1, count + 1)) if shows else (), rest=rest, steps=600)


HOLDS = "H ^ | =\nL ^ | #D"
OCTAL = "{} 1Q 1D 2D 2Q 3Q 3D 4D 4Q GND CLK 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC"
SELECT = "WS CLK | Q{0}\nL {1} | {0}1\nH {1} | {0}2"
PLAIN = (
    flip_flops("74273", OCTAL.format("CLR"), 8, "CLR CLK", "L X | L\nH ^ | #D", rest="CLR=H"),
    flip_flops("74LS377", OCTAL.format("G"), 8, "G CLK", HOLDS),
    flip_flops("74LS378", "G 1Q 1D 2D 2Q 3D 3Q GND CLK 4Q 4D 5Q 5D 6D 6Q VCC", 6, "G CLK", HOLDS),
    flip_flops("74LS379", "G 1Q 1QN 1D 2D 2QN 2Q GND CLK 3Q 3QN 3D 4D 4QN 4Q VCC", 4, "G CLK", HOLDS, "CLK | #QN\nX | !#Q"),
    Book("74173", "M N 1Q 2Q 3Q 4Q CLK GND G1 G2 4D 3D 2D 1D CLR VCC",
         ("CLR G1 G2 CLK | a b c d\nH X X X | L L L L\nL H X ^ | =\nL X H ^ | =\nL L L ^ | 1D 2D 3D 4D",),
         ("M N | 1Q 2Q 3Q 4Q\nL L | a b c d\nX X | Z",), rest="CLR=L"),
    Book("74298", "B2 A2 A1 B1 C2 D2 D1 GND C1 WS CLK QD QC QB QA VCC", tuple(SELECT.format(k, "v") for k in "ABCD")),
    Book("74LS399", "WS QA A1 A2 B2 B1 QB GND CLK QC C1 C2 D2 D1 QD VCC", tuple(SELECT.format(k, "^") for k in "ABCD")),
    Book("74LS398", "WS QA QAN A1 A2 B2 B1 QBN QB GND CLK QC QCN C1 C2 D2 D1 QDN QD VCC", tuple(SELECT.format(k, "^") for k in "ABCD"),
         ("CLK | QAN QBN QCN QDN\nX | !QA !QB !QC !QD",)),
)

# Register files: word w, bit k; written while GW is low, read while GR is low.
WORDS = ("L L", "L H", "H L", "H H")


def file(part: str, *shows: str) -> Book:
    words = tuple(f"GW WB WA | a{w} b{w} c{w} d{w}\nL {WORDS[w]} | D1 D2 D3 D4" for w in range(4))
    return Book(part, "D2 D3 D4 RB RA Q4 Q3 GND Q2 Q1 GR GW WB WA D1 VCC", words, shows, rest="GW=H GR=L",
                lead="GW=L, WA=H, WB=H, WA=L, WB=L, GW=H", steps=2000)


FILES = (
    file("74LS670", "GR RB RA | Q1 Q2 Q3 Q4\nH X X | Z\n" + "\n".join(
        f"L {WORDS[w]} | a{w} b{w} c{w} d{w}" for w in range(4))),
    file("74170", *("\n".join([f"GR RB RA {bit}0 {bit}1 {bit}2 {bit}3 | {pin}", "H X X X X X X | Z", *(
        f"L {WORDS[w]} {' '.join('X' * w)} {level} {' '.join('X' * (3 - w))} | {then}" for w in range(4)
        for level, then in ("LL", "HZ"))]) for bit, pin in (("a", "Q1"), ("b", "Q2"), ("c", "Q3"), ("d", "Q4")))),
)

BOOKS = (*SERIAL, *UNIVERSAL, *BUS, *STORED, *PLAIN, *FILES)
