"""Each rule of the watch catches what it is for, once an episode, and keeps quiet otherwise.

Limits: ATmega2560 data sheet, absolute maximum ratings and DC characteristics notes 3 and 4;
HC4051 data book, 25 mA through a switch; all as hardware/wiring.toml gives them.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from pathlib import Path

import pytest

from virtual_fixture.bench import PlainChip, Violation
from virtual_fixture.inproc import Fixture
from virtual_fixture.layout import Specimen

from .hands import PIN_OF, WIRING, Hands

GROUP_OF = {port: group["name"] for group in WIRING["port_group"] for port in group["ports"]}


def found(hands: Hands, what: str) -> list[Violation]:
    return [v for v in hands.bench.violations if v.what == what]


def grounded(*positions: int) -> PlainChip:
    chip = PlainChip()
    for k in positions:
        chip.resistor(k, 0, 1)
    return chip


def test_an_ordinary_session_is_clean() -> None:
    hands = Hands(PlainChip().inverter(1, 2, 24, 7, 60))
    hands.power("P24", "N7")
    hands.pump(0.01)
    for level in (hands.high, hands.low):
        level("M1")
        hands.sense(2, 5)
        hands.high("LD")
        hands.bench.run(0.002)
        hands.low("LD")
        hands.bench.run(0.002)
    assert hands.bench.violations == []


def test_pin_current() -> None:
    """No line can reach 40 mA through its own resistor, so a wrong resistor is put in."""
    def wrong(specimen: Specimen) -> None:
        specimen.medium_ohm[5] = 68.0
    hands = Hands(grounded(5), adjust=wrong)
    hands.high("M5")
    [violation] = found(hands, "port pin current")
    assert violation.where == PIN_OF["M5"]
    assert violation.value == pytest.approx(5.0 / (68 + 27 + 1), rel=0.01)
    assert str(violation) == (f"{violation.moment_s:.6f} s: port pin current, {PIN_OF['M5']} "
                              f"({violation.value * 1e3:.1f} mA)")
    hands.low("M5")
    hands.high("M5")
    assert len(found(hands, "port pin current")) == 2     # a second episode


@pytest.mark.parametrize("group", ["G5", "G2"])
def test_port_group_current(group: str) -> None:
    positions = [k for k in range(1, 25) if GROUP_OF[PIN_OF[f"S{k}"]] == group]
    hands = Hands(grounded(*positions), usb_v=5.4)
    for k in positions:
        hands.high(f"S{k}", f"M{k}")
    assert [v.where for v in found(hands, "port group current")] == [group]


def test_group_limit_counts_sinking_and_sourcing_apart() -> None:
    positions = [k for k in range(1, 25) if GROUP_OF[PIN_OF[f"S{k}"]] == "G5"]
    chip = PlainChip()
    for a, b in zip(positions[::2], positions[1::2], strict=False):
        chip.resistor(a, b, 1)
    hands = Hands(chip)
    for n, k in enumerate(positions):
        (hands.high if n % 2 else hands.low)(f"S{k}", f"M{k}")
    assert not found(hands, "port group current")


def test_controller_supply_current() -> None:
    positions = list(range(7, 25))
    hands = Hands(grounded(*positions))
    for k in positions:
        hands.high(f"S{k}")
    [violation] = found(hands, "controller supply current")
    assert violation.value > 0.2


def test_multiplexer_current() -> None:
    hands = Hands(PlainChip().resistor(9, 24, 1))
    hands.power("P24")
    hands.pump(0.01)
    hands.sense(9, 0)
    assert not found(hands, "multiplexer current")
    hands.sense(9, 7)
    [violation] = found(hands, "multiplexer current")
    assert 0.025 < violation.value < 0.036


@pytest.mark.parametrize("level", ["high", "low"])
def test_strong_drive_against_a_short_is_let_off_for_two_milliseconds(level: str) -> None:
    chip = grounded(11) if level == "high" else PlainChip().resistor(11, 24, 0.5)
    hands = Hands(chip)
    hands.power("P24")
    hands.pump(0.01)
    drive = getattr(hands, level)
    drive("S11")
    hands.bench.run(0.0009)
    hands.off("S11")
    hands.bench.run(0.01)
    assert hands.bench.violations == []
    assert hands.bench.figures.longest_short_s == pytest.approx(0.0009, abs=1e-5)
    drive("S11")
    hands.bench.run(0.004)
    hands.off("S11")
    [violation] = hands.bench.violations
    assert violation.what == "strong drive against a short" and violation.where.startswith("position 11")
    assert hands.bench.figures.longest_short_s == pytest.approx(0.004, abs=1e-4)


def test_a_strong_load_on_a_sound_output_is_no_short() -> None:
    """A 7400's output sinks 16 mA at 0.2..0.4 V: the rated load, as long as it is wanted."""
    hands = Hands(PlainChip().inverter(1, 2, 24, 7, 14))
    hands.power("P24", "N7")
    hands.pump(0.01)
    hands.high("M1")
    hands.high("S2")
    hands.pump(0.05)
    assert 0.2 < hands.volts(2) < 0.4
    assert hands.bench.violations == []


