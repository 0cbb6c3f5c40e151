"""The network against dividers worked out by hand (Kirchhoff; no source beyond Ohm's law).

SPDX-License-Identifier: GPL-3.0-or-later
"""
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from virtual_fixture.bench import PlainChip

from .hands import PIN_OF, Hands, driver

POSITIONS = range(1, 25)


@pytest.mark.parametrize("k", POSITIONS)
def test_strong_line_into_a_resistor_is_a_divider(k: int) -> None:
    hands = Hands(PlainChip().resistor(k, 0, 470), seed=5, nominal=False)
    hands.high(f"S{k}")
    drawn, b = hands.bench.drawn, hands.bench
    series = drawn[f"R{k + 100}.ohm"] + driver(b, f"S{k}", "high")
    # 25 pS..25 nS of leakage shift the divider by less than 10 uV
    assert hands.volts(k) == pytest.approx(hands.volts("V5") * 470 / (470 + series), abs=2e-5)
    assert hands.amps(f"S{k}") == pytest.approx(hands.volts(k) / 470, rel=1e-4)


@pytest.mark.parametrize("k", POSITIONS)
def test_medium_line_pulls_a_source_down(k: int) -> None:
    supply = 24 if k != 24 else 4
    hands = Hands(PlainChip().resistor(k, supply, 1000), seed=6, nominal=False)
    hands.high(f"S{supply}")
    hands.low(f"M{k}")
    drawn, b = hands.bench.drawn, hands.bench
    to_ground = drawn[f"R{k + 200}.ohm"] + driver(b, f"M{k}", "low")
    top = drawn[f"R{supply + 100}.ohm"] + driver(b, f"S{supply}", "high") + 1000
    # up to 100 nA of a power switch that is off
    assert hands.volts(k) == pytest.approx(hands.volts("V5") * to_ground / (to_ground + top), abs=6e-5)


@pytest.mark.parametrize("k", POSITIONS)
def test_k_shows_the_position_and_carries_nothing(k: int) -> None:
    hands = Hands(PlainChip().resistor(k, 0, 1500), nominal=False)
    hands.high(f"M{k}")
    hands.sense(k)
    assert hands.volts("K") == pytest.approx(hands.volts(k), abs=2e-5)


@pytest.mark.parametrize(("channel", "ref", "ohm"), [(1, "R311", 8200), (2, "R312", 1e5), (3, "R313", 1000),
                                                     (5, "R315", 220)])
def test_loads_of_the_selector(channel: int, ref: str, ohm: float) -> None:
    hands = Hands(PlainChip().resistor(9, 0, 330))
    hands.sense(9, channel)
    hands.high("LD")
    # two channels in series, 15 % more at half the supply: between one and 1.15 times 140 ohm
    source = hands.volts("V5")
    low = source * 330 / (330 + ohm + 140 * 1.15 + 27)
    high = source * 330 / (330 + ohm + 140 * 1.00 + 27)
    assert hands.bench.drawn[f"{ref}.ohm"] == ohm
    assert low - 1e-4 < hands.volts(9) < high + 1e-4


def test_selector_to_ground_and_to_the_reference() -> None:
    hands = Hands()
    hands.sense(0, 7)
    assert abs(hands.volts("K")) < 1e-4
    hands.sense(0, 6)
    assert hands.volts("K") == pytest.approx(hands.volts("VREF"), abs=1e-4)
    assert hands.volts("VREF") == pytest.approx(2.5, abs=0.002)


def test_nothing_selected_nothing_tied() -> None:
    hands = Hands(PlainChip().resistor(9, 0, 330))
    hands.high("S9")
    hands.sense(0)
    assert hands.volts("K") != pytest.approx(hands.volts(9), abs=0.1)


def test_registers_come_up_with_anything_and_return_what_was_shifted() -> None:
    starts = set()
    for seed in range(6):
        hands = Hands(seed=seed, nominal=False)
        starts.add(int(hands.bench.drawn["registers.power_up"]))
        hands.chain = [0x12, 0x34, 0xF5]
        hands.shift_out()
        assert hands.shift_out() == [0xF5, 0x34, 0x12]
    assert len(starts) == 6


