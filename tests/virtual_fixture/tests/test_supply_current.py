"""The supply current amplifier, the switch drop and the trip: against ngspice and against arithmetic.

ngspice 39 (Debian 12) solves the same circuit with ideal op-amps and Gummel-Poon transistors; the
network's switches are a fitted resistance and offset, so the comparison is to some tens of millivolts
for the chip's supply and to one per cent for the slope of the amplifier.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import re
import subprocess
from pathlib import Path

import pytest

from virtual_fixture.bench import PlainChip

from .hands import Hands

# BC327/BC337: generic high-current types, model parameters from memory of published SPICE
# libraries, trimmed to a saturation of about 0.1 V at 100 mA with 8 mA of base current.
DECK = """* switches and current amplifier, {ohm} ohm as a chip
.model QP PNP(IS=5e-14 BF=300 BR=10 RB=5 RC=0.35 RE=0.25 VAF=50 IKF=0.8)
.model QN NPN(IS=5e-14 BF=300 BR=10 RB=5 RC=0.35 RE=0.25 VAF=50 IKF=0.8)
.model QS PNP(IS=2e-14 BF=300 VAF=50)
Vusb usb 0 {usb}
Rusb usb v5 {usb_ohm}
Iboard v5 0 {board}
Rshunt v5 vbus 1.0
Rped vbus 0 1000
Rgain v5 sn 100
Rsp vbus sp 100
Bop drv 0 V = V(v5)/2*(1+tanh(1e4*(V(sp)-V(sn))))
Qs icc drv sn QS
Rout icc 0 1800
Qp zp bp vbus QP
Rbp bp p 515
Rbpo bp vbus 10k
Vp p 0 0
Qn zn bn 0 QN
Rbn bn v5 515
Rbno bn 0 10k
Rtrip v5 0 32000
Rchip zp zn {ohm}
.op
.print op v(v5) v(vbus) v(zp) v(zn) v(icc)
.end
"""


def ngspice(folder: Path, **values: float) -> dict[str, float]:
    deck = folder / "deck.cir"
    deck.write_text(DECK.format(**values))
    text = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=True).stdout
    return {name: float(value) for name, value in re.findall(r"^\s*(v5|vbus|zp|zn|icc)\s+(-?[\d.e+-]+)\s*$", text, re.M)}


def powered(ohm: float) -> Hands:
    hands = Hands(PlainChip().resistor(24, 7, ohm))
    hands.power("P24", "N7")
    hands.pump(0.01)
    return hands


@pytest.fixture(scope="module")
def spice(tmp_path_factory: pytest.TempPathFactory) -> dict[float, dict[str, float]]:
    drawn = Hands().bench.drawn
    return {ohm: ngspice(tmp_path_factory.mktemp("spice"), ohm=ohm, usb=drawn["usb.v"], usb_ohm=drawn["usb.ohm"],
                         board=drawn["board.a"]) for ohm in (1e6, 1000, 380, 145, 75, 45)}


@pytest.mark.parametrize("ohm", [1000, 380, 145, 75, 45])
def test_supply_of_the_chip_as_in_ngspice(spice: dict[float, dict[str, float]], ohm: float) -> None:
    hands, want = powered(ohm), spice[ohm]
    current = (want["zp"] - want["zn"]) / ohm
    tolerance = 0.012 + 0.3 * current       # 12 mV and 0.3 ohm: two switch models
    assert hands.volts(24) - hands.volts(7) == pytest.approx(want["zp"] - want["zn"], abs=tolerance)
    assert hands.volts("VBUS") == pytest.approx(want["vbus"], abs=0.004)


@pytest.mark.parametrize("ohm", [1000, 380, 145, 75, 45])
def test_slope_of_the_amplifier_as_in_ngspice(spice: dict[float, dict[str, float]], ohm: float) -> None:
    """ICC minus the zero with the switch on and the socket empty, a volt an ampere of chip."""
    zero_here, zero_there = powered(1e6).bench.icc_v, spice[1e6]["icc"]
    hands, want = powered(ohm), spice[ohm]
    here = (hands.bench.icc_v - zero_here) / ((hands.volts(24) - hands.volts(7)) / ohm)
    there = (want["icc"] - zero_there) / ((want["zp"] - want["zn"]) / ohm)
    assert here == pytest.approx(there, rel=0.01)
    assert here == pytest.approx(18.0, rel=0.012)     # shunt x R323 / R322, less the transistor's base current


def test_nominal_fixture_gives_a_34_ma_chip_4_89_volts() -> None:
    """Design figure of the circuit: 34 mA -> 4.890 V between the chip's supply pins at a 5.000 V rail."""
    hands = powered(4.890 / 0.034)
    hands.bench.usb(hands.bench.drawn["usb.v"] + 5.0 - hands.volts("V5"))
    assert hands.volts(24) - hands.volts(7) == pytest.approx(4.890, abs=0.012)


def test_amplifier_stops_at_the_rail() -> None:
    hands = Hands(PlainChip().resistor(24, 7, 10))
    hands.bench.disable_trip()
    hands.power("P24", "N7")
    hands.pump(0.01)
    assert hands.bench.icc_v == pytest.approx(hands.volts("VBUS") - 0.1, abs=0.02)


def chip_current_at_trip(seed: int, nominal: bool) -> float:
    low, high = 0.12, 0.24
    for _ in range(12):
        middle = (low + high) / 2
        hands = Hands(PlainChip().resistor(24, 7, 4.6 / middle), seed=seed, nominal=nominal)
        hands.bench.disable_trip()
        hands.power("P24", "N7")
        hands.pump(0.01)
        current = (hands.volts(24) - hands.volts(7)) / (4.6 / middle)
        hands.bench.disable_trip(False)
        hands.bench.run(0.001)
        if hands.bench.enabled:
            low = middle
        else:
            high = middle
    return current


def test_trip_comes_at_178_ma_of_chip_current() -> None:
    """(V5 x 22/32) / 18 mV/mA = 191 mA at 5 V, of which 5 + 8 mA are pedestal and base current."""
    assert chip_current_at_trip(1, nominal=True) == pytest.approx(0.178, abs=0.004)


@pytest.mark.parametrize("seed", range(4))
def test_trip_of_drawn_specimens(seed: int) -> None:
    assert 0.160 < chip_current_at_trip(seed, nominal=False) < 0.195


def test_over_current_switches_off_within_a_millisecond_and_hiccups() -> None:
    hands = Hands(PlainChip().resistor(24, 7, 15))
    hands.power("P24", "N7")
    hands.pump(0.002)
    on_time, off_time, step = 0.0, 0.0, 2e-6         # it is on for some 15 us at a time
    for n in range(5000):
        if n % 120 == 0:
            hands.pump_level = not hands.pump_level
            (hands.high if hands.pump_level else hands.low)("PUMP")
        hands.bench.run(step)
        if hands.bench.powered:
            on_time += step
        else:
            off_time += step
    assert 0 < on_time < 0.3 * off_time
