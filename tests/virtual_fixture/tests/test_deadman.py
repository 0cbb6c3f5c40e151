"""The dead-man: nominal times are those of the circuit's own SPICE simulation, here ngspice again.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import re
import subprocess
from pathlib import Path

import pytest

from .hands import Hands

DECK = """* pump, then still
.model D1 D(IS=2.5e-9 N=1.75 RS=0.6)
.model QN NPN(IS=5e-14 BF=300 VAF=50)
V5 v5 0 5
Vp pump 0 PULSE({off} {on} 0 1u 1u 250u 500u {cycles})
C303 pump ac 100n
D301 0 ac D1
D302 ac alive D1
C304 alive 0 1u
R330 alive 0 100k
R331 alive b 10k
Q302 oe b 0 QN
R332 oe v5 10k
.tran 20u 70m
.meas tran off WHEN v(oe)=2.35 RISE=LAST
.meas tran on WHEN v(oe)=2.35 FALL=1
.end
"""


def spice_times(folder: Path, leave_high: bool) -> tuple[float, float]:
    """Moment of enabling after the start, and of release after the last edge (cycles x 500 us)."""
    deck = folder / "deck.cir"
    deck.write_text(DECK.format(cycles=40, off=5 * leave_high, on=5 * (not leave_high)))
    text = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=True).stdout
    times = {name: float(value) for name, value in re.findall(r"^(on|off)\s+=\s+([\d.e+-]+)", text, re.M)}
    return times["on"], times["off"] - 0.5e-3 * 39 - 0.25e-3


def release(hands: Hands, leave_high: bool) -> float:
    hands.pump(0.02)
    if hands.pump_level != leave_high:
        hands.pump(0.00025)
    start = hands.bench.now_s
    assert hands.bench.enabled
    assert hands.bench.run_until(lambda: not hands.bench.enabled, 0.1, 1e-4)
    return hands.bench.now_s - start


@pytest.mark.parametrize(("leave_high", "least", "most"), [(False, 0.034, 0.039), (True, 0.038, 0.043)])
def test_still_pump_releases(leave_high: bool, least: float, most: float) -> None:
    """Left high, the coupling capacitor, a tenth of the store, goes on feeding it."""
    assert least < release(Hands(), leave_high) < most


@pytest.mark.parametrize("leave_high", [False, True])
def test_release_and_enable_as_in_ngspice(tmp_path: Path, leave_high: bool) -> None:
    on, off = spice_times(tmp_path, leave_high)
    assert release(Hands(), leave_high) == pytest.approx(off, abs=0.002)
    if leave_high:
        return                       # its first edge falls there
    hands = Hands()
    while not hands.bench.enabled:
        hands.pump(0.00025)
    assert hands.bench.now_s == pytest.approx(on, abs=0.0006)


@pytest.mark.parametrize("seed", range(8))
def test_every_specimen_lets_go_between_28_and_46_ms(seed: int) -> None:
    assert 0.028 < release(Hands(seed=seed, nominal=False), False) < 0.046


def test_release_turns_every_switch_off_and_oe_reads_high() -> None:
    hands = Hands()
    hands.power("P24", "N7")
    hands.pump(0.01)
    assert hands.bench.powered and not hands.pin("OE_N")
    hands.bench.run(0.06)
    assert not hands.bench.powered and hands.pin("OE_N")
    assert not any(hands.bench.drive.ground)


def test_multiplexer_addresses_do_not_depend_on_the_dead_man() -> None:
    hands = Hands()
    hands.sense(9, 3)
    assert list(hands.bench.drive.tied) == [0, 1, 0] and hands.bench.drive.load == 3


def test_a_slow_pump_is_not_enough() -> None:
    hands = Hands()
    hands.pump(0.3, half_s=0.03)
    assert not hands.bench.enabled