def test_register_chain_clocked_by_port_bits() -> None:
    hands = Hands()
    for bit in range(23, -1, -1):
        (hands.high if 0xFE0103 >> bit & 1 else hands.low)("SER_OUT")
        hands.high("SER_CLK")
        hands.low("SER_CLK")
    assert hands.pin("SER_BACK") is True
    assert [hands.bench.shift(0) for _ in range(3)] == [0xFE, 0x01, 0x03]


def test_inverter_follows_and_its_supply_comes_through_the_switches() -> None:
    hands = Hands(PlainChip().inverter(1, 2, 24, 7, 100))
    hands.power("P24", "N7")
    hands.pump(0.01)
    hands.low("M1")
    assert hands.volts(2) == pytest.approx(hands.volts(24), abs=1e-3)
    hands.high("M1")
    assert hands.volts(2) == pytest.approx(hands.volts(7), abs=1e-3)
    assert 4.9 < hands.volts(24) < hands.volts("VBUS")


def test_every_edge_is_seen() -> None:
    """A chip that toggles: the count of settle calls follows each edge, none merged."""
    hands = Hands(PlainChip().inverter(1, 2, 24, 7, 100))
    hands.power("P24", "N7")
    hands.pump(0.01)
    seen = []
    for n in range(20):
        (hands.high if n & 1 else hands.low)("M1")
        seen.append(hands.volts(2) > 2.5)
    assert seen == [True, False] * 10


def test_ring_of_one_inverter_is_called_oscillating() -> None:
    hands = Hands(PlainChip().inverter(2, 2, 24, 7, 100))
    hands.power("P24", "N7")
    hands.pump(0.01)
    assert hands.bench.figures.oscillating > 0
    assert not [v for v in hands.bench.violations if v.where == "solver"]


def test_without_pump_no_switch_is_on() -> None:
    hands = Hands()
    hands.power("P24", "P4", "P5", "P1", "N7")
    assert not hands.bench.powered
    hands.pump(0.01)
    assert [k for k, on in enumerate(hands.bench.drive.supply) if on] == [1, 4, 5, 24]


@pytest.mark.parametrize("switch", ["P24", "P4", "P5", "P1"])
def test_p_switch_drop(switch: str) -> None:
    k = int(switch[1:])
    hands = Hands(PlainChip().resistor(k, 0, 100))
    hands.power(switch)
    hands.pump(0.01)
    current = hands.volts(k) / 100
    # nominal specimen: 15 mV and 0.7 ohm (hardware/wiring.toml, kind.pnp)
    assert hands.volts("VBUS") - hands.volts(k) == pytest.approx(0.015 + 0.7 * current, abs=1e-3)


@pytest.mark.parametrize("switch", ["N7", "N8", "N9", "N10", "N12", "N20", "N21"])
def test_n_switch_drop(switch: str) -> None:
    k = int(switch[1:])
    hands = Hands(PlainChip().resistor(k, 24, 100))
    hands.power("P24", switch)
    hands.pump(0.01)
    current = (hands.volts(24) - hands.volts(k)) / 100
    assert hands.volts(k) == pytest.approx(0.008 + 0.7 * current, abs=1e-3)


def test_level_drive_settles_with_its_filter() -> None:
    """Two equal RC stages: F2 after t is 1 - (1.171 e^(-0.382 x) - 0.171 e^(-2.618 x)), x = t/RC.

    The exact solution of two coupled 10 kohm / 100 nF stages: poles at (3 +- sqrt 5)/2 / RC.
    """
    hands = Hands()
    hands.sense(0, 4)
    hands.bench.duty(0.5)
    a, b = (3 - math.sqrt(5)) / 2, (3 + math.sqrt(5)) / 2
    for t in (0.5e-3, 1e-3, 2e-3, 4e-3, 8e-3):
        hands.bench.run(t - hands.bench.now_s)
        x = t / 1e-3
        want = 0.5 * hands.volts("V5") * (1 - (b * math.exp(-a * x) - a * math.exp(-b * x)) / (b - a))
        assert hands.bench.pin_v(PIN_OF["VDAC"]) == pytest.approx(want, abs=1e-3)