def test_chip_beyond_its_ratings() -> None:
    hands = Hands(grounded(3).limit(0.010))
    hands.high("M3")
    assert hands.bench.violations == []
    hands.high("S3")
    [violation] = found(hands, "terminal carries too much")
    assert violation.where == "position 3" and violation.value > 0.020


@pytest.mark.parametrize("net", ["K", "ICC", "VDAC", "VREF", "OE_N", "BUTTON", "SER_BACK"])
def test_nets_that_the_controller_must_not_drive(net: str) -> None:
    hands = Hands()
    hands.low(net)
    [violation] = found(hands, "output drives a sensed or switched net")
    assert violation.where == PIN_OF[net]


def test_violations_beyond_the_list_are_still_counted() -> None:
    hands = Hands(grounded(3).limit(0.010))
    for _ in range(300):
        hands.high("S3")
        hands.off("S3")
    assert hands.bench.figures.violations == 300
    assert len(hands.bench.violations) == 256
    assert len(hands.bench.forgive()) == 256 and hands.bench.violations == []


def test_an_in_process_fixture_raises_at_the_end_of_its_block() -> None:
    with pytest.raises(AssertionError, match=r"\d s: output drives a sensed or switched net, PF0 "), Fixture(1) as fixture:
        fixture.port("F", 1, 0)
    with Fixture(1) as fixture:
        fixture.port("F", 1, 0)
        assert [violation.where for violation in fixture.forgive()] == ["PF0"]


# ---------------------------------------------------------------- truth

def test_truth_knows_the_supply_at_the_chips_pins() -> None:
    """A 470 ohm chip behind switches, shunt and cable: Ohm's law gives the drop of each; mean over two loads in equal parts."""
    hands = Hands(PlainChip().resistor(24, 7, 470), nominal=False, seed=4)
    assert hands.bench.truth.supply.powered_s == 0
    hands.power("P24", "N7")
    hands.pump(0.02)
    supply, nodes = hands.bench.truth.supply, hands.bench.truth.nodes
    assert (supply.vcc_v, supply.gnd_v) == (nodes["Z24"], nodes["Z7"])
    assert supply.gnd_v > 0.003 and supply.vcc_v < nodes["V5"] - 0.01       # saturation of the switches, shunt
    one = supply.vcc_v - supply.gnd_v
    before = supply.powered_s
    assert supply.mean_v == pytest.approx(one, abs=1e-3)
    hands.bench.usb(4.6)
    hands.pump(before)
    supply = hands.bench.truth.supply
    two = supply.vcc_v - supply.gnd_v
    assert two < one - 0.2
    assert supply.mean_v == pytest.approx((one + two) / 2, abs=0.02)
    assert (supply.low_v, supply.high_v) == (pytest.approx(two, abs=1e-3), pytest.approx(one, abs=1e-3))
    hands.bench.resistors("24,7=1000")
    assert hands.bench.truth.supply.high_v == pytest.approx(two, abs=0.02)      # another chip: forgotten


def test_truth_tells_defects_and_chip() -> None:
    demo = Path(__file__).resolve().parents[1] / "chips" / "demo"
    truth = Hands(str(demo / "tired_7400.toml"), defects=["R105=1500"]).bench.truth
    assert truth.defects == ["R105=1500"] and truth.drawn["R105.ohm"] == 1500
    assert truth.chip["part"] == "7400" and not truth.chip["sound"]
