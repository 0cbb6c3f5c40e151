"""Which pin each signal of the published logic models is on, by the data books' pinouts (from memory, compared with the
symbol libraries by test_library_pinouts.py through our own part files).

SPDX-License-Identifier: GPL-3.0-or-later
"""

# digsim-logic-simulator 1.8.0: netlist -> port -> pins, bit 0 first.
DIGSIM = {
    "74138": {"A": (1, 2, 3), "G1": (6,), "G2A_bar": (4,), "G2B_bar": (5,), "Y_bar": (15, 14, 13, 12, 11, 10, 9, 7)},
    "74151": {"D": (4, 3, 2, 1, 15, 14, 13, 12), "A": (11, 10, 9), "Strobe_bar": (7,), "Y": (5,), "W": (6,)},
    "74162": {"Clear_bar": (1,), "Load_bar": (9,), "ENT": (10,), "ENP": (7,), "D": (3, 4, 5, 6), "Clk": (2,), "RCO": (15,),
              "Q": (14, 13, 12, 11)},
    "74181": {"A": (2, 23, 21, 19), "B": (1, 22, 20, 18), "S": (6, 5, 4, 3), "M": (8,), "Cn": (7,), "F": (9, 10, 11, 13),
              "AeqB": (14,), "G_bar": (17,), "P_bar": (15,), "Cn4": (16,)},
    "74182": {"Cn": (13,), "G_bar": (3, 1, 14, 5), "P_bar": (4, 2, 15, 6), "Cnx": (12,), "Cny": (11,), "Cnz": (9,),
              "G_out_bar": (10,), "P_out_bar": (7,)},
    "74193": {"Up": (5,), "Down": (4,), "Clear": (14,), "Load_bar": (11,), "D": (15, 1, 10, 9), "Q": (3, 2, 6, 7),
              "Carry_bar": (12,), "Borrow_bar": (13,)},
    "74194": {"Clk": (11,), "Clear_bar": (1,), "S0": (9,), "S1": (10,), "DSR": (2,), "DSL": (7,), "D": (3, 4, 5, 6),
              "Q": (15, 14, 13, 12)},
    "74283": {"A": (5, 3, 14, 12), "B": (6, 2, 15, 11), "C0": (7,), "S": (4, 1, 13, 10), "C4": (9,)},
    "7448": {"bcd": (7, 1, 2, 6), "lt": (3,), "a": (13,), "b": (12,), "c": (11,), "d": (10,), "e": (9,), "f": (15,), "g": (14,)},
    "74595": {"SER": (14,), "SRCLK": (11,), "SRCLR_bar": (10,), "RCLK": (12,), "OE_bar": (13,), "Q": (15, 1, 2, 3, 4, 5, 6, 7),
              "QH_serial": (9,)},
    "4017": {"Clock": (14,), "Clock_inhibit": (13,), "Reset": (15,), "Q": (3, 2, 4, 7, 10, 1, 5, 6, 9, 11), "Carry_out": (12,)},
    "4511": {"D": (7, 1, 2, 6), "LE": (5,), "BI_bar": (4,), "LT_bar": (3,), "a": (13,), "b": (12,), "c": (11,), "d": (10,),
             "e": (9,), "f": (15,), "g": (14,)},
    "7485": {"A": (10, 12, 13, 15), "B": (9, 11, 14, 1), "I_AgtB": (4,), "I_AeqB": (3,), "I_AltB": (2,), "O_AgtB": (5,),
             "O_AeqB": (6,), "O_AltB": (7,)},
}

QUAD = "A1=1 B1=2 Y1=3 A2=4 B2=5 Y2=6 A3=9 B3=10 Y3=8 A4=12 B4=13 Y4=11"
QUAD_NOR = "Y1=1 A1=2 B1=3 Y2=4 A2=5 B2=6 Y3=10 A3=8 B3=9 Y4=13 A4=11 B4=12"
HEX = "A1=1 Y1=2 A2=3 Y2=4 A3=5 Y3=6 A4=9 Y4=8 A5=11 Y5=10 A6=13 Y6=12"
TRIPLE = "A1=1 B1=2 C1=13 Y1=12 A2=3 B2=4 C2=5 Y2=6 A3=9 B3=10 C3=11 Y3=8"
DUAL = "A1=1 B1=2 C1=4 D1=5 Y1=6 A2=9 B2=10 C2=12 D2=13 Y2=8"
SEGMENTS = "a={} b={} c={} d={} e={} f={} g={}"

# tkgate-data 2.1: (file, module) -> its signals and their pins.  Only models of parts without memory: see TKGATE_UNFIT.
TKGATE = {
    **{("74xx.v", f"H74{n}"): QUAD for n in ("00", "08", "32", "86")}, ("74xx.v", "H7402"): QUAD_NOR,
    **{("74xx.v", f"H74{n}"): TRIPLE for n in ("10", "11", "27")}, **{("74xx.v", f"H74{n}"): DUAL for n in ("20", "21")},
    ("74xx.v", "H7430"): "A=1 B=2 C=3 D=4 E=5 F=6 G=11 H=12 Y=8",
    ("74xx.v", "H7442"): "A0=15 A1=14 A2=13 A3=12 _Y0=1 _Y1=2 _Y2=3 _Y3=4 _Y4=5 _Y5=6 _Y6=7 _Y7=9 _Y8=10 _Y9=11",
    ("74xx.v", "H7447"): "A=7 B=1 C=2 D=6 LT=3 RBI=5 BI_RBO=4 " + SEGMENTS.format(13, 12, 11, 10, 9, 15, 14),
    ("74xx.v", "H74154"): "A=23 B=22 C=21 D=20 _G1=18 _G2=19 " + " ".join(
        f"_Y{k}={pin}" for k, pin in enumerate((*range(1, 12), *range(13, 18)), start=1)),
    ("74xx.v", "H74157"): "S=1 _G=15 A1=2 B1=3 Y1=4 A2=5 B2=6 Y2=7 A3=11 B3=10 Y3=9 A4=14 B4=13 Y4=12",
    ("74xx.v", "H74181"): "_A0=2 _A1=23 _A2=21 _A3=19 _B0=1 _B1=22 _B2=20 _B3=18 S0=6 S1=5 S2=4 S3=3 Cn=7 M=8 "
                          "_F0=9 _F1=10 _F2=11 _F3=13 AEB=14 CnP4=16 _G=17 _P=15",
    ("74xx.v", "H74182"): "_G0=3 _G1=1 _G2=14 _G3=5 _P0=4 _P1=2 _P2=15 _P3=6 Cn=13 CnPx=12 CnPy=11 CnPz=9 _G=10 _P=7",
    **{("74xxGateLevel.v", f"SN74{n}"): QUAD for n in ("00", "03", "08", "09")}, ("74xxGateLevel.v", "SN7402"): QUAD_NOR,
    ("74xxGateLevel.v", "SN7401"): "Y1=1 A1=2 B1=3 Y2=4 A2=5 B2=6 Y3=10 A3=8 B3=9 Y4=13 A4=11 B4=12",
    **{("74xxGateLevel.v", f"SN74{n}"): HEX for n in ("04", "05")},
    **{("74xxGateLevel.v", f"SN74{n}"): TRIPLE for n in ("10", "11", "12", "15")},
    **{("74xxGateLevel.v", f"SN74{n}"): DUAL for n in ("20", "21", "22")},
    ("74xxGateLevel.v", "SN7449"): "A=5 B=1 C=2 D=4 _BI=3 " + SEGMENTS.format(11, 10, 9, 8, 6, 13, 12),
}