def test_level_drive_gives_way_under_load() -> None:
    hands = Hands(PlainChip().resistor(3, 0, 470))
    hands.sense(3, 4)
    hands.bench.duty(0.4)
    hands.bench.run(0.05)
    v = 0.4 * hands.volts("V5")
    between = (v * 470 / (470 + 680 + 140 * 1.15), v * 470 / (470 + 680 + 140))
    assert between[0] - 2e-3 < hands.volts(3) < between[1] + 2e-3


def test_node_k_settles_with_its_source() -> None:
    """100 kohm to the floating node: 185 pF and a hundred kilohms, so some 18.5 us."""
    hands = Hands()
    hands.sense(3, 2)
    hands.high("LD")
    ohm = 1e5 + 27 + 70
    assert hands.bench.tau("K") == pytest.approx(ohm * (120e-12 + 25e-12), rel=0.03)
    target = hands.volts("K")
    hands.bench.run(hands.bench.tau("K"))
    moved = hands.bench.node("K", settled=False)
    assert moved == pytest.approx(target * (1 - math.exp(-1)), rel=0.02)


def test_pull_up_and_threshold_at_a_pin() -> None:
    hands = Hands(PlainChip().resistor(3, 0, 4700))
    hands.pull_up("M3")
    assert hands.volts(3) == pytest.approx(5.0 * 4700 / (4700 + 35560), abs=0.02)
    assert hands.pin("M3") is False
    hands.bench.insert(None)
    assert hands.pin("M3") is True
    hands.off("M3")
    hands.low("S3")
    assert hands.pin("M3") is False


def test_contention_is_visible_at_the_medium_pin() -> None:
    hands = Hands(PlainChip().resistor(5, 0, 2))
    hands.high("S5")
    assert hands.pin("M5") is False
    assert hands.pin("S5") is True


def test_rail_sags_with_what_the_drivers_take() -> None:
    hands = Hands(PlainChip().resistor(3, 0, 1).resistor(11, 0, 1))
    before, b = hands.volts("V5"), hands.bench
    hands.high("S3", "S11")
    taken = hands.amps("S3") + hands.amps("S11")
    assert before - hands.volts("V5") == pytest.approx(taken * b.drawn["usb.ohm"], rel=0.02)


def test_supply_voltage_can_be_turned() -> None:
    hands = Hands()
    hands.bench.usb(4.6)
    assert hands.volts("V5") == pytest.approx(4.6 - 0.067 * hands.bench.drawn["usb.ohm"], abs=0.003)


def test_protection_diodes_hold_a_position() -> None:
    hands = Hands(PlainChip().resistor(3, 24, 1e6))
    hands.power("P24")
    hands.pump(0.005)
    assert 4.8 < hands.volts(3) < 5.2


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 24), st.integers(0, 24), st.floats(1, 1e6)), max_size=12),
       st.integers(0, 2 ** 24 - 1), st.integers(0, 2 ** 24 - 1), st.integers(0, 24), st.integers(0, 7))
def test_kirchhoff_holds_whatever_is_connected(branches: list[tuple[int, int, float]], on: int, high: int,
                                               position: int, load: int) -> None:
    """The currents out of the lines at a position equal what its resistors carry away."""
    chip = PlainChip()
    for a, b, ohm in branches:
        if a != b:
            chip.resistor(a, b, ohm)
    hands = Hands(chip, seed=on & 31, nominal=False)
    hands.sense(position, load)
    for k in POSITIONS:
        if on >> k - 1 & 1:
            (hands.high if high >> k - 1 & 1 else hands.low)(f"M{k}")
    assert not [v for v in hands.bench.violations if v.where == "solver"]
    v = [0.0, *(hands.volts(k) for k in POSITIONS)]
    for k in POSITIONS:
        if k == position:
            continue   # the multiplexer's current is not a line's
        away = sum((v[a] - v[b]) / ohm * (1 if a == k else -1) for a, b, ohm in branches if a != b and k in (a, b))
        assert hands.amps(f"M{k}") - away == pytest.approx(0, abs=2e-6 + abs(away) * 1e-6)
