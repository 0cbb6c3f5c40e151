"""More function tables: open-collector gates, decoders, counters, registers, CMOS.

Rows are written from memory of the makers' data books.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest

from virtual_fixture.chips.behaviour import PARTS

from . import test_chips_logic, test_chips_monostables
from .function_tables import Driver, check

# Two inputs 00 01 10 11 -> output, for gate 1 and for the last gate.
TWO_INPUT = {"01": "HHHL", "09": "LLLH", "26": "HHHL", "28": "HLLL", "33": "HLLL", "37": "HHHL",
             "38": "HHHL", "132": "HHHL", "136": "LHHL", "266": "HLLH", "4001": "HLLL",
             "4070": "LHHL", "4071": "LHHH", "4077": "HLLH", "4081": "LLLH", "4093": "HHHL"}
# All inputs high / all but the last high / all low -> output.
MANY_INPUT = {"12": "LHH", "13": "LHH", "15": "HLL", "22": "LHH", "40": "LHH", "133": "LHH",
              "4002": "LLH", "4012": "LHH", "4023": "LHH", "4025": "LLH", "4072": "HHL",
              "4073": "HLL", "4075": "HHL", "4082": "HLL"}
ONE_INPUT = {"05": "HL", "06": "HL", "07": "LH", "4049": "HL", "4050": "LH", "4069": "HL"}


@pytest.mark.parametrize("number", TWO_INPUT)
def test_two_inputs(number: str) -> None:
    driver = Driver(number)
    for k in "14":
        got = [driver.apply({f"{k}A": a, f"{k}B": b})[f"{k}Y"] for a in (0, 1) for b in (0, 1)]
        assert "".join("LH"[x] for x in got) == TWO_INPUT[number]


@pytest.mark.parametrize("number", MANY_INPUT)
def test_many_inputs(number: str) -> None:
    driver = Driver(number)
    for ins, out in PARTS[number]._rows:  # type: ignore[attr-defined]
        got = [driver.apply(dict.fromkeys(ins, 1))[out], driver.apply({ins[-1]: 0})[out],
               driver.apply(dict.fromkeys(ins, 0))[out]]
        assert "".join("LH"[x] for x in got) == MANY_INPUT[number]


@pytest.mark.parametrize("number", ONE_INPUT)
def test_one_input(number: str) -> None:
    driver = Driver(number)
    for k in "123456":
        got = [driver.apply({f"{k}A": level})[f"{k}Y"] for level in (0, 1)]
        assert "".join("LH"[x] for x in got) == ONE_INPUT[number]


JK_ROWS = """{c}1J=L 1K=L 1CLK=v : 1Q== 1Q/==
{c}1J=H 1K=L 1CLK=v : 1Q=H 1Q/=L
{c}1J=L 1K=H 1CLK=v : 1Q=L 1Q/=H
{c}1J=H 1K=H 1CLK=v : 1Q=~ 1Q/=~
{c}1J=H 1K=H 1CLK=^ : 1Q=="""
CLEARED = "\n1CLR/=L 1J=X 1K=X 1CLK=X{p} : 1Q=L 1Q/=H"
PRESET = "\n1PRE/=L 1J=X 1K=X 1CLK=X{c} : 1Q=H 1Q/=L"
SELECT = "G/=L S=L 1A={a} 1B={b} : 1Y={x}\nG/=L S=H 4A={b} 4B={a} : 4Y={x}\n"
TABLES = {
    "42": "A=H B=H C=L D=L : Y3=L Y0=H Y9=H\nA=H B=L C=L D=H : Y9=L Y1=H\n"
          "A=L B=H C=L D=H : Y0=H Y1=H Y2=H Y3=H Y4=H Y5=H Y6=H Y7=H Y8=H Y9=H",
    "145": "A=L B=L C=L D=L : Y0=L Y1=H\nA=H B=H C=H D=H : Y0=H Y7=H Y9=H",
    "147": "I1=H I2=H I3=H I4=H I5=H I6=H I7=H I8=H I9=H : D=H C=H B=H A=H\n"
           "I1=X I2=X I3=X I4=X I5=X I6=X I7=X I8=X I9=L : D=L C=H B=H A=L\n"
           "I5=L I6=H I7=H I8=H I9=H I1=X : D=H C=L B=H A=L",
    "148": "EI=H I0=X I7=X : A2=H A1=H A0=H GS=H EO=H\n"
           "EI=L I0=H I1=H I2=H I3=H I4=H I5=H I6=H I7=H : A2=H A1=H A0=H GS=H EO=L\n"
           "EI=L I7=L I0=X I6=X : A2=L A1=L A0=L GS=L EO=H\n"
           "EI=L I5=L I6=H I7=H I1=X : A2=L A1=H A0=L GS=L EO=H\n"
           "EI=L I0=L I1=H I2=H I3=H I4=H I5=H I6=H I7=H : A2=H A1=H A0=H GS=L EO=H",
    "151": "G/=H A=X B=X C=X D0=X : Y=L W=H\nG/=L C=L B=L A=L D0=H D1=L : Y=H W=L\n"
           "G/=L C=H B=L A=H D5=L D4=H D7=H : Y=L W=H\nG/=L C=H B=H A=H D7=H D3=L : Y=H W=L",
    "251": "G/=H A=X B=X C=X D0=X : Y=Z W=Z\nG/=L C=L B=H A=L D2=H D1=L : Y=H W=L",
    "154": "G1/=L G2/=L D=L C=L B=L A=L : Y0=L Y1=H\nG1/=L G2/=L D=H C=L B=H A=H : Y11=L Y13=H\n"
           "G1/=H G2/=X A=X D=X : Y0=H Y15=H Y9=H\nG1/=L G2/=H A=X D=X : Y0=H Y15=H Y8=H",
    "155": "1G/=L 1C=H B=L A=H : 1Y1=L 1Y0=H\n1G/=H 1C=X A=X B=X : 1Y0=H 1Y3=H\n"
           "1G/=L 1C=L A=X B=X : 1Y0=H 1Y3=H\n2G/=L 2C/=L B=H A=H : 2Y3=L 2Y0=H\n"
           "2G/=L 2C/=H A=X B=X : 2Y0=H 2Y3=H",
    "156": "1G/=L 1C=H B=H A=L : 1Y2=L 1Y0=H\n2G/=H 2C/=X A=X B=X : 2Y0=H 2Y3=H",
    "158": SELECT.format(a="H", b="L", x="L") + "G/=H S=X 1A=X 1B=X : 1Y=H",
    "257": SELECT.format(a="H", b="L", x="H") + "G/=H S=X 1A=X 1B=X : 1Y=Z",
    "258": SELECT.format(a="H", b="L", x="L") + "G/=H S=X 1A=X 1B=X : 1Y=Z",
    "253": "1G/=H A=X B=X 1C0=X : 1Y=Z\n1G/=L B=H A=L 1C2=H 1C0=L : 1Y=H",
    "85": "A3=H B3=L A2=X B2=X ILT=X IEQ=X IGT=X : OGT=H OLT=L OEQ=L\n"
          "A3=L B3=H A2=X B2=X ILT=X IEQ=X IGT=X : OGT=L OLT=H OEQ=L\n"
          "A3=H B3=H A0=L B0=H ILT=X IEQ=X IGT=X : OGT=L OLT=H OEQ=L\n"
          "A3=L B3=L IGT=H ILT=L IEQ=L : OGT=H OLT=L OEQ=L\nIGT=L ILT=H IEQ=L : OGT=L OLT=H OEQ=L\n"
          "IGT=X ILT=X IEQ=H : OGT=L OLT=L OEQ=H\nIGT=H ILT=H IEQ=L : OGT=L OLT=L OEQ=L\n"
          "IGT=L ILT=L IEQ=L : OGT=H OLT=H OEQ=L",
    "280": "A=L B=L C=L D=L E=L F=L G=L H=L I=L : EVEN=H ODD=L\nA=H I=L : EVEN=L ODD=H\n"
           "A=H B=H C=H D=H E=H F=H G=H H=H I=H : EVEN=L ODD=H\nG=H I=H : EVEN=H ODD=L",
    "688": "G/=H P0=X Q0=X : PEQ/=H\nG/=L P0=H Q0=H P7=L Q7=L : PEQ/=L\nG/=L P7=H Q7=L : PEQ/=H",
    "73": JK_ROWS.format(c="1CLR/=H ") + CLEARED.format(p=""),
    "76": JK_ROWS.format(c="1CLR/=H 1PRE/=H ") + CLEARED.format(p=" 1PRE/=H")
          + PRESET.format(c=" 1CLR/=H"),
    "107": JK_ROWS.format(c="1CLR/=H ") + CLEARED.format(p=""),
    "113": JK_ROWS.format(c="1PRE/=H ") + PRESET.format(c=""),
    "75": "C12=H 1D=H 2D=L : 1Q=H 1Q/=L 2Q=L\nC34=H 4D=L : 4Q=L 4Q/=H",
    "375": "C12=H 1D=H 2D=L : 1Q=H 1Q/=L 2Q=L\nC34=H 4D=L : 4Q=L 4Q/=H",
    "259": "CLR/=L G/=H S0=X S1=X S2=X D=X : Q0=L Q3=L Q7=L\n"
           "CLR/=L G/=L S2=H S1=L S0=H D=H : Q5=H Q0=L Q7=L\n"
           "CLR/=H G/=L S2=L S1=H S0=H D=H : Q3=H\nCLR/=H G/=L S2=L S1=H S0=H D=L : Q3=L",
    "273": "CLR/=L CLK=X 1D=X : 1Q=L 8Q=L\nCLR/=H CLK=^ 1D=H 8D=L : 1Q=H 8Q=L\n"
           "CLR/=H CLK=v 1D=X : 1Q==",
    "377": "EN/=H CLK=^ 1D=X : 1Q== 8Q==\nEN/=L CLK=^ 1D=H 8D=L : 1Q=H 8Q=L\nEN/=X CLK=v 1D=X : 1Q==",
    "378": "EN/=H CLK=^ 1D=X : 1Q==\nEN/=L CLK=^ 1D=H 6D=L : 1Q=H 6Q=L",
    "279": "1S1/=L 1S2/=H 1R/=H : 1Q=H\n1S1/=H 1S2/=L 1R/=H : 1Q=H\n1S1/=H 1S2/=H 1R/=L : 1Q=L\n"
           "2S/=L 2R/=L : 2Q=H\n4S/=L 4R/=H : 4Q=H",
    "573": "OC/=L C=H 1D=H 8D=L : 1Q=H 8Q=L\nOC/=H C=X 1D=X : 1Q=Z",
    "574": "OC/=L CLK=^ 1D=H 8D=L : 1Q=H 8Q=L\nOC/=L CLK=v 1D=X : 1Q==\nOC/=H CLK=X 1D=X : 1Q=Z",
    "173": "CLR=H M=L N=L CLK=X 1D=X : 1Q=L 4Q=L\nCLR=L M=L N=L G1/=H G2/=X CLK=^ 1D=X : 1Q==\n"
           "CLR=L M=L N=L G1/=L G2/=L CLK=^ 1D=H 4D=L : 1Q=H 4Q=L\nM=H N=X CLK=X 1D=X : 1Q=Z\n"
           "M=L N=H CLK=X : 4Q=Z",
    "95": "MODE=H CLK2=v A=H B=L C=H D=L CLK1=X : QA=H QB=L QC=H QD=L\n"
          "MODE=L CLK1=v SER=H CLK2=X : QA=H\nMODE=L CLK1=v SER=L CLK2=X : QA=L\n"
          "MODE=L CLK2=v SER=X : QA==\nMODE=H CLK1=v : QA==",
    "165": "SH/LD=L H=H CLK=X CLKINH=X : QH=H QH/=L\nSH/LD=L H=L CLK=X CLKINH=X : QH=L QH/=H\n"
           "SH/LD=H CLK=^ CLKINH=H : QH==",
    "166": "CLR/=L CLK=X : QH=L\nCLR/=H SH/LD=L CLK=^ CLKINH=L H=H : QH=H\n"
           "CLR/=H SH/LD=X CLK=^ CLKINH=H H=X : QH==",
    "194": "CLR/=L CLK=X S0=X S1=X : QA=L QD=L\nCLR/=H CLK=^ S1=H S0=H A=H B=L D=H : QA=H QB=L QD=H\n"
           "CLR/=H CLK=^ S1=L S0=H SR=H SL=X : QA=H\nCLR/=H CLK=^ S1=H S0=L SL=L SR=X : QD=L\n"
           "CLR/=H CLK=^ S1=L S0=L A=X : QA== QD==",
    "195": "CLR/=L CLK=X : QA=L QD=L QD/=H\nCLR/=H SH/LD=L CLK=^ A=H D=L : QA=H QD=L QD/=H\n"
           "CLR/=H SH/LD=H CLK=^ J=L K/=H : QA==\nCLR/=H SH/LD=H CLK=^ J=L K/=L : QA=L\n"
           "CLR/=H SH/LD=H CLK=^ J=H K/=H : QA=H\nCLR/=H SH/LD=H CLK=^ J=H K/=L : QA=~",
    "126": "1C=H 1A=H : 1Y=H\n1C=H 1A=L : 1Y=L\n4C=L 4A=X : 4Y=Z",
    "241": "1G/=L 1A1=H : 1Y1=H\n1G/=H 1A1=X : 1Y1=Z\n2G=H 2A1=L : 2Y1=L\n2G=L 2A1=X : 2Y1=Z",
    "365": "G1/=L G2/=L 1A=H 6A=L : 1Y=H 6Y=L\nG1/=H G2/=X 1A=X : 1Y=Z\nG1/=X G2/=H : 6Y=Z",
    "366": "G1/=L G2/=L 1A=H 6A=L : 1Y=L 6Y=H\nG1/=H G2/=X 1A=X : 1Y=Z",
    "367": "1G/=L 1A1=H 1A4=L : 1Y1=H 1Y4=L\n2G/=L 2A1=H : 2Y1=H\n1G/=H 1A1=X : 1Y1=Z 1Y4=Z\n"
           "2G/=H : 2Y1=Z 2Y2=Z",
    "368": "1G/=L 1A1=H : 1Y1=L\n2G/=L 2A2=L : 2Y2=H\n2G/=H 2A1=X : 2Y1=Z",
    "540": "G1/=L G2/=L A1=H A8=L : Y1=L Y8=H\nG1/=H G2/=X A1=X : Y1=Z\nG1/=X G2/=H : Y8=Z",
    "541": "G1/=L G2/=L A1=H A8=L : Y1=H Y8=L\nG1/=X G2/=H : Y8=Z",
    "4013": "1S=H 1R=L 1CLK=X 1D=X : 1Q=H 1Q/=L\n1S=L 1R=H 1CLK=X 1D=X : 1Q=L 1Q/=H\n"
            "1S=H 1R=H 1CLK=X : 1Q=H 1Q/=H\n1S=L 1R=L 1CLK=^ 1D=H : 1Q=H\n"
            "1S=L 1R=L 1CLK=v 1D=X : 1Q==",
    "4027": "1S=L 1R=L 1CLK=^ 1J=H 1K=H : 1Q=~\n1S=L 1R=L 1CLK=^ 1J=H 1K=L : 1Q=H 1Q/=L\n"
            "1S=L 1R=L 1CLK=v 1J=X 1K=X : 1Q==\n2S=H 2R=L 2CLK=X : 2Q=H\n2S=L 2R=H 2CLK=X : 2Q=L",
}


@pytest.mark.parametrize("number", TABLES)
def test_function_table(number: str) -> None:
    check(number, TABLES[number])


def count_of(out: dict[str, int], names: str, prefix: str = "Q") -> int:
    return sum(out[f"{prefix}{n}"] << k for k, n in enumerate(names))


def clock(driver: Driver, name: str, edge: str) -> dict[str, int]:
    """One full pulse; the outputs after it."""
    levels = (1, 0) if edge == "v" else (0, 1)
    driver.apply({name: levels[0]})
    return driver.apply({name: levels[1]})


@pytest.mark.parametrize(("number", "modulus"), [("160", 10), ("162", 10), ("163", 16)])
def test_synchronous_counters(number: str, modulus: int) -> None:
    driver = Driver(number)
    driver.apply({"CLR/": 1, "LOAD/": 0, "ENP": 1, "ENT": 1, "A": 1, "B": 0, "C": 0, "D": 0})
    assert count_of(clock(driver, "CLK", "^"), "ABCD") == 1
    driver.apply({"LOAD/": 1})
    for k in range(2, 25):
        out = clock(driver, "CLK", "^")
        assert count_of(out, "ABCD") == k % modulus
        assert out["RCO"] == (k % modulus == modulus - 1)
    driver.apply({"CLK": 0})
    cleared = count_of(driver.apply({"CLR/": 0}), "ABCD")
    assert (cleared == 0) == (number == "160")       # the others wait for the clock
    assert count_of(clock(driver, "CLK", "^"), "ABCD") == 0


@pytest.mark.parametrize(("number", "modulus"), [("190", 10), ("191", 16)])
def test_up_down_counters(number: str, modulus: int) -> None:
    driver = Driver(number)
    driver.apply({"LOAD/": 0, "CTEN/": 0, "CLK": 1})
    driver.apply({"LOAD/": 1})
    for k in range(1, 20):
        out = clock(driver, "CLK", "^")
        assert count_of(out, "ABCD") == k % modulus
        assert out["MAXMIN"] == (k % modulus == modulus - 1)
    driver.apply({"LOAD/": 0, "D/U": 1})
    assert driver.apply({"LOAD/": 1})["MAXMIN"] == 1
    assert driver.apply({"CLK": 0})["RCO/"] == 0
    assert count_of(driver.apply({"CLK": 1}), "ABCD") == modulus - 1
    assert count_of(driver.apply({"CTEN/": 1}), "ABCD") == modulus - 1
    assert count_of(clock(driver, "CLK", "^"), "ABCD") == modulus - 1


@pytest.mark.parametrize(("number", "modulus"), [("192", 10), ("193", 16)])
def test_two_clock_counters(number: str, modulus: int) -> None:
    driver = Driver(number)
    driver.apply({"UP": 1, "DOWN": 1, "LOAD/": 1, "CLR": 1})
    driver.apply({"CLR": 0})
    for k in range(1, 20):
        low = driver.apply({"UP": 0})
        assert low["CO/"] == ((k - 1) % modulus != modulus - 1)
        assert count_of(driver.apply({"UP": 1}), "ABCD") == k % modulus
    driver.apply({"CLR": 1})
    driver.apply({"CLR": 0})
    assert driver.apply({"DOWN": 0})["BO/"] == 0
    assert count_of(driver.apply({"DOWN": 1}), "ABCD") == modulus - 1


# Count sequences with QA wired to CKB (data book): 90 BCD, 92 by its table, 93 binary.
RIPPLE = {"90": list(range(10)), "290": list(range(10)), "93": list(range(16)),
          "293": list(range(16)), "92": [0, 1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13]}


@pytest.mark.parametrize("number", RIPPLE)
def test_ripple_counters(number: str) -> None:
    driver, sequence = Driver(number), RIPPLE[number]
    driver.apply({"CKA": 1, "R01": 1, "R02": 1})
    driver.apply({"R01": 0})
    for k in range(1, 2 * len(sequence)):
        driver.apply({"CKA": 1})
        out = dict(driver.apply({"CKA": 0}))
        out = driver.apply({"CKB": out["QA"]})
        assert count_of(out, "ABCD") == sequence[k % len(sequence)]
    if number in ("90", "290"):
        assert count_of(driver.apply({"R91": 1, "R92": 1}), "ABCD") == 9


def test_dual_counters() -> None:
    driver = Driver("393")
    driver.apply({"1CLR": 1, "2CLR": 1})
    driver.apply({"1CLR": 0, "2CLR": 0})
    for k in range(1, 20):
        assert count_of(clock(driver, "1A", "v"), "ABCD", "1Q") == k % 16
    assert count_of(driver.out, "ABCD", "2Q") == 0
    driver = Driver("390")
    driver.apply({"1CLR": 1})
    driver.apply({"1CLR": 0})
    for k in range(1, 20):
        out = dict(clock(driver, "1CKA", "v"))
        assert count_of(driver.apply({"1CKB": out["1QA"]}), "ABCD", "1Q") == k % 10


def test_cmos_counters() -> None:
    driver = Driver("4017")
    driver.apply({"RST": 1})
    driver.apply({"RST": 0})
    for k in range(1, 23):
        out = clock(driver, "CLK", "^")
        assert [n for n in range(10) if out[f"Q{n}"]] == [k % 10]
        assert out["CO"] == (k % 10 < 5)
        driver.apply({"CLK": 0})
    driver.apply({"INH": 1})
    assert clock(driver, "CLK", "^") == out
    for number, stages in (("4024", 7), ("4040", 12)):
        driver = Driver(number)
        driver.apply({"RST": 1})
        driver.apply({"RST": 0})
        for k in range(1, 300):
            out = clock(driver, "CLK", "v")
            assert sum(out[f"Q{n + 1}"] << n for n in range(stages)) == k % (1 << stages)


@pytest.mark.parametrize("number", ["83", "283"])
def test_adder(number: str) -> None:
    driver = Driver(number)
    for a in range(16):
        for b in range(16):
            for carry in (0, 1):
                out = driver.apply({f"A{k + 1}": a >> k & 1 for k in range(4)}
                                   | {f"B{k + 1}": b >> k & 1 for k in range(4)} | {"C0": carry})
                assert count_of(out, "1234", "S") + 16 * out["C4"] == a + b + carry


def test_shift_registers_shift() -> None:
    driver = Driver("165")
    driver.apply({n: int(n in "ACFG") for n in "ABCDEFGH"} | {"SH/LD": 0})
    driver.apply({"SH/LD": 1})
    got = [driver.out["QH"]] + [clock(driver, "CLK", "^")["QH"] for _ in range(7)]
    assert got == [int(n in "ACFG") for n in "HGFEDCBA"]
    driver = Driver("166")
    driver.apply({n: int(n in "BDH") for n in "ABCDEFGH"} | {"SH/LD": 0, "CLR/": 1})
    first = clock(driver, "CLK", "^")["QH"]
    driver.apply({"SH/LD": 1})
    got = [first] + [clock(driver, "CLK", "^")["QH"] for _ in range(7)]
    assert got == [int(n in "BDH") for n in "HGFEDCBA"]


def test_every_part_has_a_test_of_its_logic() -> None:
    tested = {*TWO_INPUT, *MANY_INPUT, *ONE_INPUT, *TABLES, *RIPPLE, *test_chips_logic.GATES,
              *test_chips_logic.TABLES, *test_chips_monostables.ROWS, "160", "162", "163", "190", "191", "192", "193", "393",
              "390", "4017", "4024", "4040", "83", "283", "181"}
    assert tested == {key for key in PARTS if not PARTS[key].families}     # the others: tests/system/test_two_hands.py
