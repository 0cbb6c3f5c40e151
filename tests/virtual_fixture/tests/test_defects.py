"""Broken parts of the fixture: each one does to the voltages what Ohm and Kirchhoff say, and nothing is broken silently.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import math

import pytest

from hardware.wiring import load
from virtual_fixture.bench import Bench, PlainChip
from virtual_fixture.defects import DefectError
from virtual_fixture.specimen import build

from .hands import WIRING, Hands, driver


def hands_with(*defects: str, chip: PlainChip | None = None) -> Hands:
    return Hands(chip, defects=defects)


def parallel(*ohms: float) -> float:
    return 1 / sum(1 / ohm for ohm in ohms)


# ---------------------------------------------------------------- resistors, capacitors, reference

def test_a_wrong_resistor_is_a_wrong_divider() -> None:
    hands = hands_with("R105=1500", chip=PlainChip().resistor(5, 0, 1500))
    hands.high("S5")
    assert hands.volts(5) == pytest.approx(hands.volts("V5") * 1500 / (3000 + driver(hands.bench, "S5", "high")), abs=1e-4)
    assert hands.bench.drawn["R105.ohm"] == 1500


def test_an_open_resistor_carries_nothing() -> None:
    hands = hands_with("R205=open", chip=PlainChip().resistor(5, 0, 1e4))
    hands.high("M5")
    assert hands.volts(5) == pytest.approx(0, abs=1e-3)
    hands.high("S5")
    assert hands.volts(5) > 4.5


def test_a_shorted_resistor_is_the_driver_alone() -> None:
    hands = hands_with("R105=short", chip=PlainChip().resistor(5, 0, 1000))
    hands.high("S5")
    assert hands.volts(5) == pytest.approx(hands.volts("V5") * 1000 / (1000 + driver(hands.bench, "S5", "high")), abs=1e-3)


@pytest.mark.parametrize(("text", "low", "high"), [("U9=2.40", 2.38, 2.42), ("U9=open", 4.5, 5.2), ("U9=short", 0, 0.05),
                                                   ("R318=open", 0, 0.1)])
def test_the_reference(text: str, low: float, high: float) -> None:
    hands = hands_with(text)
    hands.bench.run(0.01)
    assert low <= hands.volts("VREF") <= high


@pytest.mark.parametrize(("text", "tau"), [("C302=open", 10e3 * 100e-9), ("C301=open", 20e3 * 100e-9)])
def test_the_level_filter_with_a_capacitor_off_is_one_rc(text: str, tau: float) -> None:
    hands = hands_with(text)
    hands.bench.duty(0.5)
    end = 0.5 * hands.volts("V5") * (1 - math.exp(-1))
    start = hands.bench.now_s
    assert hands.bench.run_until(lambda: hands.bench.pin_v("PF2") > end, 0.2, 1e-5)
    assert hands.bench.now_s - start == pytest.approx(tau, rel=0.03)


# ---------------------------------------------------------------- multiplexers and registers

def test_a_dead_channel_ties_its_own_position_only() -> None:
    hands = hands_with("U2.3=open")                       # input 3 of U2 is position 12
    assert load().part("U2")["channels"][3] == "Z12"
    for k in (11, 12):
        hands.high(f"M{k}")
    hands.low("M12", "LD")
    hands.sense(12, 1)
    for k, open_ in ((12, True), (11, False)):
        hands.high(f"M{k}")
        hands.sense(k, 1)                                 # weak load to LD, low
        hands.bench.run(1e-3)
        assert (hands.volts("K") < 0.1) == open_


def test_a_worn_channel_drops_volts() -> None:
    hands = hands_with("U2.3=900")
    hands.high("M12")
    hands.low("LD")
    hands.sense(12, 5)                                    # heavy load, 220 ohm
    through = hands.volts(12) - hands.volts("K")
    current = hands.volts("K") / (220 + 27 + 70 * 1.1)
    assert through / current == pytest.approx(900, rel=0.16)      # up to 15 % more at half the supply


def test_a_dead_multiplexer() -> None:
    hands = hands_with("U1=dead")
    hands.low("LD")
    for k, open_ in ((1, True), (8, True), (9, False)):
        hands.high(f"M{k}")
        hands.sense(k, 1)
        hands.bench.run(1e-3)
        assert (hands.volts("K") < 0.1) == open_


def test_register_outputs() -> None:
    n7 = next(p for p in WIRING["part"] if p["ref"] == "U6")["outputs"].index("N7")
    hands = hands_with(f"U6.{n7}=high")
    hands.pump(0.01)
    assert hands.bench.drive.ground[7] and not hands.bench.drive.ground[8]
    hands = hands_with(f"U6.{n7}=low")
    hands.power("N7", "N8")
    hands.pump(0.01)
    assert not hands.bench.drive.ground[7] and hands.bench.drive.ground[8]
    hands = hands_with("U7=dead")                         # low: every supply switch is on
    hands.pump(0.01)
    assert all(hands.bench.drive.supply[k] for k in WIRING["power"]["supply_positions"])


# ---------------------------------------------------------------- switches, amplifier, dead-man

def test_supply_switch_open_and_short() -> None:
    hands = hands_with("Q124=open", chip=PlainChip().resistor(24, 0, 470))
    hands.power("P24")
    hands.pump(0.01)
    assert hands.volts(24) < 0.01
    hands = hands_with("Q124=short", chip=PlainChip().resistor(24, 0, 470))
    hands.pump(0.01)
    assert hands.volts(24) > hands.volts("VBUS") - 0.02


def test_ground_switch_open_and_short() -> None:
    hands = hands_with("Q207=open")
    hands.high("M7")
    hands.power("N7")
    hands.pump(0.01)
    assert hands.volts(7) > 4.5
    hands = hands_with("Q207=short")
    hands.high("M7")
    assert hands.volts(7) < 0.02


def test_base_resistor_open() -> None:
    hands = hands_with("R424=open", "R467=open", chip=PlainChip().resistor(24, 0, 470))
    hands.power("P24", "N7")
    hands.high("M7")
    hands.pump(0.01)
    assert hands.volts(24) < 0.01 and hands.volts(7) > 4.5


@pytest.mark.parametrize(("text", "low", "high"), [("Q301=open", 0, 0.001), ("Q301=short", 4.5, 5.2), ("U8.A=dead", 0, 0.001),
                                                   ("R323=1200", 0.1, 0.7), ("R320=open", 0.0, 5.2)])
def test_current_amplifier(text: str, low: float, high: float) -> None:
    hands = hands_with(text, chip=PlainChip().resistor(24, 0, 470))
    hands.power("P24")
    hands.pump(0.01)
    hands.bench.disable_trip()
    assert low <= hands.bench.icc_v <= high


@pytest.mark.parametrize("text", ["C303=open", "D301=open", "D302=short", "Q302=open", "Q303=short", "R331=open", "D12=low"])
def test_dead_pump_never_enables(text: str) -> None:
    hands = hands_with(text)
    hands.power("P24")
    hands.pump(0.02)
    assert not hands.bench.enabled and not hands.bench.powered and hands.pin("OE_N")


def test_shorted_enable_never_lets_go() -> None:
    hands = hands_with("Q302=short")
    hands.power("P24")
    hands.bench.run(0.5)
    assert hands.bench.enabled and hands.bench.powered and not hands.pin("OE_N")


def test_discharge_resistor_open_holds_longer() -> None:
    def release(hands: Hands) -> float:
        hands.pump(0.02)
        start = hands.bench.now_s
        assert hands.bench.run_until(lambda: not hands.bench.enabled, 0.5, 1e-4)
        return hands.bench.now_s - start
    assert release(hands_with("R330=open")) > 1.05 * release(Hands())
    assert release(hands_with("C304=2200")) == pytest.approx(2.2 * release(Hands()), rel=0.1)


@pytest.mark.parametrize("text", ["Q303=open", "R333=open", "U8.C=dead"])
def test_trip_that_does_not(text: str) -> None:
    for broken in (False, True):
        hands = Hands(PlainChip().resistor(24, 0, 18), defects=[text] if broken else [])
        hands.power("P24")
        hands.pump(0.03)
        assert hands.bench.powered == broken


# ---------------------------------------------------------------- controller pins

def test_stuck_lines() -> None:
    hands = hands_with("D24=low", "D25=high")             # M23, S23
    assert {WIRING["controller"]["wires"][d]["net"] for d in ("D24", "D25")} == {"M23", "S23"}
    assert not hands.pin("M23") and hands.pin("S23")
    high, low = 270 + 27, 560 + 27
    assert hands.volts(23) == pytest.approx(hands.volts("V5") * low / (high + low), rel=0.01)
    hands.high("M23")                                     # has no effect
    assert not hands.pin("M23")


def test_torn_off_line_reads_neither_its_net_nor_drives_it() -> None:
    hands = hands_with("D22=open", chip=PlainChip().resistor(24, 0, 1e4))     # M24
    hands.high("M24")
    assert hands.volts(24) < 0.01
    hands.off("M24")
    was = hands.pin("M24")
    hands.high("S24")
    assert hands.volts(24) > 4.5 and hands.pin("M24") == was


def test_stuck_inhibit_never_lets_go() -> None:
    hands = hands_with("D46=low")                         # INH_A
    hands.high("M3")
    hands.sense(3)
    hands.high("INH_A")
    assert hands.bench.drive.tied[0]


def test_chain_that_does_not_answer() -> None:
    for text, byte in (("D50=low", 0), ("D50=high", 255), ("D52=low", None)):
        hands = hands_with(text)
        hands.chain = [0x5A, 0x33, 0xF0]
        hands.shift_out()
        back = hands.shift_out()
        assert back == [byte] * 3 if byte is not None else back != [0xF0, 0x33, 0x5A]


def test_converter_input_torn_off_keeps_what_it_had() -> None:
    hands = hands_with("A3=open")
    held = hands.read("VREF", n=4)
    assert max(held) < 5                                   # never charged
    assert Hands().read("VREF", n=4)[-1] > 480


# ---------------------------------------------------------------- bridges

def test_bridge_between_two_lines() -> None:
    """M24 drives, S23 (off) follows through 2 ohm, its own resistor and a load: a chain of resistors."""
    hands = hands_with("D22+D25=2", chip=PlainChip().resistor(23, 0, 1000))
    hands.high("M24")
    driven = hands.volts("V5") * 1270 / (1272 + driver(hands.bench, "M24", "high"))
    assert hands.volts(23) == pytest.approx(driven * 1000 / 1270, abs=2e-3)
    assert hands.volts(24) == pytest.approx(hands.volts("V5") * 1272 / (1272 + driver(hands.bench, "M24", "high")), abs=2e-3)
    assert hands.amps("M24") == pytest.approx(hands.volts(23) / 1000, rel=1e-3)
    assert hands.pin("S23")


def test_bridge_between_drivers_that_fight_is_a_violation() -> None:
    hands = hands_with("D22+D24=2")
    hands.high("M24")
    assert hands.bench.violations == []
    hands.low("M23")
    [first, second] = hands.bench.violations
    assert {first.what, second.what} == {"port pin current"}
    high, low = driver(hands.bench, "M24", "high"), driver(hands.bench, "M23", "low")
    assert abs(first.value) == pytest.approx(hands.volts("V5") / (high + low + 2), rel=0.01)


@pytest.mark.parametrize(("text", "nets"), [("Z5+Z6=10", "nodes"), ("D22+Z6=10", "line and node")])
def test_bridge_of_positions(text: str, nets: str) -> None:
    hands = hands_with(text, chip=PlainChip().resistor(6, 0, 470))
    source = "S5" if nets == "nodes" else "M24"
    hands.high(source)
    own = (270 + 10 if nets == "nodes" else 10) + driver(hands.bench, source, "high")
    # towards position 24 nothing flows
    assert hands.volts(6) == pytest.approx(hands.volts("V5") * 470 / (470 + own), abs=2e-3)


def test_bridge_to_ground_and_supply() -> None:
    hands = hands_with("Z5+GND=5", "Z6+V5=5")
    hands.high("M5")
    hands.low("M6")
    assert hands.volts(5) == pytest.approx(hands.volts("V5") * 5 / (565 + driver(hands.bench, "M5", "high")), rel=0.01)
    assert hands.volts(6) == pytest.approx(hands.volts("V5") * (1 - 5 / (565 + driver(hands.bench, "M6", "low"))), rel=0.01)


def test_bridge_at_the_load_line() -> None:
    hands = hands_with("D10+GND=1")                       # LD
    hands.high("M9")
    hands.sense(9, 5)
    load = 220 + 70 * 2 * 1.1
    assert hands.volts(9) == pytest.approx(hands.volts("V5") * load / (load + 560 + driver(hands.bench, "M9", "high")), rel=0.06)


# ---------------------------------------------------------------- any drawn value, and what is refused

def test_any_drawn_value_by_its_name() -> None:
    specimen, drawn = build(3, defects=["Q124.beta=20", "U8A.offset_v=-0.02"])
    assert specimen.supply_beta[24] == 20 and drawn["U8A.offset_v"] == specimen.icc_offset_v == -0.02


def test_a_defect_leaves_every_other_value_alone() -> None:
    sound, broken = build(3)[1], build(3, defects=["R105=open", "U2.3=900", "D24=low"])[1]
    assert {name for name in sound if sound[name] != broken[name]} == {"R105.ohm"}


@pytest.mark.parametrize(("text", "says"), [
    ("R105", "NAME=VALUE"), ("R105=purple", "ohms"), ("R105=-3", "ohms"), ("R999=open", "nothing of this fixture"),
    ("SW1=open", "cannot break"), ("D24=5", "low or high or open"), ("D0=low", "serial line"), ("D46+D47=2", "cannot be bridged"),
    ("D22+M24=2", "same net"), ("Z5+Z5=2", "same net"), ("U2.9=open", "U2.9"), ("Q124=half", "open or short"),
    ("U9=high", "volts"), ("=3", "NAME=VALUE"), ("D20=low", "D20")])
def test_what_cannot_be_broken_is_said(text: str, says: str) -> None:
    with pytest.raises(DefectError, match=says):
        build(1, defects=[text])


def test_two_bridges_at_one_line_are_said() -> None:
    with pytest.raises(DefectError, match="one bridge a line"):
        build(1, defects=["D22+D24=2", "D22+D25=2"])


def test_given_twice_is_said() -> None:
    with pytest.raises(DefectError, match="once"):
        build(1, defects=["R105=open", "R105=short"])


def test_broken_and_mended_while_it_runs() -> None:
    bench = Bench(None, 5, "pc")
    bench.resistors("5,6=100")
    bench.run(0.01)
    bench.break_("R105=open", "U9=2.4")
    bench.run(0.01)
    assert bench.node("VREF") == pytest.approx(2.4, abs=0.02) and bench.drawn["R105.ohm"] == 1e12
    bench.break_("U9=2.6")
    assert bench.defects == ["R105=open", "U9=2.6"]
    bench.mend("U9")
    assert bench.node("VREF") == pytest.approx(2.5, abs=0.02) and bench.drawn["R105.ohm"] == 1e12
    with pytest.raises(DefectError, match="R106 is not broken"):
        bench.mend("R106")
    bench.mend()
    assert bench.drawn == build(5)[1]


def test_an_external_resistor() -> None:
    hands = Hands()
    hands.bench.resistors("5,6=100", "9,24=1e4")
    hands.high("S5")
    hands.low("S6")
    current = hands.volts("V5") / (2 * 270 + 100 + driver(hands.bench, "S5", "high") + driver(hands.bench, "S6", "low"))
    assert hands.volts(5) - hands.volts(6) == pytest.approx(current * 100, rel=1e-3)
    hands.bench.insert(None)
    assert hands.volts(6) < 0.01


@pytest.mark.parametrize("text", ["5,6", "5,25=100", "0,5=100", "5,5=100", "5,6=-1", "5,6=open", "a,b=3"])
def test_a_resistor_that_cannot_be(text: str) -> None:
    with pytest.raises(DefectError, match="resistor"):
        Bench(None, 1, "none").resistors(text)


@pytest.mark.parametrize("defect", ["R318=open", "R424=open", "R467=open", "R405=open", "R320=open"])
def test_a_broken_fixture_has_a_solution(defect: str) -> None:
    """A chip that is fed through its inputs while a power switch has no base current."""
    hands = Hands({"part": "74HC00"}, 1, defects=[defect], nominal=False)
    for switches in (("P24", "N7"), ("P5", "N12"), ("P24", "N7")):
        hands.power(*switches)
        hands.pump(10e-3)
        for position in (1, 2, 4, 5, 13, 14):
            hands.high(f"M{position}", f"S{position}", "LD")
            hands.sense(position, position % 8)
            hands.pump(1e-3)
            hands.low(f"M{position}", "LD")
            hands.off(f"S{position}")
            hands.pump(1e-3)
    assert hands.bench.figures.solves > 100
    assert hands.bench.figures.unsolved == 0


def test_the_reference_is_what_was_drawn() -> None:
    """LM4040: its voltage is given at 1 mA; 2.2 k to 5 V is 1.14 mA, and its dynamic resistance 0.5 ohm."""
    hands = Hands()
    bias = (hands.volts("V5") - hands.volts("VREF")) / hands.bench.specimen.reference_bias_ohm
    wanted = hands.bench.specimen.reference_v + (bias - 1e-3) * hands.bench.specimen.reference_ohm
    assert hands.volts("VREF") == pytest.approx(wanted, abs=1e-4)
